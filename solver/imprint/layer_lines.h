// Which steps does a printed surface have, and how much of them does the pressed sheet show on either face?
//
// docs/theory/layer_lines.md. Linear layer on a sawtooth, by a table that the press makes once.
#pragma once

#include <optional>

namespace pellicle::imprint {

/// Surfaces flatter than this count as flat: single edges of layers far apart are no pattern.
constexpr double kFlattest_rad = 0.00873;  // half a degree: 6 mm apart at layers of 0.05 mm

/// Steps of a printed surface, a sawtooth whose flanks lie flat and upright in the print.
struct Stair {
  double period_m;    ///< t/sin th along the surface, t the layer height
  double height_m;    ///< t |cos th|, crest to valley, normal to the surface
  double flat_share;  ///< cos^2 th, of the period that lies under the flat flank
};

/// cos_angle: of th between the surface's normal and the build direction; its sign does not matter. None on a surface
/// that is flat (kFlattest_rad) or runs along the build direction.
std::optional<Stair> stair(double layer_height_m, double cos_angle);

/// Chilled, stiffer skin on the side of the mould; part of the sheet's thickness. 0: none.
struct Skin {
  double thickness_m = 0.0;
  double shear_modulus_Pa = 0.0;
};

/// The sheet where it lies on the steps.
struct PressedSheet {
  double thickness_m;  ///< as formed
  double shear_modulus_Pa;
  double pressure_Pa;           ///< largest since it touched; 0 or less shows nothing
  double stretch_along = 1.0;   ///< up the slope, across the lines. One that would leave the sheet compressed counts as
  double stretch_across = 1.0;  ///< none: it folds instead
  Skin skin = {};
};

/// Highest less lowest point of one face, over a period [m].
struct LayerLines {
  double mould_face_m = 0.0;  ///< the face that met the mould
  double free_face_m = 0.0;   ///< the face that met the gas
};

/// The face that met the mould alone: height times a share tabulated over load p C(k)/height, k = 2 pi/period, over
/// C(k)/C(2 k), and over flat_share. Within 2 % of the height of what the press says
/// where the period is up to 2.5 thicknesses and there is no skin, else within 8 % (tested). The first call makes the
/// table, some tenths of a second. Throws Error (case) for a sheet that is none.
double mould_face_line_m(const Stair& stair, const PressedSheet& sheet);

/// Both faces: eight waves of the mould's face, from the same table, each times free_face_share. The free face is
/// within 2 % of the height, down to k h = 0.5; below, eight waves draw it up to 9 % off.
LayerLines layer_lines(const Stair& stair, const PressedSheet& sheet);

/// Both faces by the press itself, on `points` points a period, a multiple of 4: the reference of the two above. Throws
/// what Press throws.
LayerLines pressed_layer_lines(const Stair& stair, const PressedSheet& sheet, int points);

}  // namespace pellicle::imprint
