// Is the inflated disc right? Against a table made another way, virtual work, a cut through the sheet, a discrete sheet
// of rings, and the limit of small loads.
#include "solver/reference/meridian.h"
#include "tests/solver/reference/balance.h"
#include "tests/solver/reference/samples.h"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <cctype>
#include <fstream>
#include <sstream>

namespace pellicle::reference {
namespace {

constexpr double kRadius_m = 0.05, kThickness_m = 1e-3;

std::vector<std::vector<double>> table(const std::string& name) {
  std::ifstream file(std::string(PELLICLE_SOURCE_DIR) + "/tests/data/" + name);
  std::vector<std::vector<double>> rows;
  std::string line;
  while (std::getline(file, line)) {
    if (line.empty() || line[0] == '#' || std::isalpha(static_cast<unsigned char>(line[0]))) continue;
    std::vector<double> row;
    std::stringstream cells(line);
    for (std::string cell; std::getline(cells, cell, ',');) row.push_back(std::stod(cell));
    rows.push_back(row);
  }
  return rows;
}

/// alpha = c01/c10 of the table, mu = 1.
ClampedDisc table_disc(double alpha) {
  const double c10 = 0.5 / (1.0 + alpha);
  return {mooney_rivlin(c10, alpha * c10), 1.0, 1.0};
}

// tests/data: own computation with another integrator, two of which agree to about 1e-5; printed to six digits.
TEST(Meridian, InflatedDiscIsThatOfTheTable) {
  int checked = 0;
  for (const auto& row : table("ref_circular_membrane_inflation.csv")) {
    const Meridian m = inflated_disc(table_disc(row[0]), row[1]);
    const auto near = [&](double found, double expected) { EXPECT_NEAR(found, expected, 2e-5 * expected) << row[1]; };
    near(m.pressure_Pa, row[2]);
    near(m.height_m, row[3]);
    near(m.points.front().thickness(), row[4]);
    near(m.points.back().thickness(), row[5]);
    near(m.volume_m3, row[8]);
    ++checked;
  }
  EXPECT_EQ(checked, 28);
  int profiles = 0;
  for (const auto& row : table("ref_circular_membrane_profiles.csv")) {
    const MeridianPoint p = inflated_disc(table_disc(row[0]), row[1]).at(row[2]);
    EXPECT_NEAR(p.r_m, row[3], 2e-5);
    EXPECT_NEAR(p.thickness(), row[5], 2e-5);
    ++profiles;
  }
  EXPECT_EQ(profiles, 160);
}

TEST(Meridian, VirtualWorkAndBalanceOfEveryLaw) {
  int checked = 0;
  for (const LawSample& s : law_samples()) {
    const ClampedDisc disc{s.law, kRadius_m, kThickness_m};
    for (const double l : {1.05, 1.5, 2.5}) {
      const Meridian m = inflated_disc(disc, l), next = inflated_disc(disc, 1.001 * l);
      const std::string what = s.name + " " + std::to_string(l);
      expect_whole(m, disc, what);
      expect_work(m, next, 1e-4, what);  // pressure bends over the step of a thousandth
      // A cut along the clamp: the tension holds the pressure on the disc.
      const MeridianPoint& rim = m.points.back();
      const double pull = 2.0 * std::numbers::pi * kRadius_m * tension_1(disc, rim) * std::sin(rim.slope_rad);
      EXPECT_NEAR(pull, m.pressure_Pa * std::numbers::pi * kRadius_m * kRadius_m, 1e-6 * pull) << what;
      EXPECT_NEAR(inflated_disc_of_volume(disc, m.volume_m3).pole_stretch, l, 1e-6) << what;
      ++checked;
    }
  }
  EXPECT_EQ(checked, 12);
}

/// Energy less work of the gas of a disc of straight rings under pressure: unknown r and z of its nodes. The stretches
/// of a ring are those of its middle. Nothing of the equations of the reference is in it.
struct Rings {
  const ClampedDisc& disc;
  double pressure_Pa;
  int n;
  double ring(const Eigen::VectorXd& u, int k) const {  // between nodes k and k + 1
    const double dx = disc.radius_m / n, x = (k + 0.5) * dx;
    const double r0 = u[2 * k], r1 = u[2 * k + 2], z0 = u[2 * k + 1], z1 = u[2 * k + 3];
    const double l1 = std::hypot(r1 - r0, z1 - z0) / dx, l2 = 0.5 * (r0 + r1) / x;
    const double volume = std::numbers::pi / 3.0 * (r0 * r0 + r0 * r1 + r1 * r1) * (z1 - z0);
    return 2.0 * std::numbers::pi * x * dx * disc.thickness_m * disc.law(l1, l2).w_Pa - pressure_Pa * volume;
  }
  /// Newton's method; slopes of single rings by differences.
  Eigen::VectorXd solve(Eigen::VectorXd u) const {
    const int dofs = 2 * n + 2;
    const double unit = disc.law(1.1, 1.1).w_Pa * disc.thickness_m * disc.radius_m;  // a force
    for (int iteration = 0; iteration < 30; ++iteration) {
      Eigen::VectorXd force = Eigen::VectorXd::Zero(dofs);
      Eigen::MatrixXd stiffness = Eigen::MatrixXd::Zero(dofs, dofs);
      const double d = 1e-5 * disc.radius_m;
      for (int k = 0; k < n; ++k)
        for (int i = 2 * k; i < 2 * k + 4; ++i) {
          const auto at = [&](int j, double dj, double di) {
            Eigen::VectorXd moved = u.segment(2 * k, 4);
            moved[i - 2 * k] += di;
            moved[j - 2 * k] += dj;
            Eigen::VectorXd whole = u;
            whole.segment(2 * k, 4) = moved;
            return ring(whole, k);
          };
          force[i] += (at(i, 0.0, d) - at(i, 0.0, -d)) / (2.0 * d);
          for (int j = 2 * k; j < 2 * k + 4; ++j)
            stiffness(i, j) += (at(j, d, d) - at(j, -d, d) - at(j, d, -d) + at(j, -d, -d)) / (4.0 * d * d);
        }
      // Held: r at the pole, both at the clamp (z = 0 there).
      for (const int held : {0, 2 * n, 2 * n + 1}) {
        force[held] = 0.0;
        stiffness.row(held).setZero();
        stiffness.col(held).setZero();
        stiffness(held, held) = unit / disc.radius_m;
      }
      const Eigen::VectorXd step = stiffness.partialPivLu().solve(force);
      u -= step;
      if (step.norm() < 1e-9 * disc.radius_m) return u;
    }
    ADD_FAILURE() << "the rings found no balance";
    return u;
  }
};

TEST(Meridian, ADiscOfRingsConvergesToIt) {
  int checked = 0;
  for (const LawSample& s : law_samples()) {
    const ClampedDisc disc{s.law, kRadius_m, kThickness_m};
    const Meridian m = inflated_disc(disc, 1.4);  // below every limit pressure: a minimum
    std::vector<double> errors;
    for (const int n : {10, 20, 40}) {
      Eigen::VectorXd start(2 * n + 2);
      for (int k = 0; k <= n; ++k) {
        const MeridianPoint p = m.at(kRadius_m * k / n);
        start[2 * k] = 1.02 * p.r_m * (k < n ? 1.0 : 1.0 / 1.02), start[2 * k + 1] = 0.98 * (p.z_m - m.height_m);
      }
      const Eigen::VectorXd u = Rings{disc, m.pressure_Pa, n}.solve(start);
      errors.push_back(std::fabs(-u[1] / m.height_m - 1.0));
    }
    EXPECT_LT(errors[2], 1e-3) << s.name;
    EXPECT_GT(errors[0], 3.0 * errors[1]) << s.name << ": second order";
    EXPECT_GT(errors[1], 3.0 * errors[2]) << s.name;
    ++checked;
  }
  EXPECT_EQ(checked, 4);
}

TEST(Meridian, LimitPressureIsTheLargest) {
  const ClampedDisc disc{neo_hookean(0.3e6), kRadius_m, kThickness_m};
  const Meridian m = disc_at_limit(disc);
  EXPECT_GT(m.pressure_Pa, inflated_disc(disc, m.pole_stretch - 0.05).pressure_Pa);
  EXPECT_GT(m.pressure_Pa, inflated_disc(disc, m.pole_stretch + 0.05).pressure_Pa);
  // Between the rows 2 and 2.5 of the table and above both.
  EXPECT_GT(m.pressure_Pa * kRadius_m / (0.3e6 * kThickness_m), 1.86955);
  EXPECT_LT(m.pressure_Pa * kRadius_m / (0.3e6 * kThickness_m), 1.9);
  EXPECT_THROW(disc_at_limit({yeoh(0.15e6, 0.01e6, 0.002e6), kRadius_m, kThickness_m}), std::runtime_error);
}

// 0.595 is the value in use for nu = 1/2 (from memory). The disc comes to the series as the load goes to zero, with an
// error of the order of the squared slope, that is of load^(2/3).
TEST(Meridian, SmallLoadsGoTowardsTheSeries) {
  const double factor = small_load_height_factor();
  EXPECT_NEAR(factor, 0.595, 5e-4);
  const ClampedDisc disc{neo_hookean(1.0), 1.0, 1.0};
  const auto off = [&](double l) {
    const Meridian m = inflated_disc(disc, l);
    return m.height_m / (factor * std::cbrt(m.pressure_Pa / 3.0)) - 1.0;
  };
  EXPECT_LT(std::fabs(off(1.0001)), 5e-4);
  EXPECT_NEAR(off(1.0004) / off(1.0001), 4.0, 0.2);  // strain ~ slope squared
}

}  // namespace
}  // namespace pellicle::reference
