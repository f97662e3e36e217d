// How long must the part stay before it keeps its shape?
#include "solver/checks/cooling.h"

#include "mesh/check.h"
#include "solver/sheet/heat_layers.h"
#include "solver/sheet/heat_place.h"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace pellicle::checks {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
constexpr double kIceMelts_K = 273.15;
/// Nobody waits longer on the bench.
constexpr double kLongest_s = 600.0;

/// Of aluminium, sqrt(2700 kg/m3 x 230 W/mK x 880 J/kgK) (CIBSE Guide A, Table 3.36).
constexpr double kAluminium_Ws05_m2K = 23400.0;
constexpr double kWorthSaying = 0.9;  // of the time: less is within what nobody knows

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
  sheet::HeatStep step(const HeatSpec& heat, const sheet::HeatFilm& free_side) const {
    return {0.0, thickness_m, contact_s, effusivity, heat.contact_W_m2K, free_side, heat.open_side()};
  }
};

/// Inside the part, the last to set first.
std::vector<int> by_time(const Formed& f, const std::vector<double>& times_s) {
  std::vector<int> nodes;
  for (int i = 0; i < f.sheet.heat->count; ++i)
    if (f.in_part[at(i)]) nodes.push_back(i);
  std::stable_sort(nodes.begin(), nodes.end(), [&](int a, int b) { return times_s[at(a)] < times_s[at(b)]; });
  std::reverse(nodes.begin(), nodes.end());
  return nodes;
}

/// The last place on the mould and the last one off it: with other numbers of the bench either may be the last of all.
std::vector<int> candidates(const Formed& f, const std::vector<int>& nodes) {
  std::vector<int> found;
  for (const char touches : {char{1}, char{0}})
    if (const auto n = std::find_if(nodes.begin(), nodes.end(),
                                    [&](int i) { return (f.sheet.touching[at(i)] != 0) == (touches != 0); });
        n != nodes.end())
      found.push_back(*n);
  return found;
}

/// How long these places take with other numbers of the bench.
class Alternatives {
 public:
  Alternatives(const Formed& f, const HeatSpec& heat, std::vector<int> nodes)
      : f_(f), heat_(heat), around_(f.sheet, heat), nodes_(std::move(nodes)) {}

  double with_s(double film_W_m2K, double contact_W_m2K) const {
    HeatSpec heat = heat_;
    heat.contact_W_m2K = contact_W_m2K;
    const sheet::HeatStep step = around_.step(heat, {film_W_m2K, heat.gas_K});
    return slowest_s([&](int i) {
      return sheet::cooling_time_s(sheet::cooling_wall(*f_.sheet.heat, i, step), heat.set_K, kLongest_s);
    });
  }

  /// On a metal mould from the first touch on.
  double on_aluminium_s() const {
    HeatSpec heat = heat_;
    heat.mould_effusivity_Ws05_m2K = kAluminium_Ws05_m2K;
    return slowest_s([&](int i) {
      const bool lies = f_.sheet.touching[at(i)] != 0;
      const double touched_s = std::isnan(f_.sheet.touched_s[at(i)]) ? f_.sheet.time_s : f_.sheet.touched_s[at(i)];
      heat.start_K = sheet::start_mean_K(*f_.sheet.heat, i);
      sheet::HeatPlace place(heat, f_.sheet.bought_thickness_m, touched_s, f_.sheet.thickness_m[at(i)]);
      if (f_.sheet.time_s > touched_s) place.go_on(f_.sheet.time_s - touched_s, lies, heat.free_side());
      return place.sets_after_s(lies, heat.free_side_after(), kLongest_s);
    });
  }

 private:
  template <class F>
  double slowest_s(F&& of) const {
    double most_s = 0.0;
    for (const int i : nodes_) most_s = std::max(most_s, of(i));
    return most_s;
  }

  const Formed& f_;
  const HeatSpec& heat_;
  Surroundings around_;
  std::vector<int> nodes_;
};

std::string beside_text(Cooling cooling) {
  return cooling == Cooling::kGas ? "the gas on" : cooling == Cooling::kAir ? "still air beside it" : "a fan on it";
}

/// What is known of the film on the free side after the last stage.
const Estimate& film_of(Cooling cooling) {
  return cooling == Cooling::kGas ? kGasFilm_W_m2K : cooling == Cooling::kAir ? kStillFilm_W_m2K : kFanFilm_W_m2K;
}

