// How much of its depth does detail lose when the gas is let off, and how long must the gas stay so that it keeps it?
#include "solver/imprint/hold.h"

#include "mesh/check.h"
#include "solver/imprint/chill.h"
#include "solver/imprint/column.h"
#include "solver/imprint/compliance.h"
#include "solver/sheet/heat_layers.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace pellicle::imprint {
namespace {

bool has_set(const sheet::HeatProfile& profile, double set_K) {
  return *std::max_element(profile.cell_K.begin(), profile.cell_K.end()) < set_K;
}

/// How each cell gives under a stress of its own: network beside modes, on the cell's own clock. Within a step strain
/// runs straight in it, modes as in (8) of heat.md.
class Creep {
 public:
  explicit Creep(const Column& column)
      : law_(*column.heat().law), modes_(law_.relaxation.modes.size()), passed_s_(column.reduced_s()) {
    strain_1_Pa_.assign(passed_s_.size(), 0.0);
    kept_1_Pa_.assign(passed_s_.size() * modes_, 0.0);
  }

  /// Up to where the column is now, under this stress at the end of the step; the strain is of a stress of one.
  void go_on(const Column& column, double stress) {
    for (std::size_t c = 0; c < strain_1_Pa_.size(); ++c) {
      const double xi_s = column.reduced_s()[c] - passed_s_[c];
      double stiff_Pa = sheet::small_strain_shear_modulus_Pa(
          sheet::network_at(law_.network, law_.relaxation, column.profile().cell_K[c]));
      double pull = stiff_Pa * strain_1_Pa_[c];
      for (std::size_t k = 0; k < modes_; ++k) {
        const sheet::RelaxationMode& mode = law_.relaxation.modes[k];
        const double x = xi_s / mode.time_s;
        pull += mode.modulus_Pa * kept_1_Pa_[c * modes_ + k] * std::exp(-x);
        stiff_Pa += mode.modulus_Pa * share_of_step(x);
      }
      const double more = (stress - pull) / stiff_Pa;
      strain_1_Pa_[c] += more;
      for (std::size_t k = 0; k < modes_; ++k) {
        const double x = xi_s / law_.relaxation.modes[k].time_s;
        double& kept = kept_1_Pa_[c * modes_ + k];
        kept = kept * std::exp(-x) + more * share_of_step(x);
      }
    }
    passed_s_ = column.reduced_s();
  }

  /// Stress over strain, cell by cell.
  std::vector<double> secant_Pa(double stress) const {
    std::vector<double> cell_Pa;
    for (const double strain : strain_1_Pa_) cell_Pa.push_back(stress / strain);
    return cell_Pa;
  }

 private:
  static double share_of_step(double x) { return x > 0.0 ? -std::expm1(-x) / x : 1.0; }

  const sheet::HotLaw& law_;
  std::size_t modes_;
  std::vector<double> passed_s_, strain_1_Pa_, kept_1_Pa_;
};

/// Let off now, the cells go on giving until the sheet has set; the clock of set sheet hardly moves. `column` is a
/// copy.
std::vector<double> withstands_Pa(Column column, bool on_mould, double longest_s) {
  const HeatSpec& heat = column.heat();
  Creep creep(column);
  creep.go_on(column, 1.0);
  double since_s = 0.0;
  for (double next_s = kFirst_s; since_s < longest_s && !has_set(column.profile(), heat.set_K); next_s *= kRatio) {
    const double to_s = std::min(next_s, longest_s);
    column.go_on(to_s - since_s, on_mould, 0.0, heat.free_side_after());
    creep.go_on(column, 1.0);
    since_s = to_s;
  }
  return creep.secant_Pa(1.0);
}

LayerStack stack_of(const LetGo& at, const std::vector<double>& cell_Pa) {
  LayerStack stack;
  for (std::size_t c = 0; c < cell_Pa.size(); ++c)
    stack.layers.push_back({at.edges_m[c + 1] - at.edges_m[c], cell_Pa[c]});
  return stack;
}

/// By how much its stretches stiffen a hot sheet against this stroke; a sheet that they would leave compressed folds.
double stretch_factor(const LetGo& at, const HeldStroke& s, double k) {
  LayerStack hot{{{at.thickness_m, 1.0}}};
  const double plain = compliance_m_per_Pa(hot, k, 0.0);
  hot.stretch_x = s.stretch_across, hot.stretch_y = s.stretch_along;
  const double stretched = compliance_m_per_Pa(hot, k, 0.0);
  return stretched > 0.0 ? std::max(1.0, plain / stretched) : 1.0;
}

/// Between two times by the logarithm.
double at_log(double from, double to, double from_s, double to_s, double s) {
  return from + (to - from) * std::log(s / from_s) / std::log(to_s / from_s);
}

double lost_at(const Held& h, const HeldStroke& stroke, std::size_t i) {
  const double chilled = lost_share(h.chilled[i], stroke);
  if (stroke.lies >= 1.0) return chilled;
  const double open = lost_share(h.open[i], stroke);
  const double weight = open_weight(stroke.width_m, h.diffusivity_m2_s, h.chilled[i].since_s);
  return chilled + (1.0 - stroke.lies) * weight * (open - chilled);
}

}  // namespace

