// How does a round clamped sheet lie in a round mould? Frictionless: the same meridian with the mould's curvature where
// it touches. Sticking: the free part marches down the wall and leaves there what its edge is stretched to.
//
// The free part meets the mould tangentially. The moulds start at the clamp: a cone or a cylinder that opens at it, a
// sphere whose top touches the middle of the flat sheet.
#pragma once

#include "solver/reference/meridian.h"

namespace pellicle::reference {

/// Cone with its wall at this angle from the sheet's plane, no friction, as deep as it needs to be; by the stretch at
/// the pole. Like the free disc this needs no search. If the free sheet does not reach the wall it is the free disc.
Meridian in_sliding_cone(const ClampedDisc& disc, double wall_angle_rad, double pole_stretch);
/// The same at a pressure above the limit of the free disc, where there is one state.
Meridian in_sliding_cone_at(const ClampedDisc& disc, double wall_angle_rad, double pressure_Pa);

/// Upright cylinder of the disc's radius with a flat floor, no friction, at a pressure that presses the sheet on the
/// floor. There the sheet is stretched evenly.
Meridian in_sliding_cup(const ClampedDisc& disc, double depth_m, double pressure_Pa);

/// Over a sphere, no friction, at a pressure.
Meridian over_sliding_sphere(const ClampedDisc& disc, double sphere_radius_m, double pressure_Pa);

/// Cone or, at a right angle, cylinder, the sheet sticking where it lands, up to the state at this pressure. What has
/// landed stays; volume and energy are those of the whole sheet. `from` is the pressure at the first touch.
Meridian in_sticking_cone(const ClampedDisc& disc, double wall_angle_rad, double pressure_Pa);

/// Over a sphere, sticking, up to the state at this pressure.
Meridian over_sticking_sphere(const ClampedDisc& disc, double sphere_radius_m, double pressure_Pa);

/// Long trench of half width a, vertical walls, plane strain, no friction: one tension and so one stretch across, l,
/// everywhere. Free part a half circle of radius a: p a = h0 W1(l, 1), and l = (depth of the wall + pi a/2)/a.
struct SlidingTrench {
  double stretch;
  double wall_m;  ///< depth at which the free half circle begins
};
SlidingTrench in_sliding_trench(const Law& law, double half_width_m, double thickness_m, double pressure_Pa);

}  // namespace pellicle::reference
