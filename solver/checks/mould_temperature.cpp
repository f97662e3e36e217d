// How warm does the mould get, part after part, and how fast may it be used?
#include "solver/checks/mould_temperature.h"

#include "mesh/check.h"
#include "solver/checks/mould_cells.h"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace pellicle::checks {
namespace {

using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
constexpr double kIceMelts_K = 273.15;

/// A mould of some centimetres goes through some dozens of cycles, each of some dozens of steps, in seconds.
constexpr CellBudget kHeatCells{15e3, 1e6};
constexpr double kMostHeatCells = 40e3;  // thin walls need a cell each, and more of them nobody waits for
constexpr double kHeatCell_m = 1e-3;
constexpr int kStagesSteps = 3, kHoldSteps = 8, kOpenSteps = 8;
constexpr double kSettled_K = 0.1;
constexpr double kHeatTolerance = 1e-6;  // of what warms and cools: of some hundred kelvin far less than settled_K
constexpr int kFirstParts = 5;           // after them only the slowest pattern of warming is left

/// Plaster: 998 kg/m3, 1.52 kJ/kgK, 0.30 W/mK (10.21307/acee-2019-037, read).
constexpr mould::Conductor kPlaster{0.30, 998.0 * 1520.0};
constexpr double kAir_K = 293.15;  // of the room and of the gas, as HeatSpec

constexpr double kLongestOpen_s = 3600.0;
constexpr double kShortest_s = 1.0;  // nobody lays a sheet on sooner
constexpr int kPaceTries = 4;
constexpr double kCloseEnough_K = 1.0;  // of a pace found with the averaged exchange, followed through

mould::Conductor resin_conductor(const ResinSpec& r) {
  return {r.conductivity_W_mK.likely, r.density_kg_m3.likely * r.specific_heat_J_kgK.likely};
}

double effusivity(const mould::Conductor& c) { return std::sqrt(c.conductivity_W_mK * c.capacity_J_m3K); }

std::optional<double> platform_of(const Formed& f) {
  return f.mould.has_platform() ? std::optional(0.0) : std::nullopt;
}

double heat_cell_m(const Formed& f, const MouldBuild& build) {
  const mesh::Nearest& surface = *f.mould.surface();
  const double cell_m = affordable_cell_m(surface, build, kHeatCell_m, kHeatCells);
  if (build.inside == mesh::Inside::kSolid || cell_m <= build.wall_m) return cell_m;
  const double thin_m = affordable_cell_m(surface, build, build.wall_m, {kMostHeatCells, 1e7});
  if (thin_m > build.wall_m * (1.0 + 1e-9))
    throw Error({Fault::Kind::kGeometry, "heat of the mould",
                 fmt::format("a wall of {:.2f} mm in a mould of this size", 1e3 * build.wall_m),
                 fmt::format("a wall of {:.2f} mm or more: it is cut into cells no larger", 1e3 * thin_m),
                 "a thicker wall, which such a mould wants anyway"});
  return build.wall_m;
}

mould::HeatOptions heat_options(const MouldBuild& build, const MouldStop& stop) {
  mould::HeatOptions o;
  o.shell = resin_conductor(build.resin);
  o.fill = kPlaster;
  o.base_film_W_m2K = build.base_W_m2K;
  o.base_K = o.start_K = build.start_K;
  o.settled_K = kSettled_K;
  o.solve.tolerance = kHeatTolerance;
  o.solve.stop = stop;
  return o;
}

double celsius(double K) { return K - kIceMelts_K; }

}  // namespace

double touch_K(const sheet::HeatMaterial& polymer, double sheet_K, const ResinSpec& resin, double mould_K) {
  const double e_mould = effusivity(resin_conductor(resin)), e_sheet = polymer.effusivity_Ws05_m2K();
  return (e_sheet * sheet_K + e_mould * mould_K) / (e_sheet + e_mould);
}

