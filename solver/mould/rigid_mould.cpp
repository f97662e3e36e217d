// What does the sheet meet? The mould's exact triangles and the platform, rigid and immutable.
//
// Which planes stand for the surface near x (docs/theory/contact.md):
//   - every triangle on whose face x projects, seen from its front, and every triangle that meets the closest one in a
//     concave edge: concave corners get all their walls;
//   - every convex edge in whose wedge x lies (both triangles have it as their closest feature);
//   - whatever is closest of all, so that no corner is forgotten.
// A triangle beside a convex edge, seen from behind or past its end, is no wall: it would stop a node that slides off.
#include "solver/mould/rigid_mould.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>

namespace pellicle::mould {
namespace {

using mesh::Closest;
using mesh::Feature;

/// Two planes within about 0.03 degrees are one wall.
constexpr double kSameWall = 1.0 - 1e-7;
/// A direction from a closest point nearer than this share of the neighbourhood is round-off: use the pseudonormal.
constexpr double kTouching = 1e-7;

/// No more than the distance, whatever its own rounding.
float rounded_down(double distance_m) { return static_cast<float>(distance_m * (1.0 - 1e-6)); }

bool is_edge(Feature f) { return f >= Feature::kEdge0 && f <= Feature::kEdge2; }
int edge_of(Feature f) { return static_cast<int>(f) - static_cast<int>(Feature::kEdge0); }
/// The edge, or both at a corner: bit k for edge k.
unsigned edges_at(Feature f) {
  if (is_edge(f)) return 1U << edge_of(f);
  const int corner = static_cast<int>(f) - static_cast<int>(Feature::kCorner0);
  return 1U << corner | 1U << (corner + 2) % 3;
}

/// The triangle across the edge stands up before this one: free space lies in front of both.
bool is_concave(const mesh::Nearest& nearest, int triangle, int edge) {
  const int other = nearest.across(triangle, edge);
  if (other < 0) return false;
  const auto& m = nearest.mesh();
  const auto point = [&](int t, int corner) -> const Vec3& {
    return m
        .points_m[static_cast<std::size_t>(m.triangles[static_cast<std::size_t>(t)][static_cast<std::size_t>(corner)])];
  };
  const Vec3& foot = point(triangle, edge);
  double highest = 0.0, size = 0.0;
  for (int k = 0; k < 3; ++k) {
    const Vec3 d = point(other, k) - foot;
    highest = std::max(highest, nearest.normal(triangle).dot(d)), size = std::max(size, d.norm());
  }
  return highest > 1e-6 * size;  // flatter is one wall
}

/// What lies across the edges of one triangle. Asked so often that the mesh is too slow to tell.
std::uint8_t edges_of(const mesh::Nearest& nearest, int triangle) {
  unsigned edges = 0;
  for (int k = 0; k < 3; ++k) {
    if (nearest.across(triangle, k) < 0) edges |= 1U << k;
    if (is_concave(nearest, triangle, k)) edges |= 8U << k;
  }
  return static_cast<std::uint8_t>(edges);
}

}  // namespace

Planes Planes::within(double reach_m) const {
  Planes near;
  for (int k = 0; k < count; ++k)
    if (at[static_cast<std::size_t>(k)].distance_m <= reach_m) near.add(at[static_cast<std::size_t>(k)]);
  return near;
}

void Planes::add(const Plane& plane) {
  leans = leans || plane.distance_m > 0.0;
  for (int k = 0; k < count; ++k) {
    Plane& known = at[static_cast<std::size_t>(k)];
    if (known.by_crease == plane.by_crease && known.normal.dot(plane.normal) > kSameWall) {
      if (plane.gap_m < known.gap_m) known = plane;
      return;
    }
  }
  int place = count;
  while (place > 0 && at[static_cast<std::size_t>(place - 1)].gap_m > plane.gap_m) --place;
  if (place >= kMost) return;
  count = std::min(count + 1, kMost);
  for (int k = count - 1; k > place; --k) at[static_cast<std::size_t>(k)] = at[static_cast<std::size_t>(k - 1)];
  at[static_cast<std::size_t>(place)] = plane;
}

RigidMould::RigidMould(std::optional<mesh::TriangleMesh> surface, bool platform) : platform_(platform) {
  if (!surface) return;
  for (const Vec3& p : surface->points_m) above_m_ = std::max(above_m_, p.z());
  above_m_ = 2.0 * above_m_ + 1.0;
  nearest_.emplace(std::move(*surface));
  edges_.resize(nearest_->mesh().triangles.size());
#pragma omp parallel for schedule(static)
  for (int t = 0; t < static_cast<int>(edges_.size()); ++t)
    edges_[static_cast<std::size_t>(t)] = edges_of(*nearest_, t);
}

/// The closest feature is on the rim of an open surface: nothing to touch there.
bool RigidMould::on_open_edge(const Closest& c) const {
  if (c.feature == Feature::kFace) return false;
  const unsigned open = edges_[static_cast<std::size_t>(c.triangle)] & 7U;
  return (open & edges_at(c.feature)) != 0;
}

/// The closest feature is a concave edge, or a corner of one that x stands in.
bool RigidMould::beside_concave(const Closest& c, double touching_m) const {
  if (c.feature == Feature::kFace || !(is_edge(c.feature) || c.distance_m <= touching_m)) return false;
  const unsigned concave = edges_[static_cast<std::size_t>(c.triangle)] >> 3;
  return (concave & edges_at(c.feature)) != 0;
}

const Planes& RigidMould::planes(const Vec3& x_m, double reach_m, double near_m, Neighbourhood& cache) const {
  // A node that sticks stands still to the last bit: what it can touch is what it could touch before.
  if (reach_m <= cache.planes_reach_m && x_m == cache.planes_at_m) return cache.planes;
  static const Planes kNone{};
  const bool above = !platform_ || x_m.z() > reach_m;
  if (above && (!nearest_ || cache.is_clear(x_m, reach_m))) return kNone;
  // Planes beyond the reach change no result, so a little more is asked for than this step needs.
  const double reach = 1.5 * reach_m;
  cache.planes.count = 0, cache.planes.leans = false;
  if (platform_ && x_m.z() <= reach) cache.planes.add({Vec3::UnitZ(), x_m.z()});
  cache.planes_at_m = x_m;
  cache.planes_reach_m = rounded_down(reach);
  cache.off_m = -1.0F;
  if (nearest_) surface_planes(x_m, reach, near_m, cache, cache.planes);
  return cache.planes;
}

double RigidMould::room_m(const Vec3& x_m, double wanted_m, double near_m, Neighbourhood& cache) const {
  if (!nearest_) return std::numeric_limits<double>::max();
  const double known_m = cache.room_m(x_m);
  if (known_m > wanted_m) return known_m;
  cache.planes_at_m = x_m;
  cache.planes_reach_m = cache.off_m = -1.0F;
  Planes unused;
  surface_planes(x_m, wanted_m, near_m, cache, unused);
  return cache.room_m(x_m);
}

void RigidMould::surface_planes(const Vec3& x, double reach, double near, Neighbourhood& cache, Planes& found) const {
  double moved = (x - cache.centre_m).norm();
  if (moved + reach < cache.clear_m) return;
  std::array<int, 256> wide;  // only for a mould far finer than the sheet
  const int* list = cache.triangles.data();
  int count = cache.count;
  if (!(moved + reach < cache.complete_m)) {
    // Far away: remember how far, and sleep until that is used up.
    const double sleep = 16.0 * near;
    const double limit = std::max(sleep, 4.0 * reach);
    // Where it last asked something was no nearer and, unless it slept, no farther.
    const double bound = (1.0 + 1e-9) * (cache.clear_m + moved);
    Closest closest;
    if (cache.clear_m > 0.0 && bound < limit) closest = nearest_->closest(x, bound);
    if (closest.triangle < 0) closest = nearest_->closest(x, limit);
    const double distance = closest.triangle < 0 ? limit : closest.distance_m;
    const bool inside = closest.triangle >= 0 && nearest_->pseudonormal(closest).dot(x - closest.point_m) < 0.0;
    // Inside there is nothing to be clear of, however deep: refinement may have put the node there.
    moved = 0.0;
    cache.centre_m = x, cache.clear_m = inside ? 0.0 : distance, cache.complete_m = -1.0, cache.count = 0;
    if (reach < 0.5 * distance && !inside) return;
    double complete = 0.0;
    const double radius = std::max(distance + near, 2.0 * reach);
    std::array<Closest, Neighbourhood::kMost> own;
    count = nearest_->within(x, radius, own, complete);
    if (reach < complete) {
      for (int k = 0; k < count; ++k) {
        cache.triangles[static_cast<std::size_t>(k)] = own[static_cast<std::size_t>(k)].triangle;
        cache.distance_m[static_cast<std::size_t>(k)] = rounded_down(own[static_cast<std::size_t>(k)].distance_m);
      }
      cache.count = count;
      cache.complete_m = complete;
    } else {
      std::array<Closest, 256> all;
      count = nearest_->within(x, std::max(distance, reach) * 1.0001, all, complete);
      for (int k = 0; k < count; ++k) wide[static_cast<std::size_t>(k)] = all[static_cast<std::size_t>(k)].triangle;
      list = wide.data();
    }
  }
  // Of the list only what may be within reach by now, or the nearest.
  Closest nearest_of_all;
  thread_local std::array<Closest, 256> met;  // not made anew each time
  int met_count = 0;
  for (int k = 0; k < count; ++k) {
    if (list != wide.data() &&
        cache.distance_m[static_cast<std::size_t>(k)] - moved > std::max(reach, nearest_of_all.distance_m))
      break;
    const Closest c = nearest_->closest_on(list[k], x);
    if (c.distance_m < nearest_of_all.distance_m ||
        (c.distance_m == nearest_of_all.distance_m && c.triangle < nearest_of_all.triangle))
      nearest_of_all = c;
    if (c.distance_m <= reach && !on_open_edge(c)) met[static_cast<std::size_t>(met_count++)] = c;
  }
  // In the order of their numbers: among planes equally near, the first one kept must not depend on the memory.
  std::sort(met.begin(), met.begin() + met_count,
            [](const Closest& a, const Closest& b) { return a.triangle < b.triangle; });
  const double touching = kTouching * near;
  for (int k = 0; k < met_count; ++k) {
    const Closest& c = met[static_cast<std::size_t>(k)];
    const Vec3& normal = nearest_->normal(c.triangle);
    const double gap = normal.dot(x - c.point_m);
    // On a wall at a foot round-off decides whether x projects onto the floor.
    const bool above =
        c.feature == Feature::kFace || (gap > touching && (x - c.point_m - gap * normal).norm() <= touching);
    if (above || beside_concave(c, touching)) {
      // Seen past the edge it shares with another wall, it stands up nearer than it is.
      if (gap > -touching) found.add({normal, gap, false, above ? 0.0 : c.distance_m});
    } else if (is_edge(c.feature) && c.distance_m > touching) {
      const int other = nearest_->across(c.triangle, edge_of(c.feature));
      if (other < c.triangle) continue;  // each edge once
      const Closest o = nearest_->closest_on(other, x);
      if (std::fabs(o.distance_m - c.distance_m) > 1e-9 * c.distance_m) continue;  // x projects onto the neighbour
      if (nearest_->pseudonormal(c).dot(x - c.point_m) > 0.0) found.add({(x - c.point_m) / c.distance_m, c.distance_m});
    }
  }
  if (cache.clear_m == 0.0 && cache.complete_m >= 0.0 && nearest_of_all.distance_m + moved > cache.complete_m) {
    // It has come so far on its way out that what is nearest now need not be in the list.
    cache.complete_m = -1.0, found.count = 0, found.leans = false;
    if (platform_ && x.z() <= reach) found.add({Vec3::UnitZ(), x.z()});
    return surface_planes(x, reach, near, cache, found);
  }
  const Closest& c = nearest_of_all;
  if (c.triangle < 0 || on_open_edge(c)) return;
  const Vec3 outward = nearest_->pseudonormal(c);
  const double side = outward.dot(x - c.point_m) >= 0.0 ? 1.0 : -1.0;
  if (side > 0.0 && c.distance_m > reach) {  // inside is always too near
    cache.off_m = rounded_down(list == wide.data() ? c.distance_m : std::min(c.distance_m, cache.complete_m - moved));
    return;
  }
  if (c.distance_m <= touching)
    found.add({outward, side * c.distance_m});
  else
    found.add({side * (x - c.point_m) / c.distance_m, side * c.distance_m});
}

double RigidMould::gap_m(const Vec3& x) const {
  double gap = platform_ ? x.z() : std::numeric_limits<double>::infinity();
  if (nearest_) {
    const double to_mould = nearest_->signed_distance_m(x);
    gap = std::fmin(gap, to_mould);
  }
  return std::isfinite(gap) ? gap : std::numeric_limits<double>::quiet_NaN();
}

bool RigidMould::is_within(const Vec3& x, double distance_m, const Neighbourhood& cache) const {
  if (platform_ && x.z() <= distance_m) return true;
  return nearest_ && !cache.is_clear(x, distance_m) && nearest_->closest(x, distance_m).triangle >= 0;
}

Vec3 RigidMould::outward(const Vec3& x) const {
  if (!nearest_) return {0.0, 0.0, platform_ ? 1.0 : 0.0};
  const Closest c = nearest_->closest(x);
  if (platform_ && std::fabs(x.z()) < c.distance_m) return Vec3::UnitZ();
  return nearest_->pseudonormal(c);
}

std::optional<double> RigidMould::top_m(double x, double y) const {
  std::optional<double> top;
  if (platform_) top = 0.0;
  if (nearest_) {
    const Vec3 from{x, y, above_m_};
    if (const auto hit = nearest_->ray(from, -Vec3::UnitZ())) {
      const double z = above_m_ - hit->t_m;
      if (!top || z > *top) top = z;
    }
  }
  return top;
}

}  // namespace pellicle::mould
