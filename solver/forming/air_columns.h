// How much air is there between the sheet and what lies below? Vertical columns that stand where they stand.
//
// docs/theory/trapped_air.md, "Volume". The mould is looked at once, when the columns are made. As they do not move
// with the sheet, what they miss of a steep wall stays the same from step to step: a volume changes as smoothly as the
// sheet moves.
#pragma once

#include "mesh/triangle_mesh.h"
#include "solver/forming/forming_spec.h"
#include "solver/mould/rigid_mould.h"

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace pellicle::forming {

/// What the columns find under a piece of the sheet.
struct AirBelow {
  double volume_m3 = 0.0;
  double area_m2 = 0.0;   ///< seen from above; of sheet with its gas side down it counts negative, as does the volume
  bool platform = false;  ///< some column stands on the platform
  bool nothing = false;   ///< some column has nothing below: neither mould nor platform
  AirBelow& operator+=(const AirBelow& other);
};

/// The place itself if there is mould below it; else the nearest place on the mould beside the hole that it is in:
/// mould lies on both sides of it within 1.2 of the hole's width, looked for in eight directions. None on open
/// platform.
std::optional<mesh::Vec2> beside_hole_m(const mould::RigidMould& mould, const mesh::Vec2& p_m, double width_m);

class AirColumns {
 public:
  /// Square columns of side spacing_m over low..high, as far as the sheet may reach. The floor of each is the mean of
  /// 2 x 2 looks down from high above: what lies under an overhang is not seen. A look down a vent that is drawn into
  /// the mould sees what is beside its mouth: the hole lets air out at its own pace, it is not the open platform at its
  /// foot. One that leans is seen down to its wall.
  AirColumns(const mould::RigidMould& mould, const mesh::Vec2& low_m, const mesh::Vec2& high_m, double spacing_m,
             std::span<const PlacedVent> vents = {});

  /// Between a triangle of the sheet and the floor, by the columns whose middles lie under it. A middle on an edge that
  /// two triangles share counts once.
  AirBelow under(const mesh::Vec3& a_m, const mesh::Vec3& b_m, const mesh::Vec3& c_m) const;

  double spacing_m() const { return spacing_m_; }

 private:
  enum class Floor : std::uint8_t { kMould, kPlatform, kNothing };

  double spacing_m_;
  mesh::Vec2 low_m_;  ///< middle of the first column
  int nx_, ny_;
  std::vector<double> floor_m_;  ///< by row
  std::vector<Floor> kind_;
};

}  // namespace pellicle::forming
