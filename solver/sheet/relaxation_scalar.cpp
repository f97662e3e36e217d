// What does an element pull with when its modes remember other shapes? One element at a time.
#include "solver/sheet/relaxation_scalar.h"

#include "solver/sheet/moduli.h"

#include <fmt/format.h>
#include <Eigen/Core>
#include <Eigen/Eigenvalues>
#include <Eigen/LU>

#include <cmath>
#include <limits>
#include <type_traits>

namespace pellicle::sheet::scalar {
namespace {

using Matrix2 = Eigen::Matrix2d;
using Vector2 = Eigen::Vector2d;

Matrix2 symmetric(double a11, double a12, double a22) {
  Matrix2 a;
  a << a11, a12, a12, a22;
  return a;
}
Matrix2 adjugate(const Matrix2& a) { return symmetric(a(1, 1), -a(0, 1), a(0, 0)); }
Metric as_metric(const Matrix2& g) { return {g(0, 0), g(0, 1), g(1, 1)}; }

/// K = V0 S with S = 2 W_a M + 2 W_b b G'^-1 + P - p/b G'^-1; b G'^-1 = adj(G')/det G0.
template <class Law>
ElementResponse response(const Law& network, const ModeSum& m, const Rest& r, Condition condition, const Metric& g,
                         const Metric& now) {
  ElementResponse out{condition, g, 0.0, 0.0, 0.0, 0.0};
  if (condition != Condition::kTaut) out.wrinkle = 1.0 - std::sqrt(std::fmax(0.0, now.det_m4() / g.det_m4()));
  if (condition == Condition::kSlack) return out;
  const double a = r.m11_per_m2 * g.g11_m2 + 2.0 * r.m12_per_m2 * g.g12_m2 + r.m22_per_m2 * g.g22_m2;
  const double b = g.det_m4() * r.inverse_det_per_m4;
  const EnergySlope w = network.slope({a, b});
  const double wa = 2.0 * w.wa_Pa, wb = (2.0 * w.wb_Pa - m.p33_Pa / (b * b)) * r.inverse_det_per_m4;
  out.k11_N_m = r.volume_m3 * (wa * r.m11_per_m2 + m.p11_Pa_m2 + wb * g.g22_m2);
  out.k12_N_m = r.volume_m3 * (wa * r.m12_per_m2 + m.p12_Pa_m2 - wb * g.g12_m2);
  out.k22_N_m = r.volume_m3 * (wa * r.m22_per_m2 + m.p22_Pa_m2 + wb * g.g11_m2);
  return out;
}

/// 1/2 (tr(Q G) + q/b) is the energy of a neo-Hookean element that was flat at another metric:
///   mu^3 = q det G0 det Q,   M = Q/mu.
struct Equivalent {
  double shear_modulus_Pa;
  Rest rest;
};
Equivalent equivalent(double q11, double q12, double q22, double q33_Pa, const Rest& r) {
  const double mu = std::cbrt(q33_Pa * (q11 * q22 - q12 * q12) / r.inverse_det_per_m4);
  const double m11 = q11 / mu, m12 = q12 / mu, m22 = q22 / mu;
  return {mu, {m11, m12, m22, m11 * m22 - m12 * m12, r.volume_m3}};
}
Equivalent equivalent(double network_Pa, const ModeSum& m, const Rest& r) {
  return equivalent(network_Pa * r.m11_per_m2 + m.p11_Pa_m2, network_Pa * r.m12_per_m2 + m.p12_Pa_m2,
                    network_Pa * r.m22_per_m2 + m.p22_Pa_m2, network_Pa + m.p33_Pa, r);
}

struct Unfolded {
  Condition condition;
  Metric material;
};
Unfolded unfolded(const Equivalent& same, const Metric& now) {
  Edges k{Vec3::Zero(), Vec3::Zero(), now.g11_m2, now.g12_m2, now.g22_m2};
  const Measure m = measure(same.rest, k);
  const Condition is = condition(m);
  const Rest& r = same.rest;
  if (is == Condition::kFolded) unfold(r, m, k);
  if (is == Condition::kSlack) {  // as flat as that element was
    const double det0 = 1.0 / r.inverse_det_per_m4;
    return {is, {det0 * r.m22_per_m2, -det0 * r.m12_per_m2, det0 * r.m11_per_m2}};
  }
  return {is, {k.g11, k.g12, k.g22}};
}

/// Any network with modes, over C in a frame in which the flat triangle is orthonormal: M = R R^T, C = R^T G R.
/// W = W_network(C) + 1/2 (tr(P C) + p/b), b = det C.
template <class Law>
class FlatFrame {
 public:
  FlatFrame(const Law& network, const ModeSum& m, const Rest& r) : network_(network), p33_Pa_(m.p33_Pa) {
    const double r11 = std::sqrt(r.m11_per_m2), r21 = r.m12_per_m2 / r11;
    r_ << r11, 0.0, r21, std::sqrt(r.m22_per_m2 - r21 * r21);
    const Matrix2 back = r_.inverse();
    p_ = back * symmetric(m.p11_Pa_m2, m.p12_Pa_m2, m.p22_Pa_m2) * back.transpose();
    scale_Pa_ = network.small_strain_shear_modulus_Pa() + p_.norm() + p33_Pa_;
  }
  Matrix2 in_frame(const Metric& g) const { return r_.transpose() * symmetric(g.g11_m2, g.g12_m2, g.g22_m2) * r_; }
  Metric of_edges(const Matrix2& c) const {
    const Matrix2 back = r_.inverse();
    return as_metric(back.transpose() * c * back);
  }
  double scale_Pa() const { return scale_Pa_; }

