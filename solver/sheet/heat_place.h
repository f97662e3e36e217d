// How warm is one place of the sheet, from the heater to its touch and on?
#pragma once

#include "solver/sheet/heat_layers.h"
#include "solver/sheet/heat_spec.h"

namespace pellicle::sheet {

/// One column through the sheet where it touched first at touched_s and is as thick as formed from then on: flat in
/// still air for the delay, then stretched evenly in ln h until the touch. `heat` must outlive it.
class HeatPlace {
 public:
  HeatPlace(const HeatSpec& heat, double bought_m, double touched_s, double thickness_m);

  /// On the mould, or spanning, with this film on the free side.
  void go_on(double step_s, bool on_mould, const HeatFilm& free_side);
  HeatProfile profile() const { return heat_profile(state_, 0); }
  double thickness_m() const { return thickness_m_; }
  const HeatSpec& heat() const { return *heat_; }
  /// From now until every cell is below the set temperature, as cooling_time_s [s].
  double sets_after_s(bool on_mould, const HeatFilm& free_side, double longest_s) const;

 private:
  HeatStep step(double step_s, const double& to_m, const double& contact_s, const HeatFilm& free_side) const;

  const HeatSpec* heat_;
  double thickness_m_;
  HeatState state_;
};

}  // namespace pellicle::sheet
