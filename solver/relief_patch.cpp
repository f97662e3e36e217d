// Where on the mould does a relief lie, and what does the mould's own surface show there?
#include "solver/relief_patch.h"

#include "mesh/check.h"
#include "mesh/tops.h"
#include "solver/imprint/morphology.h"

#include <fmt/core.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>
#include <vector>

namespace pellicle {
namespace {

using imprint::Field;
using imprint::PatchFrame;
using imprint::ReliefSpec;
using mesh::Vec2;
using mesh::Vec3;

constexpr double kWidestThicknesses = 3.0;  // wider than so many thicknesses is shape, not relief
constexpr double kMostCells = 16e6;         // as for the other sources (case_reference.md)
constexpr int kPlaces = 15;                 // a side, to find a plane

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Cells of a patch and of a margin around it.
struct Raster {
  int nx, ny, margin;
  double spacing_m;

  int outer_nx() const { return nx + 2 * margin; }
  int outer_ny() const { return ny + 2 * margin; }
  std::size_t cell(int i, int j) const { return at(j) * at(outer_nx()) + at(i); }
  /// From the middle of the patch.
  double x_m(int i) const { return (i - margin + 0.5 - 0.5 * nx) * spacing_m; }
  double y_m(int j) const { return (j - margin + 0.5 - 0.5 * ny) * spacing_m; }
  Vec2 size_m() const { return spacing_m * Vec2(nx, ny); }
};

/// The mould seen straight from above, in the axes of a patch: origin in its middle.
class FromAbove {
 public:
  FromAbove(const mould::RigidMould& mould, const ReliefSpec& spec)
      : mould_(mould), middle_m_(spec.at_m), along_x_(std::cos(spec.angle_rad), std::sin(spec.angle_rad)) {
    if (!mould.surface()) return;
    for (const Vec3& p : mould.surface()->mesh().points_m) above_m_ = std::max(above_m_, p.z());
    above_m_ += spec.grid_m;
  }

  Vec2 place(double x, double y) const { return middle_m_ + x * along_x_ + y * Vec2(-along_x_.y(), along_x_.x()); }
  Vec3 along_x() const { return {along_x_.x(), along_x_.y(), 0.0}; }
  /// NaN beside the mould. Its surface counts where it has one, else the platform, else the plane z = 0.
  double height_m(double x, double y) const {
    if (!mould_.surface()) return 0.0;
    const Vec2 p = place(x, y);
    const auto hit = mould_.surface()->ray({p.x(), p.y(), above_m_}, -Vec3::UnitZ());
    return hit ? above_m_ - hit->t_m : std::numeric_limits<double>::quiet_NaN();
  }
  /// Of all cells, x fastest.
  std::vector<double> heights_m(const Raster& raster) const {
    const int nx = raster.outer_nx(), ny = raster.outer_ny();
    if (!mould_.surface()) return std::vector<double>(at(nx) * at(ny), 0.0);
    return mesh::tops_m(mould_.surface()->mesh(),
                        {place(raster.x_m(0), raster.y_m(0)), along_x_, raster.spacing_m, nx, ny});
  }

