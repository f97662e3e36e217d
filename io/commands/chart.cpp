// Which stroke is just wide enough? A table on the terminal, chart.csv and chart.svg.
#include "solver/imprint/chart.h"
#include "io/case/parse.h"
#include "io/case/units.h"
#include "io/commands/case_pressure.h"
#include "io/commands/commands.h"
#include "io/commands/inputs.h"
#include "io/commands/progress.h"
#include "io/report/plot.h"
#include "io/results/json.h"
#include "io/results/result_folder.h"
#include "mesh/check.h"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

namespace pellicle::commands {
namespace {

using cases::Dimension;
using imprint::ChartEnd;
using imprint::ChartModel;
using imprint::StrokeCurve;

constexpr std::size_t kMostValues = 20;      // of one list: a curve a pressure, seconds each
constexpr std::size_t kMostCurvesDrawn = 6;  // that a reader can tell apart
constexpr double kSameLength = 1e-9;         // relative
// What stroke_curves takes: p/G; across^2 along, from sheet without tension to the end of the slot table; depth over
// thickness.
constexpr double kLeastOverModulus = 0.01, kMostOverModulus = 10.0;
constexpr double kLeastTension = 1.0, kMostTension = 64.0;
constexpr double kDeepest = 100.0;
// docs/theory/screening.md: layer theory where it is taken for a curve; sections, by others 3 % wider and narrower.
constexpr double kLayerError = 0.07, kSectionError = 0.03;
constexpr std::array kUsualPressures_Pa{1e5, 2e5, 3e5, 4e5, 5e5, 6e5};
constexpr std::array kCommonGauges_m{0.5e-3, 0.75e-3, 1e-3};

/// What is asked, in SI.
struct Question {
  imprint::StrokeStretch stretch;
  double share = 1.0;
  std::vector<double> pressures_Pa, gauges_m, depths_m;
  std::vector<double> moduli_Pa;  ///< likely; with a band: low, likely, high
  std::string left_out;           ///< which of the usual pressures, and why; empty: none
  double case_pressure_Pa = 0.0;  ///< of those asked for, the one nearest to the case's: its band is drawn

