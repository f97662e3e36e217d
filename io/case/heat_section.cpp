// Does the case say enough to follow the sheet's heat, and what does it say?
#include "io/case/card_bands.h"
#include "io/case/cards.h"
#include "io/case/sections.h"
#include "solver/sheet/own_law.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace pellicle::cases {
namespace {

/// sqrt(k rho cp) of a resin card's likely numbers.
double effusivity_Ws05_m2K(const ResinCard& resin) {
  const auto likely = [&](std::string_view name) {
    return std::find_if(resin.numbers.begin(), resin.numbers.end(), [&](const CardNumber& n) { return n.name == name; })
        ->value.likely;
  };
  return std::sqrt(likely("conductivity") * likely("density") * likely("specific_heat"));
}

/// What is missing, in words; empty: nothing.
std::string missing(const Values& values, const Case& c, const PolymerCard* polymer) {
  if (!c.mould) return "no [mould]";
  if (!values.has("mould.temperature")) return "no mould.temperature";
  if (!values.has("mould.resin")) return "no mould.resin";
  if (polymer == nullptr) return "no sheet.polymer";
  if (!polymer->conductivity || !polymer->specific_heat)
    return fmt::format("no conductivity or specific heat in the card {}", polymer->name);
  return {};
}

/// What counts beside the keys, for `check`.
void note_numbers(const PolymerCard& polymer, const HeatSpec& heat, Remarks& remarks) {
  for (const CardNumber& number : {*polymer.conductivity, *polymer.specific_heat})
    remarks.card_values.push_back({"card." + number.name, value_text(number), Origin::kCard, 0, note_text(number)});
  const auto film = [&](const char* key, double W_m2K, const Estimate& band, const char* note) {
    remarks.card_values.push_back({key, fmt::format("{} W/(m2 K)", W_m2K), Origin::kDefault, 0,
                                   fmt::format("{} to {}, estimate: {}", band.low, band.high, note)});
  };
  film("heat.contact", heat.contact_W_m2K, kContact_W_m2K, "hot sheet pressed on a mould");
  film("heat.gas", heat.gas_film_W_m2K, kGasFilm_W_m2K, "free side, gas of the stages at 20 °C");
  film("heat.air", heat.still_film_W_m2K, kStillFilm_W_m2K, "mould side where it does not touch, still air at 20 °C");
}

/// Relaxation of the card as the law of the sheet: network and modes times what makes them, a forming time after a
/// stretch, as stiff as the modulus of card or case says, at its own temperature. The network's modulus grows as T.
sheet::HotLaw hot_law(const Values& values, const Case& c, const PolymerCard& polymer, Remarks& remarks) {
  const CardLaw card = law_of(*polymer.relaxation);
  sheet::HotLaw law{card.network, card.relaxation};
  law.relaxation.network_entropic_share = 1.0;
  const double modulus_Pa = sheet::small_strain_shear_modulus_Pa(c.sheet.law);
  if (!values.has_table("sheet.law")) {
    const double at_K = polymer.modulus_temperature_K;
    return sheet::scaled(law, modulus_Pa / sheet::modulus_after_Pa(law, at_K, sheet::kFormingTime_s));
  }
  const double at_K = c.sheet.temperature_K;
  const sheet::OwnLaw own = sheet::own_law(law, modulus_Pa, at_K);
  if (own.glass_faster > 1.0) {
    const std::string at = format_in(at_K, "°C"), own_Pa = format_in(modulus_Pa, "MPa");
    remarks.warnings.push_back(
        fmt::format("[sheet.law] says {} at {}, where the glass of the card {} alone would resist with {}: the law "
                    "stands, and the sheet turns to glass at a lower temperature than the card says",
                    own_Pa, at, polymer.name, fmt::format("{:.3g} MPa", 1e-6 * own.glass_Pa)));
    remarks.card_values.push_back({"heat.glass", fmt::format("{:.3g} times as fast as in the card", own.glass_faster),
                                   Origin::kCase, 0,
                                   fmt::format("so that it adds no more than {:.0f} % to the {} of [sheet.law] at {}",
                                               100.0 * sheet::kMostGlass, own_Pa, at)});
  }
  return own.law;
}

/// A sheet so near its glass transition is leather: its glass, which the forming loop has to cut, would rule the
/// answer.
void refuse_leather(const Values& values, const Case& c, const PolymerCard& polymer, const HeatSpec& heat) {
  if (c.stages.empty() || values.has_table("sheet.law"))
    return;  // what was measured there holds, its glass cut to suit
  double forming_s = 0.0;
  for (const auto& stage : c.stages) forming_s += stage.duration_s;
  const double share = sheet::glass_share(*heat.law, heat.start_K, forming_s);
  if (share <= sheet::kLeathery) return;
  constexpr double kFar_K = 150.0;  // no sheet is formed so far above what its card or the case says
  double warm_K = std::ceil(heat.start_K);
  while (warm_K < heat.start_K + kFar_K && sheet::glass_share(*heat.law, warm_K, forming_s) > sheet::kLeathery)
    warm_K += 1.0;
  const bool is_far = warm_K >= heat.start_K + kFar_K;
  values.refuse(
      "sheet.temperature",
      fmt::format("{}, where {} is leather: over the {:.3g} s of forming its glass alone resists with {:.2g} "
                  "times what the rest of it leaves",
                  format_in(heat.start_K, "°C"), polymer.name, forming_s, share),
      is_far ? fmt::format("{:.1g} times at most, which no temperature near does with this card", sheet::kLeathery)
             : fmt::format("at least {:.0f} °C with these stages, where it is {:.1g} times at most",
                           std::ceil(warm_K - 273.15), sheet::kLeathery),
      is_far ? "the card's glass, or its shift with temperature"
             : "a hotter sheet: its forming window is in the card; or give what you measured at that "
               "temperature in [sheet.law]");
}

/// What the sheet's temperature makes of its stiffness: of the modulus that pace, screening and findings go by too.
void let_stiffness_follow(const Values& values, const PolymerCard& polymer, Case& c, HeatSpec& heat, Remarks& remarks) {
  const bool hyperelastic = !std::holds_alternative<sheet::NeoHookean>(c.sheet.law);
  const Value& wanted = values.at("numerics.temperature_to_modulus");
  heat.skin_to_tension = values.at("numerics.skin_to_tension").flag;
  heat.skin_to_relief = values.at("numerics.skin_to_relief").flag;
  heat.temperature_to_modulus = wanted.flag && polymer.relaxation && !hyperelastic;
  if (wanted.flag && wanted.origin == Origin::kCase && !heat.temperature_to_modulus)
    values.refuse("numerics.temperature_to_modulus",
                  hyperelastic ? "true, but a law that is not neo-hookean" : "true, but a card without relaxation",
                  "true with a card that has relaxation and a neo-hookean law",
                  "leave numerics.temperature_to_modulus out, and the stiffness stays what the law says");
  if (!polymer.relaxation) return;
  heat.law = hot_law(values, c, polymer, remarks);
  const auto law_at = [&](const RelaxationCard& relaxation) {
    PolymerCard other = polymer;
    other.relaxation = relaxation;
    Remarks told_already;
    return hot_law(values, c, other, told_already);
  };
  add_laws(*polymer.relaxation, law_at, c.bands);
  if (!heat.temperature_to_modulus) return;
  refuse_leather(values, c, polymer, heat);
  auto& modulus_Pa = std::get<sheet::NeoHookean>(c.sheet.law).shear_modulus_Pa;
  const double now_Pa = sheet::modulus_after_Pa(*heat.law, heat.start_K, sheet::kFormingTime_s);
  const double factor = now_Pa / modulus_Pa;
  if (auto& band = c.sheet.shear_modulus_Pa) *band = {factor * band->likely, factor * band->low, factor * band->high};
  const std::string at = format_in(heat.start_K, "°C");
  const bool own = values.has_table("sheet.law");
  remarks.card_values.push_back(
      {"heat.modulus", format_in(now_Pa, "MPa"), own ? Origin::kCase : Origin::kCard,
       own ? values.at("sheet.law.kind").line : 0,
       own ? fmt::format(
                 "left 1 s after a stretch at {}, by [sheet.law]; what other temperatures and times make of it, "
                 "by the card {}",
                 at, polymer.name)
           : fmt::format("left 1 s after a stretch at {}, by relaxation and shift of the card {}", at, polymer.name)});
  modulus_Pa = now_Pa;
}

}  // namespace

