// What may stand in a case file? One table of keys that drives the parser, the defaults, `schema`, `check` and the
// docs.
#pragma once

#include "io/case/units.h"

#include <limits>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace pellicle::cases {

enum class Kind {
  kTable,         ///< [x] or x = { ... }
  kTables,        ///< [[x]] or x = [ { ... }, ... ]
  kText,          ///< any text that is not empty
  kLines,         ///< the same, of several lines where it has line breaks
  kWord,          ///< one of `words`
  kFlag,          ///< true or false
  kWhole,         ///< whole number
  kNumber,        ///< plain number, or one of `words` where there are any
  kQuantity,      ///< text with a unit
  kPairs,         ///< list of [x, y] pairs
  kPairsOrTable,  ///< list of [x, y] pairs, or a table of its own keys
  kWordOrTable,   ///< one of `words`, or a table of its own keys
  kAny            ///< whatever another key takes
};

enum class Availability {
  kUsed,
  kHeat,       ///< used where heat is followed or the mould's body is asked; else listed under 'not used yet'
  kBody,       ///< used where the mould's body is asked; else listed under 'not used yet'
  kDescribing  ///< read and checked, listed under 'not used yet'
};

constexpr int kAnyCount = -1;  ///< a list of one or more

/// One key. Ranges are in `unit`; both ends belong to the range.
struct Key {
  std::string_view path;  ///< "forming.stage.pressure"
  Kind kind = Kind::kQuantity;
  Dimension dimension = Dimension::kNone;
  std::string_view unit = {};  ///< of the range, of `check` and of the reference
  double low = -std::numeric_limits<double>::infinity();
  double high = std::numeric_limits<double>::infinity();
  int count = 0;                        ///< 0: a single value; n: a list of n; kAnyCount
  std::string_view words = {};          ///< "a|b|c"
  bool required = false;                ///< when the table around it is given
  std::string_view fallback = {};       ///< default, as TOML; of a table "{}": its keys have defaults even without it
  std::string_view fallback_text = {};  ///< default, for people, where it is worked out from other values
  std::string_view example = {};        ///< as TOML
  Availability availability = Availability::kUsed;
  bool names_file = false;  ///< relative to the case file
  std::string_view meaning = {};
};

std::span<const Key> schema();

/// Null if there is no such key.
const Key* find_key(std::string_view path);
/// Keys directly inside a table; "" for the top level.
std::vector<const Key*> keys_inside(std::string_view table);
/// Last part of the path.
std::string_view leaf(const Key& key);
std::vector<std::string> words_of(const Key& key);

/// What may be written: "a length, 0.02 mm to 10 mm", "stick, or a number 0 to 10", "one of none, plaster, solid".
std::string allowed_text(const Key& key);
/// What holds without the key: "25 mm", "= element", "required", "none".
std::string default_text(const Key& key);

}  // namespace pellicle::cases
