// How deep does the section model press one sheet into one slot? For section_ccx_test.py, which asks CalculiX as well.
//
// section_depth W H R L_X SKIN SKIN_RATIO P stick|slip: slot width, present thickness, edge radius, stretch along the
// section, thickness of a skin stretched with the core (0: none), its modulus over the core's, pressure over modulus;
// lengths in mm. Prints the depth in mm.
#include "mesh/check.h"
#include "solver/imprint/section.h"

#include <cstdio>
#include <cstdlib>
#include <string>
#include <vector>

int main(int count, char** words) {
  using namespace pellicle::imprint;
  if (count != 9) return 2;
  std::vector<double> value;
  for (int k = 1; k < 8; ++k) value.push_back(std::atof(words[k]));
  const double mm = 1e-3, modulus_Pa = 1e6;
  SectionTask task;
  task.sheet = {value[1] * mm, modulus_Pa, value[3], 1.0, {}};
  if (value[4] > 0.0) task.sheet.skin = SectionSkin{value[4] * mm, value[5] * modulus_Pa, false};
  task.profile = half_slot(value[0] * mm, 10.0 * value[0] * mm, 3.0 * value[0] * mm, value[2] * mm);
  task.touch = std::string(words[8]) == "slip" ? SectionTouch::kSlip : SectionTouch::kStick;
  task.pressure_Pa = value[6] * modulus_Pa;
  try {
    std::printf("%.6f\n", solve_section(task).depth_m / mm);
  } catch (const pellicle::Error& error) {
    std::fprintf(stderr, "%s\n", error.what());
    return 1;
  }
}
