// What does the load do to the cells of a printed mould: how far do they give way, and where are they pulled most?
//
// docs/theory/mould_strength.md.
#pragma once

#include "solver/checks/mould_load.h"
#include "solver/checks/mould_spec.h"
#include "solver/checks/mould_temperature.h"
#include "solver/checks/mould_vents.h"

#include <vector>

namespace pellicle::checks {

/// Under repeated load glassy resins crack at a third to two thirds of their strength (from memory); ours.
inline constexpr double kCycledShare = 0.5;

/// What the checks on the mould's body look at.
struct MouldCase {
  const Formed& formed;
  const MouldBuild& build;
  mesh::Vec3 build_direction = mesh::Vec3::UnitZ();  ///< unit
  const MouldWarmth* warmth = nullptr;               ///< none: the mould is as warm as build.start_K
  MouldStop stop = [] { return false; };
  double most_cells = 200e3;            ///< with material, on the finer cells: some ten seconds
  std::vector<DrilledVent> vents = {};  ///< told by the case; those drawn into the surface are in it
};

/// One solution on cells of one size.
struct MouldSolution {
  double cell_m = 0.0;
  double shift_m = 0.0;  ///< largest of a node
  mesh::Vec3 shift_place_m = mesh::Vec3::Zero();
  double share = 0.0;  ///< of the strength at temperature, where that is largest; what pulls layers apart counts more
  mesh::Vec3 share_place_m = mesh::Vec3::Zero();
  double tension_Pa = 0.0, strength_Pa = 0.0;  ///< there, likely
  double vent_tension_Pa = 0.0;                ///< largest along the rim of a hole too narrow for the cells; 0: none
  mesh::Vec3 vent_place_m = mesh::Vec3::Zero();
  double working_Pa = 0.0;                 ///< von Mises stress that 95 % of the shell's nodes stay below
  mesh::Vec3 load_N = mesh::Vec3::Zero();  ///< what the cells were given
  std::vector<double> triangle_shift_m;    ///< a triangle of the mould
  std::vector<double> triangle_share;      ///< ... and of the shell behind it; NaN at the foot
};

/// The mould under the formed sheet. Places no higher above the floor than foot_m are left out of share and working
/// stress: the platform holds the foot stiffly, and stresses there grow as cells shrink. With `slides` it may slide.
/// Vents too narrow for the cells raise the stress beside them as rim_stress_Pa says, and count as any other place
/// does.
MouldSolution solve_mould(const MouldCase& c, const MouldLoad& load, double cell_m, double foot_m, bool slides = false);

/// Mean of the shell in a long series, at which it is as stiff as it is; hottest of the cycle at a place.
double shell_K(const MouldCase& c);
double peak_K(const MouldCase& c, const mesh::Vec3& place_m);

}  // namespace pellicle::checks
