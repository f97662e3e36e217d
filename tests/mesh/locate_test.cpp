// Is a field read between its nodes as it was put there? Linear fields come back exactly, on any mesh.
#include "mesh/locate.h"

#include "mesh/sheet_mesher.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>

namespace pellicle::mesh {
namespace {

TriangleMesh square(int n) {
  TriangleMesh mesh;
  for (int j = 0; j <= n; ++j)
    for (int i = 0; i <= n; ++i) mesh.points_m.emplace_back(1.0 * i / n, 1.0 * j / n, 0.3 * i / n);
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < n; ++i) {
      const int p = j * (n + 1) + i;
      mesh.triangles.push_back({p, p + 1, p + n + 2});
      mesh.triangles.push_back({p, p + n + 2, p + n + 1});
    }
  return mesh;
}

double linear(const Vec3& p) { return 2.0 + 3.0 * p.x() - 5.0 * p.y(); }

TEST(Locate, ALinearFieldComesBackExactly) {
  const Nearest surface(square(7));
  std::vector<double> values;
  for (const Vec3& p : surface.mesh().points_m) values.push_back(linear(p));
  std::mt19937 random(7);
  std::uniform_real_distribution<double> in_unit(0.0, 1.0);
  const Vec3 normal = surface.normal(0);
  for (int i = 0; i < 500; ++i) {
    const double x = in_unit(random), y = in_unit(random), away = 0.04 * (in_unit(random) - 0.5);
    const Vec3 p{x, y, 0.3 * x}, asked = p + away * normal;
    const Spot spot = spot_on(surface, asked);
    ASSERT_GE(spot.triangle, 0);
    // Beside the rim the foot of the normal may lie outside: there the nearest place is another.
    if (x > 0.02 && x < 0.98) {
      EXPECT_NEAR(spot.distance_m, std::abs(away), 1e-12);
    }
    EXPECT_NEAR(value_at(spot, surface.mesh().triangles, values), linear(spot.point_m), 1e-12);
    EXPECT_NEAR(spot.shares[0] + spot.shares[1] + spot.shares[2], 1.0, 1e-15);
  }
}

TEST(Locate, ANodeHasItsOwnValueThoughANeighbourHasNone) {
  const Nearest surface(square(3));
  std::vector<double> values(surface.mesh().points_m.size(), std::numeric_limits<double>::quiet_NaN());
  values[5] = 4.0;
  EXPECT_EQ(value_at(spot_on(surface, surface.mesh().points_m[5]), surface.mesh().triangles, values), 4.0);
  const Vec3 between = 0.5 * (surface.mesh().points_m[5] + surface.mesh().points_m[6]);
  EXPECT_TRUE(std::isnan(value_at(spot_on(surface, between), surface.mesh().triangles, values)));
}

TEST(Locate, TheRimOfAFinerMeshLiesInACoarseOneAndABiggerSheetDoesNot) {
  const Outline disc{Disc{0.05}, Vec2::Zero()};
  const auto flat = [](const SheetMesh& m) { return Nearest(flat_surface(m.flat_m, m.triangles)); };
  const Nearest coarse = flat(mesh_sheet(disc, {8e-3, 8e-3, {}}));
  const SheetMesh fine = mesh_sheet(disc, {2e-3, 2e-3, {}});
  int outside_by_distance = 0;
  for (const Vec2& p : fine.flat_m) {
    EXPECT_GE(spot_in_flat(coarse, p).triangle, 0) << p.transpose();
    outside_by_distance += spot_on(coarse, {p.x(), p.y(), 0.0}).distance_m > 0.0 ? 1 : 0;
  }
  EXPECT_GT(outside_by_distance, 10) << "some of the fine rim lies outside the coarse chords";
  EXPECT_LT(spot_in_flat(coarse, Vec2(0.0515, 0.0)).triangle, 0);
}

TEST(Locate, NoTriangleNoPlace) {
  EXPECT_LT(spot_on(Nearest(TriangleMesh{}), Vec3::Zero()).triangle, 0);
  EXPECT_THROW(value_at(Spot{}, {}, {}), std::logic_error);
}

}  // namespace
}  // namespace pellicle::mesh
