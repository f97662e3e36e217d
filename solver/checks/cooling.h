// How long must the part stay before it keeps its shape?
#pragma once

#include "solver/checks/first_findings.h"
#include "solver/sheet/heat_spec.h"

namespace pellicle::checks {

/// Time from the end of the last stage until every wall of the part is below the set temperature, all stays as it is:
/// pressed on the mould where it touches, gas on the free side. Needs formed.sheet.heat.
Finding cooling(const Formed& formed, const HeatSpec& heat);

/// How long one node's wall stays above the set temperature, likewise; ten minutes at most. Needs formed.heat [s].
double soft_for_s(const forming::FormingResult& formed, const HeatSpec& heat, int node);

}  // namespace pellicle::checks
