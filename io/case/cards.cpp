// What is known of a polymer or a printing resin? The card texts, parsed once and checked like a case.
#include "io/case/cards.h"

#include "io/case/document.h"
#include "io/case/parse.h"
#include "io/case/units.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace pellicle::cases {
namespace {

constexpr std::array<std::string_view, 5> kMarks{"seen", "computed", "from memory", "estimate", "common practice"};

constexpr std::array<std::string_view, 7> kCardKeys{"likely", "low", "high", "at", "time", "mark", "source"};

/// Cards ship with the program, but a person may edit them: a mistake is told like one in a case.
class CardReader {
 public:
  CardReader(std::string file_name, std::string card) : file_(std::move(file_name)), card_(std::move(card)) {}

  [[noreturn]] void refuse(int line, std::string_view key, std::string found, std::string allowed) const {
    throw Error({.kind = Fault::Kind::kCase,
                 .where = fmt::format("{}:{}, {}.{}", file_, line, card_, key),
                 .found = std::move(found),
                 .allowed = std::move(allowed),
                 .advice = "This is a card, not the case"});
  }

  std::string text(const Node& table, std::string_view key) const {
    const Node* node = table.find(key);
    if (node == nullptr) refuse(table.line, key, "nothing", "a text");
    if (node->kind != Node::Kind::kText || node->text.empty()) refuse(node->line, key, describe(*node), "a text");
    return node->text;
  }

  double number_SI(const Node& table, std::string_view key, Dimension dimension) const {
    const Node* node = table.find(key);
    if (node == nullptr) refuse(table.line, key, "nothing", "a number");
    if (dimension == Dimension::kNone && node->kind == Node::Kind::kNumber) return node->number;
    if (dimension == Dimension::kNone || node->kind != Node::Kind::kText) {
      refuse(node->line, key, describe(*node), dimension_name(dimension));
    }
    const auto reading = parse_quantity(node->text, dimension);
    if (const auto* refusal = std::get_if<Refusal>(&reading)) refuse(node->line, key, refusal->found, refusal->allowed);
    return std::get<double>(reading);
  }

  bool flag_or(const Node& table, std::string_view key, bool if_silent) const {
    const Node* node = table.find(key);
    if (node == nullptr) return if_silent;
    if (node->kind != Node::Kind::kFlag) refuse(node->line, key, describe(*node), "true or false");
    return node->flag;
  }

  CardNumber read(const Node& card, std::string_view name, Dimension dimension, std::string_view unit) const {
    const Node* table = card.find(name);
    if (table == nullptr) refuse(card.line, name, "nothing", "a table with likely, low, high, mark, source");
    for (const std::string& key : table->keys) {
      if (std::find(kCardKeys.begin(), kCardKeys.end(), key) == kCardKeys.end()) {
        refuse(table->line, name, "the unknown key " + in_quotes(key), "likely, low, high, at, time, mark, source");
      }
    }
    CardNumber number{std::string(name), {}, std::string(unit), text(*table, "mark"), text(*table, "source")};
    number.value.likely = number_SI(*table, "likely", dimension);
    number.value.low = table->find("low") ? number_SI(*table, "low", dimension) : number.value.likely;
    number.value.high = table->find("high") ? number_SI(*table, "high", dimension) : number.value.likely;
    if (number.value.low > number.value.likely || number.value.likely > number.value.high) {
      refuse(table->line, name, "low, likely, high out of order", "low <= likely <= high");
    }
    if (std::find(kMarks.begin(), kMarks.end(), number.mark) == kMarks.end()) {
      refuse(table->line, name, in_quotes(number.mark), "seen, computed, from memory, estimate or common practice");
    }
    return number;
  }

