// What does a sharp mould do to the inside of a triangle?
#include "solver/forming/corner_contact.h"

#include "mesh/nearest.h"
#include "mesh/triangle_shape.h"
#include "solver/sheet/membrane.h"

#include <omp.h>
#include <Eigen/Geometry>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <limits>
#include <optional>
#include <tuple>

namespace pellicle::forming {
namespace {

using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Pairs are kept this share of the thickness ahead of touching, and more where things move.
constexpr double kAhead = 0.02;

/// A rounded edge of so many times the triangle's size is followed by its nodes: they stand off it by a 24th of that.
constexpr double kRoundest = 3.0;
/// Two directions with a larger cosine face alike: a node beside a triangle across a right-angled edge does not.
constexpr double kAlike = 0.7;
/// ... and are one direction: the two faces of an edge that turns by 36 degrees or more are not.
constexpr double kOneWay = 0.95;
/// Nearer than this share of the thickness a pair is looked at in every step.
constexpr double kAlwaysLook = 0.02;
/// A place is looked for as far from a triangle as this share of its size: more than it can be through it.
constexpr double kReach = 0.25;
/// ... and, so that it need not be looked for each time, a triangle's size times this farther. From 0.1 to 0.3 it takes
/// as long; half a size is so far that too few find nothing.
constexpr double kMore = 0.2;
/// Around a triangle that has creases near it a bare box is looked for again after so many times. 8 takes as long.
constexpr int kRest = 4;

/// Where a place of the mould is, seen from a triangle.
struct Seen {
  Vec3 closest_m;   ///< of the triangle
  Vec3 normal;      ///< unit, towards the gas
  double depth_m;   ///< of the place through the triangle's plane; < 0: still under it
  double beside_m;  ///< along that plane, past the triangle's edge
  double distance_m;
  double twice_m2, size_m;  ///< of the triangle: area, doubled, and its root
};

/// A triangle of the sheet as places are seen from it.
struct Face {
  int triangle;
  Vec3 a_m, b_m, c_m;
  Vec3 normal = Vec3::Zero();
  double twice_m2, size_m;
  mesh::TriangleShape shape;
  Face(const sheet::SheetState& s, int e) : triangle(e) {
    const mesh::Triangle& t = s.triangles[at(e)];
    a_m = s.x_m[at(t[0])], b_m = s.x_m[at(t[1])], c_m = s.x_m[at(t[2])];
    const Vec3 area = (b_m - a_m).cross(c_m - a_m);
    twice_m2 = area.norm();
    size_m = std::sqrt(twice_m2);
    shape = mesh::shape_of(a_m, b_m, c_m);
    if (twice_m2 > 0.0) normal = area / twice_m2;
  }
};

Seen see(const Face& face, const Vec3& place) {
  Seen seen{face.a_m, face.normal, 0.0, 0.0, 0.0, face.twice_m2, face.size_m};
  if (!(face.twice_m2 > 0.0)) return seen;
  const mesh::Closest closest = mesh::closest_on_triangle(place, face.a_m, face.b_m, face.c_m, face.shape);
  const Vec3& p = closest.point_m;
  seen.closest_m = p;
  seen.distance_m = closest.distance_m;
  seen.depth_m = seen.normal.dot(place - p);
  seen.beside_m = (place - p - seen.depth_m * seen.normal).norm();
  return seen;
}
Seen see(const sheet::SheetState& s, int triangle, const Vec3& place) { return see(Face(s, triangle), place); }

/// Of the closest point, sum 1.
std::array<double, 3> weights(const sheet::SheetState& s, int triangle, const Seen& seen) {
  if (!(seen.twice_m2 > 0.0)) return {1.0, 0.0, 0.0};
  const mesh::Triangle& t = s.triangles[at(triangle)];
  const Vec3 &a = s.x_m[at(t[0])], &b = s.x_m[at(t[1])], &c = s.x_m[at(t[2])], &p = seen.closest_m;
  std::array<double, 3> weight;
  weight[1] = std::clamp((p - a).cross(c - a).dot(seen.normal) / seen.twice_m2, 0.0, 1.0);
  weight[2] = std::clamp((b - a).cross(p - a).dot(seen.normal) / seen.twice_m2, 0.0, 1.0 - weight[1]);
  weight[0] = 1.0 - weight[1] - weight[2];
  return weight;
}

double thickness_m(const sheet::SheetState& s, int e) {
  return sheet::element_stretch(s, e).thickness(s.bought_thickness_m);
}

double area_m2(const sheet::SheetState& s, int e) {
  const mesh::Triangle& t = s.triangles[at(e)];
  const Vec3& a = s.x_m[at(t[0])];
  return 0.5 * (s.x_m[at(t[1])] - a).cross(s.x_m[at(t[2])] - a).norm();
}

/// A triangle as seen along its normal.
class Outline {
 public:
  Outline(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& normal) : corner_m_{a, b, c} {
    for (std::size_t k = 0; k < 3; ++k) {
      const Vec3 along = corner_m_[(k + 1) % 3] - corner_m_[k];
      out_[k] = along.cross(normal).normalized();
    }
  }
  /// So far a place is past the edge that it is farthest past; < 0: inside all.
  double past_m(const Vec3& place_m) const {
    double past_m = -std::numeric_limits<double>::infinity();
    for (std::size_t k = 0; k < 3; ++k) past_m = std::max(past_m, out_[k].dot(place_m - corner_m_[k]));
    return past_m;
  }

