// Which triangles meet at each edge of a surface?
#pragma once

#include "mesh/triangle_mesh.h"

#include <cstddef>
#include <span>
#include <vector>

namespace pellicle::mesh {

/// One side of a triangle, kept at the end with the smaller number.
struct EdgeUse {
  int other;  ///< the end with the larger number
  int slot;   ///< 3 * triangle + edge
  bool up;    ///< runs from the smaller number to the larger

  int triangle() const { return slot / 3; }
};

/// All edges of a surface with the triangles at each, found by their ends.
class Edges {
 public:
  /// `left_out` (empty, or a flag for each triangle): triangles that are not looked at.
  explicit Edges(const TriangleMesh& mesh, std::span<const char> left_out = {});

  /// visit(low, uses) for every edge, by ascending ends; uses: its triangles by ascending slot.
  template <class Visit>
  void for_each(Visit&& visit) const {
    for (std::size_t i = 0; i + 1 < start_.size(); ++i)
      for (std::size_t from = start_[i], to = from; from < start_[i + 1]; from = to) {
        while (to < start_[i + 1] && uses_[to].other == uses_[from].other) ++to;
        visit(static_cast<int>(i), std::span<const EdgeUse>(uses_.data() + from, to - from));
      }
  }

 private:
  std::vector<std::size_t> start_;  ///< of the edges whose smaller end is point i, and the end
  std::vector<EdgeUse> uses_;       ///< by other, then slot
};

}  // namespace pellicle::mesh
