// Which value has a field of a sheet at a place that is no node? Straight between the corners of the nearest triangle.
#include "mesh/locate.h"

#include "mesh/check.h"

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>

namespace pellicle::mesh {
namespace {

std::size_t index(int i) { return static_cast<std::size_t>(i); }

/// Of the feature the closest point lies on: exactly one corner, two on an edge, else areas of the triangles opposite
/// the corners over the whole. So a node has its own value, whatever its neighbours have.
std::array<double, 3> shares_of(const Closest& at, const std::array<Vec3, 3>& c_m) {
  std::array<double, 3> shares{};
  if (at.feature >= Feature::kCorner0) {
    shares[static_cast<std::size_t>(at.feature) - static_cast<std::size_t>(Feature::kCorner0)] = 1.0;
    return shares;
  }
  if (at.feature != Feature::kFace) {
    const std::size_t k = static_cast<std::size_t>(at.feature) - static_cast<std::size_t>(Feature::kEdge0);
    const Vec3 edge_m = c_m[(k + 1) % 3] - c_m[k];
    shares[(k + 1) % 3] = std::clamp((at.point_m - c_m[k]).dot(edge_m) / edge_m.squaredNorm(), 0.0, 1.0);
    shares[k] = 1.0 - shares[(k + 1) % 3];
    return shares;
  }
  const Vec3 twice_area = (c_m[1] - c_m[0]).cross(c_m[2] - c_m[0]);
  for (std::size_t k = 0; k < 2; ++k) {
    const Vec3 &from = c_m[k + 1], &to = c_m[(k + 2) % 3];
    const double part = (to - from).cross(at.point_m - from).dot(twice_area) / twice_area.squaredNorm();
    shares[k] = std::clamp(part, 0.0, 1.0);  // round-off beside edges
  }
  shares[2] = std::max(0.0, 1.0 - shares[0] - shares[1]);
  return shares;
}

}  // namespace

Spot spot_on(const Nearest& surface, const Vec3& p_m) {
  const Closest at = surface.closest(p_m);
  if (at.triangle < 0) return {};
  const auto& points_m = surface.mesh().points_m;
  const Triangle& t = surface.mesh().triangles[index(at.triangle)];
  return {at.triangle, shares_of(at, {points_m[index(t[0])], points_m[index(t[1])], points_m[index(t[2])]}), at.point_m,
          at.distance_m};
}

double value_at(const Spot& spot, std::span<const Triangle> triangles, std::span<const double> values) {
  ensure(spot.triangle >= 0, "a value is asked for at a place there is");
  const Triangle& t = triangles[index(spot.triangle)];
  double sum = 0.0;
  for (std::size_t k = 0; k < 3; ++k)
    if (spot.shares[k] > 0.0) sum += spot.shares[k] * values[index(t[k])];
  return sum;
}

TriangleMesh flat_surface(std::span<const Vec2> flat_m, std::span<const Triangle> triangles) {
  TriangleMesh flat{{}, {triangles.begin(), triangles.end()}};
  flat.points_m.reserve(flat_m.size());
  for (const Vec2& p : flat_m) flat.points_m.emplace_back(p.x(), p.y(), 0.0);
  return flat;
}

Spot spot_in_flat(const Nearest& flat, const Vec2& p_m) {
  const Spot spot = spot_on(flat, {p_m.x(), p_m.y(), 0.0});
  if (spot.triangle < 0) return spot;
  const auto& points_m = flat.mesh().points_m;
  const Triangle& t = flat.mesh().triangles[index(spot.triangle)];
  double longest_m = 0.0;
  for (std::size_t k = 0; k < 3; ++k)
    longest_m = std::max(longest_m, (points_m[index(t[k])] - points_m[index(t[(k + 1) % 3])]).norm());
  return spot.distance_m <= kRimShare * longest_m ? spot : Spot{};
}

}  // namespace pellicle::mesh
