// What does a JSON text say? RFC 8259, by descent.
#include "io/results/json_value.h"

#include <algorithm>
#include <charconv>
#include <utility>

namespace pellicle::results {
namespace {

constexpr int kDeepest = 64;  // the stack is finite, a damaged file may not be

class Parser {
 public:
  explicit Parser(std::string_view text) : rest_(text) {}

  std::optional<JsonValue> document() {
    JsonValue value;
    if (!read(value, 0)) return std::nullopt;
    skip_blanks();
    return rest_.empty() ? std::optional(std::move(value)) : std::nullopt;
  }

 private:
  void skip_blanks() { rest_.remove_prefix(std::min(rest_.find_first_not_of(" \t\r\n"), rest_.size())); }
  bool take(std::string_view word) {
    if (!rest_.starts_with(word)) return false;
    rest_.remove_prefix(word.size());
    return true;
  }

  bool read(JsonValue& value, int depth) {
    using Kind = JsonValue::Kind;
    skip_blanks();
    if (depth > kDeepest || rest_.empty()) return false;
    if (take("null")) return true;
    if (take("{")) return value.kind = Kind::kObject, read_members(value, depth, '}');
    if (take("[")) return value.kind = Kind::kList, read_members(value, depth, ']');
    if (rest_.front() == '"') return value.kind = Kind::kText, read_text(value.text);
    value.kind = Kind::kFlag;
    if (take("false")) return true;
    if (take("true")) return value.flag = true, true;
    value.kind = Kind::kNumber;
    const bool is_number = rest_.front() == '-' || (rest_.front() >= '0' && rest_.front() <= '9');
    const auto [end, fault] = std::from_chars(rest_.data(), rest_.data() + rest_.size(), value.number);
    if (!is_number || fault != std::errc()) return false;
    rest_.remove_prefix(static_cast<std::size_t>(end - rest_.data()));
    return true;
  }

  bool read_members(JsonValue& value, int depth, char end) {
    skip_blanks();
    if (take({&end, 1})) return true;
    do {
      if (value.kind == JsonValue::Kind::kObject) {
        skip_blanks();
        if (!read_text(value.names.emplace_back())) return false;
        skip_blanks();
        if (!take(":")) return false;
      }
      if (!read(value.values.emplace_back(), depth + 1)) return false;
      skip_blanks();
    } while (take(","));
    return take({&end, 1});
  }

  bool read_text(std::string& text) {
    if (!take("\"")) return false;
    while (!rest_.empty() && !take("\"")) {
      if (static_cast<unsigned char>(rest_.front()) < 0x20) return false;
      if (rest_.front() != '\\') {
        text += rest_.front();
        rest_.remove_prefix(1);
      } else if (!read_escape(text)) {
        return false;
      }
      if (rest_.empty()) return false;
    }
    return true;
  }

  bool read_escape(std::string& text) {
    constexpr std::string_view kMarks = "\"\\/bfnrt", kMeant = "\"\\/\b\f\n\r\t";
    if (rest_.size() < 2) return false;
    if (const std::size_t which = kMarks.find(rest_[1]); which != std::string_view::npos) {
      text += kMeant[which];
      rest_.remove_prefix(2);
      return true;
    }
    unsigned code = 0;
    const bool is_whole = rest_[1] == 'u' && rest_.size() >= 6;
    if (!is_whole || std::from_chars(rest_.data() + 2, rest_.data() + 6, code, 16).ptr != rest_.data() + 6)
      return false;
    code < 0x80 ? text.append(1, static_cast<char>(code)) : text.append("\xEF\xBF\xBD");
    rest_.remove_prefix(6);
    return true;
  }

  std::string_view rest_;
};

}  // namespace

const JsonValue* JsonValue::find(std::string_view name, Kind of_kind) const {
  for (std::size_t i = 0; i < names.size(); ++i)
    if (names[i] == name) return values[i].kind == of_kind ? &values[i] : nullptr;
  return nullptr;
}

std::optional<JsonValue> read_json(std::string_view text) { return Parser(text).document(); }

}  // namespace pellicle::results
