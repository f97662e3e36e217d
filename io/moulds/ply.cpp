// What triangles does a PLY file hold? The body is read in the order of the header, each value by its declared type.
#include "io/moulds/ply.h"

#include "io/moulds/ply_header.h"
#include "io/moulds/polygon.h"
#include "io/moulds/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <bit>

namespace pellicle::moulds {
namespace {

using mesh::Vec3;

/// Values behind the header, one after the other.
class Body {
 public:
  Body(std::string_view bytes, const PlyHeader& header, const std::string& name)
      : bytes_(bytes.substr(header.end_byte)),
        encoding_(header.encoding),
        words_(bytes_, header.lines + 1),
        name_(name) {}

  bool is_text() const { return encoding_ == PlyEncoding::kText; }
  /// Begins a member of an element; its number stands in messages, or its line.
  void begin(std::string_view what, std::uint64_t number) {
    what_ = what;
    number_ = number;
  }
  std::string here() const {
    return is_text() ? fmt::format("{}:{}", name_, words_.line()) : fmt::format("{}, {} {}", name_, what_, number_ + 1);
  }
  std::uint64_t left() const { return is_text() ? words_.left() : bytes_.size() - at_; }
  /// As few bytes as values of this type can take, the blank between them included.
  std::uint64_t least_bytes(PlyType type) const { return is_text() ? 2 : size_bytes(type); }

  double coordinate(PlyType type) {
    if (is_text()) {
      const std::string_view word = words_.next();
      const std::optional<double> value = coordinate_in(word);
      if (!value) refuse(here(), shown(word), "a finite coordinate", word.empty() ? kExportAgain : "");
      return *value;
    }
    const std::uint64_t raw = take(size_bytes(type));
    double value = 0.0;
    if (type == PlyType::kFloat32) {
      value = std::bit_cast<float>(static_cast<std::uint32_t>(raw));
    } else if (type == PlyType::kFloat64) {
      value = std::bit_cast<double>(raw);
    } else {
      value = static_cast<double>(with_sign(raw, type));
    }
    if (!is_sane(value)) refuse(here(), fmt::format("the coordinate {}", value), "a finite coordinate");
    return value;
  }

  long long whole(PlyType type) {
    if (!is_text()) return with_sign(take(size_bytes(type)), type);
    const std::string_view word = words_.next();
    const std::optional<long long> value = whole_in(word);
    if (!value) refuse(here(), shown(word), "a whole number", word.empty() ? kExportAgain : "");
    return *value;
  }

  /// Length of a list that fits into the bytes at hand.
  std::uint64_t list_length(const PlyProperty& list) {
    const long long length = whole(*list.list_size);
    const std::uint64_t room = (left() + (is_text() ? 1 : 0)) / least_bytes(list.type);
    if (length < 0 || static_cast<std::uint64_t>(length) > room) {
      refuse(here(), fmt::format("a list of {}, with room for {} in the {} bytes left", length, room, left()),
             "a list that fits", kExportAgain);
    }
    return static_cast<std::uint64_t>(length);
  }

  void pass_over(const PlyProperty& property) {
    const std::uint64_t count = property.list_size ? list_length(property) : 1;
    for (std::uint64_t i = 0; i < count; ++i) {
      if (!is_text()) {
        take(size_bytes(property.type));
      } else if (words_.next().empty()) {
        refuse(here(), "the end of the file", "a value of " + shown(property.name), kExportAgain);
      }
    }
  }

  /// Bytes behind the last value that are not blanks.
  std::uint64_t leftover() {
    if (!is_text()) return left();
    const std::string_view word = words_.next();
    return word.empty() ? 0 : word.size() + words_.left();
  }

 private:
  std::uint64_t take(std::size_t size) {
    if (size > left()) {
      refuse(here(), "the end of the file", fmt::format("a value of {} bytes", size), kExportAgain);
    }
    std::uint64_t value = 0;
    for (std::size_t i = 0; i < size; ++i) {
      const std::size_t shift = encoding_ == PlyEncoding::kBig ? size - 1 - i : i;
      value |= static_cast<std::uint64_t>(static_cast<unsigned char>(bytes_[at_ + i])) << (8U * shift);
    }
    at_ += size;
    return value;
  }