/// Low to high of what cools, beside the likely value.
std::string band_text(const Alternatives& other, const HeatSpec& heat, bool lies) {
  const Estimate &film = film_of(heat.cooling), &contact = kContact_W_m2K;
  return fmt::format(
      "{} to {} for the bands of what is beside the sheet ({:.0f} to {:.0f} W/m2K) and of its contact with the mould "
      "({:.0f} to {:.0f} W/m2K), all estimates; the mould is taken as cold before and as deep as needed{}",
      seconds(other.with_s(film.high, contact.high)), seconds(other.with_s(film.low, contact.low)), film.low, film.high,
      contact.low, contact.high,
      lies ? "" : "; where the sheet spans less than some thicknesses it sets sooner, for no heat goes along it here");
}

/// What else could stand beside the sheet or below it, and how long it would take then.
std::string advice_text(const Alternatives& other, const HeatSpec& heat, double all_s) {
  std::string text;
  const auto add = [&](const char* with, double other_s) { text += fmt::format(", {} {}", with, seconds(other_s)); };
  if (heat.cooling != Cooling::kAir) add("in still air", other.with_s(heat.still_film_W_m2K, heat.contact_W_m2K));
  if (const double fan_s = other.with_s(heat.fan_film_W_m2K, heat.contact_W_m2K);
      heat.cooling == Cooling::kAir && fan_s < kWorthSaying * all_s)
    add("under a fan", fan_s);
  if (const double metal_s = other.on_aluminium_s(); metal_s < kWorthSaying * all_s) add("on aluminium", metal_s);
  return text.empty() ? "" : "; instead " + text.substr(2);
}

}  // namespace

double soft_for_s(const forming::FormingResult& formed, const HeatSpec& heat, int node) {
  ensure(formed.heat.has_value(), "setting is asked for where heat was followed");
  const sheet::HeatStep step = Surroundings(formed, heat).step(heat, heat.free_side());
  return sheet::cooling_time_s(sheet::cooling_wall(*formed.heat, node, step), heat.set_K, kLongest_s);
}

std::vector<double> setting_times_s(const Formed& f, const HeatSpec& heat) {
  ensure(f.sheet.heat.has_value(), "cooling is asked for where heat was followed");
  return sheet::cooling_times_s(*f.sheet.heat, Surroundings(f.sheet, heat).step(heat, heat.free_side_after()),
                                f.in_part, heat.set_K, kLongest_s);
}

std::vector<double> released_K(const Formed& f, const HeatSpec& heat) {
  const std::vector<double> times_s = setting_times_s(f, heat);
  double all_s = 0.0;
  for (std::size_t i = 0; i < times_s.size(); ++i)
    if (f.in_part[i]) all_s = std::max(all_s, times_s[i]);
  sheet::HeatState state = *f.sheet.heat;
  const Surroundings around(f.sheet, heat);
  if (all_s > 0.0 && all_s < kLongest_s) {
    sheet::HeatStep step = around.step(heat, heat.free_side_after());
    step.dt_s = all_s;
    sheet::exchange_heat(state, step);
  }
  std::vector<double> mean_K;
  for (int i = 0; i < state.count; ++i) mean_K.push_back(sheet::mean_K(state, i));
  return mean_K;
}

Finding cooling(const Formed& f, const HeatSpec& heat) {
  const std::vector<double> times_s = setting_times_s(f, heat);
  Finding finding{
      .id = "cooling", .question = "How long after the last stage has every wall set?", .value = kNaN, .unit = "s"};
  const std::vector<int> nodes = by_time(f, times_s);
  if (nodes.empty()) {
    finding.verdict = Verdict::kDoubt;
    finding.why = "no node of the sheet lies inside the trim";
    return finding;
  }
  const int last = nodes.front(), middle = nodes[nodes.size() / 2];
  const double all_s = times_s[at(last)];
  const double set_C = heat.set_K - kIceMelts_K;
  const bool lies = f.sheet.touching[at(last)] != 0;
  const Alternatives other(f, heat, candidates(f, nodes));
  finding.place_m = f.sheet.points_m[at(last)];
  finding.uncertainty = band_text(other, heat, lies);
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
      "with {} the last place to fall below the set temperature of {:.0f} °C is {}; half of the part has "
      "set after {}",
      beside_text(heat.cooling), set_C, where, seconds(times_s[at(middle)]));
  finding.advice = fmt::format(
      "hold the part on the mould for another {}, or make the last stage as much longer; a sheet let go of earlier "
      "changes its shape{}",
      seconds(all_s), advice_text(other, heat, all_s));
  return finding;
}

}  // namespace pellicle::checks