 private:
  std::array<Vec3, 3> corner_m_, out_;
};

/// visit(crease, depth, least, surely) for all convex creases that face the triangle, are in its box with a margin of
/// reach_m and no farther than that from its plane, and turn on a radius of less than `roundest` sizes. Each is no
/// nearer to the triangle than `least`, and no farther than `surely`, infinite where that is not plain.
template <class Visit>
void each_near(const sheet::SheetState& s, const mould::Creases& creases, int e, double reach_m, double roundest,
               Visit&& visit) {
  constexpr double kNoNeedle = 1e-3;  // about height over length: of needles nothing is told
  constexpr double kRounding = 1e-7;  // of the place measured on a triangle as narrow as that, some 1e-8 of its size
  constexpr double kFloat = 1e-6;     // of what is kept in floats
  const mesh::Triangle& t = s.triangles[at(e)];
  const Vec3 &a = s.x_m[at(t[0])], &b = s.x_m[at(t[1])], &c = s.x_m[at(t[2])];
  const Vec3 area = (b - a).cross(c - a), margin = Vec3::Constant(reach_m);
  const double twice = area.norm();
  if (!(twice > 0.0)) return;
  const Vec3 low = a.cwiseMin(b).cwiseMin(c) - margin, high = a.cwiseMax(b).cwiseMax(c) + margin;
  const double size = std::sqrt(twice);
  const bool is_full = twice > kNoNeedle * (high - low - 2.0 * margin).squaredNorm();
  std::optional<Outline> outline;  // most boxes are empty
  creases.in_box(low, high, roundest * size, [&](int k) {
    const mould::Crease& crease = creases[k];
    if (!crease.is_convex || !(crease.outward.dot(area) > 0.0)) return true;
    const double depth = area.dot(crease.point_m - a) / twice;
    if (!(std::fabs(depth) <= reach_m)) return true;
    double least = 0.0, surely = std::numeric_limits<double>::infinity();
    if (is_full) {
      if (!outline) outline.emplace(a, b, c, area / twice);
      const double past = outline->past_m(crease.point_m), beside = std::max(0.0, past), slack = kRounding * size;
      least = std::sqrt(depth * depth + beside * beside) - slack;
      if (past < 0.0) surely = (1.0 + kFloat) * std::fabs(depth) + slack;
    }
    visit(k, depth, least, surely);
    return true;
  });
}

void measure(const Face& face, const mould::Creases& creases, Beside& one) {
  const Seen seen = see(face, creases[one.crease].point_m);
  one.distance_m = seen.distance_m;
  // Where the sheet is bent over the place, it is past the edges of both triangles there by less than its depth.
  const bool over = seen.beside_m <= std::fabs(seen.depth_m) + 1e-6 * seen.size_m;
  one.pairs = over && seen.depth_m > -one.ahead_m;
}

/// Keeps the nearest of what is near each crease, of equals the first.
void keep_nearest(PairRoom& room) {
  room.creases.clear();
  for (const std::vector<Beside>& own : room.near)
    for (const Beside& one : own) {
      Beside& best = room.nearest[at(one.crease)];
      if (best.triangle < 0) room.creases.push_back(one.crease);
      if (best.triangle < 0 || std::tie(one.distance_m, one.triangle) < std::tie(best.distance_m, best.triangle))
        best = one;
    }
  std::sort(room.creases.begin(), room.creases.end());
}

/// In whatever order: the least has the same bits.
void lower_to(float& value, float to) {
  const std::atomic_ref own(value);
  float now = own.load(std::memory_order_relaxed);
  while (to < now && !own.compare_exchange_weak(now, to, std::memory_order_relaxed)) continue;
}

/// The pairs of all creases that have one, by crease. near(triangle, found) calls found(crease, ahead_m, within,
/// least_m, surely_m) for each crease near a triangle that wants(triangle), which is no nearer than `least` and no
/// farther than `surely`. A crease that is within what is looked ahead of some triangle has a pair with the nearest of
/// its triangles, of equals the first.
template <class Wants, class Near>
std::vector<Poke> pairs(const sheet::SheetState& s, const mould::Creases& creases, PairRoom& room, Wants&& wants,
                        Near&& near) {
  const std::size_t count = at(creases.size());
  room.in_reach.assign(count, 0);
  room.surely_m.assign(count, std::numeric_limits<float>::infinity());
  if (room.nearest.size() != count) room.nearest.assign(count, {-1, -1, 0.0, 0.0, false});
  room.near.resize(at(omp_get_max_threads()));
#pragma omp parallel
  {
    std::vector<Beside> own = std::move(room.near[at(omp_get_thread_num())]);  // no line of memory with the others'
    own.clear();
#pragma omp for schedule(dynamic, 256)
    for (int e = 0; e < s.elements(); ++e) {
      if (!wants(e)) continue;
      near(e, [&](int crease, double ahead_m, bool within, double least_m, double surely_m) {
        own.push_back({crease, e, ahead_m, least_m, false});
        if (within) std::atomic_ref(room.in_reach[at(crease)]).store(1, std::memory_order_relaxed);
        lower_to(room.surely_m[at(crease)], static_cast<float>(surely_m));
      });
    }
    // Most are only near, or nearer to another.
    std::erase_if(own, [&](const Beside& one) {
      return room.in_reach[at(one.crease)] == 0 || one.distance_m > room.surely_m[at(one.crease)];
    });
    std::optional<Face> face;
    for (Beside& one : own) {
      if (!face || face->triangle != one.triangle) face.emplace(s, one.triangle);
      measure(*face, creases, one);
    }
    room.near[at(omp_get_thread_num())] = std::move(own);
  }
  keep_nearest(room);
  std::vector<Poke> pairs;
  for (const int crease : room.creases) {
    Beside& one = room.nearest[at(crease)];
    if (one.pairs) pairs.push_back({crease, one.triangle, kAllowedDepth * thickness_m(s, one.triangle)});
    one.triangle = -1;
  }
  return pairs;
}

/// The clamp holds the node, or it lies on a face of the mould that the triangle lies on as well. A node on the wall
/// beside an edge is not held: it may still pull the triangle down.
bool is_held(const sheet::SheetState& s, const std::vector<Touch>& touch, int node, const Vec3& normal) {
  const Touch& t = touch[at(node)];
  return s.on_rim[at(node)] || (t.touching && t.normal.dot(normal) > kAlike);
}

/// Which nodes of a triangle let a place in, and by how much? Told without its closest point where that is plain.
class Lets {
 public:
  Lets(const sheet::SheetState& s, const std::vector<Touch>& touch, int triangle, const Vec3& normal)
      : s_(s), triangle_(triangle) {
    const mesh::Triangle& t = s.triangles[at(triangle)];
    for (std::size_t c = 0; c < 3; ++c) held_[c] = is_held(s, touch, t[c], normal);
    a_ = s.x_m[at(t[0])], ab_ = s.x_m[at(t[1])] - a_, ac_ = s.x_m[at(t[2])] - a_;
    bb_ = ab_.squaredNorm(), bc_ = ab_.dot(ac_), cc_ = ac_.squaredNorm();
    const double twice_sq = bb_ * cc_ - bc_ * bc_;
    is_full_ = twice_sq > kFull * bb_ * cc_;
    if (is_full_) per_twice_sq_ = 1.0 / twice_sq, size_m_ = std::sqrt(std::sqrt(twice_sq));
  }

