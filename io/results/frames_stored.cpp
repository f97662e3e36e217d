// What surfaces does a results folder hold? Files are trusted in nothing.
#include "io/results/frames_stored.h"

#include "io/results/h5.h"
#include "mesh/thicken.h"

#include <fmt/format.h>

#include <cmath>

namespace pellicle::results {
namespace {

constexpr double kM_per_mm = 1e-3;

mesh::TriangleMesh surface_of(const h5::Reader& file) {
  mesh::TriangleMesh surface;
  const auto points_mm = file.dataset<double>("/points_mm", 3);
  for (std::size_t i = 0; i < points_mm.size(); i += 3) {
    surface.points_m.emplace_back(kM_per_mm * points_mm[i], kM_per_mm * points_mm[i + 1], kM_per_mm * points_mm[i + 2]);
    if (!surface.points_m.back().allFinite()) file.broken(fmt::format("point {} of /points_mm nowhere", i / 3));
  }
  const auto corners = file.dataset<std::int32_t>("/triangles", 3);
  const auto points = static_cast<std::int64_t>(surface.points_m.size());
  for (std::size_t c = 0; c < corners.size(); ++c) {
    if (corners[c] < 0 || corners[c] >= points)
      file.broken(fmt::format("corner {} in triangle {} of {} points", corners[c], c / 3, points));
    if (c % 3 == 2) surface.triangles.push_back({corners[c - 2], corners[c - 1], corners[c]});
  }
  if (surface.triangles.empty()) file.broken("no triangles");
  return surface;
}

h5::Reader opened(const HeldFolder& folder, const std::string& name, const char* format) {
  const std::string path = (folder.path() / name).string();
  h5::Reader file(read_file(path), path);
  const std::string found = file.text_attribute("format");
  if (found != format) file.broken(fmt::format("the format '{}' instead of '{}'", found, format));
  return file;
}

}  // namespace

StoredSheet read_last_sheet(const HeldFolder& folder) {
  const std::string name = folder.last_frame();
  if (name.empty()) {
    throw Error({Fault::Kind::kCase, fmt::format("result folder '{}'", folder.path().string()), "no sheet_NNNN.h5",
                 "the results folder of a run that formed a sheet", ""});
  }
  const h5::Reader file = opened(folder, name, "pellicle-sheet");
  StoredSheet sheet{surface_of(file), file.dataset<double>("/node/thickness_mm")};
  if (sheet.thickness_m.size() != sheet.face.points_m.size())
    file.broken(fmt::format("{} thicknesses for {} points", sheet.thickness_m.size(), sheet.face.points_m.size()));
  for (double& thickness : sheet.thickness_m) {
    if (!(std::isfinite(thickness) && thickness > 0.0)) file.broken(fmt::format("a thickness of {} mm", thickness));
    thickness *= kM_per_mm;
  }
  if (!mesh::is_sheet(sheet.face)) file.broken("triangles that make no sheet");
  return sheet;
}

std::optional<mesh::TriangleMesh> read_mould(const HeldFolder& folder) {
  if (!folder.holds("mould.h5")) return std::nullopt;
  return surface_of(opened(folder, "mould.h5", "pellicle-mould"));
}

}  // namespace pellicle::results
