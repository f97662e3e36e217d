// What triangles does an STL file hold? Binary: 80 bytes of header, a count, 50 bytes a facet. ASCII: words and
// numbers.
#include "io/moulds/stl.h"

#include "io/moulds/words.h"

#include <fmt/format.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <bit>
#include <cstdint>
#include <optional>

namespace pellicle::moulds {
namespace {

constexpr std::size_t kHeader_bytes = 80;
constexpr std::size_t kStart_bytes = 84;  // header and count
constexpr std::size_t kFacet_bytes = 50;  // normal, three corners, two spare bytes

constexpr const char* kAllowed = "a whole STL file, binary or ASCII";

std::uint32_t read_u32(std::string_view bytes, std::size_t at) {  // little-endian on any machine
  std::uint32_t value = 0;
  for (std::size_t i = 0; i < 4; ++i) {
    value |= static_cast<std::uint32_t>(static_cast<unsigned char>(bytes[at + i])) << (8U * i);
  }
  return value;
}

double read_f32(std::string_view bytes, std::size_t at) { return std::bit_cast<float>(read_u32(bytes, at)); }

/// Many binary files start with "solid" too. A file whose count and size agree is binary, whatever it starts with;
/// ASCII starts with "solid" and has no zero byte in its first part.
bool is_ascii(std::string_view bytes) {
  if (bytes.size() >= kStart_bytes) {
    const std::uint64_t count = read_u32(bytes, kHeader_bytes);
    if (bytes.size() == kStart_bytes + count * kFacet_bytes) return false;
  }
  std::string_view start = bytes.substr(0, 1024);
  if (start.find('\0') != std::string_view::npos) return false;
  if (start.starts_with("\xEF\xBB\xBF")) start.remove_prefix(3);
  const auto word = start.find_first_not_of(" \t\r\n");
  if (word == std::string_view::npos) return false;
  start.remove_prefix(word);
  constexpr std::string_view kSolid = "solid";
  return start.size() >= kSolid.size() && std::equal(kSolid.begin(), kSolid.end(), start.begin(), [](char a, char b) {
           return a == (b >= 'A' && b <= 'Z' ? b - 'A' + 'a' : b);
         });
}

StlContent read_binary(std::string_view bytes, const std::string& name) {
  if (bytes.size() < kStart_bytes) {
    refuse(name, fmt::format("{} bytes, too few for the start of an STL file", bytes.size()), kAllowed, kExportAgain);
  }
  const std::uint64_t count = read_u32(bytes, kHeader_bytes);
  const std::uint64_t room = (bytes.size() - kStart_bytes) / kFacet_bytes;
  if (count > room) {
    refuse(
        name,
        fmt::format("{} facets promised at byte {}, room for {} in {} bytes", count, kHeader_bytes, room, bytes.size()),
        kAllowed, kExportAgain);
  }
  if (count < room) {
    refuse(name,
           fmt::format("{} facets promised at byte {}, but room for {} in {} bytes", count, kHeader_bytes, room,
                       bytes.size()),
           kAllowed, "Export the mould again");
  }
  if (count == 0) refuse(name, "no facets", "at least one facet", "Is the mould empty in the drawing?");
  if (count > kMostFacets) {
    refuse(name, fmt::format("{} facets", count), fmt::format("up to {} facets", kMostFacets), "Export it coarser");
  }
  StlContent content;
  content.facets.resize(count);
  for (std::size_t f = 0; f < count; ++f) {
    for (std::size_t corner = 0; corner < 3; ++corner) {
      const std::size_t at = kStart_bytes + f * kFacet_bytes + 12 * (corner + 1);
      mesh::Vec3& p = content.facets[f][corner];
      p = {read_f32(bytes, at), read_f32(bytes, at + 4), read_f32(bytes, at + 8)};
      if (!is_sane(p.x()) || !is_sane(p.y()) || !is_sane(p.z())) {
        refuse(fmt::format("{}, facet {}, corner {}", name, f + 1, corner + 1),
               fmt::format("the coordinates {}, {}, {}", p.x(), p.y(), p.z()), "finite coordinates",
               "Repair the mesh in the program that made it");
      }
    }
  }
  const std::size_t rest = bytes.size() - kStart_bytes - count * kFacet_bytes;
  if (rest > 0) content.notes.push_back(fmt::format("{} bytes after the last facet were left out", rest));
  return content;
}

class AsciiReader {
 public:
  AsciiReader(std::string_view text, const std::string& name) : words_(text), name_(name) {}

