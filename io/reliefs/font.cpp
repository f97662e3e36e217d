// What do the characters of a font look like? The only file that includes FreeType.
#include "io/reliefs/font.h"

#include "io/reliefs/bytes.h"
#include "io/reliefs/refusals.h"
#include "io/reliefs/utf8.h"

#include <fmt/format.h>
#include <ft2build.h>
#include FT_FREETYPE_H
#include FT_OUTLINE_H

#include <algorithm>
#include <array>
#include <cmath>
#include <system_error>

namespace pellicle::reliefs {
namespace {

namespace fs = std::filesystem;
using mesh::Vec2;

constexpr std::uintmax_t kLargestFont_bytes = 64'000'000U;  // the largest with all of one script have 20 MB
constexpr double kLongestChord = 1.0 / 200.0;               // of the capitals
constexpr std::size_t kMostPoints = 200'000;                // of one character: a damaged font may ask for any number
constexpr double kChordError = 1e-4;                        // of the capitals
constexpr const char* kAllowed = "a font file with outlines, such as .ttf or .otf";

/// What the library's callbacks fill. They say no by their result, never by an exception through C.
struct Drawing {
  std::vector<Contour> contours;
  Vec2 now = Vec2::Zero();
  double size = 1.0;  ///< height of the capitals; lengths of chords are shares of it
  std::size_t points = 0;

