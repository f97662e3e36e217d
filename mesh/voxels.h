// Of what is each small cube of a printed mould: resin, filling or air?
#pragma once

#include "mesh/nearest.h"

#include <array>
#include <cstddef>
#include <optional>
#include <vector>

namespace pellicle::mesh {

/// What fills a mould behind its shell.
enum class Inside { kHollow, kFilled, kSolid };

/// Of a cell's edge: what is no higher above the floor lies on it, and belongs to the base.
inline constexpr double kOnFloor = 0.01;

/// A straight round hole, air. A tapered one is several.
struct Bore {
  Vec3 from_m, to_m;
  double radius_m;
};

struct VoxelOptions {
  double cell_m = 0.0;             ///< edge of a cell; see cell_through_wall_m()
  double wall_m = 0.0;             ///< shell: what is no farther from the surface; >= cell_m unless kSolid
  Inside inside = Inside::kSolid;  ///< of what is behind the shell
  bool base_open = false;          ///< the shell has no bottom: behind it reaches down to the floor
  std::optional<double> floor_m;   ///< height of the platform, where cells start; none: the lowest point
  std::vector<Bore> vents;
  int samples = 4;                    ///< lines a cell edge
  std::size_t most_cells = 1u << 27;  ///< air included; more are refused
};

/// nx * ny * nz cells, x fastest; cell (i, j, k) has its low corner at low_m + (i, j, k) cell_m. 8 bytes a cell; the
/// making of them takes about 16 more and 16 for each time one of the sampling lines crosses the surface.
struct Voxels {
  std::array<int, 3> cells{0, 0, 0};
  Vec3 low_m = Vec3::Zero();
  double cell_m = 0.0;
  std::vector<float> shell;  ///< share of the cell's volume that is shell, 0 to 1
  std::vector<float> fill;   ///< ... that is filling; the rest is air

  std::size_t index(int i, int j, int k) const {
    return static_cast<std::size_t>(i) +
           static_cast<std::size_t>(cells[0]) *
               (static_cast<std::size_t>(j) + static_cast<std::size_t>(cells[1]) * static_cast<std::size_t>(k));
  }
  Vec3 middle_m(int i, int j, int k) const { return low_m + cell_m * Vec3(i + 0.5, j + 0.5, k + 0.5); }
  double shell_m3() const;
  double fill_m3() const;
};

/// Cell edge with which `cells` lie through a wall.
double cell_through_wall_m(double wall_m, int cells);

/// Cuts a mould into cells. Volume shares come from where lines along all three axes cross the surface, exact along the
/// line; where lines leave a doubt (holes, doubled triangles) from the winding number of samples^3 points. The surface
/// must face outwards (mended() sees to it); small holes, overlapping bodies and doubled triangles do no harm. Same
/// bits for any number of threads. Error (kGeometry) if there are more cells than allowed, none is solid, or the wall
/// is thinner than a cell.
Voxels voxels_of(const Nearest& surface, const VoxelOptions& options);

}  // namespace pellicle::mesh
