// Does the part come off the mould, with what force, and at what scale is the mould to be printed?
#include "solver/checks/demould.h"

#include "mesh/check.h"
#include "solver/checks/directions.h"
#include "solver/checks/grip.h"
#include "solver/checks/place.h"

#include <fmt/core.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <utility>

namespace pellicle::checks {
namespace {

using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
constexpr double kDegree = std::numbers::pi / 180.0;

/// Fabricators' and moulding guides (read): 2 degrees is typical; male moulds 1.5 to 3, cavities 2, or 0 if smooth and
/// 0.5 if textured.
constexpr double kWantedDraft = 2.0 * kDegree, kLeastDraft = 0.5 * kDegree;
constexpr double kEnoughDraft = kWantedDraft - 1e-6;     // two degrees drawn and rounded are enough
constexpr Estimate kFrictionWithAgent{0.1, 0.05, 0.15};  // with a release agent: an estimate
constexpr double kRoom_K = 293.15;
constexpr double kHand_N = 100.0;  // a firm pull with both hands; ours, for want of a published one
constexpr double kGauge = 0.10;    // thickness varies by so much (common practice)
/// Strain that holds nothing, and may be no more than the rounding of a file: a twelfth of what the weakest card bears.
constexpr double kHardlyHolds = 1e-3;
/// No card bears more than 7 % at its high end: what takes more fails whatever the sheet is.
constexpr double kNothingBears = 0.10;
/// A part formed in a cavity shrinks 20 to 50 % more than one held by a male mould (common practice).
constexpr Estimate kFreeShrinkage{1.35, 1.2, 1.5};
const double kLeansLess = std::cos(30.0 * kDegree);

Finding without_answer(Finding finding, std::string why, std::string advice = "") {
  finding.value = kNaN;
  finding.verdict = Verdict::kDoubt;
  finding.why = std::move(why);
  finding.advice = std::move(advice);
  return finding;
}

const std::optional<SolidPolymer>& solid(const Pull& pull) { return pull.formed.spec.solid; }
constexpr const char *kNoCard = "the solid polymer is not known: the case names no card in sheet.polymer",
                     *kNameCard = "name the sheet's card in sheet.polymer";

/// What another direction would do, or nothing if none is better.
std::string other_way(const Pull& pull) {
  if (!pull.best) return "";
  const PullMeasure now = measure_pull(pull.formed, pull.lying, pull.direction), &best = *pull.best;
  const bool frees = best.trapped_share < 0.1 * now.trapped_share;  // anything less is no way out
  const bool leans = best.trapped_share <= now.trapped_share && best.draft_rad > now.draft_rad + 0.5 * kDegree;
  if (!frees && !leans) return "; no other direction to pull in is better";
  return fmt::format(
      "; or pull along {}: 99 % of the part then have {:.1f} degrees of draft or more instead of {:.1f}, and {:.2g} % "
      "of it lie under something instead of {:.2g} %",
      direction_text(best.direction), best.draft_rad / kDegree, now.draft_rad / kDegree, 100.0 * best.trapped_share,
      100.0 * now.trapped_share);
}

/// Strain by which the part would be smaller than the mould it is on, at the ends of what is known.
Estimate misfit(const SolidPolymer& solid) {
  const double fall_K = std::max(0.0, solid.set_temperature_K - kRoom_K);
  const auto of = [&](double part, double mould, double warmed) {
    return std::max(0.0, (part - warmed * mould) * fall_K);
  };
  return {of(solid.expansion_1_K.likely, solid.mould_expansion_1_K, solid.mould_warmed),
          of(solid.expansion_1_K.low, kMouldExpansion_1_K.high, kMouldWarmed.high),
          of(solid.expansion_1_K.high, kMouldExpansion_1_K.low, kMouldWarmed.low)};
}

ShrinkStress shrink_stress(double modulus_Pa, double poisson, double strain) {
  return {modulus_Pa * strain, modulus_Pa * strain / (1.0 - poisson)};
}

/// Area of the part seen along the pull: what air from below pushes on.
double level_area_m2(const Pull& pull) {
  const auto& f = pull.formed.sheet;
  double sum = 0.0;
  for (const mesh::Triangle& t : f.triangles) {
    if (!pull.formed.in_part[at(t[0])] || !pull.formed.in_part[at(t[1])] || !pull.formed.in_part[at(t[2])]) continue;
    const Vec3 &a = f.points_m[at(t[0])], &b = f.points_m[at(t[1])], &c = f.points_m[at(t[2])];
    sum += 0.5 * (b - a).cross(c - a).dot(pull.direction);
  }
  return std::fabs(sum);
}

/// How far the part domes when air lifts it: a plate as thick as its mean and as wide as its narrower side.
double bulge_m(const Pull& pull, double pressure_Pa) {
  const auto& f = pull.formed.sheet;
  const Vec3 u = pull.direction.unitOrthogonal(), v = pull.direction.cross(u);
  Eigen::AlignedBox2d box;
  double sum_m = 0.0, count = 0.0;
  for (std::size_t t = 0; t < f.triangles.size(); ++t) {
    const mesh::Triangle& corners = f.triangles[t];
    if (!std::all_of(corners.begin(), corners.end(), [&](int i) { return pull.formed.in_part[at(i)] != 0; })) continue;
    sum_m += f.triangle_thickness_m[t], count += 1.0;
    for (const int i : corners) box.extend(mesh::Vec2(u.dot(f.points_m[at(i)]), v.dot(f.points_m[at(i)])));
  }
  if (count == 0.0) return 0.0;
  const SolidPolymer& s = *solid(pull);
  return lifted_bulge_m(pressure_Pa, 0.5 * box.sizes().minCoeff(), sum_m / count, s.elastic_modulus_Pa.likely,
                        s.poisson.likely);
}

/// Two digits, but no powers of ten.
std::string newtons(double force_N) { return fmt::format("{:.{}f}", force_N, force_N < 10.0 ? 1 : 0); }

std::string spread_text(const Estimate& force_N) {
  return fmt::format("{} N ({} to {} N)", newtons(force_N.likely), newtons(force_N.low), newtons(force_N.high));
}

/// What lifts it off without a release agent: air from below, or four tabs.
std::string lifting_text(const Pull& pull, const Estimate& dry_N) {
  const double area_m2 = level_area_m2(pull);
  const std::string most = fmt::format("{:.2g} bar of air from below or {} N on four tabs each",
                                       1e-5 * dry_N.high / area_m2, newtons(0.25 * dry_N.high));
  if (!(dry_N.likely > 0.0)) return "Its walls likely slip off by themselves; at most they ask for " + most;
  return fmt::format(
      "Without, likely {:.2g} bar of air from below, under which its middle domes by some {:.2g} mm, or {} N on four "
      "tabs each; at most {}",
      1e-5 * dry_N.likely / area_m2, 1e3 * bulge_m(pull, dry_N.likely / area_m2), newtons(0.25 * dry_N.likely), most);
}

/// The place where the pull is resisted most, per length of edge.
const Pressed* tightest(const std::vector<Pressed>& all, const Vec3& pull, double friction) {
  const Pressed* best = nullptr;
  double most = 0.0;
  for (const Pressed& p : all)
    if (const double own = lifting_force_N({p}, pull, friction); own > most) most = own, best = &p;
  return best;
}

}  // namespace

bool is_hindered(const Pull& pull) {
  return !pull.trapped.empty() || std::any_of(pull.lying.begin(), pull.lying.end(), [&](const Lying& l) {
    return draft_rad(l.mould_normal, pull.direction) < kEnoughDraft;
  });
}

Finding draft(const Pull& pull) {
  Finding finding{.id = "draft",
                  .question = "Do the walls lean enough to let the part go?",
                  .value = kNaN,
                  .unit = "degrees",
                  .limit = kWantedDraft / kDegree};
  if (pull.lying.empty())
    return without_answer(finding, "the sheet lies nowhere on the mould inside the trim",
                          "more pressure or a longer last stage, or another part.trim");
  const Lying* least = &pull.lying.front();
  for (const Lying& l : pull.lying)
    if (draft_rad(l.mould_normal, pull.direction) < draft_rad(least->mould_normal, pull.direction)) least = &l;
  const double least_rad = draft_rad(least->mould_normal, pull.direction);
  finding.value = least_rad / kDegree;
  finding.place_m = least->place_m;
  const std::vector<Wall> walls = steep_walls(pull.formed, pull.lying, pull.direction, kEnoughDraft);
  finding.uncertainty =
      "of the mould as drawn; guides differ: 1.5 to 3 degrees on a male mould, 2 in a cavity, 0 to 0.5 in a smooth one";
  if (walls.empty()) {
    finding.why = "every wall that the part lies on leans by 2 degrees or more, which is typical (moulding guides)";
    return finding;
  }
  double area_m2 = 0.0;
  const Wall* worst = nullptr;  // of those that are no mere relief
  for (const Wall& wall : walls) {
    area_m2 += wall.area_m2;
    if (wall.height_m > pull.formed.sheet.bought_thickness_m && worst == nullptr) worst = &wall;
  }
  finding.verdict = worst != nullptr && worst->least_draft_rad < kLeastDraft ? Verdict::kFail : Verdict::kDoubt;
  finding.why = fmt::format("{} wall{} with less than 2 degrees, {:.3g} mm^2 of the part; {}", walls.size(),
                            walls.size() == 1 ? "" : "s", 1e6 * area_m2,
                            worst == nullptr ? "none is higher than the sheet is thick"
                                             : fmt::format("the steepest is {:.2g} mm high, at {}",
                                                           1e3 * worst->height_m, place_text(worst->place_m)));
  finding.advice =
      "lean the walls by 2 degrees, 3 on a male mould, and 1 more for each 0.025 mm of texture depth "
      "(moulding guides)" +
      other_way(pull);
  return finding;
}

Finding undercut(const Pull& pull) {
  Finding finding{.id = "undercut", .question = "Does the mould hold the part from above?", .value = 0.0, .unit = "mm"};
  if (pull.trapped.empty()) {
    finding.why = fmt::format(
        "looked straight up from the middle of each triangle of the part, nothing of the mould stands over it by more "
        "than {:.2g} mm, a thousandth of the bought thickness",
        1e3 * kOffMould * pull.formed.sheet.bought_thickness_m);
    return finding;
  }
  const Trapped* worst = &pull.trapped.front();
  for (const Trapped& t : pull.trapped)
    if (std::pair(t.hooked, t.interlock_strain()) > std::pair(worst->hooked, worst->interlock_strain())) worst = &t;
  const double strain = worst->interlock_strain();
  finding.value = 1e3 * worst->depth_m;
  finding.place_m = worst->place_m;
  finding.verdict = strain > kHardlyHolds ? Verdict::kDoubt : Verdict::kPass;
  finding.why =
      worst->hooked
          ? "the part hooks in: no way out sideways is found, up to the size of the mould, which is the value told"
          : fmt::format("to pass the lip a ring of half width {:.3g} mm has to {} by {:.2g} %",
                        1e3 * worst->half_width_m, worst->in_cavity ? "be pressed inwards" : "widen", 100.0 * strain);
  finding.uncertainty =
      "strain = depth over half width, as of a closed ring: a long side gives way by bending and takes less; a part "
      "pressed inwards may buckle free";
  if (finding.verdict == Verdict::kPass) return finding;
  finding.advice = "take the overhang away, split the mould, or blow air below the rim" + other_way(pull);
  if (!solid(pull)) {
    finding.why += std::string("; ") + kNoCard;
    if (strain <= kNothingBears) return finding;
    finding.verdict = Verdict::kFail;
    if (!worst->hooked) finding.why += fmt::format(", but none bears {:.0f} %", 100.0 * kNothingBears);
    return finding;
  }
  const Estimate& yield = solid(pull)->yield_strain;
  if (!worst->hooked) finding.limit = 1e3 * yield.likely * worst->half_width_m;
  finding.why += fmt::format("; the solid polymer bears {:.2g} % ({:.2g} to {:.2g} %)", 100.0 * yield.likely,
                             100.0 * yield.low, 100.0 * yield.high);
  if (strain > yield.likely) finding.verdict = Verdict::kFail;
  if (strain <= yield.low)
    finding.advice =
        "the part snaps off: try it on a first part, take it off warm, and use a release agent; or " + finding.advice;
  return finding;
}

Finding release(const Pull& pull) {
  Finding finding{.id = "release",
                  .question = "With what force does the part come off, once it has shrunk on?",
                  .value = kNaN,
                  .unit = "N",
                  .limit = kHand_N};
  if (!solid(pull)) return without_answer(finding, kNoCard, kNameCard);
  const SolidPolymer& s = *solid(pull);
  const Estimate strain = misfit(s);
  const std::vector<HeldEdge> edges = held_edges(pull.formed, pull.direction);
  const auto presses = [&](double modulus_Pa, double poisson, double by) {
    return pressed(edges, shrink_stress(modulus_Pa, poisson, by));
  };
  const auto likely = presses(s.elastic_modulus_Pa.likely, s.poisson.likely, strain.likely);
  const auto low = presses((1.0 - kGauge) * s.elastic_modulus_Pa.low, s.poisson.low, strain.low);
  const auto high = presses((1.0 + kGauge) * s.elastic_modulus_Pa.high, s.poisson.high, strain.high);
  const auto force = [&](const Estimate& friction) {
    return Estimate{lifting_force_N(likely, pull.direction, friction.likely),
                    lifting_force_N(low, pull.direction, friction.low),
                    lifting_force_N(high, pull.direction, friction.high)};
  };
  const Estimate dry = force({s.friction, kPartFriction.low, kPartFriction.high}), agent = force(kFrictionWithAgent);
  finding.value = dry.likely;
  finding.uncertainty = fmt::format(
      "{} to {} N with all that is known least at its ends: friction 0.1 to 0.3 (0.05 to 0.15 with an agent, "
      "estimate), stiffness, contraction, a mould that stays cold or is warm through; undercuts and texture come on "
      "top",
      newtons(dry.low), newtons(dry.high));
  const Pressed* place = tightest(likely, pull.direction, s.friction);
  if (place == nullptr) place = tightest(high, pull.direction, kPartFriction.high);
  if (place != nullptr) finding.place_m = place->place_m;
  if (!(dry.high > 0.0)) {
    finding.why = "the part grips nothing: it shrinks away from the mould, or its walls lean enough to slip";
    return finding;
  }
  finding.why = fmt::format(
      "cooled from {:.0f} to {:.0f} degrees C the part would be {:.2g} % smaller than the mould; without release agent "
      "{}, with one {}. {}",
      s.set_temperature_K - 273.15, kRoom_K - 273.15, 100.0 * strain.likely, spread_text(dry), spread_text(agent),
      lifting_text(pull, dry));
  if (dry.high <= kHand_N) return finding;
  finding.verdict = agent.likely <= kHand_N ? Verdict::kDoubt : Verdict::kFail;
  finding.advice = fmt::format(
      "{}more draft; take the part off as soon as it has set; let air in below it. Pull evenly all round: a wall of "
      "{:.2g} mm pulled at one side bends and jams. {:.0f} N is taken as what two hands pull (ours)",
      dry.likely > kHand_N ? "use a release agent; " : "keep a release agent ready; ",
      1e3 * pull.formed.sheet.bought_thickness_m, kHand_N);
  return finding;
}

Finding shrinkage(const Pull& pull) {
  Finding finding{.id = "shrinkage",
                  .question = "How much larger than the part is the mould to be printed?",
                  .value = kNaN,
                  .unit = "%"};
  if (!solid(pull)) return without_answer(finding, kNoCard, kNameCard);
  const Estimate& held = solid(pull)->shrinkage;
  const double cavity = cavity_share(pull.formed, pull.lying, pull.direction);
  const bool is_female = cavity > 0.75, is_mixed = !is_female && cavity > 0.25;
  const double likely = held.likely * (1.0 + cavity * (kFreeShrinkage.likely - 1.0));
  const double low = held.low * (is_female ? kFreeShrinkage.low : 1.0);
  const double high = held.high * (is_female || is_mixed ? kFreeShrinkage.high : 1.0);
  Eigen::AlignedBox3d box;
  for (const Vec3& p : pull.formed.mould.surface()->mesh().points_m) box.extend(p);
  const double longest_m = box.sizes().maxCoeff();
  const double scale = 1.0 / (1.0 - likely);
  finding.value = 100.0 * (scale - 1.0);
  finding.why = fmt::format(
      "formed {} the part ends {:.2g} % smaller than the mould ({:.2g} to {:.2g} %): {:.2g} mm on {:.3g} mm",
      is_female  ? "in a cavity"
      : is_mixed ? "round the mould and in its cavities"
                 : "round the mould",
      100.0 * likely, 100.0 * low, 100.0 * high, 1e3 * likely * longest_m, 1e3 * longest_m);
  finding.uncertainty = fmt::format(
      "scale {:.4f} to {:.4f}; in a cavity 20 to 50 % more than round a mould (common practice); extruded sheet also "
      "pulls back along its length",
      1.0 / (1.0 - low), 1.0 / (1.0 - high));
  finding.advice =
      fmt::format("print the mould at {:.4f} of the part's size, measure the first part and correct", scale);
  return finding;
}

DemouldField demould_field(const Pull& pull) {
  const mesh::Nearest& surface = *pull.formed.mould.surface();
  const auto& f = pull.formed.sheet;
  const std::size_t m = surface.mesh().triangles.size();
  DemouldField field{std::vector<double>(m, kNaN), std::vector<double>(m, kNaN)};
  std::vector<double> depth_m(f.triangles.size(), 0.0);
  for (const Trapped& t : pull.trapped) depth_m[at(t.triangle)] = t.depth_m;
  const auto put = [&](int triangle, double undercut_m) {
    double& stored = field.undercut_m[at(triangle)];
    stored = std::isnan(stored) ? undercut_m : std::max(stored, undercut_m);
    field.draft_deg[at(triangle)] = draft_rad(surface.normal(triangle), pull.direction) / kDegree;
  };
  for (const Lying& l : pull.lying) put(l.mould_triangle, depth_m[at(l.triangle)]);
  for (const Trapped& t : pull.trapped) put(t.mould_triangle, t.depth_m);
  // Triangles of the mould so small that no middle of a sheet's came to lie on them.
  mesh::TriangleMesh cover{f.points_m, {}};
  for (const Lying& l : pull.lying) cover.triangles.push_back(f.triangles[at(l.triangle)]);
  const mesh::Nearest sheet(std::move(cover));
  for (std::size_t e = 0; e < m; ++e) {
    if (!std::isnan(field.draft_deg[e])) continue;
    const mesh::Triangle& t = surface.mesh().triangles[e];
    const auto& p = surface.mesh().points_m;
    const mesh::Closest over =
        sheet.closest((p[at(t[0])] + p[at(t[1])] + p[at(t[2])]) / 3.0, kOnMould * f.bought_thickness_m);
    if (over.triangle < 0) continue;
    const Lying& l = pull.lying[at(over.triangle)];
    if (l.sheet_normal.dot(surface.normal(static_cast<int>(e))) > kLeansLess)
      put(static_cast<int>(e), depth_m[at(l.triangle)]);
  }
  return field;
}

Demoulding demould(const Formed& formed) {
  ensure(formed.mould.surface().has_value(), "a part comes off a mould");
  const std::vector<Lying> lying = lying_in_part(formed);
  const Vec3 up = Vec3::UnitZ();
  const std::vector<Trapped> held = trapped(formed, up);
  Pull pull{formed, lying, held, up};
  if (!lying.empty() && is_hindered(pull)) pull.best = best_pull(formed, lying);
  return {{draft(pull), undercut(pull), release(pull), shrinkage(pull)}, demould_field(pull)};
}

}  // namespace pellicle::checks
