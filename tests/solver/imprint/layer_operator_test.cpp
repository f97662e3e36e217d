// Products with the layer's stiffness and compliance: single waves by hand, a dense twin, padding, threads.
#include "solver/imprint/layer_operator.h"

#include "mesh/check.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <array>
#include <cmath>
#include <numbers>
#include <random>

namespace pellicle::imprint {
namespace {

using Field = std::vector<double>;
constexpr double kG_Pa = 3e5, kH_m = 4e-4, kTwoPi = 2.0 * std::numbers::pi;

Field noise(std::size_t n, unsigned seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> between(-1e-5, 1e-5);
  Field f(n);
  for (double& v : f) v = between(random);
  return f;
}

double largest(const Field& f) {
  double most = 0.0;
  for (const double v : f) most = std::max(most, std::fabs(v));
  return most;
}

// A wave on the grid comes back times 1/C(k), at its angle. 1e-5: the table's interpolation.
TEST(LayerOperator, WaveComesBackTimesItsStiffness) {
  const Grid grid{24, 18, 3e-5};
  const LayerStack stack{{{0.2 * kH_m, 5.0 * kG_Pa}, {0.8 * kH_m, kG_Pa}}, 1.6, 1.1};
  LayerOperator layer(grid, stack, Boundary::kPeriodic);
  int checked = 0;
  for (const auto [mx, my] : {std::array{1, 0}, {0, 1}, {3, -5}, {11, 8}, {12, 9}, {0, 9}}) {
    Field u(grid.points()), traction;
    const double kx = kTwoPi * mx / (24 * 3e-5), ky = kTwoPi * my / (18 * 3e-5);
    for (int j = 0; j < 18; ++j) {
      for (int i = 0; i < 24; ++i) {
        u[static_cast<std::size_t>(j * 24 + i)] = 1e-6 * std::cos(kTwoPi * (mx * i / 24.0 + my * j / 18.0));
      }
    }
    layer.stiffness(u, traction);
    const double stiffness = 1.0 / compliance_m_per_Pa(stack, std::hypot(kx, ky), std::atan2(ky, kx));
    for (std::size_t i = 0; i < u.size(); ++i) {
      EXPECT_NEAR(traction[i], stiffness * u[i], 1e-5 * stiffness * 1e-6) << mx << " " << my;
    }
    ++checked;
  }
  EXPECT_EQ(checked, 6);
}

// C after S leaves all but the mean, and the mean too where a bed of springs bears it. 1e-12 of round-off: stiffness
// spans four decades here.
TEST(LayerOperator, ComplianceUndoesStiffness) {
  for (const Grid grid : {Grid{30, 25, 2e-5}, Grid{64, 1, 2e-5}}) {
    LayerOperator layer(grid, {{{kH_m, kG_Pa}}}, Boundary::kPeriodic);
    const Field u = noise(grid.points(), 1);
    Field traction, back, shifted;
    layer.stiffness(u, traction);
    layer.compliance(traction, 0.0, back);
    double mean = 0.0, pull = 0.0;
    for (std::size_t i = 0; i < u.size(); ++i) mean += u[i], pull += traction[i];
    mean /= static_cast<double>(u.size());
    EXPECT_NEAR(pull, 0.0, 1e-10 * largest(traction));
    for (std::size_t i = 0; i < u.size(); ++i) EXPECT_NEAR(back[i], u[i] - mean, 1e-12 * 1e-5);
    const double bed = layer.least_stiffness_Pa_per_m();
    for (std::size_t i = 0; i < u.size(); ++i) traction[i] += bed * u[i];
    layer.compliance(traction, bed, shifted);
    for (std::size_t i = 0; i < u.size(); ++i) EXPECT_NEAR(shifted[i], u[i], 1e-12 * 1e-5);
  }
}

TEST(LayerOperator, MarginJoinsTheEdgesWithoutAStep) {
  const Grid patch{40, 20, 2e-5};
  const LayerOperator layer(patch, {{{5e-5, kG_Pa}}}, Boundary::kPadded);
  const Grid outer = layer.outer();
  EXPECT_GE(outer.nx, 50);  // four thicknesses are ten points
  EXPECT_GE(outer.ny, 30);
  Field f(patch.points());
  for (std::size_t j = 0; j < 20; ++j) {
    for (std::size_t i = 0; i < 40; ++i) f[j * 40 + i] = 1.0 + static_cast<double>(j);
  }
  const Field all = layer.padded(f);
  EXPECT_EQ(layer.cropped(all), f);
  for (std::size_t j = 0; j < 20; ++j) EXPECT_EQ(all[j * static_cast<std::size_t>(outer.nx) + 45], f[j * 40]);
  double steepest = 0.0;  // from 20 back to 1 over the margin: 1.5 times the even slope
  const auto row = static_cast<std::size_t>(outer.nx), rows = static_cast<std::size_t>(outer.ny);
  for (std::size_t j = 20; j < rows; ++j) {
    steepest = std::max(steepest, std::fabs(all[(j + 1) % rows * row] - all[j * row]));
  }
  EXPECT_LE(steepest, 1.5 * 19.0 / static_cast<double>(rows - 19));
  EXPECT_GT(steepest, 0.0);

  const LayerOperator strip({40, 1, 2e-5}, {{{5e-5, kG_Pa}}}, Boundary::kPadded);
  EXPECT_EQ(strip.outer().ny, 1);
  const LayerOperator periodic(patch, {{{5e-5, kG_Pa}}}, Boundary::kPeriodic);
  EXPECT_EQ(periodic.outer().points(), patch.points());
}

TEST(LayerOperator, SameBitsForAnyThreads) {
  const Grid grid{192, 160, 2e-5};
  const Field u = noise(grid.points(), 2);
  const int threads = omp_get_max_threads();
  Field first, again;
  for (const int many : {1, 2, 3, 5}) {
    omp_set_num_threads(many);
    LayerOperator layer(grid, {{{kH_m, kG_Pa}}, 1.3, 1.1}, Boundary::kPeriodic);
    if (many == 1) layer.stiffness(u, first);
    layer.stiffness(u, again);
    EXPECT_EQ(first, again) << many;
  }
  omp_set_num_threads(threads);
  EXPECT_GT(largest(first), 0.0);
}

TEST(LayerOperator, RefusesGridsThatAreNone) {
  const LayerStack stack{{{kH_m, kG_Pa}}};
  EXPECT_THROW(LayerOperator({3, 8, 1e-5}, stack, Boundary::kPeriodic), Error);
  EXPECT_THROW(LayerOperator({8, 0, 1e-5}, stack, Boundary::kPeriodic), Error);
  EXPECT_THROW(LayerOperator({8, 8, 0.0}, stack, Boundary::kPadded), Error);
  EXPECT_THROW(LayerOperator({8, 8, 1e-5}, {}, Boundary::kPeriodic), Error);
}

}  // namespace
}  // namespace pellicle::imprint
