// How high does a surface reach over each place of a grid?
#pragma once

#include "mesh/triangle_mesh.h"

#include <vector>

namespace pellicle::mesh {

/// Square cells, x fastest; first_m is the middle of the first, along_x a unit vector.
struct TopGrid {
  Vec2 first_m, along_x;
  double spacing_m;
  int nx, ny;
};

/// Highest point of the surface over the middle of each cell, nx * ny; NaN where there is none. The same as a ray from
/// above for each, to round-off, in a fraction of the time where triangles are larger than cells. Upright triangles are
/// not seen. A middle on an edge belongs to both triangles.
std::vector<double> tops_m(const TriangleMesh& surface, const TopGrid& grid);

}  // namespace pellicle::mesh
