// What triangles do the surfaces of a STEP file become? Fine enough that none is further from its surface than asked.
#pragma once

#include "mesh/triangle_mesh.h"

#include <string>
#include <vector>

namespace pellicle::mesh {

/// How far a triangle may be from the surface it stands for: this length, but no coarser than kLargestChordShare of the
/// shape's diagonal, and no finer than kSmallestChordShare of it.
inline constexpr double kChord_mm = 0.02;
inline constexpr double kSmallestChordShare = 1e-4, kLargestChordShare = 1e-3;

struct StepSurface {
  std::vector<Vec3> points_mm;      ///< whatever unit the file is written in
  std::vector<Triangle> triangles;  ///< those of a solid counter-clockwise seen from outside it
  double chord_wanted_mm = 0.0;
  double chord_mm = 0.0;  ///< largest distance found, at the middles of triangles and of their edges
  int solids = 0;
  int faces = 0;
  int loose_faces = 0;   ///< faces that bound no solid
  int loose_shells = 0;  ///< connected sets of them
};

/// Reads a file through Gmsh and Open CASCADE, in a process of its own with at most 8 GB of memory: files exist on
/// which the library crashes. Nothing is printed, whatever it says. Throws Error (geometry) for a file that cannot be
/// read, with its line where the library knows it, or that holds no surface.
StepSurface read_step_surface(const std::string& path);

}  // namespace pellicle::mesh