MouldWarmth::MouldWarmth(const Formed& f, const MouldBuild& build, const MouldStop& stop)
    : build_(build),
      stages_s_(f.sheet.time_s),
      sheet_K_(f.spec.temperature_K),
      is_followed_(f.sheet.heat.has_value()),
      surface_(f.mould.surface()->mesh()),
      cover_(mould_cover(f)),
      cells_(mould_cells(*f.mould.surface(), build, heat_cell_m(f, build), platform_of(f))),
      heat_(f.mould.surface()->mesh(), cells_, heat_options(build, stop)) {
  ensure(build.polymer.has_value(), "the sheet's specific heat is known");
  settled_ = heat_.periodic(phases(build.open_s));
  history_ = heat_.after(phases(build.open_s), kFirstParts).history;
  shell_K_ = shell_mean_K(settled_.node_mean_K);
  shell_peak_K_ = shell_mean_K(settled_.node_peak_K);
  steady_K_ = heat_.steady_mean_K(phases(build.open_s));
  find_surface(f);
}

/// Stages, hold, open. Where heat was followed the mould has got in the stages what the sheet has lost by their end
/// (some of it the gas got: on the safe side); else the sheet lies on it as hot as it came from the first stage on.
std::vector<mould::HeatPhase> MouldWarmth::phases(double open_s) const {
  const sheet::HeatMaterial& polymer = *build_.polymer;
  const auto air = [this](double share) { return mould::Exchange{share * build_.still_film_W_m2K, kAir_K}; };
  const auto store = [&polymer](const Cover& c) {
    return polymer.density_kg_m3 * polymer.specific_heat_J_kgK * c.thickness_m;
  };
  const auto lies = [this, air, store](int k) {
    const Cover& c = cover_[at(k)];
    if (c.share == 0.0) return air(1.0);
    return mould::Exchange{.film_W_m2K = c.share * build_.contact_W_m2K,
                           .other_K = c.temperature_K,
                           .store_J_m2K = c.share * store(c),
                           .loss_W_m2K = c.share * build_.gas_film_W_m2K,
                           .far_K = kAir_K};
  };
  std::vector<mould::HeatPhase> all;
  if (is_followed_) {
    all.push_back({stages_s_, kStagesSteps, [this, store](int k) {
                     const Cover& c = cover_[at(k)];
                     mould::Exchange e;
                     e.flux_W_m2 = c.share * store(c) * std::max(0.0, sheet_K_ - c.temperature_K) / stages_s_;
                     return e;
                   }});
    all.push_back({build_.hold_s, kHoldSteps, lies});
  } else {
    all.push_back({stages_s_ + build_.hold_s, kHoldSteps, lies});
  }
  all.push_back({open_s, kOpenSteps, [air](int) { return air(1.0); }});
  return all;
}

double MouldWarmth::shell_mean_K(const std::vector<double>& node_K) const {
  const mould::CellGrid& grid = heat_.solid().grid;
  double sum = 0.0, shell = 0.0;
  for (int p = 0; p < static_cast<int>(grid.share.size()); ++p) {
    const double share = static_cast<double>(grid.share[at(p)][0]);
    if (share <= 0.0) continue;
    shell += share;
    for (int c = 0; c < 8; ++c) sum += share / 8.0 * node_K[at(grid.number[at(p + grid.to_corner(c))])];
  }
  return sum / shell;
}

/// In the first moment of touch the warm layer is thinner than a cell, and the surface is no warmer than touch_K.
void MouldWarmth::find_surface(const Formed& f) {
  surface_K_ = settled_.peak_K;
  for (std::size_t k = 0; k < surface_K_.size(); ++k)
    if (cover_[k].share > 0.0)
      surface_K_[k] =
          std::fmax(surface_K_[k], touch_K(*build_.polymer, f.spec.temperature_K, build_.resin, settled_.end_K[k]));
}

