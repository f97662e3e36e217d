// What do membrane forces, energy and stiffness come to, one element at a time?
#include "solver/sheet/membrane_scalar.h"

#include "solver/sheet/element_measure.h"
#include "solver/sheet/moduli.h"

#include <Eigen/Geometry>

#include <algorithm>
#include <limits>

namespace pellicle::sheet::scalar {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Slopes of the relaxed energy W(l1, l1^-1/2), which depends on l1 alone: with y = l2^2,
///   W_a = W'/(2 l1) x/(x-y), W_b = -W'/(2 l1)/(x-y), W' = dW/dl1 at the natural width (there dW/dl2 = 0).
/// x > 1 > y, so the difference is never small. Pipkin, IMA J. Appl. Math. 36 (1986) 85 (citation from memory).
template <class Law>
EnergySlope folded_slope(const Law& law, const Measure& m) {
  const double l1 = std::sqrt(m.x), w = law.principal(l1, 1.0 / std::sqrt(l1)).w1_Pa;
  const double per = w / (2.0 * l1 * (m.x - m.b / m.x));
  return {per * m.x, -per};
}

/// Forces on corners 1 and 2, corner 0 takes minus their sum, and a third of the area vector, upwards.
struct CornerForces {
  Vec3 f1_N, f2_N, area_third_m2;
};
template <class Law>
CornerForces corner_forces(const Law& law, const SheetState& s, int e) {
  const Rest& r = s.rest[at(e)];
  const Edges k = edges(s, e);
  CornerForces f;
  f.area_third_m2 = k.d1.cross(k.d2) / 6.0;
  const Measure m = measure(r, k);
  EnergySlope w{0.0, 0.0};
  switch (condition(m)) {
    case Condition::kTaut:
      w = law.slope({m.a, m.b});
      break;
    case Condition::kFolded:
      w = folded_slope(law, m);
      break;
    case Condition::kSlack:
      break;
  }
  // K = 2 V0 (W_a M + W_b b G^-1), with b G^-1 = adj(G)/det G0, finite for a collapsed triangle.
  const double v = 2.0 * r.volume_m3, wb = w.wb_Pa * r.inverse_det_per_m4;
  const double k11 = v * (w.wa_Pa * r.m11_per_m2 + wb * k.g22);
  const double k12 = v * (w.wa_Pa * r.m12_per_m2 - wb * k.g12);
  const double k22 = v * (w.wa_Pa * r.m22_per_m2 + wb * k.g11);
  f.f1_N = -(k11 * k.d1 + k12 * k.d2);
  f.f2_N = -(k12 * k.d1 + k22 * k.d2);
  return f;
}

template <class Law>
double energy_J(const Law& law, const SheetState& s, int e) {
  const Rest& r = s.rest[at(e)];
  const Measure m = measure(r, edges(s, e));
  switch (condition(m)) {
    case Condition::kTaut:
      return r.volume_m3 * law.energy_Pa({m.a, m.b});
    case Condition::kFolded: {
      const double l1 = std::sqrt(m.x);  // at the natural width b = l1^2 l2*^2 = l1
      return r.volume_m3 * law.energy_Pa({m.x + 1.0 / l1, l1});
    }
    case Condition::kSlack:
      return 0.0;
  }
  return 0.0;
}

/// P = sum of grad N_a grad N_a^T over the three nodes, in the axes of stretch.
struct Gradients {
  double p11_per_m2, p22_per_m2, det_per_m4;
  /// Largest eigenvalue of diag(w1, w2) P.
  double weighted(double w1, double w2) const {
    const double half = 0.5 * (w1 * p11_per_m2 + w2 * p22_per_m2);
    return half + std::sqrt(std::fmax(0.0, half * half - w1 * w2 * det_per_m4));
  }
};
/// tr P = sum l^2 / (4 A^2), det P = 3 / (4 A^2), and x P11 + y P22 = tr P of the flat triangle.
Gradients gradients(const Rest& r, const Edges& k, double x, double y) {
  const double area4_sq = k.g11 * k.g22 - k.g12 * k.g12;  // 4 A^2
  const double trace = 2.0 * (k.g11 + k.g22 - k.g12) / area4_sq;
  const double flat = 2.0 * (r.m11_per_m2 + r.m22_per_m2 + r.m12_per_m2);
  // Nearly equal stretches have no axes: any split serves, as the two weights are nearly equal then.
  const double p11 = x - y > 1e-6 * x ? std::clamp((flat - y * trace) / (x - y), 0.0, trace) : 0.5 * trace;
  return {p11, trace - p11, 3.0 / area4_sq};
}

/// Bound on the eigenvalues of the moduli on the gradients of one triangle [Pa/m^2]: the smaller of two.
/// (i) Largest modulus times the largest eigenvalue of P: sharp where stretches or sides are alike.
/// (ii) Each coupling 2 q ab <= |q| (a^2 + b^2) leaves the three components of the motion apart, each with its two
/// moduli along 1 and 2: sharp where a triangle is long or the sheet pulls one way, as where it folds; (i) gives up to
/// eight times the frequency there.
double stiffness_Pa_per_m2(const Moduli& m, const Gradients& g) {
  const double largest = m.largest_Pa();
  const auto weighted = [&](double w1, double w2) { return g.weighted(std::fmax(w1, 0.0), std::fmax(w2, 0.0)); };
  const double q = std::fabs(m.q), c = std::fabs(m.coupling);
  const double apart = std::fmax(std::fmax(weighted(m.p + q, m.shear2 + c), weighted(m.shear1 + c, m.r + q)),
                                 weighted(m.sigma1, m.sigma2));
  return std::fmin(g.weighted(largest, largest), apart);
}

template <class Law>
double stiffness_Pa_per_m2(const Law& law, const SheetState& s, int e) {
  const Rest& r = s.rest[at(e)];
  Edges k = edges(s, e);
  const Measure m = measure(r, k);
  if (!std::isfinite(m.x)) return std::numeric_limits<double>::quiet_NaN();  // would pass for slack
  // The unstretched sheet is taut, slack or folded by round-off alone: here it counts as taut, the stiffest of them.
  constexpr double kUnstretched = 1e-6;  // far above the round-off of x, 1e-8, far below any stretch that matters
  const bool unstretched = std::fabs(m.x - 1.0) < kUnstretched && std::fabs(m.b - 1.0) < kUnstretched;
  const Condition now = unstretched ? Condition::kTaut : condition(m);
  if (now == Condition::kSlack) return 0.0;
  const bool folded = now == Condition::kFolded;
  const double l1 = std::sqrt(m.x), l2 = folded ? 1.0 / std::sqrt(l1) : std::sqrt(m.b / m.x);
  if (folded) unfold(r, m, k);
  return 3.0 * stiffness_Pa_per_m2(moduli_Pa(law, l1, l2, folded), gradients(r, k, m.x, l2 * l2));
}

}  // namespace

void membrane_forces(const Polymer& polymer, SheetState& s) {
  std::fill(s.force_N.begin(), s.force_N.end(), Vec3::Zero());
  std::fill(s.area_m2.begin(), s.area_m2.end(), Vec3::Zero());
  for (int e = 0; e < s.elements(); ++e) {
    const CornerForces f = std::visit([&](const auto& law) { return corner_forces(law, s, e); }, polymer);
    const Triangle& t = s.triangles[at(e)];
    s.force_N[at(t[0])] -= f.f1_N + f.f2_N;
    s.force_N[at(t[1])] += f.f1_N;
    s.force_N[at(t[2])] += f.f2_N;
    for (const int node : t) s.area_m2[at(node)] += f.area_third_m2;
  }
}

double element_energy_J(const Polymer& polymer, const SheetState& s, int e) {
  return std::visit([&](const auto& law) { return energy_J(law, s, e); }, polymer);
}

double element_stiffness_Pa_per_m2(const Polymer& polymer, const SheetState& s, int e) {
  return std::visit([&](const auto& law) { return stiffness_Pa_per_m2(law, s, e); }, polymer);
}

}  // namespace pellicle::sheet::scalar
