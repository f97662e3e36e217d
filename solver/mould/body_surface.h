// Where does the surface of a mould hang on the cells that stand for its solid?
#pragma once

#include "mesh/triangle_mesh.h"
#include "mesh/voxels.h"
#include "solver/mould/cell_grid.h"

#include <Eigen/Core>
#include <Eigen/Geometry>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>

namespace pellicle::mould {

using mesh::Vec3;

/// The cells of a mould that carry something. Cells with less material than kLeastShare are left out; so are pieces
/// that hang on the rest by edges, corners or nothing, or do not reach the floor.
struct SolidCells {
  CellGrid grid;
  Vec3 low_m = Vec3::Zero();
  double cell_m = 0.0;
  double left_out_m3 = 0.0;  ///< material in cells left out
  double loose_m3 = 0.0;     ///< of it in whole pieces that do not stand on the floor

  Vec3 node_m(int node) const;
};
inline constexpr float kLeastShare = 0.05F;
/// Of the material: more in loose pieces is an Error (kGeometry), as is a mould that nowhere reaches the floor.
inline constexpr double kMostLoose = 0.01;
SolidCells solid_cells(const mesh::Voxels& voxels);

/// A place in a solid cell, or a little outside of it.
struct Spot {
  int cell = -1;           ///< its place in the grid; -1: no solid cell within kFarthestRing cells
  Vec3 at = Vec3::Zero();  ///< from the cell's middle, in half edges
};
inline constexpr int kFarthestRing = 4;

/// The solid cell that holds a point of the surface, or else the nearest one; `outward` (unit) tells cells that touch
/// at the point apart.
Spot spot_of(const SolidCells& solid, const Vec3& x_m, const Vec3& outward);

/// Shows a triangle cut along the borders of the cells, each piece by points of a rule that is exact for quadratic
/// functions: visit(x_m, area_m2). Areas sum up to the triangle's.
using VisitPlace = std::function<void(const Vec3& x_m, double area_m2)>;
void cut_by_cells(const SolidCells& solid, const std::array<Vec3, 3>& corners_m, const VisitPlace& visit);

/// Shows n^2 equal pieces of a triangle, edges no longer than longest_m, by their middle and by a corner with the two
/// edges from it: visit(middle_m, area_m2, corner_m, edge_m, other_edge_m). The areas sum up to the triangle's.
template <class Visit>
void for_whole_pieces(const Vec3& a_m, const Vec3& b_m, const Vec3& c_m, double longest_m, const Visit& visit) {
  const double edge_m = std::max({(b_m - a_m).norm(), (c_m - b_m).norm(), (a_m - c_m).norm()});
  const int n = std::max(1, static_cast<int>(std::ceil(edge_m / longest_m)));
  const double area_m2 = 0.5 * (b_m - a_m).cross(c_m - a_m).norm() / (static_cast<double>(n) * n);
  const Vec3 u = (b_m - a_m) / n, v = (c_m - a_m) / n;
  for (int i = 0; i < n; ++i)
    for (int j = 0; i + j < n; ++j) {
      visit(Vec3(a_m + (i + 1.0 / 3.0) * u + (j + 1.0 / 3.0) * v), area_m2, Vec3(a_m + i * u + j * v), u, v);
      if (i + j + 1 < n)
        visit(Vec3(a_m + (i + 2.0 / 3.0) * u + (j + 2.0 / 3.0) * v), area_m2, Vec3(a_m + (i + 1) * u + (j + 1) * v),
              Vec3(-u), Vec3(-v));
    }
}

/// The same by their middle alone: visit(middle_m, area_m2).
template <class Visit>
void for_pieces(const Vec3& a_m, const Vec3& b_m, const Vec3& c_m, double longest_m, const Visit& visit) {
  for_whole_pieces(
      a_m, b_m, c_m, longest_m,
      [&](const Vec3& middle_m, double area_m2, const Vec3&, const Vec3&, const Vec3&) { visit(middle_m, area_m2); });
}

}  // namespace pellicle::mould
