// Into cells of what size is a printed mould cut, so that walls are resolved and nobody waits?
#include "solver/checks/mould_cells.h"

#include <fmt/core.h>
#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <utility>

namespace pellicle::checks {
namespace {

using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// To see whether there is anything behind a shell: two cells through it, in some tenths of a second.
constexpr double kThroughShell = 2.0, kHardlyAny = 0.02;
constexpr CellBudget kLookInside{100e3, 1e6};

struct Size {
  double area_m2 = 0.0, volume_m3 = 0.0, box_m3 = 0.0;
};

Size size_of(const mesh::TriangleMesh& m) {
  Size size;
  Eigen::AlignedBox3d box;
  for (const Vec3& p : m.points_m) box.extend(p);
  for (const mesh::Triangle& t : m.triangles) {
    const Vec3 a = m.points_m[at(t[0])] - box.min(), b = m.points_m[at(t[1])] - box.min(),
               c = m.points_m[at(t[2])] - box.min();
    size.area_m2 += 0.5 * (b - a).cross(c - a).norm();
    size.volume_m3 += a.dot(b.cross(c)) / 6.0;
  }
  size.box_m3 = box.volume();
  return size;
}

}  // namespace

double affordable_cell_m(const mesh::Nearest& surface, const MouldBuild& build, double wanted_m,
                         const CellBudget& budget) {
  const Size size = size_of(surface.mesh());
  const double solid_m3 =
      build.inside == mesh::Inside::kHollow ? std::min(size.volume_m3, size.area_m2 * build.wall_m) : size.volume_m3;
  return std::max({wanted_m, std::cbrt(solid_m3 / budget.solid), std::cbrt(size.box_m3 / budget.box)});
}

mesh::Voxels mould_cells(const mesh::Nearest& surface, const MouldBuild& build, double cell_m,
                         std::optional<double> platform_m, std::vector<mesh::Bore> bores) {
  mesh::VoxelOptions options;
  options.cell_m = cell_m;
  options.wall_m = build.wall_m;
  options.inside = build.inside;
  options.base_open = build.base_open;
  options.floor_m = platform_m;
  options.vents = std::move(bores);
  return mesh::voxels_of(surface, options);
}

bool has_inside(const mesh::Nearest& surface, const MouldBuild& build, std::optional<double> platform_m) {
  if (build.inside == mesh::Inside::kSolid) return false;
  MouldBuild hollow = build, solid = build;
  hollow.inside = mesh::Inside::kHollow, solid.inside = mesh::Inside::kSolid;
  const double cell_m = affordable_cell_m(surface, solid, build.wall_m / kThroughShell, kLookInside);
  if (cell_m > build.wall_m) return true;  // a shell this thin in a mould this large
  const double all_m3 = mould_cells(surface, solid, cell_m, platform_m).shell_m3();
  return mould_cells(surface, hollow, cell_m, platform_m).shell_m3() < (1.0 - kHardlyAny) * all_m3;
}

std::string build_text(const MouldBuild& build) {
  if (build.inside == mesh::Inside::kSolid) return "solid block that stands on the platform with all of its base";
  const double wall_mm = 1e3 * build.wall_m;
  if (build.inside == mesh::Inside::kFilled)
    return fmt::format("shell of {:.2f} mm {}, bonded to it", wall_mm,
                       build.base_open ? "full of plaster down to the platform" : "with a bottom, full of plaster");
  return build.base_open
             ? fmt::format(
                   "hollow shell of {:.2f} mm, open below: it stands on the platform with its rim alone, and "
                   "behind it is air as in the room",
                   wall_mm)
             : fmt::format(
                   "hollow shell of {:.2f} mm with a bottom of the same; behind it is air as in the room, so "
                   "leave it a hole to the platform",
                   wall_mm);
}

}  // namespace pellicle::checks
