// What do holes for air cost a printed mould in strength?
#include "solver/checks/mould_vents.h"

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>

namespace pellicle::checks {
namespace {

using mesh::Vec3;

/// A straight part of a vent.
struct Part {
  Vec3 from_m, to_m;
  double diameter_m;
  bool is_mouth;
  double long_by_wide;
};
std::vector<Part> parts_of(const DrilledVent& vent) {
  const double land_m = std::max(0.0, std::min(vent.land_m, vent.top_m.z() - vent.floor_m));
  const Vec3 step = vent.top_m - land_m * Vec3::UnitZ(), foot(vent.top_m.x(), vent.top_m.y(), vent.floor_m);
  // A slot keeps its long side as it widens downwards.
  const auto shape = [&](double width_m) { return std::max(1.0, vent.slot_m / width_m); };
  std::vector<Part> parts{{vent.top_m, step, vent.diameter_m, true, shape(vent.diameter_m)}};
  if (step.z() > foot.z()) parts.push_back({step, foot, vent.below_m, false, shape(vent.below_m)});
  return parts;
}

bool is_held(const Part& part, double cell_m) {
  return part.long_by_wide == 1.0 && part.diameter_m >= kCellsAcross * cell_m;
}

}  // namespace

std::vector<mesh::Bore> bored(const std::vector<DrilledVent>& vents, double cell_m) {
  std::vector<mesh::Bore> bores;
  for (const DrilledVent& vent : vents)
    for (const Part& part : parts_of(vent)) {
      if (!is_held(part, cell_m)) continue;
      const double beyond_m =
          part.is_mouth ? part.diameter_m : 0.0;  // on a slope its rim stands higher than its middle
      bores.push_back({part.from_m + beyond_m * Vec3::UnitZ(), part.to_m, 0.5 * part.diameter_m});
    }
  return bores;
}

double rim_stress_Pa(const mould::Voigt& s, const Vec3& axis, double long_by_wide) {
  Eigen::Matrix3d full;
  full << s[0], s[5], s[4], s[5], s[1], s[3], s[4], s[3], s[2];
  const Vec3 u = axis.unitOrthogonal(), v = axis.cross(u);
  const double uu = u.dot(full * u), vv = v.dot(full * v), uv = u.dot(full * v);
  const double mean = 0.5 * (uu + vv), radius = std::hypot(0.5 * (uu - vv), uv);  // Mohr's circle
  const double across = 1.0 + 2.0 * std::sqrt(long_by_wide), along = 1.0 + 2.0 / std::sqrt(long_by_wide);
  return std::max(across * (mean + radius), along * (mean + radius)) - (mean - radius);
}

std::vector<NarrowPlace> narrow_vents(const std::vector<DrilledVent>& vents, const mesh::Nearest& surface,
                                      const MouldBuild& build, double cell_m) {
  std::vector<NarrowPlace> places;
  const auto is_shell = [&](const Vec3& x, double floor_m) {
    if (build.inside == mesh::Inside::kSolid) return true;
    const mesh::Closest near = surface.closest(x, build.wall_m * (1.0 + 1e-9));
    return near.triangle >= 0 && !(build.base_open && near.point_m.z() <= floor_m + mesh::kOnFloor * cell_m);
  };
  for (const DrilledVent& vent : vents)
    for (const Part& part : parts_of(vent)) {
      if (is_held(part, cell_m)) continue;
      const Vec3 along = part.to_m - part.from_m;
      const int steps = std::max(1, static_cast<int>(std::ceil(2.0 * along.norm() / cell_m)));
      for (int k = 0; k <= steps; ++k) {
        const Vec3 x = part.from_m + static_cast<double>(k) / steps * along;
        if (is_shell(x, vent.floor_m)) places.push_back({x, part.long_by_wide});
      }
    }
  return places;
}

}  // namespace pellicle::checks
