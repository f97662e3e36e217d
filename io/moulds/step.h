// What triangles do the surfaces of a STEP file become, and in which unit is it written?
#pragma once

#include "io/moulds/facet.h"

#include <string>
#include <string_view>

namespace pellicle::moulds {

/// What the text says before any library reads it.
struct StepStart {
  std::string unit_name;  ///< "mm", "in"; empty if the file does not say, or says two
};

/// Checks that the text is a STEP file from its first line to its last, and looks for its unit of length. Throws Error
/// (geometry); `name` is what to call the file.
StepStart look_at_step(std::string_view text, const std::string& name);

/// A file that look_at_step has taken, in millimetres whatever its unit; format "STEP, 1 solid, chord error 0.02 mm".
FacetContent read_step(const std::string& path);

}  // namespace pellicle::moulds
