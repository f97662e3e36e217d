// Does the printed mould bear the pressure, how far does it give way, and how thick must its shell be?
#include "solver/checks/mould_strength.h"

#include "mesh/check.h"
#include "solver/checks/mould_cells.h"
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

constexpr int kThroughWall =
    4;  // fine cells through a shell that spans freely; bricks with bubbles bend well with fewer
constexpr double kFinest_m = 0.125e-3, kCoarsest_m = 1e-3;  // of the fine cells
constexpr CellBudget kFineCells{200e3, 8e6};                // some ten seconds
constexpr double kMostOver = 3.0;  // times the budget, if only so two sizes of cells fit into a thin wall
constexpr double kLoadPiece_m = 0.5e-3;
constexpr double kFoot_m = 1.5e-3;  // or two coarse cells, but no more than a quarter of the mould
constexpr double kDiffer = 0.25;    // two sizes of cells: more is a corner without a radius
/// Under repeated load glassy resins crack at a third to two thirds of their strength (from memory); ours.
constexpr double kCycledShare = 0.5;
/// Within 0.3 mm is what the published series of hollow models counts (Bennett & DiGiovanni, read).
constexpr double kMostShift_m = 0.3e-3;
/// Cast plaster, dry (from memory). Its own cracks are not looked for.
constexpr mould::Elastic kPlaster{4e9, 0.22};
constexpr double kWallStep_m = 0.5e-3, kThickestWall_m = 20e-3;
constexpr int kWallTries = 4;
constexpr double kWorkingShare = 0.95;  // of the nodes of the shell are stressed less than what it works at
constexpr double kFailsAnyhow =
    2.0;  // times the limit, in both sizes: fails even where cells are too few through a wall

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
    const Vec3 middle = (m.points_m[at(t[0])] + m.points_m[at(t[1])] + m.points_m[at(t[2])]) / 3.0;
    // The largest of its places is told, wherever on it that is: one that reaches down to the foot says nothing.
    if (std::min({m.points_m[at(t[0])].z(), m.points_m[at(t[1])].z(), m.points_m[at(t[2])].z()}) < above_m) continue;
    const double tension_Pa = counting_Pa(r.principal_Pa[k], r.across_Pa[k], c.build.resin);
    s.triangle_share[k] = tension_Pa / strength_Pa(c.build.resin, peak_K(c, middle));
    if (s.triangle_share[k] > s.share)
      s.share = s.triangle_share[k], s.share_place_m = middle, s.tension_Pa = tension_Pa;
  }
}