  static long long with_sign(std::uint64_t raw, PlyType type) {
    switch (type) {
      case PlyType::kInt8:
        return static_cast<std::int8_t>(raw);
      case PlyType::kInt16:
        return static_cast<std::int16_t>(raw);
      case PlyType::kInt32:
        return static_cast<std::int32_t>(raw);
      default:
        return static_cast<long long>(raw);
    }
  }

  std::string_view bytes_;
  PlyEncoding encoding_;
  Words words_;
  const std::string& name_;
  std::size_t at_ = 0;
  std::string_view what_ = "vertex";
  std::uint64_t number_ = 0;
};

constexpr std::array<std::string_view, 2> kIndexNames{"vertex_indices", "vertex_index"};

const char* format_name(PlyEncoding encoding) {
  switch (encoding) {
    case PlyEncoding::kText:
      return "PLY, ASCII";
    case PlyEncoding::kLittle:
      return "PLY, binary little-endian";
    default:
      return "PLY, binary big-endian";
  }
}

class PlyReader {
 public:
  PlyReader(std::string_view bytes, const std::string& name)
      : header_(read_ply_header(bytes, name)), body_(bytes, header_, name), name_(name) {}

  FacetContent read() {
    for (const PlyElement& element : header_.elements) {
      check_count(element);
      if (element.name == "vertex") {
        read_vertices(element);
      } else if (element.name == "face") {
        read_polygons(element, false);
      } else if (element.name == "tristrips") {
        read_polygons(element, true);
      } else {
        pass_over(element);
      }
    }
    if (content_.facets.empty()) {
      refuse(name_, fmt::format("{} points and no faces", points_.size()), "at least one face",
             "A cloud of points is no surface: export the mould as a mesh");
    }
    if (const std::uint64_t rest = body_.leftover(); rest > 0) {
      content_.notes.push_back(fmt::format("{} bytes after the last element were left out", rest));
    }
    cutter_.add_notes("face", content_.notes);
    content_.format = format_name(header_.encoding);
    return std::move(content_);
  }

 private:
  void check_count(const PlyElement& element) const {
    std::uint64_t least = 0;
    for (const PlyProperty& p : element.properties) least += body_.least_bytes(p.list_size ? *p.list_size : p.type);
    const std::uint64_t left = body_.left() + (body_.is_text() ? 1 : 0);  // no blank behind the last one
    if (least == 0 || element.count <= left / least) return;
    refuse(name_,
           fmt::format("{} of the element {} promised, room for {} in {} bytes", element.count, shown(element.name),
                       left / least, body_.left()),
           "a whole PLY file", kExportAgain);
  }

  void read_vertices(const PlyElement& element) {
    constexpr std::array<std::string_view, 3> kAxes{"x", "y", "z"};
    std::vector<int> axis_of;
    std::size_t found = 0;
    for (const PlyProperty& p : element.properties) {
      const auto axis = p.list_size ? kAxes.end() : std::find(kAxes.begin(), kAxes.end(), p.name);
      axis_of.push_back(axis == kAxes.end() ? -1 : static_cast<int>(axis - kAxes.begin()));
      if (axis != kAxes.end()) ++found;
    }
    if (found != 3) refuse(name_ + ", header", "a vertex without x, y and z", "all three");
    if (element.count > kMostPoints) {
      refuse(name_, fmt::format("{} points", element.count), fmt::format("up to {} points", kMostPoints),
             "Export it coarser");
    }
    points_.resize(static_cast<std::size_t>(element.count));
    for (std::size_t i = 0; i < points_.size(); ++i) {
      body_.begin("vertex", i);
      for (std::size_t k = 0; k < element.properties.size(); ++k) {
        if (axis_of[k] < 0) {
          body_.pass_over(element.properties[k]);
        } else {
          points_[i][axis_of[k]] = body_.coordinate(element.properties[k].type);
        }
      }
    }
  }

