// What does a relief lose to the air that the sheet shuts in, and what would let it out?
//
// docs/theory/trapped_air.md, "Hollows of a relief". Counters of letters, sunk letters, dots and pits.
#pragma once

#include "solver/checks/finding.h"
#include "solver/imprint/capture.h"

namespace pellicle::checks {

/// Side of a square scratch from a hollow to where air is free, by which all but a twentieth of an atmosphere of its
/// air is out within a tenth of a second: laminar flow (air/vent.h), twice as deep as that flow needs, for the sheet
/// sinks into it as well [m].
double scratch_m(const imprint::HollowAir& hollow, double pressure_Pa);

/// Adds to the finding of a relief what the stroke takes that loses most to air, and what would vent it. Where every
/// stroke that falls short would do without air, a failure is in doubt: how much leaks along the layer lines and
/// texture of a print within the hold, nobody has measured. Says nothing of a relief that keeps no air.
void tell_shut_air(const imprint::ReliefAnswer& answer, double limit, Finding& finding);

}  // namespace pellicle::checks
