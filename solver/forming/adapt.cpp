// Where must the sheet's elements be finer?
#include "solver/forming/adapt.h"

#include "mesh/nearest.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>

namespace pellicle::forming {
namespace {

using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Elements over a rounded edge: so large a share of its radius.
constexpr double kOfRadius = 1.0 / 3.0;
/// ... and so short that its middle comes no deeper into a convex one than this share of the thickness: between what
/// edges hold up and what is reported as too much (corner_contact.h).
constexpr double kMostSag = 0.08;
/// Away from an edge elements may grow by this share of the distance.
constexpr double kGrading = 0.5;
/// An edge is looked at from as far as this share of the element's longest edge.
constexpr double kAhead = 0.75;
/// Two neighbours may lean against each other by so much.
constexpr double kMostBend_rad = 0.35;
/// ... and where the sheet lands by so much: what it leaves there it leaves for good, with an error of the second order
/// in the element over the radius of the free sheet.
constexpr double kMostBendLanding_rad = 0.06;

struct Corners {
  Vec3 a, b, c;
  double longest_m;
  double thickness_m;
  Vec3 normal;
};

Corners corners(const sheet::SheetState& s, int e) {
  const mesh::Triangle& t = s.triangles[at(e)];
  Corners k{s.x_m[at(t[0])], s.x_m[at(t[1])], s.x_m[at(t[2])], 0.0, 0.0, Vec3::Zero()};
  k.longest_m = std::sqrt(std::max({(k.b - k.a).squaredNorm(), (k.c - k.b).squaredNorm(), (k.a - k.c).squaredNorm()}));
  const Vec3 cross = (k.b - k.a).cross(k.c - k.a);
  k.thickness_m = 2.0 * s.rest[at(e)].volume_m3 / cross.norm();
  k.normal = cross.normalized();
  return k;
}

double flat_longest_m(const sheet::SheetState& s, int e) {
  const mesh::Triangle& t = s.triangles[at(e)];
  double longest_sq = 0.0;
  for (int k = 0; k < 3; ++k)
    longest_sq = std::max(longest_sq, (s.flat_m[at(t[at(k)])] - s.flat_m[at(t[at((k + 1) % 3)])]).squaredNorm());
  return std::sqrt(longest_sq);
}

bool far_from_mould(const sheet::SheetState& s, const std::vector<mould::Neighbourhood>& near, int e, double reach_m) {
  for (const int i : s.triangles[at(e)]) {
    if (near[at(i)].is_clear(s.x_m[at(i)], reach_m)) return true;
  }
  return false;
}

/// Edge length that the place asks for. The chord L of a circle misses it by L^2/(8 r).
double wanted_m(const SheetSpec& spec, const mould::Crease& crease, double thickness_m) {
  const double follows = kOfRadius * crease.radius_m;
  const double lies_on = crease.is_convex ? std::sqrt(8.0 * kMostSag * thickness_m * crease.radius_m) : follows;
  return std::max(spec.fine_element_m, std::min(follows, lies_on));
}

/// The mould turns under the element more sharply than it can follow.
bool too_coarse_for_mould(const SheetSpec& spec, const mould::Creases& creases, const Corners& k) {
  const double reach = kAhead * k.longest_m;
  const Vec3 margin = Vec3::Constant(reach);
  const Vec3 low = k.a.cwiseMin(k.b).cwiseMin(k.c) - margin, high = k.a.cwiseMax(k.b).cwiseMax(k.c) + margin;
  // A rounder place asks for no less than the element has.
  const double roundest =
      std::max(k.longest_m / kOfRadius, k.longest_m * k.longest_m / (8.0 * kMostSag * k.thickness_m));
  bool coarse = false;
  creases.in_box(low, high, roundest, [&](int i) {
    const mould::Crease& crease = creases[i];
    double wanted = wanted_m(spec, crease, k.thickness_m);
    if (wanted >= k.longest_m) return true;
    const mesh::Closest closest = mesh::closest_on_triangle(crease.point_m, k.a, k.b, k.c);
    // The mould's other side, under the sheet's wall, is no business of this one.
    if (crease.outward.dot(closest.point_m - crease.point_m) < -0.25 * k.longest_m) return true;
    wanted += kGrading * closest.distance_m;
    coarse = closest.distance_m < reach && wanted < k.longest_m;
    return !coarse;
  });
  return coarse;
}

/// It is not on the mould yet, but no node of it is farther from it than it is long: it must be fine before it lands.
bool is_landing(const sheet::SheetState& s, const std::vector<Touch>& touch, const mould::RigidMould& mould,
                const std::vector<mould::Neighbourhood>& near, int e, double longest_m) {
  bool all_touch = true;
  for (const int i : s.triangles[at(e)]) all_touch = all_touch && touch[at(i)].touching;
  if (all_touch) return false;
  for (const int i : s.triangles[at(e)])
    if (!touch[at(i)].touching && !mould.is_within(s.x_m[at(i)], longest_m, near[at(i)])) return false;
  return true;
}

bool bends(const sheet::SheetState& s, int e, const Corners& k, double most_rad) {
  const double least = std::cos(most_rad);
  for (const int other : s.across[at(e)])
    if (other >= 0 && k.normal.dot(corners(s, other).normal) < least) return true;
  return false;
}

}  // namespace

std::vector<char> elements_to_cut(const SheetSpec& spec, const sheet::SheetState& s, const std::vector<Touch>& touch,
                                  const mould::RigidMould& mould, const mould::Creases* creases,
                                  const std::vector<mould::Neighbourhood>& near, const std::vector<char>& moved) {
  const auto moves = [&](int i) { return moved[at(i)] != 0; };
  std::vector<char> wanted(at(s.elements()), 0);
#pragma omp parallel for schedule(dynamic, 256)
  for (int e = 0; e < s.elements(); ++e) {
    if (flat_longest_m(s, e) < 2.0 * spec.fine_element_m) continue;
    const mesh::Triangle& t = s.triangles[at(e)];
    // How far it bends is a matter of its neighbours too.
    bool any_moves = moves(t[0]) || moves(t[1]) || moves(t[2]);
    for (const int other : s.across[at(e)])
      if (other >= 0)
        for (const int i : s.triangles[at(other)]) any_moves = any_moves || moves(i);
    if (!any_moves) continue;
    const Corners k = corners(s, e);
    wanted[at(e)] = bends(s, e, k, kMostBend_rad) ||
                    (bends(s, e, k, kMostBendLanding_rad) && is_landing(s, touch, mould, near, e, k.longest_m)) ||
                    (creases != nullptr && !far_from_mould(s, near, e, (1.0 + kAhead) * k.longest_m) &&
                     too_coarse_for_mould(spec, *creases, k));
  }
  return wanted;
}

}  // namespace pellicle::forming
