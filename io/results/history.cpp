// How did the run go, step by step? Columns as in docs/result_format.md; an unknown number is an empty cell.
#include "io/results/history.h"

#include "mesh/check.h"

#include <fmt/format.h>

#include <cmath>
#include <iterator>
#include <limits>
#include <vector>

namespace pellicle::results {
namespace {

constexpr const char* kColumns =
    "step,time_s,stage,pressure_MPa,swept_volume_mm3,apex_mm,min_thickness_mm,contact_share,kinetic_J,strain_J,"
    "gas_work_J,friction_J,damping_J,contact_J,clamp_work_J,gravity_J,air_J,viscous_J,thermal_J,mass_change_J,"
    "balance\n";

/// Nine digits: more than a float holds, so that two runs can be told apart.
std::string cell(double value) { return std::isfinite(value) ? fmt::format("{:.9g}", value) : std::string(); }

/// RFC 4180: quoted where a name has a comma, a quote or a line break.
std::string cell(const std::string& name) {
  if (name.find_first_of(",\"\r\n") == std::string::npos) return name;
  std::string quoted = "\"";
  for (const char c : name) quoted.append(c == '"' ? 2 : 1, c);
  return quoted + "\"";
}

/// Where the header and so many rows end; npos if there are fewer. A line break inside quotes ends no row.
std::size_t end_of_rows(const std::string& text, int rows) {
  bool quoted = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == '"') quoted = !quoted;
    if (text[i] == '\n' && !quoted && rows-- == 0) return i + 1;
  }
  return std::string::npos;
}

/// `from` becomes the start of the next row.
std::vector<std::string> cells_of_row(const std::string& text, std::size_t& from) {
  std::vector<std::string> cells(1);
  bool quoted = false;
  for (; from < text.size(); ++from) {
    const char c = text[from];
    if (c == '"' && quoted && from + 1 < text.size() && text[from + 1] == '"') {
      cells.back() += c;
      ++from;
    } else if (c == '"') {
      quoted = !quoted;
    } else if (c == ',' && !quoted) {
      cells.emplace_back();
    } else if (c == '\n' && !quoted) {
      ++from;
      break;
    } else {
      cells.back() += c;
    }
  }
  return cells;
}

}  // namespace

History::History(ResultFolder& folder, int there) : folder_(folder), rows_(there) {
  if (there == 0) return;
  const std::filesystem::path path = folder.path() / "history.csv";
  const std::string text = read_file(path);
  const std::size_t end = end_of_rows(text, there);
  if (end == std::string::npos) {
    throw Error({Fault::Kind::kCase, path.string(), fmt::format("fewer than {} rows", there),
                 "the file as it was written", "run the case again"});
  }
  text_ = text.substr(0, end);
}

void History::add(const forming::HistoryRow& r) {
  if (text_.empty()) text_ = kColumns;
  text_ += fmt::format("{},{},{},{},{},{},{},{}", r.step, cell(r.time_s), cell(r.stage), cell(1e-6 * r.pressure_Pa),
                       cell(1e9 * r.swept_volume_m3), cell(1e3 * r.apex_m), cell(1e3 * r.min_thickness_m),
                       cell(r.contact_share));
  for (const double energy_J : {r.kinetic_J, r.strain_J, r.gas_work_J, r.friction_J, r.damping_J, r.contact_J,
                                r.clamp_work_J, r.gravity_J, r.air_J, r.viscous_J, r.thermal_J, r.mass_change_J}) {
    text_.append(1, ',').append(cell(energy_J));
  }
  text_.append(1, ',').append(cell(r.balance)).append(1, '\n');
  ++rows_;
  changed_ = true;
}

void History::replay(const std::function<void(const forming::HistoryRow&)>& sink) const {
  std::size_t from = end_of_rows(text_, 0);
  while (from < text_.size()) {
    const std::vector<std::string> cells = cells_of_row(text_, from);
    ensure(cells.size() == 21, "a row has a cell for each column");
    const auto number = [&](std::size_t column) {
      return cells[column].empty() ? std::numeric_limits<double>::quiet_NaN() : std::stod(cells[column]);
    };
    forming::HistoryRow r{};
    r.step = std::stoll(cells[0]), r.time_s = number(1), r.stage = cells[2];
    r.pressure_Pa = number(3) / 1e-6, r.swept_volume_m3 = number(4) / 1e9, r.apex_m = number(5) / 1e3;
    r.min_thickness_m = number(6) / 1e3, r.contact_share = number(7);
    double* const energies_J[] = {&r.kinetic_J, &r.strain_J,      &r.gas_work_J, &r.friction_J, &r.damping_J,
                                  &r.contact_J, &r.clamp_work_J,  &r.gravity_J,  &r.air_J,      &r.viscous_J,
                                  &r.thermal_J, &r.mass_change_J, &r.balance};
    for (std::size_t k = 0; k < std::size(energies_J); ++k) *energies_J[k] = number(8 + k);
    sink(r);
  }
}

void History::save() {
  if (!changed_) return;
  folder_.write("history.csv", text_.empty() ? kColumns : text_);
  changed_ = false;
}

}  // namespace pellicle::results
