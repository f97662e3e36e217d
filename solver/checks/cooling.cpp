// How long must the part stay before it keeps its shape?
#include "solver/checks/cooling.h"

#include "mesh/check.h"
#include "solver/sheet/heat_layers.h"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle::checks {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
constexpr double kIceMelts_K = 273.15;
/// Nobody waits longer on the bench.
constexpr double kLongest_s = 600.0;

/// Bands of docs/theory/heat.md, all estimates: film of the gas on the free side, contact with the mould [W/m2K].
constexpr double kLeastFilm = 20.0, kMostFilm = 150.0, kLeastContact = 500.0, kMostContact = 3000.0;

std::string seconds(double s) {
  if (!(s <= kLongest_s)) return fmt::format("more than {:.0f} min", kLongest_s / 60.0);
  return s < 10.0 ? fmt::format("{:.1f} s", s) : fmt::format("{:.0f} s", s);
}

/// What the sheet lies against, one value a node.
struct Surroundings {
  std::vector<double> thickness_m, contact_s, effusivity;

  Surroundings(const forming::FormingResult& sheet, const HeatSpec& heat)
      : thickness_m(sheet.thickness_m), effusivity(sheet.thickness_m.size(), heat.mould_effusivity_Ws05_m2K) {
    for (const char touches : sheet.touching)
      contact_s.push_back(touches ? std::numeric_limits<double>::infinity() : 0.0);
  }
  sheet::HeatStep step(const HeatSpec& heat) const {
    return {0.0, thickness_m, contact_s, effusivity, heat.contact_W_m2K, heat.free_side(), heat.open_side()};
  }
};

/// Of one place, with other numbers of the bench.
double time_s(const sheet::HeatState& state, int node, const Surroundings& around, HeatSpec heat, double film_W_m2K,
              double contact_W_m2K) {
  heat.gas_film_W_m2K = film_W_m2K, heat.contact_W_m2K = contact_W_m2K;
  return sheet::cooling_time_s(sheet::cooling_wall(state, node, around.step(heat)), heat.set_K, kLongest_s);
}

}  // namespace

double soft_for_s(const forming::FormingResult& formed, const HeatSpec& heat, int node) {
  ensure(formed.heat.has_value(), "setting is asked for where heat was followed");
  const sheet::HeatStep step = Surroundings(formed, heat).step(heat);
  return sheet::cooling_time_s(sheet::cooling_wall(*formed.heat, node, step), heat.set_K, kLongest_s);
}

Finding cooling(const Formed& f, const HeatSpec& heat) {
  ensure(f.sheet.heat.has_value(), "cooling is asked for where heat was followed");
  const sheet::HeatState& state = *f.sheet.heat;
  const Surroundings around(f.sheet, heat);
  const std::vector<double> times_s =
      sheet::cooling_times_s(state, around.step(heat), f.in_part, heat.set_K, kLongest_s);
  Finding finding{
      .id = "cooling", .question = "How long after the last stage has every wall set?", .value = kNaN, .unit = "s"};
  std::vector<int> nodes;
  for (int i = 0; i < state.count; ++i)
    if (f.in_part[at(i)]) nodes.push_back(i);
  if (nodes.empty()) {
    finding.verdict = Verdict::kDoubt;
    finding.why = "no node of the sheet lies inside the trim";
    return finding;
  }
  std::stable_sort(nodes.begin(), nodes.end(), [&](int a, int b) { return times_s[at(a)] < times_s[at(b)]; });
  const int last = nodes.back(), middle = nodes[nodes.size() / 2];
  const double all_s = times_s[at(last)];
  const double set_C = heat.set_K - kIceMelts_K;
  const bool lies = f.sheet.touching[at(last)] != 0;
  finding.place_m = f.sheet.points_m[at(last)];
  finding.uncertainty = fmt::format(
      "{} to {} there for the bands of the gas beside the sheet ({:.0f} to {:.0f} W/m2K) and of its contact with the "
      "mould ({:.0f} to {:.0f} W/m2K), all estimates; the mould is taken as cold before and as deep as needed{}",
      seconds(time_s(state, last, around, heat, kMostFilm, kMostContact)),
      seconds(time_s(state, last, around, heat, kLeastFilm, kLeastContact)), kLeastFilm, kMostFilm, kLeastContact,
      kMostContact,
      lies ? "" : "; where the sheet spans less than some thicknesses it sets sooner, for no heat goes along it here");
  const std::string where = fmt::format(
      "{:.2f} mm thick, {:.0f} °C in the mean and {} at the end of the last stage", 1e3 * f.sheet.thickness_m[at(last)],
      f.sheet.temperature_mean_K[at(last)] - kIceMelts_K, lies ? "on the mould" : "off the mould");
  if (!(all_s < kLongest_s)) {
    finding.verdict = Verdict::kDoubt;
    finding.why = fmt::format("a place stays above the set temperature of {:.0f} °C for more than {:.0f} min: {}",
                              set_C, kLongest_s / 60.0, where);
    finding.advice = "a colder mould, a thinner sheet, or a fan on the free side";
    return finding;
  }
  finding.value = all_s;
  if (all_s == 0.0) {
    finding.why =
        fmt::format("all of the part is below the set temperature of {:.0f} °C when the last stage ends", set_C);
    return finding;
  }
  finding.why = fmt::format(
      "the last place to fall below the set temperature of {:.0f} °C is {}; half of the part has "
      "set after {}",
      set_C, where, seconds(times_s[at(middle)]));
  finding.advice = fmt::format(
      "hold the part on the mould for another {}, or make the last stage as much longer; a sheet let go of earlier "
      "changes its shape. In still air it takes {} there{}",
      seconds(all_s), seconds(time_s(state, last, around, heat, heat.still_film_W_m2K, heat.contact_W_m2K)),
      lies ? "" : ", where nothing but air cools it");
  return finding;
}

}  // namespace pellicle::checks