 private:
  std::string file_, card_;
};

ModeCard read_mode(const CardReader& reader, const Node& card, std::string_view name, std::string_view unit) {
  ModeCard mode{reader.read(card, name, Dimension::kPressure, unit), 0.0};
  mode.time_s = reader.number_SI(*card.find(name), "time", Dimension::kTime);
  return mode;
}

RelaxationCard read_relaxation(const std::string& file, const std::string& name, const Node& card) {
  const CardReader reader(file, name + ".relaxation");
  RelaxationCard r{};
  r.glass_transition = reader.read(card, "glass_transition", Dimension::kTemperature, "°C");
  r.shift_c1 = reader.read(card, "shift_c1", Dimension::kNone, "");
  r.shift_c2 = reader.read(card, "shift_c2", Dimension::kNone, "");
  r.shift_temperature_K = reader.number_SI(*card.find("shift_c1"), "at", Dimension::kTemperature);
  r.network = reader.read(card, "network", Dimension::kPressure, "MPa");
  r.network_temperature_K = reader.number_SI(*card.find("network"), "at", Dimension::kTemperature);
  for (const std::string& key : card.keys)
    if (key.starts_with("mode_")) r.modes.push_back(read_mode(reader, card, key, "MPa"));
  r.glass = read_mode(reader, card, "glass", "GPa");
  return r;
}

SolidCard read_solid(const std::string& file, const std::string& name, const Node& card) {
  const CardReader reader(file, name + ".solid");
  const auto share = [&](std::string_view key) { return reader.read(card, key, Dimension::kNone, ""); };
  SolidCard solid{reader.read(card, "elastic_modulus", Dimension::kPressure, "GPa"), share("poisson"),
                  share("expansion"), share("yield_strain"), share("shrinkage")};
  for (const CardNumber* number :
       {&solid.elastic_modulus, &solid.poisson, &solid.expansion, &solid.yield_strain, &solid.shrinkage})
    if (number->value.low <= 0.0) reader.refuse(card.line, number->name, "zero or less", "above 0");
  for (const CardNumber* number : {&solid.poisson, &solid.yield_strain, &solid.shrinkage})
    if (number->value.high >= 0.5) reader.refuse(card.line, number->name, "a half or more", "below 0.5");
  return solid;
}

/// Moduli and exponents as in [sheet.law]. Its modulus at small stretch must be the card's, within its band.
HyperelasticCard read_law(const std::string& file, const std::string& name, const Node& table,
                          const Estimate& shear_modulus_Pa) {
  const CardReader reader(file, name + ".law");
  const std::string kind = reader.text(table, "kind");
  const auto modulus_Pa = [&](std::string_view key) { return reader.number_SI(table, key, Dimension::kPressure); };
  HyperelasticCard card{{},
                        reader.number_SI(table, "at", Dimension::kTemperature),
                        reader.text(table, "mark"),
                        reader.text(table, "source")};
  if (kind == "yeoh") {
    card.law = sheet::Yeoh{modulus_Pa("c10"), modulus_Pa("c20"), modulus_Pa("c30")};
  } else if (kind == "ogden") {
    const Node *mu = table.find("mu"), *alpha = table.find("alpha");
    const auto is_list = [](const Node* node) {
      return node != nullptr && node->kind == Node::Kind::kArray && !node->items.empty() &&
             node->items.size() <= std::size_t{sheet::Ogden::kMostTerms};
    };
    if (!is_list(mu) || !is_list(alpha) || mu->items.size() != alpha->items.size())
      reader.refuse(table.line, "mu", "no two lists of one length", "mu and alpha, one to six terms");
    sheet::Ogden law{static_cast<int>(mu->items.size()), {}, {}};
    for (std::size_t i = 0; i < mu->items.size(); ++i) {
      const auto read = parse_quantity(mu->items[i].text, Dimension::kPressure);
      if (const auto* no = std::get_if<Refusal>(&read)) reader.refuse(mu->line, "mu", no->found, no->allowed);
      law.mu_Pa[i] = std::get<double>(read);
      law.alpha[i] = alpha->items[i].number;
      if (law.alpha[i] == 0.0) reader.refuse(alpha->line, "alpha", "0 or no number", "exponents other than 0");
    }
    card.law = law;
  } else {
    reader.refuse(table.line, "kind", in_quotes(kind), "yeoh or ogden; neo-hookean is shear_modulus alone");
  }
  const double small_Pa = sheet::small_strain_shear_modulus_Pa(card.law);
  if (!(small_Pa >= shear_modulus_Pa.low && small_Pa <= shear_modulus_Pa.high))
    reader.refuse(table.line, "kind", "a small-strain shear modulus of " + format_in(small_Pa, "MPa"),
                  "one within the band of shear_modulus");
  return card;
}

PolymerCard read_polymer(const std::string& file, const std::string& name, const Node& card) {
  const CardReader reader(file, name);
  PolymerCard polymer{};
  polymer.name = name;
  polymer.title = reader.text(card, "title");
  polymer.shear_modulus = reader.read(card, "shear_modulus", Dimension::kPressure, "MPa");
  if (polymer.shear_modulus.value.low <= 0.0)
    reader.refuse(card.line, "shear_modulus", "no positive modulus", "above 0");
  polymer.modulus_temperature_K = reader.number_SI(*card.find("shear_modulus"), "at", Dimension::kTemperature);
  polymer.density = reader.read(card, "density", Dimension::kDensity, "kg/m^3");
  if (card.find("stretch_limit")) polymer.stretch_limit = reader.read(card, "stretch_limit", Dimension::kNone, "");
  polymer.forming_temperature = reader.read(card, "forming_temperature", Dimension::kTemperature, "°C");
  polymer.set_temperature = reader.read(card, "set_temperature", Dimension::kTemperature, "°C");
  if (card.find("conductivity"))
    polymer.conductivity = reader.read(card, "conductivity", Dimension::kConductivity, "W/(m K)");
  if (card.find("specific_heat"))
    polymer.specific_heat = reader.read(card, "specific_heat", Dimension::kSpecificHeat, "kJ/(kg K)");
  for (const std::optional<CardNumber>* number : {&polymer.conductivity, &polymer.specific_heat})
    if (*number && (*number)->value.low <= 0.0) reader.refuse(card.line, (*number)->name, "zero or less", "above 0");
  if (const Node* table = card.find("solid")) polymer.solid = read_solid(file, name, *table);
  if (const Node* table = card.find("law")) polymer.law = read_law(file, name, *table, polymer.shear_modulus.value);
  if (const Node* table = card.find("relaxation")) {
    polymer.relaxation = read_relaxation(file, name, *table);
    sheet::check(law_of(*polymer.relaxation).relaxation);
  }
  return polymer;
}

ResinCard read_resin(const std::string& file, const std::string& name, const Node& card) {
  const CardReader reader(file, name);
  ResinCard resin{
      name,
      reader.text(card, "title"),
      {reader.read(card, "deflection_temperature_at_0.45_MPa", Dimension::kTemperature, "°C"),
       reader.read(card, "deflection_temperature_at_1.80_MPa", Dimension::kTemperature, "°C"),
       reader.read(card, "elastic_modulus", Dimension::kPressure, "GPa"),
       reader.read(card, "strength", Dimension::kPressure, "MPa"),
       reader.read(card, "conductivity", Dimension::kConductivity, "W/(m K)"),
       reader.read(card, "specific_heat", Dimension::kSpecificHeat, "kJ/(kg K)"),
       reader.read(card, "density", Dimension::kDensity, "kg/m^3"), reader.read(card, "poisson", Dimension::kNone, ""),
       reader.read(card, "expansion", Dimension::kNone, ""),
       reader.read(card, "strength_across_layers", Dimension::kNone, "")},
      reader.flag_or(card, "softens", true)};
  const ResinSpec spec = spec_of(resin);
  for (const checks::End end : {checks::End::kLow, checks::End::kLikely, checks::End::kHigh})
    if (end_of(spec.deflects_at_180_K, end) >= end_of(spec.deflects_at_045_K, end) ||
        end_of(spec.deflects_at_180_K, end) <= checks::kRoom_K)
      reader.refuse(card.line, "deflection_temperature_at_1.80_MPa", "no rising deflection temperatures",
                    "above 23 °C, and below that at 0.45 MPa");
  if (spec.poisson.low <= 0.0 || spec.poisson.high >= 0.5)
    reader.refuse(card.line, "poisson", "no number between", "above 0 and below 0.5");
  if (spec.expansion_1_K.low <= 0.0) reader.refuse(card.line, "expansion", "zero or less", "above 0, of a kelvin");
  if (spec.across_layers.low <= 0.0 || spec.across_layers.high > 1.0)
    reader.refuse(card.line, "strength_across_layers", "no share", "above 0, at most 1");
  return resin;
}

template <class Card>
const Card* find_card(const std::vector<Card>& cards, const std::string& name) {
  const auto it = std::find_if(cards.begin(), cards.end(), [&](const Card& card) { return card.name == name; });
  return it == cards.end() ? nullptr : &*it;
}

}  // namespace

