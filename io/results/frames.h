// How does the sheet look at each moment, on disk? One closed HDF5 file a frame, and an index that names only those.
#pragma once

#include "io/results/result_folder.h"
#include "io/results/xdmf.h"
#include "mesh/inspect.h"
#include "mesh/visibility.h"
#include "solver/forming/frame.h"

#include <functional>
#include <span>
#include <string>
#include <vector>

namespace pellicle::results {

/// Writes sheet_NNNN.h5, then sheet.xdmf, for each frame. At any moment every frame in the index is whole on disk.
class FrameWriter {
 public:
  /// `there`: frames of this run that are in the folder already. Throws Error (case) if one of them cannot be read.
  explicit FrameWriter(ResultFolder& folder, int there = 0);
  /// Frames come in order, without gaps.
  void write(const forming::Frame& frame);
  int written() const { return static_cast<int>(index_.size()); }
  /// All frames written so far, as the files have them (f32), in order. Throws Error (case) if one cannot be read.
  void replay(const std::function<void(const forming::Frame&)>& sink) const;

 private:
  ResultFolder& folder_;
  std::vector<XdmfGrid> index_;
};

/// A number for each triangle of a surface, in the unit its name ends in.
struct TriangleField {
  std::string name;  ///< "draft_deg": becomes /triangle/draft_deg
  std::vector<double> values;
};
/// Writes mould.h5 and mould.xdmf: the surface as placed and welded, what the sheet met; with what is known of its
/// triangles. May be written again once more is.
void write_mould(ResultFolder& folder, const mesh::TriangleMesh& mould, std::span<const TriangleField> fields = {});

/// A number for each node of a sheet, in the unit its name ends in; NaN: none there.
struct NodeField {
  std::string name;  ///< "wall_b_less_a_mm": becomes /node/wall_b_less_a_mm
  std::vector<double> values;
};
/// Writes compare.h5 and compare.xdmf: a formed sheet with what another run has there. N nodes, M triangles.
void write_compared(ResultFolder& folder, std::span<const mesh::Vec3> points_m,
                    std::span<const mesh::Triangle> triangles, std::span<const mesh::Vec2> flat_m,
                    std::span<const NodeField> fields);

/// Writes defects.h5 and defects.xdmf: the surface as placed, before anything was mended, with a field for each kind of
/// defect, one value a triangle.
void write_defects(ResultFolder& folder, const mesh::TriangleMesh& surface, const mesh::Inspection& inspection,
                   const mesh::Visibility& visibility);

}  // namespace pellicle::results
