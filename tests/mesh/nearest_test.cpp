// Does the tree find what a search through every triangle finds, with the right sign?
#include "mesh/nearest.h"

#include "mesh/shapes.h"
#include "tests/mesh/nearest_samples.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <new>
#include <numbers>
#include <string>

// Counts allocations of this thread, to hold the promise that no query makes one. Not inlined, or the compiler sees a
// pointer from new go to free.
static thread_local long allocations = 0;
[[gnu::noinline]] void* operator new(std::size_t size) {
  ++allocations;
  if (void* p = std::malloc(size != 0 ? size : 1)) return p;
  throw std::bad_alloc();
}
[[gnu::noinline]] void* operator new(std::size_t size, const std::nothrow_t&) noexcept {
  ++allocations;
  return std::malloc(size != 0 ? size : 1);
}
[[gnu::noinline]] void operator delete(void* p) noexcept { std::free(p); }
[[gnu::noinline]] void operator delete(void* p, std::size_t) noexcept { std::free(p); }

namespace pellicle::mesh {
namespace {

std::vector<Closest> all_by_distance(const TriangleMesh& m, const Vec3& p) {
  std::vector<Closest> all;
  for (std::size_t t = 0; t < m.triangles.size(); ++t) {
    if (is_flat(m, t)) continue;
    all.push_back(closest_on_triangle(p, corner(m, t, 0), corner(m, t, 1), corner(m, t, 2)));
    all.back().triangle = static_cast<int>(t);
  }
  std::stable_sort(all.begin(), all.end(),
                   [](const Closest& a, const Closest& b) { return a.distance_m < b.distance_m; });
  return all;
}

bool same(const Closest& a, const Closest& b) {
  return a.triangle == b.triangle && a.feature == b.feature && a.distance_m == b.distance_m &&
         (a.triangle < 0 || a.point_m == b.point_m);
}

// The closest point x of a convex set obeys (p - x).(v - x) <= 0 for all its corners v, and nothing else does.
TEST(ClosestOnTriangle, IsInTheTriangleAndNoCornerIsNearer) {
  Dice dice(11);
  std::array<int, 7> met{};
  int checked = 0;
  for (int i = 0; i < 60000; ++i) {
    const double flatness = i % 2 == 0 ? 1.0 : std::pow(10.0, dice.in(-12.0, 0.0));  // height over length
    const Vec3 a = dice.cube(1.0), along = dice.direction();
    const Vec3 across = along.cross(dice.direction()).normalized() * flatness;
    const Vec3 b = a + along, c = a + dice.in(-0.2, 1.2) * along + across;
    const Vec3 p = i % 3 == 0 ? Vec3(a + dice.cube(2.0)) : Vec3(a + dice.in(-1, 2) * along + dice.cube(2.0 * flatness));
    const Closest x = closest_on_triangle(p, a, b, c);
    ++met[static_cast<std::size_t>(x.feature)];
    EXPECT_EQ(x.distance_m, (p - x.point_m).norm());
    // Lengths are about 1 to 3; half the digits of the barycentric numbers are left at flatness 1e-4
    // (triangle_shape.h), and an error there moves the point along the triangle by as much. Sound triangles: a few
    // roundings.
    const double tolerance = flatness == 1.0 ? 100.0 * kEps : 1e-7;
    for (const Vec3& v : {a, b, c}) EXPECT_LE((p - x.point_m).dot(v - x.point_m), tolerance) << "flatness " << flatness;
    // In the plane and within the three sides, by the distance to them.
    const Closest again = closest_on_triangle(x.point_m, a, b, c);
    EXPECT_LE(again.distance_m, flatness == 1.0 ? 20.0 * kEps : 1e-8) << "flatness " << flatness;
    ++checked;
  }
  EXPECT_EQ(checked, 60000);
  for (const int n : met) EXPECT_GT(n, 100);  // every face, edge and corner had its turn
}

TEST(ClosestOnTriangle, NeighboursGiveTheSameBitsOnTheirEdge) {
  Dice dice(12);
  int on_edge = 0;
  for (int i = 0; i < 20000; ++i) {
    const Vec3 a = dice.cube(1.0), b = dice.cube(1.0), c = dice.cube(1.0), d = dice.cube(1.0), p = dice.cube(2.0);
    const Closest here = closest_on_triangle(p, a, b, c), there = closest_on_triangle(p, b, a, d);
    if (here.feature != Feature::kEdge0 || there.feature != Feature::kEdge0) continue;
    EXPECT_EQ(here.point_m, there.point_m);
    EXPECT_EQ(here.distance_m, there.distance_m);
    ++on_edge;
  }
  EXPECT_GT(on_edge, 500);
}

TEST(ClosestOnTriangle, WithoutAreaIsItsEdgesAndNeverNaN) {
  const Vec3 a(0, 0, 0), b(2, 0, 0), c(0.5, 0, 0), p(1.0, 3.0, 4.0);
  EXPECT_DOUBLE_EQ(closest_on_triangle(p, a, b, c).distance_m, 5.0);
  EXPECT_DOUBLE_EQ(closest_on_triangle(p, a, a, b).distance_m, 5.0);
  EXPECT_DOUBLE_EQ(closest_on_triangle(p, a, a, a).distance_m, std::sqrt(26.0));
}

TEST(Nearest, FindsWhatASearchThroughAllFinds) {
  long checked = 0;
  for (const auto& [name, mesh] : samples()) {
    const Nearest nearest(mesh);
    for (const Vec3& p : questions(mesh, 1500, 21)) {
      const Closest wanted = all_by_distance(mesh, p).front();
      ASSERT_TRUE(same(nearest.closest(p), wanted))
          << name << " at " << p.transpose() << ": " << nearest.closest(p).triangle << " for " << wanted.triangle;
      // The limit counts as within; just below it there is nothing.
      ASSERT_TRUE(same(nearest.closest(p, wanted.distance_m), wanted)) << name;
      ASSERT_EQ(nearest.closest(p, std::nextafter(wanted.distance_m, -1.0)).triangle, -1) << name;
      ++checked;
    }
  }
  EXPECT_GE(checked, 9 * 1500);
}

TEST(Nearest, WithinListsTheSameAndSaysHowFarItIsComplete) {
  Dice dice(31);
  long whole = 0, cut = 0, empty = 0;
  for (const auto& [name, mesh] : samples()) {
    const Nearest nearest(mesh);
    for (const Vec3& p : questions(mesh, 800, 32)) {
      const std::vector<Closest> all = all_by_distance(mesh, p);
      const auto pick = static_cast<std::size_t>(dice.below(static_cast<int>(std::min<std::size_t>(all.size(), 40))));
      const double radius = all[pick].distance_m * dice.in(0.9, 1.1);
      const auto inside = static_cast<std::size_t>(
          std::count_if(all.begin(), all.end(), [radius](const Closest& c) { return c.distance_m <= radius; }));
      std::vector<Closest> out(static_cast<std::size_t>(1 + dice.below(24)));
      double complete = -1.0;
      const auto count = static_cast<std::size_t>(nearest.within(p, radius, out, complete));
      ASSERT_EQ(count, std::min(inside, out.size())) << name;
      for (std::size_t i = 0; i < count; ++i) ASSERT_TRUE(same(out[i], all[i])) << name << " place " << i;
      ASSERT_EQ(complete, inside > out.size() ? out.back().distance_m : radius) << name;
      (inside > out.size() ? cut : inside > 0 ? whole : empty) += 1;
    }
  }
  EXPECT_GT(whole, 500);
  EXPECT_GT(cut, 500);
  EXPECT_GT(empty, 100);
}

TEST(Nearest, AnswersNothingWhereThereIsNothing) {
  const Nearest nothing(TriangleMesh{});
  double complete = 0.0;
  std::array<Closest, 2> out;
  EXPECT_EQ(nothing.closest(Vec3::Zero()).triangle, -1);
  EXPECT_EQ(nothing.signed_distance_m(Vec3::Zero()), kInfinity);
  EXPECT_EQ(nothing.within(Vec3::Zero(), 1.0, out, complete), 0);
  EXPECT_FALSE(nothing.ray(Vec3::Zero(), Vec3::UnitX()));
  EXPECT_FALSE(nothing.is_closed());

  const Nearest cube(box(Vec3::Zero(), Vec3::Ones()));
  EXPECT_EQ(cube.closest(Vec3(3, 0, 0), -1.0).triangle, -1);
  EXPECT_EQ(cube.closest(Vec3(std::nan(""), 0, 0)).triangle, -1);
  EXPECT_EQ(cube.within(Vec3(0.5, 0.5, 1.0), -1.0, out, complete), 0);
  EXPECT_EQ(cube.within(Vec3(0.5, 0.5, 1.0), 0.1, std::span<Closest>(), complete), 0);
  EXPECT_EQ(complete, 0.0);

  const Nearest all_flat({{Vec3(0, 0, 0), Vec3(1, 0, 0), Vec3(2, 0, 0)}, {{0, 1, 2}, {0, 0, 1}}});
  EXPECT_EQ(all_flat.closest(Vec3(0, 1, 0)).triangle, -1);
  EXPECT_TRUE(all_flat.normal(0).isZero(0.0));
}

/// Distance to a box with its sign, in closed form.
double box_distance(const Vec3& p, const Vec3& low, const Vec3& high) {
  const Vec3 beyond = (low - p).cwiseMax(p - high);
  return beyond.cwiseMax(0.0).norm() + std::min(beyond.maxCoeff(), 0.0);
}

TEST(SignedDistance, OfABoxIsTheClosedFormAlsoAtEdgesAndCorners) {
  const Vec3 low(-0.03, -0.02, 0.0), high(0.03, 0.02, 0.01);
  const TriangleMesh mesh = box(low, high);
  const Nearest nearest(mesh);
  long inside = 0, outside = 0;
  for (const Vec3& p : questions(mesh, 20000, 41)) {
    const double wanted = box_distance(p, low, high);
    // A few roundings of the numbers that were subtracted.
    EXPECT_NEAR(nearest.signed_distance_m(p), wanted, 8.0 * kEps * (p.norm() + 0.03));
    (wanted < 0.0 ? inside : outside) += 1;
  }
  EXPECT_GT(inside, 2000);
  EXPECT_GT(outside, 2000);
}

/// Turns of the surface around a point: 1 inside, 0 outside (van Oosterom & Strackee, IEEE Trans. Biomed. Eng. 30
/// (1983) 125; from memory). Knows nothing of closest points.
double turns_around(const TriangleMesh& m, const Vec3& p) {
  double angle = 0.0;
  for (std::size_t t = 0; t < m.triangles.size(); ++t) {
    const Vec3 a = corner(m, t, 0) - p, b = corner(m, t, 1) - p, c = corner(m, t, 2) - p;
    const double la = a.norm(), lb = b.norm(), lc = c.norm();
    angle += 2.0 * std::atan2(a.dot(b.cross(c)), la * lb * lc + a.dot(b) * lc + b.dot(c) * la + c.dot(a) * lb);
  }
  return angle / (4.0 * std::numbers::pi);
}

/// A blade of 11 degrees whose edge is split on one side only, the gap filled the same way: there the normal of one
/// side alone gives the wrong sign.
TriangleMesh blade_with_filler() {
  return {{Vec3(0, -1, 0), Vec3(0, 1, 0), Vec3(1, 0, 0.1), Vec3(1, 0, -0.1), Vec3(0, 0, 0)},
          {{0, 2, 4}, {4, 2, 1}, {0, 4, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}}};
}

TEST(SignedDistance, HasTheSignOfTheWindingNumberRoundConvexAndConcaveEdges) {
  const std::vector<Sample> solids{
      {"sphere", sphere(Vec3::Zero(), 0.05, 2)},          {"trench", trench(0.01, 0.02, 0.02, 0.05, 0.03)},
      {"cup", cup(0.02, 0.03, 0.0, 0.04, 24, 2)},         {"steep cone", cone_cup(0.01, 1.5, 0.0, 0.02, 16)},
      {"flat cone", cone_cup(0.01, 0.05, 0.0, 0.02, 16)}, {"box with filler", box_with_filler()},
      {"blade with filler", blade_with_filler()}};
  for (const Sample& solid : solids) {
    const TriangleMesh& mesh = solid.mesh;
    const std::string& name = solid.name;
    const Nearest nearest(mesh);
    ASSERT_TRUE(nearest.is_closed()) << name;
    const double half = around(mesh).half;
    Dice dice(51);
    long inside = 0, outside = 0;
    const auto ask = [&](const Vec3& p) {
      if (nearest.closest(p).distance_m < 1e-12 * half) return;  // on the surface to rounding: either sign is right
      const bool is_inside = turns_around(mesh, p) > 0.5;
      EXPECT_EQ(nearest.signed_distance_m(p) < 0.0, is_inside) << name << " at " << p.transpose();
      (is_inside ? inside : outside) += 1;
    };
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
      for (std::size_t k = 0; k < 3; ++k) {
        for (const double size : {1e-8, 1e-6, 1e-4, 1e-3, 1e-2, 0.1, 0.3}) {
          ask(corner(mesh, t, k) + size * half * dice.direction());
          const double part = dice.in(0.0, 1.0);
          ask(part * corner(mesh, t, k) + (1.0 - part) * corner(mesh, t, (k + 1) % 3) + size * half * dice.direction());
        }
      }
    }
    EXPECT_GT(inside, 20) << name;  // the blade has little inside
    EXPECT_GT(outside, 50) << name;
  }
}

TEST(Pseudonormal, IsTheMiddleOfTheBoxsFacesHoweverTheyAreCutIntoTriangles) {
  const TriangleMesh mesh = box(Vec3(-1, -1, -1), Vec3(1, 1, 1));
  const Nearest nearest(mesh);
  const auto at = [&](const Vec3& p) { return nearest.pseudonormal(nearest.closest(p)); };
  // Angle weights make a corner's normal independent of the diagonals: atan2 and square roots, a few roundings.
  EXPECT_LT((at(Vec3(2, 2, 2)) - Vec3::Ones().normalized()).norm(), 8.0 * kEps);
  EXPECT_LT((at(Vec3(-2, 2, -2)) - Vec3(-1, 1, -1).normalized()).norm(), 8.0 * kEps);
  EXPECT_LT((at(Vec3(2, 2, 0.3)) - Vec3(1, 1, 0).normalized()).norm(), 8.0 * kEps);
  EXPECT_LT((at(Vec3(0.1, 0.2, 2)) - Vec3::UnitZ()).norm(), 8.0 * kEps);
  EXPECT_LT((at(Vec3(0.3, 0.3, 2)) - Vec3::UnitZ()).norm(), 8.0 * kEps);  // on the diagonal of the face
}

TEST(Nearest, NeighboursAcrossEdgesAreMutualAndOpenOnesAreSeen) {
  const Nearest cube(box(Vec3::Zero(), Vec3::Ones()));
  EXPECT_TRUE(cube.is_closed());
  int edges = 0;
  for (int t = 0; t < 12; ++t) {
    for (int k = 0; k < 3; ++k) {
      const int there = cube.across(t, k);
      ASSERT_GE(there, 0);
      int back = 0;
      for (int j = 0; j < 3; ++j) back += cube.across(there, j) == t ? 1 : 0;
      EXPECT_EQ(back, 1);
      ++edges;
    }
  }
  EXPECT_EQ(edges, 36);

  TriangleMesh open = box(Vec3::Zero(), Vec3::Ones());
  open.triangles.pop_back();
  EXPECT_FALSE(Nearest(open).is_closed());
  TriangleMesh flipped = box(Vec3::Zero(), Vec3::Ones());
  std::swap(flipped.triangles[5][0], flipped.triangles[5][1]);
  EXPECT_FALSE(Nearest(flipped).is_closed());
  // Three on one edge: no neighbour there.
  const Nearest fan({{Vec3(0, 0, 0), Vec3(1, 0, 0), Vec3(0, 1, 0), Vec3(0, 0, 1), Vec3(0, -1, 0)},
                     {{0, 1, 2}, {1, 0, 3}, {0, 1, 4}}});
  EXPECT_EQ(fan.across(0, 0), -1);
  EXPECT_EQ(fan.across(1, 0), -1);
  EXPECT_FALSE(fan.is_closed());
}

TEST(Nearest, GivesTheSameBitsFromManyThreadsAndAllocatesNothing) {
  const TriangleMesh mesh = sphere(Vec3::Zero(), 0.05, 4);
  const Nearest nearest(mesh);
  const std::vector<Vec3> points = questions(mesh, 4000, 81);
  const auto ask = [&](std::size_t i) {
    std::array<Closest, 8> out;
    double complete = 0.0;
    const int count = nearest.within(points[i], 0.003, out, complete);
    const auto hit = nearest.ray(points[i], Vec3::UnitZ());
    return nearest.signed_distance_m(points[i]) + complete + count + (hit ? hit->t_m : 0.0);
  };
  std::vector<double> one(points.size()), many(points.size());
  const long before = allocations;
  for (std::size_t i = 0; i < points.size(); ++i) one[i] = ask(i);
  EXPECT_EQ(allocations, before);
  EXPECT_GT(before, 0);  // the counter counts
#pragma omp parallel for num_threads(4) schedule(dynamic)
  for (std::size_t i = 0; i < points.size(); ++i) many[i] = ask(i);
  EXPECT_EQ(one, many);
}

TEST(Nearest, RefusesTrianglesWithoutPoints) {
  EXPECT_THROW(Nearest({{Vec3::Zero()}, {{0, 0, 1}}}), std::logic_error);
  EXPECT_THROW(Nearest({{Vec3::Zero()}, {{0, 0, -1}}}), std::logic_error);
}

// A spiral of ever smaller triangles is the worst for splitting by area; 4,000 equal ones cannot be split at all.
TEST(Nearest, StandsTreesThatCannotBeBalanced) {
  TriangleMesh mesh;
  for (int i = 0; i < 2000; ++i) {
    const double size = std::exp2(-0.1 * i);
    const int first = static_cast<int>(mesh.points_m.size());
    mesh.points_m.insert(mesh.points_m.end(), {Vec3(size, 0, 0), Vec3(0, size, 0), Vec3(0, 0, size)});
    mesh.triangles.push_back({first, first + 1, first + 2});
  }
  for (int i = 0; i < 4000; ++i) mesh.triangles.push_back({0, 1, 2});
  const Nearest nearest(mesh);
  int checked = 0;
  for (const Vec3& p : questions(mesh, 100, 91)) {
    EXPECT_TRUE(same(nearest.closest(p), all_by_distance(mesh, p).front()));
    ++checked;
  }
  EXPECT_GE(checked, 100);
}

}  // namespace
}  // namespace pellicle::mesh
