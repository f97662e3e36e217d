// What triangles does a Wavefront OBJ file hold? Read twice: all points first, because a face may come before them.
#include "io/moulds/obj.h"

#include "io/moulds/polygon.h"
#include "io/moulds/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <limits>

namespace pellicle::moulds {
namespace {

using mesh::Vec3;

// Words that change no shape of ours: texture, normals, grouping, looks.
constexpr std::array<std::string_view, 20> kPassedOver{
    "vt",    "vn",       "g",        "s",   "o",  "mg",         "usemtl",    "mtllib", "usemap", "maplib",
    "bevel", "c_interp", "d_interp", "lod", "vc", "shadow_obj", "trace_obj", "ctech",  "stech",  "vp"};
// Shapes that are no faces.
constexpr std::array<std::string_view, 20> kNoFace{"p",    "l",    "curv", "curv2", "surf", "cstype", "deg",
                                                   "bmat", "step", "parm", "trim",  "hole", "scrv",   "sp",
                                                   "end",  "con",  "bzp",  "bsp",   "cdc",  "res"};

constexpr int kMostNumbersOfPoint = 8;  // x y z, a weight, colours

template <std::size_t N>
bool is_one_of(std::string_view word, const std::array<std::string_view, N>& words) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

class ObjReader {
 public:
  ObjReader(std::string_view text, const std::string& name) : text_(text), name_(name) {}

  FacetContent read() {
    for_each_line([&](std::string_view word) {
      if (word == "v") read_point();
    });
    long long so_far = 0;  // points above the line, which negative numbers count from
    for_each_line([&](std::string_view word) {
      if (word == "v") {
        ++so_far;
      } else if (word == "f" || word == "fo") {  // fo is the old word for f
        read_face(so_far);
      } else if (is_one_of(word, kNoFace)) {
        if (passed_over_++ == 0) first_passed_over_ = words_.line();
      } else if (!is_one_of(word, kPassedOver)) {
        refuse(here(), shown(word), "a line that starts with v, f or another word of OBJ", "Is this an OBJ file?");
      }
    });
    if (content_.facets.empty()) refuse(name_, "no faces", "at least one face", "Is the mould empty in the drawing?");
    cutter_.add_notes("line", content_.notes);
    if (passed_over_ > 0) {
      content_.notes.push_back(
          fmt::format("{}: {} lines with points, lines or curves were left out, the first at line {}: only faces count",
                      name_, passed_over_, first_passed_over_));
    }
    content_.format = "Wavefront OBJ";
    return std::move(content_);
  }

 private:
  std::string here() const { return fmt::format("{}:{}", name_, words_.line()); }

  /// Calls `use` with the first word of every line that has one; the rest of the line is passed over.
  template <class Use>
  void for_each_line(const Use& use) {
    words_ = Words(text_);
    do {
      const std::string_view word = words_.next_on_line();
      if (word.empty() || word.front() == '#') continue;
      use(word);
      for (std::string_view rest = words_.next_on_line(); !rest.empty() && rest.front() != '#';) {
        rest = words_.next_on_line();
      }
    } while (words_.next_line());
  }

  /// The next word of the line; empty at its end or where a remark begins.
  std::string_view next() {
    const std::string_view word = words_.next_on_line();
    return !word.empty() && word.front() == '#' ? std::string_view{} : word;
  }

  void read_point() {
    if (points_.size() == kMostPoints) {
      refuse(here(), fmt::format("more than {} points", kMostPoints), fmt::format("up to {} points", kMostPoints),
             "Export it coarser");
    }
    Vec3 p = Vec3::Zero();
    int count = 0;
    for (std::string_view word = next(); !word.empty(); word = next()) {
      const std::optional<double> value = coordinate_in(word);
      if (!value) refuse(here(), shown(word), "a finite coordinate");
      if (count < 3) p[count] = *value;
      if (++count > kMostNumbersOfPoint) refuse(here(), "more than 8 numbers", "x y z, perhaps a weight or a colour");
    }
    if (count < 3) {
      refuse(here(), fmt::format("a point of {} coordinates", count), "x, y and z",
             words_.left() == 0 ? kExportAgain : "");
    }
    points_.push_back(p);
  }

  void read_face(long long so_far) {
    corners_.clear();
    for (std::string_view word = next(); !word.empty(); word = next()) {
      if (corners_.size() == kMostCorners) {
        refuse(here(), fmt::format("a face of more than {} corners", kMostCorners),
               fmt::format("3 to {} corners", kMostCorners), "Export the mould as triangles");
      }
      corners_.push_back(points_[point_of(word, so_far)]);
    }
    if (corners_.size() < 3) {
      refuse(here(), fmt::format("a face of {} corners", corners_.size()), fmt::format("3 to {} corners", kMostCorners),
             words_.left() == 0 ? kExportAgain : "");
    }
    if (content_.facets.size() + corners_.size() - 2 > kMostFacets) {
      refuse(here(), fmt::format("more than {} facets", kMostFacets), fmt::format("up to {} facets", kMostFacets),
             "Export it coarser");
    }
    cutter_.cut(corners_, words_.line(), content_.facets);
  }

  /// A corner is v, v/vt, v//vn or v/vt/vn. Only v is used; the others must be numbers all the same.
  std::size_t point_of(std::string_view word, long long so_far) const {
    std::array<std::string_view, 3> parts{};
    std::size_t count = 0, start = 0;
    for (; count < 3; ++count) {
      const std::size_t slash = std::min(word.find('/', start), word.size());
      parts[count] = word.substr(start, slash - start);
      start = slash + 1;
      if (slash == word.size()) break;
    }
    const std::optional<long long> number = whole_in(parts[0]);
    bool is_good = number && count < 3 && (count == 0 || !parts[count].empty());
    for (std::size_t k = 1; k < 3; ++k) is_good = is_good && (parts[k].empty() || whole_in(parts[k]));
    if (!is_good) refuse(here(), shown(word), "a corner as v, v/vt, v//vn or v/vt/vn");
    const auto known = static_cast<long long>(points_.size());
    if (*number > 0 && *number <= known) return static_cast<std::size_t>(*number - 1);
    if (*number < 0 && *number >= -so_far) return static_cast<std::size_t>(so_far + *number);
    refuse(here(), fmt::format("point {}", *number),
           *number < 0 ? fmt::format("-1 to -{}: the points above this line", so_far)
                       : fmt::format("1 to {}: the points of the file", known),
           "Export the mould again");
  }

  std::string_view text_;
  const std::string& name_;
  Words words_{{}};
  std::vector<Vec3> points_;
  std::vector<Vec3> corners_;  ///< of the face at hand
  PolygonCutter cutter_;
  FacetContent content_;
  long passed_over_ = 0;
  int first_passed_over_ = 0;
};

}  // namespace

FacetContent read_obj(std::string_view text, const std::string& name) {
  if (text.empty()) refuse(name, "an empty file", "a whole OBJ file", kExportAgain);
  return ObjReader(text, name).read();
}

}  // namespace pellicle::moulds
