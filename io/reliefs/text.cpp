// What heights does a line of text have? Sets the characters, covers cells with them.
#include "io/reliefs/text.h"

#include "io/reliefs/coverage.h"
#include "io/reliefs/patch.h"
#include "io/reliefs/refusals.h"
#include "io/reliefs/strokes.h"
#include "io/reliefs/utf8.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>

namespace pellicle::reliefs {
namespace {

using mesh::Vec2;

constexpr std::size_t kMostCharacters = 1000;  // more is a page, not a mould
constexpr double kLeastCellsAcross = 4.0;      // of a stroke: fewer and its walls are wider than its top
constexpr double kMargin = 0.5;                // of the capitals: room for the sheet to come down beside the letters

struct Box {
  Vec2 low = Vec2::Constant(std::numeric_limits<double>::infinity()), high = -low;
  void take(const Vec2& p) { low = low.cwiseMin(p), high = high.cwiseMax(p); }
};

/// A character with ink and where its origin stands [m].
struct Placed {
  char32_t character;
  int line;
  Vec2 origin_m;
};

/// Characters that change with their neighbours, or stand on them: setting them one by one would spell something else.
bool needs_shaping(char32_t c) {
  struct Range {
    char32_t first, last;
  };
  constexpr std::array kRanges{Range{0x0300, 0x036F},  // combining marks
                               Range{0x0590, 0x109F},  // Hebrew, Arabic, scripts of India and South-East Asia
                               Range{0x1780, 0x18AF}, Range{0x200B, 0x200F}, Range{0x202A, 0x202E},
                               Range{0xFB1D, 0xFDFF}, Range{0xFE00, 0xFE0F}, Range{0xFE70, 0xFEFE}};
  return std::any_of(kRanges.begin(), kRanges.end(), [&](const Range& r) { return c >= r.first && c <= r.last; });
}

void check_characters(const std::u32string& text, const Font& font, const std::string& where) {
  if (text.size() > kMostCharacters) {
    refuse_wish(where, fmt::format("{} characters", text.size()), fmt::format("up to {}", kMostCharacters));
  }
  for (std::size_t k = 0; k < text.size(); ++k) {
    if (text[k] == U'\n') continue;
    if (needs_shaping(text[k])) {
      refuse_wish(where, fmt::format("{} at {}", named(text[k]), place_of(text, k)),
                  "characters that are set one by one from left to right",
                  "Marks above a letter: write the letter that has them. Other scripts: draw the text as an image");
    }
    if (text[k] < 0x20 || !font.has(text[k])) {
      refuse_wish(where, fmt::format("{} at {}, which {} has not", named(text[k]), place_of(text, k), font.name()),
                  "characters of the font", "Give another font file with font = \"...\"");
    }
  }
}

/// Every character with ink; the first base line at y = 0, lines centred about x = 0.
std::vector<Placed> set_lines(const std::u32string& text, const TextRequest& request, Font& font, double scale) {
  std::vector<Placed> placed;
  std::size_t line_start = 0;
  int line = 0;
  double pen_m = 0.0;
  const auto close_line = [&] {
    for (std::size_t k = line_start; k < placed.size(); ++k) placed[k].origin_m.x() -= 0.5 * pen_m;
    line_start = placed.size();
    pen_m = 0.0;
    ++line;
  };
  for (std::size_t k = 0; k < text.size(); ++k) {
    if (text[k] == U'\n') {
      close_line();
      continue;
    }
    const GlyphShape& shape = font.shape(text[k]);
    if (!shape.contours.empty()) placed.push_back({text[k], line, {pen_m, -line * scale * font.line_step()}});
    pen_m += scale * shape.advance;
    if (k + 1 < text.size() && text[k + 1] != U'\n') {
      pen_m += scale * font.kerning(text[k], text[k + 1]) + request.letter_spacing_m;
    }
  }
  close_line();
  return placed;
}

Box box_of(const Placed& placed, Font& font, double scale) {
  Box box;
  for (const Contour& contour : font.shape(placed.character).contours) {
    for (const Vec2& p : contour) box.take(placed.origin_m + scale * p);
  }
  return box;
}

/// Adds one character to the coverage of the map and says which cells it takes. `corner_m` is the patch's lower left.
Glyph cover(mesh::HeightMap& map, const Placed& placed, Font& font, double scale, const Vec2& corner_m) {
  const Box box = box_of(placed, font, scale);
  const auto first = [&](double from_corner_m) { return static_cast<int>(std::floor(from_corner_m / map.spacing_m)); };
  Glyph glyph;
  glyph.character = utf8_of(placed.character);
  glyph.line = placed.line;
  glyph.first_i = std::max(0, first(box.low.x() - corner_m.x()));
  glyph.first_j = std::max(0, first(box.low.y() - corner_m.y()));
  glyph.end_i = std::min(map.nx, first(box.high.x() - corner_m.x()) + 1);
  glyph.end_j = std::min(map.ny, first(box.high.y() - corner_m.y()) + 1);
  const int nx = glyph.end_i - glyph.first_i, ny = glyph.end_j - glyph.first_j;
  const Vec2 window(glyph.first_i, glyph.first_j), most(nx, ny);
  const auto in_window = [&](const Vec2& p) -> Vec2 {
    const Vec2 cells = (placed.origin_m + scale * p - corner_m) / map.spacing_m - window;
    return cells.cwiseMax(0.0).cwiseMin(most);  // a patch no larger than the ink: rounding only
  };
  Coverage coverage(nx, ny);
  for (const Contour& contour : font.shape(placed.character).contours) {
    for (std::size_t k = 0; k < contour.size(); ++k) {
      coverage.add_edge(in_window(contour[k]), in_window(contour[(k + 1) % contour.size()]));
    }
  }
  const std::vector<double> shares = coverage.shares();
  std::size_t at = 0;
  for (int j = glyph.first_j; j < glyph.end_j; ++j) {
    for (int i = glyph.first_i; i < glyph.end_i; ++i) {
      glyph.area_m2 += shares[at] * map.spacing_m * map.spacing_m;
      map.at(i, j) = std::min(1.0, map.at(i, j) + shares[at++]);
    }
  }
  return glyph;
}

void measure(Glyph& glyph, const StrokeWidths& widths, double scale, double grid_m, const std::string& where) {
  glyph.narrowest_stroke_m = scale * widths.narrowest;
  glyph.typical_stroke_m = scale * widths.typical;
  glyph.widest_stroke_m = scale * widths.widest;
  if (glyph.typical_stroke_m >= kLeastCellsAcross * grid_m) return;
  refuse_wish(where,
              fmt::format("strokes of {:.3g} mm in '{}' on a grid of {:.6g} mm", 1e3 * glyph.typical_stroke_m,
                          glyph.character, 1e3 * grid_m),
              fmt::format("a grid of {:.3g} mm or less, a quarter of the stroke",
                          1e3 * glyph.typical_stroke_m / kLeastCellsAcross),
              "Take a finer grid or a larger text");
}

}  // namespace

Lettering make_text(const TextRequest& request, Font& font, const std::string& where) {
  const std::u32string text = characters_of(request.text, where);
  check_characters(text, font, where);
  const double scale = request.cap_height_m / font.cap_height();
  const std::vector<Placed> placed = set_lines(text, request, font, scale);
  if (placed.empty()) refuse_wish(where, "no character with ink", "at least one");
  Box ink;
  for (const Placed& p : placed) {
    const Box box = box_of(p, font, scale);
    ink.take(box.low), ink.take(box.high);
  }
  const Vec2 ink_m = ink.high - ink.low;
  const Vec2 patch_m = request.patch_m.value_or(ink_m + Vec2::Constant(2.0 * kMargin * request.cap_height_m));
  check_fits(ink_m, patch_m, where, "text");
  const Cells cells = cells_of(patch_m, request.grid_m, request.periodic && request.patch_m, where);
  Lettering out{mesh::flat_map(cells.nx, cells.ny, request.grid_m, request.periodic), {}};
  const Vec2 corner_m = 0.5 * (ink.low + ink.high) - 0.5 * request.grid_m * Vec2(cells.nx, cells.ny);
  std::map<char32_t, StrokeWidths> measured;
  for (const Placed& p : placed) {
    Glyph glyph = cover(out.map, p, font, scale, corner_m);
    auto known = measured.find(p.character);
    if (known == measured.end()) {
      known = measured.emplace(p.character, stroke_widths(font.shape(p.character), font.cap_height(), where)).first;
    }
    measure(glyph, known->second, scale, request.grid_m, where);
    out.glyphs.push_back(std::move(glyph));
  }
  for (double& z : out.map.height_m) z *= request.raised ? request.depth_m : -request.depth_m;
  if (request.draft_rad > 0.0) out.map = mesh::with_draft(out.map, request.draft_rad);
  if (request.mirrored) mirror(out);
  return out;
}

}  // namespace pellicle::reliefs