double MouldWarmth::peak_K(const Vec3& place_m) const {
  const mould::SolidCells& solid = heat_.solid();
  const mould::Spot spot = mould::spot_of(solid, place_m, Vec3::Zero());
  if (spot.cell < 0) return shell_K_;
  const Vec3 inside = spot.at.cwiseMax(-1.0).cwiseMin(1.0);
  double sum_K = 0.0;
  for (int c = 0; c < 8; ++c)
    sum_K += mould::corner_weight(c, inside) *
             settled_.node_peak_K[at(solid.grid.number[at(spot.cell + solid.grid.to_corner(c))])];
  return sum_K;
}

/// What is left to come falls by the same share with every part once only the slowest pattern is left.
MouldWarmth::Part MouldWarmth::part(std::size_t number) const {
  if (number <= history_.size()) return {history_[number - 1].mean_K, history_[number - 1].hottest_K};
  double hottest_K = build_.start_K;
  for (const double peak_K : settled_.peak_K) hottest_K = std::fmax(hottest_K, peak_K);
  const auto ahead = [&](double settled_K, double before_K, double last_K) {
    const double left_K = settled_K - last_K, left_before_K = settled_K - before_K;
    const double kept = left_before_K > 0.0 ? std::clamp(left_K / left_before_K, 0.0, 1.0) : 0.0;
    return settled_K - left_K * std::pow(kept, static_cast<double>(number - history_.size()));
  };
  const mould::CycleHeat &before = history_[history_.size() - 2], &last = history_.back();
  return {ahead(settled_.mean_K, before.mean_K, last.mean_K), ahead(hottest_K, before.hottest_K, last.hottest_K)};
}

MouldWarmth::Part MouldWarmth::first() const { return part(1); }
MouldWarmth::Part MouldWarmth::fiftieth() const { return part(50); }

double MouldWarmth::met_K(std::size_t number) const {
  if (number <= 1) return build_.start_K;
  double sum = 0.0, area = 0.0;
  for (std::size_t k = 0; k < cover_.size(); ++k) {
    if (cover_[k].share == 0.0 || std::isnan(settled_.end_K[k])) continue;
    const mesh::Triangle& t = surface_.triangles[k];
    const Vec3 &a = surface_.points_m[at(t[0])], &b = surface_.points_m[at(t[1])], &c = surface_.points_m[at(t[2])];
    const double under = cover_[k].share * (b - a).cross(c - a).norm();
    sum += under * settled_.end_K[k], area += under;
  }
  if (area == 0.0) return build_.start_K;
  const double risen = settled_.mean_K - build_.start_K;
  const double way = risen > 0.0 ? (part(number - 1).mean_K - build_.start_K) / risen : 1.0;
  return build_.start_K + way * (sum / area - build_.start_K);
}

std::optional<double> MouldWarmth::foretold_open_s(const ResinSpec& resin, double limit_K) const {
  MouldBuild other = build_;
  other.resin = resin;
  const mould::BodyHeat heat(surface_, cells_, heat_options(other, [] { return false; }));
  const double off_K = shell_K_ - steady_K_;
  const auto foretold_K = [&](double open_s) { return heat.steady_mean_K(phases(open_s)) + off_K; };
  const std::optional<Pace> pace = quickest_pace(foretold_K, foretold_K, limit_K);
  return pace ? std::optional(pace->open_s) : std::nullopt;
}

MouldWarmth::Part MouldWarmth::followed(int number) const {
  const mould::CycleHeat last = heat_.after(phases(build_.open_s), number).history.back();
  return {last.mean_K, last.hottest_K};
}

double MouldWarmth::shell_K_with(double open_s) const {
  return shell_K_ + heat_.steady_mean_K(phases(open_s)) - steady_K_;
}

double MouldWarmth::followed_shell_K(double open_s) const {
  return shell_mean_K(heat_.periodic(phases(open_s)).node_mean_K);
}

bool Pace::keeps(double limit_K) const { return shell_K <= limit_K + kCloseEnough_K; }

