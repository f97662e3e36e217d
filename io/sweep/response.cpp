// How does each answer follow what was varied?
#include "io/sweep/response.h"

#include "io/report/html.h"
#include "io/report/plot.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <utility>
#include <vector>

namespace pellicle::sweep {
namespace {

using report::PlotAxis;
using report::PlotCurve;
using report::PlotPoint;

constexpr std::size_t kMostCurves = 5;  // the plot tells six apart; one is for the limit

/// Where the values of a key stand on its axis.
struct Places {
  std::vector<std::string> texts;  ///< of the values, in the order of the sweep
  bool are_numbers = true;         ///< else the n-th value stands at n
  double at(const Entry& entry, std::size_t key) const {
    if (are_numbers) return entry.numbers[key];
    return static_cast<double>(std::find(texts.begin(), texts.end(), entry.values[key]) - texts.begin()) + 1.0;
  }
};

Places places_of(const Gathered& gathered, std::size_t key) {
  Places places;
  for (const Row& row : gathered.rows) {
    const std::string& text = row.entry.values[key];
    if (std::find(places.texts.begin(), places.texts.end(), text) == places.texts.end()) places.texts.push_back(text);
    places.are_numbers = places.are_numbers && std::isfinite(row.entry.numbers[key]);
  }
  return places;
}

/// The values of all other keys: what a curve holds fixed.
std::string others_of(const Entry& entry, std::size_t key) {
  std::string text;
  for (std::size_t k = 0; k < entry.values.size(); ++k)
    if (k != key) text += fmt::format("{}{}", text.empty() ? "" : ", ", entry.values[k]);
  return text;
}

/// In the order in which they come first.
std::vector<PlotCurve> curves_of(const Gathered& gathered, const std::string& id, std::size_t key,
                                 const Places& places) {
  std::vector<PlotCurve> curves;
  for (const Row& row : gathered.rows) {
    const checks::Finding* finding = find_finding(row, id);
    if (finding == nullptr || !std::isfinite(finding->value)) continue;
    const std::string others = others_of(row.entry, key), name = others.empty() ? "every case" : others;
    auto curve = std::find_if(curves.begin(), curves.end(), [&](const PlotCurve& c) { return c.name == name; });
    if (curve == curves.end()) curve = curves.insert(curves.end(), {name, {}});
    curve->points.push_back({places.at(row.entry, key), finding->value});
  }
  for (PlotCurve& curve : curves)
    std::stable_sort(curve.points.begin(), curve.points.end(), [](auto& a, auto& b) { return a.x < b.x; });
  return curves;
}

/// Least, middle and largest of what many curves have at each place.
std::vector<PlotCurve> gist_of(const std::vector<PlotCurve>& curves) {
  std::map<double, std::vector<double>> at;
  for (const PlotCurve& curve : curves)
    for (const PlotPoint& p : curve.points) at[p.x].push_back(p.y);
  std::vector<PlotCurve> gist{{"largest", {}}, {"middle", {}}, {"least", {}}};
  for (auto& [x, values] : at) {
    std::sort(values.begin(), values.end());
    gist[0].points.push_back({x, values.back()});
    gist[1].points.push_back({x, values[values.size() / 2]});
    gist[2].points.push_back({x, values.front()});
  }
  return gist;
}

/// The limit where all cases that answer have the same.
std::optional<double> limit_of(const Gathered& gathered, const std::string& id) {
  std::optional<double> limit;
  for (const Row& row : gathered.rows) {
    const checks::Finding* finding = find_finding(row, id);
    if (finding == nullptr) continue;
    if (!finding->limit || (limit && *limit != *finding->limit)) return std::nullopt;
    limit = finding->limit;
  }
  return limit;
}

/// From the least to the largest with some room; least < largest also where all are the same.
PlotAxis axis_over(std::string title, const std::vector<PlotCurve>& curves, double PlotPoint::*which) {
  double low = curves.front().points.front().*which, high = low;
  for (const PlotCurve& curve : curves)
    for (const PlotPoint& p : curve.points) {
      low = std::min(low, p.*which);
      high = std::max(high, p.*which);
    }
  const double room = high > low ? 0.06 * (high - low) : std::max(0.1 * std::abs(high), 1e-6);
  return {std::move(title), low - room, high + room, false};
}

std::string caption_of(const Gathered& gathered, std::size_t key, const Places& places, bool is_gist,
                       std::size_t answers) {
  const std::vector<ManifestKey>& keys = gathered.manifest.keys;
  std::string text;
  if (!places.are_numbers) {
    text += fmt::format("{}: ", keys[key].path);
    for (std::size_t i = 0; i < places.texts.size(); ++i)
      text += fmt::format("{}{} {}", i == 0 ? "" : ", ", i + 1, places.texts[i]);
    text += ". ";
  }
  std::string others;
  for (std::size_t k = 0; k < keys.size(); ++k)
    if (k != key) others += fmt::format("{}{}", others.empty() ? "" : ", ", keys[k].path);
  if (is_gist) text += fmt::format("Least, middle and largest over {}. ", others);
  if (!is_gist && !others.empty()) text += fmt::format("A curve for each {}. ", others);
  if (answers < gathered.rows.size())
    text += fmt::format("{} of {} cases have an answer. ", answers, gathered.rows.size());
  return text;
}

}  // namespace

std::string response_figure(const Gathered& gathered, const std::string& id, std::size_t key, int number) {
  const Places places = places_of(gathered, key);
  std::vector<PlotCurve> curves = curves_of(gathered, id, key, places);
  std::size_t answers = 0;
  for (const PlotCurve& curve : curves) answers += curve.points.size();
  const bool is_gist = curves.size() > kMostCurves;
  if (is_gist) curves = gist_of(curves);
  if (curves.empty()) return "";
  const ManifestKey& varied = gathered.manifest.keys[key];
  const bool has_unit = places.are_numbers && !varied.unit.empty();
  report::PlotPanel panel;
  panel.x = axis_over(has_unit ? fmt::format("{} ({})", varied.path, varied.unit) : varied.path, curves, &PlotPoint::x);
  const bool spreads = std::any_of(curves.begin(), curves.end(),
                                   [](const PlotCurve& c) { return c.points.front().x < c.points.back().x; });
  if (!spreads) return "";
  if (const auto limit = limit_of(gathered, id))
    curves.push_back({"limit", {{panel.x.low, *limit}, {panel.x.high, *limit}}});
  std::string unit;
  for (const Row& row : gathered.rows)
    if (const checks::Finding* finding = find_finding(row, id)) unit = finding->unit;
  std::string words = id;
  std::replace(words.begin(), words.end(), '_', ' ');
  panel.y = axis_over(unit == "-" ? words : fmt::format("{} ({})", words, unit), curves, &PlotPoint::y);
  panel.curves = std::move(curves);
  report::Figure figure;
  figure.title = words;
  figure.frames = fmt::format("response{}-", number);
  figure.panels = {std::move(panel)};
  const std::string caption = caption_of(gathered, key, places, is_gist, answers);
  return fmt::format("<figure class=\"plot\">\n{}<figcaption>{}</figcaption>\n</figure>\n", report::svg(figure),
                     report::escaped(caption));
}

}  // namespace pellicle::sweep
