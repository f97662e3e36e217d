// Are pockets and vents told with the numbers that were put in, and are vents proposed where the sheet touches last?
#include "solver/checks/pockets.h"

#include "mesh/shapes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <numbers>
#include <random>

namespace pellicle::checks {
namespace {

using mesh::Vec3;

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
constexpr double kHalf_m = 20e-3, kStep_m = 1e-3, kModulus_Pa = 0.3e6;
constexpr int kSquares = 40;

/// A level sheet of 40 x 40 squares of 1 mm on a block, touching everywhere since the time given; NaN: not yet.
struct Level {
  forming::FormingResult sheet;
  std::vector<char> in_part;
  imprint::Screening detail;
  SheetSpec spec{};
  mould::RigidMould block{mesh::box({-30e-3, -30e-3, 0.0}, {30e-3, 30e-3, 5e-3}), true};

  explicit Level(const std::function<double(double x, double y)>& touched_s) {
    spec.law = sheet::NeoHookean{kModulus_Pa};
    sheet.bought_thickness_m = 0.75e-3;
    sheet.pressure_Pa = 4e5;
    for (int j = 0; j <= kSquares; ++j)
      for (int i = 0; i <= kSquares; ++i) {
        const double x = i * kStep_m - kHalf_m, y = j * kStep_m - kHalf_m, t = touched_s(x, y);
        sheet.flat_m.push_back({x, y});
        sheet.touched_s.push_back(t);
        sheet.touching.push_back(!std::isnan(t));
        sheet.gap_m.push_back(std::isnan(t) ? 1e-3 - 0.02 * std::hypot(x, y) : 0.0);
        sheet.points_m.push_back({x, y, 5e-3 + sheet.gap_m.back()});
        sheet.on_rim.push_back(i == 0 || j == 0 || i == kSquares || j == kSquares);
        sheet.thickness_m.push_back(0.6e-3);
        sheet.pressure_since_Pa.push_back(4e5);
        sheet.element_m.push_back(1.14 * kStep_m);
      }
    for (int j = 0; j < kSquares; ++j)
      for (int i = 0; i < kSquares; ++i) {
        const int a = node(i, j), b = node(i + 1, j), c = node(i + 1, j + 1), d = node(i, j + 1);
        sheet.triangles.push_back({a, b, c});
        sheet.triangles.push_back({a, c, d});
      }
    in_part.assign(sheet.points_m.size(), 1);
  }
  static int node(int i, int j) { return j * (kSquares + 1) + i; }
  Formed formed() const { return {sheet, detail, block, spec, in_part}; }
};

/// Touching but for a round place of 5 mm in the middle, which air of 5 mm^2 x 1 mm or so holds off.
struct Bubble : Level {
  AirAtEnd air;
  Bubble() : Level([](double x, double y) { return std::hypot(x, y) < 5e-3 ? kNaN : 0.1; }) {
    for (const char touching : sheet.touching) air.pocket_of.push_back(touching ? kNoPocket : 0);
    air.pockets.push_back({.volume_m3 = 80e-9, .mass_kg = 4.8e-7, .pressure_Pa = 4e5});
  }
};

TEST(Pockets, NoneIsFine) {
  const Level level([](double, double) { return 0.1; });
  AirAtEnd air;
  air.pocket_of.assign(level.sheet.points_m.size(), kNoPocket);
  const Finding f = pockets(level.formed(), air);
  EXPECT_EQ(f.verdict, Verdict::kPass);
  EXPECT_EQ(f.value, 0.0);
  EXPECT_NE(f.why.find("no air"), std::string::npos);
}

TEST(Pockets, BubbleWithoutVentFailsAtItsDeepestPlace) {
  const Bubble b;
  const Finding f = pockets(b.formed(), b.air);
  EXPECT_EQ(f.verdict, Verdict::kFail);
  EXPECT_NEAR(f.value, 1.0, 1e-9);  // the gap that was put in, in mm
  EXPECT_NEAR(f.place_m->head<2>().norm(), 0.0, 1e-9);
  EXPECT_NE(f.why.find("80 mm3 at 4 bar"), std::string::npos) << f.why;
  EXPECT_NE(f.why.find("no vent opens into it"), std::string::npos);
  EXPECT_NE(f.advice.find("a vent at (0.0, 0.0, 6.0) mm of 0.5 mm"), std::string::npos) << f.advice;
  // Outside the part nobody minds.
  Bubble waste;
  waste.in_part.assign(waste.in_part.size(), 0);
  EXPECT_EQ(pockets(waste.formed(), waste.air).verdict, Verdict::kPass);
}

// The sheet follows at constant pressure, so the flow is constant: mass over choked flow, by hand 4.8e-7 kg /
// (0.7 pi/4 (0.5 mm)^2 x 501325 Pa x 0.0404/sqrt(293.15 K)) = 2.95 ms. 0.0404 has three digits.
TEST(Pockets, TimeToEmptyIsMassOverFlow) {
  Bubble b;
  b.air.vents.push_back({{1e-3, 0.0}, {0.5e-3, 2e-3}, 0});
  const std::vector<PocketSeen> seen = pockets_seen(b.formed(), b.air);
  ASSERT_EQ(seen.size(), 1U);
  EXPECT_NEAR(seen[0].empty_s, 2.95e-3, 0.01e-3);
  EXPECT_EQ(pockets(b.formed(), b.air).verdict, Verdict::kDoubt);  // who knows how long it stays soft
  EXPECT_EQ(pockets(b.formed(), b.air, 1.0).verdict, Verdict::kDoubt);
  const Finding late = pockets(b.formed(), b.air, 1e-3);
  EXPECT_EQ(late.verdict, Verdict::kFail);
  EXPECT_NE(late.advice.find("3 times the hole area"), std::string::npos) << late.advice;
}

TEST(Vents, MarkIsThePennyCrackCorrectedForDepth) {
  const double linear = 4e5 * 0.5e-3 / (2.0 * std::numbers::pi * kModulus_Pa);
  EXPECT_NEAR(linear, 0.1061e-3, 0.00005e-3);  // by hand
  EXPECT_NEAR(vent_mark_m(0.5e-3, 0.6e-3, 4e5, kModulus_Pa), linear / (1.0 + 0.27 * linear / 0.5e-3), 1e-12);
  EXPECT_NEAR(vent_mark_m(0.5e-3, 0.6e-3, 1.0, kModulus_Pa), linear / 4e5, 1e-6 * linear / 4e5);  // small push: linear
  int checked = 0;
  double last = 0.0;
  for (const double D : {0.2e-3, 0.5e-3, 1e-3, 2e-3}) {  // wider, higher
    const double mark = vent_mark_m(D, 0.6e-3, 4e5, kModulus_Pa);
    EXPECT_GT(mark, last);
    last = mark, ++checked;
  }
  EXPECT_EQ(checked, 4);
}

TEST(Vents, DiameterIsNoMoreThanSheetNorMark) {
  EXPECT_NEAR(vent_diameter_m(1.5e-3), 0.5e-3, 1e-12);
  EXPECT_NEAR(vent_diameter_m(0.5e-3), 0.5e-3, 1e-12);
  EXPECT_NEAR(vent_diameter_m(0.42e-3), 0.4e-3, 1e-12);  // down to a step of the drill
  EXPECT_NEAR(vent_diameter_m(0.01e-3), 0.05e-3, 1e-12);
}

TEST(Vents, WideNarrowAndCoveredAreTold) {
  Bubble b;
  b.air.vents.push_back({{8e-3, 0.0}, {0.5e-3, 2e-3}, 0});
  EXPECT_EQ(vents(b.formed(), b.air).verdict, Verdict::kPass);

  b.air.vents[0].hole.diameter_m = 0.8e-3;
  const Finding wide = vents(b.formed(), b.air);
  EXPECT_EQ(wide.verdict, Verdict::kDoubt);
  EXPECT_NEAR(wide.value, 1e3 * vent_mark_m(0.8e-3, 0.6e-3, 4e5, kModulus_Pa), 1e-9);
  EXPECT_NEAR(wide.place_m->x(), 8e-3, 1e-12);
  EXPECT_NE(wide.why.find("1 wider than the sheet"), std::string::npos) << wide.why;
  EXPECT_NE(wide.advice.find("0.5 mm leaves no mark"), std::string::npos) << wide.advice;

  b.air.vents[0].hole.diameter_m = 0.3e-3;
  const Finding narrow = vents(b.formed(), b.air);
  EXPECT_EQ(narrow.verdict, Verdict::kDoubt);
  EXPECT_NE(narrow.why.find("may print shut"), std::string::npos) << narrow.why;

  // A slot is told by its width: 0.4 mm prints open, and marks as a stroke does, Phi p w/(4 G) with Phi 1.16 at w/h of
  // 2/3 (between 1.065 and 1.301 at 0.5 and 1), corrected for depth.
  b.air.vents[0].hole = {.diameter_m = 0.4e-3, .land_m = 2e-3, .slot_m = 5e-3};
  const Finding slot = vents(b.formed(), b.air);
  EXPECT_EQ(slot.verdict, Verdict::kPass) << slot.why;
  EXPECT_NE(slot.why.find("0.4 x 5 mm slot"), std::string::npos) << slot.why;
  const double linear_mm = 1.16 * 4e5 * 0.4 / (4.0 * kModulus_Pa);
  EXPECT_NEAR(slot.value, linear_mm / (1.0 + 0.27 * linear_mm / 0.4), 0.1 * linear_mm);  // Phi read off by eye
  b.air.vents[0].hole.diameter_m = 0.3e-3;
  EXPECT_NE(vents(b.formed(), b.air).why.find("may print shut"), std::string::npos);

  b.air.vents[0] = {{8e-3, 0.0}, {0.5e-3, 2e-3}, kNoPocket};  // and nothing serves the bubble
  const Finding covered = vents(b.formed(), b.air);
  EXPECT_EQ(covered.verdict, Verdict::kDoubt);
  EXPECT_NE(covered.why.find("covered by sheet"), std::string::npos) << covered.why;
  Bubble flat = b;  // a bubble that nobody sees is no reason to move a vent
  for (double& gap : flat.sheet.gap_m) gap *= 0.01;
  EXPECT_EQ(vents(flat.formed(), flat.air).why.find("covered by sheet"), std::string::npos);
  EXPECT_NE(covered.advice.find("a vent each at (0.0, 0.0, 6.0) mm"), std::string::npos) << covered.advice;
}

TEST(Vents, NoVentsAndAirCutOffIsADoubt) {
  const Bubble b;
  const Finding f = vents(b.formed(), AirAtEnd{});
  EXPECT_EQ(f.verdict, Verdict::kDoubt);
  EXPECT_NE(f.why.find("cuts air off at 1 place"), std::string::npos) << f.why;
}

/// Time of touching from cones: the sheet comes down first at the rim and last at the given places.
double cones_s(double x, double y, const std::vector<Vec3>& tops) {
  double t = 0.0;
  for (const Vec3& c : tops) t = std::max(t, c.z() - 10.0 * std::hypot(x - c.x(), y - c.y()));
  return 0.1 + t;
}

TEST(Vents, OneForEachPartThatIsCutOff) {
  // Two hollows that part at t = 0.2 - 10 * 8 mm = 0.12 s and close at 0.2 and 0.18 s; a third is a dent of five nodes.
  const std::vector<Vec3> tops{{-8e-3, 0.0, 0.2}, {8e-3, 2e-3, 0.18}, {14e-3, -17e-3, 0.012}};
  const Level level([&](double x, double y) { return cones_s(x, y, tops); });
  const std::vector<VentPlace> places = propose_vents(level.formed());
  ASSERT_EQ(places.size(), 2U);
  EXPECT_NEAR(places[0].place_m.x(), -8e-3, 1e-12);
  EXPECT_NEAR(places[1].place_m.x(), 8e-3, 1e-12);
  EXPECT_NEAR(places[1].place_m.y(), 2e-3, 1e-12);
  EXPECT_NEAR(places[0].touched_s, 0.3, 1e-12);
  EXPECT_NEAR(places[0].diameter_m, 0.5e-3, 1e-12);
  EXPECT_GT(places[0].area_m2, places[1].area_m2);
}

// Five nodes that touch later than all else, apart from the hollow: the vent goes to the hollow.
TEST(Vents, TinyPlaceHasNoSay) {
  const Level level([](double x, double y) {
    return std::hypot(x - 10e-3, y) < 1.2e-3 ? 0.5 : cones_s(x, y, {{-8e-3, 0.0, 0.15}});
  });
  const std::vector<VentPlace> places = propose_vents(level.formed());
  ASSERT_EQ(places.size(), 1U);
  EXPECT_NEAR(places[0].place_m.x(), -8e-3, 1e-12);
  EXPECT_NEAR(places[0].touched_s, 0.25, 1e-12);
}

// A sheet that lands from left to right in 0.2 s, in strips of 10 mm, patches of 5 x 5 nodes up to 1.8 ms
// sooner or later than the next ones. The air runs ahead to the right; what is cut off for less than a hundredth of
// 0.2 s does not count.
TEST(Vents, NoiseOfLandingIsNoPocket) {
  std::mt19937 random(5);
  std::uniform_real_distribution<double> noise(0.0, 1.8e-3);
  std::vector<double> late_s(100);
  for (double& t : late_s) t = noise(random);
  const auto landing = [&](double x, double y) {
    const auto patch = static_cast<std::size_t>(std::lround((x + kHalf_m) / kStep_m) / 5 * 10 +
                                                std::lround((y + kHalf_m) / kStep_m) / 5);
    return 0.1 + 0.2 * std::floor((x + kHalf_m) / 10e-3 + 1e-9) / 4.0 + late_s[patch % 100];
  };
  const Level level(landing);
  EXPECT_EQ(propose_vents(level.formed()).size(), 1U);
}

TEST(Vents, WhereAirIsFreeNoneIsWanted) {
  // The last to touch lies at a rim that stands clear: nothing is cut off.
  Level at_rim([](double x, double) { return x > 19.5e-3 ? kNaN : 0.1 + x; });
  for (std::size_t i = 0; i < at_rim.sheet.points_m.size(); ++i)
    if (std::isnan(at_rim.sheet.touched_s[i])) at_rim.sheet.points_m[i].z() = 8e-3;
  EXPECT_EQ(propose_vents(at_rim.formed()).size(), 0U);
  // The same rim down on the mould: all of the sheet is one part, cut off.
  const Level sealed([](double x, double) { return 0.1 + x; });
  const std::vector<VentPlace> one = propose_vents(sealed.formed());
  ASSERT_EQ(one.size(), 1U);
  EXPECT_NEAR(one[0].place_m.x(), kHalf_m, 1e-12);
  // A hollow cut off from free air at the rim keeps its vent.
  Level both([](double x, double y) { return x > 19.5e-3 ? kNaN : 0.1 + std::max(x, 0.03 - std::hypot(x + 8e-3, y)); });
  for (std::size_t i = 0; i < both.sheet.points_m.size(); ++i)
    if (std::isnan(both.sheet.touched_s[i])) both.sheet.points_m[i].z() = 8e-3;
  const std::vector<VentPlace> inside = propose_vents(both.formed());
  ASSERT_EQ(inside.size(), 1U);
  EXPECT_NEAR(inside[0].place_m.x(), -8e-3, 1e-12);
  // Over the perforated platform.
  const Bubble bubble;
  const mould::RigidMould platform({}, true);
  const Formed over_platform{bubble.sheet, bubble.detail, platform, bubble.spec, bubble.in_part};
  EXPECT_EQ(propose_vents(over_platform).size(), 0U);
  EXPECT_EQ(propose_vents(over_platform, {}, false).size(), 1U);  // tight, it is as the mould
  Bubble tight;
  tight.air.platform_leaks = false;
  EXPECT_NE(pockets(tight.formed(), tight.air).uncertainty.find("platform to be tight"), std::string::npos);
  EXPECT_EQ(propose_vents(bubble.formed()).size(), 1U);
}

}  // namespace
}  // namespace pellicle::checks
