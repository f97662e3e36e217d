// What pressure and modulus does screening put in at a node whose heat was followed?
#include "solver/imprint/screening_chill.h"

#include "solver/imprint/chill.h"
#include "solver/imprint/column.h"
#include "solver/imprint/press.h"
#include "solver/imprint/slot_table.h"
#include "solver/sheet/heat_place.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

namespace pellicle::imprint {
namespace {

/// Depth of slots 5 w apart under a pressure of one, by the press, over w/(4 G) with G of the core.
double pressed_factor(const Moment& m, double thickness_m, double width_m) {
  constexpr int kFree = 25, kPeriod = 128;  // within 4 % of a grid three times as fine (tested)
  constexpr double kEdge = 0.35;            // as there
  const double spacing_m = width_m / (kFree + kEdge), p_Pa = 1e-3 * m.core_Pa, scale_m = 1e-3 * width_m;
  std::vector<double> mould_m(kPeriod, 0.0);
  std::fill_n(mould_m.begin(), kFree, -1e3 * width_m);  // out of reach
  LayerStack stack{{{m.skin_m, m.skin_Pa}, {thickness_m - m.skin_m, m.core_Pa}}};
  Press press({kPeriod, 1, spacing_m}, stack, Boundary::kPeriodic);
  const Pressed pressed = press.solve(mould_m, p_Pa, {1e-5 * scale_m, 2000});
  return -4.0 / scale_m * *std::min_element(pressed.displacement_m.begin(), pressed.displacement_m.end());
}

/// The even sheet into whose slots one goes as deep as with this skin.
EvenSheet even_for_stroke(const Moment& m, double thickness_m, double width_m) {
  if (!(m.skin_m > 0.0)) return {m.pressure_Pa, m.core_Pa, m.since_s};
  const double softer = pressed_factor(m, thickness_m, width_m) / slot_factor(width_m / thickness_m, 1.0, 1.0);
  return {m.pressure_Pa, m.core_Pa / softer, m.since_s};
}

/// The even sheet that pulls as much when stretched: moduli by their shares of the thickness.
EvenSheet even_membrane(const Moment& m, double thickness_m) {
  return {m.pressure_Pa, m.core_Pa + (m.skin_Pa - m.core_Pa) * m.skin_m / thickness_m, m.since_s};
}

/// At the moment of largest pressure over modulus.
EvenSheet strongest_membrane(const std::vector<Moment>& moments, double thickness_m) {
  EvenSheet best = even_membrane(moments.front(), thickness_m);
  for (const Moment& m : moments)
    if (const EvenSheet e = even_membrane(m, thickness_m);
        e.pressure_Pa * best.shear_modulus_Pa > best.pressure_Pa * e.shear_modulus_Pa)
      best = e;
  return best;
}

/// Nodes that differ by less as they left the heater are taken together. Ours: 2.5 K from the middle of such a group is
/// within what a heater holds.
constexpr double kStartStep_K = 5.0;

struct Alike {
  double touched_s, thickness_m, start_K;  ///< means
  std::vector<std::size_t> nodes;
};

double mean_of(const std::vector<double>& values, const std::vector<std::size_t>& nodes) {
  double sum = 0.0;
  for (const std::size_t i : nodes) sum += values[i];
  return sum / static_cast<double>(nodes.size());
}

/// Equal steps of start temperature, at most kStartStep_K each, rising; one where all are that close. Some are empty.
std::vector<std::vector<std::size_t>> by_start(const std::vector<std::size_t>& nodes,
                                               const std::vector<double>& start_K) {
  double coldest_K = std::numeric_limits<double>::infinity(), hottest_K = 0.0;
  for (const std::size_t i : nodes)
    coldest_K = std::min(coldest_K, start_K[i]), hottest_K = std::max(hottest_K, start_K[i]);
  const double range_K = nodes.empty() ? 0.0 : hottest_K - coldest_K;
  const int bins = std::max(1, static_cast<int>(std::ceil(range_K / kStartStep_K)));
  std::vector<std::vector<std::size_t>> groups(static_cast<std::size_t>(bins));
  for (const std::size_t i : nodes) {
    const int bin = bins > 1 ? std::min(bins - 1, static_cast<int>((start_K[i] - coldest_K) / range_K * bins)) : 0;
    groups[static_cast<std::size_t>(bin)].push_back(i);
  }
  return groups;
}

/// By start temperature, and those by touch time.
std::vector<Alike> alike_nodes(const forming::FormingResult& f, const std::vector<std::size_t>& nodes,
                               const std::vector<double>& start_K) {
  std::vector<Alike> all;
  for (const std::vector<std::size_t>& group : by_start(nodes, start_K)) {
    std::vector<double> touched_s, thickness_m;
    for (const std::size_t i : group) touched_s.push_back(f.touched_s[i]), thickness_m.push_back(f.thickness_m[i]);
    const std::vector<double> even(group.size(), 1.0);
    for (const TouchClass& like : touch_classes(touched_s, even, thickness_m)) {
      Alike alike{like.touched_s, like.thickness_m, 0.0, {}};
      for (const std::size_t member : like.members) alike.nodes.push_back(group[member]);
      alike.start_K = mean_of(start_K, alike.nodes);
      all.push_back(std::move(alike));
    }
  }
  return all;
}

}  // namespace

std::optional<ScreeningChill> screening_chill(const HeatSpec& heat, const forming::FormingResult& f,
                                              double reference_Pa) {
  if (!f.heat) return std::nullopt;
  ScreeningChill chill{reference_Pa, heat.polymer.diffusivity_m2_s(), std::vector<int>(f.points_m.size(), -1), {}, 0.0};
  const double full_s = f.pressed_s.empty() ? f.time_s : full_pressure_s(f);
  HeatSpec here = heat;
  const auto drawn_K = [&](double touched_s, double h_m) {
    return sheet::HeatPlace(here, f.bought_thickness_m, std::min(touched_s, full_s), h_m).profile().mean_K();
  };
  std::vector<std::size_t> nodes, spanning;
  std::vector<double> start_K;
  for (std::size_t i = 0; i < f.touched_s.size(); ++i) {
    (std::isnan(f.touched_s[i]) ? spanning : nodes).push_back(i);
    start_K.push_back(sheet::start_mean_K(*f.heat, static_cast<int>(i)));
  }
  if (!spanning.empty()) here.start_K = mean_of(start_K, spanning);
  chill.untouched_K = spanning.empty() ? heat.start_K : drawn_K(full_s, mean_of(f.thickness_m, spanning));
  for (const Alike& like : alike_nodes(f, nodes, start_K)) {
    const double h = like.thickness_m;
    here.start_K = like.start_K;
    ScreenedClass screened{drawn_K(like.touched_s, h), {}, {}};
    if (const auto moments = moments_after(here, f, like.touched_s, h)) {
      for (std::size_t k = 0; k < kScreenedWidths_m.size(); ++k) {
        const double w = kScreenedWidths_m[k];
        screened.strokes[k] = Bracket{even_for_stroke(strongest(moments->chilled, h, w), h, w),
                                      even_for_stroke(strongest(moments->open, h, w), h, w)};
      }
      screened.membrane = Bracket{strongest_membrane(moments->chilled, h), strongest_membrane(moments->open, h)};
    }
    for (const std::size_t i : like.nodes) chill.class_of[i] = static_cast<int>(chill.classes.size());
    chill.classes.push_back(std::move(screened));
  }
  return chill;
}

}  // namespace pellicle::imprint
