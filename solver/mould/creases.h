// Where does the mould turn, and how sharply? Its corners and edges as places that a sheet may hang on.
#pragma once

#include "mesh/nearest.h"

#include <array>
#include <vector>

namespace pellicle::mould {

using mesh::Vec3;

/// A corner of the mould, or a place on an edge of it.
struct Crease {
  Vec3 point_m;
  Vec3 outward;     ///< unit, mean of the faces around, by their angle or alike
  double radius_m;  ///< of the surface that the facets stand for; 0 = a sharp edge
  bool is_convex;   ///< stands out, so that a sheet can lie on it; else the sheet must bend into it
};

/// Which turns count, and how closely long edges are taken.
struct CreaseScale {
  double spacing_m;         ///< between places on an edge, at the most
  double largest_radius_m;  ///< a gentler turn is left out
  double merge_m;           ///< of places nearer than about this the sharpest stands for all
  /// On a turn of radius r places may be sqrt(2 r sag) apart, at most a spacing: what lies between two of them stands
  /// out by no more than this. 0: only merge_m counts.
  double sag_m = 0.0;
};

/// The creases of a surface, found by the box they lie in. The radius of an edge between facets of mean height w that
/// meet at an angle t is w / (2 tan(t/2)), that of a circle that touches both in their middle: right for the strips of
/// a fillet, up to half too large for triangles that are alike all round. From kSharp on the edge is taken to be meant.
/// Immutable; no query allocates. Same surface, same places in the same order.
class Creases {
 public:
  static constexpr double kSharp_rad = 0.45;  ///< about 26 degrees: coarser than any fillet worth its facets

  Creases(const mesh::Nearest& surface, const CreaseScale& scale);

  /// Those of which `wanted`, one a place, is not 0.
  Creases chosen(const std::vector<char>& wanted) const;

  int size() const { return static_cast<int>(places_.size()); }
  const Crease& operator[](int i) const { return places_[static_cast<std::size_t>(i)]; }

  /// visit(i) for every place in the box that turns on no larger radius, in order of cells, then of radius. Stops when
  /// visit returns false.
  template <class Visit>
  void in_box(const Vec3& low_m, const Vec3& high_m, double largest_radius_m, Visit&& visit) const {
    if (places_.empty()) return;
    std::array<int, 3> from, to;
    for (int k = 0; k < 3; ++k) from[at(k)] = cell(k, low_m[k]), to[at(k)] = cell(k, high_m[k]);
    for (int z = from[2]; z <= to[2]; ++z)
      for (int y = from[1]; y <= to[1]; ++y)
        for (int x = from[0]; x <= to[0]; ++x) {
          const std::size_t c = at(x + cells_[0] * (y + cells_[1] * z));
          if (sharpest_m_[c] > largest_radius_m) continue;
          for (int k = first_[c]; k < first_[c + 1] && places_[at(k)].radius_m <= largest_radius_m; ++k) {
            const Vec3& p = places_[at(k)].point_m;
            if ((p.array() >= low_m.array()).all() && (p.array() <= high_m.array()).all() && !visit(k)) return;
          }
        }
  }

 private:
  static std::size_t at(int i) { return static_cast<std::size_t>(i); }
  int cell(int axis, double x_m) const;
  void sort_into_cells();

  std::vector<Crease> places_;      ///< cell by cell, the sharpest of each first
  std::vector<int> first_;          ///< of each cell, and the end
  std::vector<double> sharpest_m_;  ///< smallest radius in each cell; infinity where it is empty
  Vec3 low_m_ = Vec3::Zero();
  double cell_m_ = 1.0;
  std::array<int, 3> cells_{1, 1, 1};
};

}  // namespace pellicle::mould
