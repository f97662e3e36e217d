// What surfaces does a results folder hold? The formed sheet of its last frame, and the mould.
#pragma once

#include "io/results/result_folder.h"
#include "mesh/triangle_mesh.h"

#include <optional>
#include <string>
#include <vector>

namespace pellicle::results {

struct StoredSheet {
  mesh::TriangleMesh face;          ///< that meets the mould; counter-clockwise seen from the free face
  std::vector<double> thickness_m;  ///< N
  std::vector<mesh::Vec2> flat_m;   ///< N, where a node was in the flat sheet
};

/// As the files have it (f32). Throws Error (case) if there is no frame, or if it is no whole sheet.
StoredSheet read_last_sheet(const HeldFolder& folder);

/// A node field of the last frame as the file has it, NaN and all: N numbers, in the unit its name ends in. Empty if
/// the file has none of this name. Throws Error (case) as above.
std::vector<double> read_last_field(const HeldFolder& folder, const std::string& name);

/// As placed; nullopt if the folder has none. Throws Error (case) if the file is not whole.
std::optional<mesh::TriangleMesh> read_mould(const HeldFolder& folder);

}  // namespace pellicle::results
