// What triangles does an STL file hold? Binary: 80 bytes of header, a count, 50 bytes a facet. ASCII: words and
// numbers.
#include "io/moulds/stl.h"

#include "mesh/check.h"

#include <fmt/format.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <bit>
#include <charconv>
#include <cmath>
#include <cstdint>

namespace pellicle::moulds {
namespace {

constexpr std::size_t kHeader_bytes = 80;
constexpr std::size_t kStart_bytes = 84;         // header and count
constexpr std::size_t kFacet_bytes = 50;         // normal, three corners, two spare bytes
constexpr std::size_t kMostFacets = 20'000'000;  // 3 corners each still number in an int; 1.4 GB in memory

constexpr double kLargestCoordinate = 1e30;  // in any unit; keeps later squares and products finite

bool is_sane(double coordinate) { return std::fabs(coordinate) <= kLargestCoordinate; }  // false for NaN

[[noreturn]] void refuse(std::string where, std::string found, std::string allowed, std::string advice = {}) {
  throw Error({.kind = Fault::Kind::kGeometry,
               .where = std::move(where),
               .found = std::move(found),
               .allowed = std::move(allowed),
               .advice = std::move(advice)});
}

constexpr const char* kAllowed = "a whole STL file, binary or ASCII";
constexpr const char* kExportAgain = "Export the mould again; a broken download or a full disk cuts files short";

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

/// Words between blanks, with the line they stand on.
class Words {
 public:
  explicit Words(std::string_view text) : text_(text) {
    if (text_.starts_with("\xEF\xBB\xBF")) at_ = 3;
  }

  /// Empty at the end of the file.
  std::string_view next() {
    while (at_ < text_.size() && is_blank(text_[at_])) step();
    const std::size_t start = at_;
    while (at_ < text_.size() && !is_blank(text_[at_])) ++at_;
    return text_.substr(start, at_ - start);
  }
  void skip_line() {
    while (at_ < text_.size() && text_[at_] != '\n') ++at_;
  }
  int line() const { return line_; }

 private:
  static bool is_blank(char c) { return c == ' ' || c == '\t' || c == '\r' || c == '\n' || c == '\v' || c == '\f'; }
  void step() {
    if (text_[at_] == '\n') ++line_;
    ++at_;
  }
  std::string_view text_;
  std::size_t at_ = 0;
  int line_ = 1;
};

bool same_word(std::string_view word, std::string_view lower) {
  return word.size() == lower.size() && std::equal(word.begin(), word.end(), lower.begin(), [](char a, char b) {
           return (a >= 'A' && a <= 'Z' ? a - 'A' + 'a' : a) == b;
         });
}

std::string shown(std::string_view word) {
  if (word.empty()) return "the end of the file";
  std::string text;
  for (const char c : word.substr(0, 40)) text += static_cast<unsigned char>(c) < 0x20U || c == 0x7F ? '?' : c;
  return "\"" + text + "\"";
}

class AsciiReader {
 public:
  AsciiReader(std::string_view text, const std::string& name) : words_(text), name_(name) {}

  StlContent read() {
    StlContent content;
    content.is_binary = false;
    for (std::string_view word = words_.next(); !word.empty(); word = words_.next()) {
      if (!same_word(word, "solid")) wanted("solid", word);
      words_.skip_line();
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
        words_.skip_line();
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
    std::string_view word = words_.next();
    const std::string_view whole = word;
    if (word.starts_with('+')) word.remove_prefix(1);
    double value = 0.0;
    const auto [end, problem] = std::from_chars(word.data(), word.data() + word.size(), value);
    if (word.empty() || problem != std::errc() || end != word.data() + word.size() || !is_sane(value)) {
      refuse(here(), shown(whole), "a finite coordinate", word.empty() ? kExportAgain : "");
    }
    return value;
  }

  Words words_;
  const std::string& name_;
};

}  // namespace

StlContent read_stl(std::string_view bytes, const std::string& name) {
  if (bytes.empty()) refuse(name, "an empty file", kAllowed, kExportAgain);
  return is_ascii(bytes) ? AsciiReader(bytes, name).read() : read_binary(bytes, name);
}

std::string stl_bytes(const mesh::TriangleMesh& mesh) {
  std::string bytes(80, ' ');
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
