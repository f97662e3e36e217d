// In which directions does a search look, on which places, and how does it close in on the best?
#pragma once

#include "mesh/triangle_mesh.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>
#include <vector>

namespace pellicle::checks {

/// Evenly spread over the half sphere z >= 0: a spiral that turns by the golden angle (Gonzalez, Mathematical
/// Geosciences 42 (2010) 49; from memory).
std::vector<mesh::Vec3> half_sphere(int count);

/// "(0.00, 0.17, 0.98), 10 degrees from z towards 90 degrees from x".
std::string direction_text(const mesh::Vec3& direction);

/// Steps to the best of four neighbours while that is better by more than `gain`, then halves the step, from 4 down to
/// a quarter of a degree. Without a gain it would wander for ever where all there is left is round-off, as around a
/// plate's own plane.
template <class Score>
mesh::Vec3 refined(mesh::Vec3 direction, double gain, Score score) {
  constexpr double kDegree = std::numbers::pi / 180.0, kFirstStep = 4.0 * kDegree, kLastStep = 0.25 * kDegree;
  double least = score(direction);
  for (double step = kFirstStep; step >= kLastStep;) {
    const mesh::Vec3 u = direction.unitOrthogonal(), v = direction.cross(u);
    mesh::Vec3 best = direction;
    const double enough = least - gain;
    for (const mesh::Vec3& away : {u, v, mesh::Vec3(-u), mesh::Vec3(-v)}) {
      const mesh::Vec3 tried = std::cos(step) * direction + std::sin(step) * away;
      if (const double s = score(tried); s < std::min(enough, least)) least = s, best = tried;
    }
    if (best == direction) step *= 0.5;
    direction = best.normalized();
  }
  return direction;
}

/// The pieces at the middles of `most` equal parts of the area, of which each then stands for one; all of them if they
/// are no more. Piece has an area_m2.
template <class Piece>
std::vector<Piece> sampled_by_area(const std::vector<Piece>& pieces, std::size_t most) {
  if (pieces.size() <= most) return pieces;
  double total = 0.0;
  for (const Piece& piece : pieces) total += piece.area_m2;
  const double each = total / static_cast<double>(most);
  std::vector<Piece> some;
  double passed = 0.0;
  for (const Piece& piece : pieces) {
    passed += piece.area_m2;
    while (some.size() < most && passed > (static_cast<double>(some.size()) + 0.5) * each) {
      some.push_back(piece);
      some.back().area_m2 = each;
    }
  }
  return some;
}

}  // namespace pellicle::checks
