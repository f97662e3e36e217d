// Are ramps smooth, frames due when they should be, and stages as slow as the rule asks?
#include "solver/forming/stage.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

namespace pellicle::forming {
namespace {

FormingSpec disc_spec() {
  FormingSpec spec{};
  spec.sheet.law = sheet::NeoHookean{0.3e6};
  spec.sheet.density_kg_m3 = 1200.0;
  spec.sheet.thickness_m = 1e-3;
  spec.sheet.outline = {mesh::Disc{0.1}, mesh::Vec2::Zero()};
  return spec;
}

StageSpec by_pressure(double duration_s) { return {"press", duration_s, PressureDrive{1e5}, {}}; }
StageSpec by_volume(double duration_s) { return {"fill", duration_s, VolumeDrive{1e-5}, {}}; }
StageSpec by_gas(double duration_s) { return {"blow", duration_s, GasDrive{1e5, 1e-3, 1e-3, false}, {}}; }

TEST(Ramp, StartsAndEndsSmoothly) {
  EXPECT_EQ(ramp(0.0), 0.0);
  EXPECT_EQ(ramp(1.0), 1.0);
  EXPECT_EQ(ramp(-0.1), 0.0);
  EXPECT_EQ(ramp(1.1), 1.0);
  EXPECT_DOUBLE_EQ(ramp(0.5), 0.5);
  EXPECT_DOUBLE_EQ(ramp(0.25), 0.103515625);  // 10 s^3 - 15 s^4 + 6 s^5 by hand
  // Slope and curvature vanish at both ends: what is left within a distance e of an end is 10 e^3 (1 - 1.5 e + ...).
  constexpr double e = 1e-3;
  EXPECT_NEAR(ramp(e), 10.0 * e * e * e, 2.0 * e * 10.0 * e * e * e);
  EXPECT_NEAR(1.0 - ramp(1.0 - e), 10.0 * e * e * e, 2.0 * e * 10.0 * e * e * e);
}

TEST(Ramp, IsAsSteepAsFifthOrderInTheMiddleAndNeverFalls) {
  constexpr double e = 1e-5;  // central difference: error ~ e^2
  EXPECT_NEAR((ramp(0.5 + e) - ramp(0.5 - e)) / (2.0 * e), 15.0 / 8.0, 1e-8);
  int checked = 0;
  for (int k = 0; k < 1000; ++k) {
    EXPECT_GE(ramp((k + 1) / 1000.0), ramp(k / 1000.0));
    ++checked;
  }
  EXPECT_EQ(checked, 1000);
}

TEST(Schedule, FramesAreEvenAndAtEveryStageEnd) {
  FormingSpec spec = disc_spec();
  spec.stages = {by_pressure(1.0), by_pressure(0.55), by_pressure(2.0)};
  spec.numerics.frames = 10;
  const Schedule schedule(spec);
  EXPECT_EQ(schedule.stages(), 3);
  EXPECT_DOUBLE_EQ(schedule.start_s(0), 0.0);
  EXPECT_DOUBLE_EQ(schedule.end_s(0), 1.0);
  EXPECT_DOUBLE_EQ(schedule.start_s(2), 1.55);
  EXPECT_DOUBLE_EQ(schedule.end_s(), 3.55);
  const std::vector<double>& frames = schedule.frames_s();
  EXPECT_EQ(frames.size(), 12U);  // ten even ones, the last of which is an end, and two more ends
  EXPECT_TRUE(std::is_sorted(frames.begin(), frames.end()));
  int found = 0;
  for (int k = 1; k <= 10; ++k) {
    found += static_cast<int>(
        std::count_if(frames.begin(), frames.end(), [&](double t) { return std::fabs(t - 0.355 * k) < 1e-12; }));
  }
  EXPECT_EQ(found, 10);
  for (int stage = 0; stage < 3; ++stage)
    EXPECT_EQ(std::count(frames.begin(), frames.end(), schedule.end_s(stage)), 1) << stage;  // to the last bit
}

TEST(Schedule, AMomentNamedTwiceIsOneFrame) {
  FormingSpec spec = disc_spec();
  // Ends at sums of tenths, which are not on the even grid to the last bit.
  spec.stages = {by_pressure(0.1), by_pressure(0.2), by_pressure(0.4), by_pressure(0.3)};
  spec.numerics.frames = 10;
  const Schedule schedule(spec);
  const std::vector<double>& frames = schedule.frames_s();
  ASSERT_EQ(frames.size(), 10U);
  for (std::size_t k = 1; k < frames.size(); ++k) EXPECT_GT(frames[k] - frames[k - 1], 0.05);
  for (int stage = 0; stage < 4; ++stage)
    EXPECT_EQ(std::count(frames.begin(), frames.end(), schedule.end_s(stage)), 1) << stage;
}

TEST(Schedule, OneFrameIsTheEnd) {
  FormingSpec spec = disc_spec();
  spec.stages = {by_pressure(0.7)};
  spec.numerics.frames = 1;
  ASSERT_EQ(Schedule(spec).frames_s().size(), 1U);
  EXPECT_EQ(Schedule(spec).frames_s()[0], 0.7);
}

// The rule: travel of 85 R/c for pressure and gas, 340 where a volume drive measures the pressure; c = 2 sqrt(mu/rho)
// with the scaled density, damping alpha = c/R.
TEST(Pace, QuasiStaticScalesMassToKeepTheRule) {
  const FormingSpec spec = disc_spec();
  const double R = 0.05, true_c = 2.0 * std::sqrt(0.3e6 / 1200.0);
  struct Expected {
    StageSpec stage;
    bool changes;
    double travel_s, pace;
  };
  int checked = 0;
  for (const Expected& e : {Expected{by_pressure(2.0), true, 1.0, 85.0}, Expected{by_gas(2.0), true, 1.0, 85.0},
                            Expected{by_pressure(2.0), false, 2.0, 85.0}, Expected{by_volume(2.0), true, 2.0, 340.0}}) {
    const PaceChoice p = choose_pace(spec, e.stage, e.changes, R);
    EXPECT_DOUBLE_EQ(p.travel_s, e.travel_s);
    EXPECT_DOUBLE_EQ(p.pace, e.pace);
    const double wave = true_c / std::sqrt(p.mass_factor);
    EXPECT_NEAR(p.travel_s * wave / R, e.pace, 1e-10 * e.pace);  // round-off
    EXPECT_NEAR(p.damping_per_s, wave / R, 1e-10 * wave / R);
    ++checked;
  }
  EXPECT_EQ(checked, 4);
}

TEST(Pace, RealTimeLeavesTheMassAlone) {
  FormingSpec spec = disc_spec();
  spec.numerics.pace = Pace::kReal;
  const double R = 0.05, c = 2.0 * std::sqrt(0.3e6 / 1200.0);
  const PaceChoice p = choose_pace(spec, by_pressure(0.2), true, R);
  EXPECT_EQ(p.mass_factor, 1.0);
  EXPECT_NEAR(p.pace, 0.1 * c / R, 1e-10 * p.pace);
  EXPECT_NEAR(p.damping_per_s, 0.1 * c / R, 1e-10 * p.damping_per_s);  // a tenth of critical
}

}  // namespace
}  // namespace pellicle::forming
