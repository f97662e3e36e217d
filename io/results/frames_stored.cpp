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

h5::Reader last_frame_of(const HeldFolder& folder) {
  const std::string name = folder.last_frame();
  if (name.empty()) {
    throw Error({Fault::Kind::kCase, fmt::format("result folder '{}'", folder.path().string()), "no sheet_NNNN.h5",
                 "the results folder of a run that formed a sheet", ""});
  }
  return opened(folder, name, "pellicle-sheet");
}

std::vector<mesh::Vec2> flat_of(const h5::Reader& file, std::size_t points) {
  const auto flat_mm = file.dataset<double>("/node/flat_mm", 2);
  if (flat_mm.size() != 2 * points) file.broken("/node/flat_mm of a wrong size");
  std::vector<mesh::Vec2> flat_m;
  for (std::size_t i = 0; i < flat_mm.size(); i += 2) {
    flat_m.emplace_back(kM_per_mm * flat_mm[i], kM_per_mm * flat_mm[i + 1]);
    if (!flat_m.back().allFinite()) file.broken(fmt::format("point {} of /node/flat_mm nowhere", i / 2));
  }
  return flat_m;
}

}  // namespace

StoredSheet read_last_sheet(const HeldFolder& folder) {
  const h5::Reader file = last_frame_of(folder);
  StoredSheet sheet{surface_of(file), file.dataset<double>("/node/thickness_mm"), {}};
  sheet.flat_m = flat_of(file, sheet.face.points_m.size());
  if (sheet.thickness_m.size() != sheet.face.points_m.size())
    file.broken(fmt::format("{} thicknesses for {} points", sheet.thickness_m.size(), sheet.face.points_m.size()));
  for (double& thickness : sheet.thickness_m) {
    if (!(std::isfinite(thickness) && thickness > 0.0)) file.broken(fmt::format("a thickness of {} mm", thickness));
    thickness *= kM_per_mm;
  }
  if (!mesh::is_sheet(sheet.face)) file.broken("triangles that make no sheet");
  return sheet;
}

std::vector<double> read_last_field(const HeldFolder& folder, const std::string& name) {
  const h5::Reader file = last_frame_of(folder);
  const std::string dataset = "/node/" + name;
  if (!file.holds(dataset.c_str())) return {};
  std::vector<double> values = file.dataset<double>(dataset.c_str());
  if (3 * values.size() != file.dataset<double>("/points_mm", 3).size()) file.broken(dataset + " of a wrong size");
  return values;
}

std::optional<mesh::TriangleMesh> read_mould(const HeldFolder& folder) {
  if (!folder.holds("mould.h5")) return std::nullopt;
  return surface_of(opened(folder, "mould.h5", "pellicle-mould"));
}

}  // namespace pellicle::results
