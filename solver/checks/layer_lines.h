// Do the layers of the printed mould show on the part, where most, and which build direction would show them least?
//
// docs/theory/layer_lines.md.
#pragma once

#include "solver/checks/first_findings.h"
#include "solver/imprint/chill.h"
#include "solver/imprint/layer_lines.h"

#include <Eigen/Core>
#include <optional>
#include <vector>

namespace pellicle::checks {

/// How the mould was printed.
struct Print {
  double layer_height_m;
  mesh::Vec3 build_direction = mesh::Vec3::UnitZ();  ///< unit, in the coordinates of the placed mould
};

/// Width of the face each triangle of the mould belongs to: twice its area over its rim, which is the width of a long
/// strip and half the side of a square. A face is what hangs together by edges and turns less than 2 degrees from its
/// triangle of lowest number.
std::vector<double> face_widths_m(const mesh::Nearest& surface);

/// What heat does to the lines under one triangle: the moments at which a chilled sheet and one that is not take most.
struct ChilledLines {
  imprint::Moment chilled, open;
  double diffusivity_m2_s;
  double reference_Pa;  ///< shear modulus of the sheet's law: moduli here go with it where it is tried in its band
};

/// One triangle of the sheet that lies on the printed mould: its corners touch, its middle is no farther from the mould
/// than a tenth of the bought thickness, and it leans less than 30 degrees from the mould's triangle there. The
/// platform is not printed.
struct Lying {
  int triangle;                             ///< of the sheet
  int mould_triangle = -1;                  ///< under its middle
  mesh::Vec3 place_m = mesh::Vec3::Zero();  ///< on that
  mesh::Vec3 mould_normal;                  ///< unit, of the mould's triangle under its middle
  double face_width_m;                      ///< of the face of the mould there
  mesh::Vec3 sheet_normal;                  ///< unit
  Eigen::Matrix3d stretch;                  ///< F F^T, see imprint/surface_stretch.h
  double area_m2;                           ///< as formed
  double thickness_m;
  double area_ratio;                       ///< material, formed over flat
  double pressure_Pa;                      ///< mean of its corners, largest gas pressure from first touch on
  std::optional<ChilledLines> chill = {};  ///< none: hot all through
};

/// By number of triangle; empty without a mould surface.
std::vector<Lying> lying_on(const forming::FormingResult& formed, const mould::RigidMould& mould);

/// Tells the lying triangles what heat does there, by the time of their touch, imprint::touch_classes. The moments are
/// those for a slope of 30 degrees, half a period of its steps as wide as a layer is high.
void chill(std::vector<Lying>& lying, const forming::FormingResult& formed, const HeatSpec& heat, const Print& print,
           double shear_modulus_Pa);

/// Those with all corners inside the trim.
std::vector<Lying> lying_in_part(const Formed& formed);

/// Steps under one triangle and the sheet on them; none where the mould is flat or upright in the print, or its face
/// narrower than a period: a single edge there is no pattern.
struct Pressing {
  imprint::Stair stair;
  imprint::PressedSheet sheet;
};
std::optional<Pressing> pressing(const Lying& lying, const Print& print, double shear_modulus_Pa);
/// Lines under one triangle: where heat counts, between those of the chilled sheet and those of one that is not, by
/// imprint::open_weight of half a period.
imprint::LayerLines lines_at(const Lying& lying, const Print& print, double shear_modulus_Pa);

/// Highest less lowest point of the lines on either face. Nodes have the area mean over the triangles around that lie
/// on the mould; NaN where none does.
struct LayerLineField {
  std::vector<double> mould_face_m, free_face_m;  ///< N
};
LayerLineField layer_line_field(const forming::FormingResult& formed, const mould::RigidMould& mould,
                                const Print& print, double shear_modulus_Pa, const std::optional<HeatSpec>& heat = {});

/// What one build direction makes of the part: lines on the face that met the mould.
struct DirectionMeasure {
  mesh::Vec3 direction;  ///< unit; the opposite one has the same lines
  double mean_m;         ///< area mean over the part that lies on the mould
  double high_m;         ///< 95 % of that area have no more

  double score_m() const { return mean_m + high_m; }  ///< so that a better mean is not bought with a worse end
};
DirectionMeasure measure(const std::vector<Lying>& lying, const Print& print, double shear_modulus_Pa);

/// Least score over all directions: 500 of a Fibonacci lattice on the half sphere, the axes, the present one and the
/// commonest normals of the mould, on a thousand places of equal area; the best five refined down to a quarter of a
/// degree; of these and the named ones the best on all triangles, the present one if none is better. Supports, the base
/// and the height of the print are not judged. lying must not be empty.
DirectionMeasure best_direction(const std::vector<Lying>& lying, const Print& print, double shear_modulus_Pa);

/// print: none if the case tells no layer height.
Finding layer_lines(const Formed& formed, const std::optional<Print>& print, std::optional<double> max_layer_line_m,
                    const std::optional<HeatSpec>& heat = {});

}  // namespace pellicle::checks
