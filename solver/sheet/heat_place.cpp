// How warm is one place of the sheet, from the heater to its touch and on?
#include "solver/sheet/heat_place.h"

namespace pellicle::sheet {

HeatPlace::HeatPlace(const HeatSpec& heat, double bought_m, double touched_s, double thickness_m)
    : heat_(&heat), thickness_m_(thickness_m) {
  const double half_K = 0.5 * heat.heater.face_difference_K;
  const FaceTemperatures start{heat.start_K + half_K, heat.start_K - half_K};
  const Vec2 here = Vec2::Zero();
  state_ = hot_sheet(
      heat.polymer, heat.cells, {&here, 1}, bought_m, [&](const Vec2&) { return start; }, heat.mould_K);
  constexpr double kOpen = 0.0;
  if (heat.delay_s > 0.0) exchange_heat(state_, step(heat.delay_s, bought_m, kOpen, heat.open_side()));
  if (touched_s > 0.0) exchange_heat(state_, step(touched_s, thickness_m, kOpen, heat.free_side()));
  state_.thickness_m.front().setConstant(thickness_m);  // at once, where it touches at the start
}

void HeatPlace::go_on(double step_s, bool on_mould, const HeatFilm& free_side) {
  const double contact_s = on_mould ? step_s : 0.0;
  exchange_heat(state_, step(step_s, thickness_m_, contact_s, free_side));
}

double HeatPlace::sets_after_s(bool on_mould, const HeatFilm& free_side, double longest_s) const {
  const double contact_s = on_mould ? longest_s : 0.0;
  return cooling_time_s(cooling_wall(state_, 0, step(0.0, thickness_m_, contact_s, free_side)), heat_->set_K,
                        longest_s);
}

HeatStep HeatPlace::step(double step_s, const double& to_m, const double& contact_s, const HeatFilm& free_side) const {
  return {step_s,    {&to_m, 1},        {&contact_s, 1}, {&heat_->mould_effusivity_Ws05_m2K, 1}, heat_->contact_W_m2K,
          free_side, heat_->open_side()};
}

}  // namespace pellicle::sheet
