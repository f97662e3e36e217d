// Does the energy add up? Work in against stored and lost, each term integrated from its own force and velocity.
#pragma once

#include "solver/forming/snapshot.h"

#include <limits>

namespace pellicle::forming {

inline double work_in_J(const Ledger& l) { return l.gas_J + l.clamp_J + l.gravity_J; }
inline double stored_J(const Ledger& l) { return l.kinetic_J + l.strain_J + l.air_J; }
inline double lost_J(const Ledger& l) {
  return l.friction_J + l.damping_J + l.contact_J + l.viscous_J + l.thermal_J + l.mass_change_J;
}

/// (work in - stored - lost) / largest |work in| so far; NaN before there was any work.
inline double balance(const Ledger& l) {
  return (work_in_J(l) - stored_J(l) - lost_J(l)) /
         (l.largest_work_J > 0.0 ? l.largest_work_J : std::numeric_limits<double>::quiet_NaN());
}

/// What each booked term is multiplied by. All ones, except in the test that shows the run stops when a term is wrong.
struct LedgerTamper {
  double gas = 1, clamp = 1, friction = 1, damping = 1, contact = 1, strain = 1, kinetic = 1, mass_change = 1,
         viscous = 1, thermal = 1, air = 1, gravity = 1;
};

}  // namespace pellicle::forming
