// Which way is out, on a face, an edge and a corner? Neighbours across edges and the normals that give a distance its
// sign.
#include "mesh/check.h"
#include "mesh/nearest.h"
#include "mesh/triangle_shape.h"

#include <algorithm>
#include <cmath>

namespace pellicle::mesh {
namespace {

int next(int k) { return (k + 1) % 3; }

struct HalfEdge {
  int other;  ///< the end with the larger number
  int slot;   ///< 3 * triangle + edge
  bool up;    ///< runs from the smaller number to the larger
};

/// Half edges in bins by their smaller end: bin of point i is [start[i], start[i + 1]). Each sorted by other, then
/// slot.
struct EdgeBins {
  std::vector<std::size_t> start;
  std::vector<HalfEdge> edges;
};

EdgeBins bin_edges(const TriangleMesh& mesh) {
  EdgeBins bins;
  bins.start.assign(mesh.points_m.size() + 1, 0);
  const auto for_each_edge = [&mesh](const auto& work) {
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
      for (int k = 0; k < 3; ++k) {
        const int from = mesh.triangles[t][static_cast<std::size_t>(k)];
        const int to = mesh.triangles[t][static_cast<std::size_t>(next(k))];
        work(static_cast<std::size_t>(std::min(from, to)),
             HalfEdge{std::max(from, to), 3 * static_cast<int>(t) + k, from < to});
      }
    }
  };
  for_each_edge([&bins](std::size_t low, const HalfEdge&) { ++bins.start[low + 1]; });
  for (std::size_t i = 1; i < bins.start.size(); ++i) bins.start[i] += bins.start[i - 1];
  bins.edges.resize(bins.start.back());
  std::vector<std::size_t> fill(bins.start.begin(), bins.start.end() - 1);
  for_each_edge([&](std::size_t low, const HalfEdge& edge) { bins.edges[fill[low]++] = edge; });
  return bins;
}

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
  EdgeBins bins = bin_edges(mesh_);
  for (std::size_t i = 0; i < mesh_.points_m.size(); ++i) {
    const auto begin = bins.edges.begin() + static_cast<std::ptrdiff_t>(bins.start[i]);
    const auto end = bins.edges.begin() + static_cast<std::ptrdiff_t>(bins.start[i + 1]);
    std::sort(begin, end, [](const HalfEdge& a, const HalfEdge& b) {
      return a.other != b.other ? a.other < b.other : a.slot < b.slot;
    });
    for (auto run = begin; run != end;) {
      const auto stop = std::find_if(run, end, [run](const HalfEdge& e) { return e.other != run->other; });
      if (stop - run == 2) {
        const HalfEdge& a = run[0];
        const HalfEdge& b = run[1];
        across_[static_cast<std::size_t>(a.slot / 3)][static_cast<std::size_t>(a.slot % 3)] = b.slot / 3;
        across_[static_cast<std::size_t>(b.slot / 3)][static_cast<std::size_t>(b.slot % 3)] = a.slot / 3;
        is_closed_ = is_closed_ && a.up != b.up;
      } else {
        is_closed_ = false;
      }
      run = stop;
    }
  }
}

/// The normal one meets on entering a triangle over one of its edges. A triangle without area, a filler between a long
/// edge and its parts, shows what lies behind it: over its longest edge the neighbours on the other two, else the
/// neighbour on the longest.
Vec3 Nearest::facing(int triangle, int edge) const {
  const auto t = static_cast<std::size_t>(triangle);
  if (has_area_[t] != 0) return normals_[t];
  const auto normal_across = [this, t](int k) -> Vec3 {
    const int there = across_[t][static_cast<std::size_t>(k)];
    return there >= 0 && has_area_[static_cast<std::size_t>(there)] != 0 ? normals_[static_cast<std::size_t>(there)]
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
  has_area_.assign(count, 0);
  for (std::size_t t = 0; t < count; ++t) {
    const auto [a, b, c] = corners(mesh_, static_cast<int>(t));
    has_area_[t] = shape_of(a, b, c) == TriangleShape::kFlat ? 0 : 1;
    if (has_area_[t] != 0) normals_[t] = (b - a).cross(c - a).stableNormalized();
  }
  for (std::size_t t = 0; t < count; ++t) {
    if (has_area_[t] != 0) continue;
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
