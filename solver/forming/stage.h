// What is asked of sheet, gas and clamp at a moment? The stages of the case laid out in time.
#pragma once

#include "solver/forming/forming_spec.h"

#include <optional>
#include <vector>

namespace pellicle::forming {

/// Smooth step of fifth order: 0 at 0, 1 at 1, speed and acceleration zero at both ends.
double ramp(double share);

/// How slowly a stage must go so that inertia does not show (docs/theory/time.md): travel of the sheet in units of R/c.
constexpr double kPaceTravel = 85.0;   ///< keeps thickness within 0.5 % of a run 8 times slower
constexpr double kPaceVolume = 340.0;  ///< a volume drive measures the pressure, and that shows damping sooner

/// A quiet sheet on the mould takes this much more mass at most (docs/theory/time.md).
constexpr double kMostGrowth = 9.0;

/// The limit on the swept volume's rate comes in over this share of the travel, so that the flat sheet starts gently.
constexpr double kSoftStart = 0.1;

/// What a stage means for the sheet's inertia.
struct PaceChoice {
  double travel_s;       ///< time in which the sheet travels
  double pace;           ///< travel in units of R/c with the scaled mass
  double mass_factor;    ///< scaled over true density
  double damping_per_s;  ///< alpha = k c / R
};
/// travelling_m: half the width of what is free to travel; R of the rule.
PaceChoice choose_pace(const FormingSpec& spec, const StageSpec& stage, bool changes_drive, double travelling_m);

/// Start and end of each stage, and the moments at which a frame is due: evenly in time and at every stage's end.
class Schedule {
 public:
  explicit Schedule(const FormingSpec& spec);
  double end_s() const { return ends_s_.back(); }
  double start_s(int stage) const { return stage == 0 ? 0.0 : ends_s_[static_cast<std::size_t>(stage - 1)]; }
  double end_s(int stage) const { return ends_s_[static_cast<std::size_t>(stage)]; }
  int stages() const { return static_cast<int>(ends_s_.size()); }
  /// Moments of frames 1, 2, ...; frame 0 is the flat sheet.
  const std::vector<double>& frames_s() const { return frames_s_; }

 private:
  std::vector<double> ends_s_;
  std::vector<double> frames_s_;
};

/// The law of temperature and time that a run follows, its glass capped; none where it does not.
std::optional<sheet::HotLaw> forming_law(const FormingSpec& spec);

}  // namespace pellicle::forming
