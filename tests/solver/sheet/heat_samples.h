// Which sheets are heated and cooled in the tests? One place of a sheet, driven step by step.
#pragma once

#include "solver/sheet/heat.h"

#include <limits>
#include <vector>

namespace pellicle::sheet {

inline std::size_t at(int i) { return static_cast<std::size_t>(i); }

// Polystyrene when hot: k of the room-temperature table, cp from memory (docs/theory/heat.md).
inline constexpr HeatMaterial kPolystyrene{0.16, 1800.0, 1040.0};
inline constexpr double kHot_K = 413.15, kMould_K = 298.15, kSheet_m = 0.75e-3;
inline constexpr double kResin = 575.0, kAluminium = 23400.0;  // effusivities, W s^0.5/m2K
inline constexpr double kAlways_s = std::numeric_limits<double>::infinity();

inline StartTemperature evenly(double T_K) {
  return [=](const Vec2&) { return FaceTemperatures{T_K, T_K}; };
}

/// Nodes all alike, with what a step needs.
struct Place {
  HeatState state;
  std::vector<double> thickness_m, contact_s, effusivity;
  double contact_W_m2K = 1000.0;
  HeatFilm free_side, open_side;

  explicit Place(int cells = 12, const StartTemperature& start = evenly(kHot_K), int nodes = 1,
                 double sheet_m = kSheet_m)
      : state(hot_sheet(kPolystyrene, cells, std::vector<Vec2>(at(nodes), Vec2::Zero()), sheet_m, start, kMould_K)),
        thickness_m(at(nodes), sheet_m),
        contact_s(at(nodes), 0.0),
        effusivity(at(nodes), kResin) {}

  void touch(double conductance_W_m2K, double mould_effusivity) {
    contact_W_m2K = conductance_W_m2K;
    for (double& c : contact_s) c = kAlways_s;
    for (double& e : effusivity) e = mould_effusivity;
  }
  void step(double dt_s) {
    exchange_heat(state, {dt_s, thickness_m, contact_s, effusivity, contact_W_m2K, free_side, open_side});
  }
  void steps(int n, double dt_s) {
    for (int k = 0; k < n; ++k) step(dt_s);
  }
  double cell_K(int cell, int node = 0) const {
    return state.sheet_K[at(node / kHeatLanes) * at(state.cells) + at(cell)][node % kHeatLanes];
  }
  double face_K() const { return state.face_K[0][0]; }
  double mould_face_K() const { return state.mould_face_K[0][0]; }
};

}  // namespace pellicle::sheet
