// How is a card of a polymer written, so that it can be read again? As in cases/cards/polymers.toml.
#include "io/case/card_text.h"

#include "io/case/units.h"
#include "io/results/json.h"

#include <fmt/format.h>

#include <optional>

namespace pellicle::cases {
namespace {

std::string in_toml(std::string_view text) { return results::json_text(text); }

std::string quantity(double value_SI, const std::string& unit) {
  const std::string text = format_in(value_SI, unit);
  return unit.empty() ? text : '"' + text + '"';
}

std::string at(double temperature_K) { return fmt::format("at = {}\n", quantity(temperature_K, "°C")); }

/// A table at a path such as "petg-measured.relaxation"; `more`: lines beside its numbers.
std::string number_toml(const std::string& path, const CardNumber& number, const std::string& more = {}) {
  std::string out =
      fmt::format("[{}.{}]\nlikely = {}\n", path, number.name, quantity(number.value.likely, number.unit));
  if (number.value.low < number.value.high)
    out += fmt::format("low = {}\nhigh = {}\n", quantity(number.value.low, number.unit),
                       quantity(number.value.high, number.unit));
  return out + more + fmt::format("mark = {}\nsource = {}\n", in_toml(number.mark), in_toml(number.source));
}

std::string relaxation_toml(const std::string& path, const RelaxationCard& r) {
  const auto mode = [&](const ModeCard& m) {
    return number_toml(path, m.modulus, fmt::format("time = {}\n", quantity(m.time_s, "s")));
  };
  std::string out = number_toml(path, r.glass_transition) + number_toml(path, r.shift_c1, at(r.shift_temperature_K)) +
                    number_toml(path, r.shift_c2, at(r.shift_temperature_K)) +
                    number_toml(path, r.network, at(r.network_temperature_K));
  for (const ModeCard& m : r.modes) out += mode(m);
  return out + mode(r.glass);
}

std::string solid_toml(const std::string& path, const SolidCard& s) {
  return number_toml(path, s.elastic_modulus) + number_toml(path, s.poisson) + number_toml(path, s.expansion) +
         number_toml(path, s.yield_strain) + number_toml(path, s.shrinkage);
}

std::string law_toml(const std::string& path, const HyperelasticCard& card) {
  std::string out = fmt::format("[{}]\n", path);
  for (const CardLawNumber& number : law_numbers(card.law)) {
    std::string text;
    for (const double value : number.values)
      text +=
          (text.empty() ? "" : ", ") + (number.key == "alpha" ? fmt::format("{:.6g}", value) : quantity(value, "MPa"));
    if (!number.word.empty()) text = in_toml(number.word);
    const bool is_list = number.key == "mu" || number.key == "alpha";
    out += number.key + " = " + (is_list ? "[" + text + "]" : text) + "\n";
  }
  return out + at(card.at_K) + fmt::format("mark = {}\nsource = {}\n", in_toml(card.mark), in_toml(card.source));
}

}  // namespace

std::string card_head(const PolymerCard& card) {
  return fmt::format("[{}]\ntitle = {}\n", card.name, in_toml(card.title)) +
         number_toml(card.name, card.shear_modulus, at(card.modulus_temperature_K));
}

std::string card_rest(const PolymerCard& card) {
  std::string out = number_toml(card.name, card.density);
  if (card.stretch_limit) out += number_toml(card.name, *card.stretch_limit);
  out += number_toml(card.name, card.forming_temperature) + number_toml(card.name, card.set_temperature);
  for (const std::optional<CardNumber>* number : {&card.conductivity, &card.specific_heat})
    if (*number) out += number_toml(card.name, **number);
  if (card.law) out += law_toml(card.name + ".law", *card.law);
  if (card.solid) out += solid_toml(card.name + ".solid", *card.solid);
  return out + (card.relaxation ? relaxation_toml(card.name + ".relaxation", *card.relaxation) : "");
}

}  // namespace pellicle::cases
