// Which grooves did a person measure? One groove a line, each number with its line in the message.
#include "io/measured/groove_table.h"

#include "io/measured/number_table.h"
#include "io/measured/table_lines.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace pellicle::measured {
namespace {

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
constexpr double kDepthError_mm = 0.01;    // of a microscope or a good depth gauge
constexpr std::size_t kMostGrooves = 200;  // of thirty coupons; each takes seconds

[[noreturn]] void refuse(const std::string& place, std::string found, std::string allowed, std::string advice = {}) {
  throw Error({Fault::Kind::kCase, place, std::move(found), std::move(allowed), std::move(advice)});
}

fit::Groove groove_of(const NumberRow& row, const GrooveDefaults& defaults) {
  for (const char* needed : {"width_mm", "depth_mm"})
    if (!row.has(needed)) refuse(row.place, fmt::format("an empty {}", needed), "a number");
  if (!row.has("pressure_bar") && !defaults.pressure_Pa)
    refuse(row.place, "no pressure_bar, and no pressure in the case", "the gauge pressure in bar beside each groove");

  fit::Groove groove{};
  groove.width_m = 1e-3 * row.at("width_mm");
  groove.depth_m = 1e-3 * row.at("depth_mm");
  groove.depth_error_m = 1e-3 * row.or_else("depth_error_mm", std::min(kDepthError_mm, 0.5 * row.at("depth_mm")));
  groove.edge_radius_m = 1e-3 * row.or_else("edge_radius_mm", 0.0);
  if (row.has("floor_mm")) groove.floor_m = 1e-3 * row.at("floor_mm");
  groove.stretch_across = row.or_else("stretch_across", 1.0);
  groove.stretch_along = row.or_else("stretch_along", 1.0);
  const double thickness_m = defaults.gauge_m / (groove.stretch_across * groove.stretch_along);
  groove.thickness_m = row.has("thickness_mm") ? 1e-3 * row.at("thickness_mm") : thickness_m;
  groove.pressure_Pa = row.has("pressure_bar") ? 1e5 * row.at("pressure_bar") : *defaults.pressure_Pa;
  if (groove.depth_error_m >= groove.depth_m)
    refuse(row.place,
           fmt::format("depth_error_mm of {:.6g} at a depth of {:.6g}", 1e3 * groove.depth_error_m, row.at("depth_mm")),
           "an error smaller than the depth");
  return groove;
}

}  // namespace

std::vector<fit::Groove> read_groove_table(std::string_view text, const std::string& name,
                                           const GrooveDefaults& defaults) {
  const NumberTable table = read_number_table(text, name, {kColumns, {"width_mm", "depth_mm"}, "groove", kMostGrooves});
  std::vector<fit::Groove> grooves;
  for (const NumberRow& row : table.rows) grooves.push_back(groove_of(row, defaults));
  return grooves;
}

std::vector<fit::Groove> load_groove_table(const std::filesystem::path& file, const GrooveDefaults& defaults) {
  return read_groove_table(read_table(file, "measured grooves", kLargestNumberTable_bytes), file.string(), defaults);
}

}  // namespace pellicle::measured
