// How fast does air leave through a hole in the mould, and how long until a volume is empty?
#include "solver/air/vent.h"

#include <algorithm>
#include <limits>
#include <numbers>

namespace pellicle::air {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

double area_m2(double diameter_m) { return 0.25 * std::numbers::pi * diameter_m * diameter_m; }

/// One interval of Simpson's rule with its middle.
struct Span {
  double a, b, fa, fm, fb;
  double sum() const { return (b - a) / 6.0 * (fa + 4.0 * fm + fb); }
};

/// Adaptive Simpson: halves until both halves agree with the whole to 15 times the tolerance (Lyness, J. ACM 16 (1969)
/// 483; from memory). Kinks cost halvings, no accuracy.
template <class F>
double integral(const F& f, const Span& s, double tolerance, int halvings) {
  const double m = 0.5 * (s.a + s.b);
  const Span left{s.a, m, s.fa, f(0.5 * (s.a + m)), s.fm}, right{m, s.b, s.fm, f(0.5 * (m + s.b)), s.fb};
  const double both = left.sum() + right.sum(), off = both - s.sum();
  if (halvings == 0 || std::fabs(off) <= 15.0 * tolerance) return both + off / 15.0;
  return integral(f, left, 0.5 * tolerance, halvings - 1) + integral(f, right, 0.5 * tolerance, halvings - 1);
}

}  // namespace

double viscosity_Pa_s(double temperature_K) {
  return 1.458e-6 * temperature_K * std::sqrt(temperature_K) / (temperature_K + 110.4);
}

double equivalent_land_m(const Hole& hole) {
  const double d = hole.diameter_m, D = hole.foot_m, s = d / D;
  if (!(D > d)) return hole.land_m;
  // L_c d/(3 (D - d)) (1 - s^3), without the cancellation of D against d
  return hole.land_m + hole.taper_m * s * (1.0 + s + s * s) / 3.0;
}

double laminar_kg_s(const Hole& hole, double p1_Pa, double p2_Pa, double temperature_K) {
  const double d_sq = hole.diameter_m * hole.diameter_m, land = equivalent_land_m(hole);
  if (!(land > 0.0)) return kInfinity;
  return std::numbers::pi * d_sq * d_sq * (p1_Pa - p2_Pa) * (p1_Pa + p2_Pa) /
         (256.0 * viscosity_Pa_s(temperature_K) * land * kGasConstant_J_kgK * temperature_K);
}

double hole_flow_kg_s(const Hole& hole, double p1_Pa, double p2_Pa, double temperature_K, double discharge) {
  const double mouth = mass_flow_kg_s(p1_Pa, p2_Pa, area_m2(hole.diameter_m), temperature_K, discharge);
  return std::min(mouth, laminar_kg_s(hole, p1_Pa, p2_Pa, temperature_K));
}

double crossover_diameter_m(double land_m, double p1_Pa, double p2_Pa, double temperature_K, double discharge) {
  // The mouth grows with d^2, the land with d^4: equal where d^2 is the ratio of the two at unit diameter.
  const double mouth = mass_flow_kg_s(p1_Pa, p2_Pa, area_m2(1.0), temperature_K, discharge);
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
    const Span whole{a, b, per_u(a), per_u(0.5 * (a + b)), per_u(b)};
    constexpr double kRelative = 1e-10;
    constexpr int kMostHalvings = 40;
    return integral(per_u, whole, kRelative * whole.sum(), kMostHalvings);
  };
  const double choked_above_Pa = outside_Pa * std::pow(0.5 * (kHeatRatio + 1.0), kHeatRatio / (kHeatRatio - 1.0));
  const double split_Pa = std::clamp(choked_above_Pa, to_Pa, from_Pa);
  double sum_s = 0.0;  // in units of V/(R T)
  if (split_Pa < from_Pa) {
    const double mouth = mass_flow_kg_s(split_Pa, outside_Pa, area_m2(hole.diameter_m), temperature_K, discharge);
    // Mouth over land falls with p1, so what the mouth limits at the lower end it limits above.
    const bool by_mouth = mouth <= laminar_kg_s(hole, split_Pa, outside_Pa, temperature_K);
    sum_s += by_mouth ? split_Pa / mouth * std::log(from_Pa / split_Pa) : over(split_Pa, from_Pa);
  }
  if (split_Pa > to_Pa) sum_s += over(to_Pa, split_Pa);
  return volume_m3 / (kGasConstant_J_kgK * temperature_K) * sum_s;
}

}  // namespace pellicle::air
