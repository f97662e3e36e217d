// Pulled in this direction, what of the part is held back: too little draft, or mould in its way?
//
// docs/theory/demould.md.
#pragma once

#include "solver/checks/layer_lines.h"

#include <vector>

namespace pellicle::checks {

/// A place is looked out from by so much of the bought thickness above the mould: an overhang of less is not seen, and
/// upright walls may be off by the rounding of their file.
inline constexpr double kOffMould = 1e-3;

/// Angle of the mould's surface to the pull direction: 90 degrees lies flat, 0 is a straight wall, below 0 faces away.
double draft_rad(const mesh::Vec3& mould_normal, const mesh::Vec3& pull);

/// A stretch of mould that the part lies on with less draft than asked: triangles that hang together by edges.
struct Wall {
  double least_draft_rad;
  mesh::Vec3 place_m;     ///< where the part lies on it with the least draft
  double area_m2 = 0.0;   ///< of the part on it
  double height_m = 0.0;  ///< along the pull, of the part on it
};
/// Least draft first; of equals in the order of their first triangles.
std::vector<Wall> steep_walls(const Formed& formed, const std::vector<Lying>& lying, const mesh::Vec3& pull,
                              double less_than_rad);

/// A piece of the part that cannot go straight along the pull, because mould stands over it.
struct Trapped {
  int triangle;         ///< of the sheet
  mesh::Vec3 place_m;   ///< its middle; on the mould where it lies there
  double depth_m;       ///< square to the pull, how far it has to move before nothing stands over it
  double half_width_m;  ///< of what it lies round, or in a cavity of the cavity, across that way; see interlock_strain
  bool in_cavity;       ///< mould stands round it: the part is pressed inwards, not widened
  int mould_triangle;   ///< nearest to it
  bool hooked = false;  ///< no way out sideways: depth_m is the size of the mould, half_width_m half of it

  /// Strain of a ring that passes the lip: its widening over its half width.
  double interlock_strain() const { return depth_m / half_width_m; }
};
/// By number of triangle. What stands over by less than a thousandth of the bought thickness is round-off. Of more than
/// 5000 such pieces each looked at stands for some that follow it. Empty without a mould surface.
std::vector<Trapped> trapped(const Formed& formed, const mesh::Vec3& pull);

/// Share of the walls that the part lies on, by area, round which mould stands: 1 in a cavity, 0 round a block. Walls
/// have less than 60 degrees of draft, either way; 0 without any.
double cavity_share(const Formed& formed, const std::vector<Lying>& lying, const mesh::Vec3& pull);

/// What one direction makes of the pulling.
struct PullMeasure {
  mesh::Vec3 direction;  ///< unit
  double trapped_share;  ///< of the area of the part that lies on the mould
  double draft_rad;      ///< 99 % of that area have more

  /// Smaller is better: anything trapped counts before any draft.
  double score() const;
};
PullMeasure measure_pull(const Formed& formed, const std::vector<Lying>& lying, const mesh::Vec3& pull);

/// Least score over the directions that lead up: 500 of a lattice and z, on four hundred places of equal area; the best
/// five refined down to a quarter of a degree; z if none is better. lying must not be empty.
PullMeasure best_pull(const Formed& formed, const std::vector<Lying>& lying);

}  // namespace pellicle::checks
