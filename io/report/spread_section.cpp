// How does the page tell between which values the answers lie?
#include "io/report/spread_section.h"

#include "io/report/html.h"

#include <fmt/format.h>

namespace pellicle::report {
namespace {

std::string answer_row(const std::string& name, double value, const std::string& unit, const checks::Band& band) {
  return fmt::format(
      "<tr><td>{}</td><td class=\"number\">{}</td><td class=\"number\">{}</td><td class=\"number\">{}</td>"
      "<td>{}</td></tr>\n",
      escaped(name), escaped(number_text(band.low, unit)), escaped(number_text(value, unit)),
      escaped(number_text(band.high, unit)), escaped(band.moved_by.empty() ? "none of them" : band.moved_by));
}

std::string answers(const CaseResult& result) {
  std::string rows;
  for (const checks::Finding& f : result.findings)
    if (f.band) rows += answer_row(f.question.empty() ? f.id : f.question, f.value, f.unit, *f.band);
  for (const ReliefResult& relief : result.reliefs)
    if (relief.capture_band)
      rows +=
          answer_row("Relief " + relief.answer.name + ", capture", relief.answer.capture, "-", *relief.capture_band);
  if (rows.empty()) return "<p>No band was found.</p>\n";
  return "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Bands of the answers\"><table>"
         "<thead><tr><th>Answer</th><th>low</th><th>likely</th><th>high</th><th>moved most "
         "by</th></tr></thead><tbody>\n" +
         rows + "</tbody></table></div>\n";
}

}  // namespace

std::string spread_section(const results::Summary& summary) {
  if (!summary.spread) return "";
  const SpreadReport& report = *summary.spread;
  std::string out =
      "<section id=\"spread\" aria-labelledby=\"spread-title\">\n<h2 id=\"spread-title\">Low, likely, high</h2>\n" +
      answers(summary.result);
  out += fmt::format(
      "<p>One number at a time went to either end of its band{}; changes either way are added as the root of the sum "
      "of "
      "their squares. {} of {} side runs came to their end.</p>\n<ul>\n",
      report.element_m > 0.0 ? fmt::format(", formed anew with elements of {:.3g} mm", 1e3 * report.element_m) : "",
      report.side_runs, report.wanted);
  for (const SpreadReport::Number& n : report.numbers)
    out +=
        fmt::format("<li>{}: {} to {} ({})</li>\n", escaped(n.name), escaped(n.low), escaped(n.high), escaped(n.why));
  return out + "</ul>\n</section>\n";
}

}  // namespace pellicle::report
