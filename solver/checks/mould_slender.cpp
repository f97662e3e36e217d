// Which parts of a printed mould are thin and long, and do they, or the walls of its shell, bend away or buckle?
#include "solver/checks/mould_slender.h"

#include "mesh/edges.h"
#include "solver/checks/place.h"
#include "solver/mould/body_surface.h"

#include <fmt/core.h>
#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>
#include <numeric>
#include <utility>

namespace pellicle::checks {
namespace {

using mesh::Vec2;
using mesh::Vec3;
using std::numbers::pi;

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr double kInfinity = std::numeric_limits<double>::infinity();

/// Shop guides (read): free walls 0.6 mm and more, small models 1, medium 2, large 3 mm; a third more to be seen.
constexpr double kThin_m = 4e-3;
constexpr double kPlace_m = 1e-3;    // between places that are looked at
constexpr double kSteep = 0.7;       // of a normal's height: steeper than 45 degrees
constexpr double kOpposite = -0.9;   // faces that lean by less than 26 degrees to each other
constexpr double kOnOneLine = 1e-6;  // of the mould's size: a ray starts so far below its own face
constexpr double kLongRib = 3.0;     // thicknesses: beyond, it is a strip that cannot widen along itself
const double kFlat = std::cos(5.0 * pi / 180.0);
/// While a sheet closes on one side before the other, so much of the full pressure may act on that side alone: 0.03 to
/// 0.3, an estimate.
constexpr double kUneven = 0.1;
/// Real shells and their edges against the ideal plate: half is what is counted on (ours).
constexpr double kImperfect = 2.0;
constexpr std::size_t kMostTold = 5;
constexpr int kMostWaves = 12;

/// Groups of numbers that belong together; the smallest stands for its group.
class Groups {
 public:
  explicit Groups(std::size_t n) : parent_(n) { std::iota(parent_.begin(), parent_.end(), 0); }
  int of(int i) {
    while (parent_[at(i)] != i) i = parent_[at(i)] = parent_[at(parent_[at(i)])];
    return i;
  }
  void join(int a, int b) {
    a = of(a), b = of(b);
    parent_[at(std::max(a, b))] = std::min(a, b);
  }

