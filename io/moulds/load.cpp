// Which surface does the case name, and where does it stand?
#include "io/moulds/load.h"

#include "io/moulds/obj.h"
#include "io/moulds/ply.h"
#include "io/moulds/step.h"
#include "io/moulds/stl.h"
#include "io/moulds/threemf.h"
#include "io/moulds/weld.h"

#include <fmt/format.h>
#include <Eigen/Geometry>

#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <limits>
#include <string_view>
#include <system_error>
#include <utility>

namespace pellicle::moulds {
namespace {

namespace fs = std::filesystem;
using mesh::Vec3;

constexpr std::uintmax_t kLargestFile_bytes = 4'000'000'000U;  // an ASCII file of 16 million facets
constexpr double kLargestMould_m = 10.0;                       // and the smallest: beyond them it is the unit
constexpr double kSmallestMould_m = 1e-4;

std::string read_bytes(const fs::path& path) {
  std::error_code problem;
  const std::uintmax_t size = fs::file_size(path, problem);
  if (problem) refuse(path.string(), "a file that cannot be read (" + problem.message() + ")", "a readable file");
  if (size > kLargestFile_bytes) {
    refuse(path.string(), fmt::format("{:.1f} GB", static_cast<double>(size) * 1e-9), "up to 4 GB",
           "Export it coarser");
  }
  std::ifstream in(path, std::ios::binary);
  std::string bytes(static_cast<std::size_t>(size), '\0');
  in.read(bytes.data(), static_cast<std::streamsize>(size));
  if (!in.is_open() || in.gcount() != static_cast<std::streamsize>(size)) {
    refuse(path.string(), "a file that cannot be read", "a readable file", "Check its permissions");
  }
  return bytes;
}

/// A quarter turn must keep a flat base flat: sine and cosine of whole degrees of 90 are set exactly.
Eigen::Matrix3d turn_matrix(const Placement& placement) {
  const double quarters = placement.angle_rad / (0.5 * std::acos(-1.0));
  const double nearest = std::round(quarters);
  double c = std::cos(placement.angle_rad), s = std::sin(placement.angle_rad);
  if (std::fabs(quarters - nearest) < 1e-12) {
    constexpr std::array<double, 4> kCos{1, 0, -1, 0}, kSin{0, 1, 0, -1};
    const auto q = static_cast<std::size_t>(((static_cast<int>(nearest) % 4) + 4) % 4);
    c = kCos[q];
    s = kSin[q];
  }
  Eigen::Matrix3d turn = Eigen::Matrix3d::Identity();
  const int i = (placement.axis + 1) % 3, j = (placement.axis + 2) % 3;
  turn(i, i) = c;
  turn(i, j) = -s;
  turn(j, i) = s;
  turn(j, j) = c;
  return turn;
}

void place(mesh::TriangleMesh& mesh, const SurfaceFile& file, SurfaceNotes& notes) {
  const Eigen::Matrix3d turn = turn_matrix(file.placement);
  notes.low_m = Vec3::Constant(std::numeric_limits<double>::infinity());
  notes.high_m = -notes.low_m;
  for (Vec3& p : mesh.points_m) {
    p = turn * (p * notes.unit_m) + file.placement.move_m;
    notes.low_m = notes.low_m.cwiseMin(p);
    notes.high_m = notes.high_m.cwiseMax(p);
  }
}

void check_size(const SurfaceFile& file, const SurfaceNotes& notes, const Vec3& low, const Vec3& high) {
  const Vec3 size_m = (high - low) * notes.unit_m;
  const double reach_m = std::max(low.cwiseAbs().maxCoeff(), high.cwiseAbs().maxCoeff()) * notes.unit_m;
  if (size_m.norm() >= kSmallestMould_m && size_m.norm() <= kLargestMould_m && reach_m <= kLargestMould_m) return;
  refuse(
      file.path.string(),
      fmt::format("a mould of {:.4g} x {:.4g} x {:.4g} mm, up to {:.4g} mm from the origin, with unit = \"{}\"",
                  size_m.x() * 1e3, size_m.y() * 1e3, size_m.z() * 1e3, reach_m * 1e3, notes.unit_name),
      "0.1 mm to 10 m",
      notes.is_unit_of_file ? "The unit is the file's own: export it again in the right one" : "Is mould.unit right?");
}

/// The file says its unit: the case may leave it out or say the same.
void check_unit(const SurfaceFile& file, const std::string& own) {
  if (file.unit_name.empty() || file.unit_name == own) return;
  refuse(file.path.string(),
         fmt::format("lengths in {} by the file, \"{}\" by mould.unit", own.empty() ? "a unit of its own" : own,
                     file.unit_name),
         own.empty() ? "no mould.unit" : fmt::format("\"{}\", or no mould.unit", own),
         "The file carries its unit: leave mould.unit out. To make the mould larger or smaller, export it anew");
}

/// Facets in the unit that the notes are given here.
FacetContent read_facets(const SurfaceFile& file, SurfaceNotes& notes) {
  const std::string name = file.path.string();
  std::string bytes = read_bytes(file.path);
  notes.unit_m = file.unit_m;
  notes.unit_name = file.unit_name;
  notes.is_unit_of_file = carries_unit(file_kind(file.path));
  switch (file_kind(file.path)) {
    case FileKind::kObj:
      return read_obj(bytes, name);
    case FileKind::kPly:
      return read_ply(bytes, name);
    case FileKind::kThreemf: {
      ThreemfContent threemf = read_3mf(bytes, name);
      check_unit(file, threemf.unit_name);
      notes.unit_m = threemf.unit_m;
      notes.unit_name = threemf.unit_name;
      return std::move(threemf.content);
    }
    case FileKind::kStep: {
      const StepStart start = look_at_step(bytes, name);
      check_unit(file, start.unit_name);
      bytes = {};  // the library reads the file for itself
      notes.unit_m = 1e-3;
      notes.unit_name = "mm";
      FacetContent content = read_step(name);
      if (!start.unit_name.empty() && start.unit_name != "mm") {
        content.notes.push_back(fmt::format("{}: lengths are in {} and were converted to mm", name, start.unit_name));
      }
      return content;
    }
    default: {
      StlContent stl = read_stl(bytes, name);
      return {stl.is_binary ? "binary STL" : "ASCII STL", std::move(stl.facets), std::move(stl.notes)};
    }
  }
}

}  // namespace

FileKind file_kind(const fs::path& path) {
  std::string ending = path.extension().string();
  std::transform(ending.begin(), ending.end(), ending.begin(),
                 [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; });
  constexpr std::array<std::pair<std::string_view, FileKind>, 6> kEndings{{{".stl", FileKind::kStl},
                                                                           {".obj", FileKind::kObj},
                                                                           {".ply", FileKind::kPly},
                                                                           {".3mf", FileKind::kThreemf},
                                                                           {".step", FileKind::kStep},
                                                                           {".stp", FileKind::kStep}}};
  for (const auto& [known, kind] : kEndings) {
    if (ending == known) return kind;
  }
  return FileKind::kUnknown;
}

const char* kind_name(FileKind kind) {
  switch (kind) {
    case FileKind::kStl:
      return "STL";
    case FileKind::kObj:
      return "OBJ";
    case FileKind::kPly:
      return "PLY";
    case FileKind::kThreemf:
      return "3MF";
    case FileKind::kStep:
      return "STEP";
    case FileKind::kUnknown:
      break;
  }
  return "unknown";
}

bool carries_unit(FileKind kind) { return kind == FileKind::kThreemf || kind == FileKind::kStep; }

Surface load_surface(const SurfaceFile& file) {
  Surface surface;
  Welded welded;
  {
    const FacetContent content = read_facets(file, surface.notes);
    surface.notes.format = content.format;
    surface.notes.facets_in_file = static_cast<int>(content.facets.size());
    surface.notes.notes = content.notes;
    welded = weld(content.facets);
  }  // the loose facets are freed here: they are the largest thing in memory
  if (welded.mesh.triangles.empty()) {
    refuse(file.path.string(), fmt::format("{} facets, all without area", surface.notes.facets_in_file),
           "at least one triangle with an area");
  }
  check_size(file, surface.notes, welded.low, welded.high);
  surface.mesh = std::move(welded.mesh);
  surface.notes.degenerate_dropped = welded.degenerate_dropped;
  surface.notes.welded_apart = welded.welded_apart;
  surface.notes.weld_tolerance_m = welded.tolerance * surface.notes.unit_m;
  surface.notes.points = static_cast<int>(surface.mesh.points_m.size());
  place(surface.mesh, file, surface.notes);
  return surface;
}

std::optional<std::string> unit_doubt(const SurfaceFile& file, const SurfaceNotes& notes, const mesh::Outline& sheet) {
  const double sheet_m = mesh::longer_side_m(sheet);
  const Vec3 size_m = notes.high_m - notes.low_m;
  const double share = std::max(size_m.x(), size_m.y()) / sheet_m;
  // A mould fills a tenth to all of its sheet, rarely three times (a frame around it); inch and mm are 25.4 apart.
  constexpr double kSmallest = 0.04, kLargest = 4.0;
  if (share >= kSmallest && share <= kLargest) return std::nullopt;
  std::string other;
  struct Unit {
    const char* name;
    double size_m;
  };
  for (const Unit unit : {Unit{"mm", 1e-3}, {"in", 25.4e-3}, {"cm", 1e-2}, {"m", 1.0}}) {
    const double with = share * unit.size_m / notes.unit_m;
    if (with > 0.1 && with < 1.5) {
      other = fmt::format("; {} \"{}\" would make it {:.4g} x {:.4g} mm",
                          notes.is_unit_of_file ? "exported in" : "unit =", unit.name, size_m.x() * 1e3 * with / share,
                          size_m.y() * 1e3 * with / share);
      break;
    }
  }
  return fmt::format("{}: {:.4g} x {:.4g} mm seen from above with {} = \"{}\", for a sheet of {:.4g} mm{}",
                     file.path.string(), size_m.x() * 1e3, size_m.y() * 1e3,
                     notes.is_unit_of_file ? "the file's own unit" : "unit", notes.unit_name, sheet_m * 1e3, other);
}

}  // namespace pellicle::moulds
