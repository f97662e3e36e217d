// How does one mesh stand in each kind of file? Written for tests, in millimetres, in single precision as STL has it.
#pragma once

#include "io/moulds/facet.h"
#include "io/moulds/stl.h"
#include "mesh/shapes.h"
#include "tests/io/moulds/zip_file.h"

#include <fmt/format.h>

#include <Eigen/Geometry>

#include <bit>
#include <string>
#include <vector>

namespace pellicle::moulds {

/// A coordinate in mm, rounded to single precision.
inline double single_mm(double length_m) { return static_cast<double>(static_cast<float>(1e3 * length_m)); }

inline std::string obj_text(const mesh::TriangleMesh& mesh) {
  std::string text = "# made for a test\no mould\n";
  for (const mesh::Vec3& p : mesh.points_m) {
    text += fmt::format("v {} {} {}\n", single_mm(p.x()), single_mm(p.y()), single_mm(p.z()));
  }
  for (const mesh::Triangle& t : mesh.triangles) text += fmt::format("f {} {} {}\n", t[0] + 1, t[1] + 1, t[2] + 1);
  return text;
}

inline void put_be(std::string& bytes, std::uint64_t value, unsigned size) {
  for (unsigned i = size; i > 0; --i) bytes += static_cast<char>((value >> (8U * (i - 1))) & 0xFFU);
}

/// `encoding` as the header says it.
inline std::string ply_bytes(const mesh::TriangleMesh& mesh, const std::string& encoding) {
  std::string bytes = fmt::format(
      "ply\nformat {} 1.0\ncomment made for a test\nelement vertex {}\nproperty float x\nproperty float y\nproperty "
      "float z\nelement face {}\nproperty list uchar int vertex_indices\nend_header\n",
      encoding, mesh.points_m.size(), mesh.triangles.size());
  const bool is_text = encoding == "ascii", is_big = encoding == "binary_big_endian";
  const auto put = [&](std::uint64_t value, unsigned size) {
    if (is_big) {
      put_be(bytes, value, size);
    } else {
      put_le(bytes, value, size);
    }
  };
  for (const mesh::Vec3& p : mesh.points_m) {
    if (is_text) bytes += fmt::format("{} {} {}\n", single_mm(p.x()), single_mm(p.y()), single_mm(p.z()));
    for (int k = 0; k < 3 && !is_text; ++k) put(std::bit_cast<std::uint32_t>(static_cast<float>(1e3 * p[k])), 4);
  }
  for (const mesh::Triangle& t : mesh.triangles) {
    if (is_text) bytes += fmt::format("3 {} {} {}\n", t[0], t[1], t[2]);
    if (!is_text) put(3, 1);
    for (std::size_t k = 0; k < 3 && !is_text; ++k) put(static_cast<std::uint32_t>(t[k]), 4);
  }
  return bytes;
}

inline std::string mesh_xml(const mesh::TriangleMesh& mesh, int id, const std::string& type = "model") {
  std::string xml = fmt::format("<object id=\"{}\" type=\"{}\"><mesh><vertices>", id, type);
  for (const mesh::Vec3& p : mesh.points_m) {
    xml += fmt::format("<vertex x=\"{:.9g}\" y=\"{:.9g}\" z=\"{:.9g}\"/>", single_mm(p.x()), single_mm(p.y()),
                       single_mm(p.z()));
  }
  xml += "</vertices><triangles>";
  for (const mesh::Triangle& t : mesh.triangles) {
    xml += fmt::format("<triangle v1=\"{}\" v2=\"{}\" v3=\"{}\"/>", t[0], t[1], t[2]);
  }
  return xml + "</triangles></mesh></object>";
}

inline std::string threemf_bytes(const mesh::TriangleMesh& mesh) {
  return threemf_bytes(model_xml("millimeter", mesh_xml(mesh, 1), "<item objectid=\"1\"/>"));
}

/// No plane of symmetry: a trench, leant over.
inline mesh::TriangleMesh skew_shape() {
  mesh::TriangleMesh mesh = mesh::trench(0.004, 0.006, 0.01, 0.02, 0.012);
  for (mesh::Vec3& p : mesh.points_m) p = {p.x() + 0.3 * p.y() + 0.1 * p.z(), p.y() - 0.2 * p.z() + 0.003, 1.1 * p.z()};
  return mesh;
}

inline double volume_of(const mesh::TriangleMesh& mesh) {
  double six = 0.0;
  for (const mesh::Triangle& t : mesh.triangles) {
    const auto at = [&](std::size_t k) -> const mesh::Vec3& { return mesh.points_m[static_cast<std::size_t>(t[k])]; };
    six += at(0).dot(at(1).cross(at(2)));
  }
  return six / 6.0;
}

}  // namespace pellicle::moulds