  StlContent read() {
    StlContent content;
    content.is_binary = false;
    for (std::string_view word = words_.next(); !word.empty(); word = words_.next()) {
      if (!same_word(word, "solid")) wanted("solid", word);
      words_.next_line();
      read_solid(content);
    }
    if (content.facets.empty()) refuse(name_, "no facets", "at least one facet", "Is the mould empty in the drawing?");
    return content;
  }

 private:
  std::string here() const { return fmt::format("{}:{}", name_, words_.line()); }

  [[noreturn]] void wanted(std::string_view expected, std::string_view word) const {
    refuse(here(), shown(word), fmt::format("\"{}\"", expected), word.empty() ? kExportAgain : "Is this an STL file?");
  }
  void expect(std::string_view lower) {
    const std::string_view word = words_.next();
    if (!same_word(word, lower)) wanted(lower, word);
  }

  void read_solid(StlContent& content) {
    for (;;) {
      const std::string_view word = words_.next();
      if (same_word(word, "endsolid")) {
        words_.next_line();
        return;
      }
      if (!same_word(word, "facet")) wanted("facet", word);
      if (content.facets.size() == kMostFacets) {
        refuse(here(), fmt::format("more than {} facets", kMostFacets), fmt::format("up to {} facets", kMostFacets),
               "Export it coarser");
      }
      read_facet(content.facets);
    }
  }

  void read_facet(std::vector<Facet>& facets) {
    expect("normal");
    for (int i = 0; i < 3; ++i) {
      if (words_.next().empty()) wanted("a normal", {});  // not used; writers put anything here, even nan
    }
    expect("outer");
    expect("loop");
    Facet facet;
    for (mesh::Vec3& corner : facet) {
      expect("vertex");
      corner = {read_number(), read_number(), read_number()};
    }
    expect("endloop");
    expect("endfacet");
    facets.push_back(facet);
  }

  double read_number() {
    const std::string_view word = words_.next();
    const std::optional<double> value = coordinate_in(word);
    if (!value) refuse(here(), shown(word), "a finite coordinate", word.empty() ? kExportAgain : "");
    return *value;
  }

  Words words_;
  const std::string& name_;
};

}  // namespace

StlContent read_stl(std::string_view bytes, const std::string& name) {
  if (bytes.empty()) refuse(name, "an empty file", kAllowed, kExportAgain);
  return is_ascii(bytes) ? AsciiReader(bytes, name).read() : read_binary(bytes, name);
}

std::string stl_bytes(const mesh::TriangleMesh& mesh, std::string_view header) {
  std::string bytes(header);
  bytes.resize(80, ' ');
  const auto add = [&bytes](const auto& value) { bytes.append(reinterpret_cast<const char*>(&value), sizeof(value)); };
  add(static_cast<std::uint32_t>(mesh.triangles.size()));
  for (const mesh::Triangle& t : mesh.triangles) {
    const auto corner = [&](int k) { return mesh.points_m[static_cast<std::size_t>(t[static_cast<std::size_t>(k)])]; };
    const mesh::Vec3 normal = (corner(1) - corner(0)).cross(corner(2) - corner(0)).normalized();
    for (const mesh::Vec3& v :
         {normal, mesh::Vec3(1e3 * corner(0)), mesh::Vec3(1e3 * corner(1)), mesh::Vec3(1e3 * corner(2))})
      for (int k = 0; k < 3; ++k) add(static_cast<float>(v[k]));
    add(std::uint16_t{0});
  }
  return bytes;
}

}  // namespace pellicle::moulds
