// How do measured points lie about what was fitted to them? As SVG.
#include "io/commands/fit_pictures.h"

#include "io/case/units.h"
#include "io/report/plot.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

namespace pellicle::commands {
namespace {

constexpr int kSteps = 120;  // of a curve

/// Room on either side, on a logarithmic axis a factor.
report::PlotAxis axis(std::string title, const std::vector<report::PlotPoint>& points, double report::PlotPoint::*of) {
  double low = points.front().*of, high = low;
  for (const report::PlotPoint& p : points) low = std::min(low, p.*of), high = std::max(high, p.*of);
  return {std::move(title), 0.7 * low, 1.4 * high, true};
}

}  // namespace

std::string tensile_picture(const fit::LawFits& laws, const fit::LawFit& taken, const std::string& temperature) {
  report::PlotPanel panel;
  panel.title = "at " + temperature;
  report::PlotCurve points{"measured", {}};
  double largest_MPa = 0.0;
  for (const fit::PullPoint& p : laws.points) {
    points.points.push_back({p.stretch, 1e-6 * p.nominal_stress_Pa});
    largest_MPa = std::max(largest_MPa, 1e-6 * p.nominal_stress_Pa);
  }
  const double most = laws.points.back().stretch;
  for (const fit::LawFit& law : laws.fits) {
    report::PlotCurve curve{law.kind + (&law == &taken ? ", taken" : ""), {}};
    for (int i = 0; i <= kSteps; ++i) {
      const double l = 1.0 + (most - 1.0) * i / kSteps;
      const double stress_Pa =
          std::visit([&](const auto& one) { return one.principal(l, 1.0 / std::sqrt(l)).w1_Pa; }, law.law);
      curve.points.push_back({l, 1e-6 * stress_Pa});
    }
    panel.curves.push_back(std::move(curve));
  }
  panel.curves.insert(panel.curves.begin(), std::move(points));
  panel.x = {"stretch", 1.0, 1.0 + 1.04 * (most - 1.0), false};
  panel.y = {"nominal stress (MPa)", 0.0, 1.1 * largest_MPa, false};
  report::Figure figure;
  figure.title = "Tensile test and laws";
  figure.panels = {std::move(panel)};
  figure.notes = {
      fmt::format("Law taken: {}, rms {:.2g} % of the largest stress.", taken.kind, 100.0 * taken.rms_misfit)};
  return report::svg(figure);
}

std::string sweeps_picture(std::span<const fit::DynamicPoint> points, const fit::OscillationFit& found) {
  std::vector<std::size_t> order(points.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  const auto reduced = [&](std::size_t i) {
    return points[i].angular_frequency_per_s * found.shift.factor(points[i].temperature_K);
  };
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return reduced(a) < reduced(b); });
  report::Figure figure;
  figure.title = "Sweeps shifted to " + cases::format_in(found.reference_K, "°C");
  for (const bool is_storage : {true, false}) {
    report::PlotCurve measured{"measured", {}}, fitted{"the card's modes", {}};
    for (const std::size_t i : order) {
      measured.points.push_back({reduced(i), 1e-6 * (is_storage ? points[i].storage_Pa : points[i].loss_Pa)});
      fitted.points.push_back({reduced(i), 1e-6 * (is_storage ? found.few[i].storage_Pa : found.few[i].loss_Pa)});
    }
    report::PlotPanel panel;
    panel.title = is_storage ? "G'" : "G''";
    panel.x = axis("frequency times a_T (1/s)", measured.points, &report::PlotPoint::x);
    panel.y = axis("MPa", measured.points, &report::PlotPoint::y);
    panel.curves = {std::move(measured), std::move(fitted)};
    figure.panels.push_back(std::move(panel));
  }
  figure.notes = {
      fmt::format("The card's modes stand for {:.2g} to {:.3g} s, frequencies from {:.3g} to {:.3g} 1/s; rms "
                  "there {:.2g} %.",
                  found.window.from_s, found.window.to_s, 1.0 / found.window.to_s, 1.0 / found.window.from_s,
                  100.0 * found.rms_few)};
  return report::svg(figure);
}

}  // namespace pellicle::commands
