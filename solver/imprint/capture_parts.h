// The two ways a relief is answered: along one line, or over a patch. Their common parts.
//
// docs/theory/capture.md.
#pragma once

#include "solver/imprint/capture.h"
#include "solver/imprint/capture_section.h"

#include <string>
#include <vector>

namespace pellicle::imprint {

/// Heights along one line, the same all along it or round its beginning; it lies `run_rad` from the patch's x.
struct Line {
  std::vector<ProfilePoint> points;  ///< x never falling, from 0
  bool round = false, periodic = false;
  double edge_radius_m = 0.0;
  double run_rad = 0.0;         ///< of the strokes; NaN: round
  double most_spacing_m = 0.0;  ///< of the places in the answer, besides the line's own points; 0: none but its own
};

/// All but names, labels and narrowest_formed_m. A stroke's place is (its middle along the line, 0). Over the air in
/// closed hollows if `lets_out` is given: a round line has such, a strip is open at its ends.
ReliefAnswer capture_line(const Line& line, const LocalState& state, double wanted_share, bool sections,
                          const Stop& stop, const LetsOut& lets_out);
ReliefAnswer capture_map(const mesh::HeightMap& map, const LocalState& state, double wanted_share, bool sections,
                         const Stop& stop, const LetsOut& lets_out);

/// How far beside a raised stroke its depth is looked at: its own width, a quarter of the thickness at least.
double reach_m(double width_m, double thickness_m);

/// The deepest point of the patch from the stroke it belongs to: its part below the land (sunk) or below the stroke's
/// top (raised), times what the stroke's depth is of that of the plain layer theory.
Depths depth_of_patch(double layer_m, double above_m, const StrokeAnswer& stroke, double own_depth_m);

/// What a reader has to know of sections, in words.
void note_section(const BothTouches& both, const std::string& of, std::vector<std::string>& notes);

/// The corner that a section left free, where it touches the floor.
double corner_radius_m(const BothTouches& both);

}  // namespace pellicle::imprint
