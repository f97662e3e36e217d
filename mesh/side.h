// On which side of a triangle's edge, seen from above, is a point?
#pragma once

#include "mesh/triangle_mesh.h"

#include <utility>

namespace pellicle::mesh {

/// An edge seen from above. Both triangles at it ask in the same order of its ends, so they get the same number and
/// opposite answers: no point between them is missed.
struct Side {
  Vec2 from, to;
  bool turned;      ///< asked for the other way round
  bool takes_ties;  ///< a point on it belongs to the triangle to its left: it runs up, or level to the left

  Side(const Vec2& a, const Vec2& b)
      : from(a), to(b), turned(false), takes_ties(b.y() > a.y() || (b.y() == a.y() && b.x() < a.x())) {
    if (std::pair(b.x(), b.y()) < std::pair(a.x(), a.y())) std::swap(from, to), turned = true;
  }
  /// Twice the area that p makes with it, positive to the left.
  double left_of(const Vec2& p) const {
    const double twice = (to.x() - from.x()) * (p.y() - from.y()) - (to.y() - from.y()) * (p.x() - from.x());
    return turned ? -twice : twice;
  }
};

}  // namespace pellicle::mesh
