// Into which triangles is a polygon of a mould file cut? In its own plane, concave ones too.
#pragma once

#include "io/moulds/facet.h"

#include <span>
#include <string>
#include <vector>

namespace pellicle::moulds {

/// Time grows with the square of the corners: a polygon of this many takes a tenth of a second.
constexpr std::size_t kMostCorners = 5000;

/// Cuts polygons and keeps account of what about them was doubtful.
class PolygonCutter {
 public:
  /// Adds the triangles, turned the way the polygon is. A polygon whose corners all turn left is fanned out from its
  /// first corner, another one loses its ears. `number` is its line or its place in the file, for the notes; there are
  /// 3 corners or more and at most kMostCorners.
  void cut(std::span<const mesh::Vec3> corners, long long number, std::vector<Facet>& facets);

  /// One note for each kind of doubt, with the first place: polygons that cross themselves, polygons that are not flat.
  /// `place` says what the number is: "line" or "face".
  void add_notes(const char* place, std::vector<std::string>& notes) const;

 private:
  struct Doubt {
    long count = 0;
    long long first = 0;
  };
  void note_bend(std::span<const mesh::Vec3> corners, const mesh::Vec3& normal, long long number);

  Doubt crossing_;
  Doubt bent_;
  double most_bent_ = 0.0;  ///< distance from the mean plane, in the unit of the file
};

}  // namespace pellicle::moulds