MouldCase with_build(const MouldCase& c, const MouldBuild& build) {
  return {c.formed, build, c.build_direction, c.warmth, c.stop};
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

/// None: a wall this thin in a mould this large is not cut into two sizes of cells in reasonable time.
std::optional<Sizes> sizes_of(const mesh::Nearest& surface, const MouldBuild& build) {
  const bool spans = build.inside == Inside::kHollow;
  const double wanted_m =
      build.inside == Inside::kSolid ? kCoarsest_m : std::clamp(build.wall_m / kThroughWall, kFinest_m, kCoarsest_m);
  double fine_m = affordable_cell_m(surface, build, spans ? wanted_m : kCoarsest_m, kFineCells);
  if (build.inside != Inside::kSolid && fine_m > 0.5 * build.wall_m) {
    fine_m = 0.5 * build.wall_m;
    const CellBudget most{kMostOver * kFineCells.solid, kMostOver * kFineCells.box};
    if (affordable_cell_m(surface, build, fine_m, most) > fine_m * (1.0 + 1e-9)) return std::nullopt;
  }
  return Sizes{fine_m, 2.0 * fine_m, !spans || fine_m <= build.wall_m / kThroughWall * (1.0 + 1e-9)};
}

double coarse_cell_m(const mesh::Nearest& surface, const MouldBuild& build) {
  constexpr double kTrialCells = 3.0;  // through a wall that is only tried
  const CellBudget quick{0.25 * kFineCells.solid, 0.25 * kFineCells.box};
  const double wanted_m = std::clamp(build.wall_m / kTrialCells, kFinest_m, 2.0 * kCoarsest_m);
  return std::min(affordable_cell_m(surface, build, wanted_m, quick), build.wall_m);
}

/// The smallest shell that holds, by whole steps, each tried by solving; bending stress goes with 1/wall^2 and sag with
/// 1/wall^3 at the most. Empty: none was found.
struct Shell {
  double wall_m;
  Judged judged;
  double tension_Pa;
};
std::optional<Shell> smallest_shell(const MouldCase& c, const MouldLoad& load, double foot_m, const Judged& now,
                                    const Doubts& doubts) {
  const double most = std::max(std::sqrt(now.share_high), std::cbrt(now.shift_high));
  const double thickest_m = std::min(kThickestWall_m, 0.5 * height_m(c.formed));
  const auto in_steps = [](double wall_m) { return std::ceil(wall_m / kWallStep_m - 1e-6) * kWallStep_m; };
  double wall_m = in_steps(c.build.wall_m * std::clamp(most, 0.25, 8.0)), too_thin_m = 0.0;
  std::optional<Shell> best;
  for (int tries = 0; tries < kWallTries; ++tries) {
    wall_m = std::clamp(wall_m, kWallStep_m, in_steps(thickest_m));
    if (wall_m <= too_thin_m || (best && wall_m >= best->wall_m)) break;
    MouldBuild build = c.build;
    build.wall_m = wall_m;
    const MouldCase trial = with_build(c, build);
    const MouldSolution s = solve_mould(trial, load, coarse_cell_m(*c.formed.mould.surface(), build), foot_m);
    const Judged j = judged(trial, s, doubts);
    if (j.holds()) {
      best = Shell{wall_m, j, s.tension_Pa};
      wall_m -= kWallStep_m;
    } else {
      too_thin_m = wall_m;
      wall_m = in_steps(wall_m * std::max(1.05, std::max(std::sqrt(j.share_high), std::cbrt(j.shift_high))));
    }
  }
  return best;
}

std::string plaster_text(const MouldCase& c, const MouldLoad& load, double foot_m, const Doubts& doubts) {
  MouldBuild build = c.build;
  build.inside = Inside::kFilled;
  const MouldCase trial = with_build(c, build);
  const MouldSolution s = solve_mould(
      trial, load,
      affordable_cell_m(*c.formed.mould.surface(), build, std::min(2.0 * kCoarsest_m, build.wall_m), kFineCells),
      foot_m);
  const Judged j = judged(trial, s, doubts);
  return fmt::format("filled with plaster this shell {}: {:.2g} MPa, {:.2g} mm", j.holds() ? "holds" : "does not hold",
                     1e-6 * s.tension_Pa, 1e3 * s.shift_m);
}

Verdict verdict_of(double likely, double high, bool resolved, double coarse) {
  if (!resolved) return std::min(likely, coarse) > kFailsAnyhow ? Verdict::kFail : Verdict::kDoubt;
  return likely > 1.0 ? Verdict::kFail : high > 1.0 ? Verdict::kDoubt : Verdict::kPass;
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
  const mesh::Voxels cells = mould_cells(surface, c.build, cell_m, platform_of(c.formed));
  mould::Body body(surface.mesh(), cells, body_options(c, slides));
  const mould::BodyResult r = body.solve(load.forces);
  MouldSolution s;
  s.cell_m = cell_m;
  s.load_N = r.load_N;
  const double above_m = body.solid().low_m.z() + foot_m;
  find_at_triangles(c, r, above_m, s);
  find_at_nodes(c, body.solid(), r, above_m, s);
  s.strength_Pa = strength_Pa(c.build.resin, peak_K(c, s.share_place_m));
  s.triangle_shift_m = r.triangle_shift_m;
  return s;
}

MouldStrength mould_strength(const MouldCase& c) {
  const mesh::Nearest& surface = *c.formed.mould.surface();
  const MouldLoad load = mould_load(c.formed, kLoadPiece_m);
  if (load.forces.empty())
    return no_mould_strength("no part of the sheet presses on the mould as the last stage ends",
                             "a stage that ends under pressure");
  const std::optional<Sizes> sizes = sizes_of(surface, c.build);
  if (!sizes)
    return no_mould_strength(
        fmt::format("a shell of {:.2f} mm is too thin to be cut into cells in a mould of this size: not "
                    "resolved, and no number is given",
                    1e3 * c.build.wall_m),
        "a shell of 2 mm and more, better 5 mm (common practice), or plaster behind it");
  const double foot_m = std::min(std::max(kFoot_m, 2.0 * sizes->coarse_m), 0.25 * height_m(c.formed));
  const MouldSolution coarse = solve_mould(c, load, sizes->coarse_m, foot_m);
  const MouldSolution slid = solve_mould(c, load, sizes->coarse_m, foot_m, true);
  MouldStrength answer;
  answer.solution = solve_mould(c, load, sizes->fine_m, foot_m);
  const MouldSolution& fine = answer.solution;

  // Coarse against fine: shifts come closer with the cells' size, stresses are bracketed.
  const mould::Extrapolated shift = mould::extrapolated(coarse.shift_m, fine.shift_m, sizes->coarse_m / sizes->fine_m);
  const bool is_sharp = fine.share - coarse.share > kDiffer * fine.share && fine.share > 0.0;
  const auto ratio = [](double a, double b) { return b > 0.0 ? std::max(1.0, a / b) : 1.0; };
  const double stress_off = fine.share > 0.0 ? std::abs(fine.share - coarse.share) / fine.share : 0.0;
  const Doubts foot{ratio(slid.share, coarse.share), ratio(slid.shift_m, coarse.shift_m)};
  const Doubts doubts{foot.share * (is_sharp ? 2.0 : 1.0 + stress_off),
                      foot.shift * (1.0 + (fine.shift_m > 0.0 ? shift.error / fine.shift_m : 0.0))};
  const Judged now = judged(c, fine, doubts), rough = judged(c, coarse, doubts);

  Finding stress = stress_finding(), deflection = deflection_finding();
  stress.value = 1e-6 * fine.tension_Pa;
  stress.limit = 1e-6 * kCycledShare * fine.strength_Pa;
  if (fine.share > 0.0) stress.place_m = fine.share_place_m;
  stress.verdict = verdict_of(now.share, now.share_high, sizes->resolved, rough.share);
  deflection.value = 1e3 * fine.shift_m;
  deflection.place_m = fine.shift_place_m;
  deflection.verdict =
      verdict_of(now.shift_m / kMostShift_m, now.shift_high, sizes->resolved, rough.shift_m / kMostShift_m);

  const std::string under = build_text(c.build);
  const std::string unresolved = sizes->resolved
                                     ? ""
                                     : fmt::format(". Not resolved: {:.1f} cells through the shell where {} are wanted",
                                                   c.build.wall_m / sizes->fine_m, kThroughWall);
  const double there_K = peak_K(c, fine.share_place_m);
  stress.why = fmt::format(
      "the sheet presses with up to {:.2g} bar, {:.3g} N straight down in all; the mould is a {}. {}{:.0f} % of the "
      "strength of {} resin at {:.0f} °C there, {:.0f} MPa, of which many pressings may use half (ours){}",
      1e-5 * load.highest_Pa, -load.sum_N.z(), under,
      fine.tension_Pa > 0.0 ? "The tension is " : "Nothing of the shell is pulled: ", 100.0 * fine.share,
      c.build.resin.name, there_K - 273.15, 1e-6 * fine.strength_Pa, unresolved);
  stress.uncertainty = fmt::format(
      "up to {:.0f} % of what it may bear, with the card's low end, layers at {:.0f} % of the strength, cells of "
      "{:.2g} "
      "and {:.2g} mm ({:.2g} and {:.2g} MPa{}) and a foot that slides ({:.2f} times); creep, impact, buckling of thin "
      "shells and cracks from chips are not in it, nor is the foot's lowest {:.1f} mm",
      100.0 * now.share_high, 100.0 * c.build.resin.across_layers.low, 1e3 * sizes->coarse_m, 1e3 * sizes->fine_m,
      1e-6 * coarse.tension_Pa, 1e-6 * fine.tension_Pa,
      is_sharp ? ": a sharp inner corner, doubled for the radius that is not drawn" : "", foot.share, 1e3 * foot_m);
  deflection.why = fmt::format(
      "the mould is a {}; shell at {:.0f} °C in the mean, modulus {:.2g} GPa; 0.3 mm is what the published series of "
      "pressed models "
      "counts as true{}{}",
      under, shell_K(c) - 273.15, 1e-9 * modulus_Pa(c.build.resin, shell_K(c)),
      c.build.inside == Inside::kHollow && fine.shift_m > c.build.wall_m
          ? ". More than the wall is thick: it fails, how far it goes is not told"
          : "",
      unresolved);
  deflection.uncertainty = fmt::format(
      "up to {:.2g} mm with the card's low end and a foot that slides ({:.2f} times); {:.2g} mm led on to cells of no "
      "size",
      1e3 * kMostShift_m * now.shift_high, foot.shift, 1e3 * shift.value);

  const bool both_pass = stress.verdict == Verdict::kPass && deflection.verdict == Verdict::kPass;
  std::string advice;
  if (c.build.inside == Inside::kHollow) {
    const std::optional<Shell> shell = smallest_shell(c, load, foot_m, now, doubts);
    const std::string found =
        shell ? fmt::format(
                    "the smallest shell that holds, tried in steps of 0.5 mm, is {:.1f} mm ({:.2g} MPa, {:.2g} "
                    "mm); common practice takes 5 mm and more",
                    1e3 * shell->wall_m, 1e-6 * shell->tension_Pa, 1e3 * shell->judged.shift_m)
              : "no hollow shell was found that holds";
    advice = both_pass ? found
                       : fmt::format("{}; {}; or ribs, a cooler mould, a stiffer resin", found,
                                     plaster_text(c, load, foot_m, doubts));
  } else if (!both_pass) {
    advice = "a resin with a higher deflection temperature and strength, a radius at the place, or a cooler mould";
  }
  stress.advice = deflection.advice = advice;
  answer.findings = {std::move(stress), std::move(deflection)};
  return answer;
}

}  // namespace pellicle::checks
