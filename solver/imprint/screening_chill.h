// What pressure and modulus does screening put in at a node whose heat was followed?
//
// docs/theory/screening.md, "Where heat is followed". By classes of touch time and of how warm the
// sheet left the heater, so that it costs little.
#pragma once

#include "solver/forming/forming_result.h"
#include "solver/sheet/heat_spec.h"

#include <array>
#include <optional>
#include <vector>

namespace pellicle::imprint {

/// Widths of the strokes that screening tells [m].
inline constexpr std::array kScreenedWidths_m{0.2e-3, 0.5e-3, 1.0e-3};

/// An even sheet that would go as deep, or pull as much, as the layered one at its strongest moment.
struct EvenSheet {
  double pressure_Pa, shear_modulus_Pa;
  double since_s;  ///< of that moment, after touch
};
struct Bracket {
  EvenSheet chilled, open;  ///< where it lies on the mould, and where it spans
};

/// What nodes share that touched at about the same time, and left the heater about as warm.
struct ScreenedClass {
  double drawn_K;  ///< mean through the sheet when it was drawn last: as it touched, at full pressure at the latest
  std::array<std::optional<Bracket>, kScreenedWidths_m.size()> strokes;  ///< none: as the law says
  std::optional<Bracket> membrane;                                       ///< against stretching, for corners
};

struct ScreeningChill {
  double reference_Pa;  ///< shear modulus of the sheet's law: moduli go with it where it is tried in its band
  double diffusivity_m2_s;
  std::vector<int> class_of;  ///< N; -1: never touched
  std::vector<ScreenedClass> classes;
  double untouched_K;  ///< drawn_K of what never touched
};

/// None where the heat of the run was not followed.
std::optional<ScreeningChill> screening_chill(const HeatSpec& heat, const forming::FormingResult& formed,
                                              double reference_Pa);

}  // namespace pellicle::imprint
