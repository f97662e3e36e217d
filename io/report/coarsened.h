// How is a mould of millions of triangles shown on a page for the mail? Coarser, by known cells.
#pragma once

#include "mesh/triangle_mesh.h"

#include <cstddef>

namespace pellicle::report {

struct Coarsened {
  mesh::TriangleMesh surface;
  double cell_m = 0.0;  ///< edge of the cells; 0: every triangle is there
};

/// The surface itself if it has no more than `most_triangles` (at least 100), or else all corners in a cell of a cubic
/// grid moved to their mean, and triangles that collapse left out: no point moves by more than the cell's diagonal.
/// (Clustering of vertices: Rossignac and Borrel, Modeling in Computer Graphics, Springer 1993, p. 455; from memory.)
/// The cells are as small as suits the number, to a fifth. Same result for same numbers.
Coarsened coarsened(const mesh::TriangleMesh& mesh, std::size_t most_triangles);

}  // namespace pellicle::report
