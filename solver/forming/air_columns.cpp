// How much air is there between the sheet and what lies below?
#include "solver/forming/air_columns.h"

#include "mesh/check.h"
#include "mesh/side.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <utility>

namespace pellicle::forming {
namespace {

using mesh::Side;
using mesh::Vec2;
using mesh::Vec3;

bool is_bare(const mould::RigidMould& mould, const Vec2& p) {
  const auto z = mould.top_m(p.x(), p.y());
  return !z || (mould.has_platform() && *z <= 0.0);
}

/// Those drawn into the mould: one looks down them. A vent that only the case tells has mould at its place.
std::vector<PlacedVent> drawn_among(std::span<const PlacedVent> vents, const mould::RigidMould& mould) {
  std::vector<PlacedVent> drawn;
  for (const PlacedVent& v : vents)
    if (is_bare(mould, v.at_m)) drawn.push_back(v);
  return drawn;
}

/// The place itself, or, of one down a drawn vent, the nearest beside it.
Vec2 beside_vents(const mould::RigidMould& mould, const Vec2& p, const std::vector<PlacedVent>& drawn) {
  for (const PlacedVent& v : drawn)
    if ((p - v.at_m).norm() < 1.1 * air::reach_m(v.hole))
      if (const auto off = beside_hole_m(mould, p, v.hole.diameter_m)) return *off;
  return p;
}

}  // namespace

std::optional<Vec2> beside_hole_m(const mould::RigidMould& mould, const Vec2& p, double width_m) {
  constexpr int kAngles = 8, kSteps = 12;
  constexpr double kFarthest = 1.2;  // widths: more than one, also where a direction is off square by half an angle
  if (!is_bare(mould, p)) return p;
  std::optional<Vec2> nearest;
  int fewest = 2 * kSteps + 1;
  for (int a = 0; a < kAngles; ++a) {
    const double angle = std::numbers::pi * a / kAngles;
    const Vec2 step = kFarthest * width_m / kSteps * Vec2(std::cos(angle), std::sin(angle));
    const auto steps_to_mould = [&](double side) {
      int k = 1;
      while (k <= kSteps && is_bare(mould, p + side * k * step)) ++k;
      return k;
    };
    const int ahead = steps_to_mould(1.0), back = ahead <= kSteps ? steps_to_mould(-1.0) : kSteps + 1;
    if (back > kSteps || ahead + back >= fewest) continue;
    fewest = ahead + back;
    nearest = ahead <= back ? Vec2(p + ahead * step) : Vec2(p - back * step);
  }
  return nearest;
}

AirBelow& AirBelow::operator+=(const AirBelow& other) {
  volume_m3 += other.volume_m3;
  area_m2 += other.area_m2;
  platform = platform || other.platform;
  nothing = nothing || other.nothing;
  return *this;
}

AirColumns::AirColumns(const mould::RigidMould& mould, const Vec2& low_m, const Vec2& high_m, double spacing_m,
                       std::span<const PlacedVent> vents)
    : spacing_m_(spacing_m) {
  ensure(spacing_m > 0.0 && (high_m - low_m).minCoeff() >= 0.0, "air columns have a spacing and a place");
  // One more all round: the rim itself lies on the border.
  low_m_ = low_m - Vec2::Constant(0.5 * spacing_m);
  nx_ = static_cast<int>(std::ceil((high_m.x() - low_m.x()) / spacing_m)) + 2;
  ny_ = static_cast<int>(std::ceil((high_m.y() - low_m.y()) / spacing_m)) + 2;
  const auto columns = static_cast<std::size_t>(nx_) * static_cast<std::size_t>(ny_);
  floor_m_.assign(columns, 0.0);
  kind_.assign(columns, Floor::kNothing);
  const std::vector<PlacedVent> drawn = drawn_among(vents, mould);
#pragma omp parallel for schedule(static, 8)
  for (int j = 0; j < ny_; ++j)
    for (int i = 0; i < nx_; ++i) {
      int found = 0, on_platform = 0;
      double sum = 0.0;
      for (const double dx : {-0.25, 0.25})
        for (const double dy : {-0.25, 0.25})
          if (const Vec2 p = beside_vents(mould, low_m_ + spacing_m * Vec2(i + dx, j + dy), drawn);
              const auto z = mould.top_m(p.x(), p.y())) {
            ++found;
            sum += *z;
            on_platform += mould.has_platform() && *z <= 0.0;
          }
      if (found == 0) continue;
      const std::size_t k = static_cast<std::size_t>(j) * static_cast<std::size_t>(nx_) + static_cast<std::size_t>(i);
      floor_m_[k] = sum / found;
      kind_[k] = on_platform == found ? Floor::kPlatform : Floor::kMould;
    }
}

AirBelow AirColumns::under(const Vec3& a_m, const Vec3& b_m, const Vec3& c_m) const {
  const std::array<Vec2, 3> p{a_m.head<2>(), b_m.head<2>(), c_m.head<2>()};
  const double twice = (p[1].x() - p[0].x()) * (p[2].y() - p[0].y()) - (p[1].y() - p[0].y()) * (p[2].x() - p[0].x());
  if (twice == 0.0) return {};
  const double sign = twice > 0.0 ? 1.0 : -1.0;
  // Counter-clockwise; z belongs to the corner opposite the side.
  const std::array<Side, 3> side = twice > 0.0 ? std::array{Side(p[1], p[2]), Side(p[2], p[0]), Side(p[0], p[1])}
                                               : std::array{Side(p[2], p[1]), Side(p[0], p[2]), Side(p[1], p[0])};
  // Columns whose middles lie from x0 to x1, ends included: asked of the very numbers that are compared below.
  const auto columns = [&](double x0, double x1, double low, int count) {
    const auto near = [&](double x) {
      return std::clamp(static_cast<int>(std::floor((x - low) / spacing_m_)), 0, count - 1);
    };
    int first = near(x0), last = std::min(near(x1) + 1, count - 1);
    while (first <= last && low + first * spacing_m_ < x0) ++first;
    while (last >= first && low + last * spacing_m_ > x1) --last;
    return std::pair(first, last);
  };
  const auto [x0, x1] = std::minmax({p[0].x(), p[1].x(), p[2].x()});
  const auto [y0, y1] = std::minmax({p[0].y(), p[1].y(), p[2].y()});
  const auto [i0, i1] = columns(x0, x1, low_m_.x(), nx_);
  const auto [j0, j1] = columns(y0, y1, low_m_.y(), ny_);
  AirBelow sum;
  double heights_m = 0.0;
  int count = 0;
  for (int j = j0; j <= j1; ++j)
    for (int i = i0; i <= i1; ++i) {
      const Vec2 middle{low_m_.x() + i * spacing_m_, low_m_.y() + j * spacing_m_};
      std::array<double, 3> w{};
      bool inside = true;
      for (std::size_t k = 0; k < 3 && inside; ++k) {
        w[k] = side[k].left_of(middle);
        inside = w[k] > 0.0 || (w[k] == 0.0 && side[k].takes_ties);
      }
      if (!inside) continue;
      const std::size_t at = static_cast<std::size_t>(j) * static_cast<std::size_t>(nx_) + static_cast<std::size_t>(i);
      ++count;
      sum.platform = sum.platform || kind_[at] == Floor::kPlatform;
      sum.nothing = sum.nothing || kind_[at] == Floor::kNothing;
      if (kind_[at] != Floor::kNothing)
        heights_m += (w[0] * a_m.z() + w[1] * b_m.z() + w[2] * c_m.z()) / (w[0] + w[1] + w[2]) - floor_m_[at];
    }
  const double cell_m2 = sign * spacing_m_ * spacing_m_;
  sum.volume_m3 = cell_m2 * heights_m;
  sum.area_m2 = cell_m2 * count;
  return sum;
}

}  // namespace pellicle::forming
