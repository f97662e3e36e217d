// Which elements does a section get, and how stiff is each layer of them?
#pragma once

#include "solver/imprint/section/mould_curve.h"

#include <vector>

namespace pellicle::imprint {

/// W = (a_x |x,X|^2 + a_z |x,Z|^2 + a_y f_y^2)/2 + bulk/2 (J-1)^2 - a_z (J-1), over the flat, stretched sheet:
/// neo-Hookean with F = f F0, F0 = diag(l_x, 1/(l_x l_y), l_y), so a_x = G l_x^2 and so on. The last term is the
/// pressure that leaves the faces of the flat sheet free.
struct LayerModuli {
  double ax_Pa, az_Pa, ay_Pa, bulk_Pa;
  double shear_Pa;  ///< of the layer, unstretched
};

/// Rectangles between columns x and rows z of the flat sheet; z = 0 is the face on the mould.
struct SectionGrid {
  std::vector<double> x_m, z_m;
  std::vector<LayerModuli> layer;    ///< per row of elements
  std::vector<int> places_per_edge;  ///< parts between contact places on a column's underside; even
  double finest_m;                   ///< smallest column wanted at refinement 1, the scale of the penalty
  int columns() const { return static_cast<int>(x_m.size()) - 1; }
  int rows() const { return static_cast<int>(z_m.size()) - 1; }
};

/// Bulk over shear modulus: volume changes by pressure over bulk modulus, below 0.1 % up to p = 2 G.
inline constexpr double kBulkOverShear = 2000.0;

/// Fine at edges and on the face, coarser by a quarter of the distance; a free span gets at least fourteen columns and
/// the thickness about ten.
SectionGrid make_grid(const SectionSheet& sheet, const SectionProfile& profile, const MouldCurve& mould,
                      double refinement);

}  // namespace pellicle::imprint
