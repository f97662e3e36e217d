// Does the grid of tops see what a ray from above sees?
#include "mesh/tops.h"

#include "mesh/nearest.h"
#include "mesh/shapes.h"

#include <gtest/gtest.h>

#include <cmath>

namespace pellicle::mesh {
namespace {

TEST(Tops, AsRaysFromAbove) {
  // An undercut, walls, and facets of every lean; turned so that no edge runs along the grid.
  TriangleMesh surface = sphere({0, 0, 0}, 5e-3, 3);
  for (Vec3& p : surface.points_m) p += Vec3(1e-3, -2e-3, 4e-3);
  const double angle = 0.3;
  const TopGrid grid{{-7e-3, -6e-3}, {std::cos(angle), std::sin(angle)}, 0.11e-3, 120, 110};
  const std::vector<double> top = tops_m(surface, grid);
  const Nearest rays(surface);
  int seen = 0, beside = 0;
  for (int j = 0; j < grid.ny; ++j)
    for (int i = 0; i < grid.nx; ++i) {
      const Vec2 p = grid.first_m + grid.spacing_m * (i * grid.along_x + j * Vec2(-grid.along_x.y(), grid.along_x.x()));
      const auto hit = rays.ray({p.x(), p.y(), 1.0}, -Vec3::UnitZ());
      const double here = top[static_cast<std::size_t>(j * grid.nx + i)];
      ASSERT_EQ(hit.has_value(), !std::isnan(here)) << i << " " << j;
      hit ? ++seen : ++beside;
      if (hit) {
        // A facet at the rim leans so much that round-off in the place, 1e-18 m, is some 1e-15 m of height.
        EXPECT_NEAR(here, 1.0 - hit->t_m, 1e-13);
      }
    }
  EXPECT_GT(seen, 1000);
  EXPECT_GT(beside, 1000);
}

TEST(Tops, MiddlesOnEdgesAndTheHigherOfTwoLayers) {
  // Two unit squares, one over half of the other, their edges through middles of cells.
  TriangleMesh surface;
  surface.points_m = {{0, 0, 0}, {4, 0, 0}, {4, 4, 0}, {0, 4, 0}, {2, 0, 1}, {4, 0, 1}, {4, 4, 3}, {2, 4, 3}};
  surface.triangles = {{0, 1, 2}, {0, 2, 3}, {4, 6, 5}, {4, 7, 6}};  // the upper one upside down
  const std::vector<double> top = tops_m(surface, {{0, 0}, {1, 0}, 1.0, 6, 5});
  for (int j = 0; j < 5; ++j)
    for (int i = 0; i < 6; ++i) {
      const double here = top[static_cast<std::size_t>(6 * j + i)];
      if (i > 4)
        EXPECT_TRUE(std::isnan(here));
      else
        EXPECT_DOUBLE_EQ(here, i < 2 ? 0.0 : 1.0 + 0.5 * j) << i << " " << j;
    }
}

}  // namespace
}  // namespace pellicle::mesh
