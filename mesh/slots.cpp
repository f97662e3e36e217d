// Which narrow slots, and holes that do not stand upright, go right through a mould?
#include "mesh/slots.h"

#include <Eigen/Eigenvalues>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>

namespace pellicle::mesh {
namespace {

constexpr int kRays = 32;         ///< round a section
constexpr double kRound = 0.6;    ///< narrowest over widest: below it is a slot
constexpr double kReach = 6.0;    ///< of the largest width: half of the longest slot, the longest way to an end
constexpr double kFacing = 0.7;   ///< cosine between walls that face each other
constexpr double kLeast_z = 0.5;  ///< of the axis: 60 degrees off upright
constexpr double kEven = 0.67;    ///< a slot's width along it, over that in its middle; and the other way round
constexpr double kJump = 1.5;     ///< wider by that in one step: the hole has ended
constexpr double kSame = 1.01;    ///< what lies farther off than that times the wall is not the wall
constexpr double kStep = 0.025;   ///< between sections, of the largest width
constexpr double kLand = 1.1;     ///< the land is what is no wider than this times the narrowest
constexpr double kEnd = 1e-3;     ///< how well an end is known, of the step
constexpr int kCentrings = 4;

/// Directions of one hole: down along it, across its width, along its long side.
struct Axes {
  Vec3 down, across, along;
};
struct Section {
  Vec3 middle_m;
  double width_m, length_m;
};

class Probe {
 public:
  Probe(const Nearest& mould, double largest_m) : mould_(mould), largest_m_(largest_m) {}

  std::optional<ThroughHole> at(const Vec3& wall_m, const Vec3& n) const {
    const double off_m = 1e-4 * largest_m_;
    const auto hit = mould_.ray(wall_m + off_m * n, n, largest_m_);
    if (!hit || mould_.normal(hit->triangle).dot(n) > -kFacing) return std::nullopt;
    Vec3 middle = wall_m + 0.5 * (hit->t_m + off_m) * n;
    const auto axes = axes_at(middle, n);
    if (!axes || !is_clear(middle, axes->down)) return std::nullopt;
    std::optional<Section> section;
    for (int k = 0; k < kCentrings; ++k) {
      section = section_at(middle, *axes);
      if (!section) return std::nullopt;
      middle = section->middle_m;
    }
    if (section->width_m > largest_m_ || !is_clear(middle, axes->down) || !is_even(*section, *axes))
      return std::nullopt;
    return measured(*section, *axes);
  }

 private:
  double reach_m() const { return kReach * largest_m_; }

  bool is_clear(const Vec3& from_m, const Vec3& down) const {
    return !mould_.ray(from_m, down) && !mould_.ray(from_m, Vec3(-down));
  }

  /// The direction nearest to being level with all walls that rays in a plane through the middle meet: first the plane
  /// of the wall, then the one across what was found.
  std::optional<Axes> axes_at(const Vec3& middle_m, const Vec3& n) const {
    Vec3 axis = n;  // of the plane of rays, to begin with
    for (int round = 0; round < 3; ++round) {
      const Vec3 u = axis.unitOrthogonal(), v = axis.cross(u);
      Eigen::Matrix3d sum = 4.0 * n * n.transpose();
      int hits = 0;
      for (int k = 0; k < kRays; ++k) {
        const double angle = 2.0 * std::numbers::pi * (k + 0.5) / kRays;
        const auto hit = mould_.ray(middle_m, Vec3(std::cos(angle) * u + std::sin(angle) * v), reach_m());
        if (!hit) continue;
        const Vec3& m = mould_.normal(hit->triangle);
        sum += m * m.transpose();
        ++hits;
      }
      if (hits < kRays / 4 || (round > 0 && hits < kRays)) return std::nullopt;
      const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> solver(sum);
      axis = solver.eigenvectors().col(0);
      if (std::fabs(axis.z()) < kLeast_z) return std::nullopt;
    }
    if (axis.z() > 0.0) axis = -axis;
    const Vec3 across = (n - n.dot(axis) * axis).normalized();
    return Axes{axis, across, axis.cross(across)};
  }

  /// Both ways; nothing where one is open.
  std::optional<std::array<double, 2>> chord(const Vec3& from_m, const Vec3& along) const {
    const auto ahead = mould_.ray(from_m, along, reach_m()), back = mould_.ray(from_m, Vec3(-along), reach_m());
    if (!ahead || !back) return std::nullopt;
    return std::array{ahead->t_m, back->t_m};
  }

  std::optional<Section> section_at(const Vec3& from_m, const Axes& a) const {
    const auto wide = chord(from_m, a.across), lengthwise = chord(from_m, a.along);
    if (!wide || !lengthwise) return std::nullopt;
    return Section{
        from_m + 0.5 * ((*wide)[0] - (*wide)[1]) * a.across + 0.5 * ((*lengthwise)[0] - (*lengthwise)[1]) * a.along,
        (*wide)[0] + (*wide)[1], (*lengthwise)[0] + (*lengthwise)[1]};
  }

  /// As wide near both ends as in the middle; of a round one nothing is asked, its walls have told the axis.
  bool is_even(const Section& s, const Axes& a) const {
    if (s.width_m > kRound * s.length_m) return s.length_m < s.width_m / kRound;
    for (const double part : {-0.4, -0.2, 0.2, 0.4}) {
      const auto wide = chord(s.middle_m + part * s.length_m * a.along, a.across);
      if (!wide) return false;
      const double here = (*wide)[0] + (*wide)[1];
      if (here < kEven * s.width_m || here > s.width_m / kEven) return false;
    }
    return true;
  }

