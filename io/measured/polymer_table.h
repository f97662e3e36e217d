// What was measured on the hot polymer? A tensile curve or sweeps of G' and G'', told apart by their columns.
#pragma once

#include "solver/fit/oscillation.h"
#include "solver/fit/uniaxial_law.h"

#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace pellicle::measured {

/// One tensile test.
struct TensileTable {
  std::vector<fit::PullPoint> points;
  std::optional<double> temperature_K;  ///< none: the table does not say
  std::optional<double> rate_per_s;     ///< of length over first length; none: it does not say
};
/// Sweeps, each point with its temperature.
struct OscillationTable {
  std::vector<fit::DynamicPoint> points;
};
using PolymerTable = std::variant<TensileTable, OscillationTable>;

/// Tensile: `stretch` or `strain` or `strain_percent`, and `stress_MPa` (nominal: force over first section) or
/// `true_stress_MPa` (force over section now, of incompressible sheet nominal times stretch); optional `temperature_C`
/// and `rate_per_s`, one of each in the whole table. Oscillation: `frequency_Hz` or `angular_frequency_per_s`,
/// `storage_MPa`, `loss_MPa`, `temperature_C`. Throws Error (case) with name:line.
PolymerTable read_polymer_table(std::string_view text, const std::string& name);

}  // namespace pellicle::measured
