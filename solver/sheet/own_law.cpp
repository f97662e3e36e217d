// What do temperature and time make of a modulus that the user has measured?
//
// docs/theory/relaxation.md, "Which modulus".
#include "solver/sheet/own_law.h"

#include <cmath>

namespace pellicle::sheet {

double resistance_Pa(const RelaxationMode& mode, double factor, double time_s) {
  const double taus = time_s / (mode.time_s * factor);
  return taus > 0.0 ? mode.modulus_Pa * -std::expm1(-taus) / taus : mode.modulus_Pa;
}

double glass_share(const HotLaw& law, double at_K, double time_s) {
  if (law.relaxation.modes.empty()) return 0.0;
  return resistance_Pa(law.relaxation.modes.back(), law.relaxation.shift.factor(at_K), time_s) /
         modulus_after_Pa(law, at_K, kFormingTime_s);
}

OwnLaw own_law(const HotLaw& card, double modulus_Pa, double at_K) {
  OwnLaw own{card, 1.0, 0.0};
  const double factor = card.relaxation.shift.factor(at_K);
  if (!own.law.relaxation.modes.empty()) {
    RelaxationMode& glass = own.law.relaxation.modes.back();
    own.glass_Pa = resistance_Pa(glass, factor, kFormingTime_s);
    const double most_Pa = kMostGlass * modulus_Pa;
    if (own.glass_Pa > most_Pa) {
      // So far down the exponential is gone: g tau/t.
      const double time_s = most_Pa / glass.modulus_Pa * kFormingTime_s / factor;
      own.glass_faster = glass.time_s / time_s;
      glass.time_s = time_s;
    }
  }
  own.law = scaled(own.law, modulus_Pa / modulus_after_Pa(own.law, at_K, kFormingTime_s));
  return own;
}

}  // namespace pellicle::sheet
