// What does the sheet meet? The mould's exact triangles and the platform, rigid and immutable.
#pragma once

#include "mesh/nearest.h"
#include "mesh/triangle_mesh.h"

#include <algorithm>
#include <array>
#include <cstdint>
#include <optional>
#include <vector>

namespace pellicle::mould {

using mesh::Vec3;

/// The sheet's node may not cross it: n.(y - x) >= -gap.
struct Plane {
  Vec3 normal;              ///< unit, towards the sheet
  double gap_m;             ///< >= 0 open; slightly negative after a step along a curve
  bool by_crease = false;   ///< holds the node for a triangle of its, not for a surface it lies on
  double distance_m = 0.0;  ///< of what the plane stands for, where that is more than the gap: beside a concave edge
};

/// Planes that a node at x may hit within `reach`, nearest first; at most kMost.
struct Planes {
  static constexpr int kMost = 8;
  int count = 0;
  bool leans = false;  ///< some plane stands for what is farther than its gap
  std::array<Plane, kMost> at;
  void add(const Plane& plane);  ///< keeps the nearest; one of two that face the same way
  /// Without what a motion of at most `reach` cannot come to.
  Planes within(double reach_m) const;
};

/// What one node remembers of its neighbourhood between steps. It saves time and changes no result: the planes within
/// reach come out the same from any cache that is complete.
struct alignas(64) Neighbourhood {
  static constexpr int kMost = 32;
  static constexpr double kLess = 1.0 - 1e-12;  ///< round-off
  // One cache line answers for a node that is far away or has not moved at all.
  Vec3 centre_m = Vec3::Zero();
  double clear_m = -1.0;  ///< nothing of the mould closer to centre than this; < 0: never asked
  Vec3 planes_at_m = Vec3::Zero();
  float planes_reach_m = -1.0F;  ///< planes holds all within this reach of planes_at; < 0: none
  float off_m = -1.0F;           ///< nothing of the mould closer to planes_at than this; < 0: not known
  Planes planes;
  double complete_m = -1.0;  ///< triangles[] holds all within this radius of centre; < 0: no list
  int count = 0;
  std::array<int, kMost> triangles;     ///< nearest first
  std::array<float, kMost> distance_m;  ///< of each from centre, at least

  /// Nothing of the mould is nearer to x than this, as far as it is known; below zero where it is not.
  double room_m(const Vec3& x_m) const {
    return std::max(kLess * clear_m - (x_m - centre_m).norm(), off_m - (x_m - planes_at_m).norm());
  }
  /// It is known that nothing of the mould is nearer to x than this; false may also mean that nobody asked.
  bool is_clear(const Vec3& x_m, double reach_m) const {
    return (x_m - centre_m).norm() + reach_m < clear_m || (x_m - planes_at_m).norm() + reach_m < off_m;
  }
};

class RigidMould {
 public:
  /// surface may be empty (platform alone, or nothing at all).
  RigidMould(std::optional<mesh::TriangleMesh> surface, bool platform);

  bool is_there() const { return nearest_.has_value() || platform_; }
  bool has_platform() const { return platform_; }
  const std::optional<mesh::Nearest>& surface() const { return nearest_; }

  /// Everything a node at x can touch when it moves by at most `reach`. `near_m` is the size of the neighbourhood worth
  /// remembering, a fraction of the sheet's element.
  const Planes& planes(const Vec3& x_m, double reach_m, double near_m, Neighbourhood& cache) const;

  /// Room around x that the surface leaves: what the cache knows of it, or finds out where that is not more than
  /// wanted.
  double room_m(const Vec3& x_m, double wanted_m, double near_m, Neighbourhood& cache) const;

  /// Signed distance to mould and platform, positive on the sheet's side; NaN with neither.
  double gap_m(const Vec3& x_m) const;

  /// Is anything of mould or platform no farther than this? The cache saves time and changes no answer.
  bool is_within(const Vec3& x_m, double distance_m, const Neighbourhood& cache) const;

  /// Outward direction of what is nearest: mould or platform; zero with neither.
  Vec3 outward(const Vec3& x_m) const;

  /// Height of the first thing below a point high above (x, y); nullopt where the ray finds nothing.
  std::optional<double> top_m(double x_m, double y_m) const;

 private:
  void surface_planes(const Vec3& x_m, double reach_m, double near_m, Neighbourhood& cache, Planes& planes) const;
  bool on_open_edge(const mesh::Closest& at) const;
  bool beside_concave(const mesh::Closest& at, double touching_m) const;
  std::optional<mesh::Nearest> nearest_;
  /// Of a triangle. Bit k: no triangle, or more than one, lies across edge k; bit 3 + k: the edge is concave.
  std::vector<std::uint8_t> edges_;
  bool platform_;
  double above_m_ = 0.0;  ///< a height above everything
};

}  // namespace pellicle::mould
