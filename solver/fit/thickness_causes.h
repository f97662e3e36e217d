// Why is the wall not as thick as predicted? What measured thicknesses say of a cause, and when they say nothing.
//
// docs/theory/comparison.md. With r = ln(measured/predicted) at each place: first one factor common to all places, then
// each cause alone, by how the prediction answers to one step of it.
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <vector>

namespace pellicle::fit {

struct Wall {
  double predicted_m, measured_m;
  double error_m;  ///< of the measurement, one standard deviation
};

/// Of one predicted wall, one standard deviation: mesh and membrane model. Estimate, 1 % to 4 %.
inline constexpr double kModelError = 0.02;
/// Changes of the prediction below this, rms over the places, may come from elements that were cut elsewhere. Estimate,
/// 0.2 % to 0.5 %.
inline constexpr double kRunNoise = 0.003;

/// What is seen without asking for causes. Relative numbers are of r, each place weighed by its errors.
struct Misfit {
  double mean_m = 0.0, rms_m = 0.0;                          ///< error, predicted less measured, unweighted
  std::size_t worst = 0;                                     ///< the place where that is largest, either way
  double rms = 0.0;                                          ///< of r
  double factor = 1.0, factor_low = 1.0, factor_high = 1.0;  ///< common to all places; two standard deviations
  double left = 0.0;                                         ///< rms of r once the factor is taken out
  double noise = 0.0;                                        ///< rms that the errors alone would leave
  bool differs = false;                                      ///< a factor of 1 is outside its band
  bool has_pattern = false;  ///< what is left is more than twice the noise: no factor explains it. From 3 places on.

  /// Nothing is left to explain.
  bool agrees() const { return !differs && !has_pattern; }
};
/// At least one wall; all numbers positive.
Misfit misfit_of(std::span<const Wall> walls);

/// One step of a cause, formed anew.
struct Step {
  std::string name;
  std::vector<double> predicted_m;  ///< at the same places, one step on
  double most_steps;                ///< as far as it may be off, either way, by what else is known of it
};

enum class CauseVerdict {
  kSilent,    ///< the walls hardly answer to it: they cannot tell
  kExplains,  ///< what is left is within twice the noise
  kInPart,    ///< at least a fifth of the misfit goes
  kDoesNot,
  kTooFar  ///< it would have to be off by more than it may be
};

struct Cause {
  std::string name;
  double response = 0.0;                      ///< rms change of the walls over one step, relative
  double steps = 0.0, low = 0.0, high = 0.0;  ///< that fit best, and two standard deviations to either side
  double left = 0.0;                          ///< rms of r then
  CauseVerdict verdict = CauseVerdict::kSilent;
  std::vector<std::string> looks_like;  ///< other causes whose pattern over the places is the same
};
/// Each cause by itself, in the order given. Linear in the number of steps: beyond a few it is a direction, not a
/// value.
std::vector<Cause> causes_of(std::span<const Wall> walls, std::span<const Step> steps);

}  // namespace pellicle::fit
