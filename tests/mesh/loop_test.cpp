// Is a loop of points judged, measured and cut as it should be? Expected values are those of plain geometry.
#include "mesh/loop.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <numbers>
#include <string>

namespace pellicle::mesh {
namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kEps = std::numeric_limits<double>::epsilon();

const std::vector<Vec2> kSquare{{0.0, 0.0}, {0.08, 0.0}, {0.08, 0.08}, {0.0, 0.08}};
const std::vector<Vec2> kAngle{{0.0, 0.0}, {0.09, 0.0}, {0.09, 0.03}, {0.03, 0.03}, {0.03, 0.09}, {0.0, 0.09}};

std::vector<Vec2> round(double radius_m, int points) {
  std::vector<Vec2> p;
  for (int i = 0; i < points; ++i) {
    const double a = 2.0 * kPi * i / points;
    p.emplace_back(radius_m * std::cos(a), radius_m * std::sin(a));
  }
  return p;
}

std::string found(const std::optional<LoopFault>& fault) {
  if (fault) {
    EXPECT_NE(fault->allowed, "");
  }
  return fault ? fault->found : "nothing";
}

TEST(Loop, SoundOnesAreTakenInEitherDirection) {
  for (auto points : {kSquare, kAngle, round(0.05, 300), round(0.05, 3)}) {
    for (int direction = 0; direction < 2; ++direction) {
      EXPECT_EQ(found(fault_of_loop(points)), "nothing");
      EXPECT_EQ(found(fault_of_corners(points)), "nothing");
      EXPECT_GT(area_m2(make_loop(points)), 0.0);  // counter-clockwise now
      std::reverse(points.begin(), points.end());
    }
  }
}

TEST(Loop, WhatIsNoOutlineIsToldWithItsPlace) {
  const auto said = [](const std::vector<Vec2>& points, const std::string& words) {
    EXPECT_NE(found(fault_of_loop(points)).find(words), std::string::npos) << found(fault_of_loop(points));
  };
  said({}, "a loop of 0 points");
  said({{0.0, 0.0}, {0.08, 0.0}}, "a loop of 2 points");
  said(round(0.05, static_cast<int>(kMostLoopPoints) + 1), "a loop of 2001 points");
  EXPECT_EQ(found(fault_of_loop(round(0.05, static_cast<int>(kMostLoopPoints)))), "nothing");
  said({{0.0, 0.0}, {0.08, 0.0}, {0.08, 0.0}, {0.0, 0.08}}, "twice the same point (80, 0) mm");
  said({{0.01, 0.01}, {0.03, 0.03}, {0.02, 0.02}}, "without area");
  said({{0.0, 0.0}, {0.08, 0.0}, {0.0, 0.04}, {0.08, 0.04}}, "from (80, 0) mm meets the side from (80, 40) mm");
  said({{0.0, 0.0}, {0.08, 0.0}, {0.08, 0.08}, {0.04, 0.0}, {0.0, 0.08}}, "meets");  // touches a side with a corner
  said({{0.0, 0.0}, {0.08, 0.0}, {0.04, 0.0}, {0.04, 0.08}}, "back along itself at (80, 0) mm");
}

// A tip of 0.01 x 0.03 / 2 has 2 atan(1/6) = 18.9 degrees, one of 0.011 has 20.8.
TEST(Loop, SpikesBelow20DegreesAreToldInwardsAndOutwards) {
  for (const double way : {1.0, -1.0}) {
    const auto tip = [&](double width_m) {
      return std::vector<Vec2>{{0.0, 0.0},
                               {0.08, 0.0},
                               {0.08, 0.04},
                               {0.04 + 0.5 * width_m, 0.04},
                               {0.04, 0.04 + 0.03 * way},
                               {0.04 - 0.5 * width_m, 0.04},
                               {0.0, 0.04}};
    };
    EXPECT_NE(found(fault_of_corners(tip(0.010))).find("a spike of 19° at (40, "), std::string::npos) << way;
    EXPECT_EQ(found(fault_of_corners(tip(0.011))), "nothing") << way;
  }
}

TEST(Loop, AreaWidthDepthAndInside) {
  const Loop square = make_loop(kSquare), angle = make_loop(kAngle);
  EXPECT_DOUBLE_EQ(area_m2(square), 0.08 * 0.08);
  EXPECT_DOUBLE_EQ(area_m2(angle), 0.09 * 0.09 - 0.06 * 0.06);
  // The largest circle is found to a thousandth from below.
  const auto expect_circle = [](const Loop& loop, double radius_m, const char* name) {
    EXPECT_LE(loop.inscribed_m, radius_m * (1.0 + 8.0 * kEps)) << name;
    EXPECT_GE(loop.inscribed_m, radius_m / 1.001) << name;
  };
  expect_circle(square, 0.04, "square");
  // In the elbow of the angle the circle touches two outer sides and the inner corner: r + r/sqrt(2) = 0.03 sqrt(2)...
  // of the diagonal from corner (0, 0) to (0.03, 0.03): r sqrt(2) + r = 0.03 sqrt(2).
  expect_circle(angle, 0.03 * std::sqrt(2.0) / (1.0 + std::sqrt(2.0)), "angle");
  expect_circle(make_loop(round(0.05, 3)), 0.025, "triangle");
  expect_circle(make_loop(round(0.05, 360)), 0.05 * std::cos(kPi / 360.0), "round");
  expect_circle(make_loop({{0.0, 0.0}, {0.2, 0.0}, {0.2, 0.001}, {0.0, 0.001}}), 0.0005, "strip");

  EXPECT_DOUBLE_EQ(depth_m(angle, {0.01, 0.05}), 0.01);
  EXPECT_DOUBLE_EQ(depth_m(angle, {0.05, 0.04}), -0.01);
  EXPECT_DOUBLE_EQ(depth_m(angle, {-0.03, -0.04}), -0.05);
  int inside = 0, asked = 0;
  for (double x = -0.0153; x < 0.1; x += 0.0037) {
    for (double y = -0.0153; y < 0.1; y += 0.0037) {
      const bool expected = x > 0.0 && y > 0.0 && x < 0.09 && y < 0.09 && (x < 0.03 || y < 0.03);
      EXPECT_EQ(contains(angle, {x, y}), expected) << x << ' ' << y;
      inside += expected ? 1 : 0;
      ++asked;
    }
  }
  EXPECT_GT(inside, 200);
  EXPECT_GT(asked - inside, 200);
}

std::vector<Vec2> starts(const Loop& loop, double edge_m) {
  std::vector<Vec2> out;
  const auto cut = pieces(loop, [=](const Vec2&) { return edge_m; });
  for (std::size_t i = 0; i < cut.size(); ++i) {
    EXPECT_EQ(cut[i].back(), cut[(i + 1) % cut.size()].front());
    out.push_back(cut[i].front());
  }
  return out;
}

TEST(Loop, IsCutAtItsCornersAndNowhereElse) {
  EXPECT_EQ(starts(make_loop(kSquare), 0.002), kSquare);
  EXPECT_EQ(starts(make_loop(kAngle), 0.002), kAngle);
  EXPECT_EQ(starts(make_loop(round(0.05, 360)), 0.002).size(), 1U);
  // Points on a straight side are no corners.
  std::vector<Vec2> more = kSquare;
  more.insert(more.begin() + 1, Vec2(0.03, 0.0));
  EXPECT_EQ(starts(make_loop(more), 0.002), kSquare);
  // A corner of radius 0.3 mm, as nine chords, is one corner of a 2 mm edge, in its middle.
  std::vector<Vec2> blunt{{0.0, 0.0}, {0.08, 0.0}};
  for (int k = 0; k <= 9; ++k) {
    const double a = 0.5 * kPi * k / 9.0;
    blunt.emplace_back(0.0797 + 0.0003 * std::cos(a), 0.0797 + 0.0003 * std::sin(a));
  }
  blunt.emplace_back(0.0, 0.08);
  const std::vector<Vec2> cut = starts(make_loop(blunt), 0.002);
  ASSERT_EQ(cut.size(), 4U);
  EXPECT_LT((cut[2] - Vec2(0.0797, 0.0797) - 0.0003 * std::sqrt(0.5) * Vec2(1.0, 1.0)).norm(), 0.0003 * kPi / 36.0);
  // At an edge of 0.1 mm it is an arc: no part of it turns by 20 degrees within half an edge.
  EXPECT_EQ(starts(make_loop(blunt), 0.0001).size(), 3U);
  // Of two corners less than half an edge apart one is kept.
  const Loop step = make_loop({{0.0, 0.0}, {0.08, 0.0}, {0.08, 0.079}, {0.079, 0.08}, {0.0, 0.08}});
  EXPECT_EQ(starts(step, 0.002).size(), 5U);  // 1.41 mm apart
  EXPECT_EQ(starts(step, 0.004).size(), 4U);
}

TEST(Loop, RimsThatComeTooNearThemselvesAreTold) {
  // Square of 20 edges of 1; a slit of width w in the middle of its top, 5 deep.
  const auto slit = [](double w) {
    std::vector<Vec2> rim;
    const auto line = [&rim](Vec2 from, const Vec2& step, int count) {
      for (int i = 0; i < count; ++i) rim.push_back(from + i * step);
    };
    line({0, 0}, {1, 0}, 20);
    line({20, 0}, {0, 1}, 20);
    line({20, 20}, {-1, 0}, 10);
    line({10 + 0.5 * w, 20}, {0, -1}, 5);
    line({10 + 0.5 * w, 15}, {-w, 0}, 1);
    line({10 - 0.5 * w, 15}, {0, 1}, 5);
    line({10 - 0.5 * w, 20}, {-1, 0}, 10);
    line({0, 20}, {0, -1}, 20);
    return rim;
  };
  EXPECT_EQ(found(fault_of_rim(slit(0.26), 1e-3, {0, 0})), "nothing");
  EXPECT_NE(found(fault_of_rim(slit(0.2), 1e-3, {0.1, 0})).find("0.2 mm wide at (110.1, 2"), std::string::npos)
      << found(fault_of_rim(slit(0.2), 1e-3, {0.1, 0}));
  EXPECT_NE(found(fault_of_rim({{0, 0}, {1, 0}, {1, 1}, {0.5, -1}, {0, 1}, {-1, 0.5}}, 1e-3, {0, 0})), "nothing");
}

}  // namespace
}  // namespace pellicle::mesh
