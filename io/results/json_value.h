// What does a JSON text say? The reader for what this program wrote itself.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace pellicle::results {

struct JsonValue {
  enum class Kind { kNull, kFlag, kNumber, kText, kList, kObject };
  Kind kind = Kind::kNull;
  bool flag = false;
  double number = 0.0;
  std::string text;
  std::vector<std::string> names;  ///< of an object's members
  std::vector<JsonValue> values;   ///< of a list; of an object, one a name

  /// The first member of this name and kind; null if this has none.
  const JsonValue* find(std::string_view name, Kind of_kind) const;
};

/// RFC 8259; nullopt if the text is not one whole value, or nested deeper than 64. Of \u escapes those below 0x80
/// become their letter, all others U+FFFD: Json writes no others.
std::optional<JsonValue> read_json(std::string_view text);

}  // namespace pellicle::results
