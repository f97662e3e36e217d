// Is the air in a closed hollow of a relief told with the balance worked by hand, and not where the hollow is open?
#include "solver/checks/hollow_air.h"

#include "solver/air/throat.h"

#include <gtest/gtest.h>

namespace pellicle::checks {
namespace {

constexpr int kCells = 20;
constexpr double kGrid_m = 0.1e-3, kDepth_m = 0.4e-3, kPressure_Pa = 4e5, kFilled = 0.9;

/// A land with a sunk square of cells low..high each way, which the sheet fills evenly to nine tenths.
imprint::ReliefAnswer sunk(int low, int high) {
  imprint::ReliefAnswer a;
  a.nx = a.ny = kCells;
  a.own_depth_m = kDepth_m;
  for (int k = 0; k < kCells; ++k) a.x_m.push_back((k + 0.5) * kGrid_m), a.y_m.push_back((k + 0.5) * kGrid_m);
  for (int j = 0; j < kCells; ++j)
    for (int i = 0; i < kCells; ++i) {
      const bool deep = i >= low && i <= high && j >= low && j <= high;
      a.mould_height_m.push_back(deep ? -kDepth_m : 0.0);
      a.gap_m.push_back(deep ? (1.0 - kFilled) * kDepth_m : 0.0);
    }
  imprint::StrokeAnswer s;
  s.name = "dot";
  s.place_m = {1e-3, 1e-3};
  s.width_m = 1e-3;
  s.height_m = -kDepth_m;
  s.share = 0.95;
  a.strokes.push_back(s);
  return a;
}

TEST(HollowAir, ClosedHollowIsInBalance) {
  const std::vector<Hollow> all = hollows(sunk(5, 14), kPressure_Pa);
  ASSERT_EQ(all.size(), 1U);
  const Hollow& h = all[0];
  EXPECT_EQ(h.cells.size(), 100U);
  EXPECT_NEAR(h.volume_m3, 1e-6 * kDepth_m, 1e-12 * h.volume_m3 + 1e-21);  // 1 mm square; round-off
  EXPECT_NEAR(h.filled, kFilled, 1e-12);
  // What the air leaves of the drive fills the hollow as the whole drive would: by hand 0.585 for nine tenths at 4 bar.
  const double back_Pa = air::kAtmosphere_Pa * h.filled_least / (1.0 - h.filled_least);
  EXPECT_NEAR(h.filled_least, kFilled * (kPressure_Pa - back_Pa) / kPressure_Pa, 1e-12);
  EXPECT_NEAR(h.filled_least, 0.585, 0.003);
  EXPECT_NEAR(h.filled_most, 4.0 / 5.01325, 1e-6);  // 1.01325 bar f/(1 - f) = 4 bar
}

TEST(HollowAir, OpenHollowKeepsNoAir) {
  EXPECT_TRUE(hollows(sunk(0, 14), kPressure_Pa).empty());  // it reaches the border of the patch
  imprint::ReliefAnswer raised = sunk(5, 14);
  for (double& z : raised.mould_height_m) z = z < 0.0 ? 0.0 : -kDepth_m;  // a raised square: all around is open
  EXPECT_TRUE(hollows(raised, kPressure_Pa).empty());
}

TEST(HollowAir, PassThatNeedsALeakIsInDoubt) {
  Finding f{.id = "relief_dot", .question = "?", .value = 0.95, .unit = "-"};
  tell_shut_air(sunk(5, 14), kPressure_Pa, 0.5, f);
  EXPECT_EQ(f.verdict, Verdict::kPass);
  EXPECT_NE(f.why.find("1 closed hollow: if no air leaks out, dot takes 0.61 to 0.84 of its depth"), std::string::npos)
      << f.why;
  tell_shut_air(sunk(5, 14), kPressure_Pa, 0.9, f);
  EXPECT_EQ(f.verdict, Verdict::kDoubt);
  EXPECT_FALSE(f.advice.empty());
  Finding open{.id = "relief_dot", .question = "?", .value = 0.95, .unit = "-"};
  tell_shut_air(sunk(0, 14), kPressure_Pa, 0.9, open);
  EXPECT_TRUE(open.why.empty());
}

}  // namespace
}  // namespace pellicle::checks
