// What heights does a text in braille have? Characters to cells, cells to dots, dots to heights.
#include "io/reliefs/braille.h"

#include "io/reliefs/patch.h"
#include "io/reliefs/refusals.h"
#include "io/reliefs/utf8.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <numbers>

namespace pellicle::reliefs {
namespace {

using mesh::Vec2;

constexpr std::size_t kMostCharacters = 1000;  // more is a page, not a sign
constexpr double kLeastCellsAcross = 10.0;     // of the grid, across a dot: fewer and it is no dome

constexpr std::uint8_t dots(std::initializer_list<int> numbers) {
  unsigned pattern = 0;
  for (const int number : numbers) pattern |= 1U << (number - 1);
  return static_cast<std::uint8_t>(pattern);
}

// Louis Braille's decades: a to j; k to t are they with dot 3; u v x y z are a to e with dots 3 and 6; w came later.
constexpr std::array<std::uint8_t, 26> kLetters{
    dots({1}),          dots({1, 2}),          dots({1, 4}),       dots({1, 4, 5}),    dots({1, 5}),
    dots({1, 2, 4}),    dots({1, 2, 4, 5}),    dots({1, 2, 5}),    dots({2, 4}),       dots({2, 4, 5}),
    dots({1, 3}),       dots({1, 2, 3}),       dots({1, 3, 4}),    dots({1, 3, 4, 5}), dots({1, 3, 5}),
    dots({1, 2, 3, 4}), dots({1, 2, 3, 4, 5}), dots({1, 2, 3, 5}), dots({2, 3, 4}),    dots({2, 3, 4, 5}),
    dots({1, 3, 6}),    dots({1, 2, 3, 6}),    dots({2, 4, 5, 6}), dots({1, 3, 4, 6}), dots({1, 3, 4, 5, 6}),
    dots({1, 3, 5, 6})};
constexpr std::uint8_t kCapital = dots({6}), kNumber = dots({3, 4, 5, 6}), kLetterAgain = dots({5, 6});

bool is_capital(char32_t c) { return c >= U'A' && c <= U'Z'; }
bool is_small(char32_t c) { return c >= U'a' && c <= U'z'; }
bool is_letter(char32_t c) { return is_capital(c) || is_small(c); }
bool is_digit(char32_t c) { return c >= U'0' && c <= U'9'; }

std::uint8_t letter(char32_t c) { return kLetters[c - (is_capital(c) ? U'A' : U'a')]; }

/// Letters from `at` on: dot 6 twice before a word of capitals, once before each other capital.
std::size_t add_letters(const std::u32string& text, std::size_t at, bool after_digit, BrailleLine& line) {
  std::size_t end = at;
  while (end < text.size() && is_letter(text[end])) ++end;
  const bool all_capitals = end - at > 1 && std::all_of(text.begin() + static_cast<std::ptrdiff_t>(at),
                                                        text.begin() + static_cast<std::ptrdiff_t>(end), is_capital);
  if (all_capitals) line.insert(line.end(), {kCapital, kCapital});
  if (after_digit && is_small(text[at]) && text[at] <= U'j') line.push_back(kLetterAgain);
  for (; at < end; ++at) {
    if (is_capital(text[at]) && !all_capitals) line.push_back(kCapital);
    line.push_back(letter(text[at]));
  }
  return end;
}

std::size_t add_digits(const std::u32string& text, std::size_t at, BrailleLine& line) {
  line.push_back(kNumber);
  for (; at < text.size() && is_digit(text[at]); ++at) {
    line.push_back(kLetters[text[at] == U'0' ? 9 : text[at] - U'1']);
  }
  return at;
}

Vec2 dot_place_m(std::size_t line, std::size_t cell, int dot, const BrailleDimensions& d) {
  return {static_cast<double>(cell) * d.cell_spacing_m + (dot / 3) * d.dot_spacing_m,
          -static_cast<double>(line) * d.line_spacing_m - (dot % 3) * d.dot_spacing_m};
}

/// Calls what(line, cell, dot) for every dot, dot from 0.
template <typename What>
void each_dot(const std::vector<BrailleLine>& lines, const What& what) {
  for (std::size_t line = 0; line < lines.size(); ++line) {
    for (std::size_t cell = 0; cell < lines[line].size(); ++cell) {
      for (int dot = 0; dot < 6; ++dot) {
        if ((lines[line][cell] >> dot & 1U) != 0) what(line, cell, dot);
      }
    }
  }
}

struct Cap {
  double height_m, radius_m, reach_m;  ///< of the sphere; of what is seen from above

