// What do the cells of one place of the sheet oppose to detail, from its touch on?
#include "solver/imprint/column.h"

#include "mesh/check.h"

#include <algorithm>
#include <cmath>

namespace pellicle::imprint {

Column::Column(const HeatSpec& heat, double bought_m, double touched_s, double thickness_m)
    : place_(heat, bought_m, touched_s, thickness_m),
      now_(place_.profile()),
      kept_Pa_(now_.cell_K.size() * heat.law->relaxation.modes.size(), 0.0),
      reduced_s_(now_.cell_K.size(), 0.0) {}

void Column::press(double pressure_Pa) {
  pressure_Pa_ = std::max(pressure_Pa, 0.0);
  std::fill(kept_Pa_.begin(), kept_Pa_.end(), pressure_Pa_);
}

void Column::go_on(double step_s, bool on_mould, double pressure_Pa, const sheet::HeatFilm& free_side) {
  const double more_Pa = std::max(pressure_Pa - pressure_Pa_, 0.0);
  const sheet::HeatProfile before = now_;
  place_.go_on(step_s, on_mould, free_side);
  now_ = place_.profile();
  const sheet::Relaxation& r = heat().law->relaxation;
  for (std::size_t c = 0; c < now_.cell_K.size(); ++c) {
    const double xi_s = sheet::reduced_step_s(r.shift, before.cell_K[c], now_.cell_K[c], step_s);
    reduced_s_[c] += xi_s;
    for (std::size_t k = 0; k < r.modes.size(); ++k) {
      double& h_Pa = kept_Pa_[c * r.modes.size() + k];
      const double x = xi_s / r.modes[k].time_s;
      h_Pa = h_Pa * std::exp(-x) + more_Pa * (x > 0.0 ? -std::expm1(-x) / x : 1.0);
    }
  }
  pressure_Pa_ += more_Pa;
}

std::vector<double> Column::cell_Pa() const {
  std::vector<double> cell_Pa;
  const sheet::HotLaw& law = *heat().law;
  const std::size_t modes = law.relaxation.modes.size();
  for (std::size_t c = 0; c < now_.cell_K.size(); ++c) {
    cell_Pa.push_back(
        sheet::small_strain_shear_modulus_Pa(sheet::network_at(law.network, law.relaxation, now_.cell_K[c])));
    for (std::size_t k = 0; k < modes && pressure_Pa_ > 0.0; ++k)
      cell_Pa.back() += law.relaxation.modes[k].modulus_Pa * kept_Pa_[c * modes + k] / pressure_Pa_;
  }
  return cell_Pa;
}

double pressure_at_Pa(const forming::FormingResult& f, double time_s) {
  const auto after = std::upper_bound(f.pressed_s.begin(), f.pressed_s.end(), time_s);
  if (after == f.pressed_s.end()) return f.pressed_Pa.back();
  const auto i = static_cast<std::size_t>(after - f.pressed_s.begin());
  const double from_s = i > 0 ? f.pressed_s[i - 1] : 0.0, from_Pa = i > 0 ? f.pressed_Pa[i - 1] : 0.0;
  return from_Pa + (f.pressed_Pa[i] - from_Pa) * (time_s - from_s) / (f.pressed_s[i] - from_s);
}

namespace {

/// Whether a pressure is the largest of the run, but for its last hundredth.
auto is_full(const forming::FormingResult& f) {
  ensure(!f.pressed_Pa.empty(), "a run that was pressed");
  constexpr double kFull = 0.99;
  const double most_Pa = *std::max_element(f.pressed_Pa.begin(), f.pressed_Pa.end());
  return [full_Pa = kFull * most_Pa](double p_Pa) { return p_Pa >= full_Pa; };
}

}  // namespace

double full_pressure_s(const forming::FormingResult& f) {
  const auto first = std::find_if(f.pressed_Pa.begin(), f.pressed_Pa.end(), is_full(f));
  return f.pressed_s[static_cast<std::size_t>(first - f.pressed_Pa.begin())];
}

double full_pressure_until_s(const forming::FormingResult& f) {
  const auto last = std::find_if(f.pressed_Pa.rbegin(), f.pressed_Pa.rend(), is_full(f));
  return last == f.pressed_Pa.rbegin() ? f.time_s
                                       : f.pressed_s[static_cast<std::size_t>(f.pressed_Pa.rend() - last) - 1];
}

}  // namespace pellicle::imprint
