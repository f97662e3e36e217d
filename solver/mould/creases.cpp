// Where does the mould turn, and how sharply?
#include "solver/mould/creases.h"

#include "solver/mould/mean_turn.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <optional>
#include <tuple>

namespace pellicle::mould {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// An edge that stands out over its facets by less than this share of the sag allowed between places is roughness.
constexpr double kRough = 0.5;

/// How the surface turns over one edge.
struct Turn {
  double angle_rad;  ///< > 0 convex
  double radius_m;
  double stands_out_m;  ///< over the chord of its two facets
};

double height_over(const mesh::TriangleMesh& m, int triangle, const Vec3& a, const Vec3& along) {
  double highest = 0.0;
  for (const int p : m.triangles[at(triangle)])
    highest = std::max(highest, (m.points_m[at(p)] - a).cross(along).norm());
  return highest;
}

Turn turn_over(const mesh::Nearest& s, int triangle, int edge, int other) {
  const mesh::Triangle& t = s.mesh().triangles[at(triangle)];
  const Vec3 &a = s.mesh().points_m[at(t[at(edge)])], &b = s.mesh().points_m[at(t[at((edge + 1) % 3)])];
  const double length = (b - a).norm();
  if (!(length > 0.0)) return {0.0, std::numeric_limits<double>::infinity(), 0.0};
  const Vec3 along = (b - a) / length, &n = s.normal(triangle), &m = s.normal(other);
  const double angle = std::atan2(n.cross(m).dot(along), n.dot(m));
  const double w = 0.5 * (height_over(s.mesh(), triangle, a, along) + height_over(s.mesh(), other, a, along));
  const double stands_out = w * std::sin(0.5 * std::fabs(angle));
  if (std::fabs(angle) >= Creases::kSharp_rad) return {angle, 0.0, stands_out};
  return {angle, w / (2.0 * std::tan(0.5 * std::fabs(angle))), stands_out};
}

/// What is known of one point of the surface while its edges are gone through.
struct Corner {
  Vec3 outward = Vec3::Zero();
  double convex_m = std::numeric_limits<double>::infinity();  ///< smallest radius that stands out
  double concave_m = std::numeric_limits<double>::infinity();
};

/// Keeps the sharpest of the places that share a cube and a sign; the first of equals. Cubes are of merge_m, and
/// sqrt(2), 2, ... times as large for places that may stand farther apart; places of different sizes do not thin out
/// each other.
void thin_out(std::vector<Crease>& places, const Vec3& low, const CreaseScale& scale) {
  using Cube = std::tuple<bool, int, std::int64_t, std::int64_t, std::int64_t>;
  const int largest = std::max(0, static_cast<int>(std::floor(2.0 * std::log2(scale.spacing_m / scale.merge_m))));
  std::vector<std::tuple<Cube, double, int>> order;
  order.reserve(places.size());
  for (int i = 0; i < static_cast<int>(places.size()); ++i) {
    const Crease& place = places[at(i)];
    const double apart = std::sqrt(2.0 * place.radius_m * scale.sag_m) / scale.merge_m;
    const int level = apart > 1.0 ? std::min(largest, static_cast<int>(std::floor(2.0 * std::log2(apart)))) : 0;
    const Vec3 p = (place.point_m - low) / (scale.merge_m * std::exp2(0.5 * level));
    order.push_back({{place.is_convex, level, static_cast<std::int64_t>(p.x()), static_cast<std::int64_t>(p.y()),
                      static_cast<std::int64_t>(p.z())},
                     place.radius_m,
                     i});
  }
  std::sort(order.begin(), order.end());
  std::vector<int> kept;
  for (std::size_t k = 0; k < order.size(); ++k)
    if (k == 0 || std::get<0>(order[k]) != std::get<0>(order[k - 1])) kept.push_back(std::get<2>(order[k]));
  std::sort(kept.begin(), kept.end());
  std::vector<Crease> thin;
  thin.reserve(kept.size());
  for (const int i : kept) thin.push_back(places[at(i)]);
  places = std::move(thin);
}

}  // namespace

