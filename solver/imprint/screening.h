// How sharp a corner and how deep a fine stroke will the sheet follow, anywhere on the part? Closed forms, no local
// solve.
//
// docs/theory/screening.md. A straight, isolated slot in a sheet with the stretches of the place, as hot as it is
// there.
#pragma once

#include "solver/forming/forming_result.h"
#include "solver/imprint/screening_chill.h"

#include <optional>
#include <vector>

namespace pellicle::imprint {

/// Phi of the slot table. Near the end of its stretches and beyond, the sheet is a membrane, stiff by its tension
/// alone, which grows with the square of r = across^2 along. NaN for a stretch that is none.
double stroke_factor(double width_over_thickness, double stretch_across, double stretch_along);

/// k of the finite-depth correction d = d_lin / (1 + k d_lin / w): 0.27 up to w/h = 1, 0.1 from 2, between in the
/// logarithm.
double depth_correction(double width_over_thickness);

/// Depth of a stroke whose linear depth d_lin is this: the finite-depth correction [m]; any one unit of length will do.
double corrected_depth_m(double linear_m, double width_m, double thickness_m);

/// Depth that a stroke of this width forms to under p, sheet thickness h and small-strain shear modulus G, whichever
/// way it runs: along the larger stretch it would form deeper, so it is the other one [m].
double stroke_depth_m(double width_m, double thickness_m, double stretch_1, double stretch_2, double shear_modulus_Pa,
                      double pressure_Pa);

/// Finest inner radius r = G h (l_n^2 - 1/(l_n l_t)^2) / p, the larger over the two directions across the corner. A
/// sheet that sticks thins on its way into a right-angle corner, h ~ r^(4/pi - 1); that is solved from the element size
/// down, where the mesh stops resolving it [m].
double finest_radius_m(double thickness_m, double stretch_1, double stretch_2, double element_m,
                       double shear_modulus_Pa, double pressure_Pa);

/// Per node; NaN where nothing is touched.
struct Screening {
  std::vector<double> finest_radius_m, capture_depth_200um_m, capture_depth_500um_m, capture_depth_1000um_m;
  std::optional<ScreeningChill> chill = {};  ///< none: hot all through
};
/// heat: of a run that followed it, none to take the sheet as hot all through.
Screening screen(const forming::FormingResult& formed, double shear_modulus_Pa,
                 const std::optional<HeatSpec>& heat = std::nullopt);

/// The same at one node that touches under pressure, for another modulus of the sheet's law; `width`: which of
/// kScreenedWidths_m. With chill between the chilled and the open sheet by open_weight: of the stroke's width, of an
/// inner corner by the chord of its arc, sqrt(2) r of the open one [m].
double screened_depth_m(const forming::FormingResult& formed, const std::optional<ScreeningChill>& chill,
                        std::size_t node, std::size_t width, double shear_modulus_Pa);
double screened_radius_m(const forming::FormingResult& formed, const std::optional<ScreeningChill>& chill,
                         std::size_t node, double shear_modulus_Pa);

}  // namespace pellicle::imprint
