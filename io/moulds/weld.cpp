// Which corners of loose triangles are one point? A grid of cells a few tolerances wide finds what is near.
#include "io/moulds/weld.h"

#include <Eigen/Geometry>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <unordered_map>

namespace pellicle::moulds {
namespace {

using mesh::Vec3;

constexpr double kCellTolerances = 16.0;  // most corners then look into one cell; at most 2^17 cells along an axis

constexpr double kSmallestDiagonal = 1e-30;  // in any unit; below it the tolerance has no square in a double

class PointGrid {
 public:
  PointGrid(const Vec3& low, double tolerance, std::size_t expected)
      : low_(low), tolerance_(tolerance), cell_(kCellTolerances * tolerance) {
    first_.reserve(expected);
  }

  /// Number of the point at p, a new one if none is near.
  int find_or_add(const Vec3& p, std::vector<Vec3>& points, int& welded_apart) {
    const std::array<std::int64_t, 3> from = cell_of(p - Vec3::Constant(tolerance_));
    const std::array<std::int64_t, 3> to = cell_of(p + Vec3::Constant(tolerance_));
    int best = -1;
    double best_sq = tolerance_ * tolerance_;
    for (std::int64_t i = from[0]; i <= to[0]; ++i) {
      for (std::int64_t j = from[1]; j <= to[1]; ++j) {
        for (std::int64_t k = from[2]; k <= to[2]; ++k) {
          const auto cell = first_.find(packed({i, j, k}));
          for (int n = cell == first_.end() ? -1 : cell->second; n >= 0; n = next_[static_cast<std::size_t>(n)]) {
            const double distance_sq = (points[static_cast<std::size_t>(n)] - p).squaredNorm();
            if (distance_sq < best_sq || (distance_sq == best_sq && (best < 0 || n < best))) {
              best = n;
              best_sq = distance_sq;
            }
          }
        }
      }
    }
    if (best >= 0) {
      if (best_sq > 0.0) ++welded_apart;
      return best;
    }
    return add(p, points);
  }

 private:
  int add(const Vec3& p, std::vector<Vec3>& points) {
    const int number = static_cast<int>(points.size());
    points.push_back(p);
    const auto [cell, is_new] = first_.try_emplace(packed(cell_of(p)), number);
    next_.push_back(is_new ? -1 : cell->second);
    cell->second = number;
    return number;
  }
  std::array<std::int64_t, 3> cell_of(const Vec3& p) const {
    const Vec3 c = (p - low_) / cell_;
    return {static_cast<std::int64_t>(std::floor(c.x())), static_cast<std::int64_t>(std::floor(c.y())),
            static_cast<std::int64_t>(std::floor(c.z()))};
  }
  static std::uint64_t packed(const std::array<std::int64_t, 3>& cell) {  // 20 bits an axis, shifted above zero
    std::uint64_t key = 0;
    for (const std::int64_t c : cell) key = (key << 20U) | (static_cast<std::uint64_t>(c + 2) & 0xFFFFFU);
    return key;
  }

  Vec3 low_;
  double tolerance_;
  double cell_;
  std::unordered_map<std::uint64_t, int> first_;
  std::vector<int> next_;
};

/// Twice the area over the longest side: the lowest height of the triangle.
bool is_flat(const Vec3& a, const Vec3& b, const Vec3& c, double least_height) {
  const double longest = std::sqrt(std::max({(b - a).squaredNorm(), (c - b).squaredNorm(), (a - c).squaredNorm()}));
  return (b - a).cross(c - a).norm() <= least_height * longest;
}

}  // namespace

Welded weld(const std::vector<Facet>& facets) {
  Welded out;
  out.low = out.high = facets.front().front();
  for (const Facet& facet : facets) {
    for (const Vec3& p : facet) {
      out.low = out.low.cwiseMin(p);
      out.high = out.high.cwiseMax(p);
    }
  }
  const double diagonal = (out.high - out.low).norm();
  out.tolerance = kWeldShare * diagonal;
  if (!(diagonal > kSmallestDiagonal)) {
    out.degenerate_dropped = static_cast<int>(facets.size());
    return out;
  }
  // A closed surface has about half as many points as triangles (Euler).
  PointGrid grid(out.low, out.tolerance, facets.size() / 2 + 3);
  std::vector<mesh::Triangle>& triangles = out.mesh.triangles;
  triangles.reserve(facets.size());
  std::vector<Vec3> points;
  points.reserve(facets.size() / 2 + 3);
  for (const Facet& facet : facets) {
    mesh::Triangle triangle{};
    for (std::size_t corner = 0; corner < 3; ++corner) {
      triangle[corner] = grid.find_or_add(facet[corner], points, out.welded_apart);
    }
    const auto at = [&](std::size_t corner) -> const Vec3& {
      return points[static_cast<std::size_t>(triangle[corner])];
    };
    const bool is_same = triangle[0] == triangle[1] || triangle[1] == triangle[2] || triangle[2] == triangle[0];
    if (is_same || is_flat(at(0), at(1), at(2), kFlatShare * diagonal)) {
      ++out.degenerate_dropped;
    } else {
      triangles.push_back(triangle);
    }
  }
  // Points of dropped triangles only are left out; the others keep their order.
  std::vector<int> number(points.size(), -1);
  for (const mesh::Triangle& t : triangles) {
    for (const int n : t) number[static_cast<std::size_t>(n)] = 0;
  }
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (number[i] < 0) continue;
    number[i] = static_cast<int>(out.mesh.points_m.size());
    out.mesh.points_m.push_back(points[i]);
  }
  for (mesh::Triangle& t : triangles) {
    for (int& n : t) n = number[static_cast<std::size_t>(n)];
  }
  return out;
}

}  // namespace pellicle::moulds