  /// It is over the triangle, and not so near to what is held already that the rest cannot let it in too deep, wherever
  /// that goes.
  bool in(const Vec3& place_m, double allowed_m) const {
    if (is_full_) {
      const Vec3 ap = place_m - a_;
      const double pb = ap.dot(ab_), pc = ap.dot(ac_);
      const double v = (cc_ * pb - bc_ * pc) * per_twice_sq_, w = (bb_ * pc - bc_ * pb) * per_twice_sq_;
      const double free_m = free({1.0 - v - w, v, w}) * size_m_;
      const bool is_over = v > kPlain && w > kPlain && 1.0 - v - w > kPlain;
      if (is_over && std::fabs(free_m - allowed_m) > kPlain * size_m_) return free_m > allowed_m;
    }
    const Seen seen = see(s_, triangle_, place_m);
    if (seen.beside_m > std::fabs(seen.depth_m) + 0.05 * seen.size_m) return false;  // beside the triangle now
    return !(free(weights(s_, triangle_, seen)) * seen.size_m < allowed_m);
  }

 private:
  static constexpr double kFull = 1e-3;   ///< of a right angle's: better than the rounding below takes
  static constexpr double kPlain = 1e-6;  ///< so far from undecided rounding does not count
  double free(const std::array<double, 3>& weight) const {
    double sum = 0.0;
    for (std::size_t c = 0; c < 3; ++c)
      if (!held_[c]) sum += weight[c];
    return sum;
  }

