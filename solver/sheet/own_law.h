// What do temperature and time make of a modulus that the user has measured?
#pragma once

#include "solver/sheet/relaxation.h"

namespace pellicle::sheet {

/// The law of a card made to leave `modulus_Pa` after kFormingTime_s at `at_K`: network and modes times one factor. The
/// glass keeps its modulus. Where at that temperature and pace it would resist with more than kMostGlass of the modulus
/// its time is made shorter until it does not: a sheet that is rubber there has its glass transition lower than the
/// card's.
struct OwnLaw {
  HotLaw law;
  double glass_faster;  ///< the card's time over that of the law; 1: as the card says
  double glass_Pa;      ///< what the card's glass would resist with there
};
OwnLaw own_law(const HotLaw& card, double modulus_Pa, double at_K);
inline constexpr double kMostGlass = 0.05;

/// Stress over strain of a mode stretched evenly for a time: its mean relaxation modulus, g tau/t (1 - e^(-t/tau))
/// [Pa].
double resistance_Pa(const RelaxationMode& mode, double factor, double time_s);

/// What the glass, the last mode, resists with when stretched evenly for `time_s` at `at_K`, over what the rest leaves
/// kFormingTime_s after a stretch. Far below 1: a rubber.
/// Beyond kLeathery the sheet is leather, which the cut glass of the forming loop says nothing true of.
double glass_share(const HotLaw& law, double at_K, double time_s);
inline constexpr double kLeathery = 0.1;

}  // namespace pellicle::sheet
