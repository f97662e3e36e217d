// Are the simple moulds closed, turned outwards, and as large as their formulas say?
#include "mesh/shapes.h"

#include "mesh/nearest.h"

#include <gtest/gtest.h>

#include <Eigen/Geometry>

#include <cmath>
#include <numbers>
#include <set>
#include <string>

namespace pellicle::mesh {
namespace {

constexpr double kPi = std::numbers::pi;

struct Size {
  double volume_m3 = 0.0;
  double area_m2 = 0.0;
};

/// Volume by the divergence theorem: a sixth of the sum of a.(b x c).
Size measure(const TriangleMesh& m) {
  Size size;
  for (const Triangle& t : m.triangles) {
    const Vec3& a = m.points_m[static_cast<std::size_t>(t[0])];
    const Vec3& b = m.points_m[static_cast<std::size_t>(t[1])];
    const Vec3& c = m.points_m[static_cast<std::size_t>(t[2])];
    size.volume_m3 += a.dot(b.cross(c)) / 6.0;
    size.area_m2 += 0.5 * (b - a).cross(c - a).norm();
  }
  return size;
}

/// Closed, outward (volume > 0 for closed and consistent), welded, no unused point, no triangle without area.
void expect_sound(const TriangleMesh& m, const std::string& name) {
  EXPECT_TRUE(Nearest(m).is_closed()) << name;
  EXPECT_GT(measure(m).volume_m3, 0.0) << name;
  std::set<std::array<double, 3>> places;
  std::set<int> used;
  for (const Vec3& p : m.points_m) places.insert({p.x(), p.y(), p.z()});
  for (const Triangle& t : m.triangles) {
    used.insert(t.begin(), t.end());
    EXPECT_GT(measure({m.points_m, {t}}).area_m2, 0.0) << name;
  }
  EXPECT_EQ(places.size(), m.points_m.size()) << name;
  EXPECT_EQ(used.size(), m.points_m.size()) << name;
}

/// Sums of some thousand terms of the solid's own size: 1e-12 is a few thousand roundings.
void expect_size(const TriangleMesh& m, double volume_m3, double area_m2, const std::string& name) {
  expect_sound(m, name);
  EXPECT_NEAR(measure(m).volume_m3, volume_m3, 1e-12 * volume_m3) << name;
  EXPECT_NEAR(measure(m).area_m2, area_m2, 1e-12 * area_m2) << name;
}

/// Of the regular polygon with n corners on the circle.
double polygon_area(double r, int n) { return 0.5 * n * r * r * std::sin(2.0 * kPi / n); }
double polygon_length(double r, int n) { return 2.0 * n * r * std::sin(kPi / n); }

TEST(Shapes, BoxHasItsVolumeAndArea) {
  expect_size(box(Vec3(1, 2, 3), Vec3(3, 5, 7)), 24.0, 2.0 * (6.0 + 8.0 + 12.0), "box");
}

// Volume of a frustum: height (A0 + sqrt(A0 A1) + A1) / 3 holds for similar ends; of any prismatoid (A0 + 4 Am + A1)
// / 6.
TEST(Shapes, DraftedPlateIsAPrismatoid) {
  const double x = 0.025, y = 0.008, high = 0.003, draft = 5.0 * kPi / 180.0, in = high * std::tan(draft);
  const auto level = [&](double share) { return 4.0 * (x - share * in) * (y - share * in); };
  const double walls = 4.0 * (x + y - in) * high / std::cos(draft);
  expect_size(drafted_plate(x, y, high, draft), high * (level(0.0) + 4.0 * level(0.5) + level(1.0)) / 6.0,
              level(0.0) + level(1.0) + walls, "drafted plate");
}

TEST(Shapes, CylinderIsAPrism) {
  for (const int n : {3, 4, 31, 360}) {
    expect_size(cylinder(0.02, -0.01, 0.03, n), 0.04 * polygon_area(0.02, n),
                2.0 * polygon_area(0.02, n) + 0.04 * polygon_length(0.02, n), "cylinder");
  }
}

// The volume a polyhedron with corners on the sphere lacks falls as the square of its edges: four times a subdivision.
TEST(Shapes, SphereConvergesFromInside) {
  const double exact = 4.0 / 3.0 * kPi * 0.05 * 0.05 * 0.05;
  double lack_before = 0.0;
  for (int n = 0; n < 5; ++n) {
    const TriangleMesh m = sphere(Vec3(1, 2, 3), 0.05, n);
    expect_sound(m, "sphere");
    EXPECT_EQ(m.triangles.size(), 20U << (2U * static_cast<unsigned>(n)));
    for (const Vec3& p : m.points_m) EXPECT_NEAR((p - Vec3(1, 2, 3)).norm(), 0.05, 1e-15);  // rounding at 3
    const double lack = exact - measure(m).volume_m3;
    EXPECT_GT(lack, 0.0);
    if (n >= 2) {  // the next order is as large as the coarser edge squared: 0.55 halved n - 2 times
      EXPECT_NEAR(lack_before / lack, 4.0, 0.3 * std::pow(0.25, n - 2));
    }
    lack_before = lack;
  }
}

TEST(Shapes, CupIsABlockLessItsCavity) {
  const double r = 0.02, depth = 0.03, outer = 0.04;
  for (const int n : {8, 48}) {
    for (const int rings : {1, 5}) {
      const double high = (1.0 + kCavityFloor) * depth;
      const TriangleMesh m = cup(r, depth, 0.005, outer, n, rings);
      expect_size(m, high * polygon_area(outer, n) - depth * polygon_area(r, n),
                  2.0 * polygon_area(outer, n) + high * polygon_length(outer, n) + depth * polygon_length(r, n), "cup");
      double top = -1.0;
      for (const Vec3& p : m.points_m) top = std::max(top, p.z());
      EXPECT_EQ(top, 0.005);
    }
  }
}

TEST(Shapes, ConeCupIsABlockLessAPyramid) {
  const double r = 0.02, outer = 0.04, angle = kPi / 3.0, depth = r * std::tan(angle);
  for (const int n : {8, 48}) {
    const double high = (1.0 + kCavityFloor) * depth;
    // A facet of the pyramid: base times slant height over two; the slant is over the flat's middle, r cos(pi/n).
    const double slant = std::hypot(depth, r * std::cos(kPi / n));
    expect_size(cone_cup(r, angle, 0.0, outer, n), high * polygon_area(outer, n) - depth * polygon_area(r, n) / 3.0,
                2.0 * polygon_area(outer, n) - polygon_area(r, n) + high * polygon_length(outer, n) +
                    0.5 * slant * polygon_length(r, n),
                "cone");
  }
}

TEST(Shapes, PocketIsABlockLessItsCavity) {
  const double x = 0.01, y = 0.03, depth = 0.02, margin = 0.005, height = 1.25 * depth;
  const double outer = 4.0 * (x + margin) * (y + margin), cavity = 4.0 * x * y;
  expect_size(pocket(x, y, depth, 0.0, margin), outer * height - cavity * depth,
              2.0 * outer + 4.0 * (x + y + 2.0 * margin) * height + 4.0 * (x + y) * depth, "pocket");
}

TEST(Shapes, TrenchIsABlockLessItsChannel) {
  const double w = 0.01, depth = 0.02, half_length = 0.05, outer = 0.03;
  const double high = (1.0 + kCavityFloor) * depth;
  const double section = 2.0 * outer * high - 2.0 * w * depth;
  const double around = 2.0 * (2.0 * outer) + 2.0 * high + 2.0 * depth;
  expect_size(trench(w, depth, 0.02, half_length, outer), section * 2.0 * half_length,
              around * 2.0 * half_length + 2.0 * section, "trench");
}

TEST(Shapes, CavitiesAreOpenAtTheTop) {
  const Nearest solid_cup(cup(0.02, 0.03, 0.0, 0.04, 48, 2));
  EXPECT_NEAR(solid_cup.ray(Vec3(0.001, 0.002, 1.0), -Vec3::UnitZ())->t_m, 1.03, 1e-15);
  const Nearest cone(cone_cup(0.02, kPi / 4.0, 0.0, 0.04, 48));
  EXPECT_NEAR(cone.ray(Vec3(0, 0, 1), -Vec3::UnitZ())->t_m, 1.02, 1e-15);
  const Nearest channel(trench(0.01, 0.02, 0.0, 0.05, 0.03));
  EXPECT_NEAR(channel.ray(Vec3(0.001, 0.002, 1.0), -Vec3::UnitZ())->t_m, 1.02, 1e-15);
  EXPECT_FALSE(channel.ray(Vec3(0.001, -1.0, -0.01), Vec3::UnitY()));  // through from end to end
}

}  // namespace
}  // namespace pellicle::mesh
