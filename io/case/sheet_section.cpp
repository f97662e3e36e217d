// Which sheet does the case clamp? Card, law, outline and element size.
#include "io/case/cards.h"
#include "io/case/heater_section.h"
#include "io/case/sections.h"
#include "io/case/spelling.h"
#include "io/case/svg_path.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace pellicle::cases {
namespace {

// Shares of the outline's smallest width. A coarser sheet cannot take a shape; a thicker one is no membrane.
constexpr double kDefaultElementShare = 1.0 / 80.0;
constexpr double kCoarsestElementShare = 1.0 / 8.0;
constexpr double kThickestShare = 0.1;
constexpr double kMostTriangles = 5e6;  // about 0.5 GB of state, days of computing
constexpr double kRoom_K = 293.15;
/// Finer than this the mesh should start finer.
constexpr double kFinestElementShare = 1.0 / 32.0;
constexpr double kSameLength = 1e-9;  // relative: two texts for one length
constexpr double kModulusTemperature_K =
    15.0;  // the modulus of a polymer halves in 10 to 20 K (computed for polystyrene)

const PolymerCard* read_card(const Values& values) {
  const Value* polymer = values.find("sheet.polymer");
  if (polymer == nullptr) return nullptr;
  if (const PolymerCard* card = values.polymer()) return card;
  std::vector<std::string> names;
  std::string allowed;
  for (const PolymerCard& card : known_polymers()) {
    names.push_back(card.name);
    allowed += (allowed.empty() ? "one of the cards " : ", ") + card.name;
  }
  const auto near = nearest_word(polymer->text, names);
  values.refuse("sheet.polymer", "the unknown card " + in_quotes(polymer->text), allowed,
                near ? fmt::format("Did you mean {}?", *near)
                     : "Another polymer: the path of a card of your own, or [sheet.law] and sheet.density");
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
    if (leaf(*key) == "kind" || leaf(*key) == "spread") continue;
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

/// The law of a card that has more than a modulus, told among the values as the case would give it.
sheet::Polymer read_card_law(Values& values, const PolymerCard& card) {
  for (const CardLawNumber& number : law_numbers(card.law->law)) {
    Value value;
    value.key = find_key("sheet.law." + number.key);
    value.numbers = number.values;
    value.text = number.word;
    value.origin = Origin::kCard;
    value.note = fmt::format("at {}, {}: {}", format_in(card.law->at_K, "°C"), card.law->mark, card.law->source);
    values.put("sheet.law." + number.key, value);
  }
  return card.law->law;
}

sheet::Polymer read_law(Values& values, const PolymerCard* card, Remarks& remarks) {
  if (values.has_table("sheet.law")) return read_case_law(values);
  if (card == nullptr) {
    values.refuse("sheet", "neither polymer nor law", "a card in sheet.polymer, or [sheet.law] and sheet.density",
                  "Write for example polymer = \"petg\"");
  }
  if (card->law) return read_card_law(values, *card);
  Value kind;
  kind.key = find_key("sheet.law.kind");
  kind.text = "neo-hookean";
  kind.origin = Origin::kCard;
  values.put("sheet.law.kind", kind);
  Value modulus = card_value("sheet.law.shear_modulus", card->shear_modulus);
  modulus.note = fmt::format("at {}, {}", format_in(card->modulus_temperature_K, "°C"), modulus.note);
  values.put("sheet.law.shear_modulus", modulus);
  const Value* temperature = values.find("sheet.temperature");
  if (temperature != nullptr && !stiffness_follows(values, card) &&
      std::fabs(temperature->number() - card->modulus_temperature_K) > kModulusTemperature_K) {
    remarks.warnings.push_back(fmt::format(
        "{}: {}, but the card's modulus holds at {} and follows the temperature only where heat is followed "
        "(mould.temperature, mould.resin)",
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
      remarks.warnings.push_back(fmt::format("{}: {} is outside the forming window of {}, {} to {} ({})",
                                             values.where("sheet.temperature"), value_text(*given), card->name,
                                             format_in(forming_K.low, "°C"), format_in(forming_K.high, "°C"),
                                             note_text(card->forming_temperature)));
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

mesh::RoundedRectangle read_rectangle(Values& values, const Value& sides) {
  const double width_m = sides.numbers[0], depth_m = sides.numbers[1];
  const double most_m = 0.5 * std::min(width_m, depth_m);
  if (!values.has("sheet.outline.corner"))
    values.put("sheet.outline.corner", derived_value("sheet.outline.corner", 0.0, "sharp corners"));
  const double corner_m = values.at("sheet.outline.corner").number();
  if (corner_m > most_m * (1.0 + kSameLength)) {
    values.refuse("sheet.outline.corner", format_in(corner_m, "mm"),
                  fmt::format("0 mm to {}, half the shorter side", format_in(most_m, "mm")));
  }
  return {width_m, depth_m, std::min(corner_m, most_m)};
}

/// Points as given, or those of a path, its y turned to count upwards.
std::vector<mesh::Vec2> read_points(const Values& values, const std::string& key) {
  const Value& given = values.at(key);
  std::vector<mesh::Vec2> points_m;
  if (key == "sheet.outline.loop") {
    for (std::size_t i = 0; i + 1 < given.numbers.size(); i += 2)
      points_m.emplace_back(given.numbers[i], given.numbers[i + 1]);
    if (points_m.size() > 1 && points_m.front() == points_m.back()) points_m.pop_back();  // closed by hand
    return points_m;
  }
  const Value* unit = values.find("sheet.outline.unit");
  if (unit == nullptr) {
    values.refuse("sheet.outline", "a path without unit",
                  "unit beside path: " + allowed_text(*find_key("sheet.outline.unit")),
                  "The numbers of a drawing are plain. Write for example unit = \"mm\"");
  }
  const Key& ends = *find_key("sheet.outline.loop");
  const double unit_m = to_SI(1.0, unit->text), farthest_m = to_SI(ends.high, ends.unit);
  for (const mesh::Vec2& p : read_svg_path(given.text, values.where(key))) {
    points_m.push_back(unit_m * mesh::Vec2(p.x(), -p.y()));
    if (!(points_m.back().cwiseAbs().maxCoeff() <= farthest_m)) {
      values.refuse(key, fmt::format("a point at ({:.6g}, {:.6g}) {}", p.x(), p.y(), unit->text),
                    fmt::format("{:.6g} mm at most from sheet.centre along x and y", ends.high),
                    "Is sheet.outline.unit right?");
    }
  }
  return points_m;
}

mesh::Loop read_loop(const Values& values, const std::string& key) {
  std::vector<mesh::Vec2> points_m = read_points(values, key);
  for (const auto& look : {mesh::fault_of_loop, mesh::fault_of_corners}) {
    if (const auto fault = look(points_m)) values.refuse(key, fault->found, fault->allowed, fault->advice);
  }
  return mesh::make_loop(std::move(points_m));
}

/// The one key that gives the outline's shape.
std::string shape_key(const Values& values) {
  std::string found;
  for (const char* name : {"disc", "rectangle", "loop", "path"}) {
    const std::string key = std::string("sheet.outline.") + name;
    if (!values.has(key)) continue;
    if (!found.empty()) {
      values.refuse("sheet.outline", fmt::format("both {} and {}", found.substr(found.rfind('.') + 1), name),
                    "exactly one of disc, rectangle, loop, path");
    }
    found = key;
  }
  if (found.empty()) {
    values.refuse("sheet.outline", "neither disc nor rectangle, loop or path", "exactly one of them",
                  "Write for example outline = { disc = \"100 mm\" }");
  }
  return found;
}

mesh::Outline read_outline(Values& values) {
  const std::string key = shape_key(values);
  const Value given = values.at(key), &centre = values.at("sheet.centre");
  const bool is_rectangle = key == "sheet.outline.rectangle", is_path = key == "sheet.outline.path";
  if (values.has("sheet.outline.corner") && !is_rectangle)
    values.refuse("sheet.outline.corner", "a corner radius without a rectangle", "corner with rectangle only");
  if (values.has("sheet.outline.unit") && !is_path)
    values.refuse("sheet.outline.unit", "a unit without a path", "unit with path only",
                  "Other lengths carry their own");
  mesh::Outline outline;
  outline.centre_m = {centre.numbers[0], centre.numbers[1]};
  if (key == "sheet.outline.disc")
    outline.shape = mesh::Disc{given.number()};
  else if (is_rectangle)
    outline.shape = read_rectangle(values, given);
  else
    outline.shape = read_loop(values, key);
  return outline;
}

void read_elements(Values& values, SheetSpec& sheet) {
  const double width_m = 2.0 * mesh::half_width_m(sheet.outline);
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
  if (!values.has("sheet.fine_element")) {
    values.put("sheet.fine_element", derived_value("sheet.fine_element", sheet.element_m, "= element"));
  }
  sheet.fine_element_m = values.at("sheet.fine_element").number();
  if (sheet.fine_element_m > sheet.element_m * (1.0 + kSameLength) ||
      sheet.fine_element_m < kFinestElementShare * sheet.element_m) {
    values.refuse("sheet.fine_element", format_in(sheet.fine_element_m, "mm"),
                  fmt::format("1/32 of element ({}) to element ({}), which means no refinement",
                              format_in(kFinestElementShare * sheet.element_m, "mm"), format_in(sheet.element_m, "mm")),
                  "A useful start is 1/4 of element");
  }
  // Equilateral triangles of the rim's size: fewer than there will be if the middle is finer.
  const double triangles =
      mesh::area_m2(sheet.outline) / (0.25 * std::sqrt(3.0) * sheet.rim_element_m * sheet.rim_element_m);
  if (triangles > kMostTriangles) {
    values.refuse("sheet.element",
                  fmt::format("{}, which makes about {:.0f} million triangles", format_in(sheet.element_m, "mm"),
                              triangles * 1e-6),
                  fmt::format("at most {:.0f} million triangles", kMostTriangles * 1e-6), "Make the element larger");
  }
  if (const auto fault = mesh::fault_of_outline(sheet.outline, sheet.element_m))
    values.refuse(shape_key(values), fault->found, fault->allowed, fault->advice);
}

void check_thickness(const Values& values, const SheetSpec& sheet, Remarks& remarks) {
  const double thickest_m = kThickestShare * 2.0 * mesh::half_width_m(sheet.outline);
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
  put_mean_of_faces(values);
  SheetSpec sheet{};
  sheet.polymer = card ? card->name : "";
  sheet.law = read_law(values, card, remarks);
  if (card != nullptr && !values.has_table("sheet.law")) sheet.shear_modulus_Pa = card->shear_modulus.value;
  if (const Value* spread = values.find("sheet.law.spread")) {
    const double modulus_Pa = sheet::small_strain_shear_modulus_Pa(sheet.law);
    sheet.shear_modulus_Pa = Estimate{modulus_Pa, modulus_Pa / spread->number(), modulus_Pa * spread->number()};
  }
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
    sheet.solid = solid_of(*card);
    if (const auto& solid = card->solid) {
      for (const CardNumber* number :
           {&solid->elastic_modulus, &solid->poisson, &solid->expansion, &solid->yield_strain, &solid->shrinkage})
        remarks.card_values.push_back(
            {"card.solid." + number->name, value_text(*number), Origin::kCard, 0, note_text(*number)});
    }
  }
  sheet.thickness_m = values.at("sheet.thickness").number();
  read_sag(values, card, sheet);
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
