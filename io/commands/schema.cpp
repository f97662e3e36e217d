// What may stand in a case file? The table of keys, for a terminal, for docs/case_reference.md, for a machine.
#include "io/case/schema.h"
#include "io/case/cards.h"
#include "io/commands/commands.h"
#include "io/results/json.h"

#include <fmt/format.h>

#include <cmath>
#include <cstdio>
#include <string>

namespace pellicle::commands {
namespace {

using cases::Availability;
using cases::Key;
using cases::Kind;

const char* availability_text(Availability availability) {
  switch (availability) {
    case Availability::kUsed:
      return "used";
    case Availability::kHeat:
      return "used for heat";
    case Availability::kBody:
      return "used for the mould's body";
    case Availability::kDescribing:
      return "not used yet";
  }
  return "";
}

std::string status_text(const Key& key) {
  return key.availability == Availability::kUsed ? "" : availability_text(key.availability);
}

bool is_table(const Key& key) { return key.kind == Kind::kTable || key.kind == Kind::kTables; }

std::string plain_text() {
  std::string out = "Case file: TOML, quantities as texts with their unit.\n";
  for (const Key& key : cases::schema()) {
    const std::string status = status_text(key);
    out += fmt::format("\n{}{}\n    {}\n", key.path, status.empty() ? "" : "  (" + status + ")", key.meaning);
    out += fmt::format("    allowed: {}\n    default: {}\n", cases::allowed_text(key), cases::default_text(key));
    if (!key.example.empty()) out += fmt::format("    example: {} = {}\n", cases::leaf(key), key.example);
  }
  return out;
}

/// A '|' would end a cell of a Markdown table.
std::string cell(std::string_view text) {
  std::string out;
  for (const char c : text) out += c == '|' ? std::string("\\|") : std::string(1, c);
  return out;
}

std::string code(std::string_view text) { return text.empty() ? "" : fmt::format("`{}`", cell(text)); }

std::string markdown_header(const Key& key) {
  const std::string title = key.kind == Kind::kTables ? fmt::format("[[{}]]", key.path) : fmt::format("[{}]", key.path);
  std::string meaning(key.meaning);
  if (meaning.front() >= 'a' && meaning.front() <= 'z')
    meaning.front() = static_cast<char>(meaning.front() - 'a' + 'A');
  std::string fallback = "Required.";
  if (!key.required) {
    fallback = key.fallback == "{}" ? "May be left out: its keys then have their defaults."
                                    : fmt::format("May be left out: {}.", key.fallback_text);
  }
  return fmt::format("\n## `{}`\n\n{}. {}\n", title, meaning, fallback);
}

std::string markdown_row(const Key& key, std::string_view table) {
  const std::string_view name = key.path.substr(table.empty() ? 0 : table.size() + 1);
  const std::string status = status_text(key);
  return fmt::format("| `{}` | {} | {} | {} | {}{} |\n", name, cell(cases::allowed_text(key)),
                     key.fallback.empty() ? cell(cases::default_text(key)) : code(cases::default_text(key)),
                     code(key.example), cell(key.meaning), status.empty() ? "" : " **(" + cell(status) + ")**");
}

std::string units_text() {
  std::string out = "\n## Units\n\n| quantity | units |\n|---|---|\n";
  using cases::Dimension;
  for (const Dimension d : {Dimension::kLength, Dimension::kPressure, Dimension::kTemperature, Dimension::kVolume,
                            Dimension::kMass, Dimension::kDensity, Dimension::kTime, Dimension::kAngle}) {
    std::string names;
    for (const std::string& unit : cases::unit_names(d))
      names += fmt::format("{}`{}`", names.empty() ? "" : ", ", unit);
    out += fmt::format("| {} | {} |\n", cases::dimension_name(d), names);
  }
  return out;
}

std::string cards_text() {
  std::string out =
      "\n## Polymer cards\n\nNames for `sheet.polymer`. Every number carries its mark; sources are in "
      "`cases/cards/polymers.toml`.\n\n| card | polymer | shear modulus | density | largest stretch | "
      "forming temperature: normal (lower to upper) | set temperature | heat conductivity | specific heat, hot "
      "|\n|---|---|---|---|---|---|---|---|---|\n";
  const auto marked = [](const cases::CardNumber& n) { return fmt::format("{}, {}", cases::value_text(n), n.mark); };
  for (const cases::PolymerCard& card : cases::known_polymers()) {
    out += fmt::format("| `{}` | {} | {}, at {} | {} | {} | {} | {} | {} | {} |\n", card.name, card.title,
                       marked(card.shear_modulus), cases::format_in(card.modulus_temperature_K, "°C"),
                       marked(card.density), card.stretch_limit ? marked(*card.stretch_limit) : "",
                       marked(card.forming_temperature), marked(card.set_temperature),
                       card.conductivity ? marked(*card.conductivity) : "",
                       card.specific_heat ? marked(*card.specific_heat) : "");
  }
  out +=
      "\n| card, solid, for taking the part off | elastic modulus | Poisson's ratio | expansion, 1/K | strain it bears "
      "| shrinkage on a male mould |\n|---|---|---|---|---|---|\n";
  for (const cases::PolymerCard& card : cases::known_polymers()) {
    if (!card.solid) continue;
    const cases::SolidCard& s = *card.solid;
    out += fmt::format("| `{}` | {} | {} | {} | {} | {} |\n", card.name, marked(s.elastic_modulus), marked(s.poisson),
                       marked(s.expansion), marked(s.yield_strain), marked(s.shrinkage));
  }
  out +=
      "\n## Resin cards\n\nNames for `mould.resin`; sources are in "
      "`cases/cards/resins.toml`.\n\n"
      "| card | resin | deflects at, 0.45 MPa | at 1.80 MPa | elastic modulus | strength | heat "
      "conductivity | specific heat | density | Poisson's ratio | expansion, 1/K | strength across layers, share | "
      "softens when warm |\n"
      "|---|---|---|---|---|---|---|---|---|---|---|---|---|\n";
  for (const cases::ResinCard& card : cases::known_resins()) {
    out += fmt::format("| `{}` | {}", card.name, card.title);
    for (const cases::CardNumber& number : card.numbers) out += " | " + marked(number);
    out += card.softens ? " | yes |\n" : " | no: modulus and strength stay below the first temperature |\n";
  }
  return out;
}

/// Tables that get a section of their own; the keys of smaller ones are listed in the section around them.
bool has_section(const Key& key) {
  const bool is_top = key.path.find('.') == std::string_view::npos;
  return is_table(key) && key.availability == Availability::kUsed &&
         ((is_top && key.path != "forming") || key.path == "sheet.law" || key.path == "forming.stage");
}

std::string markdown_text() {
  std::string out =
      "# Case file reference\n\nMade by `pellicle schema --markdown` from the table the program reads cases with; do "
      "not "
      "edit.\n\nA case is a TOML file. A quantity is a text with its unit (`\"0.75 mm\"`), a pure number is plain. "
      "Pressures are gauge pressures, positive ones push the sheet towards -z. Coordinates are the mould's own, z is "
      "up, "
      "z = 0 is the platform. Paths are relative to the case file. A key that is not listed here is refused.\n\n"
      "Keys marked *not used yet* are read and checked and listed by `pellicle check`, but change no result; so are "
      "those marked *used for heat* in a case whose heat is not followed, see `numerics.heat`, and those marked *used "
      "for the mould's body* in a case without `mould.resin` or without `mould.wall` (or `fill = \"solid\"`).\n";
  const std::string head = "\n| key | value | default | example | meaning |\n|---|---|---|---|---|\n";
  out += "\n## Top level\n" + head;
  for (const Key* key : cases::keys_inside("")) {
    if (!has_section(*key) && key->path != "forming") out += markdown_row(*key, "");
  }
  for (const Key& section : cases::schema()) {
    if (!has_section(section)) continue;
    out += markdown_header(section) + head;
    const std::string inside = std::string(section.path) + '.';
    for (const Key& key : cases::schema()) {
      const bool elsewhere = inside == "sheet." && key.path.starts_with("sheet.law.");
      if (key.path.starts_with(inside) && !elsewhere) out += markdown_row(key, section.path);
    }
  }
  return out + units_text() + cards_text();
}

std::string json_document() {
  results::Json json;
  json.open_object().key("keys").open_list();
  for (const Key& key : cases::schema()) {
    json.open_object();
    json.key("key").text(key.path).key("allowed").text(cases::allowed_text(key));
    json.key("default").text(cases::default_text(key)).key("required").flag(key.required);
    json.key("unit").text(key.unit);
    if (std::isfinite(key.low)) json.key("low").number(key.low).key("high").number(key.high);
    json.key("example").text(key.example).key("availability").text(availability_text(key.availability));
    json.key("meaning").text(key.meaning).close_object();
  }
  json.close_list().close_object();
  return json.finish();
}

}  // namespace

int schema_command(const SchemaOptions& options) {
  std::string text;
  switch (options.form) {
    case SchemaOptions::Form::kText:
      text = plain_text();
      break;
    case SchemaOptions::Form::kMarkdown:
      text = markdown_text();
      break;
    case SchemaOptions::Form::kJson:
      text = json_document();
      break;
  }
  std::fwrite(text.data(), 1, text.size(), stdout);
  return 0;
}

}  // namespace pellicle::commands
