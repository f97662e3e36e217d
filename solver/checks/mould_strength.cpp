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

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

/// Fine cells through a shell that spans freely; bricks with bubbles bend well with fewer (mould_body.md).
constexpr int kThroughWall = 4;
/// ... through the height of a block or of what is filled.
constexpr int kThroughSolid = 10;
constexpr double kFinest_m = 0.125e-3, kCoarsest_m = 1e-3;  // of the fine cells
constexpr double kBoxCells = 40.0;                          // with air, for each with material
constexpr double kMostOver = 3.0;     // times the budget, if only so two sizes of cells fit into a thin wall
constexpr double kLeastRatio = 1.25;  // ... which differ by so much at least
constexpr double kLoadPiece_m = 0.5e-3;
constexpr double kFoot_m = 1.5e-3;  // or two coarse cells, but no more than a quarter of the mould
constexpr double kDiffer = 0.25;    // between two sizes of cells: more is a corner without a radius
/// Times the limit, in both sizes: fails even where cells are too few through a wall.
constexpr double kFailsAnyhow = 2.0;
/// Within 0.3 mm is what the published series of hollow models counts (Bennett & DiGiovanni, read).
constexpr double kMostShift_m = 0.3e-3;
constexpr double kWallStep_m = 0.5e-3, kThickestWall_m = 20e-3;
constexpr int kWallTries = 4;
constexpr double kAboveGas = 1.1;  // contact is a mean that comes and goes by some percent

