// What was measured on the hot polymer? A tensile curve or sweeps of G' and G'', told apart by their columns.
#include "io/measured/polymer_table.h"

#include "io/measured/number_table.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace pellicle::measured {
namespace {

constexpr std::size_t kMostPoints = 5000;
constexpr double kSameTemperature_K = 1.0;
constexpr std::array<Column, 11> kColumns{{{"stretch", 0.5, 1000.0},
                                           {"strain", -0.5, 1000.0},
                                           {"strain_percent", -50.0, 1e5},
                                           {"stress_MPa", -1e3, 1e4},
                                           {"true_stress_MPa", -1e3, 1e4},
                                           {"temperature_C", -50.0, 400.0},
                                           {"rate_per_s", 1e-6, 1e4},
                                           {"frequency_Hz", 1e-6, 1e6},
                                           {"angular_frequency_per_s", 1e-6, 1e7},
                                           {"storage_MPa", -1e3, 1e5},
                                           {"loss_MPa", -1e3, 1e5}}};
constexpr double kZero_C_K = 273.15;

[[noreturn]] void refuse(const std::string& place, std::string found, std::string allowed, std::string advice = {}) {
  throw Error({Fault::Kind::kCase, place, std::move(found), std::move(allowed), std::move(advice)});
}

/// The one of these columns that the table has.
std::string_view one_of(const NumberTable& table, const std::string& name, std::vector<std::string_view> columns,
                        const char* advice) {
  std::erase_if(columns, [&, all = columns](std::string_view c) { return !table.has(c); });
  if (columns.size() == 1) return columns.front();
  refuse(name, columns.empty() ? "none of the columns wanted" : fmt::format("both {}", fmt::join(columns, " and ")),
         "exactly one of them", advice);
}

double number(const NumberRow& row, std::string_view column) {
  if (!row.has(column)) refuse(row.place, fmt::format("an empty {}", column), "a number");
  return row.at(column);
}

/// The one value of a column that a test has; none without the column.
std::optional<double> of_whole_test(const NumberTable& table, std::string_view column, double apart,
                                    const char* advice) {
  if (!table.has(column)) return std::nullopt;
  std::optional<double> first;
  for (const NumberRow& row : table.rows) {
    if (!row.has(column)) continue;
    if (!first) first = row.at(column);
    if (std::abs(row.at(column) - *first) > apart)
      refuse(row.place, fmt::format("{} of {:g} after {:g}", column, row.at(column), *first), "one test a table",
             advice);
  }
  return first;
}

TensileTable tensile(const NumberTable& table, const std::string& name) {
  const std::string_view length =
      one_of(table, name, {"stretch", "strain", "strain_percent"}, "stretch, strain or strain_percent");
  const std::string_view stress =
      one_of(table, name, {"stress_MPa", "true_stress_MPa"}, "stress_MPa (nominal) or true_stress_MPa");
  TensileTable test;
  test.temperature_K = of_whole_test(table, "temperature_C", kSameTemperature_K,
                                     "A law holds at one temperature: a table and a card for each");
  if (test.temperature_K) *test.temperature_K += kZero_C_K;
  test.rate_per_s = of_whole_test(table, "rate_per_s", 1e-9,
                                  "A law has no time in it: a table for each rate, or sweeps of G' and G''");
  for (const NumberRow& row : table.rows) {
    const double value = number(row, length);
    const double stretch = length == "stretch" ? value : 1.0 + (length == "strain" ? value : 0.01 * value);
    const double stress_Pa = 1e6 * number(row, stress);
    test.points.push_back({stretch, stress == "stress_MPa" ? stress_Pa : stress_Pa / stretch});
  }
  return test;
}

OscillationTable oscillation(const NumberTable& table, const std::string& name) {
  const std::string_view frequency =
      one_of(table, name, {"frequency_Hz", "angular_frequency_per_s"}, "frequency_Hz or angular_frequency_per_s");
  OscillationTable sweeps;
  for (const NumberRow& row : table.rows)
    sweeps.points.push_back({number(row, frequency) * (frequency == "frequency_Hz" ? 2.0 * std::numbers::pi : 1.0),
                             1e6 * number(row, "storage_MPa"), 1e6 * number(row, "loss_MPa"),
                             kZero_C_K + number(row, "temperature_C")});
  return sweeps;
}

}  // namespace

PolymerTable read_polymer_table(std::string_view text, const std::string& name) {
  const NumberTable table = read_number_table(text, name, {kColumns, {}, "point", kMostPoints});
  const bool is_sweep = table.has("storage_MPa") || table.has("loss_MPa");
  const bool is_pull = table.has("stress_MPa") || table.has("true_stress_MPa");
  if (is_sweep == is_pull)
    refuse(name, is_sweep ? "columns of a tensile test and of sweeps" : "neither a stress nor G' and G''",
           "stretch (or strain, strain_percent) and stress_MPa; or frequency_Hz, storage_MPa, loss_MPa, temperature_C");
  if (!is_sweep) return tensile(table, name);
  for (const char* needed : {"storage_MPa", "loss_MPa", "temperature_C"})
    if (!table.has(needed)) refuse(name, fmt::format("no column {}", needed), "storage_MPa, loss_MPa, temperature_C");
  return oscillation(table, name);
}

}  // namespace pellicle::measured
