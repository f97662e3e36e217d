// What shape has the formed part, and how large is its mould to be printed? part.stl and mould_scaled.stl.
#include "io/case/parse.h"
#include "io/commands/commands.h"
#include "io/moulds/stl.h"
#include "io/results/json.h"
#include "io/results/stored_run.h"
#include "mesh/check.h"
#include "mesh/thicken.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
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

/// What the finding `shrinkage` says, in percent; nullopt if there is none or it has no number.
std::optional<double> shrinkage_percent(const results::HeldFolder& folder) {
  for (const checks::Finding& finding : results::read_summary(folder.path()).findings)
    if (finding.id == "shrinkage") return std::isfinite(finding.value) ? std::optional(finding.value) : std::nullopt;
  return std::nullopt;
}

mesh::TriangleMesh scaled(mesh::TriangleMesh mould, double scale) {
  for (mesh::Vec3& p : mould.points_m) p *= scale;
  return mould;
}

mesh::Thickened part_of(const cases::ParsedCase& parsed, const results::StoredSheet& sheet,
                        const std::optional<mesh::TriangleMesh>& mould) {
  const std::vector<char> in_part = results::part_nodes(sheet, mould, parsed.value);
  mesh::Thickened part = mesh::thicken(sheet.face, sheet.thickness_m, in_part);
  if (part.face_triangles == 0) {
    throw cases::with_line(parsed, Error({Fault::Kind::kCase, "part.trim", "no triangle of the formed sheet inside",
                                          "a trim round some of it", "give part.trim in the case and run it again"}));
  }
  return part;
}

Exported look_at_results(const fs::path& results) {
  const results::HeldFolder folder(results);
  results::require_finished_run(folder);
  const results::StoredSheet sheet = results::read_last_sheet(folder);
  const cases::ParsedCase parsed = results::read_case(folder);
  const std::optional<mesh::TriangleMesh> mould = results::read_mould(folder, parsed);
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
  out.part = part_of(parsed, sheet, mould);
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
  results::ResultFolder folder(options.out.value_or(results::name_of(options.results) + "-stl"), options.force,
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
