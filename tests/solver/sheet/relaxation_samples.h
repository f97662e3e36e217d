// On which element, along which paths are the modes tried? One irregular triangle with a prescribed stretch.
#pragma once

#include "solver/sheet/relaxation_scalar.h"
#include "tests/solver/sheet/sheet_samples.h"

#include <Eigen/Core>
#include <Eigen/Eigenvalues>
#include <Eigen/Geometry>

#include <array>
#include <cmath>
#include <limits>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

namespace pellicle::sheet {

constexpr double kAngle = 0.4;  // of stretch 1 to the flat x axis: along no edge
constexpr double kNever = std::numeric_limits<double>::infinity();

/// For the records of the tests.
inline std::string digits(double x) {
  std::ostringstream text;
  text << x;
  return text.str();
}

inline Relaxation modes(std::vector<RelaxationMode> list) {
  Relaxation r;
  r.modes = std::move(list);
  return r;
}

using Matrix2 = Eigen::Matrix2d;

/// Columns D1, D2 of a triangle that is neither right nor isosceles, 1 mm in size.
inline Matrix2 sample_edges_m() {
  Matrix2 d;
  d << 1.10e-3, 0.35e-3, 0.12e-3, 0.83e-3;
  return d;
}
inline Rest rest_of(const Matrix2& edges_m, double thickness_m = kThickness_m) {
  const Matrix2 m = (edges_m.transpose() * edges_m).inverse();
  return {m(0, 0), m(0, 1), m(1, 1), m.determinant(), 0.5 * thickness_m * std::fabs(edges_m.determinant())};
}
inline Metric metric_of(const Matrix2& g) { return {g(0, 0), g(0, 1), g(1, 1)}; }
inline Matrix2 matrix_of(const Metric& g) {
  Matrix2 m;
  m << g.g11_m2, g.g12_m2, g.g12_m2, g.g22_m2;
  return m;
}
/// Metric of the edges where stretch 1 lies at an angle to the flat x axis.
inline Matrix2 stretched(const Matrix2& edges_m, double l1, double l2, double angle) {
  const Matrix2 turn = Eigen::Rotation2Dd(angle).toRotationMatrix();
  const Matrix2 c = turn * Eigen::Vector2d(l1 * l1, l2 * l2).asDiagonal() * turn.transpose();
  return edges_m.transpose() * c * edges_m;
}
inline Matrix2 stiffness_of(const scalar::ElementResponse& r) {
  Matrix2 k;
  k << r.k11_N_m, r.k12_N_m, r.k12_N_m, r.k22_N_m;
  return k;
}
/// Power of the element over its unstretched volume while the metric changes by dG: 1/2 K : dG / V0.
inline double work_Pa(const scalar::ElementResponse& r, const Matrix2& change, const Rest& rest) {
  return 0.5 * stiffness_of(r).cwiseProduct(change).sum() / rest.volume_m3;
}

/// One element with its memory.
struct Sample {
  Polymer network;
  Relaxation relaxation;
  Matrix2 edges_m = sample_edges_m();
  Rest rest = rest_of(edges_m);
  RelaxationState<double> state = rested_state<double>({&rest, 1}, static_cast<int>(relaxation.modes.size()));

  Sample(Polymer law, Relaxation r) : network(law), relaxation(std::move(r)) {}
  double step(const Matrix2& metric, double reduced_step_s) {
    return scalar::step(network, relaxation, state, 0, rest, metric_of(metric), reduced_step_s) / rest.volume_m3;
  }
  scalar::ElementResponse respond(const Matrix2& metric) const {
    return scalar::respond(network, mode_sum(relaxation, state, 0), rest, metric_of(metric));
  }
  double energy_Pa(const Metric& material) const {
    return scalar::element_energy_J(network, relaxation, state, 0, rest, material) / rest.volume_m3;
  }
  /// Nominal stresses along the axes of a stretch, dW/dl1 and dW/dl2 [Pa].
  std::array<double, 2> nominal_Pa(double l1, double l2, double angle) const {
    const scalar::ElementResponse r = respond(stretched(edges_m, l1, l2, angle));
    const Matrix2 first = stretched(edges_m, std::sqrt(2.0 * l1), 0.0, angle);  // dG/dl1 = 2 l1 e1 e1
    const Matrix2 second = stretched(edges_m, 0.0, std::sqrt(2.0 * l2), angle);
    return {work_Pa(r, first, rest), work_Pa(r, second, rest)};
  }
};

/// W of network and modes but for what does not depend on the metric [Pa].
inline double energy_Pa(const Polymer& law, const ModeSum& m, const Rest& r, const Matrix2& g) {
  const double a = r.m11_per_m2 * g(0, 0) + 2.0 * r.m12_per_m2 * g(0, 1) + r.m22_per_m2 * g(1, 1);
  const double b = g.determinant() * r.inverse_det_per_m4;
  return std::visit(
             [&](const auto& l) {
               return l.energy_Pa({a, b});
             },
             law) +
         0.5 * (m.p11_Pa_m2 * g(0, 0) + 2.0 * m.p12_Pa_m2 * g(0, 1) + m.p22_Pa_m2 * g(1, 1) + m.p33_Pa / b);
}

using Corners = std::array<Vec3, 3>;
inline Corners corner_forces(const scalar::ElementResponse& r, const Corners& x) {
  const Vec3 d1 = x[1] - x[0], d2 = x[2] - x[0];
  const Vec3 f1 = -(r.k11_N_m * d1 + r.k12_N_m * d2), f2 = -(r.k12_N_m * d1 + r.k22_N_m * d2);
  return {-f1 - f2, f1, f2};
}
inline Metric corner_metric(const Corners& x) {
  const Vec3 d1 = x[1] - x[0], d2 = x[2] - x[0];
  return {d1.squaredNorm(), d1.dot(d2), d2.squaredNorm()};
}

}  // namespace pellicle::sheet
