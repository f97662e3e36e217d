// What does ParaView read first? A small XML index over the HDF5 files, in the subset all three of its readers take.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace pellicle::results {

/// One field in an HDF5 file.
struct XdmfField {
  std::string dataset;  ///< "/node/thickness_mm"
  bool per_triangle;
  int columns = 1;
};

/// One surface: a frame of the sheet, or the mould. Triangles are /triangles.
struct XdmfGrid {
  std::string name;
  std::string file;  ///< bare name of the HDF5 file beside the index
  std::optional<double> time_s;
  std::size_t nodes, triangles;
  std::vector<XdmfField> fields;
  std::string points = "/points_mm";  ///< where they stand in the file
};

/// The name a person sees: a unit suffix becomes " (unit)", underscores blanks, triangle fields end in " per triangle".
std::string readable_name(std::string_view dataset, bool per_triangle);

/// One grid alone.
std::string xdmf_surface(const XdmfGrid& grid);

/// Several surfaces side by side under one name.
std::string xdmf_group(const std::string& name, std::span<const XdmfGrid> grids);

/// A collection in time under one name.
std::string xdmf_sequence(const std::string& name, std::span<const XdmfGrid> frames);

}  // namespace pellicle::results
