// Which value has a field of a sheet at a place that is no node? Straight between the corners of the nearest triangle.
#pragma once

#include "mesh/nearest.h"

#include <array>
#include <span>

namespace pellicle::mesh {

/// A place on a surface, as shares of the corners of one triangle.
struct Spot {
  int triangle = -1;               ///< -1: none
  std::array<double, 3> shares{};  ///< of its corners, each 0 to 1, together 1
  Vec3 point_m = Vec3::Zero();
  double distance_m = 0.0;  ///< from the place that was asked for
};

/// The nearest place on the surface, however far. Triangle -1 if no triangle has area.
Spot spot_on(const Nearest& surface, const Vec3& p_m);

/// A field with one value a point, linear over each triangle. NaN where a corner with a share has none.
double value_at(const Spot& spot, std::span<const Triangle> triangles, std::span<const double> values);

/// The flat sheet as a surface at z = 0.
TriangleMesh flat_surface(std::span<const Vec2> flat_m, std::span<const Triangle> triangles);

/// A place in the flat sheet. The rims of two meshes of one outline differ by their chords, so a place counts as inside
/// up to kRimShare of the nearest triangle's longest edge outside it; farther: no triangle.
Spot spot_in_flat(const Nearest& flat, const Vec2& p_m);
/// An edge e cuts a disc of radius R by e^2/(8 R), at most e/24 as no sheet has edges above R/3; the rest is for the
/// rounded corners of rectangles.
inline constexpr double kRimShare = 0.1;

}  // namespace pellicle::mesh
