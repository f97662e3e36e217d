// What shape has the formed part, and how large is its mould to be printed? part.stl and mould_scaled.stl.
#include "io/case/parse.h"
#include "io/commands/commands.h"
#include "io/moulds/stl.h"
#include "io/results/frames_stored.h"
#include "io/results/json.h"
#include "io/results/json_value.h"
#include "io/results/result_folder.h"
#include "mesh/check.h"
#include "mesh/thicken.h"
#include "solver/checks/part.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>

namespace pellicle::commands {
namespace {

namespace fs = std::filesystem;

constexpr const char* kPart = "part.stl";
constexpr const char* kScaledMould = "mould_scaled.stl";

/// What is written, and what is told of it.
struct Exported {
  mesh::Thickened part;
  std::optional<mesh::TriangleMesh> mould;  ///< scaled; none: not written
  double scale = 1.0;
  std::string why_no_mould;
};

[[noreturn]] void refuse(const fs::path& folder, std::string found, std::string advice) {
  throw Error({Fault::Kind::kCase, fmt::format("result folder '{}'", folder.string()), std::move(found),
               "the results folder of a run that formed a sheet and finished", std::move(advice)});
}

void require_finished_run(const results::HeldFolder& folder) {
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

/// What the finding `shrinkage` says, in percent; nullopt if there is none or it has no number.
std::optional<double> shrinkage_percent(const results::HeldFolder& folder) {
  using Kind = results::JsonValue::Kind;
  const fs::path file = folder.path() / "summary.json";
  const auto summary = results::read_json(results::read_file(file));
  const results::JsonValue* format = summary ? summary->find("format", Kind::kText) : nullptr;
  const results::JsonValue* findings = summary ? summary->find("findings", Kind::kList) : nullptr;
  if (format == nullptr || format->text != "pellicle-summary" || findings == nullptr) {
    throw Error({Fault::Kind::kCase, file.string(), "no summary", "a file written by this program, whole",
                 "it may be damaged; run the case again"});
  }
  for (const results::JsonValue& finding : findings->values) {
    const results::JsonValue* id = finding.find("id", Kind::kText);
    if (id == nullptr || id->text != "shrinkage") continue;
    const results::JsonValue* value = finding.find("value", Kind::kNumber);
    return value != nullptr ? std::optional(value->number) : std::nullopt;
  }
  return std::nullopt;
}

/// The folder's own name, also of "." and "results/".
std::string name_of(const fs::path& folder) {
  const fs::path whole = fs::absolute(folder).lexically_normal();
  return (whole.has_filename() ? whole : whole.parent_path()).filename().string();
}

mesh::TriangleMesh scaled(mesh::TriangleMesh mould, double scale) {
  for (mesh::Vec3& p : mould.points_m) p *= scale;
  return mould;
}

mesh::Thickened part_of(const cases::ParsedCase& parsed, const results::StoredSheet& sheet,
                        std::optional<mesh::TriangleMesh> surface) {
  forming::FormingResult formed;
  formed.points_m = sheet.face.points_m;
  const mould::RigidMould mould(std::move(surface), parsed.value.mould && parsed.value.mould->platform);
  const std::vector<char> in_part = checks::part_nodes(formed, mould, parsed.value.trim);
  mesh::Thickened part = mesh::thicken(sheet.face, sheet.thickness_m, in_part);
  if (part.face_triangles == 0) {
    throw cases::with_line(parsed, Error({Fault::Kind::kCase, "part.trim", "no triangle of the formed sheet inside",
                                          "a trim round some of it", "give part.trim in the case and run it again"}));
  }
  return part;
}

Exported look_at_results(const fs::path& results) {
  const results::HeldFolder folder(results);
  require_finished_run(folder);
  const results::StoredSheet sheet = results::read_last_sheet(folder);
  std::optional<mesh::TriangleMesh> mould = results::read_mould(folder);
  const fs::path case_file = folder.path() / "case.toml";
  const cases::ParsedCase parsed = cases::parse_again(results::read_file(case_file), case_file, name_of(results));
  const bool wants_mould = std::any_of(parsed.values.begin(), parsed.values.end(), [](const auto& value) {
    return value.key == "mould.surface" && value.origin == cases::Origin::kCase;
  });
  if (wants_mould && !mould) refuse(folder.path(), "no mould.h5, though the case has a mould", "run the case again");
  Exported out;
  const std::optional<double> percent = shrinkage_percent(folder);
  if (!mould) {
    out.why_no_mould = "the case has no mould surface";
  } else if (!percent) {
    out.why_no_mould = "the finding shrinkage has no number";
  } else {
    out.scale = 1.0 + *percent / 100.0;
    out.mould = scaled(*mould, out.scale);
  }
  out.part = part_of(parsed, sheet, std::move(mould));
  return out;
}

std::string json_text(const Exported& e, const fs::path& folder) {
  const auto numbers = static_cast<std::int64_t>(e.part.solid.triangles.size());
  results::Json json;
  json.open_object().key("part").open_object();
  json.key("file").text((folder / kPart).string()).key("triangles").whole(numbers);
  json.key("volume_mm3").number(1e9 * e.part.volume_m3).key("mould_face_mm2").number(1e6 * e.part.face_area_m2);
  json.key("mean_thickness_mm").number(1e3 * e.part.mean_thickness_m);
  json.key("turned_triangles").whole(e.part.turned).close_object().key("mould_scaled");
  if (e.mould) {
    json.open_object().key("file").text((folder / kScaledMould).string());
    json.key("triangles").whole(static_cast<std::int64_t>(e.mould->triangles.size()));
    json.key("scale").number(e.scale).close_object();
  } else {
    json.null();
  }
  json.key("mould_not_written");
  e.mould ? json.null() : json.text(e.why_no_mould);
  return json.close_object().finish();
}

std::string words(const Exported& e, const fs::path& folder) {
  std::string out = fmt::format(
      "written: {}: {} triangles, {:.5g} mm3; face that met the mould {:.5g} mm2, mean wall {:.3g} mm over it\n",
      (folder / kPart).string(), e.part.solid.triangles.size(), 1e9 * e.part.volume_m3, 1e6 * e.part.face_area_m2,
      1e3 * e.part.mean_thickness_m);
  out += fmt::format("  triangles of its free face that turned over: {} of {}\n", e.part.turned, e.part.face_triangles);
  return out + (e.mould ? fmt::format("written: {}: the mould times {:.4f} about the origin\n",
                                      (folder / kScaledMould).string(), e.scale)
                        : fmt::format("not written: {}: {}\n", kScaledMould, e.why_no_mould));
}

}  // namespace

int export_command(const ExportOptions& options) {
  const Exported exported = look_at_results(options.results);
  results::ResultFolder folder(options.out.value_or(name_of(options.results) + "-stl"), options.force,
                               {options.results / "summary.json"});
  folder.write(kPart, moulds::stl_bytes(exported.part.solid, results::kPartStl));
  if (exported.mould) folder.write(kScaledMould, moulds::stl_bytes(*exported.mould, results::kScaledMouldStl));
  fmt::print("{}", options.json ? json_text(exported, folder.path()) : words(exported, folder.path()));
  if (exported.part.turned > 0 && !options.quiet) {
    fmt::print(stderr,
               "warning: in corners tighter than the wall is thick the free face crosses itself ({} triangles turned "
               "over): {} is for viewing and measuring, not for machining\n",
               exported.part.turned, kPart);
  }
  return 0;
}

}  // namespace pellicle::commands
