// Where did a person measure the part's wall, and how thick was it there? One place a line, faults with their line.
#include "io/measured/thickness_table.h"

#include "io/case/document.h"
#include "io/case/spelling.h"
#include "io/case/units.h"
#include "io/measured/table_lines.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace pellicle::measured {
namespace {

enum Quantity : std::size_t { kX, kY, kZ, kThickness, kError, kFlatX, kFlatY, kQuantities };
struct Known {
  std::string_view name;
  double low_m, high_m;
};
// Wider than any part and bench; beyond, the unit is another or a point is missing.
constexpr std::array<Known, kQuantities> kKnown{{{"x", -2.0, 2.0},
                                                 {"y", -2.0, 2.0},
                                                 {"z", -2.0, 2.0},
                                                 {"thickness", 1e-6, 0.02},
                                                 {"thickness_error", 1e-7, 5e-3},
                                                 {"flat_x", -2.0, 2.0},
                                                 {"flat_y", -2.0, 2.0}}};
constexpr std::string_view kName = "name";
constexpr std::size_t kMostPoints = 200'000;               // a scan thinned out; more say no more
constexpr std::uintmax_t kLargestTable_bytes = 1U << 24U;  // what so many lines take
constexpr const char* kHeader = "a header as x_mm,y_mm,z_mm,thickness_mm";

/// A column of the file: a quantity in a unit, or the name.
struct Column {
  std::size_t quantity;  ///< kQuantities: the name
  std::string unit;
};

class ThicknessReader {
 public:
  ThicknessReader(std::string_view text, const std::string& name) : lines_(text), name_(name) {}

  std::vector<ThicknessPoint> read() {
    while (const auto line = lines_.next()) {
      if (columns_.empty())
        read_header(*line);
      else
        points_.push_back(read_point(*line));
      if (points_.size() > kMostPoints)
        refuse("too many points", fmt::format("{} at most", kMostPoints), "thin it out");
    }
    if (points_.empty()) refuse("no measured point", fmt::format("{} and a point a line below it", kHeader));
    return std::move(points_);
  }

 private:
  [[noreturn]] void refuse(std::string found, std::string allowed, std::string advice = {}) const {
    throw Error({Fault::Kind::kCase, lines_.place(name_), std::move(found), std::move(allowed), std::move(advice)});
  }

  [[noreturn]] void refuse_column(std::string_view cell) const {
    std::vector<std::string> names{std::string(kName)};
    for (const Known& known : kKnown) names.push_back(fmt::format("{}_mm", known.name));
    const auto near = cases::nearest_word(cell, names);
    refuse("the unknown column " + cases::in_quotes(cell),
           fmt::format("{}, or with _um, _cm, _m, _in for _mm", fmt::join(names, ", ")),
           near ? fmt::format("Did you mean {}?", *near) : "Decimals have a point, columns a comma");
  }

  Column column_of(std::string_view cell) const {
    if (cell == kName) return {kQuantities, ""};
    const std::size_t end = cell.rfind('_');
    if (end == std::string_view::npos) refuse_column(cell);
    const auto known =
        std::find_if(kKnown.begin(), kKnown.end(), [&](const Known& k) { return k.name == cell.substr(0, end); });
    const std::vector<std::string> units = cases::unit_names(cases::Dimension::kLength);
    const auto unit = std::find(units.begin(), units.end(), cell.substr(end + 1));
    if (known == kKnown.end() || unit == units.end()) refuse_column(cell);
    return {static_cast<std::size_t>(known - kKnown.begin()), *unit};
  }

  void read_header(std::string_view line) {
    for (const std::string_view cell : cells_of(line)) {
      Column column = column_of(cell);
      if (has(column.quantity)) refuse("the column " + std::string(cell) + " twice", "each column once");
      columns_.push_back(std::move(column));
    }
    if (!has(kThickness)) refuse("no column thickness_mm", kHeader);
    has_place_ = has(kX) && has(kY) && has(kZ);
    has_mark_ = has(kFlatX) && has(kFlatY);
    if (!has_place_ && (has(kX) || has(kY) || has(kZ) || !has_mark_))
      refuse("no place of the points", "x_mm, y_mm and z_mm, or flat_x_mm and flat_y_mm");
    if (!has_mark_ && (has(kFlatX) || has(kFlatY))) refuse("half a place in the flat sheet", "flat_x_mm and flat_y_mm");
  }

  bool has(std::size_t quantity) const {
    return std::any_of(columns_.begin(), columns_.end(), [&](const Column& c) { return c.quantity == quantity; });
  }

  double number_in(std::string_view cell, const Column& column) const {
    const Known& known = kKnown[column.quantity];
    const auto reading = cases::parse_number(cell);
    if (std::holds_alternative<cases::Refusal>(reading))
      refuse(fmt::format("{} as {}_{}", cases::in_quotes(cell), known.name, column.unit), "a number",
             "Decimals have a point, columns a comma");
    const double value = std::get<double>(reading), value_m = cases::to_SI(value, column.unit);
    if (!(value_m >= known.low_m && value_m <= known.high_m))
      refuse(fmt::format("{}_{} of {:.6g}", known.name, column.unit, value),
             fmt::format("{:.6g} to {:.6g}", cases::from_SI(known.low_m, column.unit),
                         cases::from_SI(known.high_m, column.unit)),
             "is the unit in the column's name right?");
    return value_m;
  }

  ThicknessPoint read_point(std::string_view line) const {
    const auto cells = cells_of(line);
    if (cells.size() != columns_.size())
      refuse(fmt::format("{} cells", cells.size()), fmt::format("{}, as in the header", columns_.size()),
             "Decimals have a point, columns a comma");
    ThicknessPoint point{lines_.place(name_), "", {}, {}, std::nan("")};
    std::array<double, kQuantities> given{};
    for (std::size_t i = 0; i < cells.size(); ++i) {
      const Column& column = columns_[i];
      if (column.quantity == kQuantities)
        point.name = cells[i];
      else if (!cells[i].empty())
        given[column.quantity] = number_in(cells[i], column);
      else if (column.quantity == kError)
        given[kError] = kThicknessError_m;
      else
        refuse(fmt::format("an empty {}_{}", kKnown[column.quantity].name, column.unit), "a number");
    }
    point.thickness_m = given[kThickness];
    if (has(kError)) point.error_m = given[kError];
    if (has_place_) point.at_m = mesh::Vec3(given[kX], given[kY], given[kZ]);
    if (has_mark_) point.flat_m = mesh::Vec2(given[kFlatX], given[kFlatY]);
    if (point.error_m >= point.thickness_m)
      refuse(fmt::format("thickness_error of {:.6g} mm at a thickness of {:.6g} mm", 1e3 * point.error_m,
                         1e3 * point.thickness_m),
             "an error smaller than the thickness", "is the unit in the column's name right?");
    return point;
  }

  TableLines lines_;
  const std::string& name_;
  std::vector<Column> columns_;
  bool has_place_ = false, has_mark_ = false;
  std::vector<ThicknessPoint> points_;
};

}  // namespace

std::vector<ThicknessPoint> read_thickness_table(std::string_view text, const std::string& name) {
  return ThicknessReader(text, name).read();
}

std::vector<ThicknessPoint> load_thickness_table(const std::filesystem::path& file) {
  return read_thickness_table(read_table(file, "measured points", kLargestTable_bytes), file.string());
}

}  // namespace pellicle::measured
