// Is air shut in under the formed sheet, do the vents mark the part or print shut, and where should there be one?
//
// docs/theory/trapped_air.md, "What is told".
#pragma once

#include "solver/air/vent.h"
#include "solver/checks/first_findings.h"

#include <optional>
#include <vector>

namespace pellicle::checks {

/// Air that is still under the sheet when forming ends.
struct ShutIn {
  double volume_m3, mass_kg;
  double pressure_Pa;  ///< above the outside
};
/// Not the number of a pocket: the node touches, or sheet lies on the vent; free air.
inline constexpr int kNoPocket = -1, kFreeAir = -2;
struct VentAtEnd {
  mesh::Vec2 at_m;
  air::Hole hole;
  int serves;  ///< pocket, kNoPocket or kFreeAir
};
struct AirAtEnd {
  std::vector<int> pocket_of;  ///< N, pocket, kNoPocket or kFreeAir
  std::vector<ShutIn> pockets;
  std::vector<VentAtEnd> vents;
  bool platform_leaks = true;  ///< air above it is free
  double temperature_K = air::kRoom_K;
};

/// One pocket as the engineer sees it.
struct PocketSeen {
  int pocket;
  double depth_m;  ///< largest gap of sheet to mould in the part
  int node;        ///< there
  double empty_s;  ///< until all of it has left by its vents, the sheet following at this pressure; infinite without
  mesh::Vec3 place_m;  ///< where the gap is largest
};
/// Those with some of the part over them and air that still pushes, deepest first.
std::vector<PocketSeen> pockets_seen(const Formed& formed, const AirAtEnd& air);

/// `set_s`: how long the sheet stays soft from now on, where that is known.
Finding pockets(const Formed& formed, const AirAtEnd& air, std::optional<double> set_s = {});

/// Height of the nipple that a round hole leaves, the penny crack p D/(2 pi G) (docs/theory/screening.md) with the
/// correction for depth; sheet neither stretched nor chilled, so rather too high [m].
double vent_mark_m(double diameter_m, double thickness_m, double pressure_Pa, double shear_modulus_Pa);

/// As wide as leaves no mark: no wider than the sheet there, nor than 0.5 mm [m].
double vent_diameter_m(double thickness_m);

struct VentPlace {
  mesh::Vec3 place_m;  ///< last to touch, or what never did
  double diameter_m;   ///< by the mark rule
  double area_m2;      ///< of the sheet that was cut off there from all other air
  double touched_s;    ///< NaN: never
};
/// The fewest places so that no air is cut off, by when each node touched: one in each part of the sheet that was cut
/// off, largest first. Parts smaller than ten squares of the element do not count; nor does what lies over a
/// platform that leaks, hangs together with a rim that stands clear, or has one of `vents` in it.
std::vector<VentPlace> propose_vents(const Formed& formed, const std::vector<VentAtEnd>& vents = {},
                                     bool platform_leaks = true);

/// Some pocket holds the part off so far that one sees it, and no vent opens into it.
bool leaves_air(const Formed& formed, const AirAtEnd& air);

/// `advised`: where to vent; none: what propose_vents says of this run, where there are no vents or they left air
/// behind.
Finding vents(const Formed& formed, const AirAtEnd& air, std::optional<std::vector<VentPlace>> advised = {});

}  // namespace pellicle::checks