  double energy_Pa(const Matrix2& c) const {
    const double b = c.determinant();
    return network_.energy_Pa({c.trace(), b}) + 0.5 * ((p_ * c).trace() + p33_Pa_ / b);
  }
  /// S = 2 dW/dC.
  Matrix2 stress_Pa(const Matrix2& c) const {
    const double b = c.determinant();
    const EnergySlope w = network_.slope({c.trace(), b});
    return 2.0 * w.wa_Pa * Matrix2::Identity() + p_ + (2.0 * w.wb_Pa - p33_Pa_ / (b * b)) * adjugate(c);
  }

  /// dS = slope : dC, in the axes of C. P is constant, so network and p/b alone count, both isotropic: with S_i =
  /// W_i/l_i dS_i/dC_j = d(W_i/l_i)/dl_j / (2 l_j), across the axes dS_12/dC_12 = (S_1 - S_2)/(C_1 - C_2).
  class Slope {
   public:
    Slope(const FlatFrame& f, const Matrix2& c) {
      const Eigen::SelfAdjointEigenSolver<Matrix2> eigen(c);
      axes_ = eigen.eigenvectors();
      const double x = eigen.eigenvalues()[0], y = eigen.eigenvalues()[1], l1 = std::sqrt(x), l2 = std::sqrt(y);
      PrincipalSlopes w = f.network_.principal(l1, l2);
      const PrincipalSlopes m = NeoHookean{f.p33_Pa_}.principal(l1, l2);
      w = {w.w1_Pa + m.w1_Pa, w.w2_Pa + m.w2_Pa, w.w11_Pa + m.w11_Pa, w.w12_Pa + m.w12_Pa, w.w22_Pa + m.w22_Pa};
      d11_ = (w.w11_Pa - w.w1_Pa / l1) / (2.0 * x);
      d22_ = (w.w22_Pa - w.w2_Pa / l2) / (2.0 * y);
      d12_ = w.w12_Pa / (2.0 * l1 * l2);
      shear_ = y - x > 1e-6 * y ? (w.w2_Pa / l2 - w.w1_Pa / l1) / (y - x) : d11_ - d12_;
    }
    Matrix2 apply(const Matrix2& dc) const {
      const Matrix2 d = axes_.transpose() * dc * axes_;
      return axes_ * symmetric(d11_ * d(0, 0) + d12_ * d(1, 1), shear_ * d(0, 1), d12_ * d(0, 0) + d22_ * d(1, 1)) *
             axes_.transpose();
    }
    /// dC with slope : dC = s; eigenvalues below zero turned round, so that -dC is downhill.
    Matrix2 solve(const Matrix2& s) const {
      const Matrix2 t = axes_.transpose() * s * axes_;
      const Vector2 d = downhill(symmetric(d11_, d12_, d22_), {t(0, 0), t(1, 1)});
      return axes_ * symmetric(d[0], t(0, 1) / std::fabs(shear_), d[1]) * axes_.transpose();
    }

