// How does the page tell between which values the answers lie?
#pragma once

#include "io/results/summary.h"

#include <string>

namespace pellicle::report {

/// The section with low, likely, high of every answer that has a band, and the numbers that were varied. Empty without
/// them.
std::string spread_section(const results::Summary& summary);

}  // namespace pellicle::report
