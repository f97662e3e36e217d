// What came out of each case of a sweep?
#include "io/sweep/gather.h"

#include "io/results/json.h"
#include "io/results/summary.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle::sweep {
namespace {

using checks::Finding;

constexpr double kNone = std::numeric_limits<double>::quiet_NaN();

/// "_mm", "_C", "_percent": nothing for a pure number.
std::string suffix(const std::string& unit) {
  if (unit.empty() || unit == "-") return "";
  if (unit == "%") return "_percent";
  if (unit == "°C") return "_C";
  std::string out = "_";
  for (const char c : unit) out += std::isalnum(static_cast<unsigned char>(c)) != 0 ? c : '_';
  return out;
}

std::string number_field(double value) { return std::isfinite(value) ? fmt::format("{:.9g}", value) : ""; }

/// Unit of a finding: that of the first case that answers it.
std::string unit_of(const Gathered& gathered, const std::string& id) {
  for (const Row& row : gathered.rows)
    if (const Finding* finding = find_finding(row, id)) return finding->unit;
  return "";
}

std::vector<std::string> relief_names(const Gathered& gathered) {
  std::vector<std::string> names;
  for (const Row& row : gathered.rows)
    for (const results::StoredRelief& relief : row.reliefs)
      if (std::find(names.begin(), names.end(), relief.name) == names.end()) names.push_back(relief.name);
  return names;
}

void add_fields(std::string& line, const Gathered& gathered, const Row& row) {
  const Entry& entry = row.entry;
  line = fmt::format("{},{},{},{},{}", entry.index, entry.folder, state_word(row.state.state), row.state.exit_code,
                     number_field(row.seconds));
  for (std::size_t k = 0; k < entry.values.size(); ++k)
    line += fmt::format(",{}",
                        std::isfinite(entry.numbers[k]) ? number_field(entry.numbers[k]) : csv_field(entry.values[k]));
  for (const std::string& id : finding_ids(gathered)) {
    const Finding* finding = find_finding(row, id);
    line += fmt::format(",{},{}", finding == nullptr ? "" : number_field(finding->value),
                        finding == nullptr ? "" : results::verdict_word(finding->verdict));
  }
  for (const std::string& name : relief_names(gathered)) {
    const auto relief =
        std::find_if(row.reliefs.begin(), row.reliefs.end(), [&](const auto& r) { return r.name == name; });
    line += fmt::format(",{}", relief == row.reliefs.end() ? "" : number_field(relief->capture));
  }
  line += fmt::format(",{}\n", csv_field(row.state.error));
}

}  // namespace

Gathered gather(const SweepFolder& folder) {
  Gathered gathered{folder.manifest(), {}};
  for (const Entry& entry : gathered.manifest.entries) {
    Row row{entry, folder.state_of(entry), kNone};
    if (row.state.state == State::kDone) {
      results::StoredSummary said = results::read_summary(folder.results_of(entry));
      row.seconds = said.seconds;
      row.findings = std::move(said.findings);
      row.reliefs = std::move(said.reliefs);
    }
    gathered.rows.push_back(std::move(row));
  }
  return gathered;
}

std::vector<std::string> finding_ids(const Gathered& gathered) {
  std::vector<std::string> ids;
  for (const Row& row : gathered.rows)
    for (const Finding& finding : row.findings)
      if (std::find(ids.begin(), ids.end(), finding.id) == ids.end()) ids.push_back(finding.id);
  return ids;
}

const Finding* find_finding(const Row& row, const std::string& id) {
  const auto at = std::find_if(row.findings.begin(), row.findings.end(), [&](const Finding& f) { return f.id == id; });
  return at == row.findings.end() ? nullptr : &*at;
}

std::string gathered_csv(const Gathered& gathered) {
  std::string out = "index,folder,state,exit_code,seconds";
  const std::vector<ManifestKey>& keys = gathered.manifest.keys;
  for (std::size_t k = 0; k < keys.size(); ++k) {
    const bool has_numbers = std::any_of(gathered.rows.begin(), gathered.rows.end(),
                                         [&](const Row& row) { return std::isfinite(row.entry.numbers[k]); });
    out += fmt::format(",{}", csv_field(keys[k].path + (has_numbers ? suffix(keys[k].unit) : "")));
  }
  for (const std::string& id : finding_ids(gathered))
    out += fmt::format(",{},{}", csv_field(id + suffix(unit_of(gathered, id))), csv_field(id + "_verdict"));
  for (const std::string& name : relief_names(gathered))
    out += fmt::format(",{}", csv_field(fmt::format("relief_{}_capture", name)));
  out += ",error\n";
  std::string line;
  for (const Row& row : gathered.rows) {
    add_fields(line, gathered, row);
    out += line;
  }
  return out;
}

std::string gathered_json(const Gathered& gathered) {
  results::Json json;
  json.open_object().key("format").text("pellicle-gathered").key("format_version").whole(1);
  json.key("title").text(gathered.manifest.title).key("keys").open_list();
  for (const ManifestKey& key : gathered.manifest.keys) json.text(key.path);
  json.close_list().key("cases").open_list();
  for (const Row& row : gathered.rows) {
    json.open_object().key("index").whole(row.entry.index).key("folder").text(row.entry.folder);
    json.key("state").text(state_word(row.state.state)).key("exit_code").whole(row.state.exit_code);
    json.key("error").text(row.state.error).key("seconds").number(row.seconds).key("values").open_list();
    for (const std::string& value : row.entry.values) json.text(value);
    json.close_list().key("findings").open_list();
    for (const Finding& finding : row.findings) {
      json.open_object().key("id").text(finding.id).key("value").number(finding.value).key("unit").text(finding.unit);
      json.key("verdict").text(results::verdict_word(finding.verdict)).close_object();
    }
    json.close_list().key("reliefs").open_list();
    for (const results::StoredRelief& relief : row.reliefs)
      json.open_object().key("name").text(relief.name).key("capture").number(relief.capture).close_object();
    json.close_list().close_object();
  }
  json.close_list().close_object();
  return json.finish();
}

}  // namespace pellicle::sweep
