// Is a triangle well shaped, a needle, or no triangle at all?
#pragma once

#include "mesh/triangle_mesh.h"

#include <Eigen/Geometry>

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <limits>

namespace pellicle::mesh {

enum class TriangleShape : std::uint8_t { kFull, kNeedle, kFlat };

/// By height over longest edge, |ab x ac| / L^2. Below 16 roundings the direction of ab x ac is noise: no area. Below
/// 1e-4 the barycentric numbers of the quick closest-point formula, products of four lengths with error ~1e-16 L^4
/// against an area^2 of 1e-8 L^4, lose more than half their digits.
inline TriangleShape shape_of(const Vec3& a_m, const Vec3& b_m, const Vec3& c_m) {
  constexpr double kNeedle = 1e-4;
  constexpr double kFlat = 16.0 * std::numeric_limits<double>::epsilon();
  const Vec3 ab = b_m - a_m;
  const Vec3 ac = c_m - a_m;
  const double longest_sq = std::max({ab.squaredNorm(), ac.squaredNorm(), (c_m - b_m).squaredNorm()});
  const double doubled_area = ab.cross(ac).norm();
  if (doubled_area > kNeedle * longest_sq) return TriangleShape::kFull;
  return doubled_area > kFlat * longest_sq ? TriangleShape::kNeedle : TriangleShape::kFlat;  // NaN: flat
}

inline std::array<Vec3, 3> corners(const TriangleMesh& mesh, int triangle) {
  const Triangle& t = mesh.triangles[static_cast<std::size_t>(triangle)];
  return {mesh.points_m[static_cast<std::size_t>(t[0])], mesh.points_m[static_cast<std::size_t>(t[1])],
          mesh.points_m[static_cast<std::size_t>(t[2])]};
}

/// The first of them if two are equally long.
inline int longest_edge(const std::array<Vec3, 3>& at_m) {
  int longest = 0;
  double most_sq = -1.0;
  for (int k = 0; k < 3; ++k) {
    const auto i = static_cast<std::size_t>(k);
    const double length_sq = (at_m[(i + 1) % 3] - at_m[i]).squaredNorm();
    if (length_sq > most_sq) {
      most_sq = length_sq;
      longest = k;
    }
  }
  return longest;
}

}  // namespace pellicle::mesh