   private:
    Matrix2 axes_;
    double d11_, d12_, d22_, shear_;
  };

  static Vector2 downhill(const Matrix2& hessian, const Vector2& gradient) {
    const Eigen::SelfAdjointEigenSolver<Matrix2> eigen(hessian);
    const Vector2 size = eigen.eigenvalues().cwiseAbs();
    const Vector2 kept = size.cwiseMax(1e-12 * size.maxCoeff());
    return eigen.eigenvectors() * (eigen.eigenvectors().transpose() * gradient).cwiseQuotient(kept);
  }

 private:
  const Law& network_;
  double p33_Pa_;
  double scale_Pa_;
  Matrix2 r_, p_;
};

constexpr int kMostSteps = 100;        // Newton took 15 at most, 4 on average, in 1.2e5 random states
constexpr double kStressless = 1e-11;  // of the moduli: a thousand times the rounding of the stresses
constexpr double kAtRounding = 1e-9;   // good enough where no step betters it any more
constexpr double kSmallestShare = 1e-9;

[[noreturn]] void fail(const char* what, double left) {
  throw Error({.kind = Fault::Kind::kSolution,
               .where = std::string("relaxation of the sheet, ") + what,
               .found = fmt::format("{:.1e} of the modulus left of the stress across the folds", left),
               .allowed = fmt::format("{:.0e}", kAtRounding),
               .advice = "The polymer law may have no natural width there: try another law, or fewer terms"});
}

/// Newton's method with shorter steps where they do not lower the energy; within its rounding, the stress must fall.
/// `State` has energy_Pa, stress_left (of the moduli), step (Newton's) and moved.
template <class State>
State least_energy(State at, const char* what) {
  for (int i = 0; i < kMostSteps && at.stress_left() >= kStressless; ++i) {
    const auto by = at.step();
    const double energy = at.energy_Pa(), left = at.stress_left(),
                 rounding = 1e-13 * (std::fabs(energy) + at.scale_Pa());
    const auto better = [&](const State& next) {
      const double change = next.energy_Pa() - energy;
      return change < -rounding || (change <= rounding && next.stress_left() < left);
    };
    double share = 1.0;
    while (share > kSmallestShare && !better(at.moved(share * by))) share *= 0.5;
    if (share <= kSmallestShare) break;
    at = at.moved(share * by);
  }
  if (!(at.stress_left() < kAtRounding)) fail(what, at.stress_left());
  return at;
}

/// Over all C: the metric free of stress.
template <class Law>
struct Free {
  const FlatFrame<Law>* frame;
  Matrix2 c;
  double scale_Pa() const { return frame->scale_Pa(); }
  double energy_Pa() const {
    return c(0, 0) > 0.0 && c.determinant() > 0.0 ? frame->energy_Pa(c) : std::numeric_limits<double>::infinity();
  }
  double stress_left() const { return frame->stress_Pa(c).norm() / scale_Pa(); }
  Matrix2 step() const { return -typename FlatFrame<Law>::Slope(*frame, c).solve(frame->stress_Pa(c)); }
  Free moved(const Matrix2& by) const { return {frame, c + by}; }
};

/// Over C + u u^T: the gradient in u is S u, which vanishes across the folds at the natural width.
template <class Law>
struct Folded {
  const FlatFrame<Law>* frame;
  Matrix2 c;
  Vector2 u;
  Matrix2 material() const { return c + u * u.transpose(); }
  double scale_Pa() const { return frame->scale_Pa(); }
  double energy_Pa() const { return frame->energy_Pa(material()); }
  double stress_left() const {
    const Matrix2 stress = frame->stress_Pa(material());
    if (u.isZero(0.0))
      return std::fmax(0.0, -Eigen::SelfAdjointEigenSolver<Matrix2>(stress).eigenvalues()[0]) / scale_Pa();
    return (stress * u).norm() / (u.norm() * scale_Pa());
  }
  Vector2 step() const {
    const Matrix2 s = frame->stress_Pa(material());
    const typename FlatFrame<Law>::Slope slope(*frame, material());
    Matrix2 hessian = s;
    for (int j = 0; j < 2; ++j) {
      const Matrix2 half = Vector2::Unit(j) * u.transpose();
      hessian.col(j) += slope.apply(half + half.transpose()) * u;
    }
    return -FlatFrame<Law>::downhill(0.5 * (hessian + hessian.transpose()), s * u);
  }
  Folded moved(const Vector2& by) const { return {frame, c, u + by}; }
};

/// Taut where no direction is pushed together; slack where the metric free of stress is nowhere shorter; else folded.
template <class Law>
Unfolded unfolded(const Law& network, const ModeSum& m, const Rest& r, const Metric& now) {
  const FlatFrame<Law> f(network, m, r);
  const Matrix2 c = f.in_frame(now);
  if (c.determinant() > 0.0) {
    const Eigen::SelfAdjointEigenSolver<Matrix2> stress(f.stress_Pa(c));
    if (stress.eigenvalues()[0] >= 0.0) return {Condition::kTaut, now};
  }
  const Unfolded near =  // free of stress, were the network neo-Hookean
      unfolded(equivalent(network.small_strain_shear_modulus_Pa(), m, r), Metric{0.0, 0.0, 0.0});
  const Matrix2 free = least_energy(Free<Law>{&f, f.in_frame(near.material)}, "slack element").c;
  const Eigen::SelfAdjointEigenSolver<Matrix2> excess(free - c);
  if (excess.eigenvalues()[0] >= 0.0) return {Condition::kSlack, f.of_edges(free)};
  // Start with the width that the free sheet has in excess; it has some, as a stress is below zero.
  const Vector2 u = excess.eigenvectors().col(1) * std::sqrt(std::fmax(excess.eigenvalues()[1], 1e-6 * c.trace()));
  return {Condition::kFolded, f.of_edges(least_energy(Folded<Law>{&f, c, u}, "folded element").material())};
}
Unfolded unfolded(const NeoHookean& network, const ModeSum& m, const Rest& r, const Metric& now) {
  return unfolded(equivalent(network.shear_modulus_Pa, m, r), now);
}

/// Largest modulus on the slopes of a small motion [Pa], of any isotropic law.
template <class Law>
double kappa_Pa(const Law& law, const Measure& m) {
  const Moduli now = moduli_Pa(law, std::sqrt(m.x), std::sqrt(m.b / m.x), false);
  return std::fmax(now.largest_Pa(), now.sigma2);
}
double kappa_Pa(const Equivalent& same, const Edges& k) {
  return kappa_Pa(NeoHookean{same.shear_modulus_Pa}, measure(same.rest, k));
}
/// Moduli add, so their largest values bound the sum; what is neo-Hookean is one law with the modes.
template <class Law>
double instantaneous_kappa_Pa(const Law& network, const ModeSum& m, const Rest& r, const Edges& k) {
  if constexpr (std::is_same_v<Law, NeoHookean>) return kappa_Pa(equivalent(network.shear_modulus_Pa, m, r), k);
  const double own = kappa_Pa(network, measure(r, k));
  return m.p33_Pa > 0.0 ? own + kappa_Pa(equivalent(0.0, m, r), k) : own;
}

template <class Law>
double stiffness_Pa_per_m2(const Law& network, const ModeSum& m, const Rest& r, const Metric& now) {
  if (!std::isfinite(now.g11_m2 + now.g12_m2 + now.g22_m2)) return std::numeric_limits<double>::quiet_NaN();
  const Unfolded u = unfolded(network, m, r, now);
  const Metric& g = u.material;
  // Unstretched sheet is slack or taut by round-off alone and counts as taut: 1e-6 is far above the round-off of a
  // fold.
  constexpr double kUnstretched = 1e-6;
  if (u.condition == Condition::kSlack && now.det_m4() < (1.0 - kUnstretched) * g.det_m4()) return 0.0;
  const Edges k{Vec3::Zero(), Vec3::Zero(), g.g11_m2, g.g12_m2, g.g22_m2};
  const double area4_sq = g.det_m4();                                  // 4 A^2
  const double s = 2.0 * (g.g11_m2 + g.g22_m2 - g.g12_m2) / area4_sq;  // sum of squared edges / (4 A^2)
  const double lam = 0.5 * s + std::sqrt(std::fmax(0.0, 0.25 * s * s - 3.0 / area4_sq));
  return 3.0 * instantaneous_kappa_Pa(network, m, r, k) * lam;
}

}  // namespace

template <class Law>
ElementResponse respond(const Law& network, const ModeSum& modes, const Rest& rest, const Metric& now) {
  const Unfolded u = unfolded(network, modes, rest, now);
  return response(network, modes, rest, u.condition, u.material, now);
}
template ElementResponse respond(const NeoHookean&, const ModeSum&, const Rest&, const Metric&);
template ElementResponse respond(const MooneyRivlin&, const ModeSum&, const Rest&, const Metric&);
template ElementResponse respond(const Yeoh&, const ModeSum&, const Rest&, const Metric&);
template ElementResponse respond(const Ogden&, const ModeSum&, const Rest&, const Metric&);

ElementResponse respond(const Polymer& network, const ModeSum& modes, const Rest& rest, const Metric& now) {
  return std::visit([&](const auto& law) { return respond(law, modes, rest, now); }, network);
}

template <class Real>
double step(const Polymer& network, const Relaxation& relaxation, RelaxationState<Real>& state, int e, const Rest& rest,
            const Metric& now, double reduced_step_s) {
  const ModeSum carried = carried_sum(relaxation, state, e, reduced_step_s);
  const Metric material =
      std::visit([&](const auto& law) { return unfolded(law, carried, rest, now).material; }, network);
  return rest.volume_m3 * remember(relaxation, state, e, rest, material, reduced_step_s);
}

template <class Real>
double element_energy_J(const Polymer& network, const Relaxation& relaxation, const RelaxationState<Real>& state, int e,
                        const Rest& rest, const Metric& material) {
  const Edges k{Vec3::Zero(), Vec3::Zero(), material.g11_m2, material.g12_m2, material.g22_m2};
  const Measure m = measure(rest, k);
  const double own_Pa = std::visit([&](const auto& law) { return law.energy_Pa({m.a, m.b}); }, network);
  return rest.volume_m3 * (own_Pa + mode_energy_Pa(relaxation, state, e, rest, material));
}

double element_stiffness_Pa_per_m2(const Polymer& network, const ModeSum& modes, const Rest& rest, const Metric& now) {
  return std::visit([&](const auto& law) { return stiffness_Pa_per_m2(law, modes, rest, now); }, network);
}

template double step(const Polymer&, const Relaxation&, RelaxationState<double>&, int, const Rest&, const Metric&,
                     double);
template double step(const Polymer&, const Relaxation&, RelaxationState<float>&, int, const Rest&, const Metric&,
                     double);
template double element_energy_J(const Polymer&, const Relaxation&, const RelaxationState<double>&, int, const Rest&,
                                 const Metric&);
template double element_energy_J(const Polymer&, const Relaxation&, const RelaxationState<float>&, int, const Rest&,
                                 const Metric&);

}  // namespace pellicle::sheet::scalar
