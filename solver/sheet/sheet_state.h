// Where is the sheet, how fast does it move, and what is it made of? The only mutable simulation data.
#pragma once

#include "mesh/refine.h"
#include "mesh/sheet_mesher.h"
#include "mesh/triangle_mesh.h"
#include "solver/sheet/rest.h"
#include "solver/sheet/sheet_blocks.h"

#include <span>
#include <vector>

namespace pellicle::sheet {

using mesh::Triangle;
using mesh::Vec2;
using mesh::Vec3;

/// Structure of arrays over N nodes and M triangles. Nodes and triangles are in the order of the mesh.
struct SheetState {
  // The flat sheet.
  std::vector<Triangle> triangles;  ///< M
  std::vector<Vec2> flat_m;         ///< N
  std::vector<char> on_rim;         ///< N, 1 = held by the clamp
  std::vector<Rest> rest;           ///< M
  /// M, or none: `rest`. The flat sheet and volume that a neo-hookean element has to have had to pull as it does by
  /// what its layers remember (layer_memory.h).
  std::vector<Rest> pull;
  std::vector<double> local_mass;  ///< M, >= 1: times the density, so that a small element bears a large one's step
  double coarse_height_m = 0.0;    ///< height of a triangle of the first, unrefined mesh that needs no local mass
  double bought_thickness_m = 0.0;
  double expansion = 0.0;  ///< hot and free an edge is longer than in flat_m by this share; its volume counts cold
  // Around each node: its corners, as 3 * triangle + corner, and for free nodes the pairs of nodes opposite its edges.
  std::vector<int> first_corner;  ///< N + 1
  std::vector<int> corners;
  std::vector<int> first_pair;  ///< N + 1
  std::vector<std::array<int, 2>> opposite;
  std::vector<std::array<int, 3>> across;  ///< M, the triangle over the edge from corner k to k + 1; -1 at the rim

  SheetBlocks blocks;  ///< how the membrane pass goes over the sheet

  // The motion.
  std::vector<Vec3> x_m;        ///< N, the mould-side face
  std::vector<Vec3> v_m_s;      ///< N, half a step behind
  std::vector<double> mass_kg;  ///< N, lumped and scaled

  std::vector<char> moved;  ///< N, 0 = stands where it stood when the forces were last made

  // Made anew in every step.
  std::vector<Vec3> force_N;  ///< N, membrane force
  std::vector<char> renewed;  ///< N, 1 = force and area have been made anew since someone set it to 0
  std::vector<Vec3> area_m2;  ///< N, a third of the area vectors around, upwards: minus dV/dx of the swept volume

  /// What element e pulls from.
  const Rest& pulls_from(int e) const {
    return pull.empty() ? rest[static_cast<std::size_t>(e)] : pull[static_cast<std::size_t>(e)];
  }
  int nodes() const { return static_cast<int>(x_m.size()); }
  int elements() const { return static_cast<int>(triangles.size()); }
};

/// Cuts the sheet into blocks anew, of so many nodes; 0: as suits its size. No bit of any result depends on it.
void cut_into_blocks(SheetState& s, int nodes_per_block = 0);

/// Hands `pull` on to the blocks; every force is made anew in the next step.
void renew_pull(SheetState& s);

/// The flat sheet at height z, at rest. Masses for the true density, no local mass.
SheetState flat_sheet(const mesh::SheetMesh& mesh, double thickness_m, double density_kg_m3, double height_m);

/// The sheet as it is hot: free of tension when longer by this share of every length. `rest` follows, x_m stays, so
/// what is held flat is slack.
void expand(SheetState& s, double share);

/// Gives local mass to what is less high than most triangles of the flat sheet, so that a few odd ones do not set the
/// step of all. mass_kg is left to the caller.
void even_out_mass(SheetState& s);

/// Mass of each node: a third of that of the triangles around, their local mass counted [kg].
std::vector<double> lumped_mass_kg(const SheetState& s, double density_kg_m3);

/// A small element may be made up to so many times as heavy (docs/theory/refinement.md).
inline constexpr double kMostLocalMass = 9.0;

/// Cuts elements: new nodes in the middle of flat and current edges, with the mean of the velocities. Shape, stretch
/// and volume stay what they were, element by element; mass_kg and pull, which is emptied, are left to the caller.
void refine(SheetState& s, const mesh::Refined& refined);

}  // namespace pellicle::sheet