  bool has_room(int more) { return (points += static_cast<std::size_t>(more)) <= kMostPoints; }
};

Vec2 vec(const FT_Vector* p) { return {static_cast<double>(p->x), static_cast<double>(p->y)}; }

/// Chords of a curve with second derivative at most `bend` and a control polygon of `length`: off by bend t^2/8.
int chords(const Drawing& drawing, double bend, double length) {
  const double by_error = std::sqrt(bend / (8.0 * kChordError * drawing.size));
  const double by_length = length / (kLongestChord * drawing.size);
  return static_cast<int>(std::ceil(std::clamp(std::max(by_error, by_length), 2.0, 2000.0)));
}

int start_contour(const FT_Vector* to, void* user) {
  auto& drawing = *static_cast<Drawing*>(user);
  if (!drawing.has_room(1)) return 1;
  drawing.now = vec(to);
  drawing.contours.push_back({drawing.now});
  return 0;
}

int add_line(const FT_Vector* to, void* user) {
  auto& drawing = *static_cast<Drawing*>(user);
  if (!drawing.has_room(1)) return 1;
  drawing.now = vec(to);
  drawing.contours.back().push_back(drawing.now);
  return 0;
}

int add_conic(const FT_Vector* control, const FT_Vector* to, void* user) {
  auto& drawing = *static_cast<Drawing*>(user);
  const Vec2 a = drawing.now, b = vec(control), c = vec(to);
  const int count = chords(drawing, 2.0 * (a - 2.0 * b + c).norm(), (b - a).norm() + (c - b).norm());
  if (!drawing.has_room(count)) return 1;
  for (int k = 1; k <= count; ++k) {
    const double t = static_cast<double>(k) / count, u = 1.0 - t;
    drawing.contours.back().push_back(u * u * a + 2.0 * u * t * b + t * t * c);
  }
  drawing.now = c;
  return 0;
}

int add_cubic(const FT_Vector* out, const FT_Vector* in, const FT_Vector* to, void* user) {
  auto& drawing = *static_cast<Drawing*>(user);
  const Vec2 a = drawing.now, b = vec(out), c = vec(in), d = vec(to);
  const double bend = 6.0 * std::max((a - 2.0 * b + c).norm(), (b - 2.0 * c + d).norm());
  const int count = chords(drawing, bend, (b - a).norm() + (c - b).norm() + (d - c).norm());
  if (!drawing.has_room(count)) return 1;
  for (int k = 1; k <= count; ++k) {
    const double t = static_cast<double>(k) / count, u = 1.0 - t;
    drawing.contours.back().push_back(u * u * u * a + 3.0 * u * u * t * b + 3.0 * u * t * t * c + t * t * t * d);
  }
  drawing.now = d;
  return 0;
}

double signed_area(const Contour& contour) {
  double twice = 0.0;
  for (std::size_t k = 0; k < contour.size(); ++k) {
    const Vec2 &p = contour[k], &q = contour[(k + 1) % contour.size()];
    twice += p.x() * q.y() - p.y() * q.x();
  }
  return 0.5 * twice;
}

/// No point twice in a row, no contour without an area, outer ones counter-clockwise: fonts run either way round.
void tidy(std::vector<Contour>& contours) {
  double total = 0.0;
  for (Contour& contour : contours) {
    contour.erase(std::unique(contour.begin(), contour.end()), contour.end());
    while (contour.size() > 1 && contour.front() == contour.back()) contour.pop_back();
    total += signed_area(contour);
  }
  std::erase_if(contours, [](const Contour& c) { return c.size() < 3; });
  if (total >= 0.0) return;
  for (Contour& contour : contours) std::reverse(contour.begin(), contour.end());
}

}  // namespace

struct Font::Library {
  FT_Library library = nullptr;
  FT_Face face = nullptr;
  ~Library() {
    if (face != nullptr) FT_Done_Face(face);
    if (library != nullptr) FT_Done_FreeType(library);
  }
};

fs::path default_font() {
  constexpr std::array kPlaces{"/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf",
                               "/usr/share/fonts/dejavu-sans-fonts/DejaVuSans.ttf",
                               "/usr/share/fonts/dejavu/DejaVuSans.ttf", "/usr/share/fonts/TTF/DejaVuSans.ttf"};
  std::error_code ignored;
  for (const char* place : kPlaces) {
    if (fs::is_regular_file(place, ignored)) return place;
  }
  return {};
}

Font::Font(const fs::path& file)
    : bytes_(read_bytes(file, kLargestFont_bytes)), file_(file.string()), library_(std::make_unique<Library>()) {
  if (bytes_.empty()) refuse_shape(file_, "an empty file", kAllowed);
  ensure(FT_Init_FreeType(&library_->library) == 0, "the font library starts");
  const FT_Error problem = FT_New_Memory_Face(library_->library, reinterpret_cast<const FT_Byte*>(bytes_.data()),
                                              static_cast<FT_Long>(bytes_.size()), 0, &library_->face);
  if (problem != 0) refuse_shape(file_, "a file that is no font", kAllowed, "Is it packed, or cut short?");
  const FT_Face face = library_->face;
  name_ = fmt::format("{} {}", face->family_name != nullptr ? face->family_name : file.stem().string(),
                      face->style_name != nullptr ? face->style_name : "");
  if (!FT_IS_SCALABLE(face) || face->units_per_EM == 0) {
    refuse_shape(file_, "a font of pixels without outlines", kAllowed);
  }
  if (FT_Select_Charmap(face, FT_ENCODING_UNICODE) != 0) {
    refuse_shape(file_, "a font that does not say which character is which", "a font with a Unicode table");
  }
  if (!has(U'H')) refuse_shape(file_, "a font without a capital H", "a font with one: letters are measured by it");
  cap_height_ = face->units_per_EM;  // lengths of chords, until the H is known
  double top = 0.0;
  for (const Contour& contour : shape(U'H').contours) {
    for (const Vec2& p : contour) top = std::max(top, p.y());
  }
  shapes_.clear();
  if (!(top > 0.0)) refuse_shape(file_, "a capital H without height", "a font with one: letters are measured by it");
  cap_height_ = top;
}

Font::~Font() = default;

bool Font::has(char32_t character) const { return FT_Get_Char_Index(library_->face, character) != 0; }

double Font::line_step() const {
  const FT_Face face = library_->face;
  return face->height > 0 ? face->height : face->units_per_EM;
}

double Font::kerning(char32_t left, char32_t right) const {
  FT_Vector shift{};
  const FT_Error problem = FT_Get_Kerning(library_->face, FT_Get_Char_Index(library_->face, left),
                                          FT_Get_Char_Index(library_->face, right), FT_KERNING_UNSCALED, &shift);
  return problem == 0 ? static_cast<double>(shift.x) : 0.0;
}

const GlyphShape& Font::shape(char32_t character) {
  const auto known = shapes_.find(character);
  if (known != shapes_.end()) return known->second;
  const FT_Face face = library_->face;
  const FT_Error problem = FT_Load_Glyph(face, FT_Get_Char_Index(face, character),
                                         FT_LOAD_NO_SCALE | FT_LOAD_NO_BITMAP | FT_LOAD_IGNORE_TRANSFORM);
  if (problem != 0 || face->glyph->format != FT_GLYPH_FORMAT_OUTLINE) {
    refuse_shape(file_, fmt::format("no outline for {}", named(character)), kAllowed, "The file may be damaged");
  }
  Drawing drawing;
  drawing.size = cap_height_;
  FT_Outline_Funcs callbacks{};
  callbacks.move_to = start_contour;
  callbacks.line_to = add_line;
  callbacks.conic_to = add_conic;
  callbacks.cubic_to = add_cubic;
  if (FT_Outline_Decompose(&face->glyph->outline, &callbacks, &drawing) != 0) {
    refuse_shape(file_, fmt::format("a broken or far too long outline for {}", named(character)), kAllowed,
                 "The file may be damaged");
  }
  tidy(drawing.contours);
  return shapes_
      .emplace(character, GlyphShape{std::move(drawing.contours), static_cast<double>(face->glyph->advance.x)})
      .first->second;
}

}  // namespace pellicle::reliefs
