// Is every defect found where it was put, and none where there is none?
#include "mesh/inspect.h"
#include "mesh/visibility.h"
#include "tests/mesh/spoilt_shapes.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <cmath>
#include <numbers>
#include <set>

namespace pellicle::mesh {
namespace {

TriangleMesh block() { return box({0, 0, 0}, {0.02, 0.01, 0.006}); }
TriangleMesh ball() { return sphere({0, 0, 0.02}, 0.01, 3); }

Inspection look(const TriangleMesh& m) { return inspect(Nearest(m)); }

/// The kinds that were found.
std::set<Defect> kinds(const Inspection& r) {
  std::set<Defect> found;
  for (int k = 0; k < kDefects; ++k)
    if (r.of(static_cast<Defect>(k)).count > 0) found.insert(static_cast<Defect>(k));
  return found;
}

bool is_marked(const Inspection& r, int triangle, Defect defect) {
  return (r.marks[static_cast<std::size_t>(triangle)] >> static_cast<unsigned>(defect) & 1U) != 0;
}

Vec3 middle(const TriangleMesh& m, int triangle) {
  Vec3 sum = Vec3::Zero();
  for (const int i : m.triangles[static_cast<std::size_t>(triangle)])
    sum += m.points_m[static_cast<std::size_t>(i)] / 3.0;
  return sum;
}

TEST(Inspect, SoundShapesHaveNoDefectAndTheirVolume) {
  const TriangleMesh shapes[] = {block(),
                                 ball(),
                                 cylinder(0.01, 0, 0.02, 48),
                                 cup(0.01, 0.02, 0.03, 0.02, 48, 3),
                                 pocket(0.01, 0.008, 0.005, 0.01, 0.004),
                                 knob(0.008, 0.004)};
  const double volumes[] = {0.02 * 0.01 * 0.006, 4.0 / 3.0 * std::numbers::pi * 1e-6};
  for (const TriangleMesh& m : shapes) {
    const Inspection r = look(m);
    EXPECT_TRUE(kinds(r).empty()) << defect_name(*kinds(r).begin());
    ASSERT_EQ(r.bodies.size(), 1u);
    EXPECT_TRUE(r.bodies[0].is_closed);
    EXPECT_EQ(r.bodies[0].triangles, static_cast<int>(m.triangles.size()));
    EXPECT_GT(r.bodies[0].volume_m3, 0.0);
    EXPECT_EQ(mended(m, r).triangles, m.triangles);
  }
  EXPECT_NEAR(look(shapes[0]).bodies[0].volume_m3, volumes[0], 1e-12 * volumes[0]);
  EXPECT_NEAR(look(shapes[1]).bodies[0].volume_m3, volumes[1], 0.02 * volumes[1]);  // facets lie inside the sphere
}

TEST(Inspect, ATriangleThatIsMissingLeavesARimOfItsEdges) {
  const TriangleMesh whole = ball(), m = without(whole, 100);
  const Inspection r = look(m);
  EXPECT_EQ(kinds(r), std::set<Defect>{Defect::kHole});
  ASSERT_EQ(r.rims.size(), 1u);
  EXPECT_EQ(r.rims[0].points.size(), 3u);
  EXPECT_TRUE(r.rims[0].is_loop);
  EXPECT_LT((r.rims[0].centre_m - middle(whole, 100)).norm(), 1e-4);
  EXPECT_FALSE(r.bodies[0].is_closed);
  int beside = 0;
  for (std::size_t e = 0; e < m.triangles.size(); ++e)
    beside += is_marked(r, static_cast<int>(e), Defect::kHole) ? 1 : 0;
  EXPECT_EQ(beside, 3);
}

TEST(Inspect, TurnedTrianglesAreThoseWithLessAreaOrTheOnesThatMakeItHollow) {
  const TriangleMesh sound = ball();
  TriangleMesh few = turned(sound, {5, 77, 300}), most = sound;
  for (std::size_t e = 0; e < most.triangles.size(); ++e)
    if (e % 3 != 0) std::swap(most.triangles[e][1], most.triangles[e][2]);
  for (const TriangleMesh& m : {few, most}) {
    const Inspection r = look(m);
    EXPECT_EQ(kinds(r), std::set<Defect>{Defect::kTurned});
    EXPECT_GT(r.bodies[0].volume_m3, 0.0);
    const TriangleMesh good = mended(m, r);
    ASSERT_EQ(good.triangles.size(), sound.triangles.size());
    EXPECT_TRUE(kinds(look(good)).empty());
    EXPECT_GT(look(good).bodies[0].volume_m3, 0.0);
  }
  const Inspection r = look(few);
  EXPECT_EQ(r.of(Defect::kTurned).count, 3);
  EXPECT_TRUE(is_marked(r, 5, Defect::kTurned) && is_marked(r, 77, Defect::kTurned) &&
              is_marked(r, 300, Defect::kTurned));
  EXPECT_LT((r.of(Defect::kTurned).place_m - middle(few, 5)).norm(), 1e-12);
}

TEST(Inspect, WhatFacesInwardsIsInsideOutAloneAndAHollowWithin) {
  EXPECT_EQ(kinds(look(inside_out(ball()))), std::set<Defect>{Defect::kInsideOut});
  const TriangleMesh small = box({0.005, 0.003, 0.002}, {0.012, 0.007, 0.004});
  const Inspection hollow = look(together({block(), inside_out(small)}));
  EXPECT_TRUE(kinds(hollow).empty());
  EXPECT_EQ(hollow.bodies.size(), 2u);
  const Inspection nested = look(together({block(), small}));
  EXPECT_EQ(kinds(nested), std::set<Defect>{Defect::kNested});
  EXPECT_EQ(nested.of(Defect::kNested).count, 1);
  EXPECT_LT((nested.of(Defect::kNested).place_m - Vec3(0.0085, 0.005, 0.003)).norm(), 1e-12);
  // Beside each other they are neither, one of them inside out is.
  const Inspection apart = look(together({block(), inside_out(box({0.03, 0, 0}, {0.04, 0.01, 0.01}))}));
  EXPECT_EQ(kinds(apart), std::set<Defect>{Defect::kInsideOut});
  EXPECT_FALSE(apart.bodies[0].is_inside_out);
  EXPECT_TRUE(apart.bodies[1].is_inside_out);
}

TEST(Inspect, ATwistedBandHasOneSideAndOneRim) {
  const Inspection r = look(twisted_band());
  EXPECT_EQ(kinds(r), (std::set<Defect>{Defect::kHole, Defect::kOneSided}));
  EXPECT_EQ(r.rims.size(), 1u);
  EXPECT_EQ(r.of(Defect::kOneSided).count, 1);
}

TEST(Inspect, DoublesAreFoundWhicheverWayTheyRunAndLeftOut) {
  TriangleMesh m = block();
  const Triangle t = m.triangles[3];
  m.triangles.push_back({t[1], t[2], t[0]});
  m.triangles.push_back({t[0], t[2], t[1]});
  const Inspection r = look(m);
  EXPECT_EQ(kinds(r), std::set<Defect>{Defect::kDuplicate});
  EXPECT_EQ(r.of(Defect::kDuplicate).count, 2);
  EXPECT_FALSE(is_marked(r, 3, Defect::kDuplicate));
  EXPECT_EQ(mended(m, r).triangles, block().triangles);
}

TEST(Inspect, AFinMakesABranchAndIsTakenApart) {
  const TriangleMesh m = with_fin();
  const Inspection r = look(m);
  EXPECT_EQ(r.of(Defect::kBranch).count, 3);
  EXPECT_EQ(r.bodies.size(), 1u);
  EXPECT_FALSE(r.bodies[0].is_closed);
  const Inspection again = look(mended(m, r));
  EXPECT_EQ(again.of(Defect::kBranch).count, 0);
  ASSERT_EQ(again.bodies.size(), 2u);
  EXPECT_TRUE(again.bodies[0].is_closed);
  EXPECT_FALSE(again.bodies[1].is_closed);
}

TEST(Inspect, ANeedleIsASliver) {
  TriangleMesh m = block();
  const Triangle t = m.triangles[0];  // its edge 0-1 gets a point a hair off its middle, the needle closes the gap
  const Vec3 &a = m.points_m[static_cast<std::size_t>(t[0])], &b = m.points_m[static_cast<std::size_t>(t[1])];
  m.points_m.push_back(0.5 * (a + b));
  const int mid = static_cast<int>(m.points_m.size()) - 1;
  m.triangles[0] = {t[0], mid, t[2]};
  m.triangles.push_back({mid, t[1], t[2]});
  m.triangles.push_back({t[0], t[1], mid});
  const Inspection r = look(m);
  EXPECT_EQ(kinds(r), std::set<Defect>{Defect::kSliver});
  EXPECT_TRUE(is_marked(r, static_cast<int>(m.triangles.size()) - 1, Defect::kSliver));
  EXPECT_TRUE(r.bodies[0].is_closed);
}

TEST(Inspect, BodiesThatCutThroughEachOtherCrossAndThoseThatTouchDoNot) {
  const TriangleMesh other = box({0.013, 0.0021, 0.0013}, {0.027, 0.0072, 0.0093});
  const Inspection r = look(together({block(), other}));
  EXPECT_EQ(kinds(r), std::set<Defect>{Defect::kCrossing});
  EXPECT_GT(r.of(Defect::kCrossing).count, 4);
  // Face on face, edge on face, a corner on a face; and on one grid.
  for (const Vec3& to : {Vec3(0.02, 0, 0), Vec3(0.02, 0.003, 0.002), Vec3(0.02, 0.01, 0.006), Vec3(0.005, 0.01, 0.001)})
    EXPECT_TRUE(kinds(look(together({block(), box(to, to + Vec3(0.01, 0.01, 0.01))}))).empty()) << to.transpose();
  const Inspection tip = look(together({ball(), sphere({0, 0, 0.0393}, 0.01, 3)}));
  EXPECT_EQ(kinds(tip), std::set<Defect>{Defect::kCrossing});
}

TEST(Inspect, WallsAndSlotsHaveTheirWidth) {
  const TriangleMesh rib =
      together({box({0, 0, 0}, {0.03, 0.03, 0.004}), box({0.01, 0, 0.004}, {0.0107, 0.03, 0.006})});
  const InspectOptions wide{.crossings = false, .narrow = true, .widest_m = 0.02};
  const Inspection one = inspect(Nearest(rib), wide);
  ASSERT_TRUE(one.thinnest_wall.has_value());
  EXPECT_NEAR(one.thinnest_wall->width_m, 0.0007, 1e-7);  // round-off of the search, a millionth of the diagonal
  EXPECT_NEAR(one.thinnest_wall->place_m.x(), 0.01035, 1e-7);
  const TriangleMesh two = together({box({0, 0, 0}, {0.01, 0.03, 0.006}), box({0.0113, 0, 0}, {0.02, 0.03, 0.006})});
  const Inspection slot = inspect(Nearest(two), wide);
  ASSERT_TRUE(slot.narrowest_slot.has_value());
  EXPECT_NEAR(slot.narrowest_slot->width_m, 0.0013, 1e-7);
  EXPECT_NEAR(slot.narrowest_slot->place_m.x(), 0.01065, 1e-7);
  EXPECT_FALSE(inspect(Nearest(ball()), wide).narrowest_slot.has_value());
}

TEST(Inspect, ThreadsDoNotDecide) {
  const TriangleMesh m =
      together({turned(ball(), {3, 90}), block(), box({0.013, 0.002, 0.001}, {0.027, 0.007, 0.009})});
  const int before = omp_get_max_threads();
  std::vector<Inspection> results;
  std::vector<Visibility> views;
  for (const int threads : {1, 2, 5}) {
    omp_set_num_threads(threads);
    results.push_back(look(m));
    views.push_back(look_from_above(Nearest(m), 0.0));
  }
  omp_set_num_threads(before);
  for (std::size_t k = 1; k < results.size(); ++k) {
    EXPECT_EQ(results[k].marks, results[0].marks);
    EXPECT_EQ(results[k].thinnest_wall->place_m, results[0].thinnest_wall->place_m);
    EXPECT_EQ(views[k].sight, views[0].sight);
    EXPECT_EQ(views[k].undercut_depth_m, views[0].undercut_depth_m);
  }
}

}  // namespace
}  // namespace pellicle::mesh
