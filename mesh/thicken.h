// What solid does a sheet fill that has a face and a thickness? Both faces and a wall round the rim, closed.
#pragma once

#include "mesh/triangle_mesh.h"

#include <span>

namespace pellicle::mesh {

struct Thickened {
  TriangleMesh solid;             ///< closed, counter-clockwise seen from outside, every point used
  double volume_m3 = 0.0;         ///< enclosed
  double face_area_m2 = 0.0;      ///< of the given face, as far as it was taken
  double mean_thickness_m = 0.0;  ///< over that area
  int face_triangles = 0;         ///< taken of the given face
  int turned = 0;                 ///< of them, turned over on the other face: there it crosses itself
};

/// The other face lies `thickness_m` (one a point, N) along the point's normal away from `face`, on the side from which
/// its triangles are counter-clockwise. Normals are means over all triangles of `face`, weighted by the angle at the
/// point (Thuermer & Wuethrich, J. Graph. Tools 3 (1998) 43; from memory), so that they do not depend on how it is cut
/// into triangles. Taken are triangles with all corners `inside` (N); of what would hang together in a point alone the
/// larger fan stays, for there no surface could close. `face` has at most two triangles at an edge, turned alike.
/// Nothing inside: no triangles.
Thickened thicken(const TriangleMesh& face, std::span<const double> thickness_m, std::span<const char> inside);

/// Whether each edge has one triangle, or two that run it in opposite directions: what `thicken` needs.
bool is_sheet(const TriangleMesh& face);

}  // namespace pellicle::mesh
