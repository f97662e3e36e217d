// How is text put into a page? Escaped for HTML, SVG and scripts, and numbers as a person reads them.
#pragma once

#include "solver/checks/finding.h"

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace pellicle::report {

/// For text and attributes in double quotes. Control characters but tabs and line breaks become blanks:
/// XML does not allow them.
std::string escaped(std::string_view text);

/// JSON that may stand in a script element: no '<' is left in it.
std::string inside_script(std::string json);

/// Three digits are more than the sheet's stiffness deserves: "0.468", "1234"; "no answer" if not finite.
std::string number_text(double value);
/// With its unit; "-" is none.
std::string number_text(double value, std::string_view unit);

/// The number of a finding, or what stands in its place.
std::string value_text(const checks::Finding& finding);

/// The template with each {{name}} replaced, once. Throws std::logic_error for a name that has no text.
std::string filled(std::string_view page, const std::vector<std::pair<std::string, std::string>>& texts);

}  // namespace pellicle::report
