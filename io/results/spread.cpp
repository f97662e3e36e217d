// How are the bands of the answers told? On the terminal and in summary.json.
#include "io/results/spread.h"

#include <fmt/format.h>

#include <algorithm>
#include <string_view>
#include <vector>

namespace pellicle::results {
namespace {

struct Line {
  std::string name, unit;
  double value;
  const checks::Band* band;
};

std::vector<Line> lines_of(const CaseResult& result) {
  std::vector<Line> lines;
  for (const checks::Finding& f : result.findings)
    if (f.band) lines.push_back({f.id, f.unit == "-" ? "" : f.unit, f.value, &*f.band});
  for (const ReliefResult& relief : result.reliefs)
    if (relief.capture_band)
      lines.push_back({relief.answer.name + ", capture", "", relief.answer.capture, &*relief.capture_band});
  return lines;
}

std::string in_words(double value) { return fmt::format("{:.3g}", value); }

}  // namespace

std::string band_text(const checks::Band& band) {
  return fmt::format("{} to {}", in_words(band.low), in_words(band.high));
}

std::string spread_text(const CaseResult& result, const SpreadReport& report, int width) {
  const std::vector<Line> lines = lines_of(result);
  std::string out;
  std::size_t name = 0;
  for (const Line& line : lines) name = std::max(name, line.name.size());
  if (!lines.empty())
    out +=
        fmt::format("{:<{}}  {:>8}  {:>8}  {:>8}  {:<7}  moved most by\n", "Spread", name, "low", "likely", "high", "");
  const bool is_wide = name + 42 + 40 <= static_cast<std::size_t>(std::max(width, 0));
  for (const Line& line : lines) {
    std::string row = fmt::format("{:<{}}  {:>8}  {:>8}  {:>8}  {:<7}", line.name, name, in_words(line.band->low),
                                  in_words(line.value), in_words(line.band->high), line.unit);
    const std::string by = line.band->moved_by.empty() ? "none of them" : line.band->moved_by;
    row += is_wide ? "  " + by : "\n    " + by;
    out += row + "\n";
  }
  if (!lines.empty()) out += "\n";
  out += "One number at a time went to either end of its band";
  if (report.element_m > 0.0) out += fmt::format(", formed anew with elements of {:.3g} mm", 1e3 * report.element_m);
  out += fmt::format("; {} of {} side runs.\n", report.side_runs, report.wanted);
  for (const SpreadReport::Number& number : report.numbers)
    out += fmt::format("  {}: {} to {}\n", number.name, number.low, number.high);
  return out;
}

void add_band(Json& json, const checks::Band& band, const std::string& prefix) {
  json.key(prefix + "low").number(band.low).key(prefix + "high").number(band.high).key("moved_by").text(band.moved_by);
}

void add_spread(Json& json, const SpreadReport& report) {
  json.key("spread").open_object();
  json.key("element_mm").number(1e3 * report.element_m);
  json.key("side_runs").whole(report.side_runs).key("wanted").whole(report.wanted).key("stopped").flag(report.stopped);
  json.key("numbers").open_list();
  for (const SpreadReport::Number& number : report.numbers) {
    json.open_object().key("name").text(number.name).key("low").text(number.low);
    json.key("high").text(number.high).key("why").text(number.why).close_object();
  }
  json.close_list();
  for (const auto& [key, texts] : {std::pair<const char*, const std::vector<std::string>&>{"failures", report.failures},
                                   {"remarks", report.remarks}}) {
    json.key(key).open_list();
    for (const std::string& text : texts) json.text(text);
    json.close_list();
  }
  json.close_object();
}

}  // namespace pellicle::results
