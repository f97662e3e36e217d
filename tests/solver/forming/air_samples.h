// What made-up sheets are the tests of trapped air about? A square one on a grid, lying over something.
#pragma once

#include "mesh/shapes.h"
#include "solver/forming/trapped_air.h"

#include <Eigen/Geometry>
#include <cmath>
#include <functional>
#include <vector>

namespace pellicle::forming {

/// (n + 1)^2 nodes over x, y = -half..half; diagonals lean one way.
struct GridSheet {
  std::vector<mesh::Vec3> x_m;
  std::vector<mesh::Triangle> triangles;
  std::vector<char> touching, on_rim;
  int n;

  GridSheet(int squares, double half_m) : n(squares) {
    for (int j = 0; j <= n; ++j)
      for (int i = 0; i <= n; ++i) {
        x_m.emplace_back(half_m * (2.0 * i / n - 1.0), half_m * (2.0 * j / n - 1.0), 0.0);
        on_rim.push_back(i == 0 || j == 0 || i == n || j == n);
      }
    for (int j = 0; j < n; ++j)
      for (int i = 0; i < n; ++i) {
        const int a = node(i, j), b = node(i + 1, j), c = node(i + 1, j + 1), d = node(i, j + 1);
        triangles.push_back({a, b, c});
        triangles.push_back({a, c, d});
      }
    touching.assign(x_m.size(), 0);
  }
  int node(int i, int j) const { return j * (n + 1) + i; }
  /// z of every node; it touches where z is the height of the mould there.
  void lay(const std::function<double(double x, double y)>& z_m, const mould::RigidMould& mould) {
    for (std::size_t i = 0; i < x_m.size(); ++i) {
      x_m[i].z() = z_m(x_m[i].x(), x_m[i].y());
      touching[i] = std::fabs(x_m[i].z() - mould.top_m(x_m[i].x(), x_m[i].y()).value_or(-1.0)) < 1e-9;
    }
  }
  SheetOverMould view() const { return {x_m, triangles, touching, on_rim}; }

  /// A third of the area vectors around each node, upwards.
  std::vector<mesh::Vec3> areas_m2() const {
    std::vector<mesh::Vec3> area(x_m.size(), mesh::Vec3::Zero());
    for (const mesh::Triangle& t : triangles) {
      const mesh::Vec3 &a = x_m[static_cast<std::size_t>(t[0])], &b = x_m[static_cast<std::size_t>(t[1])],
                       &c = x_m[static_cast<std::size_t>(t[2])];
      for (const int i : t) area[static_cast<std::size_t>(i)] += (b - a).cross(c - a) / 6.0;
    }
    return area;
  }
};

/// Flat rigid ground at z = 0 that does not leak.
inline mould::RigidMould ground(double half_m) {
  return mould::RigidMould(mesh::box({-half_m, -half_m, -5e-3}, {half_m, half_m, 0.0}), false);
}

}  // namespace pellicle::forming
