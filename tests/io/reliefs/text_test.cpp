// Letters become heights: areas and widths against the font's own outlines; places, signs, and what cannot be set.
#include "io/reliefs/text.h"

#include "io/reliefs/strokes.h"
#include "io/reliefs/utf8.h"
#include "mesh/check.h"

#include <ft2build.h>
#include <gtest/gtest.h>
#include FT_FREETYPE_H
#include FT_OUTLINE_H

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <functional>
#include <numbers>
#include <string>

namespace pellicle::reliefs {
namespace {

using mesh::Vec2;

TextRequest request(const std::string& text) {
  TextRequest r;
  r.text = text;
  r.cap_height_m = 6e-3;
  r.depth_m = 0.4e-3;
  r.grid_m = 0.05e-3;
  return r;
}

Fault fault_of(const std::function<void()>& what) {
  try {
    what();
  } catch (const Error& error) {
    return error.fault();
  }
  ADD_FAILURE() << "was taken";
  return {};
}

/// The library used directly: area under each curve by the formula of the curve, box of the points.
class Outline {
 public:
  explicit Outline(char32_t character) {
    FT_Init_FreeType(&library_);
    FT_New_Face(library_, default_font().c_str(), 0, &face_);
    FT_Load_Char(face_, character, FT_LOAD_NO_SCALE);
    FT_Outline_Funcs callbacks{};
    callbacks.move_to = [](const FT_Vector* to, void* user) {
      static_cast<Outline*>(user)->now_ = vec(to);
      return 0;
    };
    callbacks.line_to = [](const FT_Vector* to, void* user) {
      static_cast<Outline*>(user)->line(vec(to));
      return 0;
    };
    callbacks.conic_to = [](const FT_Vector* control, const FT_Vector* to, void* user) {
      static_cast<Outline*>(user)->conic(vec(control), vec(to));
      return 0;
    };
    callbacks.cubic_to = [](const FT_Vector*, const FT_Vector*, const FT_Vector*, void*) { return 1; };
    EXPECT_EQ(FT_Outline_Decompose(&face_->glyph->outline, &callbacks, this), 0);
    FT_Outline_Get_CBox(&face_->glyph->outline, &box_);
  }
  ~Outline() {
    FT_Done_Face(face_);
    FT_Done_FreeType(library_);
  }
  double area() const { return std::fabs(area_); }
  double width() const { return static_cast<double>(box_.xMax - box_.xMin); }

