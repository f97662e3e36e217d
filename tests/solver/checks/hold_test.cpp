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
  }
  std::optional<Finding> after(double hold_s, const HeatSpec& heat = imprint::amorphous()) const {
    const HeldRelief relief{"name", answer, state, [](double x, double y) { return mesh::Vec3(x, y, 5e-3); }};
    return hold(heat, imprint::gas_from(0.1, kFull_s + hold_s), {relief});
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
