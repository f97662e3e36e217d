// Does tearing know that the card's limit holds from the forming window on?
#include "solver/checks/first_findings.h"

#include <gtest/gtest.h>

#include <string>
#include <vector>

namespace pellicle::checks {
namespace {

/// Three nodes of which the middle one is drawn most; classes of touch: 0 warm, 1 cold; the last never touched.
struct Drawn {
  forming::FormingResult sheet;
  std::vector<char> in_part{1, 1, 1};
  imprint::Screening detail;
  SheetSpec spec{};
  mould::RigidMould nothing{{}, false};

  Drawn(std::vector<int> class_of, double untouched_K) {
    sheet.points_m = {{0.0, 0.0, 0.0}, {0.01, 0.0, 0.0}, {0.02, 0.0, 0.0}};
    sheet.stretch_1 = {1.5, 2.0, 1.8};
    spec.stretch_limit = Estimate{4.0, 3.0, 6.0};
    imprint::ScreeningChill chill{0.3e6, 1e-7, std::move(class_of), {}, untouched_K};
    chill.classes.push_back({400.0, {}, {}});
    chill.classes.push_back({380.0, {}, {}});
    detail.chill = chill;
  }
  Finding told(double draws_from_K) const { return tear({sheet, detail, nothing, spec, in_part, draws_from_K}); }
};

TEST(Tear, WhatIsDrawnBelowTheFormingWindowIsInDoubt) {
  const Finding warm = Drawn({0, 0, -1}, 395.0).told(390.0);
  EXPECT_EQ(warm.verdict, Verdict::kPass);
  EXPECT_EQ(warm.uncertainty.find("window"), std::string::npos) << warm.uncertainty;
  const Finding cold = Drawn({0, 1, -1}, 395.0).told(390.0);
  EXPECT_EQ(cold.verdict, Verdict::kDoubt);
  EXPECT_EQ(cold.value, 2.0);
  EXPECT_NE(cold.uncertainty.find("33 % of the part was drawn colder, its most stretched place to 2.00 at 107 °C"),
            std::string::npos)
      << cold.uncertainty;
  EXPECT_FALSE(cold.advice.empty());
}

TEST(Tear, ElsewhereItIsToldAndWhatNeverTouchedHasATemperatureOfItsOwn) {
  const Finding beside = Drawn({0, 0, -1}, 385.0).told(390.0);
  EXPECT_EQ(beside.verdict, Verdict::kPass) << "the most stretched place was warm";
  EXPECT_NE(beside.uncertainty.find("to 1.80 at 112 °C"), std::string::npos) << beside.uncertainty;
  EXPECT_EQ(Drawn({0, 1, -1}, 385.0).told(0.0).verdict, Verdict::kPass) << "no window is known";
}

}  // namespace
}  // namespace pellicle::checks