 private:
  static Vec2 vec(const FT_Vector* p) { return {static_cast<double>(p->x), static_cast<double>(p->y)}; }
  static double cross(const Vec2& a, const Vec2& b) { return a.x() * b.y() - a.y() * b.x(); }
  void line(const Vec2& to) { area_ += 0.5 * cross(now_, to), now_ = to; }
  /// Chord and the parabola's segment: 2/3 of the triangle (Archimedes).
  void conic(const Vec2& control, const Vec2& to) {
    area_ += 0.5 * cross(now_, to) + 2.0 / 3.0 * 0.5 * cross(control - now_, to - now_);
    now_ = to;
  }
  FT_Library library_ = nullptr;
  FT_Face face_ = nullptr;
  FT_BBox box_{};
  Vec2 now_ = Vec2::Zero();
  double area_ = 0.0;
};

TEST(Text, LettersCoverTheAreaOfTheirOutlines) {
  Font font(default_font());
  int checked = 0;
  for (const char32_t c : U"HOBgsle&8@Ж") {
    if (c == 0) continue;
    const Lettering lettering = make_text(request(utf8_of(c)), font, "x");
    const double scale = 6e-3 / font.cap_height();
    const double expected_m2 = Outline(c).area() * scale * scale;
    ASSERT_EQ(lettering.glyphs.size(), 1U);
    // A chord c of an arc of radius r cuts c^2/(12 r w) off a stroke of width w: with c = 1/200, r and w about 1/7 of
    // the capitals 1e-4 at most, and its other side takes nearly as much back; 5e-6 measured.
    EXPECT_NEAR(lettering.glyphs[0].area_m2, expected_m2, 2e-5 * expected_m2) << utf8_of(c);
    EXPECT_NEAR(mesh::volume_m3(lettering.map), 0.4e-3 * lettering.glyphs[0].area_m2, 1e-9 * 0.4e-3 * expected_m2);
    ++checked;
  }
  EXPECT_EQ(checked, 11);
}

TEST(Text, TheGridDoesNotChangeTheArea) {
  Font font(default_font());
  TextRequest coarse = request("Basil"), fine = request("Basil");
  fine.grid_m = 0.013e-3;
  const double a = mesh::volume_m3(make_text(coarse, font, "x").map);
  const double b = mesh::volume_m3(make_text(fine, font, "x").map);
  EXPECT_NEAR(a, b, 1e-9 * b);  // exact areas on either: rounding of half a million cells
}

TEST(Text, BarsAreAsWideAsTheirBoxes) {
  Font font(default_font());
  const double scale = 6e-3 / font.cap_height();
  int checked = 0;
  for (const char32_t c : U"Il|") {
    if (c == 0) continue;
    const Glyph glyph = make_text(request(utf8_of(c)), font, "x").glyphs.at(0);
    const double width_m = scale * Outline(c).width();
    // The pieces across do not stand exactly opposite: half a piece, 1/400 of 6 mm = 15 um, gives (15/w)^2 at most.
    const double off = std::pow(15e-6 / width_m, 2) + 1e-12;
    EXPECT_NEAR(glyph.narrowest_stroke_m, width_m, off * width_m) << utf8_of(c);
    EXPECT_NEAR(glyph.typical_stroke_m, width_m, off * width_m);
    EXPECT_NEAR(glyph.widest_stroke_m, width_m, off * width_m);
    EXPECT_NEAR((glyph.end_i - glyph.first_i) * 0.05e-3, width_m, 0.1e-3);  // whole cells
    ++checked;
  }
  EXPECT_EQ(checked, 3);
}

GlyphShape ring(double outer, double inner, double shift) {
  GlyphShape shape;
  constexpr int kCorners = 720;
  Contour out, in;
  for (int k = 0; k < kCorners; ++k) {
    const double t = 2.0 * std::numbers::pi * k / kCorners;
    out.emplace_back(outer * std::cos(t), outer * std::sin(t));
    in.emplace_back(shift + inner * std::cos(t), -inner * std::sin(t));
  }
  shape.contours = {out, in};
  if (inner == 0.0) shape.contours.pop_back();
  return shape;
}

TEST(Strokes, ShapesKnownByHand) {
  // 720 corners: the polygon is 1 - cos(0.25 degrees) = 1e-5 inside its circle; pieces opposite are a piece off.
  const StrokeWidths disc = stroke_widths(ring(1.0, 0.0, 0.0), 2.0, "x");
  EXPECT_NEAR(disc.typical, 2.0, 1e-3);
  EXPECT_NEAR(disc.widest, 2.0, 1e-3);
  const StrokeWidths even = stroke_widths(ring(1.0, 0.7, 0.0), 2.0, "x");
  EXPECT_NEAR(even.narrowest, 0.3, 1e-3);
  EXPECT_NEAR(even.widest, 0.3, 1e-3);
  const StrokeWidths uneven = stroke_widths(ring(1.0, 0.7, 0.1), 2.0, "x");  // 0.2 on one side, 0.4 on the other
  EXPECT_NEAR(uneven.narrowest, 0.2, 1e-3);
  EXPECT_NEAR(uneven.widest, 0.4, 1e-3);
  EXPECT_NEAR(uneven.typical, 0.3, 0.01);  // half of it is narrower: by symmetry about 0.3
  // A triangle has no walls that face each other: the disc that fits in, r = 2 area / perimeter.
  GlyphShape triangle;
  triangle.contours = {{{0.0, 0.0}, {4.0, 0.0}, {0.0, 3.0}}};
  const StrokeWidths widths = stroke_widths(triangle, 3.0, "x");
  EXPECT_NEAR(widths.widest, 2.0, 0.01);  // pieces of 1/200 of the size
  EXPECT_EQ(widths.narrowest, widths.widest);
  // A cross of one outline has most room between its inner corners; normals there are 0.1 apart.
  GlyphShape cross;
  cross.contours = {{{-5, -1},
                     {-1.5, -1},
                     {-1.5, -5},
                     {1.5, -5},
                     {1.5, -1},
                     {5, -1},
                     {5, 1},
                     {1.5, 1},
                     {1.5, 5},
                     {-1.5, 5},
                     {-1.5, 1},
                     {-5, 1}}};
  EXPECT_NEAR(stroke_widths(cross, 10.0, "x").narrowest, 2.0, 1e-3);
  EXPECT_NEAR(stroke_widths(cross, 10.0, "x").widest, 2.0 * std::hypot(1.5, 1.0), 0.02);
  // One of two bars over each other, as in fonts made of parts: walls inside the other do not count.
  GlyphShape bars;
  bars.contours = {{{-5, -1}, {5, -1}, {5, 1}, {-5, 1}}, {{-1.5, -5}, {1.5, -5}, {1.5, 5}, {-1.5, 5}}};
  EXPECT_NEAR(stroke_widths(bars, 10.0, "x").narrowest, 2.0, 1e-3);
  EXPECT_NEAR(stroke_widths(bars, 10.0, "x").typical, stroke_widths(cross, 10.0, "x").typical, 1e-3);
  EXPECT_EQ(stroke_widths({}, 1.0, "x").widest, 0.0);
}

/// The largest disc in a letter, by looking at every place of a grid against every corner of the outline.
TEST(Strokes, TheWidestIsThatOfEveryPlaceInTheLetter) {
  Font font(default_font());
  int checked = 0;
  for (const char32_t c : U"aRS5&") {
    if (c == 0) continue;
    const GlyphShape& shape = font.shape(c);
    const StrokeWidths widths = stroke_widths(shape, font.cap_height(), "x");
    const Lettering lettering = make_text(request(utf8_of(c)), font, "x");
    const mesh::HeightMap& map = lettering.map;
    double widest_m = 0.0;
    for (int j = 0; j < map.ny; ++j) {
      for (int i = 0; i < map.nx; ++i) {
        if (map.at(i, j) < 0.2e-3) continue;
        int nearest_sq = 1 << 20;
        for (int jj = std::max(0, j - 40); jj < std::min(map.ny, j + 41); ++jj) {
          for (int ii = std::max(0, i - 40); ii < std::min(map.nx, i + 41); ++ii) {
            const int off_sq = (ii - i) * (ii - i) + (jj - j) * (jj - j);
            if (map.at(ii, jj) < 0.2e-3) nearest_sq = std::min(nearest_sq, off_sq);
          }
        }
        widest_m = std::max(widest_m, 2.0 * (std::sqrt(nearest_sq) - 0.5) * map.spacing_m);
      }
    }
    const double scale = 6e-3 / font.cap_height();
    EXPECT_NEAR(scale * widths.widest, widest_m, 2.0 * map.spacing_m) << utf8_of(c);  // a cell at either wall
    EXPECT_LE(widths.narrowest, widths.typical);
    EXPECT_LE(widths.typical, widths.widest * 1.021);  // kTouching
    EXPECT_GT(widths.narrowest, 0.2 * widths.typical);
    ++checked;
  }
  EXPECT_EQ(checked, 5);
}

TEST(Text, CapitalsAreAsHighAsAskedFor) {
  Font font(default_font());
  const Glyph glyph = make_text(request("H"), font, "x").glyphs.at(0);
  EXPECT_NEAR((glyph.end_j - glyph.first_j) * 0.05e-3, 6e-3, 0.1e-3);
  EXPECT_EQ(font.name(), "DejaVu Sans Book");
}

TEST(Text, SunkIsMinusRaisedAndMirroredTheOtherWayRound) {
  Font font(default_font());
  TextRequest r = request("Ry\nThyme");
  const Lettering raised = make_text(r, font, "x");
  r.raised = false;
  const Lettering sunk = make_text(r, font, "x");
  r.raised = true;
  r.mirrored = true;
  const Lettering mirrored = make_text(r, font, "x");
  ASSERT_EQ(sunk.map.height_m.size(), raised.map.height_m.size());
  EXPECT_EQ(mesh::highest_m(raised.map), 0.4e-3);
  EXPECT_EQ(mesh::lowest_m(sunk.map), -0.4e-3);
  for (int j = 0; j < raised.map.ny; ++j) {
    for (int i = 0; i < raised.map.nx; ++i) {
      ASSERT_EQ(sunk.map.at(i, j), -raised.map.at(i, j));
      ASSERT_EQ(mirrored.map.at(raised.map.nx - 1 - i, j), raised.map.at(i, j));
    }
  }
  ASSERT_EQ(mirrored.glyphs.size(), 7U);
  for (std::size_t g = 0; g < 7; ++g) {
    EXPECT_EQ(mirrored.glyphs[g].first_i + raised.glyphs[g].end_i, raised.map.nx);
    EXPECT_EQ(mirrored.glyphs[g].first_j, raised.glyphs[g].first_j);
  }
}

TEST(Text, EveryCellWithInkBelongsToACharacterInReadingOrder) {
  Font font(default_font());
  const Lettering lettering = make_text(request("BASIL\nThyme 7"), font, "x");
  ASSERT_EQ(lettering.glyphs.size(), 11U);
  std::string spelled;
  for (const Glyph& g : lettering.glyphs) spelled += g.character;
  EXPECT_EQ(spelled, "BASILThyme7");
  mesh::HeightMap rest = lettering.map;
  for (std::size_t g = 0; g < lettering.glyphs.size(); ++g) {
    const Glyph& glyph = lettering.glyphs[g];
    EXPECT_EQ(glyph.line, g < 5 ? 0 : 1);
    if (g > 0 && glyph.line == lettering.glyphs[g - 1].line) {
      EXPECT_GT(glyph.end_i, lettering.glyphs[g - 1].end_i);
    }
    double ink = 0.0;
    for (int j = glyph.first_j; j < glyph.end_j; ++j) {
      for (int i = glyph.first_i; i < glyph.end_i; ++i) {
        ink += rest.at(i, j);
        rest.at(i, j) = 0.0;
      }
    }
    EXPECT_GT(ink, 0.0) << glyph.character;
  }
  EXPECT_EQ(mesh::highest_m(rest), 0.0);
  EXPECT_LT(lettering.glyphs[5].end_j, lettering.glyphs[0].end_j) << "the second line is below";
}

TEST(Text, KerningAndLetterSpacingMoveLetters) {
  Font font(default_font());
  ASSERT_LT(font.kerning(U'A', U'V'), 0.0) << "the font pulls A and V together";
  const double scale = 6e-3 / font.cap_height();
  const auto step_m = [&](const TextRequest& r) {
    const Lettering out = make_text(r, font, "x");
    return (out.glyphs[1].first_i - out.glyphs[0].first_i) * 0.05e-3;
  };
  const auto left = [&](char32_t c) {
    double x = 1e9;
    for (const Contour& contour : font.shape(c).contours) {
      for (const Vec2& p : contour) x = std::min(x, p.x());
    }
    return x;
  };
  const double expected_m = scale * (font.shape(U'A').advance + font.kerning(U'A', U'V') + left(U'V') - left(U'A'));
  TextRequest r = request("AV");
  EXPECT_NEAR(step_m(r), expected_m, 0.051e-3);  // boxes are whole cells
  r.letter_spacing_m = 1e-3;
  EXPECT_NEAR(step_m(r), expected_m + 1e-3, 0.051e-3);
}

TEST(Text, DraftWidensTheFootOnly) {
  Font font(default_font());
  TextRequest r = request("I");
  const Lettering upright = make_text(r, font, "x");
  r.draft_rad = std::atan(0.5);  // 0.4 mm high: 0.2 mm, four cells
  const Lettering leaning = make_text(r, font, "x");
  const int j = upright.map.ny / 2;
  int high_before = 0, high = 0, any_before = 0, any = 0;
  for (int i = 0; i < upright.map.nx; ++i) {
    high_before += upright.map.at(i, j) == 0.4e-3;
    high += leaning.map.at(i, j) == 0.4e-3;
    any_before += upright.map.at(i, j) > 0.0;
    any += leaning.map.at(i, j) > 0.0;
  }
  EXPECT_EQ(high, high_before);
  EXPECT_GE(any, high + 6);
  EXPECT_LE(any, any_before + 8);
}

TEST(Text, APatchIsAsLargeAsAskedForWithTheTextInItsMiddle) {
  Font font(default_font());
  TextRequest r = request("HOH");
  r.patch_m = Vec2(30e-3, 10e-3);
  r.periodic = true;
  const Lettering out = make_text(r, font, "x");
  EXPECT_EQ(out.map.nx, 600);
  EXPECT_EQ(out.map.ny, 200);
  EXPECT_TRUE(out.map.periodic);
  EXPECT_NEAR(out.glyphs.front().first_i, 600 - out.glyphs.back().end_i, 1);
  r.patch_m = Vec2(30.02e-3, 10e-3);
  EXPECT_NE(fault_of([&] { make_text(r, font, "x"); }).allowed.find("whole cells"), std::string::npos);
}

struct Spoilt {
  const char* text;
  const char* found;
};

TEST(Text, WhatCannotBeSetIsRefusedWithItsPlace) {
  Font font(default_font());
  const Spoilt spoilt[]{
      {"", "no character with ink"},
      {" \n  ", "no character with ink"},
      {"Basil \xE4\xB8\x96", "U+4E16 '世' at line 1, character 7, which DejaVu Sans Book has not"},
      {"a\nb\xF0\x9F\xA6\x84", "U+1F984 at line 2, character 2"},
      {"a\tb", "U+0009 at line 1, character 2"},
      {"e\xCC\x81", "U+0301"},
      {"\xD7\xA9", "U+05E9"},
      {"a\xFF", "byte 2 (0xFF)"},
      {"ab\xC3", "byte 3 (0xC3)"},
      {"\xC0\x80", "byte 1 (0xC0)"},
      {"\xED\xA0\x80", "byte 1 (0xED)"},
      {"\xF5\x80\x80\x80", "byte 1 (0xF5)"},
  };
  int refused = 0;
  for (const Spoilt& s : spoilt) {
    const Fault fault = fault_of([&] { make_text(request(s.text), font, "relief 'title'"); });
    EXPECT_EQ(fault.kind, Fault::Kind::kCase);
    EXPECT_EQ(fault.where, "relief 'title'");
    EXPECT_NE(fault.found.find(s.found), std::string::npos) << fault.found;
    ++refused;
  }
  EXPECT_EQ(refused, 12);
}

TEST(Text, WhatDoesNotFitIsRefused) {
  Font font(default_font());
  TextRequest r = request("BASIL");
  r.patch_m = Vec2(10e-3, 10e-3);
  EXPECT_NE(fault_of([&] { make_text(r, font, "x"); }).found.find("in a patch of 10 x 10 mm"), std::string::npos);
  r = request("BASIL");
  r.grid_m = 1e-6;
  EXPECT_NE(fault_of([&] { make_text(r, font, "x"); }).found.find("million cells"), std::string::npos);
  r = request("BASIL");
  r.grid_m = 0.5e-3;
  const Fault coarse = fault_of([&] { make_text(r, font, "x"); });
  EXPECT_NE(coarse.found.find("strokes of"), std::string::npos);
  EXPECT_NE(coarse.found.find("'B' on a grid of 0.5 mm"), std::string::npos) << coarse.found;
  EXPECT_NE(fault_of([&] { make_text(request(std::string(1001, 'a')), font, "x"); }).found.find("1001 characters"),
            std::string::npos);
}

TEST(Font, FilesThatAreNoFontsAreRefused) {
  const std::filesystem::path folder = std::filesystem::path(testing::TempDir()) / "pellicle_fonts";
  std::filesystem::create_directories(folder);
  const auto file = [&](const std::string& name, const std::string& bytes) {
    std::ofstream(folder / name, std::ios::binary) << bytes;
    return folder / name;
  };
  std::ifstream in(default_font(), std::ios::binary);
  const std::string good((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>());
  ASSERT_GT(good.size(), 100'000U);
  EXPECT_NE(fault_of([&] { Font font(folder / "none.ttf"); }).found.find("cannot be read"), std::string::npos);
  EXPECT_NE(fault_of([&] { Font font(folder); }).found.find("no plain file"), std::string::npos);
  EXPECT_EQ(fault_of([&] { Font font(file("empty.ttf", "")); }).found, "an empty file");
  EXPECT_EQ(fault_of([&] { Font font(file("words.ttf", "no font at all")); }).found, "a file that is no font");
  EXPECT_EQ(fault_of([&] { Font font(file("cut.ttf", good.substr(0, 1000))); }).kind, Fault::Kind::kGeometry);
  std::filesystem::remove_all(folder);
}

}  // namespace
}  // namespace pellicle::reliefs