 private:
  const mould::RigidMould& mould_;
  Vec2 middle_m_, along_x_;
  double above_m_ = -std::numeric_limits<double>::infinity();
};

[[noreturn]] void refuse_overhang(const ReliefSpec& spec, const Vec2& size_m, double share, const Vec2& beside_m) {
  throw Error({Fault::Kind::kGeometry, fmt::format("relief '{}', at", spec.name),
               fmt::format("a patch of {:.4g} x {:.4g} mm, {:.0f} % of it beside the mould, as at ({:.2f}, {:.2f}) mm",
                           1e3 * size_m.x(), 1e3 * size_m.y(), std::max(1.0, 100.0 * share), 1e3 * beside_m.x(),
                           1e3 * beside_m.y()),
               "a patch that lies on the mould, seen from above", "move it (at, angle) or make it smaller (size)"});
}

/// z = c0 + c1 x + c2 y by least squares.
Eigen::Vector3d plane_through(const std::vector<Vec3>& points) {
  Eigen::Matrix3d sums = Eigen::Matrix3d::Zero();
  Eigen::Vector3d right = Eigen::Vector3d::Zero();
  for (const Vec3& p : points) {
    const Eigen::Vector3d row{1.0, p.x(), p.y()};
    sums += row * row.transpose();
    right += p.z() * row;
  }
  return sums.ldlt().solve(right);
}

/// The plane under the patch; throws where a place of the grid is beside the mould.
Eigen::Vector3d plane_under(const FromAbove& seen, const ReliefSpec& spec, const Vec2& size_m) {
  std::vector<Vec3> places;
  int beside = 0;
  Vec2 first = Vec2::Zero();
  for (int j = 0; j < kPlaces; ++j)
    for (int i = 0; i < kPlaces; ++i) {
      const double x = (static_cast<double>(i) / (kPlaces - 1) - 0.5) * size_m.x();
      const double y = (static_cast<double>(j) / (kPlaces - 1) - 0.5) * size_m.y();
      const double z = seen.height_m(x, y);
      if (std::isnan(z) && beside++ == 0) first = seen.place(x, y);
      places.emplace_back(x, y, z);
    }
  if (beside > 0) refuse_overhang(spec, size_m, static_cast<double>(beside) / (kPlaces * kPlaces), first);
  return plane_through(places);
}

PatchFrame frame_of(const Vec3& middle_m, const Vec3& along_x, const Vec3& normal, const Vec2& size_m) {
  PatchFrame frame;
  frame.normal = normal;
  frame.along_x = (along_x - along_x.dot(normal) * normal).normalized();
  frame.along_y = normal.cross(frame.along_x);
  frame.width_m = size_m.x();
  frame.length_m = size_m.y();
  frame.corner_m = middle_m - 0.5 * size_m.x() * frame.along_x - 0.5 * size_m.y() * frame.along_y;
  return frame;
}

Raster raster_of(const ReliefSpec& spec, double thickness_m) {
  const double s = spec.grid_m;
  const auto cells = [&](double length_m) { return std::max(4.0, std::ceil(length_m / s - 1e-9)); };
  const double nx = cells(spec.size_m->x()), ny = cells(spec.size_m->y());
  const double margin = std::ceil(0.5 * kWidestThicknesses * thickness_m / s);
  if ((nx + 2.0 * margin) * (ny + 2.0 * margin) > kMostCells)
    throw Error(
        {Fault::Kind::kCase, fmt::format("relief '{}', grid", spec.name),
         fmt::format("{:.3g} cells, and {} sheet thicknesses more on each side", nx * ny, 0.5 * kWidestThicknesses),
         fmt::format("at most {:.3g} in all", kMostCells), "use a coarser grid or a smaller size"});
  return {static_cast<int>(nx), static_cast<int>(ny), static_cast<int>(margin), s};
}

/// Cells beside the mould are NaN.
Field look_down(const FromAbove& seen, const Raster& raster) {
  return {raster.outer_nx(), raster.outer_ny(), seen.heights_m(raster)};
}

std::vector<char> cells_on_mould(const Field& field) {
  std::vector<char> is_on(field.at.size());
  for (std::size_t c = 0; c < is_on.size(); ++c) is_on[c] = !std::isnan(field.at[c]);
  return is_on;
}

void refuse_cells_beside(const FromAbove& seen, const ReliefSpec& spec, const Raster& raster,
                         const std::vector<char>& is_on, bool may_overhang) {
  int beside = 0;
  Vec2 first = Vec2::Zero();
  for (int j = raster.margin; j < raster.margin + raster.ny; ++j)
    for (int i = raster.margin; i < raster.margin + raster.nx; ++i)
      if (!is_on[raster.cell(i, j)] && beside++ == 0) first = seen.place(raster.x_m(i), raster.y_m(j));
  const int cells = raster.nx * raster.ny;
  if (beside == cells || (beside > 0 && !may_overhang))
    refuse_overhang(spec, raster.size_m(), static_cast<double>(beside) / cells, first);
}

double median(std::vector<double> values) {
  if (values.empty()) return 0.0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

/// z = c0 + c1 x + c2 y of the land: the middle one of the slopes between neighbours, so that neither strokes nor steps
/// turn it.
Eigen::Vector3d mean_tilt(const Field& field, const Raster& raster, const std::vector<char>& is_on) {
  std::vector<double> rise_x, rise_y, rest;
  const int m = raster.margin;
  const auto each = [&](const auto& what) {
    for (int j = m; j < m + raster.ny; ++j)
      for (int i = m; i < m + raster.nx; ++i)
        if (is_on[raster.cell(i, j)]) what(i, j);
  };
  each([&](int i, int j) {
    const double z = field(i, j);
    if (i + 1 < m + raster.nx && is_on[raster.cell(i + 1, j)]) rise_x.push_back(field(i + 1, j) - z);
    if (j + 1 < m + raster.ny && is_on[raster.cell(i, j + 1)]) rise_y.push_back(field(i, j + 1) - z);
  });
  const double x = median(std::move(rise_x)) / raster.spacing_m, y = median(std::move(rise_y)) / raster.spacing_m;
  each([&](int i, int j) { rest.push_back(field(i, j) - x * raster.x_m(i) - y * raster.y_m(j)); });
  return {median(std::move(rest)), x, y};
}

double volume_between(const Field& a, const Field& b) {
  double sum = 0.0;
  for (std::size_t c = 0; c < a.at.size(); ++c) sum += std::fabs(a.at[c] - b.at[c]);
  return sum;
}

/// Sum of the steps between neighbours: how much wall there is.
double steps_in(const Field& field) {
  double sum = 0.0;
  for (int j = 0; j < field.ny; ++j)
    for (int i = 0; i < field.nx; ++i) {
      if (i + 1 < field.nx) sum += std::fabs(field(i + 1, j) - field(i, j));
      if (j + 1 < field.ny) sum += std::fabs(field(i, j + 1) - field(i, j));
    }
  return sum;
}

/// Without what is narrower than two radii, raised or sunk. Taken in the wrong order, letters close together become one
/// block, whose rim stays as wall in the smooth shape; where neither order leaves more wall, strokes are the lesser
/// part.
Field smooth_shape(const Field& field, int radius) {
  constexpr double kAlike = 0.02;  // of the walls there are
  Field raised_first = closed(opened(field, radius), radius);
  Field sunk_first = opened(closed(field, radius), radius);
  const double more_wall = steps_in(raised_first) - steps_in(sunk_first);
  const bool alike = std::fabs(more_wall) <= kAlike * steps_in(field);
  const double more = alike ? volume_between(field, raised_first) - volume_between(field, sunk_first) : more_wall;
  return more <= 0.0 ? raised_first : sunk_first;
}

}  // namespace

PatchFrame frame_on_mould(const mould::RigidMould& mould, const ReliefSpec& spec, const Vec2& size_m) {
  const FromAbove seen(mould, spec);
  const Eigen::Vector3d plane = plane_under(seen, spec, size_m);
  const Vec3 x = seen.along_x(), y = Vec3::UnitZ().cross(x);
  const Vec3 normal = (Vec3::UnitZ() - plane[1] * x - plane[2] * y).normalized();
  return frame_of({spec.at_m.x(), spec.at_m.y(), plane[0]}, x, normal, size_m);
}

void check_on_mould(const mould::RigidMould& mould, const ReliefSpec& spec, double thickness_m) {
  const Raster raster = raster_of(spec, thickness_m);
  const FromAbove seen(mould, spec);
  refuse_cells_beside(seen, spec, raster, cells_on_mould(look_down(seen, raster)), false);
}

PlacedRelief relief_of_mould(const mould::RigidMould& mould, const ReliefSpec& spec, double thickness_m,
                             bool may_overhang) {
  const Raster raster = raster_of(spec, thickness_m);
  const FromAbove seen(mould, spec);
  Field field = look_down(seen, raster);
  const std::vector<char> is_on = cells_on_mould(field);
  refuse_cells_beside(seen, spec, raster, is_on, may_overhang);

  const Eigen::Vector3d plane = mean_tilt(field, raster, is_on);
  const auto plane_m = [&](int i, int j) { return plane[0] + plane[1] * raster.x_m(i) + plane[2] * raster.y_m(j); };
  for (int j = 0; j < field.ny; ++j)
    for (int i = 0; i < field.nx; ++i) field.at[raster.cell(i, j)] -= plane_m(i, j);
  // What lies beside the mould is no shape of it: the nearest cell of the patch goes on there.
  const int m = raster.margin;
  for (int j = 0; j < field.ny; ++j)
    for (int i = 0; i < field.nx; ++i) {
      if (is_on[raster.cell(i, j)]) continue;
      const std::size_t near = raster.cell(std::clamp(i, m, m + raster.nx - 1), std::clamp(j, m, m + raster.ny - 1));
      field.at[raster.cell(i, j)] = is_on[near] ? field.at[near] : 0.0;
    }
  const Field smooth = smooth_shape(field, m);

  PlacedRelief placed;
  mesh::HeightMap map = mesh::flat_map(raster.nx, raster.ny, raster.spacing_m, spec.periodic), carrier = map;
  for (int j = 0; j < raster.ny; ++j)
    for (int i = 0; i < raster.nx; ++i) {
      const std::size_t c = raster.cell(i + m, j + m);
      if (is_on[c]) map.at(i, j) = field.at[c] - smooth.at[c];
      carrier.at(i, j) = smooth.at[c] + plane_m(i + m, j + m) - plane[0];
    }
  placed.frame = frame_of({spec.at_m.x(), spec.at_m.y(), plane[0]}, seen.along_x(), Vec3::UnitZ(), raster.size_m());
  placed.shape = std::move(map);
  placed.carrier = std::move(carrier);
  return placed;
}

}  // namespace pellicle