bool stiffness_follows(const Values& values, const PolymerCard* card) {
  return values.has("mould.temperature") && values.has("mould.resin") && values.at("numerics.heat").flag &&
         values.at("numerics.temperature_to_modulus").flag && card != nullptr && card->relaxation &&
         card->conductivity && card->specific_heat;
}

std::optional<HeatSpec> read_heat(const Values& values, Case& c, Remarks& remarks) {
  const Value& wanted = values.at("numerics.heat");
  if (!wanted.flag) return std::nullopt;
  const PolymerCard* polymer = values.polymer();
  const std::string lack = missing(values, c, polymer);
  if (!lack.empty()) {
    if (wanted.origin == Origin::kCase) {
      values.refuse(
          "numerics.heat", "true, but " + lack,
          "true with mould.temperature, mould.resin and a polymer card that has conductivity and specific heat",
          "Give what is missing, or leave numerics.heat out");
    }
    return std::nullopt;
  }
  HeatSpec heat{};
  heat.polymer = {polymer->conductivity->value.likely, polymer->specific_heat->value.likely, c.sheet.density_kg_m3};
  heat.start_K = c.sheet.temperature_K;
  heat.mould_K = values.at("mould.temperature").number();
  heat.mould_effusivity_Ws05_m2K = effusivity_Ws05_m2K(*find_resin(values.at("mould.resin").text));
  heat.delay_s = values.at("sheet.delay").number();
  heat.set_K = polymer->set_temperature.value.likely;
  heat.draws_from_K = polymer->forming_temperature.value.low;
  const std::string& cooling = values.at("part.cooling").text;
  heat.cooling = cooling == "fan" ? Cooling::kFan : cooling == "air" ? Cooling::kAir : Cooling::kGas;
  note_numbers(*polymer, heat, remarks);
  let_stiffness_follow(values, *polymer, c, heat, remarks);
  return heat;
}

}  // namespace pellicle::cases
