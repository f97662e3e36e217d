// How deep does the sheet form each stroke of a relief, by which model, and what would make it deeper?
//
// docs/theory/capture.md. The layer theory of press.h over the whole patch, the finite-strain section of section.h
// where its range ends.
#pragma once

#include "mesh/height_map.h"
#include "solver/imprint/local_state.h"

#include <array>
#include <functional>
#include <limits>
#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace pellicle::imprint {

/// Which model a number comes from.
enum class Model {
  kLayer,       ///< linear layer, corrected for finite depth, within its range
  kSection,     ///< finite-strain section
  kLayerBeyond  ///< linear layer outside its range, because no section could be found or solved: not valid
};
const char* model_word(Model model);  ///< "layer", "section", "layer beyond its range"

/// Name for the strokes in a box of the patch: a letter of a text, a cell of braille.
struct Label {
  std::string name;
  std::array<double, 4> box_m;  ///< lowest x, lowest y, highest x, highest y, from the patch's lower left corner
};

/// Asked before each press and each section, from any thread; true: someone wants the program to stop.
using Stop = std::function<bool()>;
/// Thrown where `stop` says so.
struct Stopped {};

/// Does air get out of a relief within a distance of a place of the patch: through a vent, or a perforated platform
/// below? x, y from the patch's lower left corner; of a round profile, from its axis.
using LetsOut = std::function<bool(double x_m, double y_m, double within_m)>;

/// One relief to be answered.
struct CaptureTask {
  std::string name;
  std::variant<mesh::HeightMap, mesh::Profile> shape;
  bool periodic = false;      ///< of a profile; a map says so itself
  std::vector<Label> labels;  ///< empty: strokes are numbered
  LocalState state;
  double wanted_share = 0.8;  ///< limits.min_capture
  bool sections = true;       ///< false: layer theory alone, whatever its range
  LetsOut lets_out = {};      ///< closed hollows that it does not name keep their air; empty: air is free everywhere
  Stop stop = [] { return false; };
};

constexpr double kNotRun = std::numeric_limits<double>::quiet_NaN();

/// Depths of one place by each model [m]; NaN where a model was not run.
struct Depths {
  double stick_m = kNotRun, slip_m = kNotRun;  ///< section
  double layer_m = kNotRun;                    ///< plain layer theory, not corrected, stopped by the floor
  double answer_m = kNotRun;                   ///< what counts
  Model model = Model::kLayer;
  bool valid = true;
};

/// One connected stroke, dot, groove or hole.
struct StrokeAnswer {
  std::string name;               ///< of its label, with .1, .2 where a label has several; else "stroke 3"
  int number = 0;                 ///< as found on the relief, whatever the sheet; strokes are sorted by name
  std::array<double, 2> place_m;  ///< where its critical section lies, from the patch's lower left corner
  double width_m = 0.0;           ///< at half its height, along most of it
  double narrowest_m = 0.0;
  double height_m = 0.0;    ///< < 0: sunk
  double angle_rad = 0.0;   ///< of its run at that place, from the patch's x; NaN: round
  bool in_counter = false;  ///< raised: the least depth is inside a closed counter
  Depths depth;             ///< sunk: into it; raised: beside it, within one width, or in its counters if less
  double share = 0.0;       ///< answer over |height|, at most 1
  double share_stick = kNotRun, share_slip = kNotRun;
  double corner_radius_m = kNotRun;     ///< left free at the foot; NaN: floor not reached, or not computed
  double share_air_free = kNotRun;      ///< if air were free; NaN: no closed hollow there, or nobody asked
  double share_along = kNotRun;         ///< what the same stroke would reach if it ran along the larger stretch
  double needed_pressure_Pa = kNotRun;  ///< at which it would reach the wanted share, layer theory corrected; NaN: none
  double needed_width_m = kNotRun;      ///< sunk: width at this depth that would
  double needed_thickness_m = kNotRun;  ///< sheet over it that would
};

/// A closed hollow of a relief and the air that the sheet shuts in.
struct HollowAir {
  std::array<double, 2> place_m;           ///< its deepest place, from the patch's lower left corner
  double volume_m3 = 0.0;                  ///< below the lowest place of its rim, where sheet seals it
  double way_out_m = 0.0;                  ///< from it to where air is free
  double filled_free = 0.0, filled = 0.0;  ///< share that the sheet fills: if air were free; over the air
  double pressure_Pa = 0.0;                ///< of the air, above the outside
};

/// What became of one relief. Fields as in result_format.md, on the cells of the patch; a profile has ny = 1.
struct ReliefAnswer {
  std::string name;
  LocalState state;
  int nx = 0, ny = 0;
  std::vector<double> x_m, y_m;                               ///< middles of cells; a profile's own points
  std::vector<double> mould_height_m, sheet_height_m, gap_m;  ///< ny*nx; 0 at the highest mould point
  std::vector<double> contact_pressure_Pa;                    ///< ny*nx
  std::vector<double> air_pressure_Pa;  ///< ny*nx, of air shut in, above the outside; empty: none is
  std::vector<HollowAir> hollows;       ///< that keep their air
  double depth_lost_to_air_m = 0.0;     ///< most that any stroke (without strokes: the patch) would be deeper without
  double own_depth_m = 0.0;             ///< deepest mould point below its highest
  Depths depth;                         ///< deepest point of the sheet below the highest of the mould
  double capture = 0.0, capture_stick = kNotRun, capture_slip = kNotRun;  ///< depth over own depth
  double gap_error_m = 0.0;  ///< of the fields: of the press, and of a map what its strokes' answers differ from them
  std::vector<StrokeAnswer> strokes;
  double narrowest_formed_m = kNotRun;  ///< narrowest stroke that reaches the wanted share; NaN: none does
  std::vector<std::string> notes;       ///< what the reader has to know: a section that snapped or failed, ...
};

/// Throws Stopped; Error (case) for a state that is none, (solution) when the press does not converge. A section that
/// finds no rest is a note and leaves the layer's number, valid in its range.
ReliefAnswer capture(const CaptureTask& task);

}  // namespace pellicle::imprint