Creases::Creases(const mesh::Nearest& surface, const CreaseScale& scale) {
  const mesh::TriangleMesh& m = surface.mesh();
  std::vector<Corner> corners(m.points_m.size());
  std::optional<MeanTurn> mean;  // made when the first rough place is met
  for (int t = 0; t < static_cast<int>(m.triangles.size()); ++t)
    for (int k = 0; k < 3; ++k) {
      const int a = m.triangles[at(t)][at(k)], b = m.triangles[at(t)][at((k + 1) % 3)];
      const int c = m.triangles[at(t)][at((k + 2) % 3)];
      const Vec3 u = m.points_m[at(b)] - m.points_m[at(a)], v = m.points_m[at(c)] - m.points_m[at(a)];
      const double size = u.norm() * v.norm();
      if (size > 0.0) corners[at(a)].outward += std::acos(std::clamp(u.dot(v) / size, -1.0, 1.0)) * surface.normal(t);
      const int other = surface.across(t, k);
      if (other <= t) continue;  // each edge once; an open edge is nothing to lie on
      Turn turn = turn_over(surface, t, k, other);
      if (turn.radius_m > scale.largest_radius_m) continue;
      const bool convex = turn.angle_rad > 0.0;
      // Roughness: what stands out by so little is felt only as part of a longer turn.
      if (turn.radius_m > 0.0 && turn.stands_out_m < kRough * scale.sag_m) {
        if (!mean) mean.emplace(surface, std::max(2.0 * scale.merge_m, scale.spacing_m));
        turn.radius_m = std::max(turn.radius_m, std::min(mean->radius_m(t, convex), mean->radius_m(other, convex)));
        if (turn.radius_m > scale.largest_radius_m) continue;
      }
      for (const int end : {a, b}) {
        double& radius = convex ? corners[at(end)].convex_m : corners[at(end)].concave_m;
        radius = std::min(radius, turn.radius_m);
      }
      const Vec3 outward = (surface.normal(t) + surface.normal(other)).normalized();
      const int pieces = static_cast<int>(std::ceil(u.norm() / scale.spacing_m));
      for (int piece = 1; piece < pieces; ++piece)
        places_.push_back(
            {m.points_m[at(a)] + u * (static_cast<double>(piece) / pieces), outward, turn.radius_m, convex});
    }
  for (std::size_t i = 0; i < corners.size(); ++i) {
    const Corner& c = corners[i];
    const Vec3 outward = c.outward.norm() > 0.0 ? Vec3(c.outward.normalized()) : Vec3(Vec3::Zero());
    if (c.convex_m <= scale.largest_radius_m) places_.push_back({m.points_m[i], outward, c.convex_m, true});
    if (c.concave_m <= scale.largest_radius_m) places_.push_back({m.points_m[i], outward, c.concave_m, false});
  }
  if (places_.empty()) return;
  Vec3 high = places_[0].point_m;
  low_m_ = high;
  for (const Crease& p : places_) low_m_ = low_m_.cwiseMin(p.point_m), high = high.cwiseMax(p.point_m);
  thin_out(places_, low_m_, scale);
  // Cells of about two spacings, but no more than there are places for.
  constexpr double kMostCells = 4e6;
  const Vec3 size = high - low_m_;
  cell_m_ = 2.0 * scale.spacing_m;
  const auto count = [&](int k) { return std::floor(size[k] / cell_m_) + 1.0; };
  while (count(0) * count(1) * count(2) > kMostCells) cell_m_ *= 1.25;
  for (int k = 0; k < 3; ++k) cells_[at(k)] = static_cast<int>(count(k));
  sort_into_cells();
}

Creases Creases::chosen(const std::vector<char>& wanted) const {
  Creases some(*this);
  std::size_t k = 0;
  std::erase_if(some.places_, [&](const Crease&) { return wanted[k++] == 0; });
  some.sort_into_cells();
  return some;
}

int Creases::cell(int axis, double x_m) const {
  const double c = std::max(0.0, (x_m - low_m_[axis]) / cell_m_);  // 0 for what is not a number
  return static_cast<int>(std::min(c, cells_[at(axis)] - 1.0));
}

void Creases::sort_into_cells() {
  const auto number = [&](const Crease& p) {
    return at(cell(0, p.point_m.x()) + cells_[0] * (cell(1, p.point_m.y()) + cells_[1] * cell(2, p.point_m.z())));
  };
  first_.assign(at(cells_[0]) * at(cells_[1]) * at(cells_[2]) + 1, 0);
  for (const Crease& p : places_) ++first_[number(p) + 1];
  for (std::size_t c = 1; c < first_.size(); ++c) first_[c] += first_[c - 1];
  std::vector<int> next(first_.begin(), first_.end() - 1);
  std::vector<Crease> sorted(places_.size());
  for (const Crease& p : places_) sorted[at(next[number(p)]++)] = p;
  places_ = std::move(sorted);
  for (std::size_t c = 0; c + 1 < first_.size(); ++c)
    std::stable_sort(places_.begin() + first_[c], places_.begin() + first_[c + 1],
                     [](const Crease& a, const Crease& b) { return a.radius_m < b.radius_m; });
  sharpest_m_.assign(first_.size() - 1, std::numeric_limits<double>::infinity());
  for (std::size_t c = 0; c + 1 < first_.size(); ++c)
    if (first_[c] < first_[c + 1]) sharpest_m_[c] = places_[at(first_[c])].radius_m;
}

}  // namespace pellicle::mould
