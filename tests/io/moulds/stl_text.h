// Which STL bytes do the tests feed in? A small box, binary or ASCII, from the same facets.
#pragma once

#include "io/moulds/stl.h"

#include <fmt/format.h>

#include <bit>
#include <cstdint>
#include <string>
#include <vector>

namespace pellicle::moulds {

inline void put_u32(std::string& bytes, std::uint32_t value) {
  for (unsigned i = 0; i < 4; ++i) bytes += static_cast<char>((value >> (8U * i)) & 0xFFU);
}

inline std::string binary_stl(const std::vector<Facet>& facets, std::string header = "made for a test") {
  header.resize(80, '\0');
  std::string bytes = header;
  put_u32(bytes, static_cast<std::uint32_t>(facets.size()));
  for (const Facet& facet : facets) {
    bytes.append(12, '\0');  // the normal is not read
    for (const mesh::Vec3& p : facet) {
      for (int axis = 0; axis < 3; ++axis) put_u32(bytes, std::bit_cast<std::uint32_t>(static_cast<float>(p[axis])));
    }
    bytes.append(2, '\0');
  }
  return bytes;
}

inline std::string ascii_stl(const std::vector<Facet>& facets, const std::string& name = "box") {
  std::string text = "solid " + name + "\n";
  for (const Facet& facet : facets) {
    text += "  facet normal 0 0 0\n    outer loop\n";
    for (const mesh::Vec3& p : facet) text += fmt::format("      vertex {:e} {:e} {:e}\n", p.x(), p.y(), p.z());
    text += "    endloop\n  endfacet\n";
  }
  return text + "endsolid " + name + "\n";
}

/// 12 facets, outward, from (0, 0, 0) to (x, y, z).
inline std::vector<Facet> box_facets(double x, double y, double z) {
  const auto corner = [&](int i) { return mesh::Vec3((i & 1) ? x : 0, (i & 2) ? y : 0, (i & 4) ? z : 0); };
  const int sides[6][4] = {{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}};
  std::vector<Facet> facets;
  for (const auto& s : sides) {
    facets.push_back({corner(s[0]), corner(s[1]), corner(s[2])});
    facets.push_back({corner(s[0]), corner(s[2]), corner(s[3])});
  }
  return facets;
}

}  // namespace pellicle::moulds
