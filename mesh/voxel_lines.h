// How much of each cell do straight lines along one axis see inside a surface?
#pragma once

#include "mesh/triangle_mesh.h"

#include <array>
#include <cstdint>
#include <vector>

namespace pellicle::mesh {

/// Cells as in Voxels.
struct CellBox {
  std::array<int, 3> cells;
  Vec3 low_m;
  double cell_m;
  std::size_t size() const {
    return static_cast<std::size_t>(cells[0]) * static_cast<std::size_t>(cells[1]) * static_cast<std::size_t>(cells[2]);
  }
};

/// One number a cell.
struct LineCover {
  std::vector<float> share;         ///< mean over the cell's samples^2 lines of the length inside, over the cell's edge
  std::vector<std::uint8_t> doubt;  ///< 1: a line through it leaves the surface other than it came
};

/// A line is inside where it has entered more often than it has left. It is in doubt if it ever leaves more often, or
/// does not end outside: then it counts as empty.
LineCover cover_along(int axis, const TriangleMesh& mesh, const CellBox& box, int samples);

}  // namespace pellicle::mesh
