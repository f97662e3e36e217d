// How is a value written as JSON? RFC 8259.
#include "io/results/json.h"

#include <fmt/format.h>

#include <cmath>

namespace pellicle::results {
namespace {

/// Length of the UTF-8 sequence at the start, 0 if there is none (RFC 3629: no surrogates, no overlong forms).
std::size_t sequence_length(std::string_view text) {
  const auto byte = [&](std::size_t i) { return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U; };
  const unsigned first = byte(0);
  const std::size_t length = first < 0x80                     ? 1
                             : first >= 0xC2 && first <= 0xDF ? 2
                             : first >= 0xE0 && first <= 0xEF ? 3
                             : first >= 0xF0 && first <= 0xF4 ? 4
                                                              : 0;
  for (std::size_t i = 1; i < length; ++i) {
    if ((byte(i) & 0xC0U) != 0x80U) return 0;
  }
  const bool overlong = (first == 0xE0 && byte(1) < 0xA0) || (first == 0xF0 && byte(1) < 0x90);
  const bool outside = (first == 0xED && byte(1) > 0x9F) || (first == 0xF4 && byte(1) > 0x8F);
  return overlong || outside ? 0 : length;
}

}  // namespace

std::string json_text(std::string_view text) {
  std::string out = "\"";
  while (!text.empty()) {
    const std::size_t length = sequence_length(text);
    const char c = text.front();
    if (length == 0) {
      out += "\\ufffd";
    } else if (c == '"' || c == '\\') {
      out.append(1, '\\').append(1, c);
    } else if (c == '\n') {
      out += "\\n";
    } else if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) {
      out += fmt::format("\\u{:04x}", static_cast<unsigned>(c));
    } else {
      out += text.substr(0, length);
    }
    text.remove_prefix(length == 0 ? 1 : length);
  }
  return out + "\"";
}

std::string json_number(double value) { return std::isfinite(value) ? fmt::format("{:.9g}", value) : "null"; }

Json& Json::key(std::string_view name) {
  before_value();
  out_.append(json_text(name)).append(": ");
  after_key_ = true;
  return *this;
}

Json& Json::numbers(const std::vector<double>& values) {
  std::string list = "[";
  for (const double value : values) list.append(list.size() > 1 ? ", " : "").append(json_number(value));
  return raw(list.append(1, ']'));
}

Json& Json::open(char bracket) {
  before_value();
  out_.append(1, bracket);
  filled_.push_back(false);
  return *this;
}

Json& Json::close(char bracket) {
  const bool was_filled = filled_.back();
  filled_.pop_back();
  if (was_filled) new_line();
  out_.append(1, bracket);
  return *this;
}

Json& Json::raw(std::string_view value) {
  before_value();
  out_.append(value);
  return *this;
}

void Json::before_value() {
  if (after_key_) {
    after_key_ = false;
  } else if (!filled_.empty()) {
    if (filled_.back()) out_.append(1, ',');
    filled_.back() = true;
    new_line();
  }
}

void Json::new_line() { out_.append(1, '\n').append(2 * filled_.size(), ' '); }

}  // namespace pellicle::results