 private:
  std::vector<int> parent_;
};

/// Solid halfway between two faces.
struct Through {
  int triangle, opposite;
  double thickness_m;
  Vec3 middle_m;
  Eigen::AlignedBox3d piece_m;  ///< of the face that was looked at, halfway to the other
};

std::vector<Through> thin_places(const mesh::Nearest& surface, double most_m) {
  const mesh::TriangleMesh& m = surface.mesh();
  Eigen::AlignedBox3d box;
  for (const Vec3& p : m.points_m) box.extend(p);
  const double below_m = kOnOneLine * box.diagonal().norm();
  std::vector<std::vector<Through>> found(m.triangles.size());
#pragma omp parallel for schedule(dynamic, 64)
  for (int k = 0; k < static_cast<int>(m.triangles.size()); ++k) {
    const Vec3 n = surface.normal(k);
    if (!(n.squaredNorm() > 0.5) || std::abs(n.z()) > kSteep) continue;
    const Vec3 inwards = -Vec3(n.x(), n.y(), 0.0).normalized();
    const mesh::Triangle& t = m.triangles[at(k)];
    mould::for_whole_pieces(m.points_m[at(t[0])], m.points_m[at(t[1])], m.points_m[at(t[2])], kPlace_m,
                            [&](const Vec3& x, double, const Vec3& corner, const Vec3& u, const Vec3& v) {
                              const auto hit = surface.ray(x + below_m * inwards, inwards, most_m);
                              if (!hit || hit->triangle == k || surface.normal(hit->triangle).dot(n) > kOpposite)
                                return;
                              const double thick_m = hit->t_m + below_m;
                              const Vec3 in = 0.5 * thick_m * inwards;
                              Eigen::AlignedBox3d piece(Vec3(corner + in));
                              piece.extend(Vec3(corner + u + in)).extend(Vec3(corner + v + in));
                              found[at(k)].push_back({k, hit->triangle, thick_m, x + in, piece});
                            });
  }
  std::vector<Through> all;
  for (const std::vector<Through>& own : found) all.insert(all.end(), own.begin(), own.end());
  return all;
}

/// Of the steepest stretch of the resin the bending stress that many pressings may use.
double bears_Pa(const MouldCase& c, const Vec3& place_m, End end) {
  return kCycledShare * strength_Pa(c.build.resin, peak_K(c, place_m), end);
}

std::string feature_text(const ThinFeature& f) {
  return fmt::format("{:.2g} mm thick, {:.2g} high, {:.2g} long at {}", 1e3 * f.thickness_m, 1e3 * f.height_m,
                     1e3 * f.length_m, place_text(f.place_m));
}

/// "2 thin parts, the most slender first: ..."
std::string features_text(const std::vector<ThinFeature>& features) {
  const ThinFeature& first = features.front();
  if (first.height_m < kSlender * first.thickness_m)
    return fmt::format(
        "No upright part thinner than {:.0f} mm is higher than {:.1f} times its thickness; the most slender is {}",
        1e3 * kThin_m, kSlender, feature_text(first));
  std::string list;
  for (std::size_t k = 0; k < std::min(kMostTold, features.size()); ++k)
    list += (k > 0 ? "; " : "") + feature_text(features[k]);
  return fmt::format("{} thin part{}, the most slender first: {}", features.size(), features.size() == 1 ? "" : "s",
                     list);
}

Finding slender_finding() {
  return {.id = "mould_slender",
          .question = "Which thin, long parts of the mould may bend or break?",
          .value = std::numeric_limits<double>::quiet_NaN(),
          .unit = "bar"};
}

/// Of slender parts, or without any of the most slender there is.
Finding slender_of(const MouldCase& c, const MouldPressing& pressing, const std::vector<ThinFeature>& features) {
  Finding finding = slender_finding();
  if (features.empty()) {
    finding.why = fmt::format(
        "nothing of it between two upright faces, which lean to each other by less than 26 degrees, is thinner than "
        "{:.0f} mm: looked for level from places {:.0f} mm apart on all faces steeper than 45 degrees",
        1e3 * kThin_m, 1e3 * kPlace_m);
    return finding;
  }
  finding.limit = 1e-5 * pressing.highest_Pa;
  const auto bears = [&](const ThinFeature& f, End end) { return one_sided_Pa(f, bears_Pa(c, f.place_m, end)); };
  const ThinFeature* worst = &features.front();
  for (const ThinFeature& f : features)
    if (bears(f, End::kLikely) < bears(*worst, End::kLikely)) worst = &f;
  const double likely_Pa = bears(*worst, End::kLikely), low_Pa = bears(*worst, End::kLow);
  finding.value = 1e-5 * likely_Pa;
  finding.place_m = worst->place_m;
  finding.verdict = likely_Pa < kUneven * pressing.highest_Pa ? Verdict::kFail
                    : low_Pa < pressing.highest_Pa            ? Verdict::kDoubt
                                                              : Verdict::kPass;
  finding.why = fmt::format(
      "pressed on one side alone, as where the sheet closes on that side first, the weakest bears {:.2g} bar before "
      "half of the warm strength is used (cantilever, 3 q H^2/t^2); in the end both sides bear {:.2g} bar, which "
      "cancels. {}",
      1e-5 * likely_Pa, 1e-5 * pressing.highest_Pa, features_text(features));
  finding.uncertainty = fmt::format(
      "{:.2g} bar at the card's low end; how much acts on one side alone is not computed: a tenth is taken (0.03 to "
      "0.3, estimate). Held at the foot alone; ends that meet a wall help. Sideways knocks, demoulding and chips are "
      "not in "
      "it",
      1e-5 * low_Pa);
  if (finding.verdict != Verdict::kPass)
    finding.advice =
        "thin or long parts of a printed mould warp or break first (common practice): make them thicker or lower, lean "
        "or step their sides, tie them to a wall, round the foot; edges wear there first, so look after every tenth "
        "part. Broken resin flies: keep the shield closed under pressure";
  return finding;
}

/// What is worst by load over load of buckling.
struct Buckles {
  double share = 0.0, share_high = 0.0;
  Vec3 place_m = Vec3::Zero();
  std::string what;
};

void count_features(const MouldCase& c, const MouldPressing& pressing, const std::vector<ThinFeature>& features,
                    double hot, Buckles& worst) {
  const ResinSpec& r = c.build.resin;
  for (const ThinFeature& f : features) {
    const double share = pressing.highest_Pa / column_Pa(f, modulus_Pa(r, hot), r.poisson.likely);
    if (share <= worst.share) continue;
    worst = {share, share * modulus_Pa(r, hot) / modulus_Pa(r, hot, End::kLow), f.place_m,
             fmt::format("the part {}, pressed on its top by {:.2g} bar", feature_text(f), 1e-5 * pressing.highest_Pa)};
  }
}

void count_panels(const MouldCase& c, const MouldPressing& pressing, double hot, Buckles& worst) {
  const mesh::TriangleMesh& m = c.formed.mould.surface()->mesh();
  const ResinSpec& r = c.build.resin;
  Eigen::AlignedBox3d box;
  for (const Vec3& p : m.points_m) box.extend(p);
  double steep_m2 = 0.0;
  for (int k = 0; k < static_cast<int>(m.triangles.size()); ++k) {
    const mesh::Triangle& t = m.triangles[at(k)];
    const Vec3 twice = (m.points_m[at(t[1])] - m.points_m[at(t[0])]).cross(m.points_m[at(t[2])] - m.points_m[at(t[0])]);
    if (std::abs(twice.z()) < kSteep * twice.norm()) steep_m2 += 0.5 * twice.norm();
  }
  const double height_m = box.sizes().z(), wall_m = c.build.wall_m;
  const double upright_Pa = std::abs(pressing.down_N) * height_m / (steep_m2 * wall_m);
  for (const WallPanel& panel : wall_panels(*c.formed.mould.surface(), wall_m)) {
    const double across_m = (panel.normal.cwiseAbs().dot(box.sizes()));
    const Vec2 pressed_Pa(pressing.highest_Pa * across_m / (2.0 * wall_m), upright_Pa);
    const auto share_at = [&](End end) {
      return 1.0 / plate_load_factor(panel.size_m, wall_m, pressed_Pa, modulus_Pa(r, hot, end), r.poisson.likely);
    };
    const double share = share_at(End::kLikely);
    if (share <= worst.share) continue;
    worst = {
        share, share_at(End::kLow), panel.place_m,
        fmt::format("the flat wall of {:.3g} x {:.3g} mm at {}, {:.2g} mm thick, pressed in its plane by {:.2g} MPa "
                    "level and {:.2g} MPa upright",
                    1e3 * panel.size_m.x(), 1e3 * panel.size_m.y(), place_text(panel.place_m), 1e3 * wall_m,
                    1e-6 * pressed_Pa.x(), 1e-6 * pressed_Pa.y())};
  }
}

Finding buckling_finding() {
  return {.id = "mould_buckling",
          .question = "Do thin walls and ribs of the mould buckle?",
          .value = std::numeric_limits<double>::quiet_NaN(),
          .unit = "-",
          .limit = 1.0};
}

/// What could buckle, and is not there.
std::string nothing_buckles_text(const MouldBuild& build) {
  const std::string ribs =
      fmt::format("no upright part thinner than {:.0f} mm and higher than {:.1f} times that", 1e3 * kThin_m, kSlender);
  if (build.inside == mesh::Inside::kHollow)
    return fmt::format(
        "no flat wall that spans freely, wider than two of its shells ({:.3g} mm) and higher than one ({:.3g} mm), "
        "and {}",
        2e3 * build.wall_m, 1e3 * build.wall_m, ribs);
  return ribs + ", and behind its faces it is not hollow";
}

Finding buckling_of(const MouldCase& c, const MouldPressing& pressing, const std::vector<ThinFeature>& features) {
  Finding finding = buckling_finding();
  finding.value = 0.0;
  const double hot_K = c.warmth != nullptr ? c.warmth->shell_peak_K() : c.build.start_K;
  Buckles worst;
  count_features(c, pressing, features, hot_K, worst);
  if (c.build.inside == mesh::Inside::kHollow) count_panels(c, pressing, hot_K, worst);
  if (worst.share == 0.0) {
    finding.why = nothing_buckles_text(c.build);
    return finding;
  }
  finding.value = worst.share;
  finding.place_m = worst.place_m;
  finding.verdict = worst.share > 1.0                     ? Verdict::kFail
                    : worst.share_high * kImperfect > 1.0 ? Verdict::kDoubt
                                                          : Verdict::kPass;
  finding.why = fmt::format(
      "load over that of buckling, of {}; shell at {:.0f} °C, modulus {:.2g} GPa; plates with supported edges, ribs "
      "held at their foot (Timoshenko & Gere)",
      worst.what, hot_K - 273.15, 1e-9 * modulus_Pa(c.build.resin, hot_K));
  finding.uncertainty = fmt::format(
      "up to {:.2g} with the card's low end, and twice that counted for walls that are not even and edges that give "
      "way (ours); the side pressure bends a wall besides, as mould_deflection says. Curved walls are stiffer and not "
      "asked",
      worst.share_high);
  if (finding.verdict != Verdict::kPass)
    finding.advice =
        "a thicker wall (the load it bears goes with its cube), a rib across, plaster behind it, or a cooler mould; a "
        "shell that buckles under gas gives way at once and may burst: keep the shield closed";
  return finding;
}

}  // namespace

std::vector<ThinFeature> thin_features(const mesh::Nearest& surface, double most_m, double least_slender) {
  const mesh::TriangleMesh& m = surface.mesh();
  const std::vector<Through> places = thin_places(surface, most_m);
  std::vector<char> is_thin(m.triangles.size(), 0);
  Groups groups(m.triangles.size());
  for (const Through& p : places) {
    is_thin[at(p.triangle)] = is_thin[at(p.opposite)] = 1;
    groups.join(p.triangle, p.opposite);
  }
  mesh::Edges(m).for_each([&](int, std::span<const mesh::EdgeUse> uses) {
    for (std::size_t k = 1; k < uses.size(); ++k)
      if (is_thin[at(uses[0].triangle())] && is_thin[at(uses[k].triangle())])
        groups.join(uses[0].triangle(), uses[k].triangle());
  });
  struct Extent {
    ThinFeature feature;
    Eigen::AlignedBox3d box;
  };
  std::map<int, Extent> extents;
  for (const Through& p : places) {
    Extent& e =
        extents.try_emplace(groups.of(p.triangle), Extent{{kInfinity, 0.0, 0.0, Vec3::Zero()}, {}}).first->second;
    e.box.extend(p.piece_m);
    if (p.thickness_m < e.feature.thickness_m) e.feature.thickness_m = p.thickness_m, e.feature.place_m = p.middle_m;
  }
  std::vector<ThinFeature> all;
  for (auto& [first, e] : extents) {
    e.feature.height_m = e.box.sizes().z();
    e.feature.length_m = e.box.sizes().head<2>().norm();
    if (e.feature.height_m >= least_slender * e.feature.thickness_m) all.push_back(e.feature);
  }
  std::stable_sort(all.begin(), all.end(), [](const ThinFeature& a, const ThinFeature& b) {
    return a.height_m * b.thickness_m > b.height_m * a.thickness_m;
  });
  return all;
}

double one_sided_Pa(const ThinFeature& f, double stress_Pa) {
  return stress_Pa * f.thickness_m * f.thickness_m / (3.0 * f.height_m * f.height_m);
}

double column_Pa(const ThinFeature& f, double modulus_Pa, double poisson) {
  const double stiff_Pa = f.length_m > kLongRib * f.thickness_m ? modulus_Pa / (1.0 - poisson * poisson) : modulus_Pa;
  return pi * pi * stiff_Pa * f.thickness_m * f.thickness_m / (48.0 * f.height_m * f.height_m);
}

double plate_load_factor(const Vec2& size_m, double t_m, const Vec2& pressed_Pa, double modulus_Pa, double poisson) {
  const double D = modulus_Pa * t_m * t_m * t_m / (12.0 * (1.0 - poisson * poisson));
  double least = kInfinity;
  for (int m = 1; m <= kMostWaves; ++m)
    for (int n = 1; n <= kMostWaves; ++n) {
      const double x = m * m / (size_m.x() * size_m.x()), y = n * n / (size_m.y() * size_m.y());
      const double load_Pa = pressed_Pa.x() * x + pressed_Pa.y() * y;
      if (load_Pa > 0.0) least = std::min(least, pi * pi * D / t_m * (x + y) * (x + y) / load_Pa);
    }
  return least;
}

std::vector<WallPanel> wall_panels(const mesh::Nearest& surface, double wall_m) {
  const mesh::TriangleMesh& m = surface.mesh();
  const auto is_steep = [&](int k) {
    const Vec3 n = surface.normal(k);
    return n.squaredNorm() > 0.5 && std::abs(n.z()) < kSteep;
  };
  Groups groups(m.triangles.size());
  mesh::Edges(m).for_each([&](int, std::span<const mesh::EdgeUse> uses) {
    for (std::size_t k = 1; k < uses.size(); ++k) {
      const int a = uses[0].triangle(), b = uses[k].triangle();
      if (is_steep(a) && is_steep(b) && surface.normal(a).dot(surface.normal(b)) > kFlat) groups.join(a, b);
    }
  });
  struct Spread {
    Vec3 normal, along, up;
    Eigen::AlignedBox2d box;
    double depth_m;
  };
  std::map<int, Spread> spreads;
  for (int k = 0; k < static_cast<int>(m.triangles.size()); ++k) {
    if (!is_steep(k)) continue;
    const int first = groups.of(k);
    const Vec3 n = surface.normal(first), along = Vec3::UnitZ().cross(n).normalized(), up = n.cross(along);
    if (surface.normal(k).dot(n) < kFlat) continue;  // round a bend, five degrees at a time
    Spread& s = spreads.try_emplace(first, Spread{n, along, up, {}, n.dot(m.points_m[at(m.triangles[at(k)][0])])})
                    .first->second;
    for (const int p : m.triangles[at(k)]) s.box.extend(Vec2(along.dot(m.points_m[at(p)]), up.dot(m.points_m[at(p)])));
  }
  std::vector<WallPanel> panels;
  for (const auto& [first, s] : spreads) {
    // Level it runs between two walls beside it, upright from the foot to the lid.
    const Vec2 size_m = s.box.sizes() - Vec2(2.0 * wall_m, wall_m);
    if (size_m.minCoeff() <= 0.0) continue;
    const Vec2 middle = s.box.center();
    panels.push_back({size_m, middle.x() * s.along + middle.y() * s.up + s.depth_m * s.normal, s.normal});
  }
  return panels;
}

std::vector<Finding> mould_slender(const MouldCase& c, const MouldPressing& pressing) {
  if (!(pressing.highest_Pa > 0.0)) {
    std::vector<Finding> none{slender_finding(), buckling_finding()};
    for (Finding& finding : none) {
      finding.verdict = Verdict::kDoubt;
      finding.why = "no part of the sheet presses on the mould as the last stage ends";
      finding.advice = "a stage that ends under pressure";
    }
    return none;
  }
  const std::vector<ThinFeature> all = thin_features(*c.formed.mould.surface(), kThin_m, 0.0);
  std::vector<ThinFeature> slender = all;
  std::erase_if(slender, [](const ThinFeature& f) { return f.height_m < kSlender * f.thickness_m; });
  return {slender_of(c, pressing, slender.empty() ? all : slender), buckling_of(c, pressing, slender)};
}

}  // namespace pellicle::checks
