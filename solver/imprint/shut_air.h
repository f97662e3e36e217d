// Which hollows of a relief does the sheet close, and what pressure does the air in them come to?
//
// docs/theory/trapped_air.md, "Hollows of a relief". Counters of letters, sunk letters, dots and pits: pockets too
// small for elements. Air at one temperature, none of it leaks out.
#pragma once

#include "mesh/height_map.h"
#include "solver/imprint/capture.h"
#include "solver/imprint/capture_layer.h"
#include "solver/imprint/capture_section.h"

#include <cstddef>
#include <vector>

namespace pellicle::imprint {

/// Part of a map that lies below the lowest place of a rim all around it: once sheet rests on that rim, air is shut in.
struct Hollow {
  std::vector<std::size_t> cells;
  std::size_t deepest = 0;  ///< cell
  double rim_m = 0.0;       ///< that lowest place, in the heights of the map
  double volume_m3 = 0.0;   ///< below it
};

/// None that reaches the patch's border (of a periodic map too), that `lets_out` names, or that is shallower than a
/// quarter of the relief or smaller than nine cells. In the order of their first cell.
std::vector<Hollow> closed_hollows(const mesh::HeightMap& map, const LetsOut& lets_out);

/// Distance from each hollow's nearest cell to land as low as the hollow's middle depth that air can leave from, or to
/// the border [m]: what a channel to the outside has to cross. Throws Stopped.
std::vector<double> ways_out_m(const mesh::HeightMap& map, const std::vector<Hollow>& hollows, const Stop& stop);

/// Search for the pressure q of shut-in air, above the outside: the sheet, which p - q is left to press, fills the
/// share f(q) of the hollow, and q = p0 f/(1 - f) (Boyle), so f(q) = q/(q + p0). f falls with q: one root in 0..p,
/// found by false position (Illinois). `told` is what the sheet filled at `try_Pa`; true: in balance to a thousandth of
/// the hollow, or nothing lies between two pressures a thousandth of p apart, as where a section snaps.
class AirBalance {
 public:
  /// filled_free: share that fills without air, by which the search begins (eq. 7).
  AirBalance(double pressure_Pa, double filled_free);
  double try_Pa() const { return try_Pa_; }
  bool told(double filled);
  double off() const { return off_; }  ///< last residual, a share of the hollow

 private:
  double low_Pa_ = 0.0, high_Pa_, at_low_, at_high_, try_Pa_, off_ = 0.0, narrow_Pa_;
  int side_ = 0;
};

/// A patch under which hollows keep their air.
struct SealedPatch {
  PressedPatch patch;
  std::vector<double> filled_free, filled, pressure_Pa;  ///< of each hollow
  std::vector<double> back_Pa;                           ///< a value a cell
};
/// `free`: the patch without air. Throws what PatchPress throws, and Error (solution) where no balance is found.
SealedPatch pressed_with_air(const mesh::HeightMap& map, bool periodic, const LocalState& state, const Stop& stop,
                             const std::vector<Hollow>& hollows, const std::vector<double>& free_height_m);

/// Share of what lies below `rim_m`, from `about_m` out to where the section rises to it on either side, that the
/// underside fills.
double filled_in_section(const CrossSection& section, const SectionResult& result, double rim_m, double about_m);

/// A section over a hollow, and what it does where air is free.
struct SectionOverAir {
  const CrossSection& section;
  const BothTouches& free;
  double rim_m, about_m;  ///< as filled_in_section has them
};
/// Both touches of each in balance with the air, several at a time; the same bits for any number of threads. A result
/// is empty where the free one is, or no rest was found.
std::vector<BothTouches> solve_over_air(const std::vector<SectionOverAir>& asked, const LocalState& state,
                                        const Stop& stop);

}  // namespace pellicle::imprint
