// What heights does a text in braille have?
#pragma once

#include "io/reliefs/lettering.h"
#include "mesh/triangle_mesh.h"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace pellicle::reliefs {

/// 2010 ADA Standards for Accessible Design, Table 703.3.1: base 1.5 to 1.6 mm, height 0.6 to 0.9, dots 2.3 to 2.5
/// apart, cells 6.1 to 7.6, lines 10.0 to 10.2; domed. Base and height are the middle of that. Distances are those of
/// NLS Specification 800, which lie inside.
struct BrailleDimensions {
  double dot_base_m = 1.55e-3;      ///< diameter
  double dot_height_m = 0.75e-3;    ///< of the spherical cap
  double dot_spacing_m = 2.34e-3;   ///< in a cell, both ways, from middle to middle
  double cell_spacing_m = 6.2e-3;   ///< from a dot to the same dot of the next cell
  double line_spacing_m = 10.0e-3;  ///< likewise for lines
};

/// Dots 1 2 3 down the left, 4 5 6 down the right: bit k - 1 is dot k, as in Unicode's patterns.
using BrailleLine = std::vector<std::uint8_t>;

/// Grade 1, letter by letter: a to z; a capital by dot 6 before it, a word of two or more capitals by dot 6 twice;
/// digits by dots 3456 before the first, then a to j; dots 56 before a letter a to j that follows a digit (Unified
/// English Braille as encyclopaedias give it). Blanks, lines apart by \n, and Unicode patterns U+2800 to U+283F, which
/// stand for themselves. Throws Error (case) at `where` with name and place of any other character.
std::vector<BrailleLine> braille_lines(const std::string& text, const std::string& where);

/// Middles of the dots from dot 1 of the first cell, x right, y up.
std::vector<mesh::Vec2> braille_dots_m(const std::vector<BrailleLine>& lines, const BrailleDimensions& dimensions);

struct BrailleRequest {
  std::string text;
  BrailleDimensions dimensions;
  bool raised = true;  ///< else dimples
  bool mirrored = false;
  double grid_m = 0.0;
  std::optional<mesh::Vec2> patch_m;  ///< none: what the dots take and half a cell's distance around them
  bool periodic = false;
};

/// Dots are spherical caps, dot 1 of the first cell in the middle of a cell of the grid: the top of a cap of base d and
/// height h has radius r = (d^2/4 + h^2)/(2 h). Above a hemisphere, h > d/2, it is what is seen from above: a wall at
/// r. A glyph is a braille cell with dots; its character is the pattern. Throws Error (case) at `where` as
/// braille_lines does, and for no dots, a patch too small or of more than kMostCells, fewer than ten cells across a
/// dot, h > d.
Lettering make_braille(const BrailleRequest& request, const std::string& where);

}  // namespace pellicle::reliefs
