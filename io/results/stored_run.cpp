// What does the results folder of a finished run say? Its case, answers, sheet and mould, read back together.
#include "io/results/stored_run.h"

#include "io/results/json_value.h"
#include "mesh/check.h"
#include "solver/checks/part.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle::results {
namespace {

namespace fs = std::filesystem;
using Kind = JsonValue::Kind;

[[noreturn]] void refuse(const fs::path& folder, std::string found, std::string advice) {
  throw Error({Fault::Kind::kCase, fmt::format("result folder '{}'", folder.string()), std::move(found),
               "the results folder of a run that formed a sheet and finished", std::move(advice)});
}

std::string text_in(const JsonValue& object, const char* key) {
  const JsonValue* value = object.find(key, Kind::kText);
  return value != nullptr ? value->text : "";
}

std::optional<double> number_in(const JsonValue& object, const char* key) {
  const JsonValue* value = object.find(key, Kind::kNumber);
  return value != nullptr ? std::optional(value->number) : std::nullopt;
}

checks::Finding finding_in(const JsonValue& object) {
  using checks::Verdict;
  const std::string verdict = text_in(object, "verdict");
  checks::Finding f{text_in(object, "id"),
                    text_in(object, "question"),
                    number_in(object, "value").value_or(std::nan("")),
                    text_in(object, "unit"),
                    number_in(object, "limit"),
                    verdict == "fail"    ? Verdict::kFail
                    : verdict == "doubt" ? Verdict::kDoubt
                                         : Verdict::kPass,
                    {},
                    text_in(object, "why"),
                    text_in(object, "uncertainty"),
                    text_in(object, "advice")};
  const JsonValue* place = object.find("place_mm", Kind::kList);
  if (place != nullptr && place->values.size() == 3)
    f.place_m = 1e-3 * mesh::Vec3(place->values[0].number, place->values[1].number, place->values[2].number);
  return f;
}

}  // namespace

void require_finished_run(const HeldFolder& folder) {
  const bool has_frame = !folder.last_frame().empty(), has_summary = folder.holds("summary.json");
  if (!has_frame) {
    if (has_summary) refuse(folder.path(), "reliefs alone", "nothing was formed there");
    refuse(folder.path(), "no results", "");
  }
  if (has_summary && !folder.holds("case.toml")) refuse(folder.path(), "no case.toml", "run the case again");
  if (has_summary) return;
  refuse(folder.path(), "no summary.json",
         folder.holds("checkpoint.h5")
             ? fmt::format("the run was interrupted: pellicle resume {}", folder.path().string())
             : "the run did not come to its end: run the case again");
}

StoredSummary read_summary(const fs::path& folder) {
  const fs::path file = folder / "summary.json";
  const auto summary = read_json(read_file(file));
  const JsonValue* findings = summary ? summary->find("findings", Kind::kList) : nullptr;
  const JsonValue* reliefs = summary ? summary->find("reliefs", Kind::kList) : nullptr;
  if (findings == nullptr || reliefs == nullptr || text_in(*summary, "format") != "pellicle-summary") {
    throw Error({Fault::Kind::kCase, file.string(), "no summary", "a file written by this program, whole",
                 "it may be damaged: delete that folder and run the case again"});
  }
  const double none = std::numeric_limits<double>::quiet_NaN();
  StoredSummary stored{text_in(*summary, "program_version"),
                       text_in(*summary, "title"),
                       number_in(*summary, "seconds").value_or(none),
                       {},
                       {}};
  for (const JsonValue& finding : findings->values) stored.findings.push_back(finding_in(finding));
  for (const JsonValue& relief : reliefs->values)
    stored.reliefs.push_back({text_in(relief, "name"), number_in(relief, "capture").value_or(none)});
  return stored;
}

std::string name_of(const fs::path& folder) {
  const fs::path whole = fs::absolute(folder).lexically_normal();
  return (whole.has_filename() ? whole : whole.parent_path()).filename().string();
}

cases::ParsedCase read_case(const HeldFolder& folder) {
  const fs::path file = folder.path() / "case.toml";
  return cases::parse_again(read_file(file), file, name_of(folder.path()));
}

std::optional<mesh::TriangleMesh> read_mould(const HeldFolder& folder, const cases::ParsedCase& parsed) {
  std::optional<mesh::TriangleMesh> mould = read_mould(folder);
  const bool wants_mould = std::any_of(parsed.values.begin(), parsed.values.end(), [](const auto& value) {
    return value.key == "mould.surface" && value.origin == cases::Origin::kCase;
  });
  if (wants_mould && !mould) refuse(folder.path(), "no mould.h5, though the case has a mould", "run the case again");
  return mould;
}

std::string read_heater_file(const HeldFolder& folder, const cases::ParsedCase& parsed) {
  if (!parsed.heater_map || !folder.holds(std::string(heater::kept_name(*parsed.heater_map)))) return {};
  return heater::bytes_of(*parsed.heater_map);
}

std::optional<sheet::TemperatureMap> read_heater_map(const HeldFolder& folder, const cases::ParsedCase& parsed) {
  if (!parsed.heater_map || !parsed.value.heat) return std::nullopt;
  const std::string bytes = read_heater_file(folder, parsed);
  if (bytes.empty())
    refuse(folder.path(),
           fmt::format("no {}, though the case has a sheet.temperature_map", heater::kept_name(*parsed.heater_map)),
           "an older version did not keep it: run the case again");
  return heater::map_of(bytes, *parsed.heater_map, parsed.value.sheet.outline);
}

std::vector<char> part_nodes(const StoredSheet& sheet, const std::optional<mesh::TriangleMesh>& mould, const Case& c) {
  forming::FormingResult formed;
  formed.points_m = sheet.face.points_m;
  return checks::part_nodes(formed, mould::RigidMould(mould, c.mould && c.mould->platform), c.trim);
}

}  // namespace pellicle::results
