// Which surface does the case name, and where does it stand? From a file of some kind to a placed mesh in metres.
#pragma once

#include "mesh/sheet_mesher.h"
#include "mesh/triangle_mesh.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace pellicle::moulds {

/// Turned about the file's origin first, then moved.
struct Placement {
  int axis = 2;  ///< 0, 1, 2 = x, y, z
  double angle_rad = 0.0;
  mesh::Vec3 move_m = mesh::Vec3::Zero();
};

struct SurfaceFile {
  std::filesystem::path path;
  double unit_m = 1e-3;   ///< length of one unit of the file [m], as the case says
  std::string unit_name;  ///< as the case says it; empty: the case says none, the file must
  Placement placement;
};

/// What was read, for the person who must see that it is the right mould.
struct SurfaceNotes {
  std::string format;              ///< "binary STL", "Wavefront OBJ", "3MF, 2 items"
  std::string unit_name;           ///< the case's or the file's
  double unit_m = 1e-3;            ///< of the numbers in the file
  bool is_unit_of_file = false;    ///< the file says it
  int facets_in_file = 0;          ///< before anything was dropped
  int degenerate_dropped = 0;      ///< facets without area
  int points = 0;                  ///< after welding
  int welded_apart = 0;            ///< points that were near, not equal, and became one
  double weld_tolerance_m = 0.0;   ///< the distance that counts as near
  mesh::Vec3 low_m, high_m;        ///< box after placement
  std::vector<std::string> notes;  ///< remarks that are no errors
};

struct Surface {
  mesh::TriangleMesh mesh;  ///< placed, in metres
  SurfaceNotes notes;
};

/// Kinds of file, by the ending of the name.
enum class FileKind { kStl, kObj, kPly, kThreemf, kStep, kUnknown };
FileKind file_kind(const std::filesystem::path& path);
/// The kind's name: "STL", "3MF".
const char* kind_name(FileKind kind);
/// 3MF and STEP say their unit; the others hold bare numbers, and the case must say what they are.
bool carries_unit(FileKind kind);

/// Reads, welds and places. Throws Error (geometry) with the place of the fault; a unit that is not
/// the file's own is one.
Surface load_surface(const SurfaceFile& file);

/// A sentence if the mould's size against the sheet's smells of the wrong unit, with the unit that would fit. Nothing
/// is ever scaled by it.
std::optional<std::string> unit_doubt(const SurfaceFile& file, const SurfaceNotes& notes, const mesh::Outline& sheet);

}  // namespace pellicle::moulds
