// How stiff was the sheet, if it was pressed so deep into grooves of known width?
//
// docs/theory/calibration.md. Straight open grooves, far apart, that the sheet did not reach the floor of; sheet that
// sticks. Neo-Hookean; the modulus is that of the whole sheet as it was pressed: chilled skin and delay included.
#pragma once

#include "solver/sheet/sheet_spec.h"

#include <limits>
#include <string>
#include <vector>

namespace pellicle::fit {

/// Either way: their product across^2 along stays below 64, where the slot table ends.
inline constexpr double kLeastGrooveStretch = 0.5, kMostGrooveStretch = 3.9;

struct Groove {
  double width_m;        ///< between the walls, below the rounded edges
  double depth_m;        ///< deepest point of the sheet's face on the mould below the land
  double depth_error_m;  ///< of the measurement, one standard deviation
  double edge_radius_m;  ///< of the groove's edges as printed; 0: sharp
  double floor_m = std::numeric_limits<double>::infinity();  ///< depth of the groove
  double thickness_m;                                        ///< of the sheet beside it, after forming
  double stretch_across = 1.0, stretch_along = 1.0;
  double pressure_Pa;  ///< gauge, largest
};

enum class GrooveModel { kSection, kLayer };

struct GrooveReading {
  /// (1) of docs/theory/calibration.md; NaN where k d/w leaves no answer.
  double layer_pressure_over_modulus = std::numeric_limits<double>::quiet_NaN();
  /// By the section where it comes to rest, else the layer's. NaN: not used, `why` says so.
  double pressure_over_modulus = std::numeric_limits<double>::quiet_NaN();
  double shear_modulus_Pa = std::numeric_limits<double>::quiet_NaN();
  GrooveModel model = GrooveModel::kSection;
  double modulus_error = 0.0;  ///< relative, from the error of the measured depth
  bool is_outlier = false;     ///< far from the median; it counts all the same, the median hardly feels it
  std::string why;             ///< what is to be doubted, or why it is not used; empty: nothing
  int sections = 0;            ///< solved for it

  bool used() const { return shear_modulus_Pa == shear_modulus_Pa; }
};

struct GrooveReadback {
  std::vector<GrooveReading> readings;  ///< in the order of the grooves
  Estimate shear_modulus_Pa;            ///< median, and two standard deviations to either side
  double scatter = 0.0;      ///< relative standard deviation of one groove, from the median absolute deviation
  double uncertainty = 0.0;  ///< relative standard deviation of the median: scatter, measurement and model
  int used = 0, outliers = 0;
};

/// Reads every groove, then takes the median. Grooves are shared out over the threads, which does not change the bits;
/// a groove takes three to five sections, each up to a few seconds. Throws Error (case) for a number out of range, and
/// when fewer than two grooves can be used.
GrooveReadback read_grooves(const std::vector<Groove>& grooves);

}  // namespace pellicle::fit
