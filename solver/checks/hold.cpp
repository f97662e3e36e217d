// Does the gas stay on for long enough that detail does not spring back?
#include "solver/checks/hold.h"

#include "solver/imprint/column.h"
#include "solver/imprint/hold.h"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle::checks {
namespace {

/// Nobody waits longer on the bench.
constexpr double kLongest_s = 600.0;
/// Taken to so much of its depth a stroke still spans its floor; taken whole it lies on it. Between, in proportion
/// (ours).
constexpr double kSpans = 0.9;

std::string seconds(double s) {
  return s <= kLongest_s ? fmt::format("{:.2g} s", s) : fmt::format("more than {:.0f} min", kLongest_s / 60.0);
}

HeatSpec with(HeatSpec heat, double film_W_m2K, double contact_W_m2K) {
  heat.gas_film_W_m2K = heat.fan_film_W_m2K = film_W_m2K;
  heat.contact_W_m2K = contact_W_m2K;
  return heat;
}

imprint::HeldStroke held_stroke(const imprint::StrokeAnswer& s, const imprint::FormedState& formed) {
  // Which way it runs hardly matters beside the rest: the larger stretch across is the stiffer way, and pulls more.
  const double x = formed.state.stretch_x, y = formed.state.stretch_y;
  const double lies = std::clamp((s.share - kSpans) / (1.0 - kSpans), 0.0, 1.0);
  return {s.width_m, lies, std::max(x, y), std::min(x, y)};
}

struct Worst {
  double from_s = 0.0;  ///< time of the run from which the gas may go
  double lost = 0.0;    ///< let off when the run does
  const HeldRelief* relief = nullptr;
  const imprint::StrokeAnswer* stroke = nullptr;
  double skin_m = 0.0;  ///< set when the gas is let off, where it lies on the mould
};

Worst worst_of(const HeatSpec& heat, const forming::FormingResult& f, const std::vector<HeldRelief>& reliefs) {
  const double full_s = imprint::full_pressure_s(f), until_s = imprint::full_pressure_until_s(f);
  Worst worst;
  for (const HeldRelief& r : reliefs) {
    HeatSpec here = heat;
    here.start_K = r.state.start_K;
    const auto held = imprint::held(here, f, r.state.touched_s, r.state.state.thickness_m, kLongest_s);
    if (!held) continue;
    for (const imprint::StrokeAnswer& s : r.answer.strokes) {
      if (!(s.width_m > 0.0) || !(s.share > 0.0)) continue;
      const imprint::HeldStroke stroke = held_stroke(s, r.state);
      const double from_s = imprint::safe_from_s(*held, stroke, kMayLose, full_s);
      if (worst.stroke != nullptr && from_s <= worst.from_s) continue;
      const auto end = std::find_if(held->chilled.begin(), held->chilled.end(),
                                    [&](const imprint::LetGo& at) { return held->touched_s + at.since_s >= until_s; });
      worst = {from_s, imprint::lost_share(*held, stroke, until_s), &r, &s,
               end == held->chilled.end() ? 0.0 : end->set_m};
    }
  }
  return worst;
}

}  // namespace

std::optional<Finding> hold(const HeatSpec& heat, const forming::FormingResult& f,
                            const std::vector<HeldRelief>& reliefs) {
  if (f.pressed_Pa.empty() || !(*std::max_element(f.pressed_Pa.begin(), f.pressed_Pa.end()) > 0.0)) return {};
  const Worst likely = worst_of(heat, f, reliefs);
  if (likely.stroke == nullptr) return {};
  const double full_s = imprint::full_pressure_s(f), until_s = imprint::full_pressure_until_s(f);
  const double given_s = until_s - full_s;
  const bool to_the_end = until_s == f.time_s;
  const double needed_s = likely.from_s - full_s;
  // Cold comes sooner with good contact, and finds less of the depth there: either end may be the longer one.
  const auto [low_s, high_s] =
      std::minmax({needed_s, worst_of(with(heat, kGasFilm_W_m2K.high, kContact_W_m2K.high), f, reliefs).from_s - full_s,
                   worst_of(with(heat, kGasFilm_W_m2K.low, kContact_W_m2K.low), f, reliefs).from_s - full_s});
  Finding finding{.id = "hold",
                  .question = "How long must the pressure stay on, so that detail does not spring back?",
                  .value = needed_s <= kLongest_s ? needed_s : std::numeric_limits<double>::quiet_NaN(),
                  .unit = "s",
                  .limit = given_s};
  finding.verdict = high_s <= given_s ? Verdict::kPass : low_s <= given_s ? Verdict::kDoubt : Verdict::kFail;
  if (likely.relief->place_m)
    finding.place_m = likely.relief->place_m(likely.stroke->place_m[0], likely.stroke->place_m[1]);
  finding.why = fmt::format(
      "let off {}, {:.2g} s after full pressure, {} of {} ({:.2g} mm wide, {}) loses {:.0f} % of "
      "its depth: {:.2g} mm of {:.2g} mm have set on the mould; {:.0f} % are reached after {}",
      to_the_end ? "when the last stage ends" : "before the last stage ends", given_s, likely.stroke->name,
      likely.relief->name, 1e3 * likely.stroke->width_m,
      likely.stroke->share > 0.5 * (1.0 + kSpans) ? "on its floor" : "spanning", 100.0 * likely.lost,
      1e3 * likely.skin_m, 1e3 * likely.relief->state.state.thickness_m, 100.0 * kMayLose, seconds(needed_s));
  finding.uncertainty = fmt::format(
      "{} to {} for contact with the mould of {:.0f} to {:.0f} W/m2K and a film of {:.0f} to {:.0f} W/m2K, estimates; "
      "the card's modes and glass come on top",
      seconds(low_s), seconds(high_s), kContact_W_m2K.low, kContact_W_m2K.high, kGasFilm_W_m2K.low,
      kGasFilm_W_m2K.high);
  if (finding.verdict != Verdict::kPass)
    finding.advice =
        fmt::format("{}keep the gas on for longer: open at zero pressure only, and only then lift the part",
                    high_s <= kLongest_s
                        ? fmt::format("make {} {:.2g} s longer ({:.2g} s to be safe), that is, ",
                                      to_the_end ? "the last stage" : "the stage before the gas goes",
                                      std::max(0.0, needed_s - given_s), high_s - given_s)
                        : "gas that comes sooner after the touch, for what is pressed in cold springs back whenever "
                          "it goes, or, if the mould is above the set temperature, a colder one; ");
  return finding;
}

}  // namespace pellicle::checks
