// How is a value written as JSON? Keys in the order they are given, numbers that are none as null.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace pellicle::results {

/// Text in quotes. Bytes that are no UTF-8 (a file name may hold any) become U+FFFD, so that the result is always JSON.
std::string json_text(std::string_view text);

/// Nine significant digits; null if not finite.
std::string json_number(double value);

/// Writes one document, indented by two blanks. Inside an object each value follows its key.
class Json {
 public:
  Json& open_object() { return open('{'); }
  Json& close_object() { return close('}'); }
  Json& open_list() { return open('['); }
  Json& close_list() { return close(']'); }
  Json& key(std::string_view name);

  Json& text(std::string_view value) { return raw(json_text(value)); }
  Json& number(double value) { return raw(json_number(value)); }
  Json& whole(std::int64_t value) { return raw(std::to_string(value)); }
  Json& flag(bool value) { return raw(value ? "true" : "false"); }
  Json& null() { return raw("null"); }
  /// A short list on one line.
  Json& numbers(const std::vector<double>& values);

  /// The document with a final line break.
  std::string finish() { return std::move(out_) + "\n"; }

 private:
  Json& open(char bracket);
  Json& close(char bracket);
  Json& raw(std::string_view value);
  void before_value();
  void new_line();

  std::string out_;
  std::vector<bool> filled_;  ///< a flag for each open bracket
  bool after_key_ = false;
};

}  // namespace pellicle::results