std::optional<Pace> quickest_pace(const std::function<double(double open_s)>& foretold_K,
                                  const std::function<double(double open_s)>& followed_K, double limit_K) {
  double offset_K = 0.0;
  Pace pace{};
  for (int tries = 0; tries < kPaceTries; ++tries) {
    const auto holds = [&](double s) { return foretold_K(s) + offset_K <= limit_K; };
    double low_s = kShortest_s, high_s = kLongestOpen_s;
    if (holds(low_s)) {
      high_s = low_s;
    } else {
      if (!holds(high_s)) return std::nullopt;
      while (high_s > 1.05 * low_s) {
        const double middle_s = std::sqrt(low_s * high_s);
        (holds(middle_s) ? high_s : low_s) = middle_s;
      }
    }
    pace = {high_s, followed_K(high_s)};
    if (pace.keeps(limit_K)) break;
    offset_K = pace.shell_K - foretold_K(high_s);
  }
  return pace;
}

namespace {

std::string pace_text(const MouldWarmth& warmth, double limit_K) {
  const std::optional<Pace> pace = quickest_pace([&](double s) { return warmth.shell_K_with(s); },
                                                 [&](double s) { return warmth.followed_shell_K(s); }, limit_K);
  if (!pace) return "not even one part an hour keeps it cooler than that";
  const double an_hour = std::floor(3600.0 / warmth.cycle_s(pace->open_s));
  if (!pace->keeps(limit_K))
    return fmt::format("no pace was found that keeps it cooler than that: with {:.0f} parts an hour it is at {:.0f} °C",
                       an_hour, celsius(pace->shell_K));
  return fmt::format("{} {:.0f} parts an hour keep it cooler than that (open for {:.0f} s{})",
                     pace->open_s > kShortest_s ? "up to" : "even", an_hour, std::ceil(pace->open_s),
                     pace->open_s > kShortest_s ? "" : ", the shortest there is");
}

Verdict verdict_of(const GivesWay& limits, double shell_K, double peak_K, bool stress_known) {
  if (shell_K > limits.fails_K) return Verdict::kFail;
  return stress_known && shell_K <= limits.low_K && peak_K <= limits.low_K ? Verdict::kPass : Verdict::kDoubt;
}

/// What every card bears, where the case was given them.
std::string cards_text(const MouldWarmth& warmth, const MouldBuild& build, double working_Pa) {
  std::string list;
  const auto an_hour = [&](double open_s) { return std::floor(3600.0 / warmth.cycle_s(open_s)); };
  bool is_most = false;
  for (const ResinSpec& card : build.cards) {
    const std::optional<double> open_s = warmth.foretold_open_s(card, gives_way(card, working_Pa).likely_K);
    list += fmt::format("{}{} {}", list.empty() ? "" : ", ", card.name,
                        open_s ? fmt::format("{:.0f}", an_hour(*open_s)) : "none");
    is_most = is_most || (open_s && *open_s <= kShortest_s);
  }
  if (list.empty()) return "";
  return "; parts an hour that this mould bears of each card's resin, foretold: " + list +
         (is_most ? fmt::format(" ({:.0f} is the most there is, open for {:.0f} s)", an_hour(kShortest_s), kShortest_s)
                  : "");
}

std::string advice_of(const GivesWay& limits, double shell_K, double peak_K) {
  if (shell_K > limits.low_K)
    return "leave more time between parts or blow air on the open mould; a resin with a higher deflection "
           "temperature; a thicker stressed wall lowers the stress and raises what it bears";
  if (!(peak_K <= limits.low_K))
    return "only the skin gets so hot, for a moment: fine edges and letters suffer first. A resin with a higher "
           "deflection temperature, a cooler or thinner sheet; look at the letters after the first parts";
  return "see mould_stress: what the mould stays cool enough for depends on its stress";
}

}  // namespace

