// How does a surface turn on a scale above its facets and its roughness?
#include "solver/mould/mean_turn.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <utility>

namespace pellicle::mould {
namespace {

using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

constexpr int kBits = 20;  // of each coordinate: a million cubes along an edge of the box

std::uint64_t pack(int side, std::int64_t x, std::int64_t y, std::int64_t z) {
  const auto u = [](std::int64_t v) { return static_cast<std::uint64_t>(v); };
  return ((static_cast<std::uint64_t>(side) << kBits | u(x)) << kBits | u(y)) << kBits | u(z);
}

/// 0 to 5: the axis a direction follows most, and its sign.
int side_of(const Vec3& normal) {
  int axis = 0;
  normal.cwiseAbs().maxCoeff(&axis);
  return 2 * axis + (normal[axis] < 0.0 ? 1 : 0);
}

}  // namespace

MeanTurn::MeanTurn(const mesh::Nearest& surface, double cube_m) {
  const mesh::TriangleMesh& m = surface.mesh();
  Eigen::AlignedBox3d box;
  for (const Vec3& p : m.points_m) box.extend(p);
  if (m.points_m.empty()) return;
  constexpr double kMost = (1 << kBits) - 4;
  const double size_m = std::max(cube_m, box.sizes().maxCoeff() / kMost);
  const Vec3 low = box.min() - Vec3::Constant(size_m);
  std::vector<std::pair<std::uint64_t, int>> order;
  order.reserve(m.triangles.size());
  const auto middle = [&](int e) -> Vec3 {
    const mesh::Triangle& t = m.triangles[at(e)];
    return (m.points_m[at(t[0])] + m.points_m[at(t[1])] + m.points_m[at(t[2])]) / 3.0;
  };
  for (int e = 0; e < static_cast<int>(m.triangles.size()); ++e) {
    const Vec3& n = surface.normal(e);
    if (!(n.squaredNorm() > 0.5)) continue;
    const Vec3 c = (middle(e) - low) / size_m;
    order.emplace_back(pack(side_of(n), static_cast<std::int64_t>(c.x()), static_cast<std::int64_t>(c.y()),
                            static_cast<std::int64_t>(c.z())),
                       e);
  }
  std::sort(order.begin(), order.end());
  of_.assign(m.triangles.size(), -1);
  for (std::size_t from = 0; from < order.size();) {
    Cube cube{order[from].first, Vec3::Zero(), Vec3::Zero()};
    double area = 0.0;
    std::size_t k = from;
    for (; k < order.size() && order[k].first == cube.key; ++k) {
      const mesh::Triangle& t = m.triangles[at(order[k].second)];
      const double a =
          (m.points_m[at(t[1])] - m.points_m[at(t[0])]).cross(m.points_m[at(t[2])] - m.points_m[at(t[0])]).norm();
      cube.normal += a * surface.normal(order[k].second), cube.middle_m += a * middle(order[k].second), area += a;
      of_[at(order[k].second)] = static_cast<int>(cubes_.size());
    }
    if (area > 0.0) cube.normal.normalize(), cube.middle_m /= area;
    cubes_.push_back(cube);
    from = k;
  }
#pragma omp parallel for schedule(static)
  for (int k = 0; k < static_cast<int>(cubes_.size()); ++k) {
    Cube& cube = cubes_[at(k)];
    constexpr std::int64_t kMask = (std::int64_t{1} << kBits) - 1;
    const auto key = static_cast<std::int64_t>(cube.key);
    const std::int64_t x = key >> (2 * kBits) & kMask, y = key >> kBits & kMask, z = key & kMask;
    const int side = static_cast<int>(cube.key >> (3 * kBits));
    for (int n = 0; n < 27; ++n) {
      const std::uint64_t other = pack(side, x + n % 3 - 1, y + n / 3 % 3 - 1, z + n / 9 - 1);
      const auto found = std::lower_bound(cubes_.begin(), cubes_.end(), other,
                                          [](const Cube& c, std::uint64_t wanted) { return c.key < wanted; });
      if (found == cubes_.end() || found->key != other || found->key == cube.key) continue;
      const Vec3 to = found->middle_m - cube.middle_m;
      if (!(to.norm() > 0.5 * size_m)) continue;  // two corners of neighbours: too near to tell
      const double turn =
          std::atan2(cube.normal.cross(found->normal).norm(), cube.normal.dot(found->normal)) / to.norm();
      // Convex: the other's direction leans away.
      double& sharpest = to.dot(found->normal - cube.normal) > 0.0 ? cube.convex_per_m : cube.concave_per_m;
      sharpest = std::max(sharpest, turn);
    }
  }
}

double MeanTurn::radius_m(int triangle, bool convex) const {
  const int k = of_[at(triangle)];
  if (k < 0) return std::numeric_limits<double>::infinity();
  const double turn = convex ? cubes_[at(k)].convex_per_m : cubes_[at(k)].concave_per_m;
  return turn > 0.0 ? 1.0 / turn : std::numeric_limits<double>::infinity();
}

}  // namespace pellicle::mould
