// Are the holes of a mould found where they are, as wide, long and tapered as they are, and nothing else?
#include "mesh/holes.h"

#include "mesh/shapes.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <utility>

namespace pellicle::mesh {
namespace {

constexpr int kFacets = 48;

/// A closed outline (r, z), counter-clockwise, r > 0, turned round an upright axis.
TriangleMesh turned(const std::vector<Vec2>& outline, const Vec2& axis_m, int facets = kFacets) {
  TriangleMesh m;
  const int n = static_cast<int>(outline.size());
  for (int k = 0; k < facets; ++k) {
    const double angle = 2.0 * std::numbers::pi * k / facets;
    for (const Vec2& p : outline)
      m.points_m.emplace_back(axis_m.x() + p.x() * std::cos(angle), axis_m.y() + p.x() * std::sin(angle), p.y());
  }
  for (int k = 0; k < facets; ++k)
    for (int i = 0; i < n; ++i) {
      const int a = k * n + i, b = k * n + (i + 1) % n, c = (k + 1) % facets * n + (i + 1) % n,
                d = (k + 1) % facets * n + i;
      m.triangles.push_back({a, d, c});
      m.triangles.push_back({a, c, b});
    }
  return m;
}

void add(TriangleMesh& to, const TriangleMesh& more) {
  const int first = static_cast<int>(to.points_m.size());
  to.points_m.insert(to.points_m.end(), more.points_m.begin(), more.points_m.end());
  for (const Triangle& t : more.triangles) to.triangles.push_back({t[0] + first, t[1] + first, t[2] + first});
}

/// A ring 12 mm across and 5 mm high: a hole of d over the land, then a cone to D at the underside.
TriangleMesh drilled(double d_m, double land_m, double foot_m, const Vec2& axis_m) {
  std::vector<Vec2> outline{{6e-3, 0.0}, {6e-3, 5e-3}, {0.5 * d_m, 5e-3}};
  if (foot_m > d_m) outline.emplace_back(0.5 * d_m, 5e-3 - land_m);
  outline.emplace_back(0.5 * foot_m, 0.0);
  return turned(outline, axis_m);
}

/// Of the circle with the area of a regular polygon.
double as_circle_m(double d_m) {
  return d_m * std::sqrt(kFacets * std::sin(2.0 * std::numbers::pi / kFacets) / (2.0 * std::numbers::pi));
}

// 32 rays against 48 flats: area to (2 pi/48)^2/10; ends to a step of 0.025 mm where the diameter changes, better where
// the hole ends.
constexpr double kDiameter = 0.003, kStep_m = 0.025e-3, kEnd_m = 1e-6;

TEST(Holes, StraightAndTaperedAreMeasured) {
  TriangleMesh mesh = drilled(0.5e-3, 5e-3, 0.5e-3, {0.0, 0.0});
  add(mesh, drilled(0.4e-3, 2e-3, 2e-3, {15e-3, 3e-3}));
  const std::vector<ThroughHole> holes = through_holes(Nearest(mesh), 1e-3);
  ASSERT_EQ(holes.size(), 2U);
  const ThroughHole& straight = holes[0];
  EXPECT_NEAR(straight.opening_m.x(), 0.0, 1e-6);
  EXPECT_NEAR(straight.opening_m.z(), 5e-3, kEnd_m);
  EXPECT_NEAR(straight.diameter_m, as_circle_m(0.5e-3), kDiameter * 0.5e-3);
  EXPECT_NEAR(straight.length_m, 5e-3, 2 * kEnd_m);
  EXPECT_NEAR(straight.land_m, 5e-3, 2 * kEnd_m);
  EXPECT_NEAR(straight.taper_m, 0.0, kEnd_m);

  const ThroughHole& tapered = holes[1];
  EXPECT_NEAR(tapered.opening_m.x(), 15e-3, 1e-6);
  EXPECT_NEAR(tapered.opening_m.y(), 3e-3, 1e-6);
  EXPECT_NEAR(tapered.diameter_m, as_circle_m(0.4e-3), kDiameter * 0.4e-3);
  EXPECT_NEAR(tapered.length_m, 5e-3, 2 * kEnd_m);
  EXPECT_NEAR(tapered.foot_m, as_circle_m(2e-3), kDiameter * 2e-3 + 1.6 / 3.0 * kEnd_m);
  // The land ends where the cone is a tenth wider: 0.04 mm of 1.6 mm over 3 mm, 0.075 mm further down.
  EXPECT_NEAR(tapered.land_m, 2e-3 + 0.075e-3, 2 * kStep_m);
  EXPECT_NEAR(tapered.land_m + tapered.taper_m, 5e-3, 3 * kEnd_m);
}

TEST(Holes, AtTheBottomOfACavity) {
  // A cup of 8 mm, 4 mm deep, in a block, with a hole through its floor of 1 mm.
  const TriangleMesh mesh =
      turned({{6e-3, 0.0}, {6e-3, 5e-3}, {4e-3, 5e-3}, {4e-3, 1e-3}, {0.3e-3, 1e-3}, {0.3e-3, 0.0}}, {2e-3, -1e-3});
  const std::vector<ThroughHole> holes = through_holes(Nearest(mesh), 1e-3);
  ASSERT_EQ(holes.size(), 1U);
  EXPECT_NEAR(holes[0].opening_m.z(), 1e-3, kEnd_m);
  EXPECT_NEAR(holes[0].length_m, 1e-3, 2 * kEnd_m);
  EXPECT_NEAR(holes[0].diameter_m, as_circle_m(0.6e-3), kDiameter * 0.6e-3);
}

/// A plate, 3 mm high, with a slot along x, sheared along x by so much of the height; a block closes it below if blind.
TriangleMesh slotted(double width_m, double length_m, double shear, bool blind) {
  const double far = 5e-3, top = 3e-3;
  TriangleMesh m;
  for (const double z : {0.0, top})
    for (const auto& [x, y] : {std::pair{far, far}, {0.5 * length_m, 0.5 * width_m}})
      for (const auto& [sx, sy] : {std::pair{-1, -1}, {1, -1}, {1, 1}, {-1, 1}})
        m.points_m.emplace_back(sx * x, sy * y, z);
  const auto quad = [&](int a, int b, int c, int d) {
    m.triangles.push_back({a, b, c}), m.triangles.push_back({a, c, d});
  };
  for (int k = 0; k < 4; ++k) {
    const int n = (k + 1) % 4;
    quad(k, n, 8 + n, 8 + k);            // outside
    quad(4 + n, 4 + k, 12 + k, 12 + n);  // slot
    quad(8 + k, 8 + n, 12 + n, 12 + k);  // top
    quad(n, k, 4 + k, 4 + n);            // underside
  }
  if (blind) add(m, box({-far, -far, -1e-3}, {far, far, 0.0}));
  for (Vec3& p : m.points_m) p.x() += shear * p.z();
  return m;
}

TEST(Holes, WhatIsNoneIsNotTold) {
  // Blind: a narrow round cup. Wide: more than was asked for. A gap between posts, a channel and plain solids.
  EXPECT_EQ(through_holes(Nearest(cup(0.3e-3, 2e-3, 5e-3, 5e-3, kFacets, 3)), 1e-3).size(), 0U);
  EXPECT_EQ(through_holes(Nearest(drilled(1.5e-3, 5e-3, 1.5e-3, {0.0, 0.0})), 1e-3).size(), 0U);
  EXPECT_EQ(through_holes(Nearest(drilled(1.5e-3, 5e-3, 1.5e-3, {0.0, 0.0})), 2e-3).size(), 1U);
  TriangleMesh posts = box({0.0, 0.0, 0.0}, {5e-3, 5e-3, 5e-3});
  add(posts, box({5.5e-3, 0.0, 0.0}, {10e-3, 5e-3, 5e-3}));
  EXPECT_EQ(through_holes(Nearest(posts), 1e-3).size(), 0U);
  EXPECT_EQ(through_holes(Nearest(trench(0.3e-3, 2e-3, 5e-3, 10e-3, 5e-3)), 1e-3).size(), 0U);
  EXPECT_EQ(through_holes(Nearest(sphere({0.0, 0.0, 0.0}, 1e-3, 2)), 1e-3).size(), 0U);
  // A slot that is blind.
  EXPECT_EQ(through_holes(Nearest(slotted(0.4e-3, 1.2e-3, 0.0, true)), 1e-3).size(), 0U);
}

TEST(Holes, SlotsAreMeasured) {
  // A ray stops at planes: round-off of centring, and a step of 25 um/1000 at the ends.
  const std::vector<ThroughHole> slots = through_holes(Nearest(slotted(0.4e-3, 1.2e-3, 0.0, false)), 1e-3);
  ASSERT_EQ(slots.size(), 1U);
  EXPECT_NEAR(slots[0].diameter_m, 0.4e-3, 1e-9);
  EXPECT_NEAR(slots[0].slot_m, 1.2e-3, 1e-9);
  EXPECT_NEAR(slots[0].length_m, 3e-3, 2 * kEnd_m);
  EXPECT_NEAR(slots[0].land_m, 3e-3, 2 * kEnd_m);
  EXPECT_LT((slots[0].opening_m - Vec3(0.0, 0.0, 3e-3)).norm(), 2 * kEnd_m);
  EXPECT_LT((slots[0].axis + Vec3::UnitZ()).norm(), 1e-9);
}

TEST(Holes, SlantingOnesAreMeasured) {
  // The drilled ring leaned about y: its hole leans with it. Round to the chord of 48 flats (0.2 %).
  int checked = 0;
  for (const double lean : {0.2, 0.7}) {
    TriangleMesh ring = drilled(0.5e-3, 5e-3, 0.5e-3, {0.0, 0.0});
    for (Vec3& p : ring.points_m)
      p = {std::cos(lean) * p.x() + std::sin(lean) * p.z(), p.y(), std::cos(lean) * p.z() - std::sin(lean) * p.x()};
    const std::vector<ThroughHole> holes = through_holes(Nearest(ring), 1e-3);
    ASSERT_EQ(holes.size(), 1U) << lean;
    EXPECT_NEAR(holes[0].diameter_m, 0.5e-3, 0.005 * 0.5e-3);
    EXPECT_EQ(holes[0].slot_m, 0.0);
    EXPECT_NEAR(holes[0].length_m, 5e-3, 2 * kEnd_m);
    EXPECT_NEAR(std::acos(-holes[0].axis.z()), lean, 1e-3);  // walls are exact planes; round-off of their normals
    EXPECT_LT((holes[0].opening_m - 5e-3 * Vec3(std::sin(lean), 0.0, std::cos(lean))).norm(), 5 * kEnd_m);
    ++checked;
  }
  // A slot through a plate that stays level, sheared: its mouths are oblique to it.
  TriangleMesh sheared = slotted(0.4e-3, 1.2e-3, std::tan(0.4), false);
  const std::vector<ThroughHole> slots = through_holes(Nearest(sheared), 1e-3);
  ASSERT_EQ(slots.size(), 1U);
  EXPECT_NEAR(slots[0].diameter_m, 0.4e-3, 1e-6);
  EXPECT_NEAR(slots[0].length_m, 3e-3 / std::cos(0.4), 0.02e-3);  // between first and last wall: to a step
  EXPECT_NEAR(std::acos(-slots[0].axis.z()), 0.4, 1e-3);
  EXPECT_EQ(checked, 2);
}

}  // namespace
}  // namespace pellicle::mesh