double height_m(const Formed& f) {
  Eigen::AlignedBox3d box;
  for (const Vec3& p : f.mould.surface()->mesh().points_m) box.extend(p);
  if (f.mould.has_platform()) box.extend(Vec3(box.min().x(), box.min().y(), 0.0));
  return box.sizes().z();
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

/// What a foot that slides adds to a quantity, where it is `at`. With another shell it grows as the quantity does.
struct Foot {
  double adds, at;
  double with(double found) const { return found + (at > 0.0 ? adds * found / at : adds); }
};

/// What the foot's holding adds, and the coarseness of cells as factors from 1 on.
struct Doubts {
  Foot foot_share, foot_shift_m;
  double share, shift;
};

Judged judged(const MouldCase& c, const MouldSolution& s, const Doubts& doubts) {
  const ResinSpec& resin = c.build.resin;
  const double at_K = peak_K(c, s.share_place_m), mean_K = shell_K(c);
  const double weaker = strength_Pa(resin, at_K) / strength_Pa(resin, at_K, End::kLow) * resin.across_layers.likely /
                        resin.across_layers.low;
  const double softer = modulus_Pa(resin, mean_K) / modulus_Pa(resin, mean_K, End::kLow);
  return {s.share / kCycledShare, doubts.foot_share.with(s.share) / kCycledShare * weaker * doubts.share, s.shift_m,
          doubts.foot_shift_m.with(s.shift_m) / kMostShift_m * softer * doubts.shift};
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
    fine_m = affordable_cell_m(surface, build, 0.5 * build.wall_m, budget(c, kMostOver));
    if (fine_m > build.wall_m / kLeastRatio) return std::nullopt;
  }
  const double coarse_m = build.inside == Inside::kSolid ? 2.0 * fine_m : std::min(2.0 * fine_m, build.wall_m);
  return Sizes{fine_m, coarse_m, !spans || fine_m <= build.wall_m / kThroughWall * (1.0 + 1e-9)};
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
  Doubts doubts;
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
  const auto part_of = [](double part, double whole) { return whole > 0.0 ? part / whole : 0.0; };
  const bool is_sharp = part_of(fine.share - coarse.share, fine.share) > kDiffer;
  const Doubts doubts{{std::max(0.0, slid.share - coarse.share), fine.share},
                      {std::max(0.0, slid.shift_m - coarse.shift_m), fine.shift_m},
                      is_sharp ? 2.0 : 1.0 + part_of(std::abs(fine.share - coarse.share), fine.share),
                      1.0 + part_of(shift.error, fine.shift_m)};
  const Judged now = judged(c, fine, doubts), rough = judged(c, coarse, doubts);
  return {std::move(load), sizes, foot_m, std::move(coarse), std::move(fine), doubts, shift.value,
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
  return narrow_vents(c.vents, *c.formed.mould.surface(), c.build, all.sizes.fine_m).empty()
             ? "; its air holes are wide enough to be cut out of the cells"
             : "; nothing pulls beside its air holes";
}

std::string unresolved_text(const MouldCase& c, const Compared& all) {
  if (all.sizes.resolved) return "";
  return fmt::format(". Not resolved: {:.1f} cells through the shell where {} are wanted",
                     c.build.wall_m / all.sizes.fine_m, kThroughWall);
}

/// "83 %", "0.3 %", "0 %".
std::string percent_text(double share) {
  return fmt::format("{:.{}f} %", 100.0 * share, share > 0.0 && share < 0.1 ? 1 : 0);
}

/// Nobody wants more than ten times told in percent.
std::string at_most_text(double share) { return share > 10.0 ? "more than ten times" : "up to " + percent_text(share); }

/// With what the sheet presses: more than the gas at edges, round which it is stretched.
std::string load_text(const MouldCase& c, const MouldLoad& load) {
  const double gas_Pa = c.formed.sheet.pressure_Pa;
  const std::vector<double>& since_Pa = c.formed.sheet.pressure_since_Pa;
  const double most_gas_Pa = since_Pa.empty() ? gas_Pa : *std::max_element(since_Pa.begin(), since_Pa.end());
  std::string where;
  if (gas_Pa > 0.0 && load.highest_Pa > kAboveGas * std::max(gas_Pa, most_gas_Pa))
    where = fmt::format(" at edges round which it is stretched ({:.2g} bar of gas)", 1e-5 * gas_Pa);
  else if (gas_Pa > 0.0 && load.highest_Pa > kAboveGas * gas_Pa)
    where = fmt::format(" (the gas of an earlier stage, {:.2g} bar at the end)", 1e-5 * gas_Pa);
  return fmt::format("the sheet presses with up to {:.2g} bar{}, {:.0f} N straight down in all", 1e-5 * load.highest_Pa,
                     where, -load.sum_N.z());
}

Finding stress_of(const MouldCase& c, const Compared& all) {
  const MouldSolution& fine = all.fine;
  Finding finding = stress_finding();
  finding.value = 1e-6 * fine.tension_Pa;
  finding.limit = 1e-6 * kCycledShare * fine.strength_Pa;
  if (fine.share > 0.0) finding.place_m = fine.share_place_m;
  finding.verdict = verdict_of(all.now.share, all.now.share_high, all.sizes.resolved, all.rough.share);
  finding.why = fmt::format(
      "{}; the mould is a {}. {}{} of the strength of {} resin at {:.0f} °C there, {:.2g} MPa, of which many "
      "pressings may use half (ours){}{}",
      load_text(c, all.load), build_text(c.build),
      fine.tension_Pa > 0.0 ? "The tension is " : "Nothing of the shell is pulled: ", percent_text(fine.share),
      c.build.resin.name, peak_K(c, fine.share_place_m) - 273.15, 1e-6 * fine.strength_Pa, vents_text(c, all),
      unresolved_text(c, all));
  finding.uncertainty = fmt::format(
      "{} of what it may bear, with the card's low end, layers at {:.0f} % of the strength, cells of {:.2g} and "
      "{:.2g} mm ({:.2g} and {:.2g} MPa{}) and a foot that slides ({:.2g} MPa more); creep and buckling are told "
      "apart; "
      "impact and cracks from chips are not in it, nor is the foot's lowest {:.1f} mm",
      at_most_text(all.now.share_high), 100.0 * c.build.resin.across_layers.low, 1e3 * all.sizes.coarse_m,
      1e3 * all.sizes.fine_m, 1e-6 * all.coarse.tension_Pa, 1e-6 * fine.tension_Pa,
      all.is_sharp ? ": a sharp inner corner, doubled for the radius that is not drawn" : "",
      1e-6 * all.doubts.foot_share.adds * fine.strength_Pa, 1e3 * all.foot_m);
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
      "the mould is a {}; resin at {:.0f} °C in the mean, modulus {:.2g} GPa; 0.3 mm is what the published series of "
      "pressed models counts as true{}{}",
      build_text(c.build), shell_K(c) - 273.15, 1e-9 * modulus_Pa(c.build.resin, shell_K(c)),
      is_hopeless ? ". More than the wall is thick: it fails, how far it goes is not told" : "",
      unresolved_text(c, all));
  finding.uncertainty = fmt::format(
      "up to {:.2g} mm with the card's low end and a foot that slides ({:.2g} mm more); {:.2g} mm led on to cells of "
      "no "
      "size",
      1e3 * kMostShift_m * all.now.shift_high, 1e3 * all.doubts.foot_shift_m.adds, 1e3 * all.ideal_shift_m);
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
