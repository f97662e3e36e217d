// Least squares with none below zero by trying every choice; without limits on curved valleys.
#include "solver/fit/least_squares.h"

#include <gtest/gtest.h>
#include <Eigen/QR>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

namespace pellicle::fit {
namespace {

double dice(std::mt19937& engine) { return static_cast<double>(engine()) / 4294967296.0 * 2.0 - 1.0; }

TEST(NonNegativeLeastSquares, IsTheBestOfAllChoicesOfColumns) {
  std::mt19937 engine(5);
  int with_zeros = 0;
  for (int trial = 0; trial < 50; ++trial) {
    constexpr int kColumns = 6;
    Eigen::MatrixXd a(9, kColumns);
    Eigen::VectorXd b(9);
    for (double& v : a.reshaped()) v = dice(engine);
    for (double& v : b) v = dice(engine);
    a.col(3) *= 1e6;  // columns need not be of one size
    const Eigen::VectorXd x = non_negative_least_squares(a, b);
    EXPECT_GE(x.minCoeff(), 0.0);
    with_zeros += x.minCoeff() == 0.0 ? 1 : 0;
    double best = b.norm();
    for (unsigned choice = 1; choice < 1U << kColumns; ++choice) {
      std::vector<Eigen::Index> columns;
      for (unsigned j = 0; j < kColumns; ++j)
        if (choice >> j & 1U) columns.push_back(j);
      const Eigen::MatrixXd own = a(Eigen::all, columns);
      const Eigen::VectorXd y = own.colPivHouseholderQr().solve(b);
      if (y.minCoeff() >= 0.0) best = std::min(best, (own * y - b).norm());
    }
    EXPECT_NEAR((a * x - b).norm(), best, 1e-12 * b.norm());  // roundings
  }
  EXPECT_GT(with_zeros, 30) << "the limit must have mattered";
}

TEST(NonNegativeLeastSquares, NothingToGainIsZero) {
  EXPECT_EQ(non_negative_least_squares(Eigen::MatrixXd::Ones(4, 2), -Eigen::VectorXd::Ones(4)).norm(), 0.0);
}

TEST(LeastSquares, FollowsACurvedValley) {
  // Rosenbrock's valley, Comput. J. 3 (1960) 175 (from memory): minimum zero at (1, 1).
  const auto valley = [](const Eigen::VectorXd& p) -> Eigen::VectorXd {
    return Eigen::Vector2d(10.0 * (p[1] - p[0] * p[0]), 1.0 - p[0]);
  };
  const Minimum found = least_squares(valley, Eigen::Vector2d(-1.2, 1.0));
  EXPECT_NEAR(found.at[0], 1.0, 1e-8);  // differences of 1e-5 squared
  EXPECT_NEAR(found.at[1], 1.0, 1e-8);
  // Where something is left: the mean of three numbers, whose squares are off by 2/3 on average.
  const auto mean = [](const Eigen::VectorXd& p) -> Eigen::VectorXd {
    return Eigen::Vector3d(1.0, 2.0, 3.0).array() - p[0];
  };
  const Minimum middle = least_squares(mean, Eigen::VectorXd::Zero(1));
  EXPECT_NEAR(middle.at[0], 2.0, 1e-8);
  EXPECT_NEAR(middle.rms, std::sqrt(2.0 / 3.0), 1e-12);
}

}  // namespace
}  // namespace pellicle::fit
