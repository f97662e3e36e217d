// How does a round clamped sheet stand, free or in a round mould? Its meridian, from the equations of the membrane.
#include "solver/reference/meridian.h"
#include "solver/reference/meridian_walk.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <stdexcept>

namespace pellicle::reference {

/// With l1 = l0 + A x^2, l2 = l0 + B x^2, phi = f x, f = l0 k0, and W11 = W22 at the pole, (1) and (3) give
///   3 B = A - l0 f^2/2,   (3 W11 - W12) A + (3 W12 - W11) B = -W1 f^2/2.
PoleStart leave_pole(const Law& law, const Span& span, double pole_stretch) {
  const LawPoint w = law(pole_stretch, pole_stretch);
  const double k0 = span.curvature.value_or(span.load_Pa * pole_stretch / (2.0 * w.w1_Pa));
  const double f = pole_stretch * k0, f2 = f * f;
  const double A =
      (-w.w1_Pa * f2 / 2.0 + (3.0 * w.w12_Pa - w.w11_Pa) * pole_stretch * f2 / 6.0) / (8.0 / 3.0 * w.w11_Pa);
  const double B = (A - pole_stretch * f2 / 2.0) / 3.0;
  const double x = 1e-3 / std::fmax(1.0, std::fabs(f)), r = x * (pole_stretch + B * x * x);
  return {x,
          {r, 0.5 * k0 * r * r, f * x, pole_stretch + A * x * x, 0.25 * std::numbers::pi * k0 * std::pow(r, 4.0),
           std::numbers::pi * x * x * w.w_Pa}};
}

Walk walk(const Law& law, const Span& span, double x, const Row& y, double end, const WalkEvent& event, double longest,
          std::vector<MeridianPoint>* points, double unit_m) {
  const auto slope = [&](double at, const Row& s) {
    const double l1 = s[kL1], l2 = s[kR] / at, c = std::cos(s[kPhi]), n = std::sin(s[kPhi]);
    const LawPoint w = law(l1, l2);
    const double l2_slope = (l1 * c - l2) / at;
    const double k1 = span.curvature ? *span.curvature : (span.load_Pa - w.w2_Pa / l1 * n / s[kR]) / (w.w1_Pa / l2);
    return Row{l1 * c,
               l1 * n,
               l1 * k1,
               ((w.w2_Pa * c - w.w1_Pa) / at - w.w12_Pa * l2_slope) / w.w11_Pa,
               std::numbers::pi * s[kR] * s[kR] * l1 * n,
               2.0 * std::numbers::pi * at * w.w_Pa};
  };
  const auto seen = [&](double at, const Row& s) {
    if (points)
      points->push_back(
          {at * unit_m, s[kR] * unit_m, s[kZ] * unit_m, s[kPhi], s[kL1], s[kR] / at, span.curvature.has_value()});
  };
  const OdeEnd<6> there = ode_solve<6>(slope, x, y, end, longest, kOdeTolerance, event, seen);
  return {there.x, there.y, there.stopped};
}

MeridianPoint Meridian::at(double flat_m) const {
  const auto above = std::lower_bound(points.begin(), points.end(), flat_m,
                                      [](const MeridianPoint& p, double flat) { return p.flat_m < flat; });
  if (above == points.begin()) return points.front();
  if (above == points.end()) return points.back();
  const MeridianPoint &b = *above, &a = *(above - 1);
  const double s = (flat_m - a.flat_m) / (b.flat_m - a.flat_m);
  const auto mix = [s](double from, double to) { return from + s * (to - from); };
  return {flat_m,          mix(a.r_m, b.r_m), mix(a.z_m, b.z_m), mix(a.slope_rad, b.slope_rad),
          mix(a.l1, b.l1), mix(a.l2, b.l2),   b.touching};
}

std::vector<double> Meridian::contact_lines_m() const {
  std::vector<double> lines;
  for (std::size_t i = 1; i < points.size(); ++i)
    if (points[i].touching != points[i - 1].touching) lines.push_back(points[i - 1].flat_m);
  return lines;
}

Meridian inflated_disc(const ClampedDisc& disc, double pole_stretch) {
  const double unit_load = disc.law(pole_stretch, pole_stretch).w1_Pa / pole_stretch;  // pole curvature of a half
  const auto to_clamp = [](double x, const Row& y) { return y[kR] / x - 1.0; };
  const PoleStart far = leave_pole(disc.law, {unit_load, {}}, pole_stretch);
  const Walk out = walk(disc.law, {unit_load, {}}, far.x, far.y, 1e3, to_clamp);
  if (!out.stopped) throw std::runtime_error("a free disc without a clamp radius");
  // Again with the disc's radius as the unit: the load grows by what x shrinks.
  const double load = unit_load * out.x;
  Meridian m{};
  const PoleStart start = leave_pole(disc.law, {load, {}}, pole_stretch);
  m.points.push_back({0.0, 0.0, 0.0, 0.0, pole_stretch, pole_stretch, false});
  const Walk end = walk(
      disc.law, {load, {}}, start.x, start.y, 1.0, [](double, const Row&) { return 1.0; }, 1.0 / 500, &m.points,
      disc.radius_m);
  const double a = disc.radius_m;
  m.pressure_Pa = load * disc.thickness_m / a;
  m.height_m = end.y[kZ] * a;
  m.volume_m3 = end.y[kVolume] * a * a * a;
  m.strain_energy_J = end.y[kEnergy] * a * a * disc.thickness_m;
  m.pole_stretch = pole_stretch;
  return m;
}

Meridian inflated_disc_of_volume(const ClampedDisc& disc, double volume_m3) {
  double low = 1.0 + 1e-6, high = 1.1;
  while (inflated_disc(disc, high).volume_m3 < volume_m3) low = high, high = 1.0 + 1.5 * (high - 1.0);
  for (int i = 0; i < 100 && high - low > 1e-12; ++i) {
    const double middle = 0.5 * (low + high);
    (inflated_disc(disc, middle).volume_m3 < volume_m3 ? low : high) = middle;
  }
  return inflated_disc(disc, high);
}

Meridian disc_at_limit(const ClampedDisc& disc, double most) {
  constexpr double kStep = 0.02;
  double l = 1.0 + kStep, before = inflated_disc(disc, l).pressure_Pa;
  for (;; l += kStep) {
    if (l > most) throw std::runtime_error("no limit pressure");
    const double now = inflated_disc(disc, l + kStep).pressure_Pa;
    if (now < before) break;
    before = now;
  }
  // The largest lies between l - step and l + step: golden section.
  const double golden = 0.5 * (std::sqrt(5.0) - 1.0);
  double low = l - kStep, high = l + kStep;
  while (high - low > 1e-6) {
    const double left = high - golden * (high - low), right = low + golden * (high - low);
    if (inflated_disc(disc, left).pressure_Pa > inflated_disc(disc, right).pressure_Pa)
      high = right;
    else
      low = left;
  }
  return inflated_disc(disc, 0.5 * (low + high));
}

double small_load_height_factor() {
  // Small strains, N = t1 and N + rho N' = t2 over (p^2 a^2 E h)^(1/3), w over a (p a/(E h))^(1/3):
  //   N w' = -rho/2,   N^2 (rho N'' + 3 N') = -rho/8,   no radial displacement at rho = 1: N' + (1 - nu) N = 0.
  // N = sum b_n u^n, u = rho^2: N^2 (4 u N_uu + 8 N_u) = -1/8 gives b_(n+1) from those before it.
  constexpr int kTerms = 60;
  const auto series = [](double b0) {
    std::vector<double> b(kTerms, 0.0);
    b[0] = b0;
    for (std::size_t n = 0; n + 1 < kTerms; ++n) {
      const auto weight = [](std::size_t k) {
        return 4.0 * static_cast<double>((k + 1) * k) + 8.0 * static_cast<double>(k + 1);
      };
      double known = n == 0 ? -0.125 : 0.0;
      for (std::size_t i = 0; i <= n; ++i)
        for (std::size_t j = 0; i + j <= n; ++j) {
          const std::size_t k = n - i - j;  // coefficient of u^k in 4 u N_uu + 8 N_u holds b[k + 1]
          if (k < n) known -= b[i] * b[j] * weight(k) * b[k + 1];
        }
      b[n + 1] = known / (b0 * b0 * weight(n));
    }
    return b;
  };
  const auto edge = [&](double b0) {
    const std::vector<double> b = series(b0);
    double sum = 0.0;
    for (std::size_t n = 0; n < b.size(); ++n) sum += (2.0 * static_cast<double>(n) + 1.0 - 0.5) * b[n];
    return sum;
  };
  double low = 0.2, high = 2.0;
  for (int i = 0; i < 200; ++i) {
    const double middle = 0.5 * (low + high);
    (edge(middle) < 0.0 ? low : high) = middle;
  }
  // w = integral of rho/(2 N) from 0 to 1, by Simpson's rule.
  const std::vector<double> b = series(high);
  const auto slope = [&](double rho) {
    double n = 0.0, power = 1.0;
    for (const double c : b) n += c * power, power *= rho * rho;
    return rho / (2.0 * n);
  };
  constexpr int kStrips = 1000;
  double sum = slope(0.0) + slope(1.0);
  for (int i = 1; i < kStrips; ++i) sum += (i % 2 ? 4.0 : 2.0) * slope(static_cast<double>(i) / kStrips);
  return sum / (3.0 * kStrips);
}

}  // namespace pellicle::reference