  void read_polygons(const PlyElement& element, bool are_strips) {
    std::size_t indices = element.properties.size();
    for (std::size_t k = 0; k < element.properties.size(); ++k) {
      const PlyProperty& p = element.properties[k];
      const bool is_named = std::find(kIndexNames.begin(), kIndexNames.end(), p.name) != kIndexNames.end();
      if (is_named && p.list_size && is_whole(p.type)) indices = k;
    }
    if (indices == element.properties.size()) {
      refuse(name_ + ", header", fmt::format("the element {} without its corners", shown(element.name)),
             "a list of whole numbers called vertex_indices or vertex_index");
    }
    if (points_.empty() && element.count > 0) {
      refuse(name_ + ", header", fmt::format("the element {} before any vertex", shown(element.name)),
             "the element vertex first", "Export the mould again with vertices before faces");
    }
    for (std::uint64_t i = 0; i < element.count; ++i) {
      body_.begin(are_strips ? "strip" : "face", i);
      for (std::size_t k = 0; k < element.properties.size(); ++k) {
        if (k != indices) {
          body_.pass_over(element.properties[k]);
        } else if (are_strips) {
          read_strip(element.properties[k]);
        } else {
          read_face(element.properties[k], i);
        }
      }
    }
  }

  std::size_t point_of(long long number) const {
    if (number >= 0 && static_cast<std::uint64_t>(number) < points_.size()) return static_cast<std::size_t>(number);
    refuse(body_.here(), fmt::format("point {}", number),
           fmt::format("0 to {}: the points of the file", points_.size() - 1), "Export the mould again");
  }

  void make_room(std::uint64_t more) const {
    if (content_.facets.size() + more <= kMostFacets) return;
    refuse(body_.here(), fmt::format("more than {} facets", kMostFacets), fmt::format("up to {} facets", kMostFacets),
           "Export it coarser");
  }

  void read_face(const PlyProperty& list, std::uint64_t number) {
    const std::uint64_t length = body_.list_length(list);
    if (length < 3 || length > kMostCorners) {
      refuse(body_.here(), fmt::format("a face of {} corners", length), fmt::format("3 to {} corners", kMostCorners),
             length > kMostCorners ? "Export the mould as triangles" : "");
    }
    make_room(length - 2);
    corners_.clear();
    for (std::uint64_t k = 0; k < length; ++k) corners_.push_back(points_[point_of(body_.whole(list.type))]);
    cutter_.cut(corners_, static_cast<long long>(number) + 1, content_.facets);
  }

  /// Every three points in a row are a triangle, every other one turned round; -1 begins a new strip.
  void read_strip(const PlyProperty& list) {
    const std::uint64_t length = body_.list_length(list);
    std::array<std::size_t, 2> before{};
    std::uint64_t in_strip = 0;
    for (std::uint64_t k = 0; k < length; ++k) {
      const long long number = body_.whole(list.type);
      if (number == -1) {
        in_strip = 0;
        continue;
      }
      const std::size_t point = point_of(number);
      const bool is_new = before[0] != before[1] && before[1] != point && point != before[0];  // else a stitch
      if (in_strip >= 2 && is_new) {
        make_room(1);
        const bool is_turned = in_strip % 2 == 1;
        content_.facets.push_back(
            {points_[before[is_turned ? 1 : 0]], points_[before[is_turned ? 0 : 1]], points_[point]});
      }
      before = {before[1], point};
      ++in_strip;
    }
  }

  void pass_over(const PlyElement& element) {
    if (element.properties.empty()) return;
    const std::string called = shown(element.name);  // the file's own word, which may hold anything
    for (std::uint64_t i = 0; i < element.count; ++i) {
      body_.begin(called, i);
      for (const PlyProperty& p : element.properties) body_.pass_over(p);
    }
  }

  PlyHeader header_;
  Body body_;
  const std::string& name_;
  std::vector<Vec3> points_;
  std::vector<Vec3> corners_;  ///< of the face at hand
  PolygonCutter cutter_;
  FacetContent content_;
};

}  // namespace

FacetContent read_ply(std::string_view bytes, const std::string& name) {
  if (bytes.empty()) refuse(name, "an empty file", "a whole PLY file", kExportAgain);
  return PlyReader(bytes, name).read();
}

}  // namespace pellicle::moulds
