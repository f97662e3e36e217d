// How is text put into a page? Escaped for HTML, SVG and scripts, and numbers as a person reads them.
#include "io/report/html.h"

#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace pellicle::report {

std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : text) {
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      case '\n':
      case '\t':
        out += c;
        break;
      default:
        out += static_cast<unsigned char>(c) < 0x20U ? ' ' : c;
    }
  }
  return out;
}

std::string inside_script(std::string json) {
  std::string out;
  out.reserve(json.size());
  for (const char c : json) {
    if (c == '<')
      out += "\\u003c";  // stands inside a JSON text, or nowhere
    else
      out += c;
  }
  return out;
}

std::string number_text(double value) {
  if (!std::isfinite(value)) return "no answer";
  return std::abs(value) < 1000.0 ? fmt::format("{:.3g}", value) : fmt::format("{:.0f}", value);
}

std::string number_text(double value, std::string_view unit) {
  return unit.empty() || unit == "-" || !std::isfinite(value) ? number_text(value)
                                                              : fmt::format("{} {}", number_text(value), unit);
}

std::string value_text(const checks::Finding& finding) {
  return std::isfinite(finding.value) ? number_text(finding.value, finding.unit) : checks::without_number(finding);
}

std::string filled(std::string_view page, const std::vector<std::pair<std::string, std::string>>& texts) {
  std::string out;
  while (true) {
    const std::size_t start = page.find("{{"), end = page.find("}}", start);
    out += page.substr(0, start);
    if (start == std::string_view::npos) return out;
    ensure(end != std::string_view::npos, "a place in a template is closed");
    const std::string_view name = page.substr(start + 2, end - start - 2);
    const auto text = std::find_if(texts.begin(), texts.end(), [&](const auto& t) { return t.first == name; });
    ensure(text != texts.end(), "each place in a template has a text");
    out += text->second;
    page.remove_prefix(end + 2);
  }
}

}  // namespace pellicle::report
