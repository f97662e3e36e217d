// Does refinement leave a conforming mesh of the same area, with no edge too short and no angle too sharp?
#include "mesh/refine.h"

#include "mesh/sheet_mesher.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <map>

namespace pellicle::mesh {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

struct Plane {
  std::vector<Vec2> points;
  std::vector<Triangle> triangles;
};

Plane disc(double element_m) {
  const SheetMesh mesh = mesh_sheet({.shape = Disc{0.1}}, {element_m, element_m, {}});
  return {mesh.flat_m, mesh.triangles};
}

Refined step(Plane& plane, const std::vector<char>& wanted, double shortest_m) {
  Refined r = refine(plane.points, plane.triangles, wanted, shortest_m);
  for (const auto& ends : r.ends) plane.points.push_back(0.5 * (plane.points[at(ends[0])] + plane.points[at(ends[1])]));
  plane.triangles = r.triangles;
  return r;
}

std::vector<char> near(const Plane& plane, const Vec2& place, double radius_m) {
  std::vector<char> wanted;
  for (const Triangle& t : plane.triangles)
    wanted.push_back(((plane.points[at(t[0])] + plane.points[at(t[1])] + plane.points[at(t[2])]) / 3.0 - place).norm() <
                     radius_m);
  return wanted;
}

double area(const Plane& plane, const Triangle& t) {
  const Vec2 a = plane.points[at(t[1])] - plane.points[at(t[0])], b = plane.points[at(t[2])] - plane.points[at(t[0])];
  return 0.5 * (a.x() * b.y() - a.y() * b.x());
}

double smallest_angle(const Plane& plane) {
  double smallest = 10.0;
  for (const Triangle& t : plane.triangles)
    for (int k = 0; k < 3; ++k) {
      const Vec2 &o = plane.points[at(t[at(k)])], a = plane.points[at(t[at((k + 1) % 3)])] - o,
                 b = plane.points[at(t[at((k + 2) % 3)])] - o;
      smallest = std::min(smallest, std::acos(a.dot(b) / (a.norm() * b.norm())));
    }
  return smallest;
}

/// Every edge once each way, or once alone on the outline: a hanging node would leave its edge without a partner. The
/// length of what is alone is the outline's.
double lone_length(const Plane& plane) {
  std::map<std::pair<int, int>, int> edges;
  for (const Triangle& t : plane.triangles)
    for (int k = 0; k < 3; ++k) ++edges[{t[at(k)], t[at((k + 1) % 3)]}];
  double length = 0.0;
  for (const auto& [edge, times] : edges) {
    EXPECT_EQ(times, 1);
    if (!edges.count({edge.second, edge.first}))
      length += (plane.points[at(edge.first)] - plane.points[at(edge.second)]).norm();
  }
  return length;
}

TEST(Refine, KeepsTheOutlineTheAreaAndTheAnglesHoweverOftenItIsUsed) {
  Plane plane = disc(8e-3);
  const double outline = lone_length(plane), angle = smallest_angle(plane);
  double whole = 0.0;
  for (const Triangle& t : plane.triangles) whole += area(plane, t);
  for (int round = 0; round < 8; ++round) {
    const auto before = plane.triangles.size();
    const std::vector<double> old_area = [&] {
      std::vector<double> all;
      for (const Triangle& t : plane.triangles) all.push_back(area(plane, t));
      return all;
    }();
    const Refined r = step(plane, near(plane, {0.02, 0.01}, 6e-3), 1e-4);
    ASSERT_GT(plane.triangles.size(), before);
    std::vector<double> children(before, 0.0);
    for (std::size_t e = 0; e < plane.triangles.size(); ++e) {
      EXPECT_GT(area(plane, plane.triangles[e]), 0.0);
      children[at(r.parent[e])] += area(plane, plane.triangles[e]);
    }
    for (std::size_t e = 0; e < before; ++e) EXPECT_NEAR(children[e], old_area[e], 1e-14 * old_area[e] + 1e-19);
    EXPECT_TRUE(std::is_sorted(r.parent.begin(), r.parent.end()));
    EXPECT_NEAR(lone_length(plane), outline, 1e-12 * outline);
  }
  double now = 0.0;
  for (const Triangle& t : plane.triangles) now += area(plane, t);
  EXPECT_NEAR(now, whole, 1e-13 * whole);
  EXPECT_GE(smallest_angle(plane), 0.5 * angle * (1.0 - 1e-12));  // the theorem of Rosenberg and Stenger
}

TEST(Refine, StopsAtTheShortestEdge) {
  Plane plane = disc(8e-3);
  double shortest_before = 1.0;
  for (const Triangle& t : plane.triangles)
    for (int k = 0; k < 3; ++k)
      shortest_before =
          std::min(shortest_before, (plane.points[at(t[at(k)])] - plane.points[at(t[at((k + 1) % 3)])]).norm());
  constexpr double kShortest_m = 1e-3;
  ASSERT_GT(shortest_before, kShortest_m);
  std::size_t before = 0;
  while (before != plane.triangles.size()) {
    before = plane.triangles.size();
    const std::size_t old = plane.points.size();
    const Refined r = step(plane, std::vector<char>(before, 1), kShortest_m);
    for (std::size_t k = 0; k < r.ends.size(); ++k)
      EXPECT_GE((plane.points[old + k] - plane.points[at(r.ends[k][0])]).norm(), kShortest_m);
  }
  for (const Triangle& t : plane.triangles)
    for (int k = 0; k < 3; ++k)
      EXPECT_LT((plane.points[at(t[at(k)])] - plane.points[at(t[at((k + 1) % 3)])]).norm(), 2.0 * kShortest_m);
}

TEST(Refine, LeavesWhatIsFarAsItWas) {
  Plane plane = disc(8e-3);
  const Plane before = plane;
  const Refined r = step(plane, near(plane, {0.02, 0.01}, 4e-3), 1e-4);
  ASSERT_FALSE(r.ends.empty());
  std::size_t kept = 0;
  for (std::size_t e = 0; e < r.triangles.size(); ++e) kept += r.triangles[e] == before.triangles[at(r.parent[e])];
  // A handful wanted, each pulling in a neighbour or two, each of these another at most: far below a tenth of all.
  EXPECT_GT(kept, before.triangles.size() * 9 / 10);
  EXPECT_LT(kept, before.triangles.size());
}

TEST(Refine, NothingWantedChangesNothing) {
  const Plane plane = disc(8e-3);
  const Refined r = refine(plane.points, plane.triangles, std::vector<char>(plane.triangles.size(), 0), 1e-4);
  EXPECT_EQ(r.triangles, plane.triangles);
  EXPECT_TRUE(r.ends.empty());
}

TEST(Refine, CutsTwoEqualSquaresTheSameWayFromBothSides) {
  // Isosceles right triangles: both legs and both hypotenuses tie; the shared edge must be cut by both or by neither.
  const std::vector<Vec2> points{{0, 0}, {1, 0}, {1, 1}, {0, 1}};
  const std::vector<Triangle> triangles{{0, 1, 2}, {0, 2, 3}};
  const Refined r = refine(points, triangles, std::vector<char>{1, 0}, 0.1);
  EXPECT_EQ(r.ends, (std::vector<std::array<int, 2>>{{0, 2}}));
  EXPECT_EQ(r.triangles.size(), 4U);
}

}  // namespace
}  // namespace pellicle::mesh
