// Of what is each small cube of a printed mould: resin, filling or air?
#include "mesh/voxels.h"

#include "mesh/check.h"
#include "mesh/voxel_lines.h"
#include "mesh/winding.h"

#include <Eigen/Geometry>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>

namespace pellicle::mesh {
namespace {

constexpr float kRoundOff = 1e-5F;        // of a share: nearer to empty or full is empty or full
constexpr double kLinesApart = 1.5;       // steps between lines: shares along the axes may differ by so much of a cell
constexpr double kClearlyOneSide = 0.25;  // winding number, off 1/2

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string count_text(double n) { return std::to_string(static_cast<long long>(n)); }

Error refusal(const std::string& found, const std::string& allowed, const std::string& advice) {
  return Error({Fault::Kind::kGeometry, "mould cut into cells", found, allowed, advice});
}

CellBox box_around(const TriangleMesh& mesh, const VoxelOptions& o) {
  Eigen::AlignedBox3d box;
  for (const Vec3& p : mesh.points_m) box.extend(p);
  if (o.floor_m) box.min().z() = *o.floor_m;
  if (box.isEmpty()) throw refusal("nothing above the floor", "a solid", "check the mould's place over the platform");
  CellBox cells{{}, box.min(), o.cell_m};
  double count = 1.0;
  for (int d = 0; d < 3; ++d) {
    const double n = std::max(1.0, std::ceil(box.sizes()[d] / o.cell_m - 1e-6));
    count *= n;
    if (count <= static_cast<double>(o.most_cells)) cells.cells[at(d)] = static_cast<int>(n);
  }
  if (count > static_cast<double>(o.most_cells))
    throw refusal(count_text(count) + " cells", "at most " + count_text(static_cast<double>(o.most_cells)),
                  "take larger cells; at twice the size there are an eighth");
  return cells;
}

/// The surface without what lies on the floor.
TriangleMesh without_base(const TriangleMesh& mesh, double floor_m, double cell_m) {
  TriangleMesh rest{mesh.points_m, {}};
  for (const Triangle& t : mesh.triangles) {
    const auto is_low = [&](int p) { return mesh.points_m[at(p)].z() <= floor_m + kOnFloor * cell_m; };
    if (!(is_low(t[0]) && is_low(t[1]) && is_low(t[2]))) rest.triangles.push_back(t);
  }
  return rest;
}

/// Share of a unit cube on the side n.(x - middle) > c, n a unit vector. With m = |n| sorted to the far side it is the
/// corner cut m.x <= alpha, by inclusion and exclusion of its eight corners (Scardovelli & Zaleski, J. Comput. Phys.
/// 164 (2000) 228; from memory). Components below 1e-4 are raised to it, an error of as much.
double cut_share(const Vec3& n, double c) {
  const Vec3 m = n.cwiseAbs().cwiseMax(1e-4);
  const double alpha = 0.5 * m.sum() - c;
  if (alpha <= 0.0) return 0.0;
  if (alpha >= m.sum()) return 1.0;
  double sum = 0.0;
  for (int k = 0; k < 8; ++k) {
    const double left = alpha - (k & 1 ? m.x() : 0.0) - (k & 2 ? m.y() : 0.0) - (k & 4 ? m.z() : 0.0);
    const bool is_odd = ((k ^ (k >> 1) ^ (k >> 2)) & 1) != 0;
    if (left > 0.0) sum += (is_odd ? -1.0 : 1.0) * left * left * left;
  }
  return std::clamp(sum / (6.0 * m.prod()), 0.0, 1.0);
}

class Cutter {
 public:
  Cutter(const Nearest& surface, const VoxelOptions& options)
      : surface_(surface), o_(options), box_(box_around(surface.mesh(), options)), winding_(surface.mesh()) {
    for (int axis = 0; axis < 3; ++axis) along_[at(axis)] = cover_along(axis, surface.mesh(), box_, o_.samples);
    if (o_.inside != Inside::kSolid && o_.base_open)
      sides_.emplace(without_base(surface.mesh(), box_.low_m.z(), o_.cell_m));
  }

  Voxels run() {
    Voxels v{box_.cells, box_.low_m, box_.cell_m, {}, {}};
    v.shell.assign(box_.size(), 0.0F);
    v.fill.assign(box_.size(), 0.0F);
#pragma omp parallel for schedule(dynamic, 8) collapse(2)
    for (int k = 0; k < v.cells[2]; ++k)
      for (int j = 0; j < v.cells[1]; ++j)
        for (int i = 0; i < v.cells[0]; ++i) fill_cell(v, i, j, k);
    for (const Bore& vent : o_.vents) bore(v, vent);
    return v;
  }

 private:
  void fill_cell(Voxels& v, int i, int j, int k) const {
    const std::size_t c = v.index(i, j, k);
    const Vec3 middle = v.middle_m(i, j, k);
    const float solid = solid_share(c, middle);
    if (solid <= 0.0F) return;
    const float behind = o_.inside == Inside::kSolid || solid < 0.5F ? 0.0F : std::min(solid, behind_wall(middle));
    v.shell[c] = solid - behind;
    v.fill[c] = o_.inside == Inside::kFilled ? behind : 0.0F;
  }

