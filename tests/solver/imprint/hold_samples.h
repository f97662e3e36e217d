// A made-up amorphous sheet and a gas for the tests of chill and hold.
#pragma once

#include "solver/forming/forming_result.h"
#include "solver/sheet/heat_spec.h"

#include <cmath>

namespace pellicle::imprint {

inline HeatSpec amorphous(double mould_Ws05_m2K = 700.0) {
  HeatSpec heat{};
  heat.polymer = {0.2, 1800.0, 1200.0};
  heat.start_K = 413.15, heat.mould_K = 298.15;
  heat.mould_effusivity_Ws05_m2K = mould_Ws05_m2K;
  heat.set_K = 350.0;
  sheet::Relaxation r;
  r.shift = {413.15, 10.0, 90.0, 360.0, sheet::smooth_activation_J_mol(413.15, 10.0, 90.0, 360.0)};
  r.modes = {{0.3e6, 0.5}, {5e8, 100.0 / r.shift.factor(360.0)}};
  r.network_reference_K = 413.15;
  heat.law = sheet::HotLaw{{0.2e6}, r};
  return heat;
}

/// Gas from `from_s` on, 4 bar within 0.1 s, to `to_s`.
inline forming::FormingResult gas_from(double from_s, double to_s = 1.0, double bought_m = 0.5e-3) {
  forming::FormingResult f;
  f.time_s = to_s;
  f.bought_thickness_m = bought_m;
  for (int k = 1; k <= 200; ++k) {
    f.pressed_s.push_back(0.005 * to_s * k);
    f.pressed_Pa.push_back(4e5 * std::fmin(1.0, std::fmax(0.0, (f.pressed_s.back() - from_s) / 0.1)));
  }
  return f;
}

}  // namespace pellicle::imprint
