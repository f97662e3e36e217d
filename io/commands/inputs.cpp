// What do the commands on a case read before they start, and what do they warn of?
#include "io/commands/inputs.h"

#include "io/moulds/survey.h"
#include "io/reliefs/load.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <utility>
#include <variant>

namespace pellicle::commands {
namespace {

/// Of a map that is told for another sheet temperature than that of the case.
std::optional<std::string> mean_in_doubt(const sheet::TemperatureMap& map, const SheetSpec& sheet) {
  constexpr double kApart_K = 5.0;  // about a fifth of the modulus (it halves in 10 to 20 K: computed for polystyrene)
  const double mean_K = heater::mean_K(map, sheet.outline);
  if (std::fabs(mean_K - sheet.temperature_K) <= kApart_K) return std::nullopt;
  return fmt::format(
      "sheet.temperature_map has a mean of {:.0f} °C over the sheet, sheet.temperature is {:.0f} °C: law, pace and "
      "forming window go by the latter",
      mean_K - 273.15, sheet.temperature_K - 273.15);
}

}  // namespace

void Warnings::tell(const std::vector<std::string>& warnings) {
  for (const std::string& warning : warnings) {
    if (std::find(told_.begin(), told_.end(), warning) != told_.end()) continue;
    line_.clear();
    fmt::print(stderr, "warning: {}\n", warning);
    told_.push_back(warning);
  }
}

std::vector<std::filesystem::path> input_files(const cases::ParsedCase& parsed) {
  std::vector<std::filesystem::path> files{parsed.file};
  if (parsed.mould) files.push_back(parsed.mould->path);
  if (parsed.heater_map) files.push_back(parsed.heater_map->path);
  if (parsed.own_card) files.push_back(parsed.own_card->file);
  for (const imprint::ReliefSpec& relief : parsed.value.reliefs) {
    if (const auto* text = std::get_if<imprint::TextRelief>(&relief.source); text != nullptr && !text->font.empty())
      files.emplace_back(text->font);
    if (const auto* image = std::get_if<imprint::ImageRelief>(&relief.source)) files.emplace_back(image->path);
    if (const auto* profile = std::get_if<imprint::ProfileRelief>(&relief.source)) files.emplace_back(profile->path);
  }
  return files;
}

std::vector<std::string> load_heater_map(const cases::ParsedCase& parsed, Geometry& geometry, std::string& bytes) {
  const Case& c = parsed.value;
  if (!parsed.heater_map || !c.heat) return {};
  bytes = heater::bytes_of(*parsed.heater_map);
  geometry.heater_map = heater::map_of(bytes, *parsed.heater_map, c.sheet.outline);
  const auto doubt = mean_in_doubt(*geometry.heater_map, c.sheet);
  return doubt ? std::vector{*doubt} : std::vector<std::string>{};
}

Inputs read_inputs(const cases::ParsedCase& parsed, Warnings& warnings) {
  Inputs inputs;
  const Case& c = parsed.value;
  warnings.tell(parsed.warnings);
  inputs.geometry.reliefs = cases::telling_lines(parsed, [&] { return reliefs::load_reliefs(c.reliefs); });
  warnings.tell(load_heater_map(parsed, inputs.geometry, inputs.heater_file));
  if (!parsed.mould) return inputs;
  moulds::Surface surface = moulds::load_surface(*parsed.mould);
  warnings.tell(surface.notes.notes);
  const bool has_sheet = c.sheet.thickness_m > 0.0;
  if (has_sheet)
    if (const auto doubt = moulds::unit_doubt(*parsed.mould, surface.notes, c.sheet.outline)) warnings.tell({*doubt});
  moulds::Survey survey = moulds::survey(surface.mesh, c.mould && c.mould->platform, moulds::Depth::kForARun);
  cases::telling_lines(parsed, [&] { survey.refuse_what_hinders(); });
  warnings.tell(survey.warnings(*parsed.mould));
  inputs.open_at_m = survey.open_at_m;
  inputs.geometry.mould = survey.mended ? std::move(*survey.mended) : std::move(surface.mesh);
  return inputs;
}

}  // namespace pellicle::commands
