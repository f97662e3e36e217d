// Which corners of loose triangles are one point? STL repeats every corner; a mesh needs each point once.
#pragma once

#include "io/moulds/stl.h"
#include "mesh/triangle_mesh.h"

#include <vector>

namespace pellicle::moulds {

/// Two corners nearer than this share of the box's diagonal are one point: 0.1 um on a mould of 100 mm, some ten times
/// the spacing of 32-bit coordinates and far below what a printer shows.
constexpr double kWeldShare = 1e-6;
/// A triangle lower than this share of the diagonal has no area: its height is the rounding of its corners.
constexpr double kFlatShare = 1e-7;

struct Welded {
  mesh::TriangleMesh mesh;     ///< in the numbers of the file
  int degenerate_dropped = 0;  ///< facets without area
  int welded_apart = 0;        ///< points that were near, not equal, and became one
  double tolerance = 0.0;      ///< in the unit of the file
  mesh::Vec3 low, high;        ///< box of the corners
};

/// The first corner in the order of the file gives the point its place, so the same file gives the same mesh.
Welded weld(const std::vector<Facet>& facets);

}  // namespace pellicle::moulds