  double thickness_m(double gauge_m) const { return gauge_m / (stretch.across * stretch.along); }
  std::size_t likely() const { return moduli_Pa.size() / 2; }
};

/// One answer; no width where there is none, then the note says why.
struct Cell {
  double gauge_m, pressure_Pa, modulus_Pa, depth_m;
  std::optional<double> width_m;
  ChartModel model;
  std::string note;
};

struct Chart {
  std::string title;
  Question question;
  std::vector<StrokeCurve> curves;  ///< of pressure i and modulus j: number i * moduli + j
  const StrokeCurve& curve(std::size_t pressure, std::size_t modulus) const {
    return curves[pressure * question.moduli_Pa.size() + modulus];
  }
};

struct Range {
  Dimension dimension;
  double low, high;
  const char* allowed;
};

[[noreturn]] void refuse(const char* option, std::string found, std::string allowed, std::string advice = {}) {
  throw Error({Fault::Kind::kCase, option, std::move(found), std::move(allowed), std::move(advice)});
}

/// "2 bar, 4 bar": rising values of one dimension.
std::vector<double> read_list(const char* option, const std::string& text, const Range& range) {
  std::vector<double> values;
  for (std::size_t from = 0; from <= text.size();) {
    const std::size_t end = std::min(text.find(',', from), text.size());
    const std::string word = text.substr(from, end - from);
    from = end + 1;
    const auto reading =
        range.dimension == Dimension::kNone ? cases::parse_number(word) : cases::parse_quantity(word, range.dimension);
    if (const auto* no = std::get_if<cases::Refusal>(&reading)) refuse(option, no->found, no->allowed, no->advice);
    const double value = std::get<double>(reading);
    if (!(value >= range.low && value <= range.high)) refuse(option, fmt::format("'{}'", word), range.allowed);
    values.push_back(value);
  }
  if (values.size() > kMostValues)
    refuse(option, fmt::format("{} values", values.size()), fmt::format("{} at most", kMostValues));
  return values;
}

std::vector<double> rising(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const auto same = [](double a, double b) { return b - a <= kSameLength * b; };
  values.erase(std::unique(values.begin(), values.end(), same), values.end());
  return values;
}

std::string bar_text(double pressure_Pa) { return fmt::format("{:.3g} bar", 1e-5 * pressure_Pa); }

/// Those asked for, or of the usual ones those at which p/G has a curve for every modulus; the others are told.
std::vector<double> pressures_of(const ChartOptions& options, const std::vector<double>& moduli_Pa,
                                 std::string& left_out) {
  constexpr Range kPressures{Dimension::kPressure, 1e3, 1e7, "0.01 bar to 100 bar"};
  const double softest_Pa = moduli_Pa.front(), stiffest_Pa = moduli_Pa.back();
  const bool asked = !options.pressure.empty();
  std::vector<double> inside_Pa, outside_Pa;
  for (const double p_Pa : asked ? read_list("--pressure", options.pressure, kPressures)
                                 : std::vector<double>(kUsualPressures_Pa.begin(), kUsualPressures_Pa.end())) {
    const bool fits = p_Pa / stiffest_Pa >= kLeastOverModulus && p_Pa / softest_Pa <= kMostOverModulus;
    (fits ? inside_Pa : outside_Pa).push_back(p_Pa);
  }
  if (outside_Pa.empty()) return rising(std::move(inside_Pa));
  std::vector<std::string> words;
  for (const double p_Pa : outside_Pa) words.push_back(bar_text(p_Pa));
  const double least_Pa = kLeastOverModulus * stiffest_Pa, most_Pa = kMostOverModulus * softest_Pa;
  const std::string band = softest_Pa < stiffest_Pa ? fmt::format("{:.3g} to ", 1e-6 * softest_Pa) : "";
  const std::string found =
      fmt::format("{} for a shear modulus of {}{:.3g} MPa", fmt::join(words, ", "), band, 1e-6 * stiffest_Pa);
  const std::string allowed = fmt::format("{} to {}, {:g} to {:g} times the modulus", bar_text(least_Pa),
                                          bar_text(most_Pa), kLeastOverModulus, kMostOverModulus);
  if (asked || inside_Pa.empty())
    refuse("--pressure", found, allowed,
           fmt::format("Write for example --pressure \"{}\"", bar_text(std::sqrt(least_Pa * most_Pa))));
  left_out = fmt::format("--pressure: left out {}; charted are {}", found, allowed);
  return rising(std::move(inside_Pa));
}

imprint::StrokeStretch stretch_of(const ChartOptions& options) {
  constexpr Range kStretches{Dimension::kNone, 0.5, 4.0, "0.5 to 4"};
  if (options.stretch.empty()) return {};
  const auto both = read_list("--stretch", options.stretch, kStretches);
  if (both.size() != 2)
    refuse("--stretch", fmt::format("{} numbers", both.size()), "two: across the stroke and along it",
           "Write for example --stretch \"1.2, 1\"");
  const double tension = both[0] * both[0] * both[1];
  if (!(tension >= kLeastTension && tension <= kMostTension))
    refuse("--stretch", fmt::format("across^2 along = {:.3g}", tension),
           fmt::format("{} to {}", kLeastTension, kMostTension),
           "With less the sheet is pressed together across the stroke; for more there is no table");
  return {both[0], both[1]};
}

Question read_question(const ChartOptions& options, const Case& c) {
  constexpr Range kGauges{Dimension::kLength, 0.05e-3, 10e-3, "0.05 mm to 10 mm"};
  constexpr Range kDepths{Dimension::kLength, 0.01e-3, 5e-3, "0.01 mm to 5 mm"};
  Question q;
  if (const auto& band = c.sheet.shear_modulus_Pa; band && band->low < band->high)
    q.moduli_Pa = {band->low, band->likely, band->high};
  else
    q.moduli_Pa = {sheet::small_strain_shear_modulus_Pa(c.sheet.law)};
  q.pressures_Pa = pressures_of(options, q.moduli_Pa, q.left_out);
  std::vector<double> gauges_m(kCommonGauges_m.begin(), kCommonGauges_m.end());
  gauges_m.push_back(c.sheet.thickness_m);
  q.gauges_m = rising(options.thickness.empty() ? gauges_m : read_list("--thickness", options.thickness, kGauges));
  q.depths_m = rising(options.depth.empty() ? std::vector<double>{0.1e-3, 0.2e-3, 0.3e-3, 0.4e-3, 0.5e-3}
                                            : read_list("--depth", options.depth, kDepths));
  q.stretch = stretch_of(options);
  q.share = options.share;
  if (!(q.share >= 0.1 && q.share <= 1.0))
    refuse("--share", fmt::format("{}", q.share), "0.1 to 1",
           "It is the share of the stroke's depth that the sheet has to reach");
  const double thinnest_m = q.thickness_m(q.gauges_m.front());
  if (q.share * q.depths_m.back() > kDeepest * thinnest_m)
    refuse("--depth", fmt::format("{:.3g} mm in sheet of {:.3g} mm", 1e3 * q.depths_m.back(), 1e3 * thinnest_m),
           fmt::format("{} thicknesses at most", kDeepest));
  const double wanted_Pa = largest_pressure_Pa(c).value_or(q.pressures_Pa[q.pressures_Pa.size() / 2]);
  q.case_pressure_Pa = *std::min_element(q.pressures_Pa.begin(), q.pressures_Pa.end(), [wanted_Pa](double a, double b) {
    return std::fabs(a - wanted_Pa) < std::fabs(b - wanted_Pa);
  });
  return q;
}

std::vector<StrokeCurve> compute(const Question& q, bool quiet) {
  imprint::ChartTask task;
  for (const double pressure_Pa : q.pressures_Pa)
    for (const double modulus_Pa : q.moduli_Pa) task.pressures_over_modulus.push_back(pressure_Pa / modulus_Pa);
  task.stretch = q.stretch;
  task.shallowest = q.share * q.depths_m.front() / q.thickness_m(q.gauges_m.back());
  task.deepest = q.share * q.depths_m.back() / q.thickness_m(q.gauges_m.front());
  const bool renews = !quiet && look_at(2).is_terminal;
  if (renews) {
    task.progress = [](double share) {
      fmt::print(stderr, "\r{:3.0f} % of the curves\x1b[K", 100.0 * share);
      std::fflush(stderr);
    };
  }
  auto curves = imprint::stroke_curves(task);
  if (renews) fmt::print(stderr, "\r\x1b[K");
  return curves;
}

std::string why_not(const StrokeCurve& curve, double thickness_m) {
  if (curve.end() == ChartEnd::kNoBalance) {
    if (curve.points().empty()) return "the sheet finds no balance: the floor decides";
    return fmt::format("wider than {:.3g} mm the sheet finds no balance: the floor decides",
                       1e3 * thickness_m * curve.points().back().width_over_thickness);
  }
  return fmt::format("not with strokes up to {:.3g} mm, {:.0f} thicknesses", 1e3 * thickness_m * imprint::kWidestStroke,
                     imprint::kWidestStroke);
}

Cell cell_of(const Chart& chart, double gauge_m, std::size_t pressure, std::size_t modulus, double depth_m) {
  const Question& q = chart.question;
  const StrokeCurve& curve = chart.curve(pressure, modulus);
  const double thickness_m = q.thickness_m(gauge_m);
  Cell cell{gauge_m, q.pressures_Pa[pressure], q.moduli_Pa[modulus], depth_m, {}, curve.model(), ""};
  if (const auto width = curve.width_over_thickness(q.share * depth_m / thickness_m))
    cell.width_m = *width * thickness_m;
  else
    cell.note = why_not(curve, thickness_m);
  return cell;
}

std::vector<Cell> all_cells(const Chart& chart) {
  const Question& q = chart.question;
  std::vector<Cell> cells;
  for (const double gauge_m : q.gauges_m)
    for (std::size_t i = 0; i < q.pressures_Pa.size(); ++i)
      for (std::size_t j = 0; j < q.moduli_Pa.size(); ++j)
        for (const double depth_m : q.depths_m) cells.push_back(cell_of(chart, gauge_m, i, j, depth_m));
  return cells;
}

std::string model_word(const Cell& cell) {
  if (!cell.width_m) return "none";
  return cell.model == ChartModel::kLayer ? "layer" : "section";
}

std::string csv(const Chart& chart) {
  const Question& q = chart.question;
  std::string out = std::string(results::kChartTable) +
                    ",stretch_across,stretch_along,share,depth_mm,narrowest_stroke_mm,model,note\n";
  for (const Cell& c : all_cells(chart)) {
    out +=
        fmt::format("{:.6g},{:.6g},{:.6g},{:.6g},{:.6g},{:.6g},{:.6g},{:.6g},{},{},{}\n", 1e3 * c.gauge_m,
                    1e3 * q.thickness_m(c.gauge_m), 1e-6 * c.pressure_Pa, 1e-6 * c.modulus_Pa, q.stretch.across,
                    q.stretch.along, q.share, 1e3 * c.depth_m, c.width_m ? fmt::format("{:.6g}", 1e3 * *c.width_m) : "",
                    model_word(c), c.note.empty() ? "" : '"' + c.note + '"');
  }
  return out;
}

std::string json(const Chart& chart) {
  const Question& q = chart.question;
  results::Json json;
  json.open_object().key("title").text(chart.title);
  json.key("stretch_across").number(q.stretch.across).key("stretch_along").number(q.stretch.along);
  json.key("share").number(q.share).key("strokes").open_list();
  for (const Cell& c : all_cells(chart)) {
    json.open_object().key("gauge_mm").number(1e3 * c.gauge_m);
    json.key("thickness_mm").number(1e3 * q.thickness_m(c.gauge_m));
    json.key("pressure_MPa").number(1e-6 * c.pressure_Pa).key("shear_modulus_MPa").number(1e-6 * c.modulus_Pa);
    json.key("depth_mm").number(1e3 * c.depth_m).key("narrowest_stroke_mm");
    if (c.width_m)
      json.number(1e3 * *c.width_m);
    else
      json.null();
    json.key("model").text(model_word(c)).key("note").text(c.note).close_object();
  }
  return json.close_list().close_object().finish();
}

/// "0.62 (0.35-1.10)", the band from the soft to the stiff end of the modulus; "?": none found.
std::string cell_text(const Chart& chart, double gauge_m, std::size_t pressure, double depth_m) {
  const auto width = [&](std::size_t modulus) {
    const Cell cell = cell_of(chart, gauge_m, pressure, modulus, depth_m);
    if (!cell.width_m) return std::string("?");
    const double width_mm = 1e3 * *cell.width_m;
    return fmt::format("{:.{}f}{}", width_mm, width_mm < 9.995 ? 2 : 1, cell.model == ChartModel::kLayer ? "'" : "");
  };
  const Question& q = chart.question;
  std::string text = width(q.likely());
  if (q.moduli_Pa.size() == 3) text += fmt::format(" ({}-{})", width(0), width(2));
  return text;
}

std::string table_text(const Chart& chart) {
  const Question& q = chart.question;
  std::string out = fmt::format("{}\nNarrowest straight stroke in mm, between its walls, that forms to {}; ",
                                chart.title, q.share < 1.0 ? fmt::format("{:.3g} of its depth", q.share) : "its depth");
  out += fmt::format("shear modulus {:.3g} MPa", 1e-6 * q.moduli_Pa[q.likely()]);
  if (q.moduli_Pa.size() == 3)
    out += fmt::format(", in brackets from {:.3g} to {:.3g} MPa", 1e-6 * q.moduli_Pa[0], 1e-6 * q.moduli_Pa[2]);
  out += fmt::format("\nStretched {:.3g} across the stroke, {:.3g} along it\n", q.stretch.across, q.stretch.along);
  const int column = q.moduli_Pa.size() == 3 ? 20 : 10;
  for (const double gauge_m : q.gauges_m) {
    out += fmt::format("\nsheet of {:.3g} mm", 1e3 * gauge_m);
    const double thickness_m = q.thickness_m(gauge_m);
    if (std::fabs(thickness_m - gauge_m) > kSameLength * gauge_m)
      out += fmt::format(", {:.3g} mm thick when stretched", 1e3 * thickness_m);
    out += "\n  depth   ";
    for (const double pressure_Pa : q.pressures_Pa) out += fmt::format("  {:<{}}", bar_text(pressure_Pa), column);
    for (const double depth_m : q.depths_m) {
      out += fmt::format("\n  {:<8}", fmt::format("{:.3g} mm", 1e3 * depth_m));
      for (std::size_t i = 0; i < q.pressures_Pa.size(); ++i)
        out += fmt::format("  {:<{}}", cell_text(chart, gauge_m, i, depth_m), column);
    }
    out += "\n";
  }
  // Blanks at the ends of lines are of no use.
  for (std::size_t at = out.find(" \n"); at != std::string::npos; at = out.find(" \n", at == 0 ? 0 : at - 1))
    out.erase(at, 1);
  return out +
         fmt::format(
             "\n?: no stroke up to {:.0f} thicknesses is wide enough, or the sheet finds no balance and the floor "
             "decides\n': by layer theory, within {:.0f} %; all others by sections, within {:.0f} %, where the "
             "sheet sticks and is evenly hot\n",
             imprint::kWidestStroke, 100.0 * kLayerError, 100.0 * kSectionError);
}

/// Depth against width up to where the curve ends, in mm.
std::vector<report::PlotPoint> drawn(const Chart& chart, double gauge_m, std::size_t pressure, std::size_t modulus,
                                     double deepest_mm) {
  const StrokeCurve& curve = chart.curve(pressure, modulus);
  const double thickness_mm = 1e3 * chart.question.thickness_m(gauge_m);
  std::vector<report::PlotPoint> points;
  constexpr int kSteps = 100;
  for (int k = 1; k <= kSteps; ++k) {
    const double depth_mm = deepest_mm * k / kSteps;
    const auto width = curve.width_over_thickness(chart.question.share * depth_mm / thickness_mm);
    if (!width) break;
    points.push_back({*width * thickness_mm, depth_mm});
  }
  return points;
}

/// Of more pressures than can be told apart, some, evenly spread.
std::vector<std::size_t> pressures_drawn(const Question& q) {
  std::vector<std::size_t> some;
  const std::size_t n = q.pressures_Pa.size(), most = std::min(n, kMostCurvesDrawn);
  for (std::size_t k = 0; k < most; ++k) some.push_back(most == 1 ? 0 : k * (n - 1) / (most - 1));
  return some;
}

report::PlotPanel panel_of(const Chart& chart, double gauge_m) {
  const Question& q = chart.question;
  const double deepest_mm = 1e3 * q.depths_m.back();
  report::PlotPanel panel{fmt::format("sheet of {:.3g} mm", 1e3 * gauge_m),
                          {"width of the stroke (mm)", 0.1, 1.0, true},
                          {"depth of the stroke (mm)", 0.0, deepest_mm},
                          {},
                          {}};
  for (const std::size_t i : pressures_drawn(q)) {
    report::PlotCurve curve{bar_text(q.pressures_Pa[i]), drawn(chart, gauge_m, i, q.likely(), deepest_mm)};
    if (curve.points.empty()) continue;
    panel.curves.push_back(std::move(curve));
  }
  const auto of_case = static_cast<std::size_t>(
      std::find(q.pressures_Pa.begin(), q.pressures_Pa.end(), q.case_pressure_Pa) - q.pressures_Pa.begin());
  if (q.moduli_Pa.size() == 3) {
    const auto soft = drawn(chart, gauge_m, of_case, 0, deepest_mm),
               stiff = drawn(chart, gauge_m, of_case, 2, deepest_mm);
    if (soft.size() > 1 && stiff.size() > 1) {
      panel.bands.push_back({fmt::format("{}, shear modulus {:.3g} to {:.3g} MPa", bar_text(q.case_pressure_Pa),
                                         1e-6 * q.moduli_Pa[0], 1e-6 * q.moduli_Pa[2]),
                             soft, stiff});
    }
  }
  return panel;
}

std::string picture(const Chart& chart) {
  const Question& q = chart.question;
  report::Figure figure{"Narrowest stroke for a depth", {}, {}};
  for (const double gauge_m : q.gauges_m) figure.panels.push_back(panel_of(chart, gauge_m));
  // One scale for all, from the numbers: panels are there to be compared.
  double low = 1e300, high = 0.0;
  for (const report::PlotPanel& panel : figure.panels) {
    for (const report::PlotCurve& curve : panel.curves) {
      const std::size_t start = curve.points.size() / 5;  // the first fifth of the depths is hardly looked at
      low = std::min(low, curve.points[start].x);
      high = std::max(high, curve.points.back().x);
    }
  }
  for (report::PlotPanel& panel : figure.panels) {
    if (!(high > low)) continue;
    panel.x.low = 0.8 * low;
    panel.x.high = 1.2 * high;
  }
  figure.notes = {
      chart.title,
      fmt::format("Curves: shear modulus {:.3g} MPa. Stretched {:.3g} across the stroke, {:.3g} along it. Share "
                  "of the depth: {:.3g}.",
                  1e-6 * q.moduli_Pa[q.likely()], q.stretch.across, q.stretch.along, q.share),
      "A stroke right of its curve forms to the depth. Evenly hot sheet that sticks; straight, isolated strokes."};
  return report::svg(figure);
}

}  // namespace

int chart_command(const ChartOptions& options) {
  const cases::ParsedCase parsed = cases::parse_case(options.case_path);
  Chart chart{parsed.value.title, read_question(options, parsed.value), {}};
  std::optional<results::ResultFolder> folder;
  if (options.out) folder.emplace(*options.out, options.force, input_files(parsed));
  if (!options.quiet) {
    for (const std::string& warning : parsed.warnings) fmt::print(stderr, "warning: {}\n", warning);
    if (!chart.question.left_out.empty()) fmt::print(stderr, "warning: {}\n", chart.question.left_out);
  }
  chart.curves = compute(chart.question, options.quiet);
  if (folder) {
    folder->write("chart.csv", csv(chart));  // first: by it the folder is known as ours
    folder->write("chart.svg", picture(chart));
  }
  fmt::print("{}", options.json ? json(chart) : table_text(chart));
  if (folder && !options.json) fmt::print("\nwritten: {}, chart.svg\n", (folder->path() / "chart.csv").string());
  return 0;
}

}  // namespace pellicle::commands
