// What do text and braille have in common?
#include "io/reliefs/lettering.h"

#include <algorithm>
#include <utility>

namespace pellicle::reliefs {

void mirror(Lettering& lettering) {
  mesh::HeightMap& map = lettering.map;
  for (int j = 0; j < map.ny; ++j) {
    double* row = map.height_m.data() + map.index(0, j);
    std::reverse(row, row + map.nx);
  }
  for (Glyph& glyph : lettering.glyphs) {
    const int first_i = map.nx - glyph.end_i;
    glyph.end_i = map.nx - glyph.first_i;
    glyph.first_i = first_i;
  }
}

}  // namespace pellicle::reliefs
