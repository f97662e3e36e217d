// Which numbers stand in a CSV table with a header of known columns? Each told with its line where it is none.
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace pellicle::measured {

struct Column {
  std::string_view name;
  double low, high;  ///< wider than any bench; beyond, the unit is another or a point is missing
};

/// One line of the table.
struct NumberRow {
  std::string place;  ///< "NAME:LINE"
  std::map<std::string_view, double> numbers;
  bool has(std::string_view column) const { return numbers.contains(column); }
  double at(std::string_view column) const { return numbers.at(column); }
  double or_else(std::string_view column, double fallback) const;
};

struct NumberTable {
  std::vector<std::string_view> header;  ///< as in `columns`, in the order of the file
  std::vector<NumberRow> rows;
  bool has(std::string_view column) const;
};

/// A hundred times what a table by hand takes.
inline constexpr std::uintmax_t kLargestNumberTable_bytes = 1U << 20U;

/// What a table is of.
struct TableKind {
  std::span<const Column> columns;       ///< must outlive the table
  std::vector<std::string_view> needed;  ///< columns without which it is none
  std::string row;                       ///< what a line is: "groove"
  std::size_t most_rows;
};

/// Columns in any order, each once; an empty cell has no number. Blank lines and lines that start with # are passed
/// over. Throws Error (case) with name:line, also beyond `most_rows` and for no row.
NumberTable read_number_table(std::string_view text, const std::string& name, const TableKind& kind);

}  // namespace pellicle::measured
