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
  for (const checks::Finding& f : result.findings) {
    const std::string unit = f.unit == "-" ? "" : f.unit;
    if (f.band) lines.push_back({f.id, unit, f.value, &*f.band});
    if (f.limit_band) lines.push_back({f.id + ", its limit", unit, *f.limit, &*f.limit_band});
  }
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

std::string moved_text(const checks::Band& band) {
  if (band.moved_by.empty()) return "nothing that was varied";
  std::string out = band.moved_by;
  for (const std::string& name : band.moved_too) out += ", " + name;
  return out;
}

std::vector<Mover> movers(const CaseResult& result, const SpreadReport& report) {
  std::vector<Mover> all;
  for (const SpreadReport::Number& number : report.numbers) all.push_back({&number, 0});
  for (const Line& line : lines_of(result))
    for (Mover& mover : all) mover.moves += mover.number->name == line.band->moved_by ? 1 : 0;
  std::stable_sort(all.begin(), all.end(), [](const Mover& a, const Mover& b) { return a.moves > b.moves; });
  return all;
}

std::string done_text(const SpreadReport& report) {
  std::string out = fmt::format("{} of {} side runs", report.side_runs, report.wanted);
  if (report.formed > 0)
    out += fmt::format(", {} of them formed anew with elements of {:.3g} mm", report.formed, 1e3 * report.element_m);
  return out;
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
  std::string unmoved;
  for (const Line& line : lines) {
    if (line.band->moved_by.empty()) {
      unmoved += fmt::format("{}{}", unmoved.empty() ? "" : ", ", line.name);
      continue;
    }
    out += fmt::format("{:<{}}  {:>8}  {:>8}  {:>8}  {:<7}{}{}\n", line.name, name, in_words(line.band->low),
                       in_words(line.value), in_words(line.band->high), line.unit, is_wide ? "  " : "\n    ",
                       moved_text(*line.band));
  }
  if (!unmoved.empty()) out += "Moved by nothing that was varied: " + unmoved + ".\n";
  if (lines.empty()) out += "Spread: no answer has a band.\n";
  out += "\nA range to plan by, not a guarantee. One number at a time went to either end of its band:\n" +
         done_text(report) + ".\n";
  const std::vector<Mover> all = movers(result, report);
  const bool any = !all.empty() && all.front().moves > 0;
  if (any) out += "What to measure first, by how many answers it moves most:\n";
  bool told = false;
  for (const auto& [number, moves] : all) {
    if (moves == 0 && !told) out += any ? "Varied too, and first for no answer:\n" : "Varied:\n", told = true;
    out += fmt::format("  {}{}: {} to {}\n", moves > 0 ? fmt::format("{:>2}  ", moves) : "", number->name, number->low,
                       number->high);
  }
  return out;
}

void add_band(Json& json, const checks::Band& band, const std::string& prefix, const std::string& moved_by) {
  json.key(prefix + "low").number(band.low).key(prefix + "high").number(band.high).key(moved_by).text(band.moved_by);
  json.key(prefix + "moved_too").open_list();
  for (const std::string& name : band.moved_too) json.text(name);
  json.close_list();
}

void add_spread(Json& json, const SpreadReport& report) {
  json.key("spread").open_object();
  json.key("element_mm").number(1e3 * report.element_m);
  json.key("side_runs").whole(report.side_runs).key("wanted").whole(report.wanted);
  json.key("formed").whole(report.formed).key("stopped").flag(report.stopped);
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
