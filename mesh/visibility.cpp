// What of a mould can a sheet see that comes down on it, and what lies under an overhang?
#include "mesh/visibility.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace pellicle::mesh {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// A place under an overhang is looked out from in so many level directions: the shortest way is up to 2 % too long.
constexpr int kWays = 16;
/// ... and asked in so many steps along each, for the first place that is free.
constexpr int kStepsOut = 50;

/// Nothing stands over the back of a triangle that faces down, in its middle or at one of some more places on it.
bool shows_back(const Nearest& surface, int triangle, bool closely, double round_off_m) {
  const Triangle& t = surface.mesh().triangles[at(triangle)];
  const auto& p = surface.mesh().points_m;
  const Vec3 behind = -round_off_m * surface.normal(triangle);
  const auto is_free = [&](double u, double v) {
    const Vec3 x = (1.0 - u - v) * p[at(t[0])] + u * p[at(t[1])] + v * p[at(t[2])];
    return !surface.ray(x + behind, Vec3::UnitZ());
  };
  if (is_free(1.0 / 3.0, 1.0 / 3.0)) return true;
  constexpr int kSteps = 12;
  for (int i = 0; closely && i < kSteps; ++i)
    for (int j = 0; i + j < kSteps; ++j)
      if (is_free((i + 1.0 / 3.0) / kSteps, (j + 1.0 / 3.0) / kSteps)) return true;
  return false;
}

}  // namespace

WayOut way_out(const Nearest& surface, const Vec3& from, const Vec3& pull, double far_m, double round_off_m) {
  const Eigen::Quaterniond turn = Eigen::Quaterniond::FromTwoVectors(Vec3::UnitZ(), pull);
  const Vec3 u = turn * Vec3::UnitX(), v = turn * Vec3::UnitY();
  const auto is_free = [&](const Vec3& p) { return !surface.ray(p, pull).has_value(); };
  WayOut best{far_m, Vec3::Zero()};
  for (int k = 0; k < kWays; ++k) {
    const double angle = 2.0 * std::numbers::pi * k / kWays;
    const Vec3 along = std::cos(angle) * u + std::sin(angle) * v;
    // The mould itself ends the way: what is behind it is another undercut.
    const auto wall = surface.ray(from, along, best.length_m);
    const double end = wall ? wall->t_m - round_off_m : best.length_m;
    if (end <= 0.0) continue;
    double low = 0.0, high = -1.0;
    for (int s = 1; s <= kStepsOut && high < 0.0; ++s) {
      const double t = end * s / kStepsOut;
      if (is_free(from + t * along))
        high = t;
      else
        low = t;
    }
    if (high < 0.0) continue;
    while (high - low > 1e-3 * high + round_off_m) {
      const double middle = 0.5 * (low + high);
      (is_free(from + middle * along) ? high : low) = middle;
    }
    if (high < best.length_m) best = {high, along};
  }
  return best;
}

Visibility look_from_above(const Nearest& surface, double floor_m, std::span<const char> closely, double upright_rad) {
  const TriangleMesh& m = surface.mesh();
  const int n = static_cast<int>(m.triangles.size());
  Visibility v;
  v.sight.assign(m.triangles.size(), Sight::kSeen);
  if (n == 0) return v;
  Eigen::AlignedBox3d box;
  for (const Vec3& p : m.points_m) box.extend(p);
  const double size_m = box.diagonal().norm(), round_off_m = 1e-6 * size_m;
  const double upright = std::sin(upright_rad);
  const auto middle = [&](int e) -> Vec3 {
    const Triangle& t = m.triangles[at(e)];
    return (m.points_m[at(t[0])] + m.points_m[at(t[1])] + m.points_m[at(t[2])]) / 3.0;
  };
#pragma omp parallel for schedule(dynamic, 1024)
  for (int e = 0; e < n; ++e) {
    const Vec3& normal = surface.normal(e);
    const Vec3 p = middle(e);
    if (normal.z() < -upright && shows_back(surface, e, !closely.empty() && closely[at(e)] != 0, round_off_m))
      v.sight[at(e)] = Sight::kBack;
    else if (normal.z() < -upright)
      v.sight[at(e)] = p.z() <= floor_m + round_off_m ? Sight::kBase : Sight::kOverhang;
    else if (surface.ray(p + round_off_m * (normal + Vec3::UnitZ()), Vec3::UnitZ()))
      v.sight[at(e)] = Sight::kHidden;
  }
  std::vector<int> under;
  for (int e = 0; e < n; ++e) {
    const Triangle& t = m.triangles[at(e)];
    const Vec3 &a = m.points_m[at(t[0])], &b = m.points_m[at(t[1])], &c = m.points_m[at(t[2])];
    const double area_m2 = 0.5 * (b - a).cross(c - a).norm();
    if (v.sight[at(e)] == Sight::kSeen) v.seen_area_m2 += area_m2;
    if (v.sight[at(e)] == Sight::kBack) {
      if (v.back_area_m2 == 0.0) v.back_m = middle(e);
      v.back_area_m2 += area_m2;
    }
    if (v.sight[at(e)] != Sight::kOverhang && v.sight[at(e)] != Sight::kHidden) continue;
    v.undercut_area_m2 += area_m2;
    under.push_back(e);
  }
  // Of a large undercut only so many places, evenly spread: each takes up to 800 rays.
  constexpr std::size_t kMostLooks = 20000;
  const std::size_t stride = under.size() / kMostLooks + 1;
  int deepest = -1;
#pragma omp parallel
  {
    double own_m = 0.0;
    int own = -1;
#pragma omp for schedule(dynamic, 16) nowait
    for (int k = 0; k < static_cast<int>((under.size() + stride - 1) / stride); ++k) {
      const int e = under[at(k) * stride];
      const Vec3 from = middle(e) + 10.0 * round_off_m * surface.normal(e);
      const double depth = way_out(surface, from, Vec3::UnitZ(), size_m, round_off_m).length_m;
      if (depth < size_m && (depth > own_m || (depth == own_m && e < own))) own_m = depth, own = e;
    }
#pragma omp critical(pellicle_undercut)
    if (own >= 0 && (own_m > v.undercut_depth_m || (own_m == v.undercut_depth_m && (deepest < 0 || own < deepest))))
      v.undercut_depth_m = own_m, deepest = own;
  }
  if (deepest >= 0) v.deepest_m = middle(deepest);
  return v;
}

}  // namespace pellicle::mesh
