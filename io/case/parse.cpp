// What does this case ask for? Finds the file, reads it against the table of keys, builds the Case.
#include "io/case/parse.h"

#include "io/case/card_bands.h"
#include "io/case/heater_section.h"
#include "io/case/sections.h"
#include "io/case/vary.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdint>
#include <fstream>
#include <iterator>
#include <system_error>
#include <utility>

namespace pellicle::cases {
namespace {

namespace fs = std::filesystem;

constexpr std::uintmax_t kLargestCase_bytes = 1U << 20U;  // a case is written by hand; more is some other file

[[noreturn]] void refuse_path(const fs::path& path, std::string found, std::string advice = {}) {
  throw Error({.kind = Fault::Kind::kCase,
               .where = path.string(),
               .found = std::move(found),
               .allowed = "a .toml file or a folder with case.toml",
               .advice = std::move(advice)});
}

std::string toml_files_in(const fs::path& folder) {
  std::vector<std::string> names;
  std::error_code ignored;
  for (fs::directory_iterator it(folder, ignored), end; !ignored && it != end; it.increment(ignored)) {
    if (it->path().extension() == ".toml") names.push_back(it->path().filename().string());
  }
  if (names.empty()) return {};
  return fmt::format("The folder holds {}: name that file", *std::min_element(names.begin(), names.end()));
}

fs::path find_case_file(const fs::path& case_path) {
  std::error_code ignored;
  if (case_path.empty()) refuse_path("CASE", "an empty path");
  if (!fs::exists(case_path, ignored)) refuse_path(case_path, "no such file or folder");
  if (fs::is_directory(case_path, ignored)) {
    fs::path inside = case_path / "case.toml";
    if (!fs::exists(inside, ignored)) refuse_path(case_path, "a folder without case.toml", toml_files_in(case_path));
    return inside;
  }
  if (!fs::is_regular_file(case_path, ignored)) refuse_path(case_path, "no plain file");
  if (case_path.extension() != ".toml") {
    refuse_path(case_path, fmt::format("the ending {}", in_quotes(case_path.extension().string())));
  }
  return case_path;
}

std::string read_text(const fs::path& file) {
  std::error_code problem;
  const std::uintmax_t size = fs::file_size(file, problem);
  if (!problem && size > kLargestCase_bytes) refuse_path(file, fmt::format("{} bytes", size), "A case is at most 1 MB");
  std::ifstream in(file, std::ios::binary);
  std::string text((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>());
  if (problem || !in.is_open() || in.bad()) refuse_path(file, "a file that cannot be read", "Check its permissions");
  return text;
}

std::string stem_of(const fs::path& file) {
  if (file.filename() != "case.toml") return file.stem().string();
  std::error_code ignored;
  const fs::path folder = fs::weakly_canonical(file, ignored).parent_path();
  return folder.filename().empty() ? "case" : folder.filename().string();
}

/// Asked before the values are read: it decides which of them may be missing.
bool all_reliefs_have_a_state(const Node& root) {
  const Node* reliefs = root.find("relief");
  return reliefs != nullptr && reliefs->kind == Node::Kind::kArray && !reliefs->items.empty() &&
         std::all_of(reliefs->items.begin(), reliefs->items.end(), [](const Node& relief) {
           return relief.kind == Node::Kind::kTable && relief.find("state") != nullptr;
         });
}

/// The key a message names, as in ParsedCase::values; empty if it is none of the case. A stage or relief is named by
/// its name there and by its number here; of two stages with one name we cannot tell.
std::string key_named(const Case& c, const std::string& where) {
  constexpr std::string_view kStage = "stage '", kRelief = "relief '", kEnd = "', ";
  for (std::size_t i = 0; i < c.reliefs.size(); ++i) {
    const std::string start = fmt::format("{}{}{}", kRelief, c.reliefs[i].name, kEnd);
    if (where.starts_with(start)) return fmt::format("relief[{}].{}", i + 1, where.substr(start.size()));
  }
  if (!where.starts_with(kStage)) return where.substr(0, where.find_first_of(", :"));
  const std::size_t end = where.rfind(kEnd);
  if (end == std::string::npos || end < kStage.size()) return {};
  const std::string name = where.substr(kStage.size(), end - kStage.size()), leaf = where.substr(end + kEnd.size());
  std::string key;
  for (std::size_t i = 0; i < c.stages.size(); ++i) {
    if (c.stages[i].name != name || (leaf == "clamp_to" && !c.stages[i].clamp_to_m)) continue;
    if (!key.empty()) return {};
    key = fmt::format("forming.stage[{}].{}", i + 1, leaf);
  }
  return key;
}

/// Of the keys of heat.
bool body_reads(const std::string& key) {
  return key == "mould.resin" || key == "mould.temperature" || key == "sheet.temperature";
}

/// File, text and stem are there; the rest is read from the tree of the text.
ParsedCase understood(ParsedCase parsed, const Node& root, Purpose purpose, const Folder& folder) {
  const std::string name = parsed.file.string();
  parsed.reliefs_alone = purpose == Purpose::kReliefsAlone && all_reliefs_have_a_state(root);
  Values values = read_values(root, name, parsed.reliefs_alone ? Purpose::kReliefsAlone : Purpose::kForming);
  if (!values.has("title")) {
    Value title;
    title.key = find_key("title");
    title.text = parsed.result_stem;
    title.origin = Origin::kDefault;
    values.put("title", title);
  }
  if (const Value* polymer = values.find("sheet.polymer"); polymer != nullptr && names_a_card_file(polymer->text)) {
    parsed.own_card = read_own_card(folder ? *folder / polymer->text : parsed.file.parent_path() / kOwnCardCopy,
                                    values.where("sheet.polymer"));
    values.own_card = parsed.own_card->card;
  }
  Remarks remarks;
  Case& c = parsed.value;
  c.title = values.at("title").text;
  if (!parsed.reliefs_alone || values.has_table("sheet")) c.sheet = read_sheet(values, remarks);
  c.mould = read_mould(values, folder, parsed.mould);
  if (!parsed.reliefs_alone || values.count("forming.stage") > 0) c.stages = read_stages(values, remarks);
  c.reliefs = read_reliefs(values, folder);
  c.trim = read_trim(values);
  c.limits = read_limits(values);
  c.numerics = read_numerics(values);
  c.heat = read_heat(values, c, remarks);
  const HeaterSpec heater = read_heater(values);  // refuses half of it whether heat is followed or not
  if (c.heat) c.heat->heater = heater;
  parsed.heater_map = read_heater_map(values, folder);
  if (parsed.heater_map && !folder)
    parsed.heater_map->path = parsed.file.parent_path() / heater::kept_name(*parsed.heater_map);
  if (c.mould) c.mould->build = read_mould_build(values, c, remarks);
  c.bands = read_heat_bands(values, c);
  check_together(values, c);
  parsed.warnings = std::move(remarks.warnings);
  parsed.values = values.resolved();
  for (const ResolvedValue& value : parsed.values) {
    const Value* v = values.find(value.key);
    if (v == nullptr) continue;
    const Availability availability = v->key->availability;
    const bool has_body = c.mould && c.mould->build;
    const bool describes = availability == Availability::kDescribing ||
                           (availability == Availability::kHeat && !c.heat && !(has_body && body_reads(value.key))) ||
                           (availability == Availability::kBody && !has_body);
    if (describes && v->origin == Origin::kCase) parsed.not_used_yet.push_back(value);
  }
  parsed.values.insert(parsed.values.end(), remarks.card_values.begin(), remarks.card_values.end());
  return parsed;
}

/// File, text and stem.
ParsedCase read_case(const fs::path& case_path) {
  ParsedCase parsed{};
  parsed.file = find_case_file(case_path);
  parsed.text = read_text(parsed.file);
  parsed.result_stem = stem_of(parsed.file);
  return parsed;
}

}  // namespace

Error with_line(const ParsedCase& parsed, const Error& error) {
  Fault fault = error.fault();
  if (fault.kind != Fault::Kind::kGeometry && fault.kind != Fault::Kind::kCase) return error;
  const std::string key = key_named(parsed.value, fault.where);
  const bool may_be_table = key.starts_with("relief[");
  const auto value = std::find_if(parsed.values.begin(), parsed.values.end(), [&](const ResolvedValue& v) {
    return v.line > 0 && (v.key == key || (may_be_table && v.key.starts_with(key + '.')));
  });
  if (value == parsed.values.end()) return error;
  fault.where = fmt::format("{}:{}, {}", parsed.file.string(), value->line, fault.where);
  return Error(std::move(fault));
}

const char* origin_name(Origin origin) {
  switch (origin) {
    case Origin::kCase:
      return "case";
    case Origin::kCard:
      return "card";
    case Origin::kDefault:
      return "default";
  }
  return "";
}

ParsedCase parse_case(const fs::path& case_path, Purpose purpose) {
  ParsedCase parsed = read_case(case_path);
  const std::string name = parsed.file.string();
  Node root = parse_document(parsed.text, name);
  const Node* vary = root.find("vary");
  if (vary != nullptr) {
    const int line = vary->line > 0 || vary->items.empty() ? vary->line : vary->items.front().line;
    const int count = combinations(take_varied(root, name));
    throw Error({.kind = Fault::Kind::kCase,
                 .where = fmt::format("{}:{}, vary", name, line),
                 .found = fmt::format("a sweep of {} cases", count),
                 .allowed = "one case",
                 .advice = fmt::format("All of them: pellicle sweep {0}. One of them: pellicle run {0} --case-index N, "
                                       "N from 1 to {1}. For this command take [[vary]] out of a copy, or give it the "
                                       "case.toml of one folder of the sweep",
                                       case_path.string(), count)});
  }
  const fs::path folder = parsed.file.parent_path();
  return understood(std::move(parsed), root, purpose, folder);
}

ParsedCase parse_again(std::string text, fs::path file, std::string result_stem) {
  ParsedCase parsed{};
  parsed.result_stem = std::move(result_stem);
  parsed.file = std::move(file);
  parsed.text = std::move(text);
  const Node root = parse_document(parsed.text, parsed.file.string());
  return understood(std::move(parsed), root, Purpose::kForming, std::nullopt);
}

ParsedSweep parse_sweep(const fs::path& case_path) {
  const ParsedCase whole = read_case(case_path);
  const std::string name = whole.file.string();
  const fs::path folder = whole.file.parent_path();
  Node root = parse_document(whole.text, name);
  ParsedSweep sweep{whole.file, whole.text, whole.result_stem, whole.result_stem, take_varied(root, name), {}};
  if (sweep.keys.empty())
    throw Error({.kind = Fault::Kind::kCase,
                 .where = name,
                 .found = "no [[vary]]",
                 .allowed = "a case that says what to vary",
                 .advice = "Write for example [[vary]] and below it key = \"sheet.temperature\" and values = "
                           "[\"120 °C\", \"140 °C\"]"});
  if (const Node* title = root.find("title"); title != nullptr && title->kind == Node::Kind::kText)
    sweep.title = title->text;
  for (int index = 1; index <= combinations(sweep.keys); ++index) {
    try {
      const Node tree = combined(root, sweep.keys, index, name);
      ParsedCase one = understood(whole, tree, Purpose::kForming, folder);
      one.text = combination_file(tree, sweep.keys, index, folder, whole.result_stem);
      sweep.cases.push_back(std::move(one));
    } catch (const Error& error) {
      Fault fault = error.fault();
      fault.where += fmt::format(", in case {} of the sweep ({})", index, combination_text(sweep.keys, index));
      throw Error(std::move(fault));
    }
  }
  return sweep;
}

}  // namespace pellicle::cases
