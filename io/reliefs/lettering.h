// What do text and braille have in common? Heights, and which cells belong to which character.
#pragma once

#include "mesh/height_map.h"

#include <string>
#include <vector>

namespace pellicle::reliefs {

/// One character that can be seen, in reading order. Its cells are first_i <= i < end_i, first_j <= j < end_j;
/// boxes of neighbours that are pulled together, as A and V, share some.
struct Glyph {
  std::string character;  ///< UTF-8
  int line = 0;           ///< from 0
  int first_i = 0, end_i = 0, first_j = 0, end_j = 0;
  double area_m2 = 0.0;  ///< raised or sunk, seen from above, before any draft
  double narrowest_stroke_m = 0.0, typical_stroke_m = 0.0, widest_stroke_m = 0.0;  ///< strokes.h; of braille: the dot
};

struct Lettering {
  mesh::HeightMap map;
  std::vector<Glyph> glyphs;
};

/// As seen in a mirror that stands upright: x runs the other way.
void mirror(Lettering& lettering);

}  // namespace pellicle::reliefs
