// Where does the surface of a mould hang on the cells that stand for its solid?
#include "solver/mould/body_surface.h"

#include "mesh/check.h"

#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <cstdlib>
#include <limits>
#include <vector>

namespace pellicle::mould {
namespace {

constexpr double kInwards = 0.1;  // cells: so far behind the surface its cell is looked for

std::size_t at(int i) { return static_cast<std::size_t>(i); }

double material(const Shares& s) { return static_cast<double>(s[0]) + static_cast<double>(s[1]); }

/// Empties the cells that no way over faces of solid cells joins to the floor; returns how much was in them, in cells.
double drop_loose(CellGrid& grid) {
  std::vector<char> stands(grid.share.size(), 0);
  std::vector<int> left;
  for (int j = 0; j < grid.cells[1]; ++j)
    for (int i = 0; i < grid.cells[0]; ++i) {
      const int p = grid.place_of(i, j, 0);
      if (grid.is_solid(p)) stands[at(p)] = 1, left.push_back(p);
    }
  while (!left.empty()) {
    const int p = left.back();
    left.pop_back();
    for (const int step : grid.step)
      for (const int q : {p - step, p + step})
        if (grid.is_solid(q) && stands[at(q)] == 0) stands[at(q)] = 1, left.push_back(q);
  }
  double dropped = 0.0;
  for (std::size_t p = 0; p < grid.share.size(); ++p) {
    if (stands[p] != 0) continue;
    dropped += material(grid.share[p]);
    grid.share[p] = {0.0F, 0.0F};
  }
  return dropped;
}

/// A convex polygon; a triangle cut by six planes has nine corners at most.
struct Polygon {
  std::array<Vec3, 12> corners;
  int count = 0;
  Polygon() { corners.fill(Vec3::Zero()); }
  void add(const Vec3& x) { corners[at(count++)] = x; }
};

/// The parts of a polygon below and above x[axis] = c.
std::array<Polygon, 2> split(const Polygon& whole, int axis, double c) {
  std::array<Polygon, 2> parts;
  for (int i = 0; i < whole.count; ++i) {
    const Vec3 &a = whole.corners[at(i)], &b = whole.corners[at((i + 1) % whole.count)];
    const double da = a[axis] - c, db = b[axis] - c;
    if (da <= 0.0) parts[0].add(a);
    if (da >= 0.0) parts[1].add(a);
    if ((da < 0.0 && db > 0.0) || (da > 0.0 && db < 0.0)) {
      Vec3 x = a + da / (da - db) * (b - a);
      x[axis] = c;
      parts[0].add(x);
      parts[1].add(x);
    }
  }
  return parts;
}

/// In units of cells.
void cut(const Polygon& polygon, int axis, const VisitPlace& visit) {
  if (axis == 3) {
    const Vec3& a = polygon.corners[0];
    for (int i = 1; i + 1 < polygon.count; ++i) {
      const Vec3 &b = polygon.corners[at(i)], &c = polygon.corners[at(i + 1)];
      const double third = 0.5 * (b - a).cross(c - a).norm() / 3.0;
      if (third == 0.0) continue;
      visit((4.0 * a + b + c) / 6.0, third);
      visit((a + 4.0 * b + c) / 6.0, third);
      visit((a + b + 4.0 * c) / 6.0, third);
    }
    return;
  }
  double low = polygon.corners[0][axis], high = low;
  for (int i = 1; i < polygon.count; ++i) {
    low = std::min(low, polygon.corners[at(i)][axis]);
    high = std::max(high, polygon.corners[at(i)][axis]);
  }
  Polygon rest = polygon;
  for (double c = std::floor(low) + 1.0; c < high; c += 1.0) {
    const auto parts = split(rest, axis, c);
    if (parts[0].count >= 3) cut(parts[0], axis + 1, visit);
    rest = parts[1];
  }
  if (rest.count >= 3) cut(rest, axis + 1, visit);
}

}  // namespace

SolidCells solid_cells(const mesh::Voxels& voxels) {
  SolidCells solid{empty_grid(voxels.cells), voxels.low_m, voxels.cell_m, 0.0, 0.0};
  double whole = 0.0, thin = 0.0;
  for (int k = 0; k < voxels.cells[2]; ++k)
    for (int j = 0; j < voxels.cells[1]; ++j)
      for (int i = 0; i < voxels.cells[0]; ++i) {
        const std::size_t c = voxels.index(i, j, k);
        const Shares s{voxels.shell[c], voxels.fill[c]};
        whole += material(s);
        if (s[0] + s[1] < kLeastShare)
          thin += material(s);
        else
          solid.grid.share[at(solid.grid.place_of(i, j, k))] = s;
      }
  if (std::none_of(solid.grid.share.begin(), solid.grid.share.end(), [](const Shares& s) { return material(s) > 0.0; }))
    throw Error({Fault::Kind::kGeometry, "solid model of the mould", "no cell with material in it",
                 fmt::format("cells filled to {:.0f} % and more", 100.0 * static_cast<double>(kLeastShare)),
                 "check the mould's place over the platform, or take smaller cells"});
  const double loose = drop_loose(solid.grid);
  if (loose > kMostLoose * whole)
    throw Error({Fault::Kind::kGeometry, "solid model of the mould",
                 fmt::format("{:.2g} % of it does not stand on the platform", 100.0 * loose / whole),
                 fmt::format("at most {:.2g} %", 100.0 * kMostLoose),
                 "move the mould down to the platform, join its parts, or take smaller cells"});
  const double cell_m3 = voxels.cell_m * voxels.cell_m * voxels.cell_m;
  solid.loose_m3 = loose * cell_m3;
  solid.left_out_m3 = (loose + thin) * cell_m3;
  number_nodes(solid.grid);
  return solid;
}

Vec3 SolidCells::node_m(int node) const {
  const auto [i, j, k] = grid.where(grid.place[at(node)]);
  return low_m + cell_m * Vec3(i, j, k);
}

void cut_by_cells(const SolidCells& solid, const std::array<Vec3, 3>& corners_m, const VisitPlace& visit) {
  Polygon triangle;
  for (const Vec3& x : corners_m) triangle.add((x - solid.low_m) / solid.cell_m);
  cut(triangle, 0,
      [&](const Vec3& x, double area) { visit(solid.low_m + solid.cell_m * x, area * solid.cell_m * solid.cell_m); });
}

Spot spot_of(const SolidCells& solid, const Vec3& x_m, const Vec3& outward) {
  const CellGrid& grid = solid.grid;
  const Vec3 x = (x_m - solid.low_m) / solid.cell_m, inside = x - kInwards * outward;
  std::array<int, 3> home{};
  for (int d = 0; d < 3; ++d)
    home[at(d)] = static_cast<int>(std::clamp(std::floor(inside[d]), 0.0, grid.cells[at(d)] - 1.0));
  Spot best;
  double nearest = std::numeric_limits<double>::infinity();
  for (int ring = 0; ring <= kFarthestRing; ++ring) {
    if (nearest <= ring - 1.0) break;  // cells of this ring are at least that far
    for (int k = home[2] - ring; k <= home[2] + ring; ++k)
      for (int j = home[1] - ring; j <= home[1] + ring; ++j)
        for (int i = home[0] - ring; i <= home[0] + ring; ++i) {
          const bool is_on_ring =
              std::max({std::abs(i - home[0]), std::abs(j - home[1]), std::abs(k - home[2])}) == ring;
          if (!is_on_ring || i < 0 || j < 0 || k < 0 || i >= grid.cells[0] || j >= grid.cells[1] || k >= grid.cells[2])
            continue;
          if (!grid.is_solid(grid.place_of(i, j, k))) continue;
          const Vec3 from_middle = inside - Vec3(i + 0.5, j + 0.5, k + 0.5);
          const double distance = (from_middle.cwiseAbs() - Vec3::Constant(0.5)).cwiseMax(0.0).norm();
          if (distance < nearest) {
            nearest = distance;
            best = {grid.place_of(i, j, k), 2.0 * (x - Vec3(i + 0.5, j + 0.5, k + 0.5))};
          }
        }
  }
  return best;
}

}  // namespace pellicle::mould
