// What does heat do to a printed mould over time: does it creep, part after part, and may the first touch crack it?
#include "solver/checks/mould_creep.h"

#include "solver/checks/mould_strength.h"
#include "solver/checks/place.h"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

namespace pellicle::checks {
namespace {

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
constexpr double kIceMelts_K = 273.15;
double celsius(double K) { return K - kIceMelts_K; }

/// ISO 75 heats by 2 K a minute (read): the last 5 K before the bar has bent enough take so long. Ours.
constexpr double kTest_s = 150.0;
/// Ten times the time is as good as so many kelvin. Universal WLF constants at the glass transition give C2/C1 = 51.6/
/// 17.4 = 3 (Crawford, eq. 2.77, read); a glass below it asks for more. An estimate.
constexpr Estimate kDecade_K{5.0, 3.0, 10.0};

}  // namespace

Estimate creep_lead_K(double under_load_s) {
  const double decades = std::max(0.0, std::log10(under_load_s / kTest_s));
  return {decades * kDecade_K.likely, decades * kDecade_K.low, decades * kDecade_K.high};
}

Finding mould_creep(const MouldWarmth* warmth, const MouldBuild& build, double working_Pa) {
  Finding finding{.id = "mould_creep",
                  .question = "Does the mould keep its shape, warm and pressed, over all its parts?",
                  .value = kNaN,
                  .unit = "°C",
                  .verdict = Verdict::kDoubt};
  if (warmth == nullptr) {
    finding.why = "how warm the mould gets is not known: see mould_temperature";
    finding.advice = "what mould_temperature asks for";
    return finding;
  }
  const double under_load_s = build.parts * build.hold_s;
  const Estimate lead_K = build.resin.softens ? creep_lead_K(under_load_s) : Estimate{0.0, 0.0, 0.0};
  const GivesWay limits = gives_way(build.resin, working_Pa);
  const double peak_K = warmth->shell_peak_K();
  finding.value = celsius(peak_K);
  finding.limit = celsius(limits.likely_K - lead_K.likely);
  if (peak_K > limits.fails_K - lead_K.likely)
    finding.verdict = Verdict::kFail;
  else if (working_Pa > 0.0 && peak_K <= limits.low_K - lead_K.high)
    finding.verdict = Verdict::kPass;
  const std::string works = working_Pa > 0.0 ? fmt::format("{:.2g} MPa", 1e-6 * std::max(working_Pa, kLeastStress_Pa))
                                             : "a stress that is not known, at least 0.45 MPa";
  finding.why = fmt::format(
      "peak of the shell's bulk in a long series; {} parts hold it under pressure for {:.0f} s each, {:.2g} h in all. "
      "The {} resin gives way at {:.0f} °C under {} in a test of minutes, and so held some {:.0f} K sooner: deflection "
      "temperatures rank resins and are no design figures (ISO 75-1)",
      build.parts, build.hold_s, under_load_s / 3600.0, build.resin.name, celsius(limits.likely_K), works,
      lead_K.likely);
  finding.uncertainty = fmt::format(
      "{:.0f} °C at the card's low end and 10 K a tenfold time (3 to 10, estimate){}; the temperature itself is good "
      "to some 10 K. Edges and letters wear besides, which is not computed",
      celsius(limits.low_K - lead_K.high),
      limits.beyond_card ? "; beyond the card's 1.80 MPa, led on from its two temperatures" : "");
  if (finding.verdict != Verdict::kPass)
    finding.advice = fmt::format(
        "measure a part among the first and every tenth of {}: a mould that creeps makes them all a little lower. "
        "Fewer parts, a shorter hold, more time open, or a resin with a higher deflection temperature",
        build.parts);
  return finding;
}

namespace {

/// Where the sheet lies that touched the mould first; none: it touches nowhere, or nobody noted when.
std::optional<mesh::Vec3> first_touch_m(const Formed& f) {
  const forming::FormingResult& s = f.sheet;
  std::optional<mesh::Vec3> place_m;
  double earliest_s = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < s.touched_s.size(); ++i) {
    if (!(s.touched_s[i] < earliest_s)) continue;
    const mesh::Closest on = f.mould.surface()->closest(s.points_m[i], kOnMould * s.bought_thickness_m);
    if (on.triangle >= 0) earliest_s = s.touched_s[i], place_m = on.point_m;
  }
  return place_m;
}

}  // namespace

double skin_stress_Pa(double modulus_Pa, double expansion_1_K, double rise_K, double poisson) {
  return modulus_Pa * expansion_1_K * rise_K / (1.0 - poisson);
}

Finding mould_shock(const Formed& f, const MouldBuild& build) {
  Finding finding{.id = "mould_shock",
                  .question = "May the heat of the first touch crack the mould's skin?",
                  .value = kNaN,
                  .unit = "MPa",
                  .verdict = Verdict::kDoubt};
  if (!build.polymer) {
    finding.why = "how much heat the sheet brings is not known: no card with a specific heat in sheet.polymer";
    finding.advice = "name the sheet's card in sheet.polymer";
    return finding;
  }
  const ResinSpec& r = build.resin;
  const double skin_K = touch_K(*build.polymer, f.spec.temperature_K, r, build.start_K),
               rise_K = skin_K - build.start_K;
  const double stress_Pa = skin_stress_Pa(modulus_Pa(r, skin_K), r.expansion_1_K.likely, rise_K, r.poisson.likely);
  const double strength = strength_Pa(r, skin_K), share = stress_Pa / strength;
  // Modulus and strength fall alike as the skin warms, so their ratio is that of the cold card at its ends.
  const double stiffer = r.modulus_Pa.high / r.modulus_Pa.likely, weaker = r.strength_Pa.likely / r.strength_Pa.low;
  const double share_high = share * stiffer * weaker * r.expansion_1_K.high / r.expansion_1_K.likely *
                            (1.0 - r.poisson.likely) / (1.0 - r.poisson.high);
  finding.value = 1e-6 * stress_Pa;
  finding.limit = 1e-6 * kCycledShare * strength;
  finding.place_m = first_touch_m(f);
  finding.verdict = share > kCycledShare        ? Verdict::kFail
                    : share_high > kCycledShare ? Verdict::kDoubt
                                                : Verdict::kPass;
  finding.why = fmt::format(
      "where the sheet of {:.0f} °C first touches the mould of {:.0f} °C its skin is at {:.0f} °C at once (two "
      "half-spaces), and the cold rest holds it: E alpha dT/(1 - nu), {:.0f} % of the {} resin's strength at that "
      "temperature, of which many touches may use half (ours). First pressed; what yields while hot is pulled as it "
      "cools, and crazes",
      celsius(f.spec.temperature_K), celsius(build.start_K), celsius(skin_K), 100.0 * share, r.name);
  finding.uncertainty = fmt::format(
      "up to {:.0f} % with expansion, stiffness and strength of the card at their ends; an upper end, for contact "
      "takes a moment. The cold mould meets it hardest: in a series it is warmer. Chips and inner corners start "
      "cracks sooner",
      100.0 * share_high);
  if (finding.verdict != Verdict::kPass)
    finding.advice =
        "warm the mould before the first part, or start with a sheet no hotter than needed; round inner corners; look "
        "for hairlines after the first parts and retire a mould that shows them: cured resin is brittle and may "
        "shatter under pressure, shield it";
  return finding;
}

}  // namespace pellicle::checks
