// How long must the part stay before it keeps its shape?
#pragma once

#include "solver/checks/first_findings.h"
#include "solver/sheet/heat_spec.h"

#include <vector>

namespace pellicle::checks {

/// Time from the end of the last stage until every wall of the part is below the set temperature, all stays as it is:
/// on the mould where it touches, heat.free_side_after() on the free side. Tells the band of what is not known, and
/// what still air, a fan or a mould of aluminium would make of it. Needs formed.sheet.heat.
Finding cooling(const Formed& formed, const HeatSpec& heat);

/// The same node by node, N values; infinite where ten minutes are not enough [s].
std::vector<double> setting_times_s(const Formed& formed, const HeatSpec& heat);
/// Mean through the thickness when the part is taken off: when all of it has set, or, where some of it would not in ten
/// minutes, at the end of the last stage. N values [K].
std::vector<double> released_K(const Formed& formed, const HeatSpec& heat);

/// How long one node's wall stays above the set temperature under the gas; ten minutes at most. Needs formed.heat [s].
double soft_for_s(const forming::FormingResult& formed, const HeatSpec& heat, int node);

}  // namespace pellicle::checks
