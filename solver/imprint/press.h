// How far does gas press a sheet into a relief, and what gap is left?
//
// docs/theory/press.md. Linear layer on a rigid height map without friction.
#pragma once

#include "solver/imprint/layer_operator.h"

#include <vector>

namespace pellicle::imprint {

struct PressOptions {
  double gap_error_m = 1e-7;  ///< stop when the estimated error of the gap is below this everywhere
  int max_iterations = 2000;  ///< on the finest grid
};

/// Fields on the patch.
struct Pressed {
  std::vector<double> displacement_m;        ///< height of the sheet's underside
  std::vector<double> gap_m;                 ///< above the mould, 0 or more
  std::vector<double> contact_pressure_Pa;   ///< 0 where there is a gap
  double gap_error_m = 0.0;                  ///< largest error of the gap, estimated
  double relative_residual = 0.0;            ///< root mean square of the force out of balance over the gas pressure
  int iterations = 0;                        ///< on the finest grid
  std::vector<double> outer_displacement_m;  ///< with the margin; start of a solution at another pressure
};

/// Minimises 1/2 u.S u + p sum(u) with u >= z. Conjugate gradients in the displacement, on the points out of contact,
/// preconditioned with C; projection on the mould; grids from coarse to fine.
class Press {
 public:
  /// Throws what LayerOperator throws.
  Press(const Grid& patch, const LayerStack& stack, Boundary boundary);

  /// mould_m: height of the mould at the points of the patch, up towards the sheet. Only contact matters: a floor that
  /// the sheet cannot reach may lie anywhere. start: outer_displacement_m of a result on the same patch, another
  /// pressure; without it, coarser grids give the start. back_Pa: of air below the sheet, at the points of the patch,
  /// which carries part of the load there; none: null. It reaches below what touches as well, as along roughness: the
  /// contact pressure is what the mould itself carries. Throws Error (solution) when max_iterations do not bring the
  /// estimated error of the gap down to gap_error_m, Error (case) for a pressure or height that is none.
  Pressed solve(const std::vector<double>& mould_m, double pressure_Pa, const PressOptions& options,
                const std::vector<double>* start = nullptr, const std::vector<double>* back_Pa = nullptr);

  const LayerOperator& layer() const { return levels_.front(); }

 private:
  std::vector<LayerOperator> levels_;  // finest first; each has every other point of the one before
};

}  // namespace pellicle::imprint
