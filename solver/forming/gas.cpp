// What pressure does the gas put on the sheet in this step?
#include "solver/forming/gas.h"

#include "solver/air/throat.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace pellicle::forming {
namespace {

/// p > 0 with p (v + s (p - p_atm)) = content; s >= 0, content > 0.
double implicit_pressure_Pa(double content_J, double v_m3, double s_m3_Pa) {
  const double b = v_m3 - s_m3_Pa * air::kAtmosphere_Pa;
  // s p^2 + b p - content = 0, the positive root without cancellation.
  const double root = std::sqrt(b * b + 4.0 * s_m3_Pa * content_J);
  return b > 0.0 ? 2.0 * content_J / (b + root) : (root - b) / (2.0 * s_m3_Pa);
}

}  // namespace

Chamber filled_chamber(const GasDrive& gas, double swept_m3, double gauge_Pa) {
  const double p_abs = air::kAtmosphere_Pa + gauge_Pa, v = gas.chamber_m3 + swept_m3;
  return {p_abs * v / (air::kGasConstant_J_kgK * air::kRoom_K), p_abs * v / (air::kHeatRatio - 1.0), v};
}

double feed_chamber(const GasDrive& gas, const VolumeResponse& r, Chamber& chamber) {
  constexpr double kRT = air::kGasConstant_J_kgK * air::kRoom_K, g = air::kHeatRatio, atm = air::kAtmosphere_Pa;
  // A sheet pushed up by the mould leaves at least a thousandth of the dead volume.
  const double v = std::max(gas.chamber_m3 + r.volume_m3, 1e-3 * gas.chamber_m3);
  // First law of an open system: dU = cp T dm - p dV, U = p V/(gamma - 1), cp = gamma R/(gamma - 1), inflow at room T.
  const double v_mid = 0.5 * (v + chamber.volume_m3);
  chamber.energy_J -= (g - 1.0) * chamber.energy_J / v_mid * (v - chamber.volume_m3);
  chamber.volume_m3 = v;
  const double p = gas.adiabatic ? (g - 1.0) * chamber.energy_J / v : chamber.gas_kg * kRT / v;
  const double supply = atm + gas.supply_Pa, area = 0.25 * std::numbers::pi * gas.orifice_m * gas.orifice_m;
  const double moved = r.dt_s * r.rate_m3_s, soft = r.dt_s * r.softness_m3_sPa;
  // A wide throat fills a small chamber within the step: the flow ends where the pressures meet.
  const double dv = moved + soft * gas.supply_Pa;
  const double to_supply_kg =
      gas.adiabatic ? ((supply - p) * v + g * p * dv) / (g * kRT) : supply * (v + dv) / kRT - chamber.gas_kg;
  const double in_kg = supply >= p ? std::clamp(to_supply_kg, 0.0, r.dt_s * air::mass_flow_kg_s(supply, p, area))
                                   : std::clamp(to_supply_kg, -r.dt_s * air::mass_flow_kg_s(p, supply, area), 0.0);
  chamber.gas_kg += in_kg;
  chamber.energy_J += g * kRT * in_kg / (g - 1.0);
  double next = 0.0;
  if (gas.adiabatic) {
    // dp = (gamma - 1) dU / V at fixed V, then -gamma p dV / V for the give, dV = moved + soft (next - atm).
    const double per = g * p / v;
    next = (p + g * kRT * in_kg / v - per * (moved - soft * atm)) / (1.0 + per * soft);
  } else {
    next = implicit_pressure_Pa(chamber.gas_kg * kRT, std::max(v + moved, 1e-3 * gas.chamber_m3), soft);
  }
  return std::min(next, std::max(supply, p)) - atm;
}

}  // namespace pellicle::forming
