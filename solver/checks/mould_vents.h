// What do holes for air cost a printed mould in strength?
//
// docs/theory/mould_strength.md, "Vents".
#pragma once

#include "mesh/voxels.h"
#include "solver/checks/mould_spec.h"
#include "solver/mould/brick.h"

#include <vector>

namespace pellicle::checks {

/// An upright hole drilled into the mould from above: its land, then wider down to the floor.
struct DrilledVent {
  mesh::Vec3 top_m;   ///< middle, on the surface
  double floor_m;     ///< height of its lower end
  double diameter_m;  ///< of the land
  double land_m;
  double below_m;  ///< diameter under the land, >= diameter_m
};

/// A hole narrower than this many cells is not cut out of them: they would smear the stress beside it away.
inline constexpr double kCellsAcross = 8.0;

/// What of them cells of this size hold: lands and lower parts each by its own diameter.
std::vector<mesh::Bore> bored(const std::vector<DrilledVent>& vents, double cell_m);

/// Largest stress along the rim of a round hole across which a wall bears this stress, the hole along `axis` (unit):
/// 3 s1 - s2 with s1 >= s2 the principal stresses square to the axis (Kirsch 1898: Timoshenko & Goodier, Theory of
/// Elasticity, 35; from memory). Of stress even through the wall; bent walls have less, down to (5 + 3 nu)/(3 + nu).
double rim_stress_Pa(const mould::Voigt& stress_Pa, const mesh::Vec3& axis);

/// Places on the axes of what cells of this size do not hold, where it goes through shell: half a cell apart.
std::vector<mesh::Vec3> narrow_vents(const std::vector<DrilledVent>& vents, const mesh::Nearest& surface,
                                     const MouldBuild& build, double cell_m);

}  // namespace pellicle::checks
