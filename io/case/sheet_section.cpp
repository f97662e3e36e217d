// Which sheet does the case clamp? Card, law, outline and element size.
#include "io/case/cards.h"
#include "io/case/sections.h"
#include "io/case/spelling.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace pellicle::cases {
namespace {

// Shares of the outline's smallest width. A coarser sheet cannot take a shape; a thicker one is no membrane.
constexpr double kDefaultElementShare = 1.0 / 80.0;
constexpr double kCoarsestElementShare = 1.0 / 8.0;
constexpr double kThickestShare = 0.1;
constexpr double kMostTriangles = 5e6;  // about 0.5 GB of state, days of computing
constexpr double kRoom_K = 293.15;
constexpr double kSameLength = 1e-9;  // relative: two texts for one length
constexpr double kModulusTemperature_K =
    15.0;  // the modulus of a polymer halves in 10 to 20 K (computed for polystyrene)

const PolymerCard* read_card(const Values& values) {
  const Value* polymer = values.find("sheet.polymer");
  if (polymer == nullptr) return nullptr;
  if (const PolymerCard* card = find_polymer(polymer->text)) return card;
  std::vector<std::string> names;
  std::string allowed;
  for (const PolymerCard& card : known_polymers()) {
    names.push_back(card.name);
    allowed += (allowed.empty() ? "one of the cards " : ", ") + card.name;
  }
  const auto near = nearest_word(polymer->text, names);
  values.refuse("sheet.polymer", "the unknown card " + in_quotes(polymer->text), allowed,
                near ? fmt::format("Did you mean {}?", *near) : "Another polymer: give [sheet.law] and sheet.density");
}

Value card_value(std::string_view path, const CardNumber& number) {
  Value value;
  value.key = find_key(path);
  value.numbers = {number.value.likely};
  value.origin = Origin::kCard;
  value.note = note_text(number);
  if (number.value.low < number.value.high) {
    value.note = fmt::format("{} to {}, {}", format_in(number.value.low, number.unit),
                             format_in(number.value.high, number.unit), value.note);
  }
  return value;
}

Value derived_value(std::string_view path, double value_SI, std::string note) {
  Value value;
  value.key = find_key(path);
  value.numbers = {value_SI};
  value.origin = Origin::kDefault;
  value.note = std::move(note);
  return value;
}

struct LawKind {
  std::string_view name;
  std::array<std::string_view, 3> keys;
};
constexpr std::array<LawKind, 4> kLaws{{{"neo-hookean", {"shear_modulus", "", ""}},
                                        {"mooney-rivlin", {"c10", "c01", ""}},
                                        {"yeoh", {"c10", "c20", "c30"}},
                                        {"ogden", {"mu", "alpha", ""}}}};

/// Exactly the keys of the law's kind must be there.
void check_law_keys(const Values& values, const std::string& kind) {
  const LawKind& law = *std::find_if(kLaws.begin(), kLaws.end(), [&](const LawKind& l) { return l.name == kind; });
  std::string allowed;
  for (const std::string_view key : law.keys) {
    if (!key.empty()) allowed += (allowed.empty() ? "" : ", ") + std::string(key);
  }
  for (const Key* key : keys_inside("sheet.law")) {
    const std::string path(key->path);
    if (leaf(*key) == "kind") continue;
    const bool belongs = std::find(law.keys.begin(), law.keys.end(), leaf(*key)) != law.keys.end();
    if (values.has(path) && !belongs) {
      values.refuse(path, fmt::format("{}, a key of another law", leaf(*key)),
                    fmt::format("with {}: {}", kind, allowed));
    }
    if (!values.has(path) && belongs) {
      values.refuse("sheet.law", fmt::format("no {}", leaf(*key)), fmt::format("with {}: {}", kind, allowed),
                    fmt::format("Write for example {} = {}", leaf(*key), key->example));
    }
  }
}

sheet::Ogden read_ogden(const Values& values) {
  const Value& mu = values.at("sheet.law.mu");
  const Value& alpha = values.at("sheet.law.alpha");
  const std::size_t terms = mu.numbers.size();
  if (terms != alpha.numbers.size()) {
    values.refuse("sheet.law.alpha", fmt::format("{} exponents for {} moduli", alpha.numbers.size(), terms),
                  "one alpha for each mu");
  }
  if (terms > static_cast<std::size_t>(sheet::Ogden::kMostTerms)) {
    values.refuse("sheet.law.mu", fmt::format("{} terms", terms),
                  fmt::format("1 to {} terms", sheet::Ogden::kMostTerms));
  }
  sheet::Ogden law{static_cast<int>(terms), {}, {}};
  for (std::size_t i = 0; i < terms; ++i) {
    if (alpha.numbers[i] == 0.0) {
      values.refuse("sheet.law.alpha", "0", "exponents other than 0", "W = mu/alpha (...) has no meaning at alpha = 0");
    }
    law.mu_Pa[i] = mu.numbers[i];
    law.alpha[i] = alpha.numbers[i];
  }
  return law;
}

sheet::Polymer read_case_law(const Values& values) {
  const std::string& kind = values.at("sheet.law.kind").text;
  check_law_keys(values, kind);
  const auto number = [&](const char* key) { return values.at(std::string("sheet.law.") + key).number(); };
  sheet::Polymer law;
  if (kind == "neo-hookean") {
    law = sheet::NeoHookean{number("shear_modulus")};
  } else if (kind == "mooney-rivlin") {
    law = sheet::MooneyRivlin{number("c10"), number("c01")};
  } else if (kind == "yeoh") {
    law = sheet::Yeoh{number("c10"), number("c20"), number("c30")};
  } else {
    law = read_ogden(values);
  }
  const double modulus_Pa = sheet::small_strain_shear_modulus_Pa(law);
  if (!(modulus_Pa > 0.0)) {
    values.refuse("sheet.law", fmt::format("a small-strain shear modulus of {}", format_in(modulus_Pa, "MPa")),
                  "a shear modulus above 0",
                  "It is shear_modulus (neo-hookean), 2 (c10 + c01) (mooney-rivlin), 2 c10 (yeoh), "
                  "sum mu alpha / 2 (ogden)");
  }
  return law;
}

sheet::Polymer read_law(Values& values, const PolymerCard* card, Remarks& remarks) {
  if (values.has_table("sheet.law")) return read_case_law(values);
  if (card == nullptr) {
    values.refuse("sheet", "neither polymer nor law", "a card in sheet.polymer, or [sheet.law] and sheet.density",
                  "Write for example polymer = \"petg\"");
  }
  Value kind;
  kind.key = find_key("sheet.law.kind");
  kind.text = "neo-hookean";
  kind.origin = Origin::kCard;
  values.put("sheet.law.kind", kind);
  Value modulus = card_value("sheet.law.shear_modulus", card->shear_modulus);
  modulus.note = fmt::format("at {}, {}", format_in(card->modulus_temperature_K, "°C"), modulus.note);
  values.put("sheet.law.shear_modulus", modulus);
  const Value* temperature = values.find("sheet.temperature");
  if (temperature != nullptr &&
      std::fabs(temperature->number() - card->modulus_temperature_K) > kModulusTemperature_K) {
    remarks.warnings.push_back(fmt::format(
        "{}: {}, but the card's modulus holds at {} and does not follow the temperature yet",
        values.where("sheet.temperature"), value_text(*temperature), format_in(card->modulus_temperature_K, "°C")));
  }
  return sheet::NeoHookean{card->shear_modulus.value.likely};
}

/// The temperature of the sheet when the gas comes on.
double read_temperature_K(Values& values, const PolymerCard* card, Remarks& remarks) {
  const Value* given = values.find("sheet.temperature");
  if (given == nullptr) {
    values.put("sheet.temperature", card != nullptr ? card_value("sheet.temperature", card->forming_temperature)
                                                    : derived_value("sheet.temperature", kRoom_K, "no card"));
    return values.at("sheet.temperature").number();
  }
  if (card != nullptr) {
    const Estimate& forming_K = card->forming_temperature.value;
    if (given->number() < forming_K.low || given->number() > forming_K.high) {
      remarks.warnings.push_back(fmt::format("{}: {} is outside the forming range of {}, {} to {} ({})",
                                             values.where("sheet.temperature"), value_text(*given), card->name,
                                             format_in(forming_K.low, "°C"), format_in(forming_K.high, "°C"),
                                             card->forming_temperature.mark));
    }
  }
  return given->number();
}

double read_density(Values& values, const PolymerCard* card) {
  if (const Value* given = values.find("sheet.density")) return given->number();
  if (card == nullptr) {
    values.refuse("sheet", "no density", allowed_text(*find_key("sheet.density")),
                  "density is required where no card is named. Write for example density = \"1250 kg/m^3\"");
  }
  values.put("sheet.density", card_value("sheet.density", card->density));
  return card->density.value.likely;
}

mesh::Outline read_outline(Values& values) {
  const Value* disc = values.find("sheet.outline.disc");
  const Value* rectangle = values.find("sheet.outline.rectangle");
  const Value* corner = values.find("sheet.outline.corner");
  const Value& centre = values.at("sheet.centre");
  if ((disc == nullptr) == (rectangle == nullptr)) {
    values.refuse("sheet.outline", disc ? "both disc and rectangle" : "neither disc nor rectangle",
                  "exactly one of them", "Write for example outline = { disc = \"100 mm\" }");
  }
  mesh::Outline outline;
  outline.centre_m = {centre.numbers[0], centre.numbers[1]};
  if (disc != nullptr) {
    if (corner != nullptr)
      values.refuse("sheet.outline.corner", "a corner radius of a disc", "corner with rectangle only");
    outline.shape = mesh::Disc{disc->number()};
    return outline;
  }
  const double width_m = rectangle->numbers[0], depth_m = rectangle->numbers[1];
  const double most_m = 0.5 * std::min(width_m, depth_m);
  if (corner == nullptr)
    values.put("sheet.outline.corner", derived_value("sheet.outline.corner", 0.0, "sharp corners"));
  const double corner_m = values.at("sheet.outline.corner").number();
  if (corner_m > most_m * (1.0 + kSameLength)) {
    values.refuse("sheet.outline.corner", format_in(corner_m, "mm"),
                  fmt::format("0 mm to {}, half the shorter side", format_in(most_m, "mm")));
  }
  outline.shape = mesh::RoundedRectangle{width_m, depth_m, std::min(corner_m, most_m)};
  return outline;
}

double smallest_width_m(const mesh::Outline& outline) {
  if (const auto* disc = std::get_if<mesh::Disc>(&outline.shape)) return disc->diameter_m;
  const auto& rectangle = std::get<mesh::RoundedRectangle>(outline.shape);
  return std::min(rectangle.width_m, rectangle.depth_m);
}

double box_area_m2(const mesh::Outline& outline) {
  if (const auto* disc = std::get_if<mesh::Disc>(&outline.shape)) {
    return 0.25 * std::numbers::pi * disc->diameter_m * disc->diameter_m;
  }
  const auto& rectangle = std::get<mesh::RoundedRectangle>(outline.shape);
  return rectangle.width_m * rectangle.depth_m;
}

void read_elements(Values& values, SheetSpec& sheet) {
  const double width_m = smallest_width_m(sheet.outline);
  if (!values.has("sheet.element")) {
    values.put("sheet.element", derived_value("sheet.element", kDefaultElementShare * width_m, "1/80 of the width"));
  }
  sheet.element_m = values.at("sheet.element").number();
  const double coarsest_m = kCoarsestElementShare * width_m;
  if (sheet.element_m > coarsest_m) {
    values.refuse("sheet.element", format_in(sheet.element_m, "mm"),
                  fmt::format("at most {}, 1/8 of the outline's smallest width", format_in(coarsest_m, "mm")),
                  "A useful start is 1/80 of it");
  }
  if (!values.has("sheet.rim_element")) {
    values.put("sheet.rim_element", derived_value("sheet.rim_element", sheet.element_m, "= element"));
  }
  sheet.rim_element_m = values.at("sheet.rim_element").number();
  if (sheet.rim_element_m < sheet.element_m * (1.0 - kSameLength) || sheet.rim_element_m > 2.0 * coarsest_m) {
    values.refuse("sheet.rim_element", format_in(sheet.rim_element_m, "mm"),
                  fmt::format("element ({}) to 1/4 of the outline's smallest width ({})",
                              format_in(sheet.element_m, "mm"), format_in(2.0 * coarsest_m, "mm")));
  }
  if (const Value* fine = values.find("sheet.fine_element")) {
    if (std::fabs(fine->number() - sheet.element_m) > kSameLength * sheet.element_m) {
      values.refuse("sheet.fine_element", value_text(*fine) + ", but refinement is not available yet",
                    fmt::format("{} (= element), or no fine_element", format_in(sheet.element_m, "mm")),
                    "Make element itself as fine as needed, with a coarser rim_element");
    }
  } else {
    values.put("sheet.fine_element", derived_value("sheet.fine_element", sheet.element_m, "= element"));
  }
  // Equilateral triangles of the rim's size: fewer than there will be if the middle is finer.
  const double triangles =
      box_area_m2(sheet.outline) / (0.25 * std::sqrt(3.0) * sheet.rim_element_m * sheet.rim_element_m);
  if (triangles > kMostTriangles) {
    values.refuse("sheet.element",
                  fmt::format("{}, which makes about {:.0f} million triangles", format_in(sheet.element_m, "mm"),
                              triangles * 1e-6),
                  fmt::format("at most {:.0f} million triangles", kMostTriangles * 1e-6), "Make the element larger");
  }
}

void check_thickness(const Values& values, const SheetSpec& sheet, Remarks& remarks) {
  const double thickest_m = kThickestShare * smallest_width_m(sheet.outline);
  if (sheet.thickness_m > thickest_m) {
    values.refuse("sheet.thickness", format_in(sheet.thickness_m, "mm"),
                  fmt::format("at most {}, 1/10 of the outline's smallest width", format_in(thickest_m, "mm")),
                  "The sheet is computed as a membrane, which has no stiffness in bending");
  }
  if (sheet.element_m < sheet.thickness_m) {
    remarks.warnings.push_back(fmt::format(
        "{}: elements of {} are smaller than the sheet is thick ({}); a membrane shows no more detail for it",
        values.where("sheet.element"), format_in(sheet.element_m, "mm"), format_in(sheet.thickness_m, "mm")));
  }
}

}  // namespace

