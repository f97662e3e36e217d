// What of a mould can a sheet see that comes down on it, and what lies under an overhang?
#pragma once

#include "mesh/nearest.h"

#include <cstdint>
#include <span>
#include <vector>

namespace pellicle::mesh {

enum class Sight : std::uint8_t {
  kSeen,      ///< nothing above it, and it faces up or stands upright
  kOverhang,  ///< it faces down
  kHidden,    ///< it faces up, under an overhang
  kBase,      ///< it faces down, at or below the floor: the mould stands on it
  kBack,      ///< it faces down and nothing stands over it: its back is seen, the surface is open or inside out there
};

struct Visibility {
  std::vector<Sight> sight;       ///< M, of each triangle's middle
  double undercut_area_m2 = 0.0;  ///< of overhang and hidden
  double undercut_depth_m = 0.0;  ///< farthest that a place under an overhang lies, level, behind what is seen
  Vec3 deepest_m = Vec3::Zero();  ///< that place
  double seen_area_m2 = 0.0, back_area_m2 = 0.0;
  Vec3 back_m = Vec3::Zero();  ///< a place where the back is seen, if there is one
};

/// From straight above, the way the sheet comes and the part leaves. An upright wall (within `upright_rad` of vertical)
/// is seen unless something stands over it. `closely` (empty, or a flag for each triangle): not only the middle is
/// asked whether its back is seen. Same answer for any number of threads.
Visibility look_from_above(const Nearest& surface, double floor_m, std::span<const char> closely = {},
                           double upright_rad = 1e-3);

/// Square to the pull direction (unit), from a place under an overhang to the nearest that nothing stands over: how far
/// what lies there has to be moved sideways before it can be pulled off.
struct WayOut {
  double length_m;  ///< far_m if there is none nearer
  Vec3 along;       ///< unit; zero if there is none
};
/// Looked for in sixteen directions, so up to 2 % too long; its end is found to a thousandth of the way. An opening
/// narrower than a fiftieth of far_m may be passed over.
WayOut way_out(const Nearest& surface, const Vec3& from_m, const Vec3& pull, double far_m, double round_off_m);

}  // namespace pellicle::mesh
