// Does the case say enough to follow the sheet's heat, and what does it say?
#include "io/case/cards.h"
#include "io/case/sections.h"

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
  const auto film = [&](const char* key, double W_m2K, const char* note) {
    remarks.card_values.push_back({key, fmt::format("{} W/(m2 K)", W_m2K), Origin::kDefault, 0, note});
  };
  film("heat.contact", heat.contact_W_m2K, "500 to 3000, estimate: hot sheet pressed on a mould");
  film("heat.gas", heat.gas_film_W_m2K, "20 to 150, estimate: free side, gas of the stages at 20 °C");
  film("heat.air", heat.still_film_W_m2K, "5 to 15, estimate: mould side where it does not touch, still air at 20 °C");
}

}  // namespace

std::optional<HeatSpec> read_heat(const Values& values, const Case& c, Remarks& remarks) {
  const Value& wanted = values.at("numerics.heat");
  if (!wanted.flag) return std::nullopt;
  const PolymerCard* polymer = find_polymer(c.sheet.polymer);
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
  heat.set_K = polymer->set_temperature.value.likely;
  note_numbers(*polymer, heat, remarks);
  return heat;
}

}  // namespace pellicle::cases
