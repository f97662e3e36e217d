// How does a round clamped sheet stand, free or in a round mould? Its meridian, from the equations of the membrane.
//
// Flat radius x from 0 (pole) to a (clamp); r the radius now, z the height above the pole, phi the slope, l1 along the
// meridian, l2 = r/x around it. With tensions t1 = h0 W1/l2, t2 = h0 W2/l1 (any text on membranes of revolution):
//   d(x W1)/dx = W2 cos phi                        balance along the meridian                        (1)
//   t1 k1 + t2 sin(phi)/r = p                      across it, where the sheet is free                (2)
//   dr/dx = l1 cos phi, dz/dx = l1 sin phi, dphi/dx = l1 k1                                          (3)
// On a frictionless mould k1 is the mould's, and what (2) leaves over is the contact pressure.
#pragma once

#include "solver/reference/law.h"

#include <vector>

namespace pellicle::reference {

/// A flat disc of one law, clamped at its rim.
struct ClampedDisc {
  Law law;
  double radius_m, thickness_m;
};

struct MeridianPoint {
  double flat_m;     ///< x
  double r_m, z_m;   ///< now; z above the pole (of a dome: above the top of the mould)
  double slope_rad;  ///< phi
  double l1, l2;     ///< along the meridian and around it
  bool touching;
  double thickness() const { return 1.0 / (l1 * l2); }  ///< over the bought one
};

/// One state of equilibrium.
struct Meridian {
  double pressure_Pa;
  double height_m;   ///< clamp above the pole
  double volume_m3;  ///< between clamp plane and sheet
  double strain_energy_J;
  double pole_stretch;
  std::vector<MeridianPoint> points;  ///< from the pole to the clamp

  /// By straight lines between the points, of which there are enough for 1e-5 of the thickness.
  MeridianPoint at(double flat_m) const;
  /// Flat radius of the contact lines: where `touching` changes, from the pole outwards.
  std::vector<double> contact_lines_m() const;
};

/// The free disc with this stretch at its pole. x scales with 1/p, so no search is needed: (1) to (3) are carried from
/// the pole to where l2 = 1.
Meridian inflated_disc(const ClampedDisc& disc, double pole_stretch);
/// The first state with this volume. Volume must grow with the stretch at the pole up to it, as it does for laws in
/// use.
Meridian inflated_disc_of_volume(const ClampedDisc& disc, double volume_m3);
/// First largest pressure over growing stretch at the pole, looked for up to `most`. Throws std::runtime_error if there
/// is none: a law that stiffens early has no limit.
Meridian disc_at_limit(const ClampedDisc& disc, double most = 6.0);

/// Small loads, nu = 1/2: height/a = f (p a/(E h0))^(1/3). Hencky, Z. Math. Phys. 63 (1915) 311; series and corrected
/// coefficients in Fichter, NASA TP-3658 (1997) (from memory). About 0.595.
double small_load_height_factor();

}  // namespace pellicle::reference
