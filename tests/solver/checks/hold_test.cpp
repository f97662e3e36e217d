// Does the finding pass, doubt and fail by the last stage's duration?
#include "solver/checks/hold.h"

#include "tests/solver/imprint/hold_samples.h"

#include <gtest/gtest.h>

#include <cmath>

namespace pellicle::checks {
namespace {

constexpr double kThickness_m = 0.3e-3, kFull_s = 0.2;

/// One groove of this share, pressed from 0.1 s on, touched at 0.05 s.
struct Groove {
  imprint::ReliefAnswer answer;
  imprint::FormedState state;

  explicit Groove(double share, double width_m = 0.5e-3) {
    imprint::StrokeAnswer stroke;
    stroke.name = "groove", stroke.width_m = width_m, stroke.share = share, stroke.place_m = {1e-3, 2e-3};
    answer.strokes = {stroke};
    state.state.thickness_m = kThickness_m;
    state.touched_s = 0.05;
    state.start_K = imprint::amorphous().start_K;
  }
  std::optional<Finding> after(double hold_s, const HeatSpec& heat = imprint::amorphous()) const {
    return under(imprint::gas_from(0.1, kFull_s + hold_s), heat);
  }
  std::optional<Finding> under(const forming::FormingResult& f, const HeatSpec& heat = imprint::amorphous()) const {
    const HeldRelief relief{"name", answer, state, [](double x, double y) { return mesh::Vec3(x, y, 5e-3); }};
    return hold(heat, f, {relief});
  }
};

TEST(Hold, PassDoubtAndFailFollowTheLastStage) {
  const Groove groove(1.0);
  const auto brief = groove.after(0.05), held = groove.after(60.0);
  ASSERT_TRUE(brief && held);
  EXPECT_EQ(brief->id, "hold");
  EXPECT_EQ(brief->unit, "s");
  EXPECT_EQ(brief->verdict, Verdict::kFail);
  // Rows are a 200th of the run apart, so full pressure is seen up to that much late.
  EXPECT_NEAR(*brief->limit, 0.05, 0.01);
  EXPECT_GT(brief->value, 0.2);
  EXPECT_LT(brief->value, 5.0);
  EXPECT_EQ(brief->place_m->z(), 5e-3);
  EXPECT_NE(brief->advice.find("s longer"), std::string::npos) << brief->advice;
  EXPECT_EQ(held->verdict, Verdict::kPass);
  EXPECT_TRUE(held->advice.empty());
  const auto likely = groove.after(brief->value);
  EXPECT_EQ(likely->verdict, Verdict::kDoubt) << likely->uncertainty;
  EXPECT_NEAR(likely->value, brief->value, 0.05 * brief->value) << "hardly a matter of the run's own length";
}

/// The last stage lets the gas off: what counts is how long it was on.
TEST(Hold, TimeWithoutGasIsNoHold) {
  const Groove groove(1.0);
  const auto full_on = groove.after(60.0);
  forming::FormingResult f = imprint::gas_from(0.1, kFull_s + 0.05);
  const double off_s = f.time_s, row_s = f.pressed_s[1] - f.pressed_s[0];
  for (int k = 1; k <= 100; ++k) f.pressed_s.push_back(off_s + 0.6 * k), f.pressed_Pa.push_back(0.0);
  f.time_s = f.pressed_s.back();
  const auto let_off = groove.under(f), brief = groove.after(0.05);
  ASSERT_TRUE(full_on && let_off && brief);
  EXPECT_EQ(full_on->verdict, Verdict::kPass);
  EXPECT_EQ(let_off->verdict, Verdict::kFail) << let_off->why;
  EXPECT_NEAR(*let_off->limit, *brief->limit, row_s);
  EXPECT_NE(let_off->why.find("before the last stage ends"), std::string::npos) << let_off->why;
  EXPECT_NE(let_off->advice.find("the stage before the gas goes"), std::string::npos) << let_off->advice;
}

/// Touched after the gas had gone: nothing has been pressed in there.
TEST(Hold, NothingToTellWhereNoGasPressedSinceTouch) {
  forming::FormingResult f = imprint::gas_from(0.1, 0.5);
  for (int k = 1; k <= 10; ++k) f.pressed_s.push_back(0.5 + 0.05 * k), f.pressed_Pa.push_back(0.0);
  f.time_s = 1.0;
  Groove groove(1.0);
  groove.state.touched_s = 0.7;
  EXPECT_FALSE(groove.under(f));
}

/// A place that left the heater hotter than the rest wants the gas for longer.
TEST(Hold, FollowsHowWarmThePlaceLeftTheHeater) {
  Groove groove(1.0);
  const double even_s = groove.after(0.2)->value;
  groove.state.start_K += 15.0;
  const double hot_s = groove.after(0.2)->value;
  HeatSpec hotter = imprint::amorphous();
  hotter.start_K += 15.0;
  EXPECT_GT(hot_s, 1.02 * even_s);
  EXPECT_EQ(groove.after(0.2, hotter)->value, hot_s) << "the same place";
}

TEST(Hold, ASpannedStrokeAsksForLonger) {
  const double filled_s = Groove(1.0, 1e-3).after(0.2)->value, spanned_s = Groove(0.8, 1e-3).after(0.2)->value;
  EXPECT_GT(spanned_s, 1.2 * filled_s);
}

TEST(Hold, AHotMouldNeverHolds) {
  HeatSpec hot = imprint::amorphous();
  hot.mould_K = hot.gas_K = 373.15;
  const auto never = Groove(1.0).after(1.0, hot);
  ASSERT_TRUE(never);
  EXPECT_TRUE(std::isnan(never->value));
  EXPECT_EQ(never->verdict, Verdict::kFail);
  EXPECT_NE(never->why.find("more than 10 min"), std::string::npos) << never->why;
}

TEST(Hold, NothingToTellWithoutStrokesLawOrGas) {
  EXPECT_FALSE(Groove(0.0).after(1.0));
  HeatSpec no_law = imprint::amorphous();
  no_law.law.reset();
  EXPECT_FALSE(Groove(1.0).after(1.0, no_law));
  EXPECT_FALSE(hold(imprint::amorphous(), imprint::gas_from(5.0), {}));
}

}  // namespace
}  // namespace pellicle::checks
