// Which narrow holes go right through a mould, seen from above?
#include "mesh/holes.h"

#include "mesh/check.h"
#include "mesh/slots.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>
#include <utility>

namespace pellicle::mesh {
namespace {

constexpr int kRays = 32;        ///< round a section
constexpr double kRound = 0.6;   ///< narrowest over widest line through the middle of a section
constexpr double kWidest = 6.0;  ///< a cone is followed down to so many times the largest diameter
constexpr double kJump = 1.5;    ///< wider by that in one step: the hole has ended
constexpr double kStep = 0.025;  ///< between sections, of the largest diameter
constexpr double kLand = 1.1;    ///< the land is what is no wider than this times the narrowest
constexpr double kEnd = 1e-3;    ///< how well an end is known, of the step
constexpr int kCentrings = 4;

struct Section {
  Vec2 middle_m;
  double diameter_m;
};

/// The closed outline around a place, if there is one within reach.
std::optional<Section> section_at(const Nearest& mould, const Vec3& from_m, double reach_m) {
  std::array<double, kRays> t{};
  std::array<Vec2, kRays> hit_m;
  for (std::size_t k = 0; k < kRays; ++k) {
    const double angle = 2.0 * std::numbers::pi * (static_cast<double>(k) + 0.5) / kRays;  // not along walls of a grid
    const Vec3 towards{std::cos(angle), std::sin(angle), 0.0};
    const auto hit = mould.ray(from_m, towards, reach_m);
    if (!hit) return std::nullopt;
    t[k] = hit->t_m;
    hit_m[k] = (from_m + hit->t_m * towards).head<2>();
  }
  Section s{Vec2::Zero(), 0.0};
  double twice_m2 = 0.0, narrow = t[0] + t[kRays / 2], wide = narrow;
  for (std::size_t k = 0; k < kRays; ++k) {
    const Vec2 a = hit_m[k] - from_m.head<2>(), b = hit_m[(k + 1) % kRays] - from_m.head<2>();
    const double twice = a.x() * b.y() - a.y() * b.x();
    twice_m2 += twice;
    s.middle_m += twice * (a + b) / 3.0;
    const double line = t[k] + t[(k + kRays / 2) % kRays];
    narrow = std::min(narrow, line), wide = std::max(wide, line);
  }
  if (!(twice_m2 > 0.0) || narrow < kRound * wide) return std::nullopt;
  s.middle_m = from_m.head<2>() + s.middle_m / twice_m2;
  // The outline between hits counts as arcs: a regular polygon of 32 corners has 0.994 of its circle.
  const double polygon = kRays * std::sin(2.0 * std::numbers::pi / kRays) / (2.0 * std::numbers::pi);
  s.diameter_m = std::sqrt(2.0 * twice_m2 / (std::numbers::pi * polygon));
  return s;
}

/// Does the upright line through the place meet nothing?
bool is_clear(const Nearest& mould, const Vec2& at_m, double above_m) {
  return !mould.ray(Vec3(at_m.x(), at_m.y(), above_m), -Vec3::UnitZ());
}

struct Station {
  double z_m, diameter_m;
};

/// Sections upwards or downwards from the one at z_m, until the hole ends; the last is the end itself.
std::vector<Station> follow(const Nearest& mould, const Vec2& middle_m, Station from, double step_m, double reach_m) {
  std::vector<Station> all{from};
  const auto next = [&](double z_m) -> std::optional<Station> {
    const auto s = section_at(mould, Vec3(middle_m.x(), middle_m.y(), z_m), reach_m);
    if (!s || s->diameter_m > kJump * all.back().diameter_m) return std::nullopt;
    return Station{z_m, s->diameter_m};
  };
  while (const auto s = next(all.back().z_m + step_m)) all.push_back(*s);
  double inside = all.back().z_m, outside = inside + step_m;
  while (std::fabs(outside - inside) > kEnd * std::fabs(step_m)) {
    const double z = 0.5 * (inside + outside);
    if (const auto s = next(z))
      inside = z, all.push_back(*s);
    else
      outside = z;
  }
  return all;
}

ThroughHole measured(const Vec2& middle_m, std::vector<Station> down, const std::vector<Station>& up) {
  // One list, from the upper end to the lower.
  std::vector<Station> all(up.rbegin(), up.rend());
  all.insert(all.end(), down.begin() + 1, down.end());
  const auto narrower = [](const Station& a, const Station& b) { return a.diameter_m < b.diameter_m; };
  const double least = std::min_element(all.begin(), all.end(), narrower)->diameter_m;
  const auto in_land = [&](const Station& s) { return s.diameter_m <= kLand * least; };
  const auto first = std::find_if(all.begin(), all.end(), in_land);
  const auto last = std::find_if_not(first, all.end(), in_land) - 1;
  return {.opening_m = Vec3(middle_m.x(), middle_m.y(), all.front().z_m),
          .diameter_m = least,
          .length_m = all.front().z_m - all.back().z_m,
          .land_m = first->z_m - last->z_m,
          .foot_m = all.back().diameter_m,
          .taper_m = last->z_m - all.back().z_m};
}

}  // namespace

std::vector<ThroughHole> through_holes(const Nearest& mould, double largest_m) {
  ensure(largest_m > 0.0, "holes have a size");
  const TriangleMesh& mesh = mould.mesh();
  double above_m = 0.0;
  for (const Vec3& p : mesh.points_m) above_m = std::max(above_m, p.z() + largest_m);
  std::vector<ThroughHole> holes;
  for (int t = 0; t < static_cast<int>(mesh.triangles.size()); ++t) {
    const Vec3& n = mould.normal(t);
    const double level = n.head<2>().norm();
    if (level < std::numbers::sqrt2 / 2.0) continue;
    // From the wall straight across to the other one; begin a little off it.
    const Triangle& corner = mesh.triangles[static_cast<std::size_t>(t)];
    Vec3 wall = Vec3::Zero();
    for (const int i : corner) wall += mesh.points_m[static_cast<std::size_t>(i)] / 3.0;
    const Vec3 across = Vec3(n.x(), n.y(), 0.0) / level;
    const double off_m = 1e-4 * largest_m;
    const auto hit = mould.ray(wall + off_m * across, across, kWidest * largest_m);
    if (!hit) continue;
    Vec3 middle = wall + 0.5 * (hit->t_m + off_m) * across;
    const auto known = [&](const ThroughHole& h) {
      return (h.opening_m - middle).head<2>().norm() < 0.5 * h.diameter_m &&
             std::fabs(h.opening_m.z() - 0.5 * h.length_m - middle.z()) <= 0.5 * h.length_m + kStep * largest_m;
    };
    if (std::any_of(holes.begin(), holes.end(), known) || !is_clear(mould, middle.head<2>(), above_m)) continue;
    std::optional<Section> section;
    for (int k = 0; k < kCentrings; ++k) {
      section = section_at(mould, middle, kWidest * largest_m);
      if (!section) break;
      middle.head<2>() = section->middle_m;
    }
    if (!section || std::any_of(holes.begin(), holes.end(), known)) continue;
    const Station here{middle.z(), section->diameter_m};
    const double step_m = kStep * largest_m;
    const ThroughHole hole =
        measured(section->middle_m, follow(mould, section->middle_m, here, -step_m, kWidest * largest_m),
                 follow(mould, section->middle_m, here, step_m, kWidest * largest_m));
    if (hole.diameter_m <= largest_m && is_clear(mould, section->middle_m, above_m)) holes.push_back(hole);
  }
  const std::vector<ThroughHole> others = slots_and_slanting(mould, largest_m, holes);
  holes.insert(holes.end(), others.begin(), others.end());
  return holes;
}

}  // namespace pellicle::mesh
