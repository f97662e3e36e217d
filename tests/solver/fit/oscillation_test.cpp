// Do modes, network and shift come back from made-up sweeps, few enough for a card, and is nonsense refused?
#include "solver/fit/oscillation.h"

#include "mesh/check.h"
#include "tests/solver/sheet/relaxation_samples.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

namespace pellicle::fit {
namespace {

using sheet::RelaxationMode;

// A made-up copolyester: glass transition 80 C, sweeps round 130 C.
const sheet::TimeShift kTrue{403.15, 7.0, 95.0, 353.15, sheet::smooth_activation_J_mol(403.15, 7.0, 95.0, 353.15)};
// What a card of universal constants would say; not used where three temperatures tell.
const sheet::TimeShift kCard{353.15, 17.4, 51.6, 353.15, sheet::smooth_activation_J_mol(353.15, 17.4, 51.6, 353.15)};
const std::vector<RelaxationMode> kModes{{0.4e6, 0.08}, {0.2e6, 1.5}, {0.1e6, 25.0}};
constexpr double kNetwork_Pa = 0.05e6;

std::vector<DynamicPoint> sweeps(std::initializer_list<double> temperatures_K, double noise) {
  std::vector<DynamicPoint> points;
  sheet::Dice dice(7);
  for (const double T : temperatures_K)
    for (int i = 0; i <= 15; ++i) {
      const double w = 0.05 * std::pow(10.0, 0.2 * i);  // 0.05 to 50 1/s
      const sheet::DynamicModulus g = sheet::dynamic_modulus(kModes, w * kTrue.factor(T));
      points.push_back({w, (g.storage_Pa + kNetwork_Pa) * (1.0 + dice.in(-noise, noise)),
                        g.loss_Pa * (1.0 + dice.in(-noise, noise)), T});
    }
  return points;
}

double left_Pa(double network_Pa, const std::vector<RelaxationMode>& modes, double time_s) {
  return network_Pa + sheet::relaxation_modulus_Pa(modes, time_s);
}

// Scatter of 3 % either way, rms 1.7 %. Three modes on times of their own against three that are merged from a grid: 6
// % is what merging costs (relaxation_modes_test.cpp). log a_T at the ends comes back within a twentieth of a decade:
// sweeps of three decades, 16 points, slide by their scatter over the root of their number, steepness one.
TEST(Oscillation, ModesNetworkAndShiftComeBack) {
  const OscillationFit fit = fit_oscillation(sweeps({388.15, 403.15, 418.15}, 0.03), kCard);
  EXPECT_DOUBLE_EQ(fit.reference_K, 403.15);
  EXPECT_EQ(fit.shift_source, ShiftSource::kBoth);
  EXPECT_NEAR(fit.rms_full, 0.017, 0.006);
  for (const double T : {388.15, 418.15}) EXPECT_NEAR(fit.shift.log10_factor(T), kTrue.log10_factor(T), 0.05) << T;
  ASSERT_LE(fit.modes.size(), 3U);
  for (const double t : {0.05, 0.2, 1.0, 5.0, 20.0})
    EXPECT_NEAR(left_Pa(fit.network_Pa, fit.modes, t) / left_Pa(kNetwork_Pa, kModes, t), 1.0, 0.06) << t;
  EXPECT_GT(std::count(fit.in_window.begin(), fit.in_window.end(), 1), 20);
  EXPECT_LT(fit.rms_few, 0.1);
}

TEST(Oscillation, OneTemperatureKeepsTheShiftOfTheCard) {
  const OscillationFit fit = fit_oscillation(sweeps({403.15}, 0.0), kCard);
  EXPECT_EQ(fit.shift_source, ShiftSource::kGiven);
  EXPECT_NEAR(fit.shift.log10_factor(390.0), kCard.log10_factor(390.0) - kCard.log10_factor(403.15), 1e-12);
  EXPECT_NEAR(left_Pa(fit.network_Pa, fit.modes, 1.0) / left_Pa(kNetwork_Pa, kModes, 1.0), 1.0, 0.06);
  const OscillationFit two = fit_oscillation(sweeps({395.15, 411.15}, 0.0), kCard);
  EXPECT_EQ(two.shift_source, ShiftSource::kOneNumber);
  // One number is enough to lay two sweeps together; the grid of times ripples by a percent, which slides them by 0.02.
  EXPECT_NEAR(two.shift.log10_factor(411.15) - two.shift.log10_factor(395.15),
              kTrue.log10_factor(411.15) - kTrue.log10_factor(395.15), 0.04);
}

TEST(Oscillation, WhatIsNoSweepIsRefusedWithAWayOut) {
  const std::vector<DynamicPoint> good = sweeps({403.15}, 0.0);
  struct Slip {
    void (*spoil)(std::vector<DynamicPoint>&);
    const char* word;
  };
  int told = 0;
  for (const Slip& slip :
       {Slip{[](auto& p) { p[3].loss_Pa = -1.0; }, "above 0"}, Slip{[](auto& p) { p.resize(4); }, "6 or more"},
        Slip{[](auto& p) { p.back().storage_Pa *= 0.5; }, "slipped"},
        Slip{[](auto& p) {
               for (DynamicPoint& point : p) point.temperature_K = 340.0;
             },
             "glass transition"},
        Slip{[](auto& p) {
               for (DynamicPoint& point : p) point.angular_frequency_per_s *= 1e5;
             },
             "measure slower"},
        Slip{[](auto& p) {
               for (DynamicPoint& point : p)
                 point.angular_frequency_per_s = std::pow(point.angular_frequency_per_s, 0.3);
             },
             "decades"}}) {
    std::vector<DynamicPoint> points = good;
    slip.spoil(points);
    try {
      fit_oscillation(points, kCard);
      ADD_FAILURE() << slip.word;
    } catch (const Error& error) {
      EXPECT_NE(std::string(error.what()).find(slip.word), std::string::npos) << error.what();
      ++told;
    }
  }
  EXPECT_EQ(told, 6);
}

}  // namespace
}  // namespace pellicle::fit