  struct Station {
    double s_m, width_m;
  };

  /// Down (+1) or up (-1) from the middle until the hole ends. An oblique mouth opens one side first: its middle lies
  /// between where the first wall ends and where the last does.
  double follow(const Section& from, const Axes& a, double way, std::vector<Station>& all) const {
    const double step_m = kStep * largest_m_;
    const auto walls = [&](double s_m, bool every) -> std::optional<double> {
      const Vec3 p = from.middle_m + way * s_m * a.down;
      int found = 0;
      double width_m = 0.0;
      const std::array ways{std::pair{a.across, 0.5 * from.width_m}, std::pair{a.along, 0.5 * from.length_m}};
      for (const auto& towards_of : ways)
        for (const double side : {1.0, -1.0}) {
          const auto& [towards, half_m] = towards_of;
          const auto hit = mould_.ray(p, Vec3(side * towards), every ? reach_m() : kSame * half_m);
          if (!hit) continue;
          ++found;
          if (&towards_of == &ways[0]) width_m += hit->t_m;
        }
      if (every ? found < 4 : found == 0) return std::nullopt;
      return width_m;
    };
    double s = 0.0, last_m = from.width_m;
    for (;;) {
      const auto w = walls(s + step_m, true);
      if (!w || *w > kJump * last_m || s > 100.0 * largest_m_) break;
      s += step_m, last_m = *w;
      all.push_back({way * s, *w});
    }
    const auto end_of = [&](double inside_m, double outside_m, bool every) {
      while (outside_m - inside_m > kEnd * step_m) {
        const double middle_m = 0.5 * (inside_m + outside_m);
        const auto w = walls(middle_m, every);
        (w && (!every || *w <= kJump * last_m) ? inside_m : outside_m) = middle_m;
      }
      return inside_m;
    };
    const double first = end_of(s, s + step_m, true);
    // Leaning by 60 degrees at most, the last wall ends no more than 1.8 times the long side further on.
    const double farthest = first + 1.8 * std::max(from.width_m, from.length_m);
    if (std::fabs(a.down.z()) > 1.0 - 1e-9 || walls(farthest, false)) return first;
    return 0.5 * (first + end_of(first, farthest, false));
  }

  ThroughHole measured(const Section& section, const Axes& a) const {
    std::vector<Station> all{{0.0, section.width_m}};
    const double up_m = follow(section, a, -1.0, all), down_m = follow(section, a, 1.0, all);
    std::sort(all.begin(), all.end(), [](const Station& p, const Station& q) { return p.s_m < q.s_m; });
    double least = all.front().width_m;
    for (const Station& s : all) least = std::min(least, s.width_m);
    const auto in_land = [&](const Station& s) { return s.width_m <= kLand * least; };
    const auto first = std::find_if(all.begin(), all.end(), in_land);
    const auto last = std::find_if_not(first, all.end(), in_land) - 1;
    const bool to_top = first == all.begin(), to_foot = last + 1 == all.end();
    const double land_from = to_top ? -up_m : first->s_m, land_to = to_foot ? down_m : last->s_m;
    const bool slot = section.width_m <= kRound * section.length_m;
    return {.opening_m = section.middle_m - up_m * a.down,
            .diameter_m = least,
            .length_m = up_m + down_m,
            .land_m = land_to - land_from,
            .foot_m = all.back().width_m,
            .taper_m = down_m - land_to,
            .slot_m = slot ? section.length_m : 0.0,
            .axis = a.down};
  }

  const Nearest& mould_;
  double largest_m_;
};

bool is_in(const ThroughHole& h, const Vec3& p_m, double slack_m) {
  const Vec3 from = p_m - h.opening_m;
  const double down = from.dot(h.axis);
  return down > -slack_m && down < h.length_m + slack_m &&
         (from - down * h.axis).norm() < 0.5 * std::hypot(std::max(h.diameter_m, h.foot_m), h.slot_m) + slack_m;
}

}  // namespace

std::vector<ThroughHole> slots_and_slanting(const Nearest& mould, double largest_m,
                                            const std::vector<ThroughHole>& known) {
  constexpr double kSteepest_z = 0.87;  // of a wall's normal: flatter walls belong to no axis within 60 degrees
  const TriangleMesh& mesh = mould.mesh();
  const Probe probe(mould, largest_m);
  std::vector<ThroughHole> found;
  for (int t = 0; t < static_cast<int>(mesh.triangles.size()); ++t) {
    const Vec3& n = mould.normal(t);
    if (std::fabs(n.z()) > kSteepest_z) continue;
    Vec3 wall = Vec3::Zero();
    for (const int i : mesh.triangles[static_cast<std::size_t>(t)])
      wall += mesh.points_m[static_cast<std::size_t>(i)] / 3.0;
    const auto here = [&](const ThroughHole& h) { return is_in(h, wall, kStep * largest_m); };
    if (std::any_of(known.begin(), known.end(), here) || std::any_of(found.begin(), found.end(), here)) continue;
    const auto hole = probe.at(wall, n);
    if (!hole) continue;
    const auto same = [&](const ThroughHole& h) {
      return is_in(h, hole->opening_m + 0.5 * hole->length_m * hole->axis, 0.0);
    };
    if (std::none_of(known.begin(), known.end(), same) && std::none_of(found.begin(), found.end(), same))
      found.push_back(*hole);
  }
  return found;
}

}  // namespace pellicle::mesh
