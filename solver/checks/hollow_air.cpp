// What does a relief lose to the air that the sheet shuts in, and what would let it out?
#include "solver/checks/hollow_air.h"

#include "solver/air/vent.h"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

namespace pellicle::checks {
namespace {

constexpr double kWithin_s = 0.1;  // presses last a fraction of a second (common practice)
constexpr double kLeft = 1.05;     // of the pressure outside: the rest holds nothing off

double lost(const imprint::StrokeAnswer& s) { return std::isnan(s.share_air_free) ? 0.0 : s.share_air_free - s.share; }

/// The hollow that a stroke's critical place lies nearest to.
const imprint::HollowAir& nearest(const imprint::ReliefAnswer& a, const imprint::StrokeAnswer& s) {
  const auto away = [&](const imprint::HollowAir& h) {
    return std::hypot(h.place_m[0] - s.place_m[0], h.place_m[1] - s.place_m[1]);
  };
  return *std::min_element(a.hollows.begin(), a.hollows.end(),
                           [&](const auto& one, const auto& other) { return away(one) < away(other); });
}

}  // namespace

double scratch_m(const imprint::HollowAir& hollow, double pressure_Pa) {
  constexpr double kSinks = 2.0;
  double closed_m = 1e-6, open_m = 10e-3;  // roughness; wider than any relief
  const auto in_time = [&](double side_m) {
    // A slot is longer than it is wide; a thousandth of that is a square all the same.
    const air::Hole scratch{.diameter_m = side_m, .land_m = hollow.way_out_m, .slot_m = 1.001 * side_m};
    return air::emptying_time_s(scratch, hollow.volume_m3, pressure_Pa + air::kAtmosphere_Pa,
                                kLeft * air::kAtmosphere_Pa) <= kWithin_s;
  };
  for (int k = 0; k < 40; ++k) {
    const double middle_m = std::sqrt(closed_m * open_m);
    (in_time(middle_m) ? open_m : closed_m) = middle_m;
  }
  return kSinks * open_m;
}

void tell_shut_air(const imprint::ReliefAnswer& a, double limit, Finding& finding) {
  if (a.hollows.empty()) return;
  const auto worst = std::max_element(a.strokes.begin(), a.strokes.end(),
                                      [](const auto& one, const auto& other) { return lost(one) < lost(other); });
  const bool of_stroke = worst != a.strokes.end() && lost(*worst) > 0.0;
  const std::string count =
      fmt::format("; air shut in {} closed hollow{}", a.hollows.size(), a.hollows.size() == 1 ? "" : "s");
  if (!of_stroke) {
    const auto least = std::min_element(a.hollows.begin(), a.hollows.end(),
                                        [](const auto& one, const auto& other) { return one.filled < other.filled; });
    finding.why += fmt::format("{}, filled to {:.2f} or more: no stroke is less deep for it, corners are rounder",
                               count, least->filled);
    return;
  }
  const imprint::HollowAir& hollow = nearest(a, *worst);
  finding.why +=
      fmt::format("{}: {} takes {:.2f} of its depth instead of {:.2f}, its hollow filled to {:.2f} at {:.2g} bar",
                  count, worst->name, worst->share, worst->share_air_free, hollow.filled, 1e-5 * hollow.pressure_Pa);
  const auto does = [&](const imprint::StrokeAnswer& s) { return s.share >= limit; };
  const auto does_without_air = [&](const imprint::StrokeAnswer& s) { return does(s) || s.share_air_free >= limit; };
  if (finding.verdict == Verdict::kPass || std::all_of(a.strokes.begin(), a.strokes.end(), does)) return;
  const std::string vent = fmt::format(
      "let the air out: a hole in each closed hollow, a gap in its outline, or a scratch {:.2g} mm wide and deep over "
      "the {:.2g} mm from the hollow to the outside (laminar flow, out within 0.1 s)",
      1e3 * scratch_m(hollow, a.state.pressure_Pa), 1e3 * hollow.way_out_m);
  if (std::all_of(a.strokes.begin(), a.strokes.end(), does_without_air)) {
    finding.verdict = Verdict::kDoubt;
    finding.advice = vent;
    finding.uncertainty += "; layer lines and texture of a print leak, by how much nobody has measured";
  } else {
    finding.advice += (finding.advice.empty() ? "" : "; and ") + vent;
  }
}

}  // namespace pellicle::checks
