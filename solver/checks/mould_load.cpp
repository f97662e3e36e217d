// With what does the formed sheet press on the mould, and where does it cover it?
#include "solver/checks/mould_load.h"

#include "mesh/check.h"
#include "solver/checks/place.h"
#include "solver/mould/body_surface.h"

#include <Eigen/Geometry>

#include <algorithm>
#include <array>

namespace pellicle::checks {
namespace {

using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

constexpr double kCovers = 0.50;     // bought thicknesses: so near the sheet covers a place, chords over curves counted
constexpr double kPiece_m = 1.0e-3;  // places at which it is asked whether a triangle of the mould is covered
constexpr double kCoverPieces = 200.0;  // ... of large moulds: so many along their longest edge

/// The mould is nearer than the platform, so air shut in below presses on the mould.
bool is_over_mould(const Formed& f, const Vec3& x_m) {
  const double distance_m = f.mould.surface()->closest(x_m).distance_m;
  return !f.mould.has_platform() || distance_m < x_m.z();
}

/// N, 0 where a node neither lies on the mould nor has shut-in air between itself and the mould.
std::vector<double> pressures_Pa(const Formed& f) {
  const forming::FormingResult& s = f.sheet;
  const mesh::Nearest& surface = *f.mould.surface();
  std::vector<double> pressure_Pa(s.points_m.size(), 0.0);
  for (std::size_t i = 0; i < pressure_Pa.size(); ++i) {
    const bool is_on_mould = surface.closest(s.points_m[i], kOnMould * s.bought_thickness_m).triangle >= 0;
    // The clamp holds the rim, of which no contact is asked; where it lies on the mould the gas presses it there.
    if (!s.on_rim.empty() && s.on_rim[i] && is_on_mould) {
      pressure_Pa[i] = std::max(0.0, s.pressure_Pa);
      continue;
    }
    if (!s.touching[i]) {
      const bool shuts_in = !s.pocket.empty() && s.pocket[i] != forming::kNoPocket;
      if (shuts_in && is_over_mould(f, s.points_m[i])) pressure_Pa[i] = std::max(0.0, s.pocket_pressure_Pa[i]);
      continue;
    }
    if (!is_on_mould) continue;
    pressure_Pa[i] = std::max({0.0, s.contact_pressure_Pa[i], s.pressure_since_Pa[i]});
  }
  return pressure_Pa;
}

}  // namespace

MouldLoad mould_load(const Formed& f, double piece_m) {
  ensure(f.mould.surface().has_value() && piece_m > 0.0, "a load has a mould to lie on, in pieces");
  const forming::FormingResult& s = f.sheet;
  const mesh::Nearest& surface = *f.mould.surface();
  const std::vector<double> pressure_Pa = pressures_Pa(f);
  MouldLoad load;
  for (const mesh::Triangle& t : s.triangles) {
    const std::array<double, 3> p{pressure_Pa[at(t[0])], pressure_Pa[at(t[1])], pressure_Pa[at(t[2])]};
    const double most_Pa = std::max({p[0], p[1], p[2]});
    if (most_Pa == 0.0) continue;
    load.highest_Pa = std::max(load.highest_Pa, most_Pa);
    const Vec3 &a = s.points_m[at(t[0])], &b = s.points_m[at(t[1])], &c = s.points_m[at(t[2])];
    const Vec3 twice_area = (b - a).cross(c - a);
    if (twice_area.squaredNorm() == 0.0) continue;
    const Vec3 normal = twice_area.normalized();
    mould::for_pieces(a, b, c, piece_m, [&](const Vec3& x, double area_m2) {
      // Barycentric coordinates are shares of the area.
      const double u = (b - x).cross(c - x).dot(normal) / twice_area.norm();
      const double v = (c - x).cross(a - x).dot(normal) / twice_area.norm();
      const double here_Pa = u * p[0] + v * p[1] + (1.0 - u - v) * p[2];
      const mesh::Closest below = surface.closest(x);
      const Vec3 force = -here_Pa * area_m2 * normal;
      load.forces.push_back({below.point_m, surface.pseudonormal(below), force, area_m2});
      load.sum_N += force;
      load.area_m2 += area_m2;
    });
  }
  return load;
}

std::vector<Cover> mould_cover(const Formed& f) {
  ensure(f.mould.surface().has_value(), "a mould is covered");
  const forming::FormingResult& s = f.sheet;
  const mesh::Nearest& surface = *f.mould.surface();
  mesh::TriangleMesh lying{s.points_m, {}};
  for (const mesh::Triangle& t : s.triangles)
    if (s.touching[at(t[0])] && s.touching[at(t[1])] && s.touching[at(t[2])]) lying.triangles.push_back(t);
  std::vector<Cover> cover(surface.mesh().triangles.size());
  if (lying.triangles.empty()) return cover;
  const mesh::Nearest sheet(std::move(lying));
  const auto temperature_K = [&](int i) { return s.heat ? s.temperature_mean_K[at(i)] : f.spec.temperature_K; };
  Eigen::AlignedBox3d box;
  for (const Vec3& p : surface.mesh().points_m) box.extend(p);
  const double piece_m = std::max(kPiece_m, box.sizes().maxCoeff() / kCoverPieces);
#pragma omp parallel for schedule(dynamic, 64)
  for (int k = 0; k < static_cast<int>(cover.size()); ++k) {
    const mesh::Triangle& t = surface.mesh().triangles[at(k)];
    const auto& p = surface.mesh().points_m;
    double area_m2 = 0.0, covered_m2 = 0.0;
    Cover& here = cover[at(k)];
    mould::for_pieces(p[at(t[0])], p[at(t[1])], p[at(t[2])], piece_m, [&](const Vec3& x, double piece_m2) {
      area_m2 += piece_m2;
      const mesh::Closest over = sheet.closest(x, kCovers * s.bought_thickness_m);
      if (over.triangle < 0 || sheet.normal(over.triangle).dot(surface.normal(k)) <= 0.0) return;
      covered_m2 += piece_m2;
      for (const int n : sheet.mesh().triangles[at(over.triangle)]) {
        here.thickness_m += piece_m2 * s.thickness_m[at(n)] / 3.0;
        here.temperature_K += piece_m2 * temperature_K(n) / 3.0;
      }
    });
    if (covered_m2 == 0.0) continue;
    here.share = covered_m2 / area_m2;
    here.thickness_m /= covered_m2;
    here.temperature_K /= covered_m2;
  }
  return cover;
}

}  // namespace pellicle::checks
