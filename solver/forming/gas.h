// What pressure does the gas put on the sheet in this step? A scalar, from a ramp, a throat or a swept volume.
#pragma once

#include "solver/forming/forming_spec.h"

namespace pellicle::forming {

/// How the swept volume answers the pressure p within one step, given the motion without gas:
///   V(t + dt) = V + dt (rate + p softness),  rate = sum g.u*,  softness = dt_mid sum |g|^2/m over nodes free to move.
struct VolumeResponse {
  double volume_m3;
  double rate_m3_s;
  double softness_m3_sPa;
  double dt_s;

  /// The one pressure that makes V(t + dt) = target; 0 where no node is free to move.
  double pressure_for(double target_m3) const {
    return softness_m3_sPa > 0.0 ? ((target_m3 - volume_m3) / dt_s - rate_m3_s) / softness_m3_sPa : 0.0;
  }
};

/// Gas in the space above the sheet. Its pressure follows from content and volume, so nothing else is kept.
struct Chamber {
  double gas_kg = 0.0;
  double energy_J = 0.0;   ///< p V / (gamma - 1); used by the adiabatic process alone
  double volume_m3 = 0.0;  ///< in the step before
};
Chamber filled_chamber(const GasDrive& gas, double swept_m3, double gauge_Pa);

/// Adds what comes through the throat in dt, and returns the gauge pressure at the end of the step. The pressure is
/// taken implicitly, as the sheet gives way within the step: a small chamber sets no step limit.
double feed_chamber(const GasDrive& gas, const VolumeResponse& response, Chamber& chamber);

}  // namespace pellicle::forming
