// How did the run go? Its history as line plots for the page.
#include "io/report/history_plots.h"

#include "io/report/html.h"
#include "io/report/plot.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace pellicle::report {
namespace {

using forming::HistoryRow;

constexpr std::size_t kMostPoints = 300;  ///< of a curve: more than its pixels show

template <class Value>
PlotCurve curve(const char* name, std::span<const HistoryRow> rows, const Value& value) {
  PlotCurve out{name, {}};
  const std::size_t step = std::max<std::size_t>(1, rows.size() / kMostPoints);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (i % step != 0 && i + 1 != rows.size()) continue;
    if (std::isfinite(value(rows[i]))) out.points.push_back({rows[i].time_s, value(rows[i])});
  }
  return out;
}

PlotAxis axis_over(std::string title, std::span<const PlotCurve> curves) {
  double low = std::numeric_limits<double>::infinity(), high = -low;
  for (const PlotCurve& c : curves)
    for (const PlotPoint& p : c.points) {
      low = std::min(low, p.y);
      high = std::max(high, p.y);
    }
  if (!(low <= high)) return {std::move(title), 0.0, 1.0, false};
  const double room = high > low ? 0.06 * (high - low) : std::max(0.5, 0.1 * std::abs(high));
  return {std::move(title), low == 0.0 ? 0.0 : low - room, high + room, false};
}

std::string plot(std::size_t number, const char* title, const char* unit, std::span<const HistoryRow> rows,
                 std::vector<PlotCurve> curves, const std::string& caption) {
  PlotPanel panel;
  panel.x = {"time (s)", rows.front().time_s, rows.back().time_s, false};
  panel.y = axis_over(unit, curves);
  panel.curves = std::move(curves);
  Figure figure;
  figure.title = title;
  figure.frames = fmt::format("history{}-", number);
  figure.panels = {std::move(panel)};
  return fmt::format("<figure class=\"plot\">\n{}<figcaption>{}</figcaption>\n</figure>\n", svg(figure),
                     escaped(caption));
}

std::string stages_text(std::span<const forming::StageReport> stages) {
  std::string out;
  for (const forming::StageReport& stage : stages)
    out += fmt::format("{}{} until {} s", out.empty() ? "Stages: " : ", ", stage.name, number_text(stage.end_s));
  return out.empty() ? out : out + ".";
}

}  // namespace

std::string history_plots(std::span<const HistoryRow> rows, std::span<const forming::StageReport> stages) {
  if (rows.size() < 2 || !(rows.front().time_s < rows.back().time_s)) return "";
  const HistoryRow& last = rows.back();
  const auto bar = [](const HistoryRow& r) { return 1e-5 * r.pressure_Pa; };
  const auto wall_mm = [](const HistoryRow& r) { return 1e3 * r.min_thickness_m; };
  const auto percent = [](const HistoryRow& r) { return 100.0 * r.contact_share; };
  const auto put_in_J = [](const HistoryRow& r) { return r.gas_work_J + r.clamp_work_J + r.gravity_J; };
  const auto stored_J = [](const HistoryRow& r) { return r.strain_J + r.kinetic_J + r.air_J; };
  const auto lost_J = [](const HistoryRow& r) {
    return r.friction_J + r.damping_J + r.contact_J + r.viscous_J + r.thermal_J + r.mass_change_J;
  };
  std::string out = plot(0, "Pressure", "pressure (bar)", rows, {curve("pressure on the sheet", rows, bar)},
                         fmt::format("Ends at {}. {}", number_text(bar(last), "bar"), stages_text(stages)));
  out += plot(1, "Thinnest wall", "thickness (mm)", rows, {curve("thinnest place of the sheet", rows, wall_mm)},
              fmt::format("Ends at {}.", number_text(wall_mm(last), "mm")));
  const bool touches = std::any_of(rows.begin(), rows.end(), [](const HistoryRow& r) { return r.contact_share > 0.0; });
  if (touches)
    out += plot(2, "Sheet on the mould", "share of its area (%)", rows, {curve("in contact", rows, percent)},
                fmt::format("Ends at {} of the sheet's area.", number_text(percent(last), "%")));
  out +=
      plot(3, "Energy", "energy (J)", rows,
           {curve("work put in", rows, put_in_J), curve("stored", rows, stored_J), curve("lost", rows, lost_J)},
           "Work put in is what is stored and what is lost together, each counted from its own force. Stored: strain, "
           "motion, air. Lost: friction, damping, contact, viscous flow, "
           "cooling, changes of the scaled mass.");
  return out;
}

}  // namespace pellicle::report
