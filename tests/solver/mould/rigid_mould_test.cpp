// Does a node meet the same planes whatever it remembers of its way, and never get into the mould?
#include "solver/mould/rigid_mould.h"

#include "mesh/shapes.h"
#include "solver/forming/contact.h"
#include "tests/mesh/nearest_samples.h"

#include <gtest/gtest.h>

#include <cmath>
#include <string>
#include <vector>

namespace pellicle::mould {
namespace {

using forming::clear_of;
using forming::Cleared;
using mesh::Closest;
using mesh::Feature;

constexpr double kDt_s = 1e-3;
constexpr double kElement_m = 2e-3;
constexpr double kNear_m = 0.5 * kElement_m;

struct Shape {
  std::string name;
  mesh::TriangleMesh mesh;
  bool platform;
};

/// A block of 30 mm with a wavy top, rough by 5 um, of 20,000 triangles: as fine as what comes out of a scan.
mesh::TriangleMesh rough_block() {
  constexpr int kSquares = 100;
  constexpr double kHalf_m = 0.015, kSquare_m = 2.0 * kHalf_m / kSquares;
  mesh::Dice dice(5);
  mesh::TriangleMesh m;
  const auto top = [](int i, int j) { return j * (kSquares + 1) + i; };
  for (int j = 0; j <= kSquares; ++j)
    for (int i = 0; i <= kSquares; ++i) {
      const double x = kSquare_m * i - kHalf_m, y = kSquare_m * j - kHalf_m;
      m.points_m.push_back({x, y, 0.01 + 1e-3 * std::sin(600.0 * x) * std::cos(500.0 * y) + dice.in(-5e-6, 5e-6)});
    }
  for (int j = 0; j < kSquares; ++j)
    for (int i = 0; i < kSquares; ++i) {
      m.triangles.push_back({top(i, j), top(i + 1, j), top(i + 1, j + 1)});
      m.triangles.push_back({top(i, j), top(i + 1, j + 1), top(i, j + 1)});
    }
  std::vector<int> rim;  // counter-clockwise from above
  for (int i = 0; i < kSquares; ++i) rim.push_back(top(i, 0));
  for (int i = 0; i < kSquares; ++i) rim.push_back(top(kSquares, i));
  for (int i = kSquares; i > 0; --i) rim.push_back(top(i, kSquares));
  for (int i = kSquares; i > 0; --i) rim.push_back(top(0, i));
  const int below = static_cast<int>(m.points_m.size()), count = static_cast<int>(rim.size());
  for (const int k : rim) {
    const Vec3 p = m.points_m[static_cast<std::size_t>(k)];
    m.points_m.push_back({p.x(), p.y(), 0.0});
  }
  m.points_m.push_back(Vec3::Zero());
  for (int k = 0; k < count; ++k) {
    const int next = (k + 1) % count;
    const int a = rim[static_cast<std::size_t>(k)], b = rim[static_cast<std::size_t>(next)];
    m.triangles.push_back({below + k, below + next, b});
    m.triangles.push_back({below + k, b, a});
    m.triangles.push_back({below + count, below + next, below + k});
  }
  return m;
}

/// Sharp convex edges and corners, concave ones, round walls coarser and far finer than the sheet, with and without a
/// platform that makes a foot.
std::vector<Shape> shapes() {
  return {{"box on a platform", mesh::box({-0.01, -0.008, 0.0}, {0.01, 0.008, 0.01}), true},
          {"cylinder on a platform", mesh::cylinder(0.01, 0.0, 0.008, 24), true},
          {"fine cylinder", mesh::cylinder(0.01, 0.0, 0.008, 400), false},
          {"sphere", mesh::sphere({0, 0, 0.01}, 0.01, 3), false},
          {"fine sphere", mesh::sphere({0, 0, 0.01}, 0.01, 6), true},
          {"cup", mesh::cup(0.01, 0.008, 0.012, 0.015, 32, 3), true},
          {"rough block", rough_block(), true},
          {"trench", mesh::trench(0.006, 0.008, 0.012, 0.015, 0.012), false}};
}

bool is_edge(Feature f) { return f >= Feature::kEdge0 && f <= Feature::kEdge2; }

Closest closest_on(const mesh::Nearest& surface, int t, const Vec3& x) {
  const auto k = static_cast<std::size_t>(t);
  Closest c = mesh::closest_on_triangle(x, mesh::corner(surface.mesh(), k, 0), mesh::corner(surface.mesh(), k, 1),
                                        mesh::corner(surface.mesh(), k, 2));
  c.triangle = t;
  return c;
}

/// The neighbour across edge k of a triangle stands up before it.
bool is_concave(const mesh::Nearest& surface, int t, int k) {
  const Vec3& foot = mesh::corner(surface.mesh(), static_cast<std::size_t>(t), static_cast<std::size_t>(k));
  double highest = 0.0, size = 0.0;
  for (std::size_t i = 0; i < 3; ++i) {
    const Vec3 d = mesh::corner(surface.mesh(), static_cast<std::size_t>(surface.across(t, k)), i) - foot;
    highest = std::fmax(highest, surface.normal(t).dot(d)), size = std::fmax(size, d.norm());
  }
  return highest > 1e-6 * size;  // flatter is one wall
}

bool beside_concave(const mesh::Nearest& surface, const Closest& c, double touching) {
  if (c.feature == Feature::kFace) return false;
  if (is_edge(c.feature))
    return is_concave(surface, c.triangle, static_cast<int>(c.feature) - static_cast<int>(Feature::kEdge0));
  const int k = static_cast<int>(c.feature) - static_cast<int>(Feature::kCorner0);
  return c.distance_m <= touching &&
         (is_concave(surface, c.triangle, k) || is_concave(surface, c.triangle, (k + 2) % 3));
}

/// The rule of rigid_mould.cpp over every triangle of a closed mould, without a tree, a radius or a memory.
Planes brute_planes(const RigidMould& mould, const Vec3& x, double reach) {
  Planes planes;
  const mesh::Nearest& surface = *mould.surface();
  const double touching = 1e-7 * kNear_m;
  if (mould.has_platform() && x.z() <= reach) planes.add({Vec3::UnitZ(), x.z()});
  Closest best;
  for (int t = 0; t < static_cast<int>(surface.mesh().triangles.size()); ++t) {
    const Closest c = closest_on(surface, t, x);
    if (c.distance_m < best.distance_m) best = c;
    if (c.distance_m > reach) continue;
    const Vec3 away = x - c.point_m;
    const double gap = surface.normal(t).dot(away);
    // On a wall at a foot round-off decides whether x projects onto the floor: that counts as if it did.
    const bool above =
        c.feature == Feature::kFace || (gap > touching && (away - gap * surface.normal(t)).norm() <= touching);
    if (above || beside_concave(surface, c, touching)) {
      if (gap > -touching) planes.add({surface.normal(t), gap});
    } else if (is_edge(c.feature) && c.distance_m > touching) {
      const int other = surface.across(t, static_cast<int>(c.feature) - static_cast<int>(Feature::kEdge0));
      const bool in_wedge = std::fabs(closest_on(surface, other, x).distance_m - c.distance_m) <= 1e-9 * c.distance_m;
      if (in_wedge && surface.pseudonormal(c).dot(away) > 0.0) planes.add({away / c.distance_m, c.distance_m});
    }
  }
  if (best.distance_m > reach) return planes;
  const Vec3 away = x - best.point_m, outward = surface.pseudonormal(best);
  const double side = outward.dot(away) >= 0.0 ? 1.0 : -1.0;
  if (best.distance_m <= touching)
    planes.add({outward, side * best.distance_m});
  else
    planes.add({side * away / best.distance_m, side * best.distance_m});
  return planes;
}

/// A point outside within a few millimetres of the surface.
Vec3 start(const RigidMould& mould, mesh::Dice& dice) {
  for (;;) {
    const Vec3 x{dice.in(-0.018, 0.018), dice.in(-0.018, 0.018), dice.in(0.0005, 0.025)};
    const double gap = mould.gap_m(x);
    if (gap > 0.0 && gap < 4e-3) return x;
  }
}

struct Walk {
  int steps = 0, pushed = 0, by_several = 0, differs_from_fresh = 0;
  int roomy = 0, wrong_rooms = 0;
  double worst_brute = 0.0;  ///< of the speed
  double deepest_m = 0.0;
};

/// A node that drifts towards the mould, tumbles, lands, slides along it, over its edges and into its corners.
Walk walk(const RigidMould& mould, unsigned seed, int steps) {
  mesh::Dice dice(seed), dice_beside(seed + 1);
  Neighbourhood running;
  Walk w;
  Vec3 x = start(mould, dice), drift = Vec3::Zero();
  for (int k = 0; k < steps; ++k) {
    if (k % 300 == 299) x = start(mould, dice);
    if (k % 50 == 0) drift = dice.in(0, 1) < 0.3 ? Vec3(-mould.outward(x)) : dice.direction();
    // Every other time down and straight towards or away from the axis, into the feet.
    if (k % 100 == 0) {
      const Vec3 radial{x.x(), x.y(), 0.0};
      drift = ((k % 200 == 0 ? -radial : radial) - radial.norm() * Vec3::UnitZ()).normalized();
    }
    const double length =
        std::pow(10.0, dice.in(-6.0, -3.2));  // of one step: from a micrometre to a third of an element
    const Vec3 wanted = (drift + 0.5 * dice.direction()).normalized() * (length / kDt_s);
    const double reach = 1.01 * length;
    // Beforehand or not at all, what it is told of its room is no more than there is, and enough if there is enough.
    const double wanted_m = 2.0 * reach, there_m = mould.surface()->closest(x).distance_m;
    if (k % 3 == 0) {
      const double room_m = mould.room_m(x, wanted_m, kNear_m, running);
      const bool enough = there_m > 1.00001 * wanted_m && mould.gap_m(x) > 0.0;
      w.roomy += enough ? 1 : 0;
      if (room_m > there_m || (enough && !(room_m > wanted_m))) ++w.wrong_rooms;
    }
    // A node made beside it knows what it knows.
    Neighbourhood beside = running;
    const Vec3 there = x + dice_beside.in(0.0, 0.3) * kElement_m * dice_beside.direction();
    Neighbourhood none;
    const Planes inherited = mould.planes(there, reach, kNear_m, beside).within(reach);
    const Planes own = mould.planes(there, reach, kNear_m, none).within(reach);
    if (clear_of(inherited, wanted, kDt_s).v_m_s != clear_of(own, wanted, kDt_s).v_m_s) ++w.differs_from_fresh;
    const Planes kept = mould.planes(x, reach, kNear_m, running).within(reach);
    Neighbourhood nothing;
    const Planes fresh = mould.planes(x, reach, kNear_m, nothing).within(reach);
    const Planes brute = brute_planes(mould, x, reach);
    const Cleared c = clear_of(kept, wanted, kDt_s);
    if (c.v_m_s != clear_of(fresh, wanted, kDt_s).v_m_s) ++w.differs_from_fresh;
    w.worst_brute = std::fmax(w.worst_brute, (c.v_m_s - clear_of(brute, wanted, kDt_s).v_m_s).norm() / wanted.norm());
    int active = 0;
    for (const double push : c.push_m_s) active += push > 1e-9 * wanted.norm() ? 1 : 0;
    w.pushed += c.pushed ? 1 : 0;
    w.by_several += active > 1 ? 1 : 0;
    x += kDt_s * c.v_m_s;
    for (int p = 0; p < kept.count; ++p) {
      const Plane& plane = kept.at[static_cast<std::size_t>(p)];
      if (plane.gap_m < 0.0) x -= plane.gap_m * plane.normal;
    }
    w.deepest_m = std::fmin(w.deepest_m, mould.gap_m(x));
    if (mould.gap_m(x) > 5e-3) x = start(mould, dice);
    ++w.steps;
  }
  return w;
}

TEST(RigidMould, WhatANodeMeetsDoesNotDependOnWhatItRemembers) {
  int shape_count = 0, by_several = 0;
  for (const Shape& shape : shapes()) {
    const RigidMould mould(shape.mesh, shape.platform);
    const int steps = shape.mesh.triangles.size() > 10000 ? 400 : 4000;  // the brute force is slow on fine shapes
    const Walk w = walk(mould, 17, steps);
    EXPECT_EQ(w.steps, steps);
    EXPECT_GT(w.pushed, steps / 10) << shape.name;
    EXPECT_GT(w.roomy, steps / 50) << shape.name;
    EXPECT_EQ(w.wrong_rooms, 0) << shape.name;
    EXPECT_EQ(w.differs_from_fresh, 0) << shape.name;  // to the last bit: a run goes on from a snapshot unchanged
    // Coplanar triangles give the same plane to round-off, and either may be the one kept.
    EXPECT_LT(w.worst_brute, 1e-9) << shape.name;
    // No step ends inside: every plane supports the mould near the node, but for round-off of the distance. Where a
    // step passes over more facets than a node is told planes, it is by no more than the roughness.
    EXPECT_GT(w.deepest_m, shape.name == "rough block" ? -1e-5 : -1e-9) << shape.name;
    by_several += w.by_several;
    ++shape_count;
  }
  EXPECT_EQ(shape_count, 8);
  EXPECT_GT(by_several, 50);  // edges, corners and feet are among the steps
}

// On the wall just above the floor of a cavity, where x projects onto the rim of the floor but for round-off, and in
// the foot itself: both walls are there. Without the floor the node falls through it within one step.
TEST(RigidMould, AFootInsideTheMouldHasBothItsWalls) {
  const RigidMould mould(mesh::trench(0.006, 0.008, 0.012, 0.015, 0.012), false);  // floor at z = 4 mm
  int checked = 0;
  for (const double y : {-0.0143024993, 0.0012, 0.0071}) {
    for (const double off : {0.0, 1e-18, -1e-18, 8.674e-19}) {
      for (const double height : {1.5e-4, 1e-6, 0.0}) {
        Neighbourhood cache;
        const Vec3 x{0.006 + off, y, 0.004 + height};
        const Planes& planes = mould.planes(x, 4.5e-4, kNear_m, cache);
        const Cleared c = clear_of(planes, Vec3(0.1, 0.0, -0.45), kDt_s);
        EXPECT_GT(mould.gap_m(x + kDt_s * c.v_m_s), -1e-12) << y << " " << off << " " << height;
        EXPECT_NEAR(c.v_m_s.x(), 0.0, 1e-12);
        ++checked;
      }
    }
  }
  EXPECT_EQ(checked, 36);
}

TEST(RigidMould, ANodeThatDidNotMoveKeepsItsPlanes) {
  const RigidMould mould(mesh::box({-0.01, -0.01, 0.0}, {0.01, 0.01, 0.01}), true);
  Neighbourhood cache;
  const Vec3 foot{0.01, 0.0, 0.0};
  const int count = mould.planes(foot, 1e-5, kNear_m, cache).count;
  EXPECT_GE(count, 2);  // wall and floor
  EXPECT_EQ(mould.planes(foot, 1e-6, kNear_m, cache).count, count);
}

// Refinement puts the middle of an edge into the mould, far deeper than a step reaches. It must be seen there, and on
// its whole way out.
TEST(RigidMould, ANodeDeepInsideIsSeenHoweverShortItsReach) {
  int checked = 0;
  for (const Shape& shape : shapes()) {
    const RigidMould mould(shape.mesh, shape.platform);
    mesh::Dice dice(11);
    for (int k = 0; k < 400; ++k) {
      Vec3 x{dice.in(-0.02, 0.02), dice.in(-0.02, 0.02), dice.in(0.0, 0.02)};
      const Closest c = mould.surface()->closest(x);
      if (mould.surface()->signed_distance_m(x) > -1e-5 || (shape.platform && x.z() < c.distance_m)) continue;
      Neighbourhood cache;
      for (int part = 0; part < 4; ++part) {  // out to where it is just inside
        const double depth = mould.surface()->signed_distance_m(x);
        const Planes& planes = mould.planes(x, 1e-7, kNear_m, cache);
        ASSERT_GT(planes.count, 0) << shape.name << " " << depth;
        EXPECT_NEAR(planes.at[0].gap_m, depth, 1e-9 * 0.02) << shape.name;
        x -= 0.3 * depth * planes.at[0].normal;
        ++checked;
      }
    }
  }
  EXPECT_GT(checked, 1000);
}

TEST(RigidMould, GapIsSignedAndTheLesserOfMouldAndPlatform) {
  const RigidMould on(mesh::box({-0.01, -0.01, 0.0}, {0.01, 0.01, 0.01}), true);
  const RigidMould off(mesh::box({-0.01, -0.01, 0.0}, {0.01, 0.01, 0.01}), false);
  constexpr double kRound = 1e-15;  // round-off of centimetres
  EXPECT_NEAR(on.gap_m({0, 0, 0.013}), 0.003, kRound);
  EXPECT_NEAR(on.gap_m({0.014, 0.013, 0.02}), std::sqrt(16e-6 + 9e-6 + 100e-6), kRound);
  EXPECT_NEAR(on.gap_m({0, 0.001, 0.008}), -0.002, kRound);
  EXPECT_NEAR(on.gap_m({0.02, 0, 0.004}), 0.004, kRound);   // the platform is nearer
  EXPECT_NEAR(off.gap_m({0.02, 0, 0.004}), 0.010, kRound);  // without it, the wall
  EXPECT_NEAR(on.gap_m({0.02, 0, -0.001}), -0.001, kRound);
  EXPECT_EQ(on.outward({0.02, 0, 0.004}), Vec3(0, 0, 1));
  EXPECT_LT((off.outward({0.02, 0, 0.004}) - Vec3(1, 0, 0)).norm(), 1e-12);
}

TEST(RigidMould, TheSphereIsWhereItSaysToItsFacets) {
  const RigidMould mould(mesh::sphere({0, 0, 0.02}, 0.01, 5), false);
  mesh::Dice dice(3);
  int checked = 0;
  for (int k = 0; k < 500; ++k) {
    const double r = dice.in(0.005, 0.02);
    const Vec3 x = Vec3(0, 0, 0.02) + r * dice.direction();
    // Facets lie within their sagitta, edge^2 / (8 R), of the sphere; edges are R 1.1 / 2^5 long.
    const double sagitta = 0.01 * (1.1 / 32) * (1.1 / 32) / 2.0;
    EXPECT_NEAR(mould.gap_m(x), r - 0.01, sagitta);
    ++checked;
  }
  EXPECT_EQ(checked, 500);
}

TEST(RigidMould, WithNothingThereThereIsNoGap) {
  const RigidMould nothing(std::nullopt, false), platform(std::nullopt, true);
  EXPECT_FALSE(nothing.is_there());
  EXPECT_TRUE(std::isnan(nothing.gap_m({0, 0, 0.01})));
  EXPECT_FALSE(nothing.top_m(0, 0).has_value());
  EXPECT_TRUE(platform.is_there());
  EXPECT_EQ(platform.gap_m({0.3, 0, 0.01}), 0.01);
  EXPECT_EQ(platform.top_m(0.3, 0.1), 0.0);
}

TEST(RigidMould, TopIsTheFirstThingFromAbove) {
  const RigidMould cup(mesh::cup(0.01, 0.008, 0.012, 0.015, 32, 3), true);
  constexpr double kRound = 1e-14;                       // the ray starts a metre above
  EXPECT_NEAR(*cup.top_m(0.001, 0.002), 0.004, kRound);  // floor of the cavity
  EXPECT_NEAR(*cup.top_m(0.0125, 0.0), 0.012, kRound);   // its rim
  EXPECT_NEAR(*cup.top_m(0.03, 0.0), 0.0, kRound);       // the platform beside it
  const RigidMould floating(mesh::box({-0.01, -0.01, 0.002}, {0.01, 0.01, 0.01}), false);
  EXPECT_NEAR(*floating.top_m(0.0, 0.0), 0.01, kRound);
  EXPECT_FALSE(floating.top_m(0.02, 0.0).has_value());
}

}  // namespace
}  // namespace pellicle::mould
