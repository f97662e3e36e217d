// Pulled in this direction, what of the part is held back: too little draft, or mould in its way?
#include "solver/checks/pull.h"

#include "mesh/check.h"
#include "mesh/visibility.h"
#include "solver/checks/directions.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

namespace pellicle::checks {
namespace {

using mesh::Vec3;
using std::numbers::pi;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

constexpr std::size_t kMostLooks = 5000;  // each takes up to 800 rays
/// Level directions in which walls are looked for, and the share that must find one to call it a cavity.
constexpr int kAround = 24;
constexpr double kEnclosed = 0.75;

constexpr double kWall = pi / 3.0;  // of draft: what lies flatter is no wall

constexpr int kLattice = 500;
constexpr std::size_t kSamples = 400, kRefined = 5;
constexpr double kGain = 1e-6;
constexpr double kHardlyAny = 0.01;  // of the area may have less than the draft of a direction

Vec3 middle_of(const forming::FormingResult& f, int e) {
  const mesh::Triangle& t = f.triangles[at(e)];
  return (f.points_m[at(t[0])] + f.points_m[at(t[1])] + f.points_m[at(t[2])]) / 3.0;
}

bool is_in_part(const Formed& f, int e) {
  const mesh::Triangle& t = f.sheet.triangles[at(e)];
  return f.in_part[at(t[0])] && f.in_part[at(t[1])] && f.in_part[at(t[2])];
}

double size_m(const mesh::Nearest& surface) {
  Eigen::AlignedBox3d box;
  for (const Vec3& p : surface.mesh().points_m) box.extend(p);
  return box.diagonal().norm();
}

/// A place to look from that is surely outside: a chord of the sheet cuts through convex mould.
struct Lookout {
  Vec3 place_m;
  int mould_triangle;
};
Lookout lookout(const mesh::Nearest& surface, const Vec3& p, double off_m) {
  const mesh::Closest c = surface.closest(p);
  const Vec3 outward = surface.pseudonormal(c);
  const bool is_clear = c.distance_m > off_m && outward.dot(p - c.point_m) > 0.0;
  return {is_clear ? p : Vec3(c.point_m + off_m * outward), c.triangle};
}

/// Do walls stand round it, on the side it has to go to?
bool is_enclosed(const mesh::Nearest& surface, const Vec3& from, const Vec3& pull, const Vec3& along, double far_m) {
  const Vec3 across = pull.cross(along);
  int asked = 0, walls = 0;
  for (int k = 0; k < kAround; ++k) {
    const double angle = pi * ((k + 0.5) / kAround - 0.5);
    ++asked;
    if (surface.ray(from, std::cos(angle) * along + std::sin(angle) * across, far_m)) ++walls;
  }
  return walls > kEnclosed * asked;
}

/// Half of what the ring round this place spans, across the way out. In a cavity to the wall that faces it, else
/// through the mould to its other side, on which the ring lies as well.
double half_width_m(const mesh::Nearest& surface, const Vec3& from, const Vec3& along, bool in_cavity, double far_m,
                    double off_m) {
  if (in_cavity) {
    const auto facing = surface.ray(from, along, far_m);
    return 0.5 * (facing ? facing->t_m : far_m);
  }
  const auto in = surface.ray(from, -along, far_m);
  if (!in) return 0.5 * far_m;
  const Vec3 inside = from - (in->t_m + off_m) * along;
  const auto out = surface.ray(inside, -along, far_m);
  return in->t_m + 0.5 * (out ? off_m + out->t_m : far_m);
}

Trapped look_out(const mesh::Nearest& surface, int e, const Lookout& from, const Vec3& pull, double far_m,
                 double off_m) {
  const mesh::WayOut way = mesh::way_out(surface, from.place_m, pull, far_m, 1e-2 * off_m);
  Trapped t{e, from.place_m, way.length_m, 0.5 * far_m, false, from.mould_triangle};
  t.hooked = way.length_m >= far_m;
  if (t.hooked) return t;
  t.in_cavity = is_enclosed(surface, from.place_m, pull, way.along, far_m);
  t.half_width_m = half_width_m(surface, from.place_m, way.along, t.in_cavity, far_m, off_m);
  return t;
}

}  // namespace

double draft_rad(const Vec3& normal, const Vec3& pull) { return std::asin(std::clamp(normal.dot(pull), -1.0, 1.0)); }

std::vector<Wall> steep_walls(const Formed& f, const std::vector<Lying>& lying, const Vec3& pull,
                              double less_than_rad) {
  if (!f.mould.surface()) return {};
  const mesh::Nearest& surface = *f.mould.surface();
  std::vector<int> wall_of(surface.mesh().triangles.size(), -1);  // of each triangle of the mould
  std::vector<char> is_steep(wall_of.size(), 0);
  for (const Lying& l : lying)
    if (draft_rad(l.mould_normal, pull) < less_than_rad) is_steep[at(l.mould_triangle)] = 1;
  int count = 0;
  for (int seed = 0; seed < static_cast<int>(wall_of.size()); ++seed) {
    if (!is_steep[at(seed)] || wall_of[at(seed)] >= 0) continue;
    std::vector<int> wall{seed};
    wall_of[at(seed)] = count;
    for (std::size_t next = 0; next < wall.size(); ++next)
      for (int k = 0; k < 3; ++k) {
        const int other = surface.across(wall[next], k);
        if (other < 0 || !is_steep[at(other)] || wall_of[at(other)] >= 0) continue;
        wall_of[at(other)] = count;
        wall.push_back(other);
      }
    ++count;
  }
  std::vector<Wall> walls(at(count), Wall{less_than_rad, Vec3::Zero()});
  std::vector<Eigen::AlignedBox1d> span(at(count));
  for (const Lying& l : lying) {
    const int w = wall_of[at(l.mould_triangle)];
    if (w < 0) continue;
    Wall& wall = walls[at(w)];
    const double draft = draft_rad(l.mould_normal, pull);
    if (draft < wall.least_draft_rad) wall.least_draft_rad = draft, wall.place_m = l.place_m;
    wall.area_m2 += l.area_m2;
    for (const int node : f.sheet.triangles[at(l.triangle)])
      span[at(w)].extend(Eigen::Matrix<double, 1, 1>(f.sheet.points_m[at(node)].dot(pull)));
  }
  for (std::size_t w = 0; w < walls.size(); ++w) walls[w].height_m = span[w].sizes()(0);
  std::stable_sort(walls.begin(), walls.end(),
                   [](const Wall& a, const Wall& b) { return a.least_draft_rad < b.least_draft_rad; });
  return walls;
}

std::vector<Trapped> trapped(const Formed& f, const Vec3& pull) {
  if (!f.mould.surface()) return {};
  const mesh::Nearest& surface = *f.mould.surface();
  const double off_m = kOffMould * f.sheet.bought_thickness_m, far_m = size_m(surface);
  const int n = static_cast<int>(f.sheet.triangles.size());
  std::vector<std::optional<Lookout>> held(f.sheet.triangles.size());
#pragma omp parallel for schedule(dynamic, 64)
  for (int e = 0; e < n; ++e) {
    if (!is_in_part(f, e)) continue;
    const Lookout from = lookout(surface, middle_of(f.sheet, e), off_m);
    if (surface.ray(from.place_m, pull)) held[at(e)] = from;
  }
  std::vector<int> all;
  for (int e = 0; e < n; ++e)
    if (held[at(e)]) all.push_back(e);
  std::vector<Trapped> found(all.size());
  const std::size_t stride = all.size() / kMostLooks + 1;
#pragma omp parallel for schedule(dynamic, 1)
  for (std::size_t k = 0; k < all.size(); k += stride) {
    found[k] = look_out(surface, all[k], *held[at(all[k])], pull, far_m, off_m);
    for (std::size_t j = k + 1; j < std::min(k + stride, all.size()); ++j) {
      found[j] = found[k];
      found[j].triangle = all[j];
      found[j].place_m = held[at(all[j])]->place_m;
      found[j].mould_triangle = held[at(all[j])]->mould_triangle;
    }
  }
  return found;
}

double cavity_share(const Formed& f, const std::vector<Lying>& lying, const Vec3& pull) {
  if (!f.mould.surface()) return 0.0;
  std::vector<Lying> walls = lying;
  std::erase_if(walls, [&](const Lying& l) { return std::fabs(draft_rad(l.mould_normal, pull)) > kWall; });
  const mesh::Nearest& surface = *f.mould.surface();
  const double far_m = size_m(surface), off_m = kOffMould * f.sheet.bought_thickness_m;
  double area = 0.0, enclosed = 0.0;
  for (const Lying& l : sampled_by_area(walls, kSamples)) {
    const Vec3 out = (l.mould_normal - l.mould_normal.dot(pull) * pull).normalized();
    area += l.area_m2;
    if (is_enclosed(surface, l.place_m + off_m * l.mould_normal, pull, out, far_m)) enclosed += l.area_m2;
  }
  return area > 0.0 ? enclosed / area : 0.0;
}

double PullMeasure::score() const { return 10.0 * trapped_share - std::sin(draft_rad); }

PullMeasure measure_pull(const Formed& f, const std::vector<Lying>& lying, const Vec3& pull) {
  ensure(!lying.empty(), "a pull is measured on a part that lies on the mould");
  const mesh::Nearest& surface = *f.mould.surface();
  const double off_m = kOffMould * f.sheet.bought_thickness_m;
  double area = 0.0, held = 0.0;
  std::vector<std::pair<double, double>> draft_area;
  for (const Lying& l : lying) {
    area += l.area_m2;
    draft_area.emplace_back(draft_rad(l.mould_normal, pull), l.area_m2);
    if (surface.ray(l.place_m + off_m * l.mould_normal, pull)) held += l.area_m2;
  }
  std::sort(draft_area.begin(), draft_area.end());
  double below = 0.0, draft = 0.0;
  for (const auto& [rad, own] : draft_area) {
    draft = rad;
    if ((below += own) > kHardlyAny * area) break;
  }
  return {pull, held / area, draft};
}

PullMeasure best_pull(const Formed& f, const std::vector<Lying>& lying) {
  const PullMeasure straight = measure_pull(f, lying, Vec3::UnitZ());
  const std::vector<Lying> some = sampled_by_area(lying, kSamples);
  // Below the platform's plane there is nowhere to go.
  const auto score = [&](const Vec3& d) { return d.z() > 0.0 ? measure_pull(f, some, d).score() : 100.0; };
  const std::vector<Vec3> tried = half_sphere(kLattice);
  std::vector<double> scores(tried.size());
#pragma omp parallel for schedule(dynamic, 8)
  for (std::size_t i = 0; i < tried.size(); ++i) scores[i] = score(tried[i]);
  std::vector<std::size_t> order(tried.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return scores[a] < scores[b]; });
  PullMeasure best = straight;
  const auto keep_better = [&](const Vec3& d) {
    const PullMeasure other = measure_pull(f, lying, d);
    if (other.score() < best.score() - kGain) best = other;
  };
  keep_better(refined(Vec3(Vec3::UnitZ()), kGain, score));
  for (std::size_t i = 0; i < kRefined; ++i) keep_better(refined(tried[order[i]], kGain, score));
  return best;
}

}  // namespace pellicle::checks
