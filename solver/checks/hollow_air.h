// How much less of a relief forms if no air leaks out of its closed hollows: counters of letters, sunk dots and
// grooves?
//
// docs/theory/trapped_air.md, "Hollows of a relief".
#pragma once

#include "solver/checks/finding.h"
#include "solver/imprint/capture.h"

#include <vector>

namespace pellicle::checks {

/// Part of a patch that lies deeper than half of the relief and does not reach the patch's border.
struct Hollow {
  std::vector<int> cells;     ///< numbers in the answer's fields
  double volume_m3 = 0.0;     ///< below the relief's top, where sheet seals it
  double filled = 0.0;        ///< share of it that the sheet fills where air is free
  double filled_least = 0.0;  ///< with all air left in it, of a sheet that goes in evenly with pressure
  double filled_most = 0.0;   ///< likewise, of a sheet that resists nothing
};
/// Of a map; a profile has none. The gas has come to `pressure_Pa` by the end.
std::vector<Hollow> hollows(const imprint::ReliefAnswer& answer, double pressure_Pa);

/// Adds to the finding of a relief what its worst stroke in or around a hollow takes if no air leaks out; a pass that
/// would not hold then is in doubt.
void tell_shut_air(const imprint::ReliefAnswer& answer, double pressure_Pa, double limit, Finding& finding);

}  // namespace pellicle::checks
