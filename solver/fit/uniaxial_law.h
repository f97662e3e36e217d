// Which rubber-like law does a hot tensile curve call for? The simplest that the points bear.
//
// docs/theory/calibration.md. One test at one temperature and one rate: a law without time. It knows uniaxial pull
// alone, so a law counts only if it stays stiffening where the sheet is stretched both ways too.
#pragma once

#include "solver/sheet/polymer.h"

#include <span>
#include <string>
#include <vector>

namespace pellicle::fit {

struct PullPoint {
  double stretch;            ///< length over first length
  double nominal_stress_Pa;  ///< force over first section
};

struct LawFit {
  std::string kind;  ///< neo-hookean, yeoh, ogden
  sheet::Polymer law;
  int numbers = 0;                ///< fitted
  double rms_misfit = 0.0;        ///< over the largest stress
  double criterion = 0.0;         ///< small-sample information criterion: least is best
  std::vector<double> stress_Pa;  ///< nominal, at the points
  std::string why_not;            ///< empty: it can be used
};
struct LawFits {
  std::vector<PullPoint> points;  ///< that were fitted: the unstretched one left out
  std::vector<LawFit> fits;       ///< simplest first
  /// The one with the least criterion of those that can be used; if none can, of all.
  const LawFit& best() const;
};

/// Every law there are points enough for (twice its numbers and one). Least squares of the nominal
/// stress; moduli of one sign with their exponents, so that every term stiffens (c10, c30 >= 0 of yeoh). The criterion
/// is n ln(rms^2) + 2 k + 2 k (k + 1)/(n - k - 1), Hurvich & Tsai, Biometrika 76 (1989) 297 (citation from memory), rms
/// not below kReading: nobody reads a test better. Throws Error (case) for points that are none, too few, hardly
/// stretched, or falling: what they should be is said.
LawFits fit_laws(std::span<const PullPoint> points);
inline constexpr double kReading = 0.002;  ///< of the largest stress: a good load cell

}  // namespace pellicle::fit
