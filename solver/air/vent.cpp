// How fast does air leave through a hole in the mould, and how long until a volume is empty?
#include "solver/air/vent.h"

#include "solver/air/simpson.h"

#include <algorithm>
#include <limits>
#include <numbers>

namespace pellicle::air {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

/// Share of t^3 w that a rectangle t by w passes of a wide slot.
double slot_factor(double t_over_w) {
  constexpr int kTerms = 9;  // odd n; the first left out is 1/11^5
  double sum = 0.0;
  for (int n = 1; n <= kTerms; n += 2)
    sum += std::tanh(0.5 * n * std::numbers::pi / t_over_w) / std::pow(static_cast<double>(n), 5);
  return 1.0 - 192.0 * t_over_w / std::pow(std::numbers::pi, 5) * sum;
}

}  // namespace

double area_m2(const Hole& hole) {
  if (hole.is_slot()) return hole.diameter_m * hole.slot_m;
  return 0.25 * std::numbers::pi * hole.diameter_m * hole.diameter_m;
}

double hydraulic_diameter_m(const Hole& hole) {
  return hole.is_slot() ? 2.0 * hole.diameter_m * hole.slot_m / (hole.diameter_m + hole.slot_m) : hole.diameter_m;
}

double reach_m(const Hole& hole) {
  return 0.5 * (hole.is_slot() ? std::hypot(hole.diameter_m, hole.slot_m) : hole.diameter_m);
}

double viscosity_Pa_s(double temperature_K) {
  return 1.458e-6 * temperature_K * std::sqrt(temperature_K) / (temperature_K + 110.4);
}

double equivalent_land_m(const Hole& hole) {
  const double d = hole.diameter_m, D = hole.foot_m, s = d / D;
  if (!(D > d)) return hole.land_m;
  // Both without the cancellation of D against d.
  if (hole.is_slot()) return hole.land_m + hole.taper_m * s * (1.0 + s) / 2.0;
  return hole.land_m + hole.taper_m * s * (1.0 + s + s * s) / 3.0;
}

double laminar_kg_s(const Hole& hole, double p1_Pa, double p2_Pa, double temperature_K) {
  const double d_sq = hole.diameter_m * hole.diameter_m, land = equivalent_land_m(hole);
  if (!(land > 0.0)) return kInfinity;
  const double opening_m4 =
      hole.is_slot() ? 32.0 / 3.0 * d_sq * hole.diameter_m * hole.slot_m * slot_factor(hole.diameter_m / hole.slot_m)
                     : std::numbers::pi * d_sq * d_sq;
  return opening_m4 * (p1_Pa - p2_Pa) * (p1_Pa + p2_Pa) /
         (256.0 * viscosity_Pa_s(temperature_K) * land * kGasConstant_J_kgK * temperature_K);
}

double hole_flow_kg_s(const Hole& hole, double p1_Pa, double p2_Pa, double temperature_K, double discharge) {
  const double mouth = mass_flow_kg_s(p1_Pa, p2_Pa, area_m2(hole), temperature_K, discharge);
  return std::min(mouth, laminar_kg_s(hole, p1_Pa, p2_Pa, temperature_K));
}

double crossover_diameter_m(double land_m, double p1_Pa, double p2_Pa, double temperature_K, double discharge) {
  // The mouth grows with d^2, the land with d^4: equal where d^2 is the ratio of the two at unit diameter.
  const double mouth = mass_flow_kg_s(p1_Pa, p2_Pa, area_m2(Hole{1.0}), temperature_K, discharge);
  return std::sqrt(mouth / laminar_kg_s({.diameter_m = 1.0, .land_m = land_m}, p1_Pa, p2_Pa, temperature_K));
}

double emptying_time_s(const Hole& hole, double volume_m3, double from_Pa, double to_Pa, double outside_Pa,
                       double temperature_K, double discharge) {
  if (from_Pa <= to_Pa) return 0.0;
  if (to_Pa <= outside_Pa) return kInfinity;
  // p = outside + u^2: near the end the mouth passes as the root of what is left, so in u the integrand is smooth.
  const auto per_u = [&](double u) {
    return 2.0 * u / hole_flow_kg_s(hole, outside_Pa + u * u, outside_Pa, temperature_K, discharge);
  };
  const auto over = [&](double low_Pa, double high_Pa) {
    const double a = std::sqrt(low_Pa - outside_Pa), b = std::sqrt(high_Pa - outside_Pa);
    return integral(per_u, a, b);
  };
  const double choked_above_Pa = outside_Pa * std::pow(0.5 * (kHeatRatio + 1.0), kHeatRatio / (kHeatRatio - 1.0));
  const double split_Pa = std::clamp(choked_above_Pa, to_Pa, from_Pa);
  double sum_s = 0.0;  // in units of V/(R T)
  if (split_Pa < from_Pa) {
    const double mouth = mass_flow_kg_s(split_Pa, outside_Pa, area_m2(hole), temperature_K, discharge);
    // Mouth over land falls with p1, so what the mouth limits at the lower end it limits above.
    const bool by_mouth = mouth <= laminar_kg_s(hole, split_Pa, outside_Pa, temperature_K);
    sum_s += by_mouth ? split_Pa / mouth * std::log(from_Pa / split_Pa) : over(split_Pa, from_Pa);
  }
  if (split_Pa > to_Pa) sum_s += over(to_Pa, split_Pa);
  return volume_m3 / (kGasConstant_J_kgK * temperature_K) * sum_s;
}

}  // namespace pellicle::air
