// How wide are the strokes of a character? From its outline, without a grid.
#pragma once

#include "io/reliefs/font.h"

namespace pellicle::reliefs {

/// In the unit of the outline; 0 for a blank.
struct StrokeWidths {
  double narrowest = 0.0;  ///< least width between walls that face each other
  double typical = 0.0;    ///< half of the length of such walls has less between them, half more
  double widest = 0.0;     ///< diameter of the largest disc that fits in
};

/// At the middle of each piece of outline (no longer than 1/200 of `size`), and at corners that point into the shape,
/// the largest disc that touches it from within and crosses no other wall. With n the normal into the shape, a wall at
/// q bounds it to a radius of |q - p|^2 / (2 n.(q - p)), since the disc through p and q touches p with that radius
/// (medial axis by shrinking balls: Ma, Bae, Choi, The Visual Computer 28 (2012) 7; from memory). A width counts as
/// that of a stroke where the wall across faces back within 26 degrees: so corners and the ends of strokes do not. A
/// shape without such walls, a triangle, has one width: that of the largest disc. Walls hidden under another part of
/// the shape are left out. Throws Error (geometry) at `where` for an outline of more than 20 000 pieces.
StrokeWidths stroke_widths(const GlyphShape& shape, double size, const std::string& where);

}  // namespace pellicle::reliefs
