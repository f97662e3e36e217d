// Does the printed mould bear the pressure, how far does it give way, and how thick must its shell be?
#include "solver/checks/mould_strength.h"

#include "mesh/check.h"
#include "solver/checks/mould_cells.h"
#include "solver/checks/place.h"
#include "solver/mould/body.h"

#include <fmt/core.h>
#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>

namespace pellicle::checks {
namespace {

using mesh::Inside;
using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

/// Fine cells through a shell that spans freely; bricks with bubbles bend well with fewer (mould_body.md).
constexpr int kThroughWall = 4;
/// ... through the height of a block or of what is filled.
constexpr int kThroughSolid = 10;
constexpr double kFinest_m = 0.125e-3, kCoarsest_m = 1e-3;  // of the fine cells
constexpr double kBoxCells = 40.0;                          // with air, for each with material
constexpr double kMostOver = 3.0;  // times the budget, if only so two sizes of cells fit into a thin wall
constexpr double kLoadPiece_m = 0.5e-3;
constexpr double kFoot_m = 1.5e-3;      // or two coarse cells, but no more than a quarter of the mould
constexpr double kDiffer = 0.25;        // between two sizes of cells: more is a corner without a radius
constexpr double kWorkingShare = 0.95;  // of the shell's nodes are stressed less than what it works at
/// Times the limit, in both sizes: fails even where cells are too few through a wall.
constexpr double kFailsAnyhow = 2.0;
/// Within 0.3 mm is what the published series of hollow models counts (Bennett & DiGiovanni, read).
constexpr double kMostShift_m = 0.3e-3;
/// Cast plaster, dry (from memory). Its own cracks are not looked for.
constexpr mould::Elastic kPlaster{4e9, 0.22};
constexpr double kWallStep_m = 0.5e-3, kThickestWall_m = 20e-3;
constexpr int kWallTries = 4;
constexpr double kUpright = 0.999;  // cosine: layers lie level

std::optional<double> platform_of(const Formed& f) {
  return f.mould.has_platform() ? std::optional(0.0) : std::nullopt;
}

double height_m(const Formed& f) {
  Eigen::AlignedBox3d box;
  for (const Vec3& p : f.mould.surface()->mesh().points_m) box.extend(p);
  if (f.mould.has_platform()) box.extend(Vec3(box.min().x(), box.min().y(), 0.0));
  return box.sizes().z();
}

double shell_K(const MouldCase& c) { return c.warmth != nullptr ? c.warmth->shell_K() : c.build.start_K; }
double peak_K(const MouldCase& c, const Vec3& place_m) {
  return c.warmth != nullptr ? c.warmth->peak_K(place_m) : c.build.start_K;
}

mould::BodyOptions body_options(const MouldCase& c, bool slides) {
  mould::BodyOptions o;
  o.shell = {modulus_Pa(c.build.resin, shell_K(c)), c.build.resin.poisson.likely};
  o.fill = kPlaster;
  o.base_slides = slides;
  o.across = c.build_direction;
  o.solve.tolerance = 1e-6;  // of the load; stresses are good to a percent at best
  o.solve.stop = c.stop;
  return o;
}

/// Tension that counts: what pulls layers apart counts as more.
double counting_Pa(double principal_Pa, double across_Pa, const ResinSpec& resin) {
  return std::max({0.0, principal_Pa, across_Pa / resin.across_layers.likely});
}

void find_at_nodes(const MouldCase& c, const mould::SolidCells& solid, const mould::BodyResult& r, double above_m,
                   MouldSolution& s) {
  const int nodes = solid.grid.nodes();
  std::vector<double> share(at(nodes), 0.0);
  std::vector<int> triangle(at(nodes), -1);
  const mesh::Nearest& surface = *c.formed.mould.surface();
  const double reach_m = c.build.inside == Inside::kSolid ? solid.cell_m : c.build.wall_m + solid.cell_m;
#pragma omp parallel for schedule(dynamic, 256)
  for (int n = 0; n < nodes; ++n) {
    const Vec3 x = solid.node_m(n);
    const double tension_Pa = counting_Pa(r.node_principal_Pa[at(n)], r.node_across_Pa[at(n)], c.build.resin);
    if (x.z() < above_m || tension_Pa == 0.0) continue;
    share[at(n)] = tension_Pa / strength_Pa(c.build.resin, peak_K(c, x));
    triangle[at(n)] = surface.closest(x, reach_m).triangle;
  }
  std::vector<double> stresses_Pa;
  for (int n = 0; n < nodes; ++n) {
    const double shift_m = r.node_shift_m[at(n)].norm();
    if (shift_m > s.shift_m) s.shift_m = shift_m, s.shift_place_m = solid.node_m(n);
    if (solid.node_m(n).z() >= above_m && r.node_von_mises_Pa[at(n)] > 0.0)
      stresses_Pa.push_back(r.node_von_mises_Pa[at(n)]);
    if (triangle[at(n)] >= 0) {
      double& of_triangle = s.triangle_share[at(triangle[at(n)])];
      of_triangle = std::fmax(of_triangle, share[at(n)]);
    }
    if (share[at(n)] <= s.share) continue;
    s.share = share[at(n)];
    s.share_place_m = solid.node_m(n);
    s.tension_Pa = counting_Pa(r.node_principal_Pa[at(n)], r.node_across_Pa[at(n)], c.build.resin);
  }
  if (stresses_Pa.empty()) return;
  // A mould gives way as a whole: a corner does not count, where stresses grow as cells shrink.
  const auto most =
      stresses_Pa.begin() + static_cast<std::ptrdiff_t>(kWorkingShare * static_cast<double>(stresses_Pa.size() - 1));
  std::nth_element(stresses_Pa.begin(), most, stresses_Pa.end());
  s.working_Pa = *most;
}

/// The surface's own triangles, which the cells' steps blur less than the nodes.
void find_at_triangles(const MouldCase& c, const mould::BodyResult& r, double above_m, MouldSolution& s) {
  const mesh::TriangleMesh& m = c.formed.mould.surface()->mesh();
  s.triangle_share.assign(m.triangles.size(), kNaN);
  for (std::size_t k = 0; k < m.triangles.size(); ++k) {
    const mesh::Triangle& t = m.triangles[k];
    // The largest of its places is told, wherever on it that is: one that reaches down to the foot says nothing.
    if (std::min({m.points_m[at(t[0])].z(), m.points_m[at(t[1])].z(), m.points_m[at(t[2])].z()}) < above_m) continue;
    s.triangle_share[k] = 0.0;
    const auto count = [&](double tension_Pa, const Vec3& place_m) {
      const double share = tension_Pa / strength_Pa(c.build.resin, peak_K(c, place_m));
      s.triangle_share[k] = std::max(s.triangle_share[k], share);
      if (share > s.share) s.share = share, s.share_place_m = place_m, s.tension_Pa = tension_Pa;
    };
    count(counting_Pa(r.principal_Pa[k], 0.0, c.build.resin), r.principal_place_m[k]);
    count(counting_Pa(0.0, r.across_Pa[k], c.build.resin), r.across_place_m[k]);
  }
}

/// Beside holes that are narrower than the cells, by what the cells say of the wall without them.
void find_at_vents(const MouldCase& c, const std::vector<NarrowPlace>& places, const mould::BodyResult& r,
                   double above_m, MouldSolution& s) {
  for (std::size_t k = 0; k < places.size(); ++k) {
    const Vec3& x = places[k].at_m;
    if (!r.asked_Pa[k] || x.z() < above_m) continue;
    // The rim is pulled round the hole, within the layers of an upright print; of others across them at worst.
    const bool is_within = std::abs(c.build_direction.z()) > kUpright;
    const double rim_Pa = rim_stress_Pa(*r.asked_Pa[k], Vec3::UnitZ(), places[k].long_by_wide);
    const double tension_Pa = counting_Pa(rim_Pa, is_within ? 0.0 : rim_Pa, c.build.resin);
    if (tension_Pa > s.vent_tension_Pa) s.vent_tension_Pa = tension_Pa, s.vent_place_m = x;
    const double share = tension_Pa / strength_Pa(c.build.resin, peak_K(c, x));
    if (share > s.share) s.share = share, s.share_place_m = x, s.tension_Pa = tension_Pa;
  }
}

MouldCase with_build(const MouldCase& c, const MouldBuild& build) {
  return {c.formed, build, c.build_direction, c.warmth, c.stop, c.most_cells, c.vents};
}

/// What is found, with how far it may be off; both as multiples of their limits.
struct Judged {
  double share, share_high;    ///< of kCycledShare of the strength
  double shift_m, shift_high;  ///< likely [m]; at the high end as a multiple of kMostShift_m
  bool holds() const { return share_high <= 1.0 && shift_high <= 1.0; }
};

/// What the foot's holding and the coarseness of cells add, as factors from 1 on.
struct Doubts {
  double share, shift;
};

Judged judged(const MouldCase& c, const MouldSolution& s, const Doubts& doubts) {
  const ResinSpec& resin = c.build.resin;
  const double at_K = peak_K(c, s.share_place_m), mean_K = shell_K(c);
  const double weaker = strength_Pa(resin, at_K) / strength_Pa(resin, at_K, End::kLow) * resin.across_layers.likely /
                        resin.across_layers.low;
  const double softer = modulus_Pa(resin, mean_K) / modulus_Pa(resin, mean_K, End::kLow);
  return {s.share / kCycledShare, s.share / kCycledShare * weaker * doubts.share, s.shift_m,
          s.shift_m / kMostShift_m * softer * doubts.shift};
}

Finding stress_finding() {
  return {
      .id = "mould_stress", .question = "Does the mould bear the pressure, many times?", .value = kNaN, .unit = "MPa"};
}
Finding deflection_finding() {
  return {.id = "mould_deflection",
          .question = "How far does the mould give way under the pressure?",
          .value = kNaN,
          .unit = "mm",
          .limit = 1e3 * kMostShift_m};
}

struct Sizes {
  double fine_m, coarse_m;
  bool resolved;
};

CellBudget budget(const MouldCase& c, double times = 1.0) {
  return {times * c.most_cells, times * kBoxCells * c.most_cells};
}

/// None: a wall this thin in a mould this large is not cut into two sizes of cells in reasonable time.
std::optional<Sizes> sizes_of(const MouldCase& c) {
  const mesh::Nearest& surface = *c.formed.mould.surface();
  const MouldBuild& build = c.build;
  const bool spans = build.inside == Inside::kHollow;
  const double whole_m = std::clamp(height_m(c.formed) / kThroughSolid, kFinest_m, kCoarsest_m);
  const double shell_m = std::clamp(build.wall_m / kThroughWall, kFinest_m, kCoarsest_m);
  double fine_m = affordable_cell_m(surface, build, spans ? shell_m : whole_m, budget(c));
  if (build.inside != Inside::kSolid && fine_m > 0.5 * build.wall_m) {
    fine_m = 0.5 * build.wall_m;
    if (affordable_cell_m(surface, build, fine_m, budget(c, kMostOver)) > fine_m * (1.0 + 1e-9)) return std::nullopt;
  }
  return Sizes{fine_m, 2.0 * fine_m, !spans || fine_m <= build.wall_m / kThroughWall * (1.0 + 1e-9)};
}

/// For a wall that is only tried. None: not even one cell through it is affordable.
std::optional<double> coarse_cell_m(const MouldCase& c) {
  constexpr double kTrialCells = 3.0;
  const mesh::Nearest& surface = *c.formed.mould.surface();
  const double wall_m = c.build.wall_m;
  if (affordable_cell_m(surface, c.build, wall_m, budget(c)) > wall_m * (1.0 + 1e-9)) return std::nullopt;
  const double wanted_m = std::clamp(wall_m / kTrialCells, kFinest_m, 2.0 * kCoarsest_m);
  return std::min(affordable_cell_m(surface, c.build, wanted_m, budget(c, 0.25)), wall_m);
}

/// Everything that is solved for the mould as it is.
struct Compared {
  MouldLoad load;
  Sizes sizes;
  double foot_m;
  MouldSolution coarse, fine;
  Doubts foot, doubts;   ///< from a foot that slides; with the coarseness of cells
  double ideal_shift_m;  ///< led on to cells of no size
  bool is_sharp;         ///< stresses grow as at an inner corner without a radius
  Judged now, rough;     ///< on fine and coarse cells
};

Compared compared(const MouldCase& c, MouldLoad load, const Sizes& sizes) {
  const double foot_m = std::min(std::max(kFoot_m, 2.0 * sizes.coarse_m), 0.25 * height_m(c.formed));
  MouldSolution coarse = solve_mould(c, load, sizes.coarse_m, foot_m);
  const MouldSolution slid = solve_mould(c, load, sizes.coarse_m, foot_m, true);
  MouldSolution fine = solve_mould(c, load, sizes.fine_m, foot_m);
  // Shifts come closer with the cells' size; stresses are bracketed.
  const mould::Extrapolated shift = mould::extrapolated(coarse.shift_m, fine.shift_m, sizes.coarse_m / sizes.fine_m);
  const auto ratio = [](double a, double b) { return b > 0.0 ? std::max(1.0, a / b) : 1.0; };
  const auto part_of = [](double part, double whole) { return whole > 0.0 ? part / whole : 0.0; };
  const bool is_sharp = part_of(fine.share - coarse.share, fine.share) > kDiffer;
  const Doubts foot{ratio(slid.share, coarse.share), ratio(slid.shift_m, coarse.shift_m)};
  const Doubts doubts{foot.share * (is_sharp ? 2.0 : 1.0 + part_of(std::abs(fine.share - coarse.share), fine.share)),
                      foot.shift * (1.0 + part_of(shift.error, fine.shift_m))};
  const Judged now = judged(c, fine, doubts), rough = judged(c, coarse, doubts);
  return {std::move(load), sizes, foot_m, std::move(coarse), std::move(fine), foot, doubts, shift.value,
          is_sharp,        now,   rough};
}

/// By whole steps, each tried by solving on coarse cells, not more often than kWallTries; bending stress goes with
/// 1/wall^2 and sag with 1/wall^3 at the most.
struct Shell {
  double wall_m;
  bool is_smallest;  ///< a step less was tried, and does not hold
  Judged judged;
  double tension_Pa;
};
/// The thinnest step whose cells are affordable.
double thinnest_shell_m(const MouldCase& c) {
  MouldBuild build = c.build;
  for (build.wall_m = kWallStep_m; build.wall_m < kThickestWall_m; build.wall_m += kWallStep_m)
    if (coarse_cell_m(with_build(c, build))) break;
  return build.wall_m;
}

std::optional<Shell> smallest_shell(const MouldCase& c, const Compared& all, double thinnest_m) {
  const double thickest_m = std::min(kThickestWall_m, 0.5 * height_m(c.formed));
  const auto in_steps = [](double wall_m) { return std::ceil(wall_m / kWallStep_m - 1e-6) * kWallStep_m; };
  if (thinnest_m > in_steps(thickest_m)) return std::nullopt;
  const auto wanted_m = [&](double wall_m, const Judged& j) {
    const double most = std::max(std::sqrt(j.share_high), std::cbrt(j.shift_high));
    return std::clamp(in_steps(wall_m * most), thinnest_m, in_steps(thickest_m));
  };
  double wall_m = wanted_m(c.build.wall_m, all.now), too_thin_m = 0.0;
  std::optional<Shell> best;
  for (int tries = 0; tries < kWallTries && wall_m > too_thin_m && (!best || wall_m < best->wall_m); ++tries) {
    MouldBuild build = c.build;
    build.wall_m = wall_m;
    const MouldCase trial = with_build(c, build);
    const std::optional<double> cell_m = coarse_cell_m(trial);
    if (!cell_m) break;
    const MouldSolution s = solve_mould(trial, all.load, *cell_m, all.foot_m);
    const Judged j = judged(trial, s, all.doubts);
    if (j.holds()) {
      best = Shell{wall_m, false, j, s.tension_Pa};
      wall_m = std::max(std::min(wall_m - kWallStep_m, wanted_m(wall_m, j)), too_thin_m + kWallStep_m);
    } else {
      too_thin_m = wall_m;
      wall_m = std::max(wall_m + kWallStep_m, wanted_m(wall_m, j));
      if (best) wall_m = std::min(wall_m, best->wall_m - kWallStep_m);
      wall_m = std::min(wall_m, in_steps(thickest_m));
    }
  }
  if (best) best->is_smallest = best->wall_m < too_thin_m + 1.5 * kWallStep_m;
  return best;
}

std::string shell_text(const MouldCase& c, const Compared& all) {
  const double thinnest_m = thinnest_shell_m(c);
  const std::optional<Shell> shell = smallest_shell(c, all, thinnest_m);
  const std::string limit = thinnest_m > kWallStep_m
                                ? fmt::format(
                                      "; below {:.1f} mm not tried: too thin to be cut into cells in a mould "
                                      "of this size",
                                      1e3 * thinnest_m)
                                : "";
  if (all.now.holds() && (!shell || shell->wall_m >= c.build.wall_m))
    return "no thinner shell was found that holds" + limit;
  if (!shell) return "no hollow shell was found that holds" + limit;
  return fmt::format(
      "a shell of {:.1f} mm holds ({:.2g} MPa, {:.2g} mm; solved on coarse cells{}); common practice takes "
      "5 mm and more",
      1e3 * shell->wall_m, 1e-6 * shell->tension_Pa, 1e3 * shell->judged.shift_m,
      shell->is_smallest ? ", 0.5 mm less does not" : limit);
}

std::string plaster_text(const MouldCase& c, const Compared& all) {
  MouldBuild build = c.build;
  build.inside = Inside::kFilled;
  const MouldCase trial = with_build(c, build);
  const double wanted_m = std::min(2.0 * kCoarsest_m, build.wall_m);
  const double cell_m = affordable_cell_m(*c.formed.mould.surface(), build, wanted_m, budget(c));
  if (cell_m > build.wall_m * (1.0 + 1e-9)) return "plaster behind a shell so thin is not resolved here";
  const MouldSolution s = solve_mould(trial, all.load, cell_m, all.foot_m);
  const Judged j = judged(trial, s, all.doubts);
  return fmt::format("filled with plaster this shell {}: {:.2g} MPa, {:.2g} mm", j.holds() ? "holds" : "does not hold",
                     1e-6 * s.tension_Pa, 1e3 * s.shift_m);
}

Verdict verdict_of(double likely, double high, bool resolved, double coarse) {
  if (!resolved) return std::min(likely, coarse) > kFailsAnyhow ? Verdict::kFail : Verdict::kDoubt;
  return likely > 1.0 ? Verdict::kFail : high > 1.0 ? Verdict::kDoubt : Verdict::kPass;
}

std::string vents_text(const MouldCase& c, const Compared& all) {
  if (c.vents.empty()) return "";
  double longest = 1.0;
  for (const DrilledVent& v : c.vents) longest = std::max(longest, v.slot_m / v.diameter_m);
  if (all.fine.vent_tension_Pa > 0.0)
    return fmt::format(
        "; beside the air holes (drill wet or draw the dust off), too narrow for the cells, up to {:.2g} MPa at {}: "
        "two to four times the wall's stress, as round a small hole (Kirsch){}",
        1e-6 * all.fine.vent_tension_Pa, place_text(all.fine.vent_place_m),
        longest > 1.0
            ? fmt::format("; up to {:.2g} times at the ends of a slot (Inglis)", 2.0 + 2.0 * std::sqrt(longest))
            : "");
  return "; its air holes are cut out of the cells, or nothing pulls beside them";
}

std::string unresolved_text(const MouldCase& c, const Compared& all) {
  if (all.sizes.resolved) return "";
  return fmt::format(". Not resolved: {:.1f} cells through the shell where {} are wanted",
                     c.build.wall_m / all.sizes.fine_m, kThroughWall);
}

/// "up to 83 %"; nobody wants more than ten times told in percent.
std::string percent_text(double share) {
  return share > 10.0 ? "more than ten times" : fmt::format("up to {:.0f} %", 100.0 * share);
}

Finding stress_of(const MouldCase& c, const Compared& all) {
  const MouldSolution& fine = all.fine;
  Finding finding = stress_finding();
  finding.value = 1e-6 * fine.tension_Pa;
  finding.limit = 1e-6 * kCycledShare * fine.strength_Pa;
  if (fine.share > 0.0) finding.place_m = fine.share_place_m;
  finding.verdict = verdict_of(all.now.share, all.now.share_high, all.sizes.resolved, all.rough.share);
  finding.why = fmt::format(
      "the sheet presses with up to {:.2g} bar, {:.3g} N straight down in all; the mould is a {}. {}{:.0f} % of the "
      "strength of {} resin at {:.0f} °C there, {:.2g} MPa, of which many pressings may use half (ours){}{}",
      1e-5 * all.load.highest_Pa, -all.load.sum_N.z(), build_text(c.build),
      fine.tension_Pa > 0.0 ? "The tension is " : "Nothing of the shell is pulled: ", 100.0 * fine.share,
      c.build.resin.name, peak_K(c, fine.share_place_m) - 273.15, 1e-6 * fine.strength_Pa, vents_text(c, all),
      unresolved_text(c, all));
  finding.uncertainty = fmt::format(
      "{} of what it may bear, with the card's low end, layers at {:.0f} % of the strength, cells of {:.2g} and "
      "{:.2g} mm ({:.2g} and {:.2g} MPa{}) and a foot that slides ({:.2f} times); creep and buckling are told apart; "
      "impact and cracks from chips are not in it, nor is the foot's lowest {:.1f} mm",
      percent_text(all.now.share_high), 100.0 * c.build.resin.across_layers.low, 1e3 * all.sizes.coarse_m,
      1e3 * all.sizes.fine_m, 1e-6 * all.coarse.tension_Pa, 1e-6 * fine.tension_Pa,
      all.is_sharp ? ": a sharp inner corner, doubled for the radius that is not drawn" : "", all.foot.share,
      1e3 * all.foot_m);
  return finding;
}

Finding deflection_of(const MouldCase& c, const Compared& all) {
  const double shift_m = all.fine.shift_m;
  Finding finding = deflection_finding();
  finding.value = 1e3 * shift_m;
  finding.place_m = all.fine.shift_place_m;
  finding.verdict =
      verdict_of(shift_m / kMostShift_m, all.now.shift_high, all.sizes.resolved, all.coarse.shift_m / kMostShift_m);
  const bool is_hopeless = c.build.inside == Inside::kHollow && shift_m > c.build.wall_m;
  finding.why = fmt::format(
      "the mould is a {}; shell at {:.0f} °C in the mean, modulus {:.2g} GPa; 0.3 mm is what the published series of "
      "pressed models counts as true{}{}",
      build_text(c.build), shell_K(c) - 273.15, 1e-9 * modulus_Pa(c.build.resin, shell_K(c)),
      is_hopeless ? ". More than the wall is thick: it fails, how far it goes is not told" : "",
      unresolved_text(c, all));
  finding.uncertainty = fmt::format(
      "up to {:.2g} mm with the card's low end and a foot that slides ({:.2f} times); {:.2g} mm led on to cells of no "
      "size",
      1e3 * kMostShift_m * all.now.shift_high, all.foot.shift, 1e3 * all.ideal_shift_m);
  return finding;
}

/// Advice must not cost the answer: what it tries and cannot solve is told as not tried.
template <class Text>
std::string unless_error(const char* what, const Text& text) {
  try {
    return text();
  } catch (const Error& error) {
    return fmt::format("{} not tried: {}", what, error.fault().found);
  }
}

std::string advice_of(const MouldCase& c, const Compared& all, bool passes) {
  if (c.build.inside == Inside::kHollow) {
    const std::string shell = unless_error("other shells", [&] { return shell_text(c, all); });
    const std::string plaster = "; " + unless_error("plaster", [&] { return plaster_text(c, all); });
    return shell + plaster + (passes ? "" : "; or ribs, a cooler mould, a stiffer resin");
  }
  return passes ? ""
                : "a resin with a higher deflection temperature and strength, a radius at the place, or a cooler mould";
}

}  // namespace

MouldStrength no_mould_strength(const std::string& why, const std::string& advice) {
  MouldStrength none;
  for (Finding finding : {stress_finding(), deflection_finding()}) {
    finding.verdict = Verdict::kDoubt;
    finding.why = why;
    finding.advice = advice;
    none.findings.push_back(std::move(finding));
  }
  return none;
}

MouldSolution solve_mould(const MouldCase& c, const MouldLoad& load, double cell_m, double foot_m, bool slides) {
  const mesh::Nearest& surface = *c.formed.mould.surface();
  const mesh::Voxels cells = mould_cells(surface, c.build, cell_m, platform_of(c.formed), bored(c.vents, cell_m));
  const std::vector<NarrowPlace> narrow = narrow_vents(c.vents, surface, c.build, cell_m);
  mould::BodyOptions options = body_options(c, slides);
  for (const NarrowPlace& place : narrow) options.asked_m.push_back(place.at_m);
  mould::Body body(surface.mesh(), cells, options);
  const mould::BodyResult r = body.solve(load.forces);
  MouldSolution s;
  s.cell_m = cell_m;
  s.load_N = r.load_N;
  const double above_m = body.solid().low_m.z() + foot_m;
  find_at_triangles(c, r, above_m, s);
  find_at_nodes(c, body.solid(), r, above_m, s);
  find_at_vents(c, narrow, r, above_m, s);
  s.strength_Pa = strength_Pa(c.build.resin, peak_K(c, s.share_place_m));
  s.triangle_shift_m = r.triangle_shift_m;
  return s;
}

MouldStrength mould_strength(const MouldCase& c) {
  MouldLoad load = mould_load(c.formed, kLoadPiece_m);
  if (load.forces.empty())
    return no_mould_strength("no part of the sheet presses on the mould as the last stage ends",
                             "a stage that ends under pressure");
  const std::optional<Sizes> sizes = sizes_of(c);
  if (!sizes) {
    MouldStrength none = no_mould_strength(
        fmt::format("a shell of {:.2f} mm is too thin to be cut into cells in a mould of this size: not "
                    "resolved, and no number is given",
                    1e3 * c.build.wall_m),
        "a shell of 2 mm and more, better 5 mm (common practice), or plaster behind it");
    none.highest_Pa = load.highest_Pa, none.down_N = load.sum_N.z();
    return none;
  }
  Compared all = compared(c, std::move(load), *sizes);
  Finding stress = stress_of(c, all), deflection = deflection_of(c, all);
  const bool passes = stress.verdict == Verdict::kPass && deflection.verdict == Verdict::kPass;
  if (c.build.tries) stress.advice = deflection.advice = advice_of(c, all, passes);
  return {{std::move(stress), std::move(deflection)}, std::move(all.fine), all.load.highest_Pa, all.load.sum_N.z()};
}

}  // namespace pellicle::checks
