// How hard does the part hold on to the mould once it has shrunk, and what lifts it off?
#include "solver/checks/grip.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

namespace pellicle::checks {
namespace {

using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Over a sharp edge the sheet stands off by some of its thickness, by chord and by radius.
constexpr double kNearEdge = 0.5;
constexpr double kFacesAlike = 0.5;    // cosine: sheet and face of the mould beside an edge
constexpr double kSample = 0.5;        // of the bought thickness: length of a sample
constexpr double kFlat = 1e-5;         // turns by less are the rounding of a flat face
constexpr double kSharpest = 3.0;      // rad: what turns by more is folded on itself
constexpr int kMostSamples = 1000;     // an edge
const double kLevel = std::sqrt(0.5);  // cosine of 45 degrees

/// Triangles of the part that touch with a corner at least, and their numbers in the sheet.
struct Touching {
  mesh::TriangleMesh mesh;
  std::vector<int> number;
};
Touching touching_part(const Formed& f) {
  Touching t;
  t.mesh.points_m = f.sheet.points_m;
  for (int e = 0; e < static_cast<int>(f.sheet.triangles.size()); ++e) {
    const mesh::Triangle& c = f.sheet.triangles[at(e)];
    const auto all_of = [&](const std::vector<char>& flags) {
      return flags[at(c[0])] && flags[at(c[1])] && flags[at(c[2])];
    };
    const bool touches = f.sheet.touching[at(c[0])] || f.sheet.touching[at(c[1])] || f.sheet.touching[at(c[2])];
    if (!touches || !all_of(f.in_part)) continue;
    t.mesh.triangles.push_back(c);
    t.number.push_back(e);
  }
  return t;
}

/// `away`: unit, in the face, square to the edge, from it into the face.
HeldEdge::Face face(const Vec3& normal, const Vec3& away, const Vec3& pull) {
  const bool is_level = std::fabs(normal.dot(pull)) > kLevel;
  const Vec3 level = normal.cross(pull);  // along its level line; not 0 on what is no level face
  return {normal, is_level, is_level ? 0.0 : std::pow(level.dot(away), 2) / level.squaredNorm()};
}

/// An edge without its place, and the directions into its faces.
struct Convex {
  HeldEdge edge;
  std::array<Vec3, 2> into;  ///< unit, square to the edge
};
/// The edge from corner k of a triangle; none if it is concave, flat or has no other side.
std::optional<Convex> convex_edge(const mesh::Nearest& surface, int triangle, int k, const Vec3& pull) {
  const int other = surface.across(triangle, k);
  if (other < triangle) return std::nullopt;  // each edge once; -1: open
  const mesh::Triangle& t = surface.mesh().triangles[at(triangle)];
  const Vec3 along = (surface.mesh().points_m[at(t[at((k + 1) % 3)])] - surface.mesh().points_m[at(t[at(k)])]);
  const double length = along.norm();
  const Vec3 &n1 = surface.normal(triangle), &n2 = surface.normal(other);
  if (!(length > 0.0)) return std::nullopt;
  const Vec3 unit = along / length;
  const double turn = std::atan2(n1.cross(n2).dot(unit), n1.dot(n2));
  if (!(turn > kFlat) || turn > kSharpest) return std::nullopt;
  const std::array<Vec3, 2> into{n1.cross(unit), unit.cross(n2)};
  return Convex{{Vec3::Zero(), length, 0.0, turn, {face(n1, into[0], pull), face(n2, into[1], pull)}}, into};
}

}  // namespace

std::vector<HeldEdge> held_edges(const Formed& f, const Vec3& pull) {
  std::vector<HeldEdge> held;
  Touching part = touching_part(f);
  if (!f.mould.surface() || part.number.empty()) return held;
  const mesh::Nearest& surface = *f.mould.surface();
  const mesh::Nearest sheet(std::move(part.mesh));
  const auto& points_m = surface.mesh().points_m;
  const double near_m = kNearEdge * f.sheet.bought_thickness_m;
  const int n = static_cast<int>(surface.mesh().triangles.size());
  std::vector<std::vector<HeldEdge>> of_triangle(surface.mesh().triangles.size());
#pragma omp parallel for schedule(dynamic, 256)
  for (int e = 0; e < n; ++e)
    for (int k = 0; k < 3; ++k) {
      auto convex = convex_edge(surface, e, k, pull);
      if (!convex) continue;
      HeldEdge& edge = convex->edge;
      // The part has to go round the edge: it lies on either face beside it, not on another wall near a corner.
      const auto is_covered = [&](std::size_t side) {
        const Vec3 beside = edge.place_m + f.sheet.bought_thickness_m * convex->into[side];
        const mesh::Closest c = sheet.closest(beside, near_m);
        return c.triangle >= 0 && sheet.normal(c.triangle).dot(edge.faces[side].normal) > kFacesAlike;
      };
      const mesh::Triangle& t = surface.mesh().triangles[at(e)];
      const Vec3 &a = points_m[at(t[at(k)])], &b = points_m[at(t[at((k + 1) % 3)])];
      const int samples = static_cast<int>(
          std::clamp(std::ceil(edge.length_m / (kSample * f.sheet.bought_thickness_m)), 1.0, 1.0 * kMostSamples));
      edge.length_m /= samples;
      for (int s = 0; s < samples; ++s) {
        edge.place_m = a + (s + 0.5) / samples * (b - a);
        const mesh::Closest c = sheet.closest(edge.place_m, near_m);
        if (c.triangle < 0 || !is_covered(0) || !is_covered(1)) continue;
        edge.thickness_m = f.sheet.triangle_thickness_m[at(part.number[at(c.triangle)])];
        of_triangle[at(e)].push_back(edge);
      }
    }
  for (const auto& some : of_triangle) held.insert(held.end(), some.begin(), some.end());
  return held;
}

std::vector<Pressed> pressed(const std::vector<HeldEdge>& edges, const ShrinkStress& stress) {
  std::vector<Pressed> all;
  for (const HeldEdge& e : edges) {
    const auto tension_N_m = [&](const HeldEdge::Face& face) {
      return e.thickness_m * (face.is_level ? stress.both_ways_Pa : stress.one_way_Pa * face.across);
    };
    const double N1 = tension_N_m(e.faces[0]), N2 = tension_N_m(e.faces[1]);
    // Both faces together, docs/theory/demould.md (2); the split of (3) is round-off where the turn is small, and the
    // two normals then are nearly one.
    const double both = (N1 + N2) * std::tan(0.5 * e.turn_rad);
    const double first = std::clamp((N2 - N1 * std::cos(e.turn_rad)) / std::sin(e.turn_rad), 0.0, both);
    if (first > 0.0) all.push_back({e.place_m, e.faces[0].normal, first * e.length_m});
    if (both - first > 0.0) all.push_back({e.place_m, e.faces[1].normal, (both - first) * e.length_m});
  }
  return all;
}

double lifting_force_N(const std::vector<Pressed>& pressed, const Vec3& pull, double friction) {
  double sum = 0.0;
  for (const Pressed& p : pressed) {
    const double sine = std::clamp(p.normal.dot(pull), -1.0, 1.0), cosine = std::sqrt(1.0 - sine * sine);
    sum += std::max(0.0, friction * cosine - sine) * p.force_N;
  }
  return sum;
}

double lifted_bulge_m(double pressure_Pa, double radius_m, double thickness_m, double modulus_Pa, double poisson) {
  constexpr double kBending = 5.33, kStretching = 2.6;
  constexpr int kHalvings = 60;  // down to round-off
  const double load = pressure_Pa * std::pow(radius_m / thickness_m, 4) / modulus_Pa * (1.0 - poisson * poisson);
  double low = 0.0, high = std::min(load / kBending, std::cbrt(load / kStretching));  // of thicknesses
  for (int k = 0; k < kHalvings; ++k) {
    const double w = 0.5 * (low + high);
    (kBending * w + kStretching * w * w * w < load ? low : high) = w;
  }
  return high * thickness_m;
}

}  // namespace pellicle::checks
