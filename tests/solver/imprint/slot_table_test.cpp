// Depth in slots under stretch: against independent figures and against the press itself between its points.
#include "solver/imprint/slot_table.h"

#include "mesh/check.h"
#include "solver/imprint/press.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace pellicle::imprint {
namespace {

// An independent press at the same pitch of 5 w, unstretched; it states +-0.8 %.
TEST(SlotTable, UnstretchedAsTabulated) {
  int checked = 0;
  for (const auto [ratio, phi] :
       {std::array{.25, 1.019}, {.5, 1.065}, {1.0, 1.301}, {2.0, 2.282}, {4.0, 6.77}, {8.0, 32.1}}) {
    EXPECT_NEAR(slot_factor(ratio, 1.0, 1.0) / phi, 1.0, 0.008) << ratio;
    ++checked;
  }
  EXPECT_EQ(checked, 6);
}

// The same source at equal stretches of 1.5, as ratios to unstretched: half a unit of the last digit and 0.8 %.
TEST(SlotTable, EquallyStretchedAsTabulated) {
  int checked = 0;
  for (const auto [ratio, part] : {std::array{.25, .751}, {1.0, .613}, {2.0, .404}, {4.0, .192}, {8.0, .069}}) {
    EXPECT_NEAR(slot_factor(ratio, 1.5, 1.5) / slot_factor(ratio, 1.0, 1.0), part, 0.0005 + 0.008 * part) << ratio;
    ++checked;
  }
  EXPECT_EQ(checked, 5);
}

/// By the press on a grid of its own: finer, another count of points.
double pressed(double ratio, double across, double along) {
  constexpr int kFree = 249, kPeriod = 1250;
  std::vector<double> mould(kPeriod, 0.0);
  std::fill_n(mould.begin(), kFree, -1e3 * ratio);
  Press press({kPeriod, 1, ratio / (kFree + 0.35)}, {{{1.0, 1.0}}, across, along}, Boundary::kPeriodic);
  const Pressed p = press.solve(mould, 1e-3, {1e-9 * ratio, 2000});
  return -4.0 / (ratio * 1e-3) * *std::min_element(p.displacement_m.begin(), p.displacement_m.end());
}

// Off the table's points and at unequal stretches: within the 0.8 % it promises, nearly unstretched wide slots too.
TEST(SlotTable, BetweenItsPointsItIsThePress) {
  int checked = 0;
  for (const double ratio : {0.15, 0.6, 1.7, 5.0, 13.0}) {
    for (const auto [across, along] : {std::array{1.0, 1.0},
                                       {1.02, 1.0},
                                       {1.1, 1.05},
                                       {1.2, 0.95},
                                       {1.5, 1.0},
                                       {1.0, 1.5},
                                       {2.0, 1.3},
                                       {3.0, 3.0},
                                       {2.5, 9.0}}) {
      EXPECT_NEAR(slot_factor(ratio, across, along) / pressed(ratio, across, along), 1.0, 0.008)
          << ratio << " " << across << " " << along;
      ++checked;
    }
  }
  EXPECT_EQ(checked, 45);
}

// Wide slots in a drawn sheet are membranes: depth p w^2/(8 T h). The clamped edges take off twice the length
// sqrt(D/(T h)) at each side; D of a stretched layer is not known, so the bound is what unstretched D gives, doubled.
TEST(SlotTable, WideSlotInADrawnSheetIsAMembrane) {
  const double l = 2.0, ratio = 64.0, tension = l * l - std::pow(l, -4.0);
  const double membrane = 4.0 * ratio / (8.0 * tension);
  const double taken = 4.0 * std::sqrt(4.0 / 12.0 / tension) / ratio;
  EXPECT_NEAR(slot_factor(ratio, l, l) / membrane, 1.0, 2.0 * taken + 0.05);
}

TEST(SlotTable, RefusesWhatIsNone) {
  EXPECT_THROW(slot_factor(0.0, 1.0, 1.0), Error);
  EXPECT_THROW(slot_factor(1.0, -1.0, 1.0), Error);
  EXPECT_THROW(slot_factor(1.0, 1.0, 0.0), Error);
  EXPECT_THROW(slot_factor(1.0, 5.0, 5.0), Error);
  EXPECT_EQ(slot_factor(0.01, 1.0, 1.0), slot_factor(0.125, 1.0, 1.0));
}

}  // namespace
}  // namespace pellicle::imprint
