// Braille: letters against Unicode's chart, dots where the published distances put them, caps of the published height.
#include "io/reliefs/braille.h"

#include "io/reliefs/utf8.h"
#include "mesh/check.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>

namespace pellicle::reliefs {
namespace {

using mesh::Vec2;

/// The cells of a text as Unicode shows them.
std::string shown(const std::string& text) {
  std::string out;
  for (const BrailleLine& line : braille_lines(text, "x")) {
    if (!out.empty()) out += '\n';
    for (const std::uint8_t pattern : line) out += utf8_of(0x2800U + pattern);
  }
  return out;
}

TEST(Braille, TheAlphabetIsThePublishedOne) {
  // Louis Braille's alphabet as the Unicode charts and encyclopaedias print it.
  EXPECT_EQ(shown("abcdefghijklmnopqrstuvwxyz"), "⠁⠃⠉⠙⠑⠋⠛⠓⠊⠚⠅⠇⠍⠝⠕⠏⠟⠗⠎⠞⠥⠧⠺⠭⠽⠵");
  EXPECT_EQ(shown("1234567890"), "⠼⠁⠃⠉⠙⠑⠋⠛⠓⠊⠚");
}

TEST(Braille, WordsCapitalsAndNumbers) {
  EXPECT_EQ(shown("basil"), "⠃⠁⠎⠊⠇");
  EXPECT_EQ(shown("Basil"), "⠠⠃⠁⠎⠊⠇");
  EXPECT_EQ(shown("BASIL"), "⠠⠠⠃⠁⠎⠊⠇");
  EXPECT_EQ(shown("A"), "⠠⠁");
  EXPECT_EQ(shown("PhD"), "⠠⠏⠓⠠⠙");
  EXPECT_EQ(shown("room 12\nexit"), "⠗⠕⠕⠍⠀⠼⠁⠃\n⠑⠭⠊⠞");
  EXPECT_EQ(shown("a\n\nb\n\n"), "⠁\n\n⠃") << "breaks at the end are no lines";
  EXPECT_EQ(shown("12b"), "⠼⠁⠃⠰⠃") << "a letter that would read as a digit";
  EXPECT_EQ(shown("12k"), "⠼⠁⠃⠅");
  EXPECT_EQ(shown("12B"), "⠼⠁⠃⠠⠃");
  EXPECT_EQ(shown("⠿a⠀⠼"), "⠿⠁⠀⠼") << "patterns stand for themselves";
}

struct Spoilt {
  const char* text;
  const char* found;
};

TEST(Braille, OtherCharactersAreRefusedWithTheirPlace) {
  const Spoilt spoilt[]{{"a,b", "U+002C ',' at line 1, character 2"},
                        {"a\nbé", "U+00E9 'é' at line 2, character 2"},
                        {"⡀", "U+2840 '⡀'"},
                        {"a\tb", "U+0009 at line 1"},
                        {"a\xFF", "byte 2 (0xFF)"}};
  int refused = 0;
  for (const Spoilt& s : spoilt) {
    try {
      braille_lines(s.text, "relief 'door'");
      ADD_FAILURE() << "was taken: " << s.text;
    } catch (const Error& error) {
      EXPECT_EQ(error.exit_code(), 2);
      EXPECT_EQ(error.fault().where, "relief 'door'");
      EXPECT_NE(error.fault().found.find(s.found), std::string::npos) << error.what();
      ++refused;
    }
  }
  EXPECT_EQ(refused, 5);
}

TEST(Braille, DotsStandWhereThePublishedDistancesPutThem) {
  const BrailleDimensions d;
  // 2010 ADA Standards, Table 703.3.1.
  EXPECT_TRUE(d.dot_base_m >= 1.5e-3 && d.dot_base_m <= 1.6e-3);
  EXPECT_TRUE(d.dot_height_m >= 0.6e-3 && d.dot_height_m <= 0.9e-3);
  EXPECT_TRUE(d.dot_spacing_m >= 2.3e-3 && d.dot_spacing_m <= 2.5e-3);
  EXPECT_TRUE(d.cell_spacing_m >= 6.1e-3 && d.cell_spacing_m <= 7.6e-3);
  EXPECT_TRUE(d.line_spacing_m >= 10.0e-3 && d.line_spacing_m <= 10.2e-3);
  // "r" is dots 1235, "x" below is 1346: by hand in mm.
  const std::vector<Vec2> places_m = braille_dots_m(braille_lines("ar\nx", "x"), d);
  const std::vector<Vec2> expected_mm{{0, 0},     {6.2, 0},    {6.2, -2.34},  {6.2, -4.68},  {8.54, -2.34},
                                      {0, -10.0}, {0, -14.68}, {2.34, -10.0}, {2.34, -14.68}};
  ASSERT_EQ(places_m.size(), expected_mm.size());
  for (std::size_t k = 0; k < places_m.size(); ++k) {
    EXPECT_LT((1e3 * places_m[k] - expected_mm[k]).norm(), 1e-12) << k;  // rounding
  }
}

BrailleRequest request(const std::string& text) {
  BrailleRequest r;
  r.text = text;
  r.grid_m = 0.02e-3;  // divides all distances
  return r;
}

/// Cells higher than all around them.
std::vector<Vec2> peaks_m(const mesh::HeightMap& map) {
  std::vector<Vec2> out;
  for (int j = 1; j + 1 < map.ny; ++j) {
    for (int i = 1; i + 1 < map.nx; ++i) {
      const double z = map.at(i, j);
      if (z > 0.0 && z > map.at(i - 1, j) && z > map.at(i + 1, j) && z > map.at(i, j - 1) && z > map.at(i, j + 1)) {
        out.emplace_back((i + 0.5) * map.spacing_m, (j + 0.5) * map.spacing_m);
      }
    }
  }
  return out;
}

TEST(Braille, EveryDotIsACapOfTheHeightAskedFor) {
  const BrailleRequest r = request("Ex\n7");
  const Lettering out = make_braille(r, "x");
  std::vector<Vec2> places_m = braille_dots_m(braille_lines(r.text, "x"), r.dimensions);
  const std::vector<Vec2> tops_m = peaks_m(out.map);
  ASSERT_EQ(tops_m.size(), places_m.size());
  ASSERT_EQ(tops_m.size(), 1U + 2U + 4U + 4U + 4U);       // capital, e, x; number sign, g
  const auto before = [](const Vec2& a, const Vec2& b) {  // by rows, from below; rows are 2 mm apart
    return std::fabs(a.y() - b.y()) > 1e-4 ? a.y() < b.y() : a.x() < b.x();
  };
  std::vector<Vec2> sorted_tops_m = tops_m;
  std::sort(sorted_tops_m.begin(), sorted_tops_m.end(), before);
  std::sort(places_m.begin(), places_m.end(), before);
  for (std::size_t k = 0; k < places_m.size(); ++k) {
    const Vec2 miss_m = (sorted_tops_m[k] - sorted_tops_m[0]) - (places_m[k] - places_m[0]);
    EXPECT_LT(miss_m.norm(), 1e-12) << k;  // the grid divides all distances: rounding
  }
  for (const Vec2& top : tops_m) EXPECT_EQ(mesh::height_at(out.map, top.x(), top.y()), 0.75e-3);
  // Along a line through a dot: the circle through base and top.
  const double radius_m = (0.25 * 1.55e-3 * 1.55e-3 + 0.75e-3 * 0.75e-3) / (2.0 * 0.75e-3);
  int on_cap = 0;
  for (int k = -45; k <= 45; ++k) {
    const double off_m = k * 0.02e-3;
    const double expected_m =
        std::fabs(off_m) < 0.775e-3 ? 0.75e-3 - radius_m + std::sqrt(radius_m * radius_m - off_m * off_m) : 0.0;
    EXPECT_NEAR(mesh::height_at(out.map, tops_m[0].x() + off_m, tops_m[0].y()), expected_m, 1e-12) << k;
    on_cap += expected_m > 0.0;
  }
  EXPECT_EQ(on_cap, 77);
}

TEST(Braille, AHighDotIsWhatIsSeenFromAbove) {
  BrailleRequest r = request("a");
  r.dimensions.dot_base_m = 1.6e-3;
  r.dimensions.dot_height_m = 0.9e-3;
  const Lettering out = make_braille(r, "x");
  // r = (0.8^2 + 0.9^2)/(2 0.9) = 0.80556 mm: the widest place of the dot is above its foot, at 0.9 - r.
  EXPECT_EQ(mesh::highest_m(out.map), 0.9e-3);
  EXPECT_NEAR(out.glyphs.at(0).typical_stroke_m, 2.0 * 0.805556e-3, 1e-9);
  double lowest_m = 1.0;
  for (const double z : out.map.height_m) {
    if (z > 0.0) lowest_m = std::min(lowest_m, z);
  }
  EXPECT_GE(lowest_m, 0.9e-3 - 0.805556e-3);
}

TEST(Braille, DimplesAreMinusDotsAndCellsAreBoxes) {
  BrailleRequest r = request("be");
  const Lettering raised = make_braille(r, "x");
  r.raised = false;
  const Lettering sunk = make_braille(r, "x");
  for (std::size_t k = 0; k < raised.map.height_m.size(); ++k) {
    ASSERT_EQ(sunk.map.height_m[k], -raised.map.height_m[k]);
  }
  ASSERT_EQ(raised.glyphs.size(), 2U);
  EXPECT_EQ(raised.glyphs[0].character, "⠃");
  EXPECT_EQ(raised.glyphs[1].character, "⠑");
  EXPECT_EQ(raised.glyphs[1].first_i - raised.glyphs[0].first_i, 310);  // 6.2 mm
  r.raised = true;
  r.mirrored = true;
  const Lettering mirrored = make_braille(r, "x");
  EXPECT_EQ(mirrored.glyphs[0].end_i, raised.map.nx - raised.glyphs[0].first_i);
  EXPECT_NEAR(mesh::volume_m3(mirrored.map), mesh::volume_m3(raised.map), 1e-12 * mesh::volume_m3(raised.map));
}

TEST(Braille, WhatDoesNotFitIsRefused) {
  const auto found = [](const BrailleRequest& r) {
    try {
      make_braille(r, "relief 'door'");
    } catch (const Error& error) {
      EXPECT_EQ(error.fault().where, "relief 'door'");
      return error.fault().found;
    }
    return std::string("was taken");
  };
  EXPECT_EQ(found(request(" ")), "no dots");
  BrailleRequest r = request("ab");
  r.patch_m = Vec2(8e-3, 10e-3);
  EXPECT_NE(found(r).find("in a patch of 8 x 10 mm"), std::string::npos) << found(r);
  r = request("ab");
  r.grid_m = 0.2e-3;
  EXPECT_EQ(found(r), "dots 1.55 mm wide on a grid of 0.2 mm");
  r = request("ab");
  r.dimensions.dot_height_m = 1.6e-3;
  EXPECT_EQ(found(r), "dots 1.6 mm high on a base of 1.55 mm");
  EXPECT_EQ(found(request(std::string(1001, 'a'))), "1001 characters");
}

}  // namespace
}  // namespace pellicle::reliefs
