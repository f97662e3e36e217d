// How warm does a printed mould get, part after part?
#pragma once

#include "mesh/triangle_mesh.h"
#include "mesh/voxels.h"
#include "solver/mould/body_surface.h"
#include "solver/mould/cell_solver.h"

#include <functional>
#include <limits>
#include <vector>

namespace pellicle::mould {

struct Conductor {
  double conductivity_W_mK = 0.0;
  double capacity_J_m3K = 0.0;  ///< density times specific heat
};

/// What a triangle of the surface gets its heat from.
struct Exchange {
  double film_W_m2K = 0.0;  ///< to what lies against it; 0: nothing does
  double other_K = 0.0;     ///< temperature of that, as the phase begins
  /// Heat it holds, over area and kelvin (a sheet: density, specific heat and thickness); infinite: it stays as warm.
  double store_J_m2K = std::numeric_limits<double>::infinity();
  double flux_W_m2 = 0.0;   ///< heat that comes in whatever the temperature (a heater)
  double loss_W_m2K = 0.0;  ///< film on the far side of what holds heat: it cools there too
  double far_K = 293.15;    ///< ... towards this
};

/// A stretch of the cycle: the sheet lies on the mould, or the press is open.
struct HeatPhase {
  double duration_s = 0.0;
  int steps = 12;  ///< short at first: they end at duration (i/steps)^2
  std::function<Exchange(int triangle)> exchange;
};

struct HeatOptions {
  Conductor shell{}, fill{1.0, 1.0};
  double base_film_W_m2K = 0.0;  ///< to the platform, over what of the base is solid; 0: none
  double base_K = 293.15;
  double start_K = 293.15;  ///< of the mould before the first part
  double settled_K = 0.05;  ///< two cycles that differ by less are the same
  int most_cycles = 60;
  SolveOptions solve{.tolerance = 1e-8, .most_iterations = 200};
};

/// What is kept of every cycle.
struct CycleHeat {
  double mean_K;     ///< as HeatResult::mean_K
  double hottest_K;  ///< of the triangles' peaks
};

/// Of one cycle.
struct HeatResult {
  std::vector<double>
      peak_K;  ///< a triangle: its hottest node, at the hottest time; NaN where it has none: on the floor
  std::vector<double> end_K;         ///< ... its hottest node as the cycle ends
  std::vector<double> node_K;        ///< of SolidCells' nodes, as the cycle ends
  std::vector<double> node_mean_K;   ///< ... over the cycle
  std::vector<double> node_peak_K;   ///< ... at its hottest
  double mean_K = 0.0;               ///< over the cycle and over the mould, every part weighted with its heat capacity
  std::vector<double> phase_heat_J;  ///< into the mould through its surface, by phase
  double base_heat_J = 0.0;          ///< into it from the platform
  double stored_J = 0.0;             ///< by which its own heat grew
  int cycles = 0;                    ///< run until then
  std::vector<CycleHeat> history;    ///< of after(): every cycle, this one last
  double change_K = 0.0;             ///< largest of a node from the cycle's beginning to its end
};

/// Conduction on the cells of a mould, implicit in time (Euler's backward rule), heat capacity at the nodes. Hollows
/// exchange no heat; triangles on the floor none but with the platform. docs/theory/mould_body.md says how good it is.
class BodyHeat {
 public:
  BodyHeat(const mesh::TriangleMesh& surface, const mesh::Voxels& voxels, const HeatOptions& options);

  const SolidCells& solid() const { return solid_; }

  /// The n-th cycle of a mould that starts at start_K.
  HeatResult after(const std::vector<HeatPhase>& phases, int cycles) const;

  /// The cycle that repeats itself: from the steady state of the exchange averaged over time, each cycle's change is
  /// led on to where it would end. Error (kSolution) if that has not settled after most_cycles, (kCase) if nothing
  /// cools.
  HeatResult periodic(const std::vector<HeatPhase>& phases) const;

  /// HeatResult::mean_K of the steady state of the exchange averaged over time: what periodic() starts from, for one
  /// solution of the equations. Error (kCase) if nothing cools.
  double steady_mean_K(const std::vector<HeatPhase>& phases) const;

 private:
  struct Share {
    int node;
    double area_m2;
  };
  /// Films of the whole cycle, averaged over its time, at the nodes.
  struct Average {
    std::vector<double> film_W_K;
    std::vector<double> heat_W;
    double cycle_s = 0.0;
  };
  using Field = CellSolver<1>::Vector;  ///< above start_K

  void share_out_surface(const mesh::TriangleMesh& surface);
  void find_nodes();
  Average average(const std::vector<HeatPhase>& phases) const;
  static void require_cooling(const Average& mean);
  HeatResult run_cycle(CellSolver<1>& solver, const std::vector<HeatPhase>& phases, Field& t) const;
  void run_phase(CellSolver<1>& solver, const HeatPhase& phase, Field& t, HeatResult& result, Field& integral) const;
  CellSolver<1> solver() const;

  HeatOptions options_;
  SolidCells solid_;
  std::vector<std::size_t> first_;  ///< of each triangle's shares; one more
  std::vector<Share> shares_;
  std::vector<double> capacity_J_K_, base_film_W_K_;  ///< at the nodes
};

}  // namespace pellicle::mould
