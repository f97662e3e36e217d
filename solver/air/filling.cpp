// How long does a throat take to fill the space above the sheet?
#include "solver/air/filling.h"

#include "solver/air/simpson.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace pellicle::air {

double filling_time_s(const Filling& f) {
  const double area_m2 = 0.25 * std::numbers::pi * f.throat_m * f.throat_m;
  const double RT = kGasConstant_J_kgK * f.temperature_K;
  const auto flow = [&](double p_Pa) {
    return mass_flow_kg_s(f.supply_Pa, p_Pa, area_m2, f.temperature_K, f.discharge);
  };
  const double sweep_m3 = std::max(0.0, f.volume_to_m3 - f.volume_from_m3);
  const double sweep_s = f.from_Pa * sweep_m3 / (RT * flow(f.from_Pa));
  const double choked_to_Pa = f.supply_Pa * std::pow(0.5 * (kHeatRatio + 1.0), -kHeatRatio / (kHeatRatio - 1.0));
  const double split_Pa = std::clamp(choked_to_Pa, f.from_Pa, f.to_Pa);
  double rigid = (split_Pa - f.from_Pa) / flow(f.from_Pa);  // choked: flow does not see the chamber
  // p = supply - u^2: near the supply the throat passes as the root of what is left, so in u the integrand is smooth.
  if (split_Pa < f.to_Pa)
    rigid += integral([&](double u) { return 2.0 * u / flow(f.supply_Pa - u * u); }, std::sqrt(f.supply_Pa - f.to_Pa),
                      std::sqrt(f.supply_Pa - split_Pa));
  return sweep_s + f.volume_to_m3 / (RT * (f.adiabatic ? kHeatRatio : 1.0)) * rigid;
}

double throat_for_m(const Filling& f, double time_s) { return f.throat_m * std::sqrt(filling_time_s(f) / time_s); }

}  // namespace pellicle::air
