// What skin has the mould chilled into the sheet when it is pressed hardest, and what does detail then take?
//
// docs/theory/heat.md, "Into the detail". One dimension through the thickness, from the heater to the touch of the
// place and on through the press.
#pragma once

#include "solver/forming/forming_result.h"
#include "solver/imprint/capture.h"
#include "solver/sheet/heat_spec.h"

#include <span>
#include <vector>

namespace pellicle::imprint {

/// The sheet of one place at one time after it touched, as two layers.
struct Moment {
  double since_s;
  double pressure_Pa;
  double core_Pa;  ///< shear modulus: mean over what is not skin
  double skin_m;   ///< on the mould's side, more than kSkinTimes as stiff as the softest cell; 0: none
  double skin_Pa;
};
inline constexpr double kSkinTimes = 2.0;

/// One place: where it lies on the mould, and where it spans a stroke and the mould takes nothing.
struct Moments {
  std::vector<Moment> chilled, open;  ///< at the same times, from a millisecond after the touch to the end
  double diffusivity_m2_s;
};

/// The sheet that touched first at `touched_s` and is `thickness_m` thick when formed. A cell's modulus is what network
/// and modes oppose to detail that has gone deeper in proportion to the gas pressure since the touch, each by its own
/// temperature: pressed on at once, G at the reduced time since; pressed on when it is glass, the glass's. None without
/// a law, or where the run is over at the touch.
std::optional<Moments> moments_after(const HeatSpec& heat, const forming::FormingResult& formed, double touched_s,
                                     double thickness_m);

/// Places that touched at about the same time count as one.
struct TouchClass {
  double touched_s = 0.0, thickness_m = 0.0;  ///< means by weight
  std::vector<std::size_t> members;           ///< rising
};
/// Equal steps of time between the first touch and the last; those without weight are left out.
inline constexpr int kTouchClasses = 16;
std::vector<TouchClass> touch_classes(std::span<const double> touched_s, std::span<const double> weight,
                                      std::span<const double> thickness_m);

/// The moment of largest pressure x compliance for a stroke of this width: what is deepest then stays, for a stiffer
/// sheet does not come back from where it was (k = pi/width, the sheet unstretched).
const Moment& strongest(const std::vector<Moment>& moments, double thickness_m, double width_m);

/// How much a stroke of this width is as if the sheet over it were not chilled: erf(0.85 w/sqrt(4 alpha t)), fitted to
/// a few two-dimensional heat runs (ours, from memory).
double open_weight(double width_m, double diffusivity_m2_s, double since_s);

/// `task`, whose state is that of the formed sheet, answered twice, open and chilled, each at its strongest moment for
/// its strokes' median width; depths and shares stroke by stroke between the two by open_weight, the patch by that of
/// the median. The answer's state is the chilled one.
ReliefAnswer capture_between(CaptureTask task, const Moments& moments);

}  // namespace pellicle::imprint
