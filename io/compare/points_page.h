// What does a colleague see of a measured part? compare.html: the points on the part, their errors and what they say.
#pragma once

#include "io/compare/points_text.h"

#include <string>

namespace pellicle::compare {

/// The HTML document. `mould` null: none.
std::string page(const MeasuredPart& part, const SheetLookup& sheet, const mesh::TriangleMesh* mould);

}  // namespace pellicle::compare
