// How do the checked values of a file become the parts of a Case? One function a table; each may add derived defaults
// to the values and say what two keys mean together. Used by parse only.
#pragma once

#include "io/case/values.h"
#include "solver/case.h"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace pellicle::cases {

/// What the sections fill beside the Case.
struct Remarks {
  std::vector<std::string> warnings;
  std::vector<ResolvedValue> card_values;  ///< numbers of a card that no key can change
};

SheetSpec read_sheet(Values& values, Remarks& remarks);
/// What relative paths start from; none: files are not looked for.
using Folder = std::optional<std::filesystem::path>;
std::optional<MouldSpec> read_mould(const Values& values, const Folder& folder,
                                    std::optional<moulds::SurfaceFile>& surface);
std::vector<StageSpec> read_stages(Values& values, Remarks& remarks);
/// Files are looked for, not read: that is reliefs::load_relief.
std::vector<imprint::ReliefSpec> read_reliefs(Values& values, const Folder& folder);
Trim read_trim(const Values& values);
Limits read_limits(const Values& values);
Numerics read_numerics(const Values& values);
/// Of a case that says enough for it and does not switch it off; after sheet and mould.
std::optional<HeatSpec> read_heat(const Values& values, Case& c, Remarks& remarks);
struct PolymerCard;
/// Whether what read_heat will say is that the stiffness of the card follows the temperature.
bool stiffness_follows(const Values& values, const PolymerCard* card);

/// Of a mould whose surface, resin and wall are told; after sheet and mould. Refuses a filling without them.
std::optional<MouldBuild> read_mould_build(const Values& values, const Case& c, Remarks& remarks);

/// What no single table can tell: sheet against platform, clamp against platform.
void check_together(const Values& values, const Case& c);

}  // namespace pellicle::cases
