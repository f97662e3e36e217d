// What does a colleague see of two runs? compare.html: what changed, both answers side by side, and where they differ.
#pragma once

#include "io/compare/runs.h"

#include <string>

namespace pellicle::compare {

/// The HTML document; asks for nothing from outside, runs no script. Same bytes for same input.
std::string page(const Run& a, const Run& b, const Comparison& comparison);

}  // namespace pellicle::compare
