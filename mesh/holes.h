// Which narrow holes go right through a mould, seen from above: where, how wide, how long, how tapered, which way?
#pragma once

#include "mesh/nearest.h"

#include <vector>

namespace pellicle::mesh {

/// A hole about a straight axis, open above and below.
struct ThroughHole {
  Vec3 opening_m;                    ///< middle of its upper end
  double diameter_m;                 ///< at its narrowest: of the circle with the area of the section
  double length_m;                   ///< from end to end
  double land_m;                     ///< of that, within a tenth of the narrowest diameter
  double foot_m;                     ///< diameter at its lower end
  double taper_m;                    ///< length from land to lower end
  double slot_m = 0.0;               ///< long side of a slot, whose width is diameter_m; 0: round
  Vec3 axis = Vec3(0.0, 0.0, -1.0);  ///< into the mould; lengths are along it
};

/// All whose narrowest diameter, or width of a slot, is at most `largest_m`: upright round ones in the order of the
/// surface's triangles, then slots and slanting ones (slots.h). An upright one counts if the line down its middle meets
/// nothing, and its sections are closed and round to 3 : 5. Looked at are walls steeper than 45 degrees; sections a
/// fortieth of `largest_m` apart, so what is shorter than that is not seen. Gaps between posts and blind holes are not
/// among them.
std::vector<ThroughHole> through_holes(const Nearest& mould, double largest_m);

}  // namespace pellicle::mesh
