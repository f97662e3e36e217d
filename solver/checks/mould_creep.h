// What does heat do to a printed mould over time: does it creep, part after part, and may the first touch crack it?
//
// docs/theory/mould_hazards.md.
#pragma once

#include "solver/checks/mould_temperature.h"

namespace pellicle::checks {

/// Kelvins by which a deflection temperature falls where the load stays on for longer than in its test.
Estimate creep_lead_K(double under_load_s);

/// id mould_creep. Value: peak of the shell's bulk in a long series [degrees C]; limit: where the resin gives way under
/// working_Pa if it is held there for all of build.parts, hold by hold. Passes below that at the low end, fails above
/// the likely one. A working_Pa of 0 is one that is not known: never a pass. Without warmth in doubt, without a number.
Finding mould_creep(const MouldWarmth* warmth, const MouldBuild& build, double working_Pa);

/// Stress in the skin of a body that is held by the rest of it, warmed at once by dT: E alpha dT/(1 - nu) (Timoshenko &
/// Goodier, Theory of Elasticity, ch. 13; from memory) [Pa].
double skin_stress_Pa(double modulus_Pa, double expansion_1_K, double rise_K, double poisson);

/// id mould_shock. Value: what the first touch of the sheet puts on the cold mould's skin [MPa]; limit: half of the
/// strength of the skin, as hot as it then is. Needs build.polymer, else in doubt without a number.
Finding mould_shock(const Formed& formed, const MouldBuild& build);

}  // namespace pellicle::checks
