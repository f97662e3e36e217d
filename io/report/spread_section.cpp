// How does the page tell between which values the answers lie?
#include "io/report/spread_section.h"

#include "io/report/html.h"
#include "io/results/spread.h"

#include <fmt/format.h>

namespace pellicle::report {
namespace {

std::string answer_row(const std::string& name, double value, const std::string& unit, const checks::Band& band) {
  return fmt::format(
      "<tr><td>{}</td><td class=\"number\">{}</td><td class=\"number\">{}</td><td class=\"number\">{}</td>"
      "<td>{}</td></tr>\n",
      escaped(name), escaped(number_text(band.low, unit)), escaped(number_text(value, unit)),
      escaped(number_text(band.high, unit)), escaped(results::moved_text(band)));
}

std::string answers(const CaseResult& result) {
  std::string rows;
  for (const checks::Finding& f : result.findings) {
    const std::string& name = f.question.empty() ? f.id : f.question;
    if (f.band) rows += answer_row(name, f.value, f.unit, *f.band);
    if (f.limit_band) rows += answer_row("Limit of: " + name, *f.limit, f.unit, *f.limit_band);
  }
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
      "<p>A range to plan by, not a guarantee. One number at a time went to either end of its band ({}); changes "
      "either "
      "way are added as the root of the sum of their squares.</p>\n"
      "<p>What was varied, and how many answers and limits it moves most, the most worth measuring first:</p>\n<ul>\n",
      results::done_text(report));
  for (const auto& [n, moves] : results::movers(summary.result, report))
    out += fmt::format("<li>{}{}: {} to {} ({})</li>\n", moves > 0 ? fmt::format("<strong>{}</strong> ", moves) : "",
                       escaped(n->name), escaped(n->low), escaped(n->high), escaped(n->why));
  return out + "</ul>\n</section>\n";
}

}  // namespace pellicle::report
