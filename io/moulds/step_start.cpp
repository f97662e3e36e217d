// What does a STEP file say of itself before any library reads it?
#include "io/moulds/step.h"
#include "io/moulds/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <set>
#include <utility>

namespace pellicle::moulds {
namespace {

constexpr std::size_t kLargestStep_bytes = 200'000'000;  // Open CASCADE takes some twenty times as much in memory

bool is_blank(char c) { return std::isspace(static_cast<unsigned char>(c)) != 0; }

/// The next statement, up to its semicolon, without blanks and in capitals: as units are written, whoever wrote them.
/// Texts in quotes and remarks keep their semicolons to themselves. Empty at the end.
std::string next_statement(std::string_view text, std::size_t& at) {
  std::string statement;
  for (bool in_text = false; at < text.size(); ++at) {
    const char c = text[at];
    if (!in_text && text.substr(at, 2) == "/*") {
      const std::size_t end = text.find("*/", at + 2);
      if (end == std::string_view::npos) {
        at = text.size();
        return {};
      }
      at = end + 1;
      continue;
    }
    if (c == '\'') in_text = !in_text;
    if (c == ';' && !in_text) {
      ++at;
      return statement.empty() ? ";" : statement;
    }
    if (!is_blank(c)) statement += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  }
  return {};
}

/// "mm" from the statement of a unit of length; empty from any other.
std::string length_unit_in(const std::string& statement) {
  const std::size_t equals = statement.find('=');  // units are of several types at once: #1=(LENGTH_UNIT()...)
  if (equals == std::string::npos || statement.compare(equals, 2, "=(") != 0) return {};
  if (statement.find("LENGTH_UNIT()") == std::string::npos) return {};
  constexpr std::array<std::pair<std::string_view, const char*>, 9> kWords{
      {{"CONVERSION_BASED_UNIT('INCH'", "in"},
       {"CONVERSION_BASED_UNIT('FOOT'", "ft"},
       {"CONVERSION_BASED_UNIT('MIL'", "mil"},
       {"CONVERSION_BASED_UNIT('MILLIMETRE'", "mm"},
       {"SI_UNIT(.MILLI.,.METRE.)", "mm"},
       {"SI_UNIT(.CENTI.,.METRE.)", "cm"},
       {"SI_UNIT(.MICRO.,.METRE.)", "um"},
       {"SI_UNIT($,.METRE.)", "m"},
       {"CONVERSION_BASED_UNIT(", "another unit"}}};
  for (const auto& [words, unit] : kWords) {
    if (statement.find(words) != std::string::npos) return unit;
  }
  return "another unit";
}

}  // namespace

StepStart look_at_step(std::string_view text, const std::string& name) {
  if (text.empty()) refuse(name, "an empty file", "a whole STEP file", kExportAgain);
  if (text.size() > kLargestStep_bytes) {
    refuse(name, fmt::format("{:.0f} MB", static_cast<double>(text.size()) * 1e-6),
           fmt::format("up to {} MB", kLargestStep_bytes / 1'000'000), "Export it as STL");
  }
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  if (!text.starts_with("ISO-10303-21")) {
    refuse(name + ":1", shown(text.substr(0, text.find_first_of(" \t\r\n"))), "\"ISO-10303-21;\"",
           "Is this a STEP file?");
  }
  if (const std::size_t zero = text.find('\0'); zero != std::string_view::npos) {
    const auto line = 1 + std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(zero), '\n');
    refuse(fmt::format("{}:{}", name, line), "a zero byte", "text", kExportAgain);
  }
  std::set<std::string> plain, converted;
  bool is_whole = false;
  std::size_t at = 0;
  for (std::string s = next_statement(text, at); !s.empty(); s = next_statement(text, at)) {
    is_whole = s == "END-ISO-10303-21";
    if (is_whole) break;
    const std::string unit = length_unit_in(s);
    if (unit.empty()) continue;
    (s.find("CONVERSION_BASED_UNIT") == std::string::npos ? plain : converted).insert(unit);
  }
  if (!is_whole) {
    refuse(fmt::format("{}:{}", name, 1 + std::count(text.begin(), text.end(), '\n')), "the end of the file",
           "\"END-ISO-10303-21;\"", kExportAgain);
  }
  // A unit made by conversion stands beside the one it is made from, which is not that of the lengths then.
  const std::set<std::string>& units = converted.empty() ? plain : converted;
  return {units.size() == 1 && *units.begin() != "another unit" ? *units.begin() : std::string{}};
}

}  // namespace pellicle::moulds
