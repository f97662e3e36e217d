// How fast does air leave through a hole in the mould, and how long until a volume is empty? Depends on nothing.
//
// docs/theory/trapped_air.md, "Holes". The least of two limits: the mouth (an orifice, choked or not) and the land
// (laminar flow in a narrow tube).
#pragma once

#include "solver/air/throat.h"

namespace pellicle::air {

/// A round hole or a slot: a straight land at the sheet's side, then a cone (a slot: a wedge) that widens downwards.
struct Hole {
  double diameter_m;  ///< of a slot: its width
  double land_m = 0.0;
  double foot_m = 0.0;   ///< diameter or width at the lower end of the cone; no cone if not larger than diameter_m
  double taper_m = 0.0;  ///< length of the cone
  double slot_m = 0.0;   ///< long side of a slot, more than its width; 0: round

  bool is_slot() const { return slot_m > diameter_m; }
};

/// Of the mouth [m^2].
double area_m2(const Hole& hole);
/// 4 area over the length of the outline [m].
double hydraulic_diameter_m(const Hole& hole);
/// Farthest of the mouth from its middle [m].
double reach_m(const Hole& hole);

/// Of dry air: mu = 1.458e-6 T^(3/2)/(T + 110.4) (Sutherland's formula in ISO 2533; from memory) [Pa s].
double viscosity_Pa_s(double temperature_K);

/// Length of a straight tube of the hole's diameter that resists laminar flow as land and cone do: integral of
/// (d/d(z))^4 dz = L + L_c d/(3 (D - d)) (1 - (d/D)^3), D the foot; of a slot that keeps its long side (t/t(z))^3, L +
/// L_c t/(2 (T - t)) (1 - (t/T)^2) [m].
double equivalent_land_m(const Hole& hole);

/// m' = pi d^4 (p1^2 - p2^2)/(256 mu L R T), Hagen-Poiseuille with the density of an ideal gas at one temperature; of a
/// slot t^3 w F (p1^2 - p2^2)/(24 mu L R T), F = 1 - 192 t/(pi^5 w) sum over odd n of tanh(n pi w/(2 t))/n^5, 1 for a
/// long one, 0.4217 for a square. Any text on viscous flow. Infinite without a land [kg/s].
double laminar_kg_s(const Hole& hole, double p1_Pa, double p2_Pa, double temperature_K);

/// What passes from p1 to p2 (absolute, p1 >= p2 > 0): the least of mouth and land [kg/s].
double hole_flow_kg_s(const Hole& hole, double p1_Pa, double p2_Pa, double temperature_K = kRoom_K,
                      double discharge = kDischarge);

/// Of a round hole: below this diameter the land of that length is the limit, above it the mouth [m].
double crossover_diameter_m(double land_m, double p1_Pa, double p2_Pa, double temperature_K = kRoom_K,
                            double discharge = kDischarge);

/// Time until the air in a rigid volume, at one temperature, has fallen from one pressure to another (absolute):
/// t = V/(R T) integral of dp/m'(p). For the choked mouth that is V ln(from/to) p/(R T m'), without quadrature.
/// Infinite unless `to` is above the pressure outside: the land lets the last of it out ever more slowly [s].
double emptying_time_s(const Hole& hole, double volume_m3, double from_Pa, double to_Pa,
                       double outside_Pa = kAtmosphere_Pa, double temperature_K = kRoom_K,
                       double discharge = kDischarge);

}  // namespace pellicle::air
