// Does a cube stretch, shear and bend as a cube of elastic material does?
#include "solver/mould/brick.h"

#include <gtest/gtest.h>

#include <Eigen/Eigenvalues>

#include <cmath>

namespace pellicle::mould {
namespace {

using Eigen::Matrix3d;
using Eigen::Vector3d;

Vector3d corner_m(int c) { return 0.5 * Vector3d(c & 1 ? 1 : -1, c & 2 ? 1 : -1, c & 4 ? 1 : -1); }

template <class Shift>
BrickShifts shifts_of(const Shift& shift) {
  BrickShifts u;
  for (int c = 0; c < 8; ++c) u.segment<3>(3 * c) = shift(corner_m(c));
  return u;
}

TEST(Brick, HasSixMotionsWithoutEnergyAndNoMore) {
  const Brick brick({2.4e9, 0.37});
  const Eigen::SelfAdjointEigenSolver<BrickMatrix> modes(brick.stiffness_N_m());
  for (int i = 0; i < 24; ++i) {
    const double value = modes.eigenvalues()[i] / 2.4e9;
    EXPECT_TRUE(i < 6 ? std::abs(value) < 1e-13 * 24 : value > 0.01) << i << ": " << value;  // round-off of sums
  }
}

TEST(Brick, StrainsEvenlyWithoutError) {
  const double E = 2.4e9, nu = 0.37, mu = 0.5 * E / (1 + nu), lambda = E * nu / ((1 + nu) * (1 - 2 * nu));
  const Brick brick({E, nu});
  for (int s = 0; s < 6; ++s) {
    Voigt strain = Voigt::Zero();
    strain[s] = 1e-3;
    Matrix3d gradient;
    gradient << strain[0], strain[5], strain[4], 0, strain[1], strain[3], 0, 0, strain[2];
    const BrickShifts u = shifts_of([&](const Vector3d& x) { return Vector3d(gradient * x); });
    for (const Vector3d& at : {Vector3d(0, 0, 0), Vector3d(0.3, -1, 0.7)})
      EXPECT_LT((brick.strain(u, at) - strain).norm(), 1e-15);  // of 1e-3
    const Voigt stress = brick.stress_Pa(strain);
    const double trace = strain.head<3>().sum();
    for (int i = 0; i < 3; ++i) {
      EXPECT_NEAR(stress[i], lambda * trace + 2 * mu * strain[i], 1e-6);
      EXPECT_NEAR(stress[3 + i], mu * strain[3 + i], 1e-6);
    }
    EXPECT_NEAR(u.dot(brick.stiffness_N_m() * u), strain.dot(stress), 1e-12 * strain.dot(stress));  // per 1 m^3
  }
}

// Pure bending about y with the sides free: energy 1/2 E I kappa^2 L = 1/2 E kappa^2 / 12 for an edge of 1 m, stress
// E kappa z (any text on beams). The corners see only u = kappa x z, v = -nu kappa y z: the rest is the bubbles'.
TEST(Brick, BendsAsABeamDoes) {
  const double E = 2.4e9, nu = 0.37, kappa = 1e-3;
  const Brick brick({E, nu});
  const BrickShifts u =
      shifts_of([&](const Vector3d& x) { return Vector3d(kappa * x.x() * x.z(), -nu * kappa * x.y() * x.z(), 0.0); });
  EXPECT_NEAR(u.dot(brick.stiffness_N_m() * u), E * kappa * kappa / 12.0, 1e-12 * E * kappa * kappa);
  const Voigt stress = brick.stress_Pa(brick.strain(u, {0.2, 0.1, 1.0}));
  EXPECT_NEAR(stress[0], 0.5 * E * kappa, 1e-9 * E * kappa);
  EXPECT_LT(stress.tail<5>().norm(), 1e-9 * E * kappa);
}

TEST(Brick, ConductsALinearFieldExactly) {
  const HeatMatrix k = conductance_W_K(0.2);
  Eigen::Matrix<double, 8, 1> t;
  for (int c = 0; c < 8; ++c) t[c] = 3.0 * corner_m(c).x() - 2.0 * corner_m(c).z();
  EXPECT_NEAR(t.dot(k * t), 0.2 * 13.0, 1e-12);
  EXPECT_LT((k * Eigen::Matrix<double, 8, 1>::Ones()).norm(), 1e-14);
}

TEST(Stress, MeasuresOfKnownStates) {
  Voigt s;
  s << 3, 0, 0, 0, 0, 0;
  EXPECT_NEAR(von_mises_Pa(s), 3.0, 1e-12);
  EXPECT_NEAR(largest_principal_Pa(s), 3.0, 1e-12);
  s << -2, -2, -2, 0, 0, 0;
  EXPECT_NEAR(von_mises_Pa(s), 0.0, 1e-12);
  EXPECT_NEAR(largest_principal_Pa(s), -2.0, 1e-12);
  s << 0, 0, 0, 0, 0, 1.5;  // pure shear
  EXPECT_NEAR(von_mises_Pa(s), 1.5 * std::sqrt(3.0), 1e-12);
  EXPECT_NEAR(largest_principal_Pa(s), 1.5, 1e-12);
}

}  // namespace
}  // namespace pellicle::mould
