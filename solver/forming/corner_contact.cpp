// What does a sharp mould do to the inside of a triangle?
#include "solver/forming/corner_contact.h"

#include "mesh/nearest.h"
#include "solver/sheet/membrane.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <limits>
#include <tuple>

namespace pellicle::forming {
namespace {

using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Pairs are kept this share of the thickness ahead of touching, and more where things move.
constexpr double kAhead = 0.02;

/// A rounded edge of so many times the triangle's size is followed by its nodes: they stand off it by a 24th of that.
constexpr double kRoundest = 3.0;
/// Two directions with a larger cosine face alike.
constexpr double kAlike = 0.7;
/// Nearer than this share of the thickness a pair is looked at in every step.
constexpr double kAlwaysLook = 0.05;
/// A place is looked for as far from a triangle as this share of its size: more than it can be through it.
constexpr double kReach = 0.25;

/// Where a place of the mould is, seen from a triangle.
struct Seen {
  std::array<double, 3> weight;  ///< of the triangle's closest point, sum 1
  Vec3 normal;                   ///< unit, towards the gas
  double depth_m;                ///< of the place through the triangle's plane; < 0: still under it
  double beside_m;               ///< along that plane, past the triangle's edge
  double distance_m;
  double size_m;  ///< of the triangle
};

Seen see(const sheet::SheetState& s, int triangle, const Vec3& place) {
  const mesh::Triangle& t = s.triangles[at(triangle)];
  const Vec3 &a = s.x_m[at(t[0])], &b = s.x_m[at(t[1])], &c = s.x_m[at(t[2])];
  const Vec3 area = (b - a).cross(c - a);
  const double twice = area.norm();
  Seen seen{{1.0, 0.0, 0.0}, Vec3::Zero(), 0.0, 0.0, 0.0, std::sqrt(twice)};
  if (!(twice > 0.0)) return seen;
  seen.normal = area / twice;
  const mesh::Closest closest = mesh::closest_on_triangle(place, a, b, c);
  const Vec3& p = closest.point_m;
  seen.weight[1] = std::clamp((p - a).cross(c - a).dot(seen.normal) / twice, 0.0, 1.0);
  seen.weight[2] = std::clamp((b - a).cross(p - a).dot(seen.normal) / twice, 0.0, 1.0 - seen.weight[1]);
  seen.weight[0] = 1.0 - seen.weight[1] - seen.weight[2];
  seen.distance_m = closest.distance_m;
  seen.depth_m = seen.normal.dot(place - p);
  seen.beside_m = (place - p - seen.depth_m * seen.normal).norm();
  return seen;
}

struct Pair {
  int crease;
  double distance_m;
  bool is_close;  ///< no farther under the triangle than is looked ahead, nor past its edge
};

/// use(pair) for all convex creases that face the triangle, are no farther from it than `reach_share` of its size or
/// ahead_m, and turn on a radius of less than `roundest` sizes.
template <class Use>
void each_pair(const sheet::SheetState& s, const mould::Creases& creases, int e, double ahead_m, double reach_share,
               double roundest, Use&& use) {
  const mesh::Triangle& t = s.triangles[at(e)];
  const Vec3 &a = s.x_m[at(t[0])], &b = s.x_m[at(t[1])], &c = s.x_m[at(t[2])];
  const Vec3 area = (b - a).cross(c - a);
  const double twice = area.norm(), reach = std::max(ahead_m, reach_share * std::sqrt(twice));
  const Vec3 margin = Vec3::Constant(reach);
  creases.in_box(a.cwiseMin(b).cwiseMin(c) - margin, a.cwiseMax(b).cwiseMax(c) + margin, [&](int k) {
    const mould::Crease& crease = creases[k];
    if (!crease.is_convex || !(crease.outward.dot(area) > 0.0)) return true;
    if (crease.radius_m * crease.radius_m > roundest * roundest * twice) return true;
    if (std::fabs(area.dot(crease.point_m - a)) > reach * twice) return true;
    const Seen seen = see(s, e, crease.point_m);
    // Where the sheet is bent over the place, it is past the edges of both triangles there by less than its depth.
    const bool over = seen.beside_m <= std::fabs(seen.depth_m) + 1e-6 * seen.size_m;
    if (seen.distance_m < reach) use(Pair{k, seen.distance_m, over && seen.depth_m > -ahead_m});
    return true;
  });
}

/// The clamp holds the node, or it lies on a face of the mould that the triangle lies on as well. A node on the wall
/// beside an edge is not held: it may still pull the triangle down.
bool is_held(const sheet::SheetState& s, const std::vector<Touch>& touch, int node, const Vec3& normal) {
  const Touch& t = touch[at(node)];
  return s.on_rim[at(node)] || (t.touching && t.normal.dot(normal) > kAlike);
}

double thickness_m(const sheet::SheetState& s, int e) {
  return sheet::element_stretch(s, e).thickness(s.bought_thickness_m);
}

}  // namespace

void CornerContact::find(const sheet::SheetState& s, const std::vector<mould::Neighbourhood>& near, double horizon_s,
                         std::vector<Poke>& pokes, std::vector<char>& moved) {
  if (creases_ == nullptr) return;
  if (moved.empty()) moved.assign(at(s.nodes()), 1);
  const auto any = [&](const std::vector<char>& marks, int e) {
    const mesh::Triangle& t = s.triangles[at(e)];
    return (marks[at(t[0])] | marks[at(t[1])] | marks[at(t[2])]) != 0;
  };
  // A crease may go over to a triangle that stands next to one that moves.
  std::vector<char> beside(at(s.nodes()), 0);
  for (int e = 0; e < s.elements(); ++e)
    if (any(moved, e))
      for (const int i : s.triangles[at(e)]) beside[at(i)] = 1;
  owners_.assign(at(creases_->size()), {-1, -1, 0.0, 0.0, 0});
  for (const Poke& poke : pokes)
    if (!any(beside, poke.triangle)) owners_[at(poke.crease)] = poke;
#pragma omp parallel
  {
    std::vector<Poke> own;
#pragma omp for schedule(static) nowait
    for (int e = 0; e < s.elements(); ++e) {
      if (!any(beside, e)) continue;
      const mesh::Triangle& t = s.triangles[at(e)];
      double speed = 0.0, size = 0.0;
      for (int k = 0; k < 3; ++k) {
        const int i = t[at(k)];
        speed = std::max(speed, s.v_m_s[at(i)].norm());
        size = std::max(size, (s.x_m[at(i)] - s.x_m[at(t[at((k + 1) % 3)])]).norm());
      }
      const double ahead = 2.0 * speed * horizon_s + kAhead * s.bought_thickness_m;
      const double farthest = size + std::max(ahead, kReach * size);  // from a node, of what a pair reaches
      if (std::any_of(t.begin(), t.end(), [&](int i) { return near[at(i)].is_clear(s.x_m[at(i)], farthest); }))
        continue;
      each_pair(s, *creases_, e, ahead, kReach, kRoundest, [&](const Pair& pair) {
        own.push_back({pair.crease, e, pair.distance_m, 0.0, static_cast<std::int8_t>(pair.is_close)});
      });
    }
    // The nearest triangle, and of equals the first: no thread decides.
#pragma omp critical(pellicle_pairs)
    for (const Poke& poke : own) {
      Poke& best = owners_[at(poke.crease)];
      if (best.triangle < 0 || std::tie(poke.distance_m, poke.triangle) < std::tie(best.distance_m, best.triangle))
        best = poke;
    }
  }
  pokes.clear();
  for (int k = 0; k < creases_->size(); ++k) {
    Poke& owner = owners_[at(k)];
    if (owner.triangle < 0) continue;
    if (owner.is_close) owner.allowed_m = kAllowedDepth * thickness_m(s, owner.triangle);
    pokes.push_back(owner);
  }
  moved.assign(at(s.nodes()), 0);
  looks_.assign(pokes.size(), {});
}

void CornerContact::look(const sheet::SheetState& s, const Poke& poke, double dt_s, Look& look) const {
  const mesh::Triangle& t = s.triangles[at(poke.triangle)];
  double travel_sq = 0.0;
  for (const int i : t)
    if (s.moved[at(i)]) travel_sq = std::max(travel_sq, s.v_m_s[at(i)].squaredNorm());
  const double travel = std::sqrt(travel_sq) * dt_s;
  look.unseen_m -= travel;
  // What rests on a crease has no speed to tell what it would do without.
  if (look.unseen_m > std::max(2.0 * travel, kAlwaysLook * s.bought_thickness_m)) return;
  const Seen seen = see(s, poke.triangle, (*creases_)[poke.crease].point_m);
  look.normal = seen.normal, look.weight = seen.weight, look.size_m = seen.size_m;
  look.gap_m = poke.allowed_m - seen.depth_m;
  look.has_left = seen.beside_m > std::fabs(seen.depth_m) + 0.05 * seen.size_m;
  look.unseen_m = look.gap_m;
}

void CornerContact::begin_step(const sheet::SheetState& s, const std::vector<Touch>& touch,
                               const std::vector<Poke>& pokes, double dt_s) {
  if (creases_ == nullptr) {
    near_node_.resize(at(s.nodes()), 0);
    return;
  }
  // By number: a refinement in between has given both to others, and more of them.
  for (const int e : marked_) plane_of_[at(e)] = -1;
  for (const int i : marked_nodes_) near_node_[at(i)] = 0;
  marked_nodes_.clear();
  near_node_.resize(at(s.nodes()), 0);
  plane_of_.resize(at(s.elements()), -1);
  looks_.resize(pokes.size());
  marked_.clear();
  planes_.clear();
#pragma omp parallel for schedule(static)
  for (int k = 0; k < static_cast<int>(pokes.size()); ++k)
    if (pokes[at(k)].is_close) look(s, pokes[at(k)], dt_s, looks_[at(k)]);
  for (std::size_t k = 0; k < pokes.size(); ++k) {
    const Look& look = looks_[k];
    if (!pokes[k].is_close || look.has_left || look.unseen_m < look.gap_m)
      continue;  // beside the triangle, or out of reach in this step
    const mesh::Triangle& t = s.triangles[at(pokes[k].triangle)];
    double free_weight = 0.0;
    for (std::size_t c = 0; c < 3; ++c)
      if (!is_held(s, touch, t[c], look.normal)) free_weight += look.weight[c];
    // So near to what is held already that the rest cannot let it in too deep, wherever it goes.
    if (free_weight * look.size_m < pokes[k].allowed_m) continue;
    const mould::Plane plane{look.normal, look.gap_m, true};
    int& number = plane_of_[at(pokes[k].triangle)];
    if (number < 0) {
      number = static_cast<int>(planes_.size());
      planes_.push_back(plane);
      marked_.push_back(pokes[k].triangle);
      for (const int i : t) near_node_[at(i)] = 1, marked_nodes_.push_back(i);
    } else if (plane.gap_m < planes_[at(number)].gap_m) {
      planes_[at(number)] = plane;
    }
  }
}

void CornerContact::add_plane(const sheet::SheetState& s, int node, double reach_m, mould::Planes& planes) const {
  // All along one direction, the node's own: planes that hardly differ would throw it sideways where they meet. So one
  // that faces much as the mould it is about to land on is left to the mould.
  constexpr double kLeastCosine = 0.2;
  const Vec3 normal = s.area_m2[at(node)].normalized();
  for (int k = 0; k < planes.count; ++k)
    if (planes.at[at(k)].gap_m <= reach_m && planes.at[at(k)].normal.dot(normal) > kAlike) return;
  double gap = std::numeric_limits<double>::infinity();
  for (int k = s.first_corner[at(node)]; k < s.first_corner[at(node) + 1]; ++k)
    if (const int number = plane_of_[at(s.corners[at(k)] / 3)]; number >= 0)
      gap = std::min(gap, planes_[at(number)].gap_m / std::max(kLeastCosine, planes_[at(number)].normal.dot(normal)));
  if (std::isfinite(gap)) planes.add({normal, gap, true});
}

Penetration deepest(const sheet::SheetState& s, const mould::Creases& creases) {
  std::vector<Pair> nearest(at(creases.size()), {-1, std::numeric_limits<double>::infinity(), false});
  std::vector<int> owner(nearest.size(), -1);
  for (int e = 0; e < s.elements(); ++e)
    each_pair(s, creases, e, kAhead * s.bought_thickness_m, 1.0, std::numeric_limits<double>::max(),
              [&](const Pair& pair) {
                if (pair.distance_m < nearest[at(pair.crease)].distance_m)
                  nearest[at(pair.crease)] = pair, owner[at(pair.crease)] = e;
              });
  Penetration worst;
  for (const Pair& pair : nearest) {
    if (!pair.is_close) continue;
    const int e = owner[at(pair.crease)];
    const double depth = see(s, e, creases[pair.crease].point_m).depth_m, share = depth / thickness_m(s, e);
    if (share > worst.of_thickness) worst = {depth, share, creases[pair.crease].point_m};
  }
  return worst;
}

}  // namespace pellicle::forming