std::vector<CardLawNumber> law_numbers(const sheet::Polymer& law) {
  if (const auto* yeoh = std::get_if<sheet::Yeoh>(&law))
    return {
        {"kind", "yeoh", {}}, {"c10", "", {yeoh->c10_Pa}}, {"c20", "", {yeoh->c20_Pa}}, {"c30", "", {yeoh->c30_Pa}}};
  if (const auto* ogden = std::get_if<sheet::Ogden>(&law)) {
    const auto first = [&](const auto& list) { return std::vector<double>(list.begin(), list.begin() + ogden->terms); };
    return {{"kind", "ogden", {}}, {"mu", "", first(ogden->mu_Pa)}, {"alpha", "", first(ogden->alpha)}};
  }
  if (const auto* mooney = std::get_if<sheet::MooneyRivlin>(&law))
    return {{"kind", "mooney-rivlin", {}}, {"c10", "", {mooney->c10_Pa}}, {"c01", "", {mooney->c01_Pa}}};
  return {{"kind", "neo-hookean", {}}, {"shear_modulus", "", {std::get<sheet::NeoHookean>(law).shear_modulus_Pa}}};
}

std::string value_text(const CardNumber& number) {
  const Estimate& v = number.value;
  if (v.low == v.high) return format_in(v.likely, number.unit);
  return fmt::format("{} ({} to {})", format_in(v.likely, number.unit), format_in(v.low, number.unit),
                     format_in(v.high, number.unit));
}