  explicit Cap(const BrailleDimensions& d) : height_m(d.dot_height_m) {
    radius_m = (0.25 * d.dot_base_m * d.dot_base_m + height_m * height_m) / (2.0 * height_m);
    reach_m = height_m > radius_m ? radius_m : 0.5 * d.dot_base_m;
  }
  double height_at_m(double off_sq) const {
    if (off_sq >= reach_m * reach_m) return 0.0;
    return std::max(0.0, height_m - radius_m + std::sqrt(radius_m * radius_m - off_sq));
  }
};

void add_dot(mesh::HeightMap& map, const Vec2& middle_m, const Cap& cap) {
  const double s = map.spacing_m;
  const auto first = [&](double x_m) { return std::max(0, static_cast<int>(std::floor((x_m - cap.reach_m) / s))); };
  const auto last = [&](double x_m, int n) {
    return std::min(n - 1, static_cast<int>(std::floor((x_m + cap.reach_m) / s)));
  };
  for (int j = first(middle_m.y()); j <= last(middle_m.y(), map.ny); ++j) {
    for (int i = first(middle_m.x()); i <= last(middle_m.x(), map.nx); ++i) {
      const Vec2 off = Vec2((i + 0.5) * s, (j + 0.5) * s) - middle_m;
      map.at(i, j) = std::max(map.at(i, j), cap.height_at_m(off.squaredNorm()));
    }
  }
}

void check_dot(const BrailleRequest& request, const std::string& where) {
  const BrailleDimensions& d = request.dimensions;
  if (d.dot_height_m > d.dot_base_m) {
    refuse_wish(where,
                fmt::format("dots {:.3g} mm high on a base of {:.3g} mm", 1e3 * d.dot_height_m, 1e3 * d.dot_base_m),
                fmt::format("a height up to {:.3g} mm", 1e3 * d.dot_base_m), "Signs have 0.6 mm to 0.9 mm");
  }
  if (d.dot_base_m < kLeastCellsAcross * request.grid_m) {
    refuse_wish(where,
                fmt::format("dots {:.3g} mm wide on a grid of {:.6g} mm", 1e3 * d.dot_base_m, 1e3 * request.grid_m),
                fmt::format("a grid of {:.3g} mm or less, a tenth of a dot", 1e3 * d.dot_base_m / kLeastCellsAcross));
  }
}

/// The braille cells that have dots, in reading order. `first_m` is where dot 1 of the first cell stands.
std::vector<Glyph> glyphs_of(const std::vector<BrailleLine>& lines, const BrailleRequest& request, const Cap& cap,
                             const Vec2& first_m, const mesh::HeightMap& map) {
  std::vector<Glyph> glyphs;
  const BrailleDimensions& d = request.dimensions;
  const auto cell = [&](double x_m, int n) {
    return std::clamp(static_cast<int>(std::floor(x_m / map.spacing_m)), 0, n);
  };
  for (std::size_t line = 0; line < lines.size(); ++line) {
    for (std::size_t k = 0; k < lines[line].size(); ++k) {
      const std::uint8_t pattern = lines[line][k];
      if (pattern == 0) continue;
      const Vec2 high_left_m = first_m + dot_place_m(line, k, 0, d), low_right_m = first_m + dot_place_m(line, k, 5, d);
      Glyph glyph;
      glyph.character = utf8_of(0x2800U + pattern);
      glyph.line = static_cast<int>(line);
      glyph.first_i = cell(high_left_m.x() - cap.reach_m, map.nx);
      glyph.end_i = cell(low_right_m.x() + cap.reach_m + map.spacing_m, map.nx);
      glyph.first_j = cell(low_right_m.y() - cap.reach_m, map.ny);
      glyph.end_j = cell(high_left_m.y() + cap.reach_m + map.spacing_m, map.ny);
      glyph.area_m2 = std::popcount(pattern) * std::numbers::pi * cap.reach_m * cap.reach_m;
      glyph.narrowest_stroke_m = glyph.typical_stroke_m = glyph.widest_stroke_m = 2.0 * cap.reach_m;
      glyphs.push_back(std::move(glyph));
    }
  }
  return glyphs;
}

}  // namespace

std::vector<BrailleLine> braille_lines(const std::string& text, const std::string& where) {
  const std::u32string characters = characters_of(text, where);
  if (characters.size() > kMostCharacters) {
    refuse_wish(where, fmt::format("{} characters", characters.size()), fmt::format("up to {}", kMostCharacters));
  }
  std::vector<BrailleLine> lines(1);
  for (std::size_t at = 0; at < characters.size();) {
    const char32_t c = characters[at];
    if (is_letter(c)) {
      const bool after_digit = at > 0 && is_digit(characters[at - 1]);
      at = add_letters(characters, at, after_digit, lines.back());
      continue;
    }
    if (is_digit(c)) {
      at = add_digits(characters, at, lines.back());
      continue;
    }
    if (c == U'\n') {
      lines.emplace_back();
    } else if (c == U' ') {
      lines.back().push_back(0);
    } else if (c >= 0x2800 && c < 0x2840) {
      lines.back().push_back(static_cast<std::uint8_t>(c - 0x2800));
    } else {
      refuse_wish(where, fmt::format("{} at {}", named(c), place_of(characters, at)),
                  "letters a to z and A to Z, digits, blanks, and the patterns U+2800 to U+283F",
                  c >= 0x2840 && c <= 0x28FF ? "Patterns of eight dots are not available"
                                             : "Write other signs as their patterns, for your language and its rules");
    }
    ++at;
  }
  while (lines.size() > 1 && lines.back().empty()) lines.pop_back();  // a text of several lines may end with a break
  return lines;
}

std::vector<Vec2> braille_dots_m(const std::vector<BrailleLine>& lines, const BrailleDimensions& dimensions) {
  std::vector<Vec2> out;
  each_dot(lines, [&](std::size_t line, std::size_t cell, int dot) {
    out.push_back(dot_place_m(line, cell, dot, dimensions));
  });
  return out;
}

Lettering make_braille(const BrailleRequest& request, const std::string& where) {
  check_dot(request, where);
  const std::vector<BrailleLine> lines = braille_lines(request.text, where);
  const std::vector<Vec2> places_m = braille_dots_m(lines, request.dimensions);
  if (places_m.empty()) refuse_wish(where, "no dots", "at least one");
  const Cap cap(request.dimensions);
  std::size_t most = 0;
  for (const BrailleLine& line : lines) most = std::max(most, line.size());
  const Vec2 last_m = dot_place_m(lines.size() - 1, most - 1, 5, request.dimensions);
  const Vec2 content_m = Vec2(last_m.x(), -last_m.y()) + Vec2::Constant(2.0 * cap.reach_m);
  const Vec2 patch_m = request.patch_m.value_or(content_m + Vec2::Constant(request.dimensions.cell_spacing_m));
  check_fits(content_m, patch_m, where, "braille");
  const Cells cells = cells_of(patch_m, request.grid_m, request.periodic && request.patch_m, where);
  Lettering out{mesh::flat_map(cells.nx, cells.ny, request.grid_m, request.periodic), {}};
  // Dot 1 of the first cell: the dots in the middle of the patch, to the nearest middle of a cell of the grid.
  const Vec2 wanted_m = 0.5 * (request.grid_m * Vec2(cells.nx, cells.ny) - last_m);
  const Vec2 first_m = ((wanted_m / request.grid_m).array().floor() + 0.5) * request.grid_m;
  for (const Vec2& place_m : places_m) add_dot(out.map, first_m + place_m, cap);
  if (!request.raised) {
    for (double& z : out.map.height_m) z = z == 0.0 ? 0.0 : -z;
  }
  out.glyphs = glyphs_of(lines, request, cap, first_m, out.map);
  if (request.mirrored) mirror(out);
  return out;
}

}  // namespace pellicle::reliefs
