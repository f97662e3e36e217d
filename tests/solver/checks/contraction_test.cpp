// Does each wall shrink by expansion times what it cools, and does the finding tell least, mean and most?
#include "solver/checks/contraction.h"

#include <fmt/core.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <string>
#include <vector>

namespace pellicle::checks {
namespace {

constexpr double kExpansion_1_K = 70e-6;

/// Two triangles of a strip, the second twice as large: nodes 0 1 2 and 1 3 2.
struct Strip {
  forming::FormingResult sheet;
  std::vector<char> in_part{1, 1, 1, 1};
  imprint::Screening detail;
  SheetSpec spec{};
  mould::RigidMould nothing{{}, false};

  Strip() {
    sheet.points_m = {{0.0, 0.0, 0.0}, {0.01, 0.0, 0.0}, {0.0, 0.01, 0.0}, {0.03, 0.0, 0.0}};
    sheet.triangles = {{0, 1, 2}, {1, 3, 2}};
    spec.solid = SolidPolymer{{2e9, 2e9, 2e9},    {0.4, 0.4, 0.4},       {kExpansion_1_K, 65e-6, 90e-6},
                              {0.04, 0.03, 0.05}, {0.004, 0.003, 0.005}, 273.15 + 77.0};
  }
  Formed formed() const { return {sheet, detail, nothing, spec, in_part}; }
};

Finding shrinkage_by_card() {
  Finding f;
  f.id = "shrinkage";
  f.value = 0.402;
  f.why = "as the card says";
  f.uncertainty = "scale 1.0030 to 1.0050";
  return f;
}

TEST(Contraction, OneTemperatureGivesExpansionTimesTheFallToRoomTemperature) {
  const std::vector<double> share = contraction(std::vector<double>(3, 273.15 + 65.0), kExpansion_1_K);
  ASSERT_EQ(share.size(), 3U);
  for (const double s : share) EXPECT_NEAR(s, kExpansion_1_K * 45.0, 1e-15);  // by hand: 0.315 %
  EXPECT_LT(contraction(std::vector<double>{283.15}, kExpansion_1_K)[0], 0.0) << "a cold part grows";
}

TEST(Contraction, TheFindingTellsLeastMostAndTheMeanByArea) {
  const Strip strip;
  Finding f = shrinkage_by_card();
  tell_contraction(strip.formed(), std::vector<double>{313.15, 333.15, 323.15, 343.15}, f);
  EXPECT_EQ(f.value, 0.402) << "the card's number stays the answer";
  // Means of the corners 30 and 40 K above room, areas 1 to 2.
  const double mean = kExpansion_1_K * (30.0 + 2.0 * 40.0) / 3.0;
  EXPECT_NE(f.why.find(fmt::format("by 0.14 to 0.35 %, on average {:.2g} %, from 40 to 70 °C", 100.0 * mean)),
            std::string::npos)
      << f.why;
  EXPECT_NE(f.why.find("(30.0, 0.0, 0.0) mm"), std::string::npos) << f.why;
  EXPECT_NE(f.uncertainty.find(fmt::format("{:.4f} if", 1.0 / (1.0 - mean))), std::string::npos) << f.uncertainty;
  EXPECT_NE(f.uncertainty.find(fmt::format("{:.4f} if all", 1.0 / (1.0 - kExpansion_1_K * 57.0))), std::string::npos)
      << f.uncertainty;
}

TEST(Contraction, OnlyThePartCountsAndWithoutACardThereIsNothingToTell) {
  Strip strip;
  strip.in_part[3] = 0;
  Finding f = shrinkage_by_card();
  tell_contraction(strip.formed(), std::vector<double>{313.15, 333.15, 323.15, 543.15}, f);
  EXPECT_NE(f.why.find("by 0.14 to 0.28 %"), std::string::npos) << f.why;
  strip.spec.solid.reset();
  Finding none = shrinkage_by_card();
  tell_contraction(strip.formed(), std::vector<double>(4, 320.0), none);
  EXPECT_EQ(none.why, "as the card says");
  none.value = std::numeric_limits<double>::quiet_NaN();
  tell_contraction(Strip().formed(), std::vector<double>(4, 320.0), none);
  EXPECT_EQ(none.why, "as the card says");
}

}  // namespace
}  // namespace pellicle::checks
