// How warm is the sheet through its thickness, node by node, and what does the mould take from it?
//
// docs/theory/heat.md. One dimension a node, across the sheet; nothing flows along it.
#pragma once

#include "mesh/refine.h"
#include "mesh/triangle_mesh.h"

#include <Eigen/Core>

#include <functional>
#include <span>
#include <vector>

namespace pellicle::sheet {

using mesh::Vec2;

struct HeatMaterial {
  double conductivity_W_mK;
  double specific_heat_J_kgK;
  double density_kg_m3;

  double diffusivity_m2_s() const;
  double effusivity_Ws05_m2K() const;  ///< sqrt(k rho cp)
};

/// Heat leaves a face with film_W_m2K (T_face - gas_K). A film of 0 lets nothing through.
struct HeatFilm {
  double film_W_m2K = 0.0;
  double gas_K = 293.15;
};

struct FaceTemperatures {
  double mould_side_K;
  double free_side_K;
};

/// What the heater left, by place in the flat sheet; linear between the faces. One temperature everywhere is
/// `[](const Vec2&) { return FaceTemperatures{T, T}; }`.
using StartTemperature = std::function<FaceTemperatures(const Vec2& flat_m)>;

/// Temperatures on a grid over the flat sheet, the same through the thickness: a StartTemperature. Bilinear between the
/// points, beyond the edge as at the edge.
struct TemperatureMap {
  Vec2 corner_m;             ///< place of the first point
  double spacing_m;          ///< along x and y
  int columns, rows;         ///< points along x, y; at least 2
  std::vector<double> at_K;  ///< rows x columns, x runs first

  /// Throws Error (case) where the map is not one.
  void check() const;
  FaceTemperatures operator()(const Vec2& flat_m) const;
};

/// Eight nodes side by side, in the order of the sheet.
inline constexpr int kHeatLanes = 8;
using HeatLanes = Eigen::Array<double, kHeatLanes, 1>;

inline constexpr int kFewestHeatCells = 8, kMostHeatCells = 16;
inline constexpr int kMouldCells = 8;

/// All that the next heat step depends on. N nodes, B = ceil(N/8) blocks of eight; lanes past the last node are idle.
/// Cell 0 of the sheet lies on the mould's side, cell 0 of the mould at its surface.
struct HeatState {
  HeatMaterial material;
  int count = 0;  ///< N
  int cells = 0;
  double flat_thickness_m = 0.0;
  std::vector<double> edges;  ///< cells + 1, as shares of the thickness from the mould's side: 0 to 1

  std::vector<HeatLanes> sheet_K;          ///< B x cells, means of the cells
  std::vector<HeatLanes> mould_K;          ///< B x kMouldCells, under each node where it touched
  std::vector<HeatLanes> thickness_m;      ///< B, at the end of the last step
  std::vector<HeatLanes> start_mean_K;     ///< B
  std::vector<HeatLanes> face_K;           ///< B, mould side
  std::vector<HeatLanes> free_face_K;      ///< B
  std::vector<HeatLanes> mould_face_K;     ///< B, the mould's own surface
  std::vector<HeatLanes> to_mould_J_m2;    ///< B, since the start, by area of the mould
  std::vector<HeatLanes> lost_below_J_m2;  ///< B, through the mould side by any way, by area of the flat sheet
  std::vector<HeatLanes> lost_above_J_m2;  ///< B, through the free side, by area of the flat sheet
  std::vector<char> met_mould;             ///< B, 1 = some node of the block has touched
  std::vector<double> part_step_s;         ///< B, length that the next part of a step should have
  std::vector<double> time_error_K;        ///< B, sum of what the parts so far may be off by
};

/// The flat hot sheet over a mould of one temperature. Throws Error (case) for cells outside 8 to 16, a thickness,
/// material or temperature that is none.
HeatState hot_sheet(const HeatMaterial& material, int cells, std::span<const Vec2> flat_m, double thickness_m,
                    const StartTemperature& start, double mould_K);

/// One heat step: many steps of the membrane. Everything per node is for the end of the step.
struct HeatStep {
  double dt_s;
  std::span<const double> thickness_m;  ///< N; it changes at a constant Hencky rate within the step
  std::span<const double> contact_s;    ///< N; how long the node has touched by now: 0 = open, dt_s or more = all step
  std::span<const double> mould_effusivity_Ws05_m2K;  ///< N; read where the node touches
  double contact_W_m2K;                               ///< conductance between sheet and mould
  HeatFilm free_side;
  HeatFilm open_side;  ///< the mould's side while it does not touch
};

/// Moves all temperatures on by the step, in as many parts as the accuracy asks for, block by block: TR-BDF2, each part
/// off by less than kPartError_K anywhere. Parallel over blocks, same bits for any number of threads. Throws Error
/// (case) for input out of range and Error (solution) where no part is short enough.
void exchange_heat(HeatState& state, const HeatStep& step);
inline constexpr double kPartError_K = 0.01;

/// After mesh::refine: a new node has the mean of all that its two ends have. The account of each node stays closed.
void refine(HeatState& state, const mesh::Refined& refined);

/// What one node is like. For many nodes read the arrays of the state.
struct HeatProfile {
  double thickness_m;
  std::vector<double> edges;   ///< as those of the state
  std::vector<double> cell_K;  ///< means, from the mould's side
  double face_K;               ///< mould side
  double free_face_K;

  double mean_K() const;
};
HeatProfile heat_profile(const HeatState& state, int node);
double mean_K(const HeatState& state, int node);

/// Account of a node by area of the flat sheet: what its heat fell by less what left through both faces. Zero but for
/// round-off [J/m2].
double heat_imbalance_J_m2(const HeatState& state, int node);

/// Edges of the cells at equal steps of xi: s = (tanh c (xi - p) + tanh c p)/(tanh c (1 - p) + tanh c p), p =
/// kWidestAt, where ds/dxi is kWidestCell times what it is at the mould's side (cosh^2 cp). So the skin is resolved
/// within milliseconds of touching and the free side well enough for a fan, with the wide cells between.
std::vector<double> heat_cell_edges(int cells);
inline constexpr double kWidestCell = 20.0, kWidestAt = 0.8;

/// The mould is a chain of capacities a_j and resistances r_j, geometric with ratio q = 2.4 a cell and sqrt(q) from
/// one to the next: unit effusivity, depth in square roots of a second. A resistance a_0/(1 + sqrt q) before the first
/// takes out what the cut at the surface is off by (docs/theory/heat.md).
struct MouldChain {
  double entry;                  ///< resistance from the surface to cell 0 [sqrt(s)]
  double capacity[kMouldCells];  ///< [sqrt(s)]; times the effusivity: J/m2K
  double
      resistance[kMouldCells];  ///< [sqrt(s)], from cell j to j + 1; over the effusivity: m2K/W. The last leads nowhere
};
MouldChain mould_chain();

}  // namespace pellicle::sheet
