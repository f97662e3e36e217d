// Into which triangles is a polygon of a mould file cut? Ears are cut off one by one (G. H. Meisters, "Polygons have
// ears", Amer. Math. Monthly 82 (1975) 648; citation from memory), each tested against the corners that turn right.
#include "io/moulds/polygon.h"

#include <fmt/format.h>

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace pellicle::moulds {
namespace {

using mesh::Vec2;
using mesh::Vec3;

constexpr double kStraight = 1e-6;  // sine of a turn that counts as none: an ear there would have no area
constexpr double kBent = 1e-3;      // distance from the mean plane, of the polygon's size, that is worth a note

constexpr std::size_t kMostForced = 16;  // cuts without an ear; then no ear is looked for: it crosses itself for good

double cross(const Vec2& a, const Vec2& b) { return a.x() * b.y() - a.y() * b.x(); }

/// Twice the area, as a vector (M. E. Newell's sum): the normal of the mean plane. About the first corner, so that the
/// distance of the polygon from the origin costs no digits.
Vec3 area_normal(std::span<const Vec3> p) {
  Vec3 sum = Vec3::Zero();
  for (std::size_t i = 1; i + 1 < p.size(); ++i) sum += (p[i] - p[0]).cross(p[i + 1] - p[0]);
  return sum;
}

/// Seen along the axis the polygon faces most; counter-clockwise, and exact: coordinates are left out, not computed.
std::vector<Vec2> flattened(std::span<const Vec3> corners, const Vec3& normal) {
  int axis = 0;
  normal.cwiseAbs().maxCoeff(&axis);
  int i = (axis + 1) % 3, j = (axis + 2) % 3;
  if (normal[axis] < 0.0) std::swap(i, j);
  std::vector<Vec2> flat;
  flat.reserve(corners.size());
  for (const Vec3& p : corners) flat.emplace_back(p[i] - corners[0][i], p[j] - corners[0][j]);
  return flat;
}

bool turns_left(const Vec2& a, const Vec2& b, const Vec2& c) {
  const Vec2 in = b - a, out = c - b;
  return cross(in, out) > kStraight * in.norm() * out.norm();
}

/// Every corner turns left, and the edges go round once: a star turns left everywhere too.
bool is_convex(const std::vector<Vec2>& p) {
  int upward = 0;
  for (std::size_t i = 0; i < p.size(); ++i) {
    const Vec2 &a = p[i], &b = p[(i + 1) % p.size()], &c = p[(i + 2) % p.size()];
    if (!turns_left(a, b, c)) return false;
    if (b.y() < a.y() && c.y() >= b.y()) ++upward;
  }
  return upward == 1;
}

/// The edges of a polygon that does not cross itself turn by one full turn in all; a star turns by two, an eight by
/// none.
bool goes_round_once(const std::vector<Vec2>& p) {
  double turn = 0.0;
  for (std::size_t i = 0; i < p.size(); ++i) {
    const Vec2 in = p[(i + 1) % p.size()] - p[i], out = p[(i + 2) % p.size()] - p[(i + 1) % p.size()];
    turn += std::atan2(cross(in, out), in.dot(out));
  }
  return std::fabs(turn - 2.0 * std::numbers::pi) < 1.0;
}

/// The corners still there, in a ring.
class Ring {
 public:
  explicit Ring(const std::vector<Vec2>& flat) : flat_(flat), next_(flat.size()), before_(flat.size()) {
    for (std::size_t i = 0; i < flat.size(); ++i) {
      next_[i] = (i + 1) % flat.size();
      before_[i] = (i + flat.size() - 1) % flat.size();
    }
    for (std::size_t i = 0; i < flat.size(); ++i) {
      if (!is_left(i)) right_.push_back(i);
    }
  }

  /// Triangles as corner numbers; false if a corner had to be cut off that is no ear.
  bool cut_all(std::vector<std::array<std::size_t, 3>>& triangles) {
    std::size_t left = flat_.size(), at = 0, looked = 0, forced = 0;
    while (left > 3) {
      const bool gives_up = looked >= left || forced >= kMostForced;  // once round without an ear
      if (gives_up) ++forced;
      if (!gives_up && !is_ear(at)) {
        at = next_[at];
        ++looked;
        continue;
      }
      triangles.push_back({before_[at], at, next_[at]});
      at = take_out(at);
      --left;
      looked = 0;
    }
    triangles.push_back({before_[at], at, next_[at]});
    return forced == 0;
  }

 private:
  bool is_left(std::size_t i) const { return turns_left(flat_[before_[i]], flat_[i], flat_[next_[i]]); }

  bool is_ear(std::size_t i) const {
    if (!is_left(i)) return false;
    const Vec2 &a = flat_[before_[i]], &b = flat_[i], &c = flat_[next_[i]];
    return std::none_of(right_.begin(), right_.end(), [&](std::size_t k) {
      const Vec2& p = flat_[k];
      if (k == before_[i] || k == next_[i] || p == a || p == b || p == c) return false;
      return cross(b - a, p - a) >= 0.0 && cross(c - b, p - b) >= 0.0 && cross(a - c, p - c) >= 0.0;
    });
  }

  /// Where to look on: the corner before, whose own test may have changed.
  std::size_t take_out(std::size_t i) {
    next_[before_[i]] = next_[i];
    before_[next_[i]] = before_[i];
    std::erase_if(right_, [&](std::size_t k) { return k == i || ((k == before_[i] || k == next_[i]) && is_left(k)); });
    return before_[i];
  }

  const std::vector<Vec2>& flat_;
  std::vector<std::size_t> next_, before_;
  std::vector<std::size_t> right_;  ///< corners that turn right or go straight: only they can lie in an ear
};

}  // namespace

void PolygonCutter::note_bend(std::span<const Vec3> corners, const Vec3& normal, long long number) {
  Vec3 middle = Vec3::Zero();
  for (const Vec3& p : corners) middle += p / static_cast<double>(corners.size());
  const Vec3 unit = normal.normalized();
  double off = 0.0, size = 0.0;
  for (const Vec3& p : corners) {
    off = std::max(off, std::fabs(unit.dot(p - middle)));
    size = std::max(size, (p - middle).norm());
  }
  if (off <= kBent * size) return;
  if (bent_.count++ == 0) bent_.first = number;
  most_bent_ = std::max(most_bent_, off);
}

void PolygonCutter::cut(std::span<const Vec3> corners, long long number, std::vector<Facet>& facets) {
  if (corners.size() == 3) {
    facets.push_back({corners[0], corners[1], corners[2]});
    return;
  }
  const Vec3 normal = area_normal(corners);
  const auto fan = [&] {
    for (std::size_t i = 1; i + 1 < corners.size(); ++i) facets.push_back({corners[0], corners[i], corners[i + 1]});
  };
  if (!(normal.norm() > 0.0) || !normal.allFinite()) {  // no plane: a line, or a figure of eight
    fan();
    if (crossing_.count++ == 0) crossing_.first = number;
    return;
  }
  note_bend(corners, normal, number);
  const std::vector<Vec2> flat = flattened(corners, normal);
  if (is_convex(flat)) {
    fan();
    return;
  }
  std::vector<std::array<std::size_t, 3>> triangles;
  const bool is_clean = Ring(flat).cut_all(triangles) && goes_round_once(flat);
  for (const auto& t : triangles) facets.push_back({corners[t[0]], corners[t[1]], corners[t[2]]});
  if (!is_clean && crossing_.count++ == 0) crossing_.first = number;
}

void PolygonCutter::add_notes(const char* place, std::vector<std::string>& notes) const {
  if (crossing_.count > 0) {
    notes.push_back(
        fmt::format("{} polygons touch or cross themselves and may be cut wrongly, the first at {} {}: export the "
                    "mould as triangles",
                    crossing_.count, place, crossing_.first));
  }
  if (bent_.count > 0) {
    notes.push_back(fmt::format(
        "{} polygons of four corners or more are not flat, by up to {:.3g} in the file's unit, the first at "
        "{} {}: which triangles they are is a choice of this program",
        bent_.count, most_bent_, place, bent_.first));
  }
}

}  // namespace pellicle::moulds