std::string plaster_heat_text(const MouldWarmth& hollow, const MouldWarmth& filled) {
  const double change_K = filled.shell_K() - hollow.shell_K();
  return fmt::format(
      "; filled with plaster the shell is at {:.0f} °C in the mean, {:.0f} K {}, after {:.0f} °C with the "
      "first part where hollow it is {:.0f} °C",
      celsius(filled.shell_K()), std::abs(change_K), change_K > 0.0 ? "warmer" : "cooler",
      celsius(filled.first().mean_K), celsius(hollow.first().mean_K));
}

Finding no_mould_temperature(std::string why, std::string advice) {
  return {.id = "mould_temperature",
          .question = "Does the mould stay cool enough, part after part?",
          .value = kNaN,
          .unit = "°C",
          .verdict = Verdict::kDoubt,
          .why = std::move(why),
          .advice = std::move(advice)};
}

Finding mould_temperature(const MouldWarmth& warmth, const Formed& f, const MouldBuild& build, double working_Pa) {
  Finding finding = no_mould_temperature("", "");
  const GivesWay limits = gives_way(build.resin, working_Pa);
  std::size_t hottest = 0;
  const std::vector<double>& surface_K = warmth.surface_K();
  for (std::size_t k = 0; k < surface_K.size(); ++k)
    if (!(surface_K[k] <= surface_K[hottest])) hottest = std::isnan(surface_K[k]) ? hottest : k;
  const double peak_K = surface_K[hottest];
  finding.value = celsius(warmth.shell_K());
  finding.limit = celsius(limits.likely_K);
  const mesh::TriangleMesh& m = f.mould.surface()->mesh();
  const mesh::Triangle& t = m.triangles[hottest];
  finding.place_m = (m.points_m[at(t[0])] + m.points_m[at(t[1])] + m.points_m[at(t[2])]) / 3.0;
  finding.verdict = verdict_of(limits, warmth.shell_K(), peak_K, working_Pa > 0.0);
  const MouldWarmth::Part first = warmth.first(), fiftieth = warmth.fiftieth();
  const std::string works =
      working_Pa > 0.0 ? fmt::format("the shell works at {:.2g} MPa", 1e-6 * working_Pa) : "its stress is not known";
  finding.why = fmt::format(
      "mean of the shell in a long series of one part every {:.0f} s (stages, {:.0f} s of hold, {:.0f} s open); the "
      "surface reaches {:.0f} °C for a moment. The {} resin gives way at {:.0f} °C under {:.2g} MPa, {}. Mould and "
      "surface's cells: {:.0f} and {:.0f} °C with the first part, {:.0f} and {:.0f} °C with the fiftieth; {}{}",
      warmth.cycle_s(build.open_s), build.hold_s, build.open_s, celsius(peak_K), build.resin.name,
      celsius(limits.likely_K), 1e-6 * std::max(working_Pa, kLeastStress_Pa), works, celsius(first.mean_K),
      celsius(first.hottest_K), celsius(fiftieth.mean_K), celsius(fiftieth.hottest_K),
      build.tries ? pace_text(warmth, limits.likely_K) : "no pace was tried", cards_text(warmth, build, working_Pa));
  finding.uncertainty = fmt::format(
      "the card's resin gives way at {:.0f} to {:.0f} °C{}; contact with the sheet (500 to 3000 W/m2K), air (5 to 15), "
      "gas (20 to 150) and platform are estimates, together some 10 K; cells of {:.2g} mm. The platform is taken to "
      "stay at {:.0f} °C",
      celsius(limits.low_K), celsius(deflection_temperature_K(build.resin, working_Pa, End::kHigh)),
      limits.beyond_card ? fmt::format(" under a stress beyond the card's 1.80 MPa, led on from its two temperatures; "
                                       "only past {:.0f} °C it surely fails",
                                       celsius(limits.fails_K))
                         : "",
      1e3 * warmth.cell_m(), celsius(build.start_K));
  if (finding.verdict != Verdict::kPass) finding.advice = advice_of(limits, warmth.shell_K(), peak_K);
  return finding;
}

}  // namespace pellicle::checks
