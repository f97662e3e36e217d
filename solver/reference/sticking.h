// How thick is the wall of a simple cavity when the sheet sticks where it lands? Closed forms, without the solver.
//
// Derived by marching the free bubble down the wall: what it loses is what it leaves there. z is the depth below the
// sheet's plane, s the length along the wall from the opening; thickness over the bought one.
#pragma once

#include <cmath>
#include <numbers>

namespace pellicle::reference {

/// Long trench of half width a, vertical walls: the free part is a half cylinder of even thickness for any law (in
/// plane strain a pressurised membrane has one tension), so (2/pi) exp(-2 z/(pi a)) is exact.
inline double trench_wall(double z_over_a) {
  return 2.0 / std::numbers::pi * std::exp(-2.0 * z_over_a / std::numbers::pi);
}

/// Deep cylinder of radius R if the bubble were even in thickness: 0.5 exp(-z/R) once it is a hemisphere.
inline double cylinder_wall_even_bubble(double z_over_r) { return 0.5 * std::exp(-z_over_r); }

/// Deep cylinder, neo-Hookean, large stretch: Delta x = (p/mu h0) x_u x x_v is solved by the conformal map of the flat
/// disc onto a hemisphere, whose edge is stretched R/rho both ways; so d rho/dz = -rho/R and h/h0 = (rho/R)^2 =
/// exp(-2 z/R). Relative error of the order of (h/h0)^3, the neglected 1/(l1 l2)^2 term.
inline double cylinder_wall_neo_hookean(double z_over_r) { return std::exp(-2.0 * z_over_r); }

/// Cone, opening radius R0, wall at angle b from the sheet's plane, even bubble:
/// (1 + cos b)/2 (1 - s cos b/R0)^(sec b - 1).
inline double cone_wall_even_bubble(double s_over_r0, double b_rad) {
  const double cosine = std::cos(b_rad);
  return 0.5 * (1.0 + cosine) * std::pow(1.0 - s_over_r0 * cosine, 1.0 / cosine - 1.0);
}

/// The same cone, neo-Hookean at large stretch: the wall thins towards the tip with twice that exponent.
inline double cone_exponent_neo_hookean(double b_rad) { return 2.0 * (1.0 / std::cos(b_rad) - 1.0); }

}  // namespace pellicle::reference
