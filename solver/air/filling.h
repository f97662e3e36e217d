// How long does a throat take to fill the space above the sheet? Depends on nothing.
//
// docs/theory/gas.md, "How fast the throat fills".
#pragma once

#include "solver/air/throat.h"

namespace pellicle::air {

/// What is to be filled. Pressures absolute.
struct Filling {
  double supply_Pa, from_Pa, to_Pa;     ///< supply > to >= from > 0
  double throat_m;                      ///< diameter
  double volume_from_m3, volume_to_m3;  ///< of the space, dead volume included: before the sheet moves, after
  bool adiabatic = false;               ///< the gas exchanges no heat
  double temperature_K = kRoom_K;
  double discharge = kDischarge;
};

/// The sheet gives way at next to no pressure above `from` (its limit is a few kPa) until it lies on the mould; then
/// the space is rigid:
///   t = p_from (V_to - V_from)/(R T m'(p_from)) + V_to/(gamma' R T) integral of dp/m'(p),
/// gamma' = 1 isothermal, gamma adiabatic: first law of an open space, (p V)' = gamma R T m' - (gamma - 1) p V'. While
/// the throat is choked m' is constant, and the time is mass over flow, whatever the sheet does meanwhile [s].
double filling_time_s(const Filling& filling);

/// The throat that does it in so long, all else as it is: time is as 1/d^2 [m].
double throat_for_m(const Filling& filling, double time_s);

}  // namespace pellicle::air
