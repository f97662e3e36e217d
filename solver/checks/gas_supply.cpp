// Does the gas come through its throat fast enough?
#include "solver/checks/gas_supply.h"

#include <fmt/core.h>

#include <cmath>

namespace pellicle::checks {

std::optional<Finding> gas_supply(const std::vector<GasStage>& stages) {
  constexpr double kMost = 0.5;  // of the stage; ours: what is left is for the sheet to be pressed in full
  std::optional<Finding> worst;
  double most = -1.0;
  for (const GasStage& s : stages) {
    const air::Filling& f = s.filling;
    const double time_s = air::filling_time_s(f), share = time_s / s.duration_s;
    if (share <= most) continue;
    most = share;
    const double choked_below_Pa =
        f.supply_Pa * std::pow(0.5 * (air::kHeatRatio + 1.0), -air::kHeatRatio / (air::kHeatRatio - 1.0));
    worst = Finding{.id = "gas_supply",
                    .question = "Does the pressure come through the throat fast enough?",
                    .value = time_s,
                    .unit = "s",
                    .limit = kMost * s.duration_s,
                    .verdict = share <= kMost ? Verdict::kPass : Verdict::kDoubt};
    worst->why = fmt::format(
        "stage '{}': {:.2g} s to {:.0f} % of the supply through {:.2g} mm into {:.3g} cm^3, of which the sheet sweeps "
        "{:.3g}; choked up to {:.2g} bar",
        s.name, time_s, 100.0 * kFull, 1e3 * f.throat_m, 1e6 * f.volume_to_m3,
        1e6 * (f.volume_to_m3 - f.volume_from_m3), 1e-5 * (choked_below_Pa - air::kAtmosphere_Pa));
    worst->uncertainty =
        "a steady supply, discharge 0.7 (0.6-0.8), a sheet that gives way without pressure: hoses and valves in "
        "front of the throat make it slower";
    if (worst->verdict == Verdict::kPass) continue;
    worst->why += fmt::format("; more than half of the stage's {:.2g} s, so the throat limits", s.duration_s);
    worst->advice = fmt::format(
        "a throat of {:.2g} mm, a smaller dead volume, or {:.2g} s for the stage: a late pressure meets a chilled "
        "sheet",
        1e3 * air::throat_for_m(f, kMost * s.duration_s), time_s / kMost);
  }
  return worst;
}

}  // namespace pellicle::checks
