// What do the commands on a case read before they start, and what do they warn of?
#include "io/commands/inputs.h"

#include "io/moulds/survey.h"
#include "io/reliefs/load.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <utility>
#include <variant>

namespace pellicle::commands {

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
  if (parsed.own_card) files.push_back(parsed.own_card->file);
  for (const imprint::ReliefSpec& relief : parsed.value.reliefs) {
    if (const auto* text = std::get_if<imprint::TextRelief>(&relief.source); text != nullptr && !text->font.empty())
      files.emplace_back(text->font);
    if (const auto* image = std::get_if<imprint::ImageRelief>(&relief.source)) files.emplace_back(image->path);
    if (const auto* profile = std::get_if<imprint::ProfileRelief>(&relief.source)) files.emplace_back(profile->path);
  }
  return files;
}

Inputs read_inputs(const cases::ParsedCase& parsed, Warnings& warnings) {
  Inputs inputs;
  const Case& c = parsed.value;
  warnings.tell(parsed.warnings);
  inputs.geometry.reliefs = cases::telling_lines(parsed, [&] { return reliefs::load_reliefs(c.reliefs); });
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