SheetSpec read_sheet(Values& values, Remarks& remarks) {
  const PolymerCard* card = read_card(values);
  SheetSpec sheet{};
  sheet.polymer = card ? card->name : "";
  sheet.law = read_law(values, card, remarks);
  if (card != nullptr && !values.has_table("sheet.law")) sheet.shear_modulus_Pa = card->shear_modulus.value;
  sheet.density_kg_m3 = read_density(values, card);
  sheet.temperature_K = read_temperature_K(values, card, remarks);
  if (card != nullptr) {
    if (card->stretch_limit) {
      sheet.stretch_limit = card->stretch_limit->value;
      remarks.card_values.push_back(
          {"card.stretch_limit", value_text(*card->stretch_limit), Origin::kCard, 0, note_text(*card->stretch_limit)});
    }
    remarks.card_values.push_back({"card.forming_temperature", value_text(card->forming_temperature), Origin::kCard, 0,
                                   note_text(card->forming_temperature)});
    remarks.card_values.push_back({"card.set_temperature", value_text(card->set_temperature), Origin::kCard, 0,
                                   note_text(card->set_temperature)});
  }
  sheet.thickness_m = values.at("sheet.thickness").number();
  sheet.outline = read_outline(values);
  read_elements(values, sheet);
  check_thickness(values, sheet, remarks);
  if (!values.has("sheet.height")) {
    if (values.has_table("mould")) {
      values.refuse("sheet", "no height", allowed_text(*find_key("sheet.height")),
                    "height is required with a mould. Write for example height = \"25 mm\"");
    }
    values.put("sheet.height", derived_value("sheet.height", 0.0, "no mould"));
  }
  sheet.height_m = values.at("sheet.height").number();
  return sheet;
}

}  // namespace pellicle::cases
