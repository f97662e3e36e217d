// How far is the formed sheet stretched along a line on it?
#include "solver/imprint/surface_stretch.h"

#include <Eigen/LU>

namespace pellicle::imprint {

Eigen::Matrix3d stretch_tensor(const forming::FormingResult& formed, int triangle) {
  const mesh::Triangle& t = formed.triangles[static_cast<std::size_t>(triangle)];
  const auto corner = [&](std::size_t i) { return static_cast<std::size_t>(t[i]); };
  Eigen::Matrix2d flat;
  Eigen::Matrix<double, 3, 2> now;
  for (std::size_t i = 1; i < 3; ++i) {
    const auto column = static_cast<Eigen::Index>(i - 1);
    flat.col(column) = formed.flat_m[corner(i)] - formed.flat_m[corner(0)];
    now.col(column) = formed.points_m[corner(i)] - formed.points_m[corner(0)];
  }
  const Eigen::Matrix<double, 3, 2> gradient = now * flat.inverse();  // F
  return gradient * gradient.transpose();
}

}  // namespace pellicle::imprint
