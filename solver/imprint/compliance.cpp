// How far does the face of a layered, stretched sheet give under a wave of pressure?
#include "solver/imprint/compliance.h"

#include "mesh/check.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <string>

namespace pellicle::imprint {
namespace {

using Real = long double;  // thin layers cancel: double loses up to a quarter at k h = 0.03 with 16 layers

constexpr Real kThin = 0.05L;           // k h below which a stack is a sheet in bending and tension only
constexpr Real kNearIsotropic = 1e-3L;  // |r - 1| below which the two exponents of a layer are too close to tell apart
constexpr Real kCut = 2.0L;             // largest k h max(1, r) of one step of the recursion
constexpr std::size_t kSeries = 36;     // terms of its series: 2^36/36! is below long double
constexpr Real kReach = 25.0L;          // depth in 1/k past which nothing is felt: e^-50
constexpr double kStepLog = 0.06;       // of the table: the cubic between its points is good to 1e-5
constexpr std::size_t kLines = 10;      // of the table, over l_k: enough for stretch ratios of 3 (tested)

/// C of one prestretched layer, not near r = 1; section 4 of docs/theory/press.md, (3).
Real biot_apart(Real h, Real G, Real k, Real r, Real b) {
  const Real a = 0.5L * k * h, q = (1.0L + r * r) * (1.0L + r * r);
  const Real top = (r * r - 1.0L) / (G * b * k);
  const Real ta = std::tanh(a), tra = std::tanh(r * a);
  return 0.5L * top * (1.0L / (q * ta - 4.0L * r * tra) + 1.0L / (q / ta - 4.0L * r / tra));
}

/// Stiffness near r = 1 from values at r = 1 -+ 1e-3: its part without tension goes linearly with r, tension is exact.
template <class Stiffness>
Real between_isotropic(Real tension_modulus_h_k_sq, Real r, Stiffness stiffness) {
  if (std::fabs(r - 1.0L) >= kNearIsotropic) return stiffness(r);
  const auto untensioned = [&](Real at) { return stiffness(at) - tension_modulus_h_k_sq * (at * at - 1.0L); };
  const Real u = 0.5L + 0.5L * (r - 1.0L) / kNearIsotropic;
  return (1.0L - u) * untensioned(1.0L - kNearIsotropic) + u * untensioned(1.0L + kNearIsotropic) +
         tension_modulus_h_k_sq * (r * r - 1.0L);
}

using Four = std::array<std::array<Real, 4>, 4>;
using Two = std::array<std::array<Real, 2>, 2>;

/// A B^-1 by elimination with row exchange: X B = A, column pivots of B^T.
Four over(const Four& a, const Four& b) {
  std::array<std::array<Real, 8>, 4> m{};  // [B^T | A^T]
  for (std::size_t i = 0; i < 4; ++i) {
    for (std::size_t j = 0; j < 4; ++j) m[i][j] = b[j][i], m[i][4 + j] = a[j][i];
  }
  for (std::size_t c = 0; c < 4; ++c) {
    std::size_t pivot = c;
    for (std::size_t i = c + 1; i < 4; ++i) {
      if (std::fabs(m[i][c]) > std::fabs(m[pivot][c])) pivot = i;
    }
    std::swap(m[c], m[pivot]);
    for (std::size_t i = 0; i < 4; ++i) {
      if (i == c) continue;
      const Real f = m[i][c] / m[c][c];
      for (std::size_t j = c; j < 8; ++j) m[i][j] -= f * m[c][j];
    }
  }
  Four x{};
  for (std::size_t i = 0; i < 4; ++i) {
    for (std::size_t j = 0; j < 4; ++j) x[j][i] = m[i][4 + j] / m[i][i];
  }
  return x;
}

/// f, f', f'', f''' by s = k y, at s, of the four solutions of f'''' = (1 + r^2) f'' - r^2 f that start at 0 as s^j/j!,
/// by their power series. Unlike the four exponentials they stay apart where the layer is thin or r is 1.
using Jet = std::array<Real, 4>;
std::array<Jet, 4> waves_at(Real s, Real r) {
  std::array<Jet, 4> wave{};
  for (std::size_t j = 0; j < 4; ++j) {
    std::array<Real, kSeries> term{};  // n-th derivative at 0, times s^n/n! below
    term[j] = 1.0L;
    for (std::size_t n = 4; n < kSeries; ++n) term[n] = (1.0L + r * r) * term[n - 2] - r * r * term[n - 4];
    Real power = 1.0L;  // s^m/m!
    for (std::size_t m = 0; m + 3 < kSeries; ++m) {
      for (std::size_t i = 0; i < 4; ++i) wave[j][i] += term[m + i] * power;
      power *= s / static_cast<Real>(m + 1);
    }
  }
  return wave;
}

/// u_x, u_y, t_x/(G k), t_y/(G k) on a plane across a layer, of the four solutions there; t acts from above.
Four plane_state(const std::array<Jet, 4>& wave, Real nu, Real r, Real b, bool stretched) {
  Four state{};
  for (std::size_t j = 0; j < 4; ++j) {
    const Jet& f = wave[j];
    if (stretched) {  // f is u_y; incompressible: u_x = -f'
      state[0][j] = -f[1];
      state[1][j] = f[0];
      state[2][j] = -b * (f[2] + f[0]);
      state[3][j] = b * ((2.0L + r * r) * f[1] - f[3]);
    } else {  // f is the stress function times k/(2 G): tau = k phi', sigma_y = -k^2 phi
      state[0][j] = (1.0L - nu) * f[2] + nu * f[0];
      state[1][j] = (1.0L - nu) * f[3] - (2.0L - nu) * f[1];
      state[2][j] = 2.0L * f[1];
      state[3][j] = -2.0L * f[0];
    }
  }
  return state;
}

/// What the plane a distance x/k below another one sees, from the state on the upper one.
Four step_down(Real x, Real nu, Real r, Real b, bool stretched) {
  return over(plane_state(waves_at(-x, r), nu, r, b, stretched), plane_state(waves_at(0.0L, r), nu, r, b, stretched));
}

/// What a plane within the stack feels of all that lies above it.
struct Above {
  Two stiffness{};                           ///< traction -s u from above, over G k of the layer below
  Two to_top{{{1.0L, 0.0L}, {0.0L, 1.0L}}};  ///< displacement of the free top over that of the plane
};

/// Surface stiffness s carried down a layer: s <- -(Q_tu - Q_tt s) (Q_uu - Q_ut s)^-1. The same as
/// S <- K_bb - K_bt (K_tt + S)^-1 K_tb of the layer's face stiffness K, which is singular where the layer is thin and
/// incompressible. Displacements go with the same inverse: u_above = (Q_uu - Q_ut s)^-1 u_below.
Above carried_down(const Four& q, const Above& above) {
  const Two& s = above.stiffness;
  Two u{}, t{};
  for (std::size_t i = 0; i < 2; ++i) {
    for (std::size_t j = 0; j < 2; ++j) {
      u[i][j] = q[i][j] - q[i][2] * s[0][j] - q[i][3] * s[1][j];
      t[i][j] = q[i + 2][j] - q[i + 2][2] * s[0][j] - q[i + 2][3] * s[1][j];
    }
  }
  const Real det = u[0][0] * u[1][1] - u[0][1] * u[1][0];
  const auto over_u = [&](const Two& a, Real sign) {  // sign a u^-1
    Two x{};
    for (std::size_t i = 0; i < 2; ++i) {
      x[i][0] = sign * (a[i][0] * u[1][1] - a[i][1] * u[1][0]) / det;
      x[i][1] = sign * (a[i][1] * u[0][0] - a[i][0] * u[0][1]) / det;
    }
    return x;
  };
  return {over_u(t, -1.0L), over_u(above.to_top, 1.0L)};
}

/// Lowest face of a stack that is free of shear: its normal stiffness, and how far the free top goes with it.
struct Face {
  Real stiffness;
  Real top_share;  ///< of its normal displacement; 0 where the top is out of reach
};

/// From the free top down. Layers are cut until k h max(1, r) <= 2 in each, for the series; what lies deeper than the
/// slower wave reaches is left out.
Face recursion(const LayerStack& stack, Real k, Real r, Real b, bool stretched) {
  struct Cut {
    const Layer* layer;
    Real thickness_m;
    int parts;
  };
  std::vector<Cut> cuts;
  Real room_m = kReach / (k * std::min(1.0L, r));
  for (const Layer& layer : stack.layers) {
    if (!(room_m > 0.0L)) break;
    const Real h = std::min<Real>(layer.thickness_m, room_m);
    room_m -= h;
    const int parts = std::max(1, static_cast<int>(std::ceil(k * h * std::max(1.0L, r) / kCut)));
    cuts.push_back({&layer, h / static_cast<Real>(parts), parts});
  }
  Above above;
  for (auto cut = cuts.rbegin(); cut != cuts.rend(); ++cut) {
    const Real unit = cut->layer->shear_modulus_Pa * k;
    const Four down = step_down(k * cut->thickness_m, cut->layer->poisson_ratio, r, b, stretched);
    for (auto& row : above.stiffness) row = {row[0] / unit, row[1] / unit};
    for (int i = 0; i < cut->parts; ++i) above = carried_down(down, above);
    for (auto& row : above.stiffness) row = {row[0] * unit, row[1] * unit};
  }
  const Two& s = above.stiffness;
  const Real sideways = -s[0][1] / s[0][0];  // of the face, over its normal displacement: no shear on it
  const Real share = room_m > 0.0L ? above.to_top[1][1] + above.to_top[1][0] * sideways : 0.0L;
  return {s[1][1] + s[1][0] * sideways, share};
}

/// Stiffness of a stack for one squared stretch along the wave.
double stack_stiffness(const LayerStack& stack, double k, double along_sq) {
  const bool stretched = stack.stretch_x != 1.0 || stack.stretch_y != 1.0;
  const Real across = static_cast<Real>(stack.stretch_x) * stack.stretch_y;
  const Real b = 1.0L / (across * across), r = stretched ? std::sqrt(along_sq / b) : 1.0L;
  if (stack.layers.size() == 1) {
    const Layer& one = stack.layers[0];
    if (!stretched) return 1.0 / isotropic_compliance_m_per_Pa(one, k);
    return 1.0 / biot_compliance_m_per_Pa(one.thickness_m, one.shear_modulus_Pa, k, std::sqrt(along_sq),
                                          static_cast<double>(std::sqrt(b)));
  }
  Real pull = 0.0L;  // G b h, so that the tension T h is this times r^2 - 1
  for (const Layer& layer : stack.layers) pull += b * layer.shear_modulus_Pa * layer.thickness_m;
  const auto stiffness = [&](Real at) { return recursion(stack, at, r, b, stretched).stiffness; };
  const Real h = stack.thickness_m(), tension = pull * (r * r - 1.0L), x = k * h;
  if (x >= kThin) return static_cast<double>(stiffness(k));
  const auto bending = [&](Real at_x) {  // (S - T h k^2)/k^4
    const Real kk = at_x / h * (at_x / h);
    return (stiffness(at_x / h) - tension * kk) / (kk * kk);
  };
  const Real near = bending(0.5L * kThin), far = bending(kThin), slope = (far - near) / (0.75L * kThin * kThin);
  const Real k_sq = static_cast<Real>(k) * k;
  return static_cast<double>(tension * k_sq + (near + slope * (x * x - 0.25L * kThin * kThin)) * k_sq * k_sq);
}

/// Share of one layer's wave that its free face takes: (C_a - C_s)/(C_a + C_s), C_a of both faces moving together, C_s
/// of both moving apart, as in biot_apart.
Real biot_apart_share(Real h, Real k, Real r) {
  const Real a = 0.5L * k * h, q = (1.0L + r * r) * (1.0L + r * r);
  const Real ta = std::tanh(a), tra = std::tanh(r * a);
  const Real together = q * ta - 4.0L * r * tra, apart = q / ta - 4.0L * r / tra;  // stiffnesses, to one factor
  return (apart - together) / (apart + together);
}

/// The same, unstretched, where C_a and C_s go with (cosh x + 1)/(sinh x - x) and (cosh x - 1)/(sinh x + x):
/// (x cosh x + sinh x)/(sinh x cosh x + x) = 1 - x^4/24 + ...
Real isotropic_share(Real x) {
  if (x < kThin) return 1.0L - x * x * x * x / 24.0L;
  const Real e = std::exp(-2.0L * x);  // all times 2 e^-x, so that nothing overflows
  return 2.0L * std::exp(-x) * (x * (1.0L + e) + 1.0L - e) / (1.0L - e * e + 4.0L * x * e);
}

}  // namespace

double LayerStack::thickness_m() const {
  double sum = 0.0;
  for (const Layer& layer : layers) sum += layer.thickness_m;
  return sum;
}

void check(const LayerStack& stack) {
  const auto refuse = [](const std::string& what, double found, const char* allowed, const char* advice) {
    throw Error({Fault::Kind::kCase, "layers of the sheet, " + what, std::to_string(found), allowed, advice});
  };
  if (stack.layers.empty()) refuse("number of layers", 0.0, "1 or more", "");
  const bool stretched = stack.stretch_x != 1.0 || stack.stretch_y != 1.0;
  for (const Layer& l : stack.layers) {
    if (!(l.thickness_m > 0.0 && std::isfinite(l.thickness_m))) refuse("thickness in m", l.thickness_m, "above 0", "");
    if (!(l.shear_modulus_Pa > 0.0 && std::isfinite(l.shear_modulus_Pa)))
      refuse("shear modulus in Pa", l.shear_modulus_Pa, "above 0", "");
    if (!(l.poisson_ratio > -1.0 && l.poisson_ratio <= 0.5))
      refuse("Poisson's ratio", l.poisson_ratio, "-1 to 0.5", "");
    if (stretched && l.poisson_ratio != 0.5)
      refuse("Poisson's ratio", l.poisson_ratio, "0.5 in a stretched sheet",
             "the prestretched layer is incompressible");
  }
  for (const double stretch : {stack.stretch_x, stack.stretch_y}) {
    if (!(stretch > 0.0 && std::isfinite(stretch))) refuse("stretch", stretch, "above 0", "");
  }
}

double isotropic_compliance_m_per_Pa(const Layer& layer, double wave_number_1_m) {
  const double h = layer.thickness_m, k = wave_number_1_m, x = k * h;
  const double plane = 2.0 * layer.shear_modulus_Pa / (1.0 - layer.poisson_ratio);  // E*
  if (x < kThin) {
    const double x_sq = x * x;
    return 12.0 * h / (plane * x_sq * x_sq) * (1.0 + x_sq / 5.0 + 16.0 / 525.0 * x_sq * x_sq);
  }
  const double e = std::exp(-2.0 * x), s = 0.5 * (1.0 - e);  // both parts times e^-2x, so that nothing overflows
  return 2.0 / (plane * k) * (0.25 * (1.0 - e * e) + x * e) / (s * s - x * x * e);
}

double biot_compliance_m_per_Pa(double thickness_m, double shear_modulus_Pa, double wave_number_1_m,
                                double stretch_along, double stretch_thickness) {
  const Real h = thickness_m, G = shear_modulus_Pa, k = wave_number_1_m;
  const Real b = static_cast<Real>(stretch_thickness) * stretch_thickness;
  const Real r = static_cast<Real>(stretch_along) / stretch_thickness;
  return static_cast<double>(
      1.0L / between_isotropic(G * b * h * k * k, r, [&](Real at) { return 1.0L / biot_apart(h, G, k, at, b); }));
}

double biot_half_space_compliance_m_per_Pa(double shear_modulus_Pa, double wave_number_1_m, double stretch_along,
                                           double stretch_thickness) {
  const double b = stretch_thickness * stretch_thickness, r = stretch_along / stretch_thickness;
  return (1.0 + r) / (shear_modulus_Pa * b * wave_number_1_m * (r * r * r + r * r + 3.0 * r - 1.0));
}

double compliance_m_per_Pa(const LayerStack& stack, double wave_number_1_m, double angle_rad) {
  check(stack);
  const double c = std::cos(angle_rad) * stack.stretch_x, s = std::sin(angle_rad) * stack.stretch_y;
  return 1.0 / stack_stiffness(stack, wave_number_1_m, c * c + s * s);
}

double free_face_share(const LayerStack& stack, double wave_number_1_m, double angle_rad) {
  check(stack);
  const Real across = static_cast<Real>(stack.stretch_x) * stack.stretch_y, b = 1.0L / (across * across);
  const double c = std::cos(angle_rad) * stack.stretch_x, s = std::sin(angle_rad) * stack.stretch_y;
  const bool stretched = stack.stretch_x != 1.0 || stack.stretch_y != 1.0;
  const Real r = stretched ? std::sqrt((c * c + s * s) / b) : 1.0L, k = wave_number_1_m, x = k * stack.thickness_m();
  if (stack.layers.size() > 1) {
    if (x < kThin) return 1.0;  // to 3e-7 in a uniform sheet
    return static_cast<double>(recursion(stack, k, r, b, stretched).top_share);
  }
  if (!stretched || r == 1.0L) return static_cast<double>(isotropic_share(x));
  const Real h = stack.layers[0].thickness_m, away = (r - 1.0L) / kNearIsotropic;
  if (std::fabs(away) >= 1.0L) return static_cast<double>(biot_apart_share(h, k, r));
  const Real side = away > 0.0L ? 1.0L + kNearIsotropic : 1.0L - kNearIsotropic;
  const Real part = std::fabs(away);
  return static_cast<double>((1.0L - part) * isotropic_share(x) + part * biot_apart_share(h, k, side));
}

StiffnessTable::StiffnessTable(const LayerStack& stack, double least_1_m, double largest_1_m)
    : stretch_x_sq_(stack.stretch_x * stack.stretch_x), stretch_y_sq_(stack.stretch_y * stack.stretch_y) {
  check(stack);
  ensure(least_1_m > 0.0 && largest_1_m >= least_1_m, "a table of stiffness spans wave numbers above 0");
  const double span = std::log(largest_1_m / least_1_m);
  const auto intervals = std::max<std::size_t>(1, static_cast<std::size_t>(std::ceil(span / kStepLog)));
  step_log_ = std::max(span, kStepLog) / static_cast<double>(intervals);
  first_log_ = std::log(least_1_m) - step_log_;  // one point beyond either end, for the cubic
  points_ = intervals + 3;

  const std::size_t lines = stretch_x_sq_ == stretch_y_sq_ ? 1 : kLines;
  const double middle = 0.5 * (stack.stretch_x + stack.stretch_y), half = 0.5 * (stack.stretch_x - stack.stretch_y);
  for (std::size_t i = 0; i < lines; ++i) {  // Chebyshev, ends included
    const double last = static_cast<double>(std::max<std::size_t>(lines - 1, 1));
    line_stretch_.push_back(middle + half * std::cos(std::numbers::pi * static_cast<double>(i) / last));
    line_weight_.push_back((i % 2 ? -1.0 : 1.0) * (i == 0 || i == lines - 1 ? 0.5 : 1.0));
  }
  log_stiffness_.assign(lines, std::vector<double>(points_));
  for (std::size_t i = 0; i < lines; ++i) {
    for (std::size_t j = 0; j < points_; ++j) {
      const double k = std::exp(first_log_ + step_log_ * static_cast<double>(j));
      const double stiffness = stack_stiffness(stack, k, line_stretch_[i] * line_stretch_[i]);
      if (!(stiffness > 0.0)) {
        throw Error({Fault::Kind::kSolution, "detail capture, stretches of the sheet",
                     std::to_string(stack.stretch_x) + " by " + std::to_string(stack.stretch_y),
                     "stretches that leave the sheet in tension",
                     "a sheet compressed in its plane wrinkles by itself; use the wrinkle-free stretch there"});
      }
      log_stiffness_[i][j] = std::log(stiffness);
    }
  }
}

double StiffnessTable::stiffness_along_line(std::size_t line, std::size_t at, double t) const {
  const double* v = &log_stiffness_[line][at];  // cubic through four points, t from the second to the third
  const double a = -t * (t - 1.0) * (t - 2.0) / 6.0, b = (t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0;
  const double c = -(t + 1.0) * t * (t - 2.0) / 2.0, d = (t + 1.0) * t * (t - 1.0) / 6.0;
  return std::exp(a * v[0] + b * v[1] + c * v[2] + d * v[3]);
}

double StiffnessTable::stiffness_Pa_per_m(double wave_x_1_m, double wave_y_1_m) const {
  const double x_sq = wave_x_1_m * wave_x_1_m, y_sq = wave_y_1_m * wave_y_1_m, k_sq = x_sq + y_sq;
  const double place = (0.5 * std::log(k_sq) - first_log_) / step_log_;
  const auto at =
      std::clamp<std::ptrdiff_t>(static_cast<std::ptrdiff_t>(place) - 1, 0, static_cast<std::ptrdiff_t>(points_) - 4);
  const auto start = static_cast<std::size_t>(at);
  const double t = place - static_cast<double>(at + 1);
  if (line_stretch_.size() == 1) return stiffness_along_line(0, start, t);
  const double along = std::sqrt((stretch_x_sq_ * x_sq + stretch_y_sq_ * y_sq) / k_sq);
  double above = 0.0, below = 0.0;
  for (std::size_t i = 0; i < line_stretch_.size(); ++i) {
    const double value = stiffness_along_line(i, start, t), away = along - line_stretch_[i];
    if (away == 0.0) return value;
    above += line_weight_[i] / away * value;
    below += line_weight_[i] / away;
  }
  return above / below;
}

}  // namespace pellicle::imprint
