// Which grooves did a person measure? One groove a line, each number with its line and column in the message.
#include "io/measured/groove_table.h"

#include "io/case/document.h"
#include "io/case/spelling.h"
#include "io/case/units.h"
#include "io/measured/table_lines.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>

namespace pellicle::measured {
namespace {

struct Column {
  std::string_view name;
  double low, high;
};
// Wider than any coupon and bench; beyond, the unit is another or a point is missing.
constexpr std::array<Column, 9> kColumns{{{"width_mm", 0.01, 50.0},
                                          {"depth_mm", 0.001, 50.0},
                                          {"thickness_mm", 0.01, 10.0},
                                          {"edge_radius_mm", 0.0, 5.0},
                                          {"pressure_bar", 0.01, 100.0},
                                          {"depth_error_mm", 0.0, 5.0},
                                          {"floor_mm", 0.01, 100.0},
                                          {"stretch_across", fit::kLeastGrooveStretch, fit::kMostGrooveStretch},
                                          {"stretch_along", fit::kLeastGrooveStretch, fit::kMostGrooveStretch}}};
constexpr double kDepthError_mm = 0.01;                    // of a microscope or a good depth gauge
constexpr std::size_t kMostGrooves = 200;                  // of thirty coupons; each takes seconds
constexpr std::uintmax_t kLargestTable_bytes = 1U << 20U;  // a hundred times what that many lines take

class GrooveReader {
 public:
  GrooveReader(std::string_view text, const std::string& name, const GrooveDefaults& defaults)
      : lines_(text), name_(name), defaults_(defaults) {}

  std::vector<fit::Groove> read() {
    while (const auto line = lines_.next()) {
      if (header_.empty())
        read_header(*line);
      else
        grooves_.push_back(read_groove(*line));
      if (grooves_.size() > kMostGrooves) refuse("too many grooves", fmt::format("{} at most", kMostGrooves));
    }
    if (grooves_.empty()) refuse("no groove", "a header with width_mm,depth_mm and a groove a line below it");
    return std::move(grooves_);
  }

 private:
  [[noreturn]] void refuse(std::string found, std::string allowed, std::string advice = {}) const {
    throw Error({Fault::Kind::kCase, lines_.place(name_), std::move(found), std::move(allowed), std::move(advice)});
  }

  void read_header(std::string_view line) {
    std::vector<std::string> names;
    for (const Column& column : kColumns) names.emplace_back(column.name);
    for (const std::string_view cell : cells_of(line)) {
      const auto column =
          std::find_if(kColumns.begin(), kColumns.end(), [&](const Column& c) { return c.name == cell; });
      if (column == kColumns.end()) {
        const auto near = cases::nearest_word(cell, names);
        refuse("the unknown column " + cases::in_quotes(cell), fmt::format("{}", fmt::join(names, ", ")),
               near ? fmt::format("Did you mean {}?", *near) : "Decimals have a point, columns a comma");
      }
      if (std::find(header_.begin(), header_.end(), column) != header_.end())
        refuse("the column " + std::string(cell) + " twice", "each column once");
      header_.push_back(column);
    }
    for (const char* needed : {"width_mm", "depth_mm"}) {
      if (std::none_of(header_.begin(), header_.end(), [&](auto c) { return c->name == needed; }))
        refuse(fmt::format("no column {}", needed), "a header with width_mm and depth_mm");
    }
  }

  double number_in(std::string_view cell, const Column& column) const {
    const auto reading = cases::parse_number(cell);
    if (std::holds_alternative<cases::Refusal>(reading))
      refuse(fmt::format("{} as {}", cases::in_quotes(cell), column.name), "a number",
             "Decimals have a point, columns a comma");
    const double value = std::get<double>(reading);
    if (!(value >= column.low && value <= column.high))
      refuse(fmt::format("{} of {:.6g}", column.name, value), fmt::format("{:g} to {:g}", column.low, column.high));
    return value;
  }

  fit::Groove read_groove(std::string_view line) const {
    const auto cells = cells_of(line);
    if (cells.size() != header_.size())
      refuse(fmt::format("{} cells", cells.size()), fmt::format("{}, as in the header", header_.size()),
             "Decimals have a point, columns a comma");
    std::map<std::string_view, double> given;
    for (std::size_t i = 0; i < cells.size(); ++i)
      if (!cells[i].empty()) given[header_[i]->name] = number_in(cells[i], *header_[i]);
    const auto or_else = [&](std::string_view column, double fallback) {
      const auto at = given.find(column);
      return at == given.end() ? fallback : at->second;
    };
    for (const char* needed : {"width_mm", "depth_mm"})
      if (!given.contains(needed)) refuse(fmt::format("an empty {}", needed), "a number");
    if (!given.contains("pressure_bar") && !defaults_.pressure_Pa)
      refuse("no pressure_bar, and no pressure in the case", "the gauge pressure in bar beside each groove");

    fit::Groove groove{};
    groove.width_m = 1e-3 * given["width_mm"];
    groove.depth_m = 1e-3 * given["depth_mm"];
    groove.depth_error_m = 1e-3 * or_else("depth_error_mm", std::min(kDepthError_mm, 0.5 * given["depth_mm"]));
    groove.edge_radius_m = 1e-3 * or_else("edge_radius_mm", 0.0);
    if (given.contains("floor_mm")) groove.floor_m = 1e-3 * given["floor_mm"];
    groove.stretch_across = or_else("stretch_across", 1.0);
    groove.stretch_along = or_else("stretch_along", 1.0);
    const double thickness_m = defaults_.gauge_m / (groove.stretch_across * groove.stretch_along);
    groove.thickness_m = given.contains("thickness_mm") ? 1e-3 * given["thickness_mm"] : thickness_m;
    groove.pressure_Pa = given.contains("pressure_bar") ? 1e5 * given["pressure_bar"] : *defaults_.pressure_Pa;
    if (groove.depth_error_m >= groove.depth_m)
      refuse(
          fmt::format("depth_error_mm of {:.6g} at a depth of {:.6g}", 1e3 * groove.depth_error_m, given["depth_mm"]),
          "an error smaller than the depth");
    return groove;
  }

  TableLines lines_;
  const std::string& name_;
  const GrooveDefaults& defaults_;
  std::vector<const Column*> header_;
  std::vector<fit::Groove> grooves_;
};

}  // namespace

std::vector<fit::Groove> read_groove_table(std::string_view text, const std::string& name,
                                           const GrooveDefaults& defaults) {
  return GrooveReader(text, name, defaults).read();
}

std::vector<fit::Groove> load_groove_table(const std::filesystem::path& file, const GrooveDefaults& defaults) {
  return read_groove_table(read_table(file, "measured grooves", kLargestTable_bytes), file.string(), defaults);
}

}  // namespace pellicle::measured
