// Does the case say enough of the printed mould to ask whether it bears pressure and heat?
#include "io/case/cards.h"
#include "io/case/sections.h"

#include <fmt/format.h>

namespace pellicle::cases {
namespace {

constexpr double kRoom_K = 293.15;  // of a mould whose temperature is not told

mesh::Inside inside_of(const std::string& fill) {
  if (fill == "plaster") return mesh::Inside::kFilled;
  return fill == "solid" ? mesh::Inside::kSolid : mesh::Inside::kHollow;
}

std::optional<sheet::HeatMaterial> heat_of_sheet(const Values& values, const Case& c) {
  const PolymerCard* polymer = values.polymer();
  if (polymer == nullptr || !polymer->conductivity || !polymer->specific_heat) return std::nullopt;
  return sheet::HeatMaterial{polymer->conductivity->value.likely, polymer->specific_heat->value.likely,
                             c.sheet.density_kg_m3};
}

std::vector<ResinSpec> all_resins() {
  std::vector<ResinSpec> all;
  for (const ResinCard& card : known_resins()) all.push_back(spec_of(card));
  return all;
}

}  // namespace

std::optional<MouldBuild> read_mould_build(const Values& values, const Case& c, Remarks& remarks) {
  const std::string& fill = values.at("mould.fill").text;
  const Value *wall = values.find("mould.wall"), *resin = values.find("mould.resin");
  const bool has_surface = values.has("mould.surface");
  const std::string lack = !has_surface                         ? "mould.surface"
                           : resin == nullptr                   ? "mould.resin"
                           : wall == nullptr && fill != "solid" ? "mould.wall"
                                                                : "";
  if (!lack.empty()) {
    if (fill != "none")
      values.refuse("mould.fill", in_quotes(fill) + ", but no " + lack, "none, or a case with " + lack,
                    "Give what is missing: a filling means nothing without it");
    return std::nullopt;
  }
  const ResinCard& card = *find_resin(resin->text);
  for (const CardNumber& number : card.numbers)
    remarks.card_values.push_back(
        {"card." + card.name + "." + number.name, value_text(number), Origin::kCard, 0, note_text(number)});
  const Value* start = values.find("mould.temperature");
  return MouldBuild{.wall_m = wall != nullptr ? wall->number() : 0.0,
                    .inside = inside_of(fill),
                    .base_open = values.at("mould.base").text == "open",
                    .resin = spec_of(card),
                    .start_K = start != nullptr ? start->number() : kRoom_K,
                    .hold_s = values.at("mould.cycle.hold").number(),
                    .open_s = values.at("mould.cycle.open").number(),
                    .parts = static_cast<int>(values.at("mould.cycle.parts").number()),
                    .cards = all_resins(),
                    .polymer = heat_of_sheet(values, c)};
}

}  // namespace pellicle::cases
