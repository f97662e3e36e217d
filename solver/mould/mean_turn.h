// How does a surface turn on a scale above its facets and its roughness?
#pragma once

#include "mesh/nearest.h"

#include <cstdint>
#include <limits>
#include <vector>

namespace pellicle::mould {

/// Mean directions and places of the surface in cubes, sides of thin walls apart (by the axis they face most), and how
/// the surface turns from each cube to its neighbours. Same surface, same answer.
class MeanTurn {
 public:
  MeanTurn(const mesh::Nearest& surface, double cube_m);

  /// Radius of the sharpest turn around a triangle, of its own sign (convex: it stands out); infinite if it is flat.
  double radius_m(int triangle, bool convex) const;

 private:
  struct Cube {
    std::uint64_t key;
    mesh::Vec3 normal, middle_m;
    double convex_per_m = 0.0, concave_per_m = 0.0;  ///< turn over distance
  };
  std::vector<Cube> cubes_;  ///< by key
  std::vector<int> of_;      ///< M, the cube of a triangle; -1 without area
};

}  // namespace pellicle::mould
