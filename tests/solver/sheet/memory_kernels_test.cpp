// Do the kernels of memory say what the scalar twin says, on every instruction set, with the same bits?
#include "solver/sheet/kernel/choose.h"
#include "tests/solver/sheet/relaxation_samples.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstring>

namespace pellicle::sheet {
namespace {

/// Modes slow, middling, fast, and one that never relaxes: series and exponential of the weights, and both ends.
Relaxation four_modes() { return modes({{0.3e6, 20.0}, {0.2e6, 0.5}, {0.4e6, 0.002}, {0.1e6, kNever}}); }

struct Group {
  Relaxation relaxation = four_modes();
  RelaxationState<double> state;
  std::vector<Rest> rest;
  double metric[3][kGroup], inverse_det[kGroup], reduced_s[kGroup];
  double modulus_Pa[4], time_s[4];

  Group() {
    for (int k = 0; k < kGroup; ++k) rest.push_back(rest_of((1.0 + 0.1 * k) * sample_edges_m()));
    state = rested_state<double>(rest, 4);
    for (int m = 0; m < 4; ++m)
      modulus_Pa[m] = relaxation.modes[static_cast<std::size_t>(m)].modulus_Pa,
      time_s[m] = relaxation.modes[static_cast<std::size_t>(m)].time_s;
  }
  /// Another stretch and another clock in each lane.
  Metric at(int k, int step) const {
    const double l1 = 1.0 + 0.03 * step * (1 + k), l2 = 1.0 + 0.01 * step;
    return metric_of(stretched((1.0 + 0.1 * k) * sample_edges_m(), l1, l2, kAngle + 0.1 * step));
  }
  void go(int step) {
    for (int k = 0; k < kGroup; ++k) {
      const Metric g = at(k, step);
      metric[0][k] = g.g11_m2, metric[1][k] = g.g12_m2, metric[2][k] = g.g22_m2;
      inverse_det[k] = rest[static_cast<std::size_t>(k)].inverse_det_per_m4;
      reduced_s[k] = 1e-4 * std::pow(10.0, k);  // 0.1 ms to 1000 s
    }
  }
  ModesView view() { return {4, modulus_Pa, time_s, state.lanes[0].n11_per_m2, state.last[0].a11_per_m2}; }
};

/// 1e-12 of the largest term: rounding of some ten operations on numbers that cancel by up to a hundredfold.
TEST(MemoryKernels, SayWhatTheScalarTwinSays) {
  int compared = 0;
  for (const Kernels& kernels : available_kernels()) {
    Group own, twin;
    for (int step = 1; step <= 4; ++step) {
      own.go(step);
      double lost_Pa[kGroup], energy_Pa[kGroup], sums[4][kGroup];
      kernels.remember(own.view(), own.metric[0], own.inverse_det, own.reduced_s, lost_Pa, energy_Pa);
      kernels.carry(own.view(), own.reduced_s, sums[0]);
      for (int k = 0; k < kGroup; ++k) {
        const Rest& rest = twin.rest[static_cast<std::size_t>(k)];
        const Metric now = twin.at(k, step);
        const double lost = remember(twin.relaxation, twin.state, k, rest, now, own.reduced_s[k]);
        const double energy = mode_energy_Pa(twin.relaxation, twin.state, k, rest, now);
        const ModeSum sum = carried_sum(twin.relaxation, twin.state, k, own.reduced_s[k]);
        EXPECT_NEAR(lost_Pa[k], lost, 1e-12 * 1e6) << kernels.name << k << step;
        EXPECT_NEAR(energy_Pa[k], energy, 1e-12 * 1e6) << kernels.name << k << step;
        EXPECT_NEAR(sums[0][k], sum.p11_Pa_m2, 1e-12 * std::fabs(sum.p11_Pa_m2)) << kernels.name << k << step;
        EXPECT_NEAR(sums[1][k], sum.p12_Pa_m2, 1e-12 * std::fabs(sum.p11_Pa_m2)) << kernels.name << k << step;
        EXPECT_NEAR(sums[2][k], sum.p22_Pa_m2, 1e-12 * std::fabs(sum.p22_Pa_m2)) << kernels.name << k << step;
        EXPECT_NEAR(sums[3][k], sum.p33_Pa, 1e-12 * std::fabs(sum.p33_Pa)) << kernels.name << k << step;
        EXPECT_GT(energy, 1e3);
        ++compared;
      }
    }
  }
  EXPECT_GE(compared, 4 * kGroup);
}

TEST(MemoryKernels, HaveTheSameBitsOnEveryInstructionSet) {
  const std::vector<Kernels> all = available_kernels();
  Group first;
  double lost_Pa[kGroup], energy_Pa[kGroup], sums[4][kGroup];
  first.go(3);
  all.front().remember(first.view(), first.metric[0], first.inverse_det, first.reduced_s, lost_Pa, energy_Pa);
  all.front().carry(first.view(), first.reduced_s, sums[0]);
  for (const Kernels& kernels : all) {
    Group other;
    double lost2_Pa[kGroup], energy2_Pa[kGroup], sums2[4][kGroup];
    other.go(3);
    kernels.remember(other.view(), other.metric[0], other.inverse_det, other.reduced_s, lost2_Pa, energy2_Pa);
    kernels.carry(other.view(), other.reduced_s, sums2[0]);
    EXPECT_EQ(std::memcmp(lost_Pa, lost2_Pa, sizeof lost_Pa), 0) << kernels.name;
    EXPECT_EQ(std::memcmp(energy_Pa, energy2_Pa, sizeof energy_Pa), 0) << kernels.name;
    EXPECT_EQ(std::memcmp(sums, sums2, sizeof sums), 0) << kernels.name;
    EXPECT_EQ(std::memcmp(first.state.lanes.data(), other.state.lanes.data(), 4 * sizeof(ModeLanes<double>)), 0);
  }
  // At rest nothing is lost and nothing stored: to rounding of 3 - 3.
  Group rested;
  rested.go(0);
  for (int k = 0; k < kGroup; ++k) {
    const Metric flat =
        metric_of(((1.0 + 0.1 * k) * sample_edges_m()).transpose() * ((1.0 + 0.1 * k) * sample_edges_m()));
    rested.metric[0][k] = flat.g11_m2, rested.metric[1][k] = flat.g12_m2, rested.metric[2][k] = flat.g22_m2;
  }
  all.back().remember(rested.view(), rested.metric[0], rested.inverse_det, rested.reduced_s, lost_Pa, energy_Pa);
  for (int k = 0; k < kGroup; ++k) EXPECT_NEAR(energy_Pa[k] + std::fabs(lost_Pa[k]), 0.0, 1e-8);
}

}  // namespace
}  // namespace pellicle::sheet
