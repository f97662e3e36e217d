// Which narrow round holes go right through a mould, seen from above: where, how wide, how long, how tapered?
#pragma once

#include "mesh/nearest.h"

#include <vector>

namespace pellicle::mesh {

/// A hole about an upright axis, open above and below.
struct ThroughHole {
  Vec3 opening_m;     ///< middle of its upper end
  double diameter_m;  ///< at its narrowest: of the circle with the area of the section
  double length_m;    ///< from end to end
  double land_m;      ///< of that, within a tenth of the narrowest diameter
  double foot_m;      ///< diameter at its lower end
  double taper_m;     ///< length from land to lower end
};

/// All whose narrowest diameter is at most `largest_m`, in the order of the surface's triangles. A hole counts if the
/// line down its middle meets nothing, and its sections are closed and round to 3 : 5. Looked at are walls steeper than
/// 45 degrees; sections a fortieth of `largest_m` apart, so what is shorter than that is not seen. Slots, gaps between
/// posts, blind and slanting holes are not among them.
std::vector<ThroughHole> through_holes(const Nearest& mould, double largest_m);

}  // namespace pellicle::mesh
