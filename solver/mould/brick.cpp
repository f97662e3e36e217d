// How stiff is a cube of elastic material between its eight corners, and how well does it conduct heat?
#include "solver/mould/brick.h"

#include "mesh/check.h"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>

#include <cmath>

namespace pellicle::mould {
namespace {

using Eigen::Vector3d;

Vector3d corner(int c) { return {c & 1 ? 1.0 : -1.0, c & 2 ? 1.0 : -1.0, c & 4 ? 1.0 : -1.0}; }

/// Slope of corner_weight in metres, in a cube of edge 1 m: x = xi / 2.
Vector3d corner_slope(int c, const Vector3d& at) {
  const Vector3d s = corner(c), f = Vector3d::Ones() + s.cwiseProduct(at);
  return 0.25 * Vector3d(s.x() * f.y() * f.z(), f.x() * s.y() * f.z(), f.x() * f.y() * s.z());
}

/// Strain of a shift of size one along x, y and z whose slope is g.
Eigen::Matrix<double, 6, 3> strain_of_slope(const Vector3d& g) {
  Eigen::Matrix<double, 6, 3> b;
  b << g.x(), 0, 0, 0, g.y(), 0, 0, 0, g.z(), 0, g.z(), g.y(), g.z(), 0, g.x(), g.y(), g.x(), 0;
  return b;
}

Eigen::Matrix<double, 6, 24> corner_strains(const Vector3d& at) {
  Eigen::Matrix<double, 6, 24> b;
  for (int c = 0; c < 8; ++c) b.middleCols<3>(3 * c) = strain_of_slope(corner_slope(c, at));
  return b;
}

/// Of the bubbles 1 - xi^2, 1 - eta^2, 1 - zeta^2.
Eigen::Matrix<double, 6, 9> bubble_strains(const Vector3d& at) {
  Eigen::Matrix<double, 6, 9> b;
  for (int m = 0; m < 3; ++m) b.middleCols<3>(3 * m) = strain_of_slope(-4.0 * at[m] * Vector3d::Unit(m));
  return b;
}

}  // namespace

std::array<Vector3d, 8> gauss_points() {
  std::array<Vector3d, 8> points;
  for (int c = 0; c < 8; ++c) points[static_cast<std::size_t>(c)] = corner(c) / std::sqrt(3.0);
  return points;
}

double corner_weight(int c, const Vector3d& at) {
  return 0.125 * (Vector3d::Ones() + corner(c).cwiseProduct(at)).prod();
}

Brick::Brick(const Elastic& material) {
  const double E = material.modulus_Pa, nu = material.poisson;
  ensure(E > 0.0 && nu > -1.0 && nu < 0.5, "an elastic material has a modulus and a Poisson's ratio below 1/2");
  const double mu = 0.5 * E / (1.0 + nu), lambda = E * nu / ((1.0 + nu) * (1.0 - 2.0 * nu));
  elasticity_Pa_.setZero();
  elasticity_Pa_.topLeftCorner<3, 3>().setConstant(lambda);
  elasticity_Pa_.diagonal() << lambda + 2 * mu, lambda + 2 * mu, lambda + 2 * mu, mu, mu, mu;
  Eigen::Matrix<double, 9, 24> mixed = Eigen::Matrix<double, 9, 24>::Zero();
  Eigen::Matrix<double, 9, 9> own = Eigen::Matrix<double, 9, 9>::Zero();
  stiffness_N_m_.setZero();
  for (const Vector3d& at : gauss_points()) {
    const Eigen::Matrix<double, 6, 24> b = corner_strains(at);
    const Eigen::Matrix<double, 6, 9> g = bubble_strains(at);
    const double volume_m3 = 0.125;
    stiffness_N_m_ += volume_m3 * b.transpose() * elasticity_Pa_ * b;
    mixed += volume_m3 * g.transpose() * elasticity_Pa_ * b;
    own += volume_m3 * g.transpose() * elasticity_Pa_ * g;
  }
  bubbles_ = -own.llt().solve(mixed);
  stiffness_N_m_ += mixed.transpose() * bubbles_;
  stiffness_N_m_ = (0.5 * (stiffness_N_m_ + stiffness_N_m_.transpose())).eval();
}

Voigt Brick::strain(const BrickShifts& shifts_m, const Vector3d& at) const {
  return corner_strains(at) * shifts_m + bubble_strains(at) * (bubbles_ * shifts_m);
}

HeatMatrix conductance_W_K(double conductivity_W_mK) {
  HeatMatrix k = HeatMatrix::Zero();
  for (const Vector3d& at : gauss_points()) {
    Eigen::Matrix<double, 3, 8> slope;
    for (int c = 0; c < 8; ++c) slope.col(c) = corner_slope(c, at);
    k += 0.125 * conductivity_W_mK * slope.transpose() * slope;
  }
  return k;
}

double von_mises_Pa(const Voigt& s) {
  const double a = s[0] - s[1], b = s[1] - s[2], c = s[2] - s[0];
  return std::sqrt(0.5 * (a * a + b * b + c * c) + 3.0 * s.tail<3>().squaredNorm());
}

double largest_principal_Pa(const Voigt& s) {
  Eigen::Matrix3d m;
  m << s[0], s[5], s[4], s[5], s[1], s[3], s[4], s[3], s[2];
  return Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>().computeDirect(m, Eigen::EigenvaluesOnly).eigenvalues()[2];
}

double normal_stress_Pa(const Voigt& s, const Eigen::Vector3d& n) {
  return n.x() * n.x() * s[0] + n.y() * n.y() * s[1] + n.z() * n.z() * s[2] +
         2.0 * (n.y() * n.z() * s[3] + n.z() * n.x() * s[4] + n.x() * n.y() * s[5]);
}

}  // namespace pellicle::mould
