// What does the stretched sheet pull with, how much energy does it hold, and how long a step does it bear?
#include "solver/sheet/membrane.h"

#include "solver/sheet/ordered_sum.h"

#include <Eigen/Geometry>

#include <algorithm>
#include <limits>

namespace pellicle::sheet {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Metric of the current edges d1 = x2 - x1, d2 = x3 - x1.
struct Edges {
  Vec3 d1, d2;
  double g11, g12, g22;
};
Edges edges(const SheetState& s, int e) {
  const Triangle& t = s.triangles[at(e)];
  const Vec3& o = s.x_m[at(t[0])];
  Edges k{s.x_m[at(t[1])] - o, s.x_m[at(t[2])] - o, 0, 0, 0};
  k.g11 = k.d1.squaredNorm();
  k.g12 = k.d1.dot(k.d2);
  k.g22 = k.d2.squaredNorm();
  return k;
}

/// a = tr(M G), b = det G / det G0, and the squared larger stretch x = a/2 + sqrt(a^2/4 - b).
struct Measure {
  double a, b, x;
};
Measure measure(const Rest& r, const Edges& k) {
  const double a = r.m11_per_m2 * k.g11 + 2.0 * r.m12_per_m2 * k.g12 + r.m22_per_m2 * k.g22;
  const double b = (k.g11 * k.g22 - k.g12 * k.g12) * r.inverse_det_per_m4;
  const double half = 0.5 * a;
  return {a, b, half + std::sqrt(std::fmax(0.0, half * half - b))};
}

/// Taut where l2 >= l1^-1/2, the natural width of a strip pulled along 1: with b = (l1 l2)^2 that is b >= l1. A
/// triangle shrunk to a point has b = x = 0 and is slack.
enum class Condition { kTaut, kFolded, kSlack };
Condition condition(const Measure& m) {
  if (m.b > 0.0 && m.b * m.b >= m.x) return Condition::kTaut;
  return m.x > 1.0 ? Condition::kFolded : Condition::kSlack;
}

/// Slopes of the relaxed energy W(l1, l1^-1/2), which depends on l1 alone: with y = l2^2,
///   W_a = W'/(2 l1) x/(x-y), W_b = -W'/(2 l1)/(x-y), W' = dW/dl1 at the natural width (there dW/dl2 = 0).
/// x > 1 > y, so the difference is never small. Pipkin, IMA J. Appl. Math. 36 (1986) 85 (citation from memory).
template <class Law>
EnergySlope folded_slope(const Law& law, const Measure& m) {
  const double l1 = std::sqrt(m.x), w = law.principal(l1, 1.0 / std::sqrt(l1)).w1_Pa;
  const double per = w / (2.0 * l1 * (m.x - m.b / m.x));
  return {per * m.x, -per};
}

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
double element_energy_J(const Law& law, const SheetState& s, int e) {
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

/// Larger eigenvalue of the symmetric [p, q; q, r].
double larger_eigenvalue(double p, double q, double r) {
  return 0.5 * (p + r) + std::sqrt(0.25 * (p - r) * (p - r) + q * q);
}

/// Moduli of the current element [Pa] in its axes of stretch, on the slopes du_i/dx_j of a small motion. Three blocks:
/// du1/dx1 with du2/dx2, [l1^2 W11, l1 l2 W12; ., l2^2 W22]; du2/dx1 with du1/dx2, [l1^2 s, l1^2 s - sigma_1; ., l2^2
/// s] with s = (sigma_1 - sigma_2)/(l1^2 - l2^2); out of the plane sigma_1, sigma_2.
struct Moduli {
  double p, q, r;                   ///< stretching
  double shear1, coupling, shear2;  ///< shearing
  double sigma1, sigma2;
};
template <class Law>
Moduli moduli_Pa(const Law& law, double l1, double l2, bool folded) {
  const PrincipalSlopes w = law.principal(l1, l2);
  const double sigma1 = l1 * w.w1_Pa, x = l1 * l1, y = l2 * l2;
  const double p = x * w.w11_Pa, q = l1 * l2 * w.w12_Pa, r = y * w.w22_Pa;
  const double sigma2 = folded ? 0.0 : l2 * w.w2_Pa;
  // Equal stretches: l1^2 s goes to l (W1 + l (W11 - W12)) / 2.
  const double s = x - y > 1e-6 * x ? (sigma1 - sigma2) / (x - y) : 0.5 * (sigma1 + p - q) / x;
  const Moduli m{p, q, r, x * s, x * s - sigma1, y * s, sigma1, sigma2};
  // Folded, with l2 = l1^-1/2: d/dl1 of W1(l1, l1^-1/2) along the folds, nothing across.
  return folded ? Moduli{p - 0.5 * q, 0.0, 0.0, m.shear1, m.coupling, m.shear2, sigma1, 0.0} : m;
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
  const double largest = std::fmax(
      std::fmax(larger_eigenvalue(m.p, m.q, m.r), larger_eigenvalue(m.shear1, m.coupling, m.shear2)), m.sigma1);
  const auto weighted = [&](double w1, double w2) { return g.weighted(std::fmax(w1, 0.0), std::fmax(w2, 0.0)); };
  const double q = std::fabs(m.q), c = std::fabs(m.coupling);
  const double apart = std::fmax(std::fmax(weighted(m.p + q, m.shear2 + c), weighted(m.shear1 + c, m.r + q)),
                                 weighted(m.sigma1, m.sigma2));
  return std::fmin(g.weighted(largest, largest), apart);
}

/// Folded: the metric with l2 at its natural width y*, G' = (x (G - y G0) + y* (x G0 - G)) / (x - y).
void unfold(const Rest& r, const Measure& m, Edges& k) {
  const double det0 = 1.0 / r.inverse_det_per_m4, y = m.b / m.x, natural = 1.0 / std::sqrt(m.x);
  const double keep = (m.x - natural) / (m.x - y), add = m.x * (natural - y) / (m.x - y) * det0;
  k.g11 = keep * k.g11 + add * r.m22_per_m2;  // G0 = adj(M) / det M = det G0 adj(M)
  k.g12 = keep * k.g12 - add * r.m12_per_m2;
  k.g22 = keep * k.g22 + add * r.m11_per_m2;
}

template <class Law>
double element_frequency_sq(const Law& law, const SheetState& s, int e, double density) {
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
  return 3.0 * stiffness_Pa_per_m2(moduli_Pa(law, l1, l2, folded), gradients(r, k, m.x, l2 * l2)) / density;
}

}  // namespace

ElementStretch element_stretch(const SheetState& s, int e) {
  const Measure m = measure(s.rest[at(e)], edges(s, e));
  const double l1 = std::sqrt(m.x), l2 = std::sqrt(std::fmax(0.0, m.b / m.x));
  switch (condition(m)) {
    case Condition::kTaut:
      return {l1, l2, l1, l2, 0.0};
    case Condition::kFolded: {
      const double natural = 1.0 / std::sqrt(l1);
      return {l1, l2, l1, natural, 1.0 - l2 / natural};
    }
    case Condition::kSlack:
      return {l1, l2, 1.0, 1.0, 1.0 - l1 * l2};
  }
  return {};
}

std::array<double, 3> material_metric(const SheetState& s, int e) {
  const Rest& r = s.rest[at(e)];
  Edges k = edges(s, e);
  const Measure m = measure(r, k);
  const Condition now = condition(m);
  if (now == Condition::kSlack) return {1.0, 0.0, 1.0};
  if (now == Condition::kFolded) unfold(r, m, k);
  // C = B^T G B with B the inverse of the flat edge matrix [D1 D2].
  const Triangle& t = s.triangles[at(e)];
  const Vec2 d1 = s.flat_m[at(t[1])] - s.flat_m[at(t[0])], d2 = s.flat_m[at(t[2])] - s.flat_m[at(t[0])];
  const double det = d1.x() * d2.y() - d1.y() * d2.x();
  const double b11 = d2.y() / det, b12 = -d2.x() / det, b21 = -d1.y() / det, b22 = d1.x() / det;
  return {b11 * b11 * k.g11 + 2.0 * b11 * b21 * k.g12 + b21 * b21 * k.g22,
          b11 * b12 * k.g11 + (b11 * b22 + b21 * b12) * k.g12 + b21 * b22 * k.g22,
          b12 * b12 * k.g11 + 2.0 * b12 * b22 * k.g12 + b22 * b22 * k.g22};
}

void membrane_forces(const Polymer& polymer, SheetState& s) {
  const int elements = s.elements(), nodes = s.nodes();
  std::visit(
      [&](const auto& law) {
#pragma omp parallel for schedule(static)
        for (int e = 0; e < elements; ++e) {
          const Triangle& t = s.triangles[at(e)];
          if (s.moved[at(t[0])] | s.moved[at(t[1])] | s.moved[at(t[2])])
            s.corner_forces[at(e)] = corner_forces(law, s, e);
        }
      },
      polymer);
  // Gathered node by node in a fixed order: same bits for any number of threads.
#pragma omp parallel for schedule(static)
  for (int i = 0; i < nodes; ++i) {
    Vec3 force = Vec3::Zero(), area = Vec3::Zero();
    for (int c = s.first_corner[at(i)]; c < s.first_corner[at(i) + 1]; ++c) {
      const int corner = s.corners[at(c)];
      const CornerForces& f = s.corner_forces[at(corner / 3)];
      switch (corner % 3) {
        case 0:
          force -= f.f1_N + f.f2_N;
          break;
        case 1:
          force += f.f1_N;
          break;
        default:
          force += f.f2_N;
      }
      area += f.area_third_m2;
    }
    s.force_N[at(i)] = force;
    s.area_m2[at(i)] = area;
  }
}

double strain_energy_J(const Polymer& polymer, const SheetState& s) {
  OrderedSum<double> sum;
  return std::visit(
      [&](const auto& law) { return sum(s.elements(), [&](int e) { return element_energy_J(law, s, e); }); }, polymer);
}

double swept_volume_m3(const SheetState& s, double clamp_z_m) {
  OrderedSum<double> sum;
  const Vec3 origin{0.0, 0.0, clamp_z_m};
  return sum(s.elements(), [&](int e) {
    const Triangle& t = s.triangles[at(e)];
    const Vec3 p = s.x_m[at(t[0])] - origin, q = s.x_m[at(t[1])] - origin, r = s.x_m[at(t[2])] - origin;
    return -p.dot(q.cross(r)) / 6.0;
  });
}

double HighestFrequency::stable_step_s() const {
  const double w = std::hypot(element_per_s, pressure_per_s);
  return 2.0 / w;  // infinite for w = 0, not a number where a place is none
}

HighestFrequency highest_frequency(const Polymer& polymer, const SheetState& s, double scaled_density_kg_m3,
                                   double pressure_Pa) {
  double element_sq = 0.0;
  int stiffest = 0;
  std::visit(
      [&](const auto& law) {
#pragma omp parallel
        {
          double own_sq = 0.0;
          int own = 0;
#pragma omp for schedule(static) nowait
          for (int e = 0; e < s.elements(); ++e) {
            const double w_sq = element_frequency_sq(law, s, e, scaled_density_kg_m3 * s.local_mass[at(e)]);
            // A NaN wins and stays, and is caught by the guard.
            if (!std::isnan(own_sq) && !(w_sq <= own_sq)) own_sq = w_sq, own = e;
          }
#pragma omp critical(pellicle_stiffest)
          if (!std::isnan(element_sq) && !(own_sq < element_sq) && !(own_sq == element_sq && own > stiffest))
            element_sq = own_sq, stiffest = own;
        }
      },
      polymer);
  // w_p^2 = max over free nodes of (p/m) sum over its edges |x_k - x_l|/6.
  double pressure_sq = 0.0;
  const double p = std::fabs(pressure_Pa);
#pragma omp parallel for schedule(static) reduction(max : pressure_sq)
  for (int i = 0; i < s.nodes(); ++i) {
    if (s.on_rim[at(i)]) continue;
    double length = 0.0;
    for (int k = s.first_pair[at(i)]; k < s.first_pair[at(i) + 1]; ++k)
      length += (s.x_m[at(s.opposite[at(k)][0])] - s.x_m[at(s.opposite[at(k)][1])]).norm();
    pressure_sq = std::fmax(pressure_sq, p / s.mass_kg[at(i)] * length / 6.0);
  }
  return {std::sqrt(element_sq), std::sqrt(pressure_sq), stiffest};
}

}  // namespace pellicle::sheet