std::vector<LetGo> let_go(const HeatSpec& heat, const forming::FormingResult& f, double touched_s, double thickness_m,
                          bool on_mould, double longest_s) {
  ensure(heat.law.has_value() && !f.pressed_s.empty(), "what is let go of has relaxed under a gas");
  Column column(heat, f.bought_thickness_m, touched_s, thickness_m);
  Creep creep(column);
  double most_Pa = std::max(pressure_at_Pa(f, touched_s), 0.0);  // what has been pressed in does not come back
  creep.go_on(column, most_Pa);
  std::vector<LetGo> all;
  double since_s = 0.0;
  for (double next_s = kFirst_s; since_s < longest_s; next_s *= kRatio) {
    const double to_s = std::min(next_s, longest_s);
    most_Pa = std::max(most_Pa, pressure_at_Pa(f, touched_s + to_s));
    column.go_on(to_s - since_s, on_mould, most_Pa, heat.free_side());
    creep.go_on(column, most_Pa);
    since_s = to_s;
    if (!(most_Pa > 0.0)) continue;
    const sheet::HeatProfile& now = column.profile();
    LetGo at{since_s,          sheet::set_depth(now, heat.set_K).mould_side_m, thickness_m, {},
             column.cell_Pa(), withstands_Pa(column, on_mould, longest_s)};
    for (const double edge : now.edges) at.edges_m.push_back(edge * thickness_m);
    all.push_back(std::move(at));
  }
  return all;
}

double lost_share(const LetGo& at, const HeldStroke& stroke) {
  ensure(stroke.width_m > 0.0, "a stroke has a width");
  const double k = std::numbers::pi / stroke.width_m, phi = stretch_factor(at, stroke, k);
  const double pulls = 1.0 / compliance_m_per_Pa(stack_of(at, at.pulls_Pa), k, 0.0);
  const double withstands = 1.0 / compliance_m_per_Pa(stack_of(at, at.withstands_Pa), k, 0.0);
  return std::min(1.0, phi * pulls / (withstands + (phi - 1.0) * pulls));
}

std::optional<Held> held(const HeatSpec& heat, const forming::FormingResult& f, double touched_s, double thickness_m,
                         double longest_s) {
  if (!heat.law || !heat.skin_to_relief || f.pressed_s.empty()) return std::nullopt;
  Held held{touched_s, heat.polymer.diffusivity_m2_s(), let_go(heat, f, touched_s, thickness_m, true, longest_s),
            let_go(heat, f, touched_s, thickness_m, false, longest_s)};
  if (held.chilled.size() < 2) return std::nullopt;  // hardly or never pressed: nothing was pressed in
  return held;
}

double lost_share(const Held& h, const HeldStroke& stroke, double time_s) {
  const double since_s = std::clamp(time_s - h.touched_s, h.chilled.front().since_s, h.chilled.back().since_s);
  std::size_t i = 1;
  while (i + 1 < h.chilled.size() && h.chilled[i].since_s < since_s) ++i;
  return at_log(lost_at(h, stroke, i - 1), lost_at(h, stroke, i), h.chilled[i - 1].since_s, h.chilled[i].since_s,
                since_s);
}

double safe_from_s(const Held& h, const HeldStroke& stroke, double share, double from_s) {
  double later = 0.0;
  for (std::size_t i = h.chilled.size(); i-- > 0;) {
    const double lost = lost_at(h, stroke, i);
    if (lost > share) {
      if (i + 1 == h.chilled.size()) return std::numeric_limits<double>::infinity();
      const double t0_s = h.chilled[i].since_s, t1_s = h.chilled[i + 1].since_s;
      const double since_s = t0_s * std::pow(t1_s / t0_s, (lost - share) / (lost - later));
      return std::max(from_s, h.touched_s + since_s);
    }
    later = lost;
    if (h.touched_s + h.chilled[i].since_s <= from_s) break;
  }
  return from_s;
}

}  // namespace pellicle::imprint
