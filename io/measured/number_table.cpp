// Which numbers stand in a CSV table with a header of known columns?
#include "io/measured/number_table.h"

#include "io/case/document.h"
#include "io/case/spelling.h"
#include "io/case/units.h"
#include "io/measured/table_lines.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>

namespace pellicle::measured {
namespace {

constexpr const char* kHint = "Decimals have a point, columns a comma";

class TableReader {
 public:
  TableReader(std::string_view text, const std::string& name, const TableKind& kind)
      : lines_(text), name_(name), kind_(kind) {}

  NumberTable read() {
    NumberTable table;
    while (const auto line = lines_.next()) {
      if (header_.empty()) {
        read_header(*line);
        for (const Column* column : header_) table.header.push_back(column->name);
        continue;
      }
      table.rows.push_back(read_row(*line));
      if (table.rows.size() > kind_.most_rows)
        refuse(fmt::format("too many {}s", kind_.row), fmt::format("{} at most", kind_.most_rows));
    }
    if (table.rows.empty())
      refuse("no " + kind_.row,
             fmt::format("a header with {} and a {} a line below it", fmt::join(kind_.needed, ","), kind_.row));
    return table;
  }

 private:
  [[noreturn]] void refuse(std::string found, std::string allowed, std::string advice = {}) const {
    throw Error({Fault::Kind::kCase, lines_.place(name_), std::move(found), std::move(allowed), std::move(advice)});
  }

  void read_header(std::string_view line) {
    std::vector<std::string> names;
    for (const Column& column : kind_.columns) names.emplace_back(column.name);
    for (const std::string_view cell : cells_of(line)) {
      const auto column =
          std::find_if(kind_.columns.begin(), kind_.columns.end(), [&](const Column& c) { return c.name == cell; });
      if (column == kind_.columns.end()) {
        const auto near = cases::nearest_word(cell, names);
        refuse("the unknown column " + cases::in_quotes(cell), fmt::format("{}", fmt::join(names, ", ")),
               near ? fmt::format("Did you mean {}?", *near) : kHint);
      }
      if (std::find(header_.begin(), header_.end(), &*column) != header_.end())
        refuse("the column " + std::string(cell) + " twice", "each column once");
      header_.push_back(&*column);
    }
    for (const std::string_view needed : kind_.needed)
      if (std::none_of(header_.begin(), header_.end(), [&](const Column* c) { return c->name == needed; }))
        refuse(fmt::format("no column {}", needed), fmt::format("a header with {}", fmt::join(kind_.needed, ",")));
  }

  double number_in(std::string_view cell, const Column& column) const {
    const auto reading = cases::parse_number(cell);
    if (std::holds_alternative<cases::Refusal>(reading))
      refuse(fmt::format("{} as {}", cases::in_quotes(cell), column.name), "a number", kHint);
    const double value = std::get<double>(reading);
    if (!(value >= column.low && value <= column.high))
      refuse(fmt::format("{} of {:.6g}", column.name, value), fmt::format("{:g} to {:g}", column.low, column.high));
    return value;
  }

  NumberRow read_row(std::string_view line) const {
    const auto cells = cells_of(line);
    if (cells.size() != header_.size())
      refuse(fmt::format("{} cells", cells.size()), fmt::format("{}, as in the header", header_.size()), kHint);
    NumberRow row{lines_.place(name_), {}};
    for (std::size_t i = 0; i < cells.size(); ++i)
      if (!cells[i].empty()) row.numbers[header_[i]->name] = number_in(cells[i], *header_[i]);
    return row;
  }

  TableLines lines_;
  const std::string& name_;
  const TableKind& kind_;
  std::vector<const Column*> header_;
};

}  // namespace

double NumberRow::or_else(std::string_view column, double fallback) const {
  const auto it = numbers.find(column);
  return it == numbers.end() ? fallback : it->second;
}

bool NumberTable::has(std::string_view column) const {
  return std::find(header.begin(), header.end(), column) != header.end();
}

NumberTable read_number_table(std::string_view text, const std::string& name, const TableKind& kind) {
  return TableReader(text, name, kind).read();
}

}  // namespace pellicle::measured
