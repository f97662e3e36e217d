// How much of each cell does a shape cover? Exact areas of polygons on a grid.
#pragma once

#include "mesh/triangle_mesh.h"

#include <cstddef>
#include <vector>

namespace pellicle::reliefs {

/// A window of nx*ny cells of side 1, lower left corner at (0, 0). Edges of closed polygons are added one by one; each
/// adds the signed area between itself and the right border, so that the sum over a polygon is what it covers:
/// counter-clockwise +, clockwise -. (Accumulation of signed areas, as font rasterisers do it; from memory.)
class Coverage {
 public:
  Coverage(int nx, int ny);

  /// Both ends inside the window.
  void add_edge(const mesh::Vec2& from, const mesh::Vec2& to);

  /// Covered share of each cell, 0 to 1, row by row from below. Where parts of one shape lie on each other they count
  /// once; a cell on the border of both may then be off by what they share in it.
  std::vector<double> shares() const;

 private:
  void add_in_row(int row, double x0, double x1, double dy);

  int nx_, ny_;
  std::vector<double> sums_;  ///< ny*(nx + 1): change of coverage from the cell to the left
};

}  // namespace pellicle::reliefs
