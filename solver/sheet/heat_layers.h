// What do other rooms need of a node's heat? Its cells in layers, the depth that has set, the time until all has.
#pragma once

#include "solver/sheet/heat.h"

#include <span>
#include <vector>

namespace pellicle::sheet {

/// Skin, what lies behind it, core, and the free side: cut at these shares of the thickness from the mould's side.
inline constexpr double kLayerCuts[] = {0.1, 0.3, 0.65};

/// Mean through the thickness of a node as it left the heater [K].
inline double start_mean_K(const HeatState& state, int node) {
  return state.start_mean_K[static_cast<std::size_t>(node / kHeatLanes)][node % kHeatLanes];
}

/// First cell of each layer, from the mould's side, and one past the last cell: cut at the edges of cells nearest to
/// `cuts` (rising, inside 0 to 1); cuts that fall on one edge, or on a face, make no layer.
std::vector<int> layer_cells(std::span<const double> edges, std::span<const double> cuts = kLayerCuts);

/// How deep the sheet is below its set temperature, from either side; all of it: the thickness from both. Linear
/// between faces and middles of cells.
struct SetDepth {
  double mould_side_m;
  double free_side_m;
};
SetDepth set_depth(const HeatProfile& profile, double set_K);

/// A place of the formed part that stays as it is while it cools.
struct CoolingWall {
  HeatMaterial material;
  HeatProfile profile;
  HeatFilm free_side;                      ///< still air, or a fan
  HeatFilm open_side;                      ///< mould side, where the part is off the mould
  double contact_W_m2K = 0.0;              ///< 0: off the mould
  double mould_effusivity_Ws05_m2K = 0.0;  ///< read with contact
  std::vector<double> mould_K = {};        ///< kMouldCells, from its surface down; read with contact
};

/// A node as it is now, on the mould or off it as given.
CoolingWall cooling_wall(const HeatState& state, int node, const HeatStep& sides);

/// Time from now until every cell is below `set_K`, to about 1 part in 1,000 of itself; 0 where all are, infinity where
/// some cell is not within `longest_s` [s]. Throws Error (case) as exchange_heat does.
double cooling_time_s(const CoolingWall& wall, double set_K, double longest_s);

/// The same for every node with asked[node] != 0 of a sheet that stays as it is, N values. `sides` as of a heat step,
/// its dt_s is not read. Of nodes not asked for: infinity where the march ended before they had set.
std::vector<double> cooling_times_s(HeatState state, HeatStep sides, std::span<const char> asked, double set_K,
                                    double longest_s);

}  // namespace pellicle::sheet
