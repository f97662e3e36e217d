// What does the stretched sheet pull with, how much energy does it hold, and how long a step does it bear?
//
// docs/theory/membrane.md. Three-node triangle, incompressible, plane stress, no bending, no compression: where the
// sheet would be pushed together it folds (tension field), and where both stretches are below one it hangs slack.
#pragma once

#include "solver/sheet/polymer.h"
#include "solver/sheet/sheet_state.h"

#include <vector>

namespace pellicle::sheet {

/// How one element is stretched. `material_l2` is the stretch of the material across a fold, l1^-1/2; elsewhere l2.
struct ElementStretch {
  double l1, l2;       ///< of the surface, l1 >= l2
  double material_l1;  ///< l1; 1 where slack
  double material_l2;
  double wrinkle;  ///< 1 - l2/l2* where positive: the excess width that shows as folds
  double thickness(double bought) const { return bought / (material_l1 * material_l2); }
};
ElementStretch element_stretch(const SheetState& s, int element);

/// Metric of the material in the flat frame (xx, xy, yy), C = F^T F with folds pulled out; what nodes average.
std::array<double, 3> material_metric(const SheetState& s, int element);

/// f = -dW/dx into s.force_N, and area vectors into s.area_m2, from s.x_m. Same bits for any number of threads.
/// Where no node around has moved the last forces stand: most of a sheet that sticks costs nothing.
void membrane_forces(const Polymer& polymer, SheetState& s);
/// The same for the places, flags and arrays of `nodes`, of the sheet that was cut into these blocks.
void membrane_forces(const Polymer& polymer, SheetBlocks& blocks, const NodesView& nodes);

/// Strain energy of the sheet [J].
double strain_energy_J(const Polymer& polymer, const SheetState& s);

/// Volume between the sheet and the plane z = clamp_z, positive below it [m^3].
/// V = -1/6 sum x1.(x2 x x3), origin in the clamp plane.
double swept_volume_m3(const SheetState& s, double clamp_z_m);

/// Bound on the highest frequency, and where it comes from.
struct HighestFrequency {
  double element_per_s;          ///< w_e, docs/theory/time.md eq. 3
  double pressure_per_s;         ///< w_p, the follower pressure as a stiffness
  int element;                   ///< the stiffest
  double stable_step_s() const;  ///< 2 / sqrt(w_e^2 + w_p^2); infinite for a slack, unloaded sheet
};
/// Of the flat sheet (flat_frequency.h), for other masses.
struct FlatFrequency {
  const std::vector<double>& per_s;  ///< M
  double scale;                      ///< times per_s
};
/// The elements' own bound; of those that are stretched little, what the flat sheet is known to do around them, if that
/// is less.
HighestFrequency highest_frequency(const Polymer& polymer, const SheetState& s, double scaled_density_kg_m3,
                                   double pressure_Pa, const FlatFrequency* flat = nullptr);

}  // namespace pellicle::sheet
