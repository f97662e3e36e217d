// Which values does a case file give, each checked against the table of keys? Types, units, ranges, unknown and missing
// keys; what two values mean together is for parse.
#pragma once

#include "io/case/document.h"
#include "io/case/parse.h"
#include "io/case/schema.h"

#include <map>
#include <string>
#include <string_view>
#include <vector>

namespace pellicle::cases {

/// The value of one key. Numbers are in SI.
struct Value {
  const Key* key = nullptr;
  std::vector<double> numbers;  ///< kWhole, kNumber, kQuantity; x, y, x, y, ... of points
  std::string text;             ///< kText, kLines, kWord, or the word in place of a number or table
  bool flag = false;            ///< kFlag
  Origin origin = Origin::kCase;
  int line = 0;      ///< 0: not in the file
  std::string note;  ///< of a card or of a default that was worked out

  double number() const { return numbers.front(); }
};

/// "0.75 mm", "[120 mm, 80 mm]", "stick": as the program understood it.
std::string value_text(const Value& value);

/// All values of a file by their path; the n-th of a list of tables is "forming.stage[n]", n from 1.
class Values {
 public:
  explicit Values(std::string file_name) : file_name_(std::move(file_name)) {}

  const Value* find(const std::string& path) const;
  /// The value of a key that is required or has a default in the table.
  const Value& at(const std::string& path) const;
  bool has(const std::string& path) const { return find(path) != nullptr; }
  /// Whether the file holds the table, and where.
  bool has_table(const std::string& path) const { return tables_.contains(path); }
  int table_line(const std::string& path) const;
  int count(const std::string& path) const;  ///< instances of a list of tables

  /// The card that sheet.polymer means, one of the program's or the case's own; null: none.
  const PolymerCard* polymer() const;
  std::optional<PolymerCard> own_card;  ///< of the file that sheet.polymer names

  void put(const std::string& path, Value value);
  void put_table(const std::string& path, int line) { tables_.emplace(path, line); }
  void put_count(const std::string& path, int count) { counts_.emplace(path, count); }

  /// In the order of the reference.
  std::vector<ResolvedValue> resolved() const;

  /// "case.toml:12, sheet.thickness".
  std::string where(int line, std::string_view path) const;
  std::string where(const std::string& path) const;
  [[noreturn]] void refuse(const std::string& path, std::string found, std::string allowed,
                           std::string advice = {}) const;

 private:
  std::string file_name_;
  std::map<std::string, Value> values_;
  std::map<std::string, int> tables_;
  std::map<std::string, int> counts_;
};

/// Throws Error (case) for the first thing in the file that breaks the table of keys. For reliefs alone, sheet and
/// stages may be missing.
Values read_values(const Node& root, const std::string& file_name, Purpose purpose = Purpose::kForming);

}  // namespace pellicle::cases
