// Which way is out, on a face, an edge and a corner? Neighbours across edges and the normals that give a distance its
// sign.
#include "mesh/check.h"
#include "mesh/edges.h"
#include "mesh/nearest.h"
#include "mesh/triangle_shape.h"

#include <algorithm>
#include <cmath>
#include <span>

namespace pellicle::mesh {
namespace {

int next(int k) { return (k + 1) % 3; }

/// Angle at corner k, between 0 and pi; 0 where an edge has no length.
double angle_at(const std::array<Vec3, 3>& corners_m, std::size_t k) {
  const Vec3 u = corners_m[(k + 1) % 3] - corners_m[k];
  const Vec3 v = corners_m[(k + 2) % 3] - corners_m[k];
  return std::atan2(u.cross(v).norm(), u.dot(v));  // atan2(0, 0) = 0
}

}  // namespace

void Nearest::find_neighbours() {
  across_.assign(mesh_.triangles.size(), {-1, -1, -1});
  is_closed_ = !mesh_.triangles.empty();
  Edges(mesh_).for_each([this](int, std::span<const EdgeUse> uses) {
    is_closed_ = is_closed_ && uses.size() == 2 && uses[0].up != uses[1].up;
    if (uses.size() != 2) return;
    for (const std::size_t k : {0U, 1U}) {
      const auto slot = static_cast<std::size_t>(uses[k].slot);
      across_[slot / 3][slot % 3] = uses[1 - k].triangle();
    }
  });
}

/// The normal one meets on entering a triangle over one of its edges. A triangle without area, a filler between a long
/// edge and its parts, shows what lies behind it: over its longest edge the neighbours on the other two, else the
/// neighbour on the longest.
Vec3 Nearest::facing(int triangle, int edge) const {
  const auto t = static_cast<std::size_t>(triangle);
  if (shapes_[t] != TriangleShape::kFlat) return normals_[t];
  const auto normal_across = [this, t](int k) -> Vec3 {
    const int there = across_[t][static_cast<std::size_t>(k)];
    return there >= 0 && shapes_[static_cast<std::size_t>(there)] != TriangleShape::kFlat
               ? normals_[static_cast<std::size_t>(there)]
               : Vec3::Zero();
  };
  const int longest = longest_edge(corners(mesh_, triangle));
  return edge == longest ? normal_across(next(edge)) + normal_across(next(next(edge))) : normal_across(longest);
}

Vec3 Nearest::edge_normal(int triangle, int edge) const {
  const auto t = static_cast<std::size_t>(triangle);
  const int there = across_[t][static_cast<std::size_t>(edge)];
  if (there < 0) return normals_[t];
  const auto& back = across_[static_cast<std::size_t>(there)];
  const auto entry = static_cast<int>(std::find(back.begin(), back.end(), triangle) - back.begin());
  return normals_[t] + facing(there, entry);
}

void Nearest::set_normals() {
  const std::size_t count = mesh_.triangles.size();
  normals_.assign(count, Vec3::Zero());
  shapes_.assign(count, TriangleShape::kFlat);
  for (std::size_t t = 0; t < count; ++t) {
    const auto [a, b, c] = corners(mesh_, static_cast<int>(t));
    shapes_[t] = shape_of(a, b, c);
    if (shapes_[t] != TriangleShape::kFlat) normals_[t] = (b - a).cross(c - a).stableNormalized();
  }
  for (std::size_t t = 0; t < count; ++t) {
    if (shapes_[t] != TriangleShape::kFlat) continue;
    const int longest = longest_edge(corners(mesh_, static_cast<int>(t)));
    normals_[t] = facing(static_cast<int>(t), next(longest)).stableNormalized();
    if (normals_[t].isZero(0.0)) normals_[t] = facing(static_cast<int>(t), longest).stableNormalized();
  }
  corner_normals_.assign(mesh_.points_m.size(), Vec3::Zero());
  for (std::size_t t = 0; t < count; ++t) {
    const auto at = corners(mesh_, static_cast<int>(t));
    for (std::size_t k = 0; k < 3; ++k) {
      corner_normals_[static_cast<std::size_t>(mesh_.triangles[t][k])] += angle_at(at, k) * normals_[t];
    }
  }
}

Vec3 Nearest::pseudonormal(const Closest& at) const {
  const auto t = static_cast<std::size_t>(at.triangle);
  Vec3 sum = normals_[t];
  const int feature = static_cast<int>(at.feature);
  if (at.feature >= Feature::kCorner0) {
    const auto corner = static_cast<std::size_t>(feature - static_cast<int>(Feature::kCorner0));
    sum = corner_normals_[static_cast<std::size_t>(mesh_.triangles[t][corner])];
  } else if (at.feature >= Feature::kEdge0) {
    sum = edge_normal(at.triangle, feature - static_cast<int>(Feature::kEdge0));
  }
  const double length = sum.norm();
  return length > 0.0 ? Vec3(sum / length) : normals_[t];  // a surface folded flat on itself has no outside there
}

}  // namespace pellicle::mesh