std::string note_text(const CardNumber& number) { return fmt::format("{}: {}", number.mark, number.source); }

CardLaw law_of(const RelaxationCard& card) {
  const double limit_K = card.glass_transition.value.likely, at_K = card.shift_temperature_K;
  const double c1 = card.shift_c1.value.likely, c2_K = card.shift_c2.value.likely;
  const sheet::TimeShift shift{at_K, c1, c2_K, limit_K, sheet::smooth_activation_J_mol(at_K, c1, c2_K, limit_K)};
  CardLaw law{{card.network.value.likely}, {}};
  law.relaxation.shift = sheet::with_reference(shift, card.network_temperature_K);
  law.relaxation.network_reference_K = card.network_temperature_K;
  for (const ModeCard& mode : card.modes) law.relaxation.modes.push_back({mode.modulus.value.likely, mode.time_s});
  law.relaxation.modes.push_back(
      {card.glass.modulus.value.likely, card.glass.time_s / law.relaxation.shift.factor(limit_K)});
  return law;
}

std::optional<SolidPolymer> solid_of(const PolymerCard& card) {
  if (!card.solid) return std::nullopt;
  const SolidCard& s = *card.solid;
  return SolidPolymer{s.elastic_modulus.value, s.poisson.value,   s.expansion.value,
                      s.yield_strain.value,    s.shrinkage.value, card.set_temperature.value.likely};
}

ResinSpec spec_of(const ResinCard& card) {
  const auto number = [&](std::string_view name) -> const Estimate& {
    const auto it =
        std::find_if(card.numbers.begin(), card.numbers.end(), [&](const CardNumber& n) { return n.name == name; });
    ensure(it != card.numbers.end(), "a resin card has all its numbers");
    return it->value;
  };
  return {.name = card.name,
          .deflects_at_045_K = number("deflection_temperature_at_0.45_MPa"),
          .deflects_at_180_K = number("deflection_temperature_at_1.80_MPa"),
          .modulus_Pa = number("elastic_modulus"),
          .poisson = number("poisson"),
          .strength_Pa = number("strength"),
          .across_layers = number("strength_across_layers"),
          .conductivity_W_mK = number("conductivity"),
          .specific_heat_J_kgK = number("specific_heat"),
          .density_kg_m3 = number("density"),
          .expansion_1_K = number("expansion"),
          .softens = card.softens};
}

std::vector<PolymerCard> read_polymer_cards(const std::string& text, const std::string& name) {
  const Node root = parse_document(text, name);
  std::vector<PolymerCard> cards;
  for (std::size_t i = 0; i < root.items.size(); ++i) cards.push_back(read_polymer(name, root.keys[i], root.items[i]));
  return cards;
}

std::vector<ResinCard> read_resin_cards(const std::string& text, const std::string& name) {
  const Node root = parse_document(text, name);
  std::vector<ResinCard> cards;
  for (std::size_t i = 0; i < root.items.size(); ++i) cards.push_back(read_resin(name, root.keys[i], root.items[i]));
  return cards;
}

const std::vector<PolymerCard>& known_polymers() {
  static const std::vector<PolymerCard> cards = read_polymer_cards(kPolymerCards, "cards/polymers.toml");
  return cards;
}

const std::vector<ResinCard>& known_resins() {
  static const std::vector<ResinCard> cards = read_resin_cards(kResinCards, "cards/resins.toml");
  return cards;
}

std::string polymer_cards() { return kPolymerCards; }
std::string resin_cards() { return kResinCards; }

const PolymerCard* find_polymer(const std::string& name) { return find_card(known_polymers(), name); }
const ResinCard* find_resin(const std::string& name) { return find_card(known_resins(), name); }

}  // namespace pellicle::cases
