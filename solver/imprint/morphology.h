// Which parts of a height field are narrower than a given width, and how wide are they?
#pragma once

#include <vector>

namespace pellicle::imprint {

/// Heights over a grid of square cells, row by row, x fastest.
struct Field {
  int nx = 0, ny = 0;
  std::vector<double> at;  ///< nx * ny
  double operator()(int i, int j) const {
    return at[static_cast<std::size_t>(j) * static_cast<std::size_t>(nx) + static_cast<std::size_t>(i)];
  }
};

/// Least (largest) height within a regular octagon of so many cells from its middle to its sides, clipped at the edge
/// of the field. By four lines, each in a time that does not depend on its length (van Herk, Pattern Recognition
/// Letters 13 (1992) 517; from memory).
Field erode(const Field& field, int radius);
Field dilate(const Field& field, int radius);

/// What stays of raised (sunk) parts that hold such an octagon; narrower ones are gone.
Field opened(const Field& field, int radius);
Field closed(const Field& field, int radius);

/// Number of its connected part (over edges and corners) for every marked cell, from 0 in the order of the rows; -1
/// elsewhere.
struct Parts {
  int count = 0;
  std::vector<int> of;  ///< nx * ny
};
Parts parts_of(const std::vector<char>& marked, int nx, int ny);

/// Distance from the middle of each marked cell to that of the nearest cell that is not marked, in cells; 0 outside.
/// What lies beyond the field counts as not marked. Exact (Felzenszwalb & Huttenlocher, Theory of Computing 8 (2012)
/// 415; from memory).
std::vector<double> distance_to_edge(const std::vector<char>& marked, int nx, int ny);

/// As round as a dot, or square: hardly larger than the disc in it, there is no way along it. `most`: largest distance
/// to its edge, in cells.
bool is_dot(std::size_t cells, double most);

/// Cells along the middle of a part, in the order of its cells: those farther from its edge than the cells to both
/// sides; at least one. Corners and ends have short ridges of their own, which are left out, as is what is less than
/// half as wide as its widest place. Of a dot, one cell.
std::vector<std::size_t> middle_of(const std::vector<std::size_t>& part, const std::vector<double>& distance, int nx,
                                   int ny);

}  // namespace pellicle::imprint
