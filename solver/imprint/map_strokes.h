// Which strokes does a relief have: where do they run, how wide are they, what do they enclose?
//
// docs/theory/capture.md. The land is level here: what is left of a mould without its smooth shape, a text, a picture.
#pragma once

#include "mesh/height_map.h"
#include "solver/imprint/morphology.h"

#include <array>
#include <optional>
#include <vector>

namespace pellicle::imprint {

/// Height of the land: 0, unless another level holds more than twice as much of the border (of all, if periodic or one
/// row); none where no level within 2.5 % of the relief holds a fifth of it and a tenth of all.
std::optional<double> land_of(const mesh::HeightMap& map);

/// A place in the middle of something, and the way from side to side there.
struct Crossing {
  double x_m, y_m;
  double width_m;  ///< from side to side, at half its height
  double run_rad;  ///< at right angles to that, 0 to pi; NaN: round
};

/// One stroke: connected cells (over edges, corners and the ends of a period) beyond half its greatest height.
struct MapStroke {
  std::vector<std::size_t> cells;  ///< rows in order
  std::array<double, 4> box_m;
  double height_m;  ///< over the land at most; < 0: sunk
  bool round;
  std::vector<Crossing> middle;  ///< along it, at most some hundreds; of a round one, its middle
};

struct MapStrokes {
  double land_m = 0.0;
  std::vector<MapStroke> strokes;
  std::vector<int> of;  ///< ny*nx, number of the stroke a cell belongs to; -1: none
  int too_narrow = 0;   ///< left out, as less than three cells wide
};
MapStrokes strokes_of(const mesh::HeightMap& map, double land_m);

/// Closed pieces of what is not marked, each at least three cells wide; and what is neither marked nor closed in.
struct Surroundings {
  std::vector<std::vector<std::size_t>> counters;
  std::vector<char> outside;  ///< ny*nx
};
Surroundings around(const mesh::HeightMap& map, const std::vector<char>& marked);

/// Distance of the middles of all cells to the nearest of a marked one; beyond the patch marks go on as its border or
/// its period does.
std::vector<double> distance_m(const mesh::HeightMap& map, const std::vector<char>& marked);

/// Width and run at a place within something that ends where the heights cross `level_m`: of straight sides at a
/// distance w, 1/chord^2 over the angle is (1 + cos 2 (angle - across))/(2 w^2), so its second harmonic points across.
/// Round: chords differ by less than a tenth.
Crossing crossing_at(const mesh::HeightMap& map, double x_m, double y_m, double level_m);

}  // namespace pellicle::imprint
