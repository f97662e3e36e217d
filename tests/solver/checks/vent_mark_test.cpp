// Is the nipple at a vent that of the hole formula where it is shallow, and of the section where it is deep?
#include "solver/checks/pockets.h"

#include "solver/imprint/section.h"

#include <gtest/gtest.h>

#include <string>
#include <tuple>

namespace pellicle::checks {
namespace {

constexpr double kModulus_Pa = 0.3e6;

/// Into a hole too deep to be filled, round, the sheet sticking on the land around it.
double by_section_m(double diameter_m, double thickness_m, double pressure_Pa) {
  const double r = 0.5 * diameter_m, deep = 3.0 * diameter_m, land = r + 2.0 * thickness_m + 2.0 * r;
  imprint::SectionTask task;
  task.sheet = {thickness_m, kModulus_Pa, 1.0, 1.0, {}};
  task.profile = {{{0.0, -deep}, {r, -deep}, {r, 0.0}, {land, 0.0}}, 0.05 * r, 0.0};
  task.plane = imprint::SectionPlane::kRound;
  task.pressure_Pa = pressure_Pa;
  return imprint::solve_section(task).depth_m;
}

// Finite strain against d/(1 + k d/D), d = p D/(2 pi G). Small pressures in thick sheet: the formula is exact but for
// the edge's radius (a twentieth of r widens the hole by as much) and the section's mesh, 8 %. To a mark of a fifth of
// the hole, which 4 bar make, and for sheet no thinner than the hole: 15 %. Wider than the sheet the formula, which is
// that of a thick sheet, is too low, and the rule of a hole no wider than the sheet keeps away from it.
TEST(VentMark, FormulaIsTheSectionWhereTheRuleHolds) {
  constexpr double kHole_m = 0.5e-3;
  int checked = 0;
  for (const auto& [thickness, p_over_G, allowed] :
       {std::tuple{2e-3, 0.1, 0.08}, {2e-3, 1.3, 0.15}, {1e-3, 1.3, 0.15}, {0.5e-3, 0.9, 0.15}}) {
    const double p = p_over_G * kModulus_Pa, section = by_section_m(kHole_m, thickness, p);
    const double formula = vent_mark_m(kHole_m, thickness, p, kModulus_Pa);
    RecordProperty("h_" + std::to_string(static_cast<int>(1e6 * thickness)) + "_um_p_" +
                       std::to_string(static_cast<int>(100.0 * p_over_G)),
                   std::to_string(1e6 * section) + " um, formula " + std::to_string(1e6 * formula));
    EXPECT_NEAR(formula, section, allowed * section) << thickness << " " << p_over_G;
    ++checked;
  }
  EXPECT_EQ(checked, 4);
  const double thin = by_section_m(1e-3, 0.4e-3, 0.9 * kModulus_Pa);
  EXPECT_GT(thin, 1.1 * vent_mark_m(1e-3, 0.4e-3, 0.9 * kModulus_Pa, kModulus_Pa));
}

}  // namespace
}  // namespace pellicle::checks
