// What skin has the mould chilled into the sheet when it is pressed hardest, and what does detail then take?
#include "solver/imprint/chill.h"

#include "solver/imprint/column.h"
#include "solver/imprint/compliance.h"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

namespace pellicle::imprint {
namespace {

Moment moment_of(const Column& column, double since_s, double pressure_Pa) {
  const std::vector<double> cell_Pa = column.cell_Pa();
  const std::vector<double>& edges = column.profile().edges;
  const double softest_Pa = *std::min_element(cell_Pa.begin(), cell_Pa.end());
  std::size_t skin = 0;
  while (skin < cell_Pa.size() && cell_Pa[skin] > kSkinTimes * softest_Pa) ++skin;
  const auto mean_Pa = [&](std::size_t from, std::size_t to) {
    double sum = 0.0;
    for (std::size_t c = from; c < to; ++c) sum += (edges[c + 1] - edges[c]) * cell_Pa[c];
    return sum / (edges[to] - edges[from]);
  };
  const double core_Pa = mean_Pa(skin, cell_Pa.size()), skin_Pa = skin > 0 ? mean_Pa(0, skin) : 0.0;
  if (!(skin_Pa > core_Pa)) return {since_s, pressure_Pa, mean_Pa(0, cell_Pa.size()), 0.0, 0.0};
  return {since_s, pressure_Pa, core_Pa, edges[skin] * column.thickness_m(), skin_Pa};
}

constexpr double kHardlyChilled = 0.9;  // weight of the open side

LocalState at_moment(const LocalState& formed, const Moment& m) {
  LocalState state = formed;
  state.pressure_Pa = m.pressure_Pa;
  state.shear_modulus_Pa = m.core_Pa;
  state.skin_thickness_m = m.skin_m;
  state.skin_shear_modulus_Pa = m.skin_Pa;
  state.skin_stretched = false;  // it sets after the sheet has been stretched
  return state;
}

double median_width_m(const ReliefAnswer& answer) {
  std::vector<double> widths_m;
  for (const StrokeAnswer& s : answer.strokes) widths_m.push_back(s.width_m);
  if (widths_m.empty()) return answer.state.thickness_m;
  std::nth_element(widths_m.begin(), widths_m.begin() + static_cast<std::ptrdiff_t>(widths_m.size() / 2),
                   widths_m.end());
  return widths_m[widths_m.size() / 2];
}

/// What was not run for one of the two is told by the other if that is most of the answer.
void mix(double& chilled, double open, double weight) {
  if (std::isnan(chilled) != std::isnan(open)) {
    chilled = weight >= 0.5 ? open : chilled;
  } else {
    chilled += weight * (open - chilled);
  }
}
/// What would be enough: one of the two may lack none, or find none.
void mix_needed(double& chilled, double open, double weight) {
  if (std::isnan(chilled))
    chilled = open;
  else if (!std::isnan(open))
    chilled += weight * (open - chilled);
}
void mix(Depths& chilled, const Depths& open, double weight) {
  mix(chilled.stick_m, open.stick_m, weight);
  mix(chilled.slip_m, open.slip_m, weight);
  mix(chilled.layer_m, open.layer_m, weight);
  mix(chilled.answer_m, open.answer_m, weight);
  if (weight >= 0.5) chilled.model = open.model, chilled.valid = open.valid;
}
void mix(StrokeAnswer& chilled, const StrokeAnswer& open, double weight) {
  mix(chilled.depth, open.depth, weight);
  for (double StrokeAnswer::*part :
       {&StrokeAnswer::share, &StrokeAnswer::share_stick, &StrokeAnswer::share_slip, &StrokeAnswer::corner_radius_m,
        &StrokeAnswer::share_along, &StrokeAnswer::share_air_free})
    mix(chilled.*part, open.*part, weight);
  for (double StrokeAnswer::*part :
       {&StrokeAnswer::needed_pressure_Pa, &StrokeAnswer::needed_width_m, &StrokeAnswer::needed_thickness_m})
    mix_needed(chilled.*part, open.*part, weight);
}

}  // namespace

std::optional<Moments> moments_after(const HeatSpec& heat, const forming::FormingResult& f, double touched_s,
                                     double thickness_m) {
  if (!heat.law || !heat.skin_to_relief || f.pressed_s.empty() || !(f.time_s - touched_s > kFirst_s))
    return std::nullopt;
  Moments all{{}, {}, heat.polymer.diffusivity_m2_s()};
  for (const bool on_mould : {true, false}) {
    Column column(heat, f.bought_thickness_m, touched_s, thickness_m);
    double since_s = 0.0;
    column.press(pressure_at_Pa(f, touched_s));
    for (double next_s = kFirst_s; since_s < f.time_s - touched_s; next_s *= kRatio) {
      const double to_s = std::min(next_s, f.time_s - touched_s);
      const double pressure_Pa = pressure_at_Pa(f, touched_s + to_s);
      column.go_on(to_s - since_s, on_mould, pressure_Pa, heat.free_side());
      since_s = to_s;
      (on_mould ? all.chilled : all.open).push_back(moment_of(column, since_s, pressure_Pa));
    }
  }
  return all;
}

std::vector<TouchClass> touch_classes(std::span<const double> touched_s, std::span<const double> weight,
                                      std::span<const double> thickness_m) {
  if (touched_s.empty()) return {};
  const auto [first, last] = std::minmax_element(touched_s.begin(), touched_s.end());
  const double from_s = *first, bin_s = (*last - from_s) / kTouchClasses;
  std::vector<TouchClass> classes(static_cast<std::size_t>(kTouchClasses));
  std::vector<double> sum(classes.size(), 0.0);
  for (std::size_t i = 0; i < touched_s.size(); ++i) {
    const int bin = bin_s > 0.0 ? std::min(kTouchClasses - 1, static_cast<int>((touched_s[i] - from_s) / bin_s)) : 0;
    TouchClass& in = classes[static_cast<std::size_t>(bin)];
    sum[static_cast<std::size_t>(bin)] += weight[i];
    in.touched_s += weight[i] * touched_s[i], in.thickness_m += weight[i] * thickness_m[i];
    in.members.push_back(i);
  }
  std::vector<TouchClass> found;
  for (std::size_t k = 0; k < classes.size(); ++k) {
    if (!(sum[k] > 0.0)) continue;
    classes[k].touched_s /= sum[k], classes[k].thickness_m /= sum[k];
    found.push_back(std::move(classes[k]));
  }
  return found;
}

const Moment& strongest(const std::vector<Moment>& moments, double thickness_m, double width_m) {
  ensure(!moments.empty() && width_m > 0.0, "a stroke under a sheet that is pressed");
  const auto depth_m = [&](const Moment& m) {
    LayerStack stack;
    if (m.skin_m > 0.0) stack.layers.push_back({m.skin_m, m.skin_Pa});
    stack.layers.push_back({thickness_m - m.skin_m, m.core_Pa});
    return m.pressure_Pa * compliance_m_per_Pa(stack, std::numbers::pi / width_m, 0.0);
  };
  return *std::max_element(moments.begin(), moments.end(),
                           [&](const Moment& a, const Moment& b) { return depth_m(a) < depth_m(b); });
}

double open_weight(double width_m, double diffusivity_m2_s, double since_s) {
  return std::erf(0.85 * width_m / std::sqrt(4.0 * diffusivity_m2_s * since_s));
}

ReliefAnswer capture_between(CaptureTask task, const Moments& moments) {
  const LocalState formed = task.state;
  const Moment& open_at = strongest(moments.open, formed.thickness_m, formed.thickness_m);
  task.state = at_moment(formed, open_at);
  const ReliefAnswer open = capture(task);
  const double width_m = median_width_m(open);
  const Moment& chilled_at = strongest(moments.chilled, formed.thickness_m, width_m);
  task.state = at_moment(formed, chilled_at);
  const auto weight_of = [&](double w_m) { return open_weight(w_m, moments.diffusivity_m2_s, chilled_at.since_s); };
  // A side that hardly counts is not worth its cross-sections.
  task.sections = task.sections && !std::all_of(open.strokes.begin(), open.strokes.end(), [&](const StrokeAnswer& s) {
                    return weight_of(s.width_m) >= kHardlyChilled;
                  });
  ReliefAnswer answer = capture(task);
  ensure(answer.strokes.size() == open.strokes.size(), "strokes are the mould's, whatever the sheet");
  std::vector<const StrokeAnswer*> by_number(open.strokes.size());
  for (const StrokeAnswer& s : open.strokes) by_number[static_cast<std::size_t>(s.number)] = &s;
  for (StrokeAnswer& s : answer.strokes) mix(s, *by_number[static_cast<std::size_t>(s.number)], weight_of(s.width_m));
  for (const std::string& note : open.notes)
    if (std::find(answer.notes.begin(), answer.notes.end(), note) == answer.notes.end()) answer.notes.push_back(note);
  const double weight = weight_of(width_m), chilled_share = answer.capture;
  mix(answer.depth, open.depth, weight);
  mix(answer.capture, open.capture, weight);
  mix(answer.capture_stick, open.capture_stick, weight);
  mix(answer.capture_slip, open.capture_slip, weight);
  mix(answer.gap_error_m, open.gap_error_m, weight);
  mix(answer.depth_lost_to_air_m, open.depth_lost_to_air_m, weight);
  // Hollows are the mould's too.
  for (std::size_t i = 0; i < answer.air_pressure_Pa.size(); ++i)
    mix(answer.air_pressure_Pa[i], open.air_pressure_Pa[i], weight);
  for (std::size_t k = 0; k < answer.hollows.size(); ++k)
    for (double HollowAir::*part : {&HollowAir::filled_free, &HollowAir::filled, &HollowAir::pressure_Pa})
      mix(answer.hollows[k].*part, open.hollows[k].*part, weight);
  for (std::size_t i = 0; i < answer.gap_m.size(); ++i) {
    mix(answer.gap_m[i], open.gap_m[i], weight);
    mix(answer.sheet_height_m[i], open.sheet_height_m[i], weight);
    mix(answer.contact_pressure_Pa[i], open.contact_pressure_Pa[i], weight);
  }
  answer.narrowest_formed_m = kNotRun;
  for (const StrokeAnswer& s : answer.strokes)
    if (s.depth.valid && s.share >= task.wanted_share && !(s.width_m >= answer.narrowest_formed_m))
      answer.narrowest_formed_m = s.width_m;
  answer.notes.push_back(fmt::format(
      "between a sheet chilled where it lies (deepest {:.2g} s after touch at {:.3g} bar: {}) and one that is not, "
      "over "
      "open strokes ({:.2g} MPa): {:.0f} % and {:.0f} % of the patch's depth, weight of the latter {:.2g} at a width "
      "of "
      "{:.2g} mm",
      chilled_at.since_s, 1e-5 * chilled_at.pressure_Pa,
      chilled_at.skin_m > 0.0 ? fmt::format("skin {:.2g} mm of {:.3g} MPa on {:.2g} MPa", 1e3 * chilled_at.skin_m,
                                            1e-6 * chilled_at.skin_Pa, 1e-6 * chilled_at.core_Pa)
                              : fmt::format("no skin, {:.2g} MPa", 1e-6 * chilled_at.core_Pa),
      1e-6 * open_at.core_Pa, 100.0 * chilled_share, 100.0 * open.capture, weight, 1e3 * width_m));
  return answer;
}

}  // namespace pellicle::imprint
