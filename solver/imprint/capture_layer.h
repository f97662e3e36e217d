// How far does layer theory hold for one stroke, how deep does it say the sheet goes, and what would make it deeper?
//
// docs/theory/capture.md.
#pragma once

#include "mesh/height_map.h"
#include "solver/imprint/capture.h"
#include "solver/imprint/compliance.h"
#include "solver/imprint/press.h"

#include <string>
#include <vector>

namespace pellicle::imprint {

/// The state with stretches that leave it taut: a sheet that is compressed by less than 5 % along an axis of the patch
/// counts as one without tension there, which is noted. Throws Error (case) where a number is none, where the sheet is
/// compressed by more, and where a skin is not thinner than the sheet or softer than its core.
LocalState taut(const LocalState& state, const std::string& name, std::vector<std::string>& notes);

/// Skin, on the mould's side, and core.
LayerStack stack_of(const LocalState& state);

/// Stretches at a stroke whose run is at this angle from the patch's x; NaN: round, the geometric mean both ways.
/// l_across^2 = lx^2 sin^2 + ly^2 cos^2; along it what leaves the thickness as it is, lx ly/l_across: exact on the
/// axes, and what the layer theory of press.md takes between them.
struct Ways {
  double across, along;
};
Ways ways(const LocalState& state, double run_rad);

/// What the press says of a patch, at the pressure and at an eighth of it: where the sheet rests on a floor, eight
/// times the latter is how deep it would be without one.
struct PressedPatch {
  std::vector<double> height_m, free_height_m;  ///< of the underside; 0 at the highest mould point
  std::vector<double> gap_m, contact_pressure_Pa;
  double gap_error_m = 0.0;
};

/// The press on one map, in any zero. back_Pa: of air below the sheet, a value a cell; empty: none.
class PatchPress {
 public:
  /// Throws what Press throws. `stop` must outlive it.
  PatchPress(const mesh::HeightMap& map, bool periodic, const LocalState& state, const Stop& stop);

  /// Heights of the underside at the full pressure, 0 at the highest mould point. Twice solved, so that the error of
  /// the gap is below 0.3 % of the deepest point. Throws Stopped, what Press throws.
  const std::vector<double>& height_m(const std::vector<double>& back_Pa);
  /// The same, and at an eighth of all pressures.
  PressedPatch patch(const std::vector<double>& back_Pa);

 private:
  Pressed to_its_depth(double part, const std::vector<double>& back_Pa);

  Press press_;
  std::vector<double> mould_m_;
  double relief_m_, pressure_Pa_;
  const Stop& stop_;
  Pressed full_;  // of back_Pa_
  std::vector<double> back_Pa_;
};
/// Of a map without air below the sheet.
PressedPatch pressed(const mesh::HeightMap& map, bool periodic, const LocalState& state, const Stop& stop);

/// What layer theory knows of one stroke.
struct Span {
  double width_m;   ///< that the sheet has to bridge
  double height_m;  ///< > 0
  double layer_m;   ///< depth, stopped by the floor
  double free_m;    ///< depth without a floor
  Ways stretch;
  bool sunk, round;
};

/// d = d_lin/(1 + k d_lin/w), at most the height.
double corrected_m(const Span& span, const LocalState& state);
bool in_range(const Span& span, const LocalState& state);

/// Fills answer, model, validity, shares and advice; stick and slip are in the stroke's depth already, or NaN: then
/// layer theory answers, valid in its range.
void settle(const Span& span, const LocalState& state, double wanted_share, StrokeAnswer& stroke);

}  // namespace pellicle::imprint
