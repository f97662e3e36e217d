// What does the header of a PLY file promise? Encoding, elements in order, and the type of each of their properties.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace pellicle::moulds {

enum class PlyEncoding { kText, kLittle, kBig };
enum class PlyType { kInt8, kUint8, kInt16, kUint16, kInt32, kUint32, kFloat32, kFloat64 };

std::size_t size_bytes(PlyType type);
bool is_whole(PlyType type);

struct PlyProperty {
  std::string name;
  PlyType type;                      ///< of the value, or of the members of a list
  std::optional<PlyType> list_size;  ///< given: a list, whose length comes first in this type
};

struct PlyElement {
  std::string name;
  std::uint64_t count = 0;
  std::vector<PlyProperty> properties;
};

struct PlyHeader {
  PlyEncoding encoding = PlyEncoding::kText;
  std::vector<PlyElement> elements;
  std::size_t end_byte = 0;  ///< where the body begins
  int lines = 0;             ///< of the header
};

/// Throws Error (geometry) with the line.
PlyHeader read_ply_header(std::string_view bytes, const std::string& name);

}  // namespace pellicle::moulds
