// Where on the mould does a relief lie, and what does the mould's own surface show there?
#pragma once

#include "mesh/height_map.h"
#include "solver/imprint/local_state.h"
#include "solver/imprint/relief_spec.h"
#include "solver/mould/rigid_mould.h"

#include <optional>
#include <variant>

namespace pellicle {

/// The shape of a relief and where it lies. Heights are along the frame's normal, above the surface that carries it.
struct PlacedRelief {
  imprint::PatchFrame frame;
  std::variant<mesh::HeightMap, mesh::Profile> shape;
  std::optional<mesh::HeightMap> carrier;  ///< height of that surface over the frame's plane; none: the plane itself
};

/// Plane through the mould under the patch: least squares over a grid of places seen straight from above; x is the
/// direction `angle_rad` brought into it. The plane z = 0 where there is no mould at all. Throws Error (geometry)
/// naming the relief where part of the patch lies beside the mould's surface.
imprint::PatchFrame frame_on_mould(const mould::RigidMould& mould, const imprint::ReliefSpec& spec,
                                   const mesh::Vec2& size_m);

/// Throws what relief_of_mould would throw, in less time.
void check_on_mould(const mould::RigidMould& mould, const imprint::ReliefSpec& spec, double thickness_m);

/// What the mould shows in the patch, seen straight down on the grid of `spec`: its heights less its smooth shape. The
/// smooth shape is what an opening and then a closing with an octagon of three thicknesses leave (morphology.h), or the
/// same the other way round, whichever keeps fewer walls, or if that is no difference leaves the smaller volume of
/// relief. The tilt of the land, the median of the slopes, is taken out before. `may_overhang`: cells beside the mould
/// are land instead of an error.
PlacedRelief relief_of_mould(const mould::RigidMould& mould, const imprint::ReliefSpec& spec, double thickness_m,
                             bool may_overhang = false);

}  // namespace pellicle