  float solid_share(std::size_t c, const Vec3& middle) const {
    const std::array<float, 3> s{along_[0].share[c], along_[1].share[c], along_[2].share[c]};
    const auto [low, high] = std::minmax({s[0], s[1], s[2]});
    const bool doubt = along_[0].doubt[c] != 0 || along_[1].doubt[c] != 0 || along_[2].doubt[c] != 0;
    if (doubt || high - low > kLinesApart / o_.samples) return share_by_winding(middle);
    if (high < kRoundOff) return 0.0F;
    if (low > 1.0F - kRoundOff) return 1.0F;
    const Closest near = surface_.closest(middle, half_diagonal_m());
    if (near.triangle < 0) return share_by_winding(middle);  // no surface here: some lines missed it elsewhere
    // Lines that meet the surface head on see the volume best: a face along the grid exactly.
    int axis = 2;
    surface_.normal(near.triangle).cwiseAbs().maxCoeff(&axis);
    const float share = s[at(axis)];
    return share < kRoundOff ? 0.0F : share > 1.0F - kRoundOff ? 1.0F : share;
  }

  double half_diagonal_m() const { return 0.5 * std::sqrt(3.0) * o_.cell_m * (1.0 + 1e-6); }

  float share_by_winding(const Vec3& middle) const {
    if (surface_.closest(middle, half_diagonal_m()).triangle < 0) {
      const double w = winding_.at(middle);
      if (std::abs(w - 0.5) > kClearlyOneSide) return w > 0.5 ? 1.0F : 0.0F;
    }
    int inside = 0;
    for_samples(middle, [&](const Vec3& p) { inside += winding_.at(p) > 0.5 ? 1 : 0; });
    return static_cast<float>(inside) / static_cast<float>(o_.samples * o_.samples * o_.samples);
  }

  /// Share of a cell that lies deeper than the wall, its depth taken as linear across it.
  float behind_wall(const Vec3& middle) const {
    const Nearest& surface = sides_ ? *sides_ : surface_;
    const Closest near = surface.closest(middle, o_.wall_m + o_.cell_m);
    if (near.triangle < 0) return 1.0F;
    const double depth = near.distance_m / o_.cell_m;
    const Vec3 inwards =
        depth > 1e-6 ? Vec3((middle - near.point_m) / near.distance_m) : Vec3(-surface.normal(near.triangle));
    return static_cast<float>(cut_share(inwards, o_.wall_m / o_.cell_m - depth));
  }

  void bore(Voxels& v, const Bore& vent) const {
    const Vec3 along = vent.to_m - vent.from_m;
    const double length_sq = along.squaredNorm();
    if (length_sq == 0.0 || vent.radius_m <= 0.0) return;
    const auto is_in = [&](const Vec3& p) {
      const double t = (p - vent.from_m).dot(along) / length_sq;
      return t >= 0.0 && t <= 1.0 && (p - vent.from_m - t * along).squaredNorm() < vent.radius_m * vent.radius_m;
    };
    const Vec3 reach = Vec3::Constant(vent.radius_m);
    std::array<int, 3> from{}, to{};
    for (int d = 0; d < 3; ++d) {
      const double low = (vent.from_m.cwiseMin(vent.to_m) - reach)[d],
                   high = (vent.from_m.cwiseMax(vent.to_m) + reach)[d];
      const auto place = [&](double x) {
        return static_cast<int>(std::clamp(std::floor((x - v.low_m[d]) / v.cell_m), -1.0, v.cells[at(d)] + 0.0));
      };
      from[at(d)] = std::max(0, place(low));
      to[at(d)] = std::min(v.cells[at(d)] - 1, place(high));
    }
    for (int k = from[2]; k <= to[2]; ++k)
      for (int j = from[1]; j <= to[1]; ++j)
        for (int i = from[0]; i <= to[0]; ++i) {
          int air = 0;
          for_samples(v.middle_m(i, j, k), [&](const Vec3& p) { air += is_in(p) ? 1 : 0; });
          const float left = 1.0F - static_cast<float>(air) / static_cast<float>(o_.samples * o_.samples * o_.samples);
          v.shell[v.index(i, j, k)] *= left;
          v.fill[v.index(i, j, k)] *= left;
        }
  }

  template <class Ask>
  void for_samples(const Vec3& middle, const Ask& ask) const {
    const int n = o_.samples;
    for (int c = 0; c < n; ++c)
      for (int b = 0; b < n; ++b)
        for (int a = 0; a < n; ++a)
          ask(middle + o_.cell_m * Vec3((a + 0.5) / n - 0.5, (b + 0.5) / n - 0.5, (c + 0.5) / n - 0.5));
  }

  const Nearest& surface_;
  const VoxelOptions& o_;
  CellBox box_;
  Winding winding_;
  std::array<LineCover, 3> along_;
  std::optional<Nearest> sides_;  ///< the surface without its base, if the base is open
};

double sum_m3(const std::vector<float>& shares, double cell_m) {
  double sum = 0.0;
  for (const float s : shares) sum += static_cast<double>(s);
  return sum * cell_m * cell_m * cell_m;
}

}  // namespace

double Voxels::shell_m3() const { return sum_m3(shell, cell_m); }
double Voxels::fill_m3() const { return sum_m3(fill, cell_m); }

double cell_through_wall_m(double wall_m, int cells) {
  ensure(wall_m > 0.0 && cells > 0, "a wall and its cells are positive");
  return wall_m / cells;
}

Voxels voxels_of(const Nearest& surface, const VoxelOptions& options) {
  ensure(options.cell_m > 0.0 && options.samples > 0, "cells have a size and samples");
  if (options.inside != Inside::kSolid && options.wall_m < options.cell_m * (1.0 - 1e-9))
    throw refusal("a wall of " + std::to_string(options.wall_m / options.cell_m) + " cells", "at least one cell",
                  "take smaller cells, three through the wall for stresses");
  Voxels v = Cutter(surface, options).run();
  if (v.shell_m3() + v.fill_m3() <= 0.0)
    throw refusal("no solid cell", "a solid", "the surface may be inside out, or all of it below the floor");
  return v;
}

}  // namespace pellicle::mesh
