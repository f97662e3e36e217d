// Which parts of a printed mould are thin and long, and do they, or the walls of its shell, bend away or buckle?
//
// docs/theory/mould_hazards.md.
#pragma once

#include "solver/checks/mould_strength.h"

#include <vector>

namespace pellicle::checks {

/// A rib, fin or post: solid between two upright faces of the mould that face each other.
struct ThinFeature {
  double thickness_m;  ///< where it is thinnest
  double height_m;     ///< of its thin stretch
  double length_m;     ///< level, along it
  mesh::Vec3 place_m;  ///< halfway through the thinnest place
};

/// Times its thickness: a part that is lower is not slender.
inline constexpr double kSlender = 1.5;
/// All no thicker than `most_m` and no lower than `least_slender` thicknesses, the most slender (height over thickness)
/// first. Looked for by level rays from places a millimetre apart on the steep faces.
std::vector<ThinFeature> thin_features(const mesh::Nearest& surface, double most_m, double least_slender = kSlender);

/// Pressure on one side alone that a rib held at its foot bears up to this bending stress: sigma t^2/(3 H^2), a
/// cantilever under an even load (Roark, beams; from memory) [Pa].
double one_sided_Pa(const ThinFeature& feature, double stress_Pa);

/// Pressure on its top under which it buckles, held at its foot and free above: pi^2 E t^2/(48 H^2) (Euler; Timoshenko
/// & Gere, Theory of Elastic Stability, 2.1; from memory), E over 1 - nu^2 if it is longer than three thicknesses [Pa].
double column_Pa(const ThinFeature& feature, double modulus_Pa, double poisson);

/// A plate with supported edges, a along x, b along y, pressed by both stresses in its plane: by what they may be
/// multiplied before it buckles. Least over m, n half waves of pi^2 D/t (m^2/a^2 + n^2/b^2)^2/(sx m^2/a^2 + sy n^2/b^2)
/// (Timoshenko & Gere, 9.4; from memory). Infinite without pressure.
double plate_load_factor(const mesh::Vec2& size_m, double thickness_m, const mesh::Vec2& pressed_Pa, double modulus_Pa,
                         double poisson);

/// An even stretch of a hollow mould's wall.
struct WallPanel {
  mesh::Vec2 size_m;   ///< level and upright, between the walls beside it
  mesh::Vec3 place_m;  ///< its middle
  mesh::Vec3 normal;
};
/// Steep flat stretches of the surface, triangles that turn by less than 5 degrees: by their first triangle. Curved
/// walls are stiffer and not among them.
std::vector<WallPanel> wall_panels(const mesh::Nearest& surface, double wall_m);

/// What presses, of the load on the mould.
struct MouldPressing {
  double highest_Pa = 0.0;
  double down_N = 0.0;
};

/// id mould_slender. Value: least pressure on one side alone that a thin feature bears, warm and many times [bar];
/// limit: the highest on the mould, which both sides bear in the end, though a sheet may close on one of them first.
/// Less puts it in doubt; less than a tenth fails. Without slender parts it is told of the most slender there is;
/// passes without a number where nothing upright is thin. id mould_buckling. Value: load over that of buckling, of the
/// worst feature or shell wall; limit 1.
std::vector<Finding> mould_slender(const MouldCase& c, const MouldPressing& pressing);

}  // namespace pellicle::checks
