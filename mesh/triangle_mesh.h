// What is a surface here? Points and triangles, in metres, counter-clockwise seen from outside.
#pragma once

#include <Eigen/Core>

#include <array>
#include <vector>

namespace pellicle::mesh {

using Vec2 = Eigen::Vector2d;
using Vec3 = Eigen::Vector3d;
using Triangle = std::array<int, 3>;

struct TriangleMesh {
  std::vector<Vec3> points_m;
  std::vector<Triangle> triangles;
};

}  // namespace pellicle::mesh