  const sheet::SheetState& s_;
  int triangle_;
  std::array<bool, 3> held_;
  Vec3 a_, ab_, ac_;
  double bb_, bc_, cc_, per_twice_sq_ = 0.0, size_m_ = 0.0;
  bool is_full_;
};

Vec3 triangle_normal(const sheet::SheetState& s, const mesh::Triangle& t) {
  const Vec3 area = (s.x_m[at(t[1])] - s.x_m[at(t[0])]).cross(s.x_m[at(t[2])] - s.x_m[at(t[0])]);
  const double twice = area.norm();
  return twice > 0.0 ? Vec3(area / twice) : Vec3(Vec3::Zero());
}

}  // namespace

std::vector<char> moved_since(const sheet::SheetState& s, const std::vector<Vec3>& from_m, double stands_m) {
  std::vector<char> moved(at(s.nodes()), 1);
#pragma omp parallel for schedule(static)
  for (int i = 0; i < static_cast<int>(from_m.size()); ++i)
    moved[at(i)] = !((s.x_m[at(i)] - from_m[at(i)]).squaredNorm() <= stands_m * stands_m);  // not a number: moved
  return moved;
}

void CornerContact::find(const sheet::SheetState& s, const std::vector<mould::Neighbourhood>& near, double horizon_s,
                         std::vector<Poke>& pokes, std::vector<Vec3>& paired_at_m) {
  if (creases_ == nullptr) return;
  bare_.resize(at(s.elements()));
  const std::vector<char> moved = moved_since(s, paired_at_m, kStands * s.bought_thickness_m);
  const auto any = [&](const std::vector<char>& marks, int e) {
    const mesh::Triangle& t = s.triangles[at(e)];
    return (marks[at(t[0])] | marks[at(t[1])] | marks[at(t[2])]) != 0;
  };
  // A crease may go over to a triangle that stands next to one that moves.
  std::vector<char> beside(at(s.nodes()), 0);
  room_.speed_sq.resize(at(s.nodes()));
#pragma omp parallel for schedule(static)
  for (int i = 0; i < s.nodes(); ++i) {
    room_.speed_sq[at(i)] = s.v_m_s[at(i)].squaredNorm();
    for (int k = s.first_corner[at(i)]; k < s.first_corner[at(i) + 1] && !beside[at(i)]; ++k)
      beside[at(i)] = any(moved, s.corners[at(k)] / 3);
  }
  std::erase_if(pokes, [&](const Poke& poke) { return any(beside, poke.triangle); });
  const auto near_of = [&](int e, auto&& found) {
    const mesh::Triangle& t = s.triangles[at(e)];
    double speed_sq = 0.0, size_sq = 0.0;
    for (int k = 0; k < 3; ++k) {
      const int i = t[at(k)];
      speed_sq = std::max(speed_sq, room_.speed_sq[at(i)]);
      size_sq = std::max(size_sq, (s.x_m[at(i)] - s.x_m[at(t[at((k + 1) % 3)])]).squaredNorm());
    }
    const double ahead = 2.0 * std::sqrt(speed_sq) * horizon_s + kAhead * s.bought_thickness_m;
    const double size = std::sqrt(size_sq), reach = std::max(ahead, kReach * size);
    const Vec3 &a = s.x_m[at(t[0])], &b = s.x_m[at(t[1])], &c = s.x_m[at(t[2])], margin = Vec3::Constant(reach);
    const Vec3 low = a.cwiseMin(b).cwiseMin(c) - margin, high = a.cwiseMax(b).cwiseMax(c) + margin;
    if (is_bare(low, high, kRoundest * size, kMore * size, bare_[at(e)])) return;
    if (std::any_of(t.begin(), t.end(), [&](int i) { return near[at(i)].is_clear(s.x_m[at(i)], size + reach); }))
      return;
    each_near(s, *creases_, e, reach, kRoundest, [&](int crease, double depth, double least, double surely) {
      found(crease, ahead, depth > -ahead, least, surely);
    });
  };
  const auto kept = static_cast<std::ptrdiff_t>(pokes.size());
  const std::vector<Poke> fresh = pairs(
      s, *creases_, room_, [&](int e) { return any(beside, e); }, near_of);
  pokes.insert(pokes.end(), fresh.begin(), fresh.end());
  std::inplace_merge(pokes.begin(), pokes.begin() + kept, pokes.end(),
                     [](const Poke& a, const Poke& b) { return a.crease < b.crease; });
  // A pair that stands may have lost its crease to a triangle beside it.
  const auto distance = [&](const Poke& poke) {
    return see(s, poke.triangle, (*creases_)[poke.crease].point_m).distance_m;
  };
  std::size_t count = 0;
  for (const Poke& poke : pokes) {
    if (count == 0 || pokes[count - 1].crease != poke.crease)
      pokes[count++] = poke;
    else if (distance(poke) < distance(pokes[count - 1]))
      pokes[count - 1] = poke;
  }
  pokes.resize(count);
  const Vec3 never = Vec3::Constant(std::numeric_limits<double>::quiet_NaN());
  paired_at_m.resize(at(s.nodes()), never);
  for (std::size_t i = 0; i < moved.size(); ++i)
    if (moved[i]) paired_at_m[i] = s.x_m[i];
  group(pokes, s.elements());
}

bool CornerContact::is_bare(const Vec3& low_m, const Vec3& high_m, double radius_m, double more_m, Bare& known) const {
  const auto holds = [&](const Bare& box) {
    return (box.low_m.array() <= low_m.array()).all() && (high_m.array() <= box.high_m.array()).all() &&
           radius_m <= box.radius_m;
  };
  if (holds(known)) return true;
  if (known.rest > 0) return --known.rest, false;
  const Vec3 more = Vec3::Constant(more_m);
  const Bare wide{low_m - more, high_m + more, (1.0 + kMore) * radius_m};
  bool bare = true;
  creases_->in_box(wide.low_m, wide.high_m, wide.radius_m, [&](int k) { return bare = !(*creases_)[k].is_convex; });
  if (bare)
    known = wide;
  else
    known.rest = kRest;
  return bare;
}

void CornerContact::follow(const std::vector<int>& parent) {
  std::vector<Bare> parts;
  if (!bare_.empty())
    for (const int e : parent) parts.push_back(bare_[at(e)]);
  bare_ = std::move(parts);
}

void CornerContact::group(const std::vector<Poke>& pokes, int triangles) {
  group_of_.assign(at(triangles), -1);
  if (creases_ == nullptr) return;
  std::vector<Poke> sorted = pokes;
  std::sort(sorted.begin(), sorted.end(), [](const Poke& a, const Poke& b) {
    return std::tie(a.triangle, a.crease) < std::tie(b.triangle, b.crease);
  });
  places_.clear();
  groups_.clear();
  for (int k = 0; k < static_cast<int>(sorted.size()); ++k) {
    const auto& [crease, triangle, allowed_m] = sorted[at(k)];
    places_.push_back({(*creases_)[crease].point_m, allowed_m});
    if (groups_.empty() || groups_.back().triangle != triangle) {
      group_of_[at(triangle)] = static_cast<int>(groups_.size());
      groups_.push_back({triangle, k, k});
    }
    groups_.back().to = k + 1;
  }
}

void CornerContact::look(const sheet::SheetState& s, const std::vector<Touch>& touch, double dt_s, Group& group) {
  const mesh::Triangle& t = s.triangles[at(group.triangle)];
  const bool stands = !(s.moved[at(t[0])] | s.moved[at(t[1])] | s.moved[at(t[2])]);
  if (stands && group.settled && !(stirred_[at(t[0])] | stirred_[at(t[1])] | stirred_[at(t[2])])) return;
  double travel_sq = 0.0;
  for (const int i : t)
    if (s.moved[at(i)]) travel_sq = std::max(travel_sq, s.v_m_s[at(i)].squaredNorm());
  const double travel = std::sqrt(travel_sq) * dt_s;
  group.unseen_m -= travel;
  group.holds = group.settled = false;
  // What rests on a crease has no speed to tell what it would do without.
  const double in_reach = std::max(2.0 * travel, kAlwaysLook * s.bought_thickness_m);
  if (group.unseen_m > in_reach) return;
  group.unseen_m = std::numeric_limits<double>::infinity();
  group.settled = stands;
  const Vec3 normal = triangle_normal(s, t);
  std::optional<Lets> lets;
  int deepest = group.from;
  for (int k = group.from; k < group.to; ++k) {
    const Place& place = places_[at(k)];
    const double gap = place.allowed_m - normal.dot(place.point_m - s.x_m[at(t[0])]);
    group.unseen_m = std::min(group.unseen_m, gap);
    if (group.holds ? gap >= group.gap_m : gap > in_reach) continue;
    if (!lets) lets.emplace(s, touch, group.triangle, normal);
    if (!lets->in(place.point_m, place.allowed_m)) continue;
    group.holds = true;
    group.normal = normal, group.gap_m = gap;
    deepest = k;
  }
  std::swap(places_[at(group.from)], places_[at(deepest)]);  // looked at first next time, it mostly answers for all
}

void CornerContact::begin_step(const sheet::SheetState& s, const std::vector<Touch>& touch, double dt_s) {
  held_in_.resize(at(s.nodes()), 0);
  lot_held_in_.resize(at(s.nodes() / sheet::kLot + 1), 0);
  ++step_;
  if (creases_ == nullptr) return;
  stirred_.resize(at(s.nodes()), 1);
#pragma omp parallel for schedule(static, 64)
  for (int g = 0; g < static_cast<int>(groups_.size()); ++g) {
    look(s, touch, dt_s, groups_[at(g)]);
    if (!groups_[at(g)].holds) continue;
    for (const int i : s.triangles[at(groups_[at(g)].triangle)]) {  // others may say so too
      std::atomic_ref(held_in_[at(i)]).store(step_, std::memory_order_relaxed);
      std::atomic_ref(lot_held_in_[at(i / sheet::kLot)]).store(step_, std::memory_order_relaxed);
    }
  }
}

bool CornerContact::leaves_to_mould(const sheet::SheetState& s, int node, const Vec3& normal) const {
  return is_left_to(s.area_m2[at(node)].normalized(), normal);
}

// A node that faces as the mould that it is about to land on is left to the mould. Where the sheet sticks a node
// must not land yet on a face at an angle: the edge beside it would stand through its triangles for good. Where it
// slides the edge would hold it back.
bool CornerContact::is_left_to(const Vec3& of_node, const Vec3& of_mould) const {
  return of_mould.dot(of_node) > (sticks_ ? kOneWay : kAlike);
}

std::optional<mould::Plane> CornerContact::plane_at(const sheet::SheetState& s, int node, double reach_m,
                                                    const mould::Planes& own) const {
  // All along one direction, the node's own: planes that hardly differ would throw it sideways where they meet.
  constexpr double kLeastCosine = 0.2;
  const Vec3 normal = s.area_m2[at(node)].normalized();
  for (int k = 0; k < own.count; ++k) {
    const mould::Plane& plane = own.at[at(k)];
    if (std::max(plane.gap_m, plane.distance_m) > reach_m) continue;
    if (is_left_to(normal, plane.normal)) return std::nullopt;
  }
  double gap = std::numeric_limits<double>::infinity();
  for (int k = s.first_corner[at(node)]; k < s.first_corner[at(node) + 1]; ++k)
    if (const int g = group_of_[at(s.corners[at(k)] / 3)]; g >= 0 && groups_[at(g)].holds) {
      const Group& group = groups_[at(g)];
      gap = std::min(gap, group.gap_m / std::max(kLeastCosine, group.normal.dot(normal)));
    }
  if (!std::isfinite(gap)) return std::nullopt;
  return mould::Plane{normal, gap, true};
}

Penetration deepest(const sheet::SheetState& s, const mould::Creases& creases) {
  const auto each_of = [&](const mould::Creases& of, int e, auto&& visit) {
    const double reach = std::max(kAhead * s.bought_thickness_m, std::sqrt(2.0 * area_m2(s, e)));
    each_near(s, of, e, reach, std::numeric_limits<double>::max(), visit);
  };
  // Of all that are near few stand through a triangle at all, and only then it matters to which they are nearest.
  std::vector<char> stands_through(at(creases.size()), 0);
#pragma omp parallel for schedule(dynamic, 256)
  for (int e = 0; e < s.elements(); ++e)
    each_of(creases, e, [&](int crease, double depth, double, double) {
      if (depth > 0.0) std::atomic_ref(stands_through[at(crease)]).store(1, std::memory_order_relaxed);
    });
  const mould::Creases through = creases.chosen(stands_through);
  const auto near_of = [&](int e, auto&& found) {
    each_of(through, e, [&](int crease, double depth, double least, double surely) {
      found(crease, 0.0, depth > 0.0, least, surely);
    });
  };
  Penetration worst;
  PairRoom room;
  for (const Poke& poke : pairs(
           s, through, room, [](int) { return true; }, near_of)) {
    const Vec3& place = through[poke.crease].point_m;
    const double depth = see(s, poke.triangle, place).depth_m, share = depth / thickness_m(s, poke.triangle);
    if (share > worst.of_thickness) worst = {depth, share, place};
  }
  return worst;
}

}  // namespace pellicle::forming
