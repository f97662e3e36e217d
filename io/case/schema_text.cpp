// How is a key explained? What may be written and what holds without it, in words for messages and for the reference.
#include "io/case/schema.h"

#include <fmt/format.h>

#include <cmath>

namespace pellicle::cases {
namespace {

std::string range_text(const Key& key) {
  const bool bounded = std::isfinite(key.low) && std::isfinite(key.high);
  if (!bounded) return "";
  const auto shown = [&](double value) {
    if (key.unit.empty()) return fmt::format("{:.6g}", value);
    return fmt::format("{:.6g}{}{}", value, key.unit == "°" ? "" : " ", key.unit);
  };
  return shown(key.low) + " to " + shown(key.high);
}

std::string joined(const std::vector<std::string>& words) {
  std::string text;
  for (const std::string& word : words) text += (text.empty() ? "" : ", ") + word;
  return text;
}

std::string single_text(const Key& key) {
  switch (key.kind) {
    case Kind::kTable:
      return "a table";
    case Kind::kTables:
      return "a list of tables";
    case Kind::kText:
      return "a text that is not empty";
    case Kind::kLines:
      return "a text that is not empty, of one line or more";
    case Kind::kWord:
      return "one of " + joined(words_of(key));
    case Kind::kFlag:
      return "true or false";
    case Kind::kWhole:
      return "a whole number, " + range_text(key);
    case Kind::kNumber:
      return key.words.empty() ? "a number, " + range_text(key)
                               : fmt::format("{}, or a number, {}", joined(words_of(key)), range_text(key));
    case Kind::kQuantity:
      return fmt::format("{}, {}", dimension_name(key.dimension), range_text(key));
    case Kind::kPairs:
      return "a list of three or more points [x, y]";
    case Kind::kPairsOrTable:
      return "a list of three or more points [x, y], or a table";
    case Kind::kWordOrTable:
      return joined(words_of(key)) + ", or a table";
    case Kind::kAny:
      return "what the key takes";
  }
  return "";
}

}  // namespace

std::string allowed_text(const Key& key) {
  if (key.kind == Kind::kPairs || key.kind == Kind::kPairsOrTable || key.count == 0) return single_text(key);
  if (key.count == kAnyCount) return "a list, each " + single_text(key);
  return fmt::format("a list of {}, each {}", key.count, single_text(key));
}

std::string default_text(const Key& key) {
  if (key.required) return "required";
  if (!key.fallback_text.empty()) return std::string(key.fallback_text);
  return key.fallback == "{}" ? "keys below" : std::string(key.fallback);
}

}  // namespace pellicle::cases
