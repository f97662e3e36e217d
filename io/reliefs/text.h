// What heights does a line of text have, in a font?
#pragma once

#include "io/reliefs/font.h"
#include "io/reliefs/lettering.h"

#include <optional>
#include <string>

namespace pellicle::reliefs {

/// Lines are set from left to right, centred over each other, as far apart as the font wants. One character is one
/// shape, with the kerning of the font's own table.
struct TextRequest {
  std::string text;           ///< UTF-8, lines apart by \n
  double cap_height_m = 0.0;  ///< height of the font's H: what standards for signs call the height of a letter
  double depth_m = 0.0;
  bool raised = true;             ///< else sunk
  double draft_rad = 0.0;         ///< of the walls, off upright
  double letter_spacing_m = 0.0;  ///< more (or less) between characters than the font wants
  bool mirrored = false;
  double grid_m = 0.0;
  std::optional<mesh::Vec2> patch_m;  ///< none: what the ink takes and half a capital around it
  bool periodic = false;
};

/// Height of a cell = depth times the share of it that the letters cover. Throws Error at `where`: case for characters
/// the font has not (with place and name) or that cannot be set one by one, for no ink at all, for a patch too small or
/// of more than kMostCells, for a stroke with fewer than four cells across; geometry for a damaged font.
Lettering make_text(const TextRequest& request, Font& font, const std::string& where);

}  // namespace pellicle::reliefs
