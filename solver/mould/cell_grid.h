// Which nodes do the solid cells of a mould have, and how are they numbered?
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

namespace pellicle::mould {

/// Shares of the two materials in a cell, each 0 to 1: what multiplies the two element matrices.
using Shares = std::array<float, 2>;

/// Cubes on a regular grid; only those that hold something have nodes. Arrays `share` and `number` are padded by one
/// layer on all sides, so that neighbours of any node can be asked. A cell has the place of its low corner node.
struct CellGrid {
  std::array<int, 3> cells{0, 0, 0};
  std::array<int, 3> step{1, 0, 0};  ///< of a place, to the next along x, y, z
  std::vector<Shares> share;         ///< by place
  std::vector<int> number;           ///< of the node, by place; nodes() where there is none
  std::vector<int> place;            ///< of each node, in rising order

  int nodes() const { return static_cast<int>(place.size()); }
  int place_of(int i, int j, int k) const { return (i + 1) + (j + 1) * step[1] + (k + 1) * step[2]; }
  std::array<int, 3> where(int place_number) const {
    return {place_number % step[1] - 1, place_number / step[1] % (step[2] / step[1]) - 1, place_number / step[2] - 1};
  }
  bool is_solid(int cell_place) const {
    const Shares& s = share[static_cast<std::size_t>(cell_place)];
    return s[0] > 0.0F || s[1] > 0.0F;
  }
  /// From a place to that of corner c of the cell there: bit 0 along x, 1 along y, 2 along z.
  int to_corner(int c) const { return (c & 1) + ((c >> 1) & 1) * step[1] + ((c >> 2) & 1) * step[2]; }
};

/// An empty grid, padding included; fill `share`, then call number_nodes.
CellGrid empty_grid(const std::array<int, 3>& cells);
void number_nodes(CellGrid& grid);

/// Twice as coarse: a cell is there if one of the eight within it is. Its shares are 1 or 0 and stand for nothing else.
CellGrid coarser(const CellGrid& grid);

}  // namespace pellicle::mould
