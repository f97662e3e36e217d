// How high does a surface reach over each place of a grid?
#include "mesh/tops.h"

#include "mesh/check.h"
#include "mesh/side.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace pellicle::mesh {
namespace {

/// Cells of a row or column whose middles lie from `low` to `high`, in cells from the first one's.
std::pair<int, int> covered(double low, double high, int count) {
  const double last = count - 1.0;
  return {static_cast<int>(std::ceil(std::clamp(low, 0.0, last + 1.0))),
          static_cast<int>(std::floor(std::clamp(high, -1.0, last)))};
}

}  // namespace

std::vector<double> tops_m(const TriangleMesh& surface, const TopGrid& grid) {
  ensure(grid.nx > 0 && grid.ny > 0 && grid.spacing_m > 0.0, "a grid has cells");
  const Vec2 along_y(-grid.along_x.y(), grid.along_x.x());
  std::vector<Vec2> place(surface.points_m.size());  // in cells, from the middle of the first
  for (std::size_t i = 0; i < place.size(); ++i) {
    const Vec2 from = surface.points_m[i].head<2>() - grid.first_m;
    place[i] = Vec2(from.dot(grid.along_x), from.dot(along_y)) / grid.spacing_m;
  }
  std::vector<double> top(static_cast<std::size_t>(grid.nx) * static_cast<std::size_t>(grid.ny),
                          std::numeric_limits<double>::quiet_NaN());
  for (const Triangle& t : surface.triangles) {
    std::array<Vec2, 3> p;
    std::array<double, 3> z{};
    for (std::size_t k = 0; k < 3; ++k) {
      p[k] = place[static_cast<std::size_t>(t[k])];
      z[k] = surface.points_m[static_cast<std::size_t>(t[k])].z();
    }
    const auto [x0, x1] = std::minmax({p[0].x(), p[1].x(), p[2].x()});
    const auto [y0, y1] = std::minmax({p[0].y(), p[1].y(), p[2].y()});
    const auto [i0, i1] = covered(x0, x1, grid.nx);
    const auto [j0, j1] = covered(y0, y1, grid.ny);
    if (i0 > i1 || j0 > j1) continue;
    const std::array<Side, 3> opposite{Side(p[1], p[2]), Side(p[2], p[0]), Side(p[0], p[1])};
    for (int j = j0; j <= j1; ++j)
      for (int i = i0; i <= i1; ++i) {
        const Vec2 middle(i, j);
        const double a = opposite[0].left_of(middle), b = opposite[1].left_of(middle), c = opposite[2].left_of(middle);
        const bool inside = (a >= 0.0 && b >= 0.0 && c >= 0.0) || (a <= 0.0 && b <= 0.0 && c <= 0.0);
        if (!inside || a + b + c == 0.0) continue;
        double& here =
            top[static_cast<std::size_t>(j) * static_cast<std::size_t>(grid.nx) + static_cast<std::size_t>(i)];
        here = std::fmax(here, (a * z[0] + b * z[1] + c * z[2]) / (a + b + c));
      }
  }
  return top;
}

}  // namespace pellicle::mesh
