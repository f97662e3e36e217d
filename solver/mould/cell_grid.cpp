// Which nodes do the solid cells of a mould have, and how are they numbered?
#include "solver/mould/cell_grid.h"

#include "mesh/check.h"

#include <limits>

namespace pellicle::mould {

CellGrid empty_grid(const std::array<int, 3>& cells) {
  CellGrid grid;
  grid.cells = cells;
  const auto wide = [&](std::size_t d) { return static_cast<long long>(cells[d]) + 3; };  // nodes and padding
  ensure(wide(0) * wide(1) * wide(2) < std::numeric_limits<int>::max(), "places of a grid are numbered by int");
  grid.step = {1, static_cast<int>(wide(0)), static_cast<int>(wide(0) * wide(1))};
  grid.share.assign(static_cast<std::size_t>(wide(0) * wide(1) * wide(2)), Shares{0.0F, 0.0F});
  return grid;
}

void number_nodes(CellGrid& grid) {
  grid.place.clear();
  std::vector<char> used(grid.share.size(), 0);
  for (int p = 0; p < static_cast<int>(grid.share.size()); ++p) {
    if (!grid.is_solid(p)) continue;
    for (int c = 0; c < 8; ++c) used[static_cast<std::size_t>(p + grid.to_corner(c))] = 1;
  }
  for (std::size_t p = 0; p < used.size(); ++p)
    if (used[p] != 0) grid.place.push_back(static_cast<int>(p));
  grid.number.assign(grid.share.size(), grid.nodes());
  for (int n = 0; n < grid.nodes(); ++n)
    grid.number[static_cast<std::size_t>(grid.place[static_cast<std::size_t>(n)])] = n;
}

CellGrid coarser(const CellGrid& grid) {
  CellGrid coarse = empty_grid({(grid.cells[0] + 1) / 2, (grid.cells[1] + 1) / 2, (grid.cells[2] + 1) / 2});
  for (int k = 0; k < grid.cells[2]; ++k)
    for (int j = 0; j < grid.cells[1]; ++j)
      for (int i = 0; i < grid.cells[0]; ++i)
        if (grid.is_solid(grid.place_of(i, j, k)))
          coarse.share[static_cast<std::size_t>(coarse.place_of(i / 2, j / 2, k / 2))] = {1.0F, 0.0F};
  number_nodes(coarse);
  return coarse;
}

}  // namespace pellicle::mould
