// What belongs to a sweep?
#include "io/sweep/manifest.h"

#include "io/commands/inputs.h"
#include "io/results/json.h"
#include "io/results/json_value.h"
#include "io/results/result_folder.h"

#include <fmt/format.h>

#include <cstdint>
#include <limits>
#include <set>

namespace pellicle::sweep {
namespace {

using results::JsonValue;
using Kind = JsonValue::Kind;

constexpr int kFormatVersion = 1;
constexpr const char* kFormat = "pellicle-sweep";

/// Tells files apart; no protection against someone who means to deceive. FNV-1a of 64 bits (Fowler, Noll, Vo; offset
/// and prime from memory: another one would tell files apart as well).
class Fingerprint {
 public:
  void add(std::string_view bytes) {
    for (const char c : bytes) step(static_cast<unsigned char>(c));
    step(0xFFU);  // no byte of UTF-8: where one text ends and the next begins counts too
  }
  std::string text() const { return fmt::format("{:016x}", hash_); }

 private:
  void step(std::uint64_t byte) { hash_ = (hash_ ^ byte) * 0x100000001b3ULL; }
  std::uint64_t hash_ = 0xcbf29ce484222325ULL;
};

std::string fingerprint_of(const cases::ParsedSweep& sweep) {
  Fingerprint print;
  print.add(PELLICLE_VERSION);
  std::set<std::string> files;
  for (const cases::ParsedCase& one : sweep.cases) {
    print.add(one.text);
    for (const std::filesystem::path& file : commands::input_files(one))
      if (file != sweep.file) files.insert(file.string());  // its text is in those of the cases
  }
  for (const std::string& file : files) print.add(results::read_file(file));
  return print.text();
}

std::optional<Entry> read_entry(const JsonValue& json, std::size_t keys) {
  const JsonValue *index = json.find("index", Kind::kNumber), *folder = json.find("folder", Kind::kText);
  const JsonValue *values = json.find("values", Kind::kList), *numbers = json.find("numbers", Kind::kList);
  if (index == nullptr || folder == nullptr || values == nullptr || numbers == nullptr) return std::nullopt;
  if (values->values.size() != keys || numbers->values.size() != keys) return std::nullopt;
  Entry entry{static_cast<int>(index->number), folder->text, {}, {}};
  for (const JsonValue& value : values->values) entry.values.push_back(value.text);
  for (const JsonValue& value : numbers->values)
    entry.numbers.push_back(value.kind == Kind::kNumber ? value.number : std::numeric_limits<double>::quiet_NaN());
  return entry;
}

}  // namespace

Manifest manifest_of(const cases::ParsedSweep& sweep) {
  Manifest manifest;
  manifest.title = sweep.title;
  manifest.case_file = std::filesystem::absolute(sweep.file).lexically_normal().string();
  manifest.result_stem = sweep.result_stem;
  manifest.fingerprint = fingerprint_of(sweep);
  for (const cases::VariedKey& key : sweep.keys) manifest.keys.push_back({key.path, std::string(key.key->unit)});
  const int count = static_cast<int>(sweep.cases.size());
  for (int index = 1; index <= count; ++index) {
    const std::vector<std::size_t> choice = cases::choice_of(sweep.keys, index);
    Entry entry{index, fmt::format("{:0{}}", index, count > 999 ? 5 : 3), {}, {}};
    for (std::size_t k = 0; k < sweep.keys.size(); ++k) {
      const cases::Node& value = sweep.keys[k].values[choice[k]];
      entry.values.push_back(cases::varied_text(value));
      entry.numbers.push_back(cases::varied_number(sweep.keys[k], value));
    }
    manifest.entries.push_back(std::move(entry));
  }
  return manifest;
}

std::string manifest_json(const Manifest& manifest) {
  results::Json json;
  json.open_object();
  json.key("format").text(kFormat).key("format_version").whole(kFormatVersion);
  json.key("program_version").text(PELLICLE_VERSION);
  json.key("title").text(manifest.title).key("case_file").text(manifest.case_file);
  json.key("name").text(manifest.result_stem).key("fingerprint").text(manifest.fingerprint);
  json.key("keys").open_list();
  for (const ManifestKey& key : manifest.keys)
    json.open_object().key("key").text(key.path).key("unit").text(key.unit).close_object();
  json.close_list().key("cases").open_list();
  for (const Entry& entry : manifest.entries) {
    json.open_object().key("index").whole(entry.index).key("folder").text(entry.folder).key("values").open_list();
    for (const std::string& value : entry.values) json.text(value);
    json.close_list().key("numbers").numbers(entry.numbers).close_object();
  }
  json.close_list().close_object();
  return json.finish();
}

std::optional<Manifest> read_manifest(std::string_view text) {
  const auto json = results::read_json(text);
  if (!json || json->kind != Kind::kObject) return std::nullopt;
  const JsonValue *format = json->find("format", Kind::kText), *version = json->find("format_version", Kind::kNumber);
  if (format == nullptr || format->text != kFormat || version == nullptr || version->number != kFormatVersion)
    return std::nullopt;
  Manifest manifest;
  for (const auto& [name, target] : {std::pair{"title", &manifest.title},
                                     {"case_file", &manifest.case_file},
                                     {"name", &manifest.result_stem},
                                     {"fingerprint", &manifest.fingerprint}}) {
    const JsonValue* value = json->find(name, Kind::kText);
    if (value == nullptr) return std::nullopt;
    *target = value->text;
  }
  const JsonValue *keys = json->find("keys", Kind::kList), *entries = json->find("cases", Kind::kList);
  if (keys == nullptr || entries == nullptr) return std::nullopt;
  for (const JsonValue& key : keys->values) {
    const JsonValue *path = key.find("key", Kind::kText), *unit = key.find("unit", Kind::kText);
    if (path == nullptr || unit == nullptr) return std::nullopt;
    manifest.keys.push_back({path->text, unit->text});
  }
  for (const JsonValue& one : entries->values) {
    auto entry = read_entry(one, manifest.keys.size());
    if (!entry) return std::nullopt;
    manifest.entries.push_back(*std::move(entry));
  }
  return manifest;
}

}  // namespace pellicle::sweep
