// A sheet that lies on a round or square mould as a hand would put it: for tests whose answers are known.
#pragma once

#include "solver/checks/demould.h"

#include <Eigen/Geometry>
#include <cmath>
#include <numbers>
#include <utility>
#include <vector>

namespace pellicle::checks {

using Profile = std::vector<mesh::Vec2>;  ///< (radius, height), outside on the right when walked

/// The profile turned about z; where its radius is 0 it ends in one point. With four facets a square one.
inline mesh::TriangleMesh revolved(const Profile& profile, int facets) {
  mesh::TriangleMesh m;
  std::vector<std::vector<int>> ring;
  for (const mesh::Vec2& p : profile) {
    std::vector<int> own;
    for (int j = 0; j < facets; ++j) {
      if (p.x() == 0.0 && j > 0) {
        own.push_back(own.front());
        continue;
      }
      const double angle = 2.0 * std::numbers::pi * j / facets;
      own.push_back(static_cast<int>(m.points_m.size()));
      m.points_m.push_back({p.x() * std::cos(angle), p.x() * std::sin(angle), p.y()});
    }
    ring.push_back(own);
  }
  const auto add = [&](int a, int b, int c) {
    if (a != b && b != c && c != a) m.triangles.push_back({a, b, c});
  };
  for (std::size_t i = 0; i + 1 < ring.size(); ++i)
    for (std::size_t j = 0; j < ring[i].size(); ++j) {
      const std::size_t k = (j + 1) % ring[i].size();
      add(ring[i][j], ring[i + 1][j], ring[i + 1][k]);
      add(ring[i][j], ring[i + 1][k], ring[i][k]);
    }
  return m;
}

/// The same profile with `pieces` on each of its straight lines.
inline Profile finer(const Profile& profile, int pieces) {
  Profile fine{profile.front()};
  for (std::size_t i = 0; i + 1 < profile.size(); ++i)
    for (int k = 1; k <= pieces; ++k)
      fine.push_back(profile[i] + (static_cast<double>(k) / pieces) * (profile[i + 1] - profile[i]));
  return fine;
}

constexpr double kDegree = std::numbers::pi / 180.0;

/// A polymer without any doubt in it: 2 GPa, nu 0.4, 80e-6 /K from 80 degrees C, yields at 3 %, shrinks by 0.5 %.
inline SolidPolymer sure_polymer() {
  const auto sure = [](double v) { return Estimate{v, v, v}; };
  return {sure(2e9), sure(0.4), sure(80e-6), sure(0.03), sure(0.005), 353.15};
}

/// All of the sheet touches and is in the part.
struct Draped {
  forming::FormingResult sheet;
  std::vector<char> in_part;
  imprint::Screening detail;
  SheetSpec spec{};
  mould::RigidMould mould;

  Draped(mesh::TriangleMesh mould_surface, mesh::TriangleMesh on_it, double thickness_m = 0.5e-3)
      : mould(std::move(mould_surface), false) {
    spec.law = sheet::NeoHookean{0.3e6};
    spec.solid = sure_polymer();
    sheet.bought_thickness_m = thickness_m;
    sheet.points_m = std::move(on_it.points_m);
    sheet.triangles = std::move(on_it.triangles);
    for (const mesh::Vec3& p : sheet.points_m) sheet.flat_m.push_back(p.head<2>() + 0.1 * p.z() * mesh::Vec2(1.0, 0.5));
    const std::size_t n = sheet.points_m.size();
    sheet.touching.assign(n, 1);
    sheet.pressure_since_Pa.assign(n, 0.4e6);
    sheet.triangle_thickness_m.assign(sheet.triangles.size(), thickness_m);
    in_part.assign(n, 1);
  }
  /// A round mould with the sheet on all lines of the profile but the last `bare`.
  Draped(const Profile& profile, int facets, int bare, int pieces = 8, double thickness_m = 0.5e-3)
      : Draped(revolved(profile, facets),
               revolved(finer(Profile(profile.begin(), profile.end() - bare), pieces), facets), thickness_m) {}

  Formed formed() const { return {sheet, detail, mould, spec, in_part}; }
  Demoulding demoulding() const { return demould(formed()); }
};

inline Draped turned(const Draped& from, double degrees_about_y) {
  const Eigen::AngleAxisd turn(degrees_about_y * kDegree, mesh::Vec3::UnitY());
  mesh::TriangleMesh surface = from.mould.surface()->mesh(), sheet{from.sheet.points_m, from.sheet.triangles};
  for (mesh::TriangleMesh* m : {&surface, &sheet})
    for (mesh::Vec3& p : m->points_m) p = turn * p;
  return {surface, sheet, from.sheet.bought_thickness_m};
}

/// A block 20 mm high that stands on z = 0, half as wide at its middle as `half_m` says, with this draft. Square with
/// four facets, of which half_m then is the corner's.
inline Profile block(double half_m, double draft_degrees, int facets) {
  const double lean = 10e-3 * std::tan(draft_degrees * kDegree) / std::cos(std::numbers::pi / facets);
  return {{0.0, 20e-3}, {half_m - lean, 20e-3}, {half_m + lean, 0.0}, {0.0, 0.0}};
}

}  // namespace pellicle::checks
