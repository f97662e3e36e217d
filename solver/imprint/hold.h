// How much of its depth does detail lose when the gas is let off, and how long must the gas stay so that it keeps it?
//
// docs/theory/hold.md. The mould's skin has set, the core is still rubber and pulls back what it was pressed into.
#pragma once

#include "solver/forming/forming_result.h"
#include "solver/sheet/heat_spec.h"

#include <optional>
#include <span>
#include <vector>

namespace pellicle::imprint {

/// A stroke that has formed.
struct HeldStroke {
  double width_m;
  double lies;  ///< share of it that lies on its floor, so the mould cools it; the rest spans it, as open_weight says
  double stretch_across = 1.0, stretch_along = 1.0;
};

/// What a place would do if the gas were let off at one time after its touch.
struct LetGo {
  double since_s;
  double set_m;  ///< depth below the set temperature then, from the mould's side
  double thickness_m;
  std::vector<double> edges_m;                  ///< of the cells, from the mould's side
  std::vector<double> pulls_Pa, withstands_Pa;  ///< cell by cell: what pulls back, what a change from now on meets
};

/// The place that touched first at touched_s, at times from its touch until it has set, or for longest_s: under the
/// largest gas pressure of the run so far, from the first pressure on. Let off, it cools on with
/// heat.free_side_after(). Needs heat.law and formed.pressed_s.
std::vector<LetGo> let_go(const HeatSpec& heat, const forming::FormingResult& formed, double touched_s,
                          double thickness_m, bool on_mould, double longest_s);

/// Share of its depth that the stroke loses, 0 to 1: phi S(pulls)/(S(withstands) + (phi - 1) S(pulls)), S the surface
/// stiffness of the cells as layers at k = pi/width, phi by how much the sheet's stretches stiffen a hot one.
double lost_share(const LetGo& at, const HeldStroke& stroke);

/// Both sides of the chill of one patch.
struct Held {
  double touched_s, diffusivity_m2_s;
  std::vector<LetGo> chilled, open;  ///< at the same times
};
/// None without law or history of pressure, and where no gas pressed from the touch on.
std::optional<Held> held(const HeatSpec& heat, const forming::FormingResult& formed, double touched_s,
                         double thickness_m, double longest_s);

/// Of this stroke, let go of at time_s of the run; between the times, in the logarithm of the time since touch.
double lost_share(const Held& held, const HeldStroke& stroke, double time_s);
/// First time of the run, from from_s on, after which it loses no more than this share; infinite: none [s].
double safe_from_s(const Held& held, const HeldStroke& stroke, double share, double from_s);

}  // namespace pellicle::imprint
