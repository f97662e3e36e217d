// Which fine detail is to be looked at, where, and in what state of the sheet? Plain checked values in SI.
#pragma once

#include "mesh/height_map.h"
#include "mesh/triangle_mesh.h"

#include <optional>
#include <string>
#include <variant>

namespace pellicle::imprint {

/// The relief is what the mould's own surface shows there.
struct MouldRelief {};

/// Letters of a font, lines apart by \n.
struct TextRelief {
  std::string text;           ///< UTF-8
  std::string font;           ///< path of the file; empty: the font the program takes by default
  double cap_height_m = 0.0;  ///< height of a capital H
  double depth_m = 0.0;
  bool raised = true;
  bool mirrored = false;
  double draft_rad = 0.0;  ///< of the walls, off upright
  double letter_spacing_m = 0.0;
};

/// Cells of six dots to the dimensions of signs.
struct BrailleRelief {
  std::string text;           ///< UTF-8
  double dot_height_m = 0.0;  ///< of a dot
  bool raised = true;
  bool mirrored = false;
};

/// A 16-bit grey picture.
struct ImageRelief {
  std::string path;
  double pixel_m = 0.0;
  double depth_m = 0.0;  ///< of white above black
};

/// A table of points.
struct ProfileRelief {
  std::string path;
  mesh::Profile::Kind kind = mesh::Profile::Kind::kStrip;
};

using ReliefSource = std::variant<MouldRelief, TextRelief, BrailleRelief, ImageRelief, ProfileRelief>;

/// The sheet over the relief as the case gives it, instead of the formed one.
struct GivenState {
  double thickness_m = 0.0;                 ///< after stretching, skin included
  double stretch_x = 1.0, stretch_y = 1.0;  ///< along the patch
  double shear_modulus_Pa = 0.0;            ///< of the core, without the skin
  double pressure_Pa = 0.0;                 ///< gauge
  double skin_thickness_m = 0.0;            ///< on the mould side; 0: none
  double skin_shear_modulus_Pa = 0.0;
  bool skin_stretched = true;  ///< with the sheet; false: it set afterwards and is at rest as it lies

  bool has_skin() const { return skin_thickness_m > 0.0; }
};

/// What the printer makes of the heights; 0: leaves them as they are.
struct Printed {
  double edge_radius_m = 0.0;  ///< of edges that stand out
  double pixel_m = 0.0;        ///< its finest light
  double layer_m = 0.0;        ///< heights become whole layers: of a relief on a face along the build plane
};

struct ReliefSpec {
  std::string name;  ///< letters, digits, - and _; one of its own
  ReliefSource source;
  mesh::Vec2 at_m = mesh::Vec2::Zero();  ///< middle of the patch seen from above, in the mould's coordinates
  std::optional<mesh::Vec2> size_m;      ///< none: as large as the source; a mould has one always, a profile never
  double angle_rad = 0.0;  ///< from the mould's x to the patch's, about at_m, counter-clockwise from above
  double grid_m = 0.0;     ///< side of a cell; an image without one has its pixel
  bool periodic = false;   ///< the patch repeats
  Printed printed;
  std::optional<GivenState> state;  ///< none: the formed sheet's; a profile has one always
};

}  // namespace pellicle::imprint
