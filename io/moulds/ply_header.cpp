// What does the header of a PLY file promise?
#include "io/moulds/ply_header.h"

#include "io/moulds/facet.h"
#include "io/moulds/words.h"

#include <fmt/format.h>

#include <array>

namespace pellicle::moulds {
namespace {

struct NamedType {
  std::string_view name;
  PlyType type;
};
constexpr std::array<NamedType, 16> kTypes{{{"char", PlyType::kInt8},
                                            {"int8", PlyType::kInt8},
                                            {"uchar", PlyType::kUint8},
                                            {"uint8", PlyType::kUint8},
                                            {"short", PlyType::kInt16},
                                            {"int16", PlyType::kInt16},
                                            {"ushort", PlyType::kUint16},
                                            {"uint16", PlyType::kUint16},
                                            {"int", PlyType::kInt32},
                                            {"int32", PlyType::kInt32},
                                            {"uint", PlyType::kUint32},
                                            {"uint32", PlyType::kUint32},
                                            {"float", PlyType::kFloat32},
                                            {"float32", PlyType::kFloat32},
                                            {"double", PlyType::kFloat64},
                                            {"float64", PlyType::kFloat64}}};

constexpr std::size_t kMostElements = 100, kMostProperties = 1000;  // a header of a megabyte is no header

class HeaderReader {
 public:
  HeaderReader(std::string_view bytes, const std::string& name) : bytes_(bytes), words_(bytes), name_(name) {}

  PlyHeader read() {
    if (words_.next_on_line() != "ply") refuse(name_ + ":1", shown(first_bytes()), "\"ply\"", "Is this a PLY file?");
    read_format();
    while (next_line()) {
      const std::string_view word = words_.next_on_line();
      if (word == "end_header") {
        find_body();
        return std::move(header_);
      }
      if (word.empty() || word == "comment" || word == "obj_info") continue;
      if (word == "element") {
        read_element();
      } else if (word == "property") {
        read_property();
      } else {
        refuse(here(), shown(word), "element, property, comment or end_header", "Is this a PLY file?");
      }
    }
    refuse(here(), "the end of the file", "\"end_header\"", kExportAgain);
  }

 private:
  std::string here() const { return fmt::format("{}:{}", name_, words_.line()); }
  std::string_view first_bytes() const { return bytes_.substr(0, bytes_.find_first_of(" \t\r\n")).substr(0, 20); }
  bool next_line() { return words_.next_line(); }

  void read_format() {
    std::string_view word;
    do {
      if (!next_line()) refuse(here(), "the end of the file", "the line that starts with format", kExportAgain);
      word = words_.next_on_line();
    } while (word.empty() || word == "comment" || word == "obj_info");
    const std::string_view kind = word == "format" ? words_.next_on_line() : std::string_view{};
    if (kind == "ascii") {
      header_.encoding = PlyEncoding::kText;
    } else if (kind == "binary_little_endian") {
      header_.encoding = PlyEncoding::kLittle;
    } else if (kind == "binary_big_endian") {
      header_.encoding = PlyEncoding::kBig;
    } else {
      refuse(here(), shown(kind.empty() ? word : kind, "the end of the line"),
             "format ascii, binary_little_endian or binary_big_endian");
    }
    const std::string_view version = words_.next_on_line();
    if (version != "1.0") refuse(here(), shown(version, "no version"), "version 1.0");
  }

  void read_element() {
    PlyElement element;
    element.name = words_.next_on_line();
    const std::string_view word = words_.next_on_line();
    const std::optional<long long> count = whole_in(word);
    if (element.name.empty() || !count || *count < 0) {
      refuse(here(), shown(word, "the end of the line"), "element, a name and a count of 0 or more");
    }
    element.count = static_cast<std::uint64_t>(*count);
    for (const PlyElement& other : header_.elements) {
      if (other.name == element.name) refuse(here(), "the element " + shown(element.name) + " again", "it once");
    }
    if (header_.elements.size() == kMostElements) {
      refuse(here(), fmt::format("more than {} elements", kMostElements), "fewer");
    }
    header_.elements.push_back(std::move(element));
  }

  PlyType read_type() {
    const std::string_view word = words_.next_on_line();
    for (const NamedType& known : kTypes) {
      if (known.name == word) return known.type;
    }
    refuse(here(), shown(word, "the end of the line"), "a type such as float, int32 or uchar");
  }

  void read_property() {
    if (header_.elements.empty()) refuse(here(), "a property without an element", "an element before it");
    std::vector<PlyProperty>& properties = header_.elements.back().properties;
    Words ahead = words_;
    PlyProperty property{};
    if (ahead.next_on_line() == "list") {
      words_ = ahead;
      property.list_size = read_type();
      if (!is_whole(*property.list_size)) refuse(here(), "a list counted in floats", "a whole type such as uchar");
    }
    property.type = read_type();
    property.name = words_.next_on_line();
    if (property.name.empty()) refuse(here(), "a property without a name", "a name");
    for (const PlyProperty& other : properties) {
      if (other.name == property.name) refuse(here(), "the property " + shown(property.name) + " again", "it once");
    }
    if (properties.size() == kMostProperties) {
      refuse(here(), fmt::format("more than {} properties", kMostProperties), "fewer");
    }
    properties.push_back(std::move(property));
  }

  /// The body begins behind the line end of end_header. A lone CR ends lines only where the first line ends so: else a
  /// first byte of 10 behind it would be data.
  void find_body() {
    const std::size_t at = bytes_.size() - words_.left();
    const std::size_t first_end = bytes_.find_first_of("\r\n");
    const bool lone = bytes_[first_end] == '\r' && first_end + 1 < bytes_.size() && bytes_[first_end + 1] != '\n';
    const std::size_t line_end = std::min(bytes_.find(lone ? '\r' : '\n', at), bytes_.size());
    header_.end_byte = std::min(line_end + 1, bytes_.size());
    header_.lines = words_.line();
  }

  std::string_view bytes_;
  Words words_;
  const std::string& name_;
  PlyHeader header_;
};

}  // namespace

std::size_t size_bytes(PlyType type) {
  switch (type) {
    case PlyType::kInt8:
    case PlyType::kUint8:
      return 1;
    case PlyType::kInt16:
    case PlyType::kUint16:
      return 2;
    case PlyType::kFloat64:
      return 8;
    default:
      return 4;
  }
}

bool is_whole(PlyType type) { return type != PlyType::kFloat32 && type != PlyType::kFloat64; }

PlyHeader read_ply_header(std::string_view bytes, const std::string& name) { return HeaderReader(bytes, name).read(); }

}  // namespace pellicle::moulds
