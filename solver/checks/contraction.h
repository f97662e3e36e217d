// By how much does each wall shrink from the moment the part comes off the mould?
//
// docs/theory/demould.md, "Shrinkage wall by wall".
#pragma once

#include "solver/checks/first_findings.h"

#include <span>
#include <vector>

namespace pellicle::checks {

/// From these temperatures to 20 °C, as shares of a length: expansion x (T - 20 °C), N values.
std::vector<double> contraction(std::span<const double> released_K, double expansion_1_K);

/// Adds to the finding `shrinkage` what the walls do that come off at these temperatures (N values, released_K of
/// cooling.h), and the scale that follows from it: between a polymer that forgets what the mould held back and one that
/// takes all of it back. Without an answer in the finding, or without a card, nothing.
void tell_contraction(const Formed& formed, std::span<const double> released_K, Finding& shrinkage);

}  // namespace pellicle::checks
