// What does the case say of how evenly the sheet is warm, and how it hangs?
#include "io/case/heater_section.h"

#include "io/case/cards.h"
#include "io/case/spelling.h"

#include <fmt/format.h>

#include <algorithm>

namespace pellicle::cases {
namespace {

constexpr double kRoom_K = 293.15;
/// Expansion above the glass transition over that below it: 221e-6 to 77e-6, of PMMA (PMC7388655, Table 1: computed
/// from its volumes); of other polymers an estimate, off by kExpansionSpread either way.
constexpr double kMoreAboveGlass = 2.9;

std::string file_of(const Values& values, const Folder& folder, const std::string& key, std::filesystem::path& path) {
  const std::string& written = values.at(key).text;
  path = (folder.value_or(std::filesystem::path()) / written).lexically_normal();
  std::error_code ignored;
  if (folder && !std::filesystem::is_regular_file(path, ignored))
    values.refuse(key, fmt::format("no file {}", in_quotes(written)), "a file that is there",
                  "Paths are relative to the case file");
  return written;
}

}  // namespace

void put_mean_of_faces(Values& values) {
  const Value* faces = values.find("sheet.temperature_faces");
  if (faces == nullptr) return;
  if (values.has("sheet.temperature"))
    values.refuse("sheet.temperature_faces", "temperatures of the faces beside sheet.temperature", "one of the two",
                  "sheet.temperature is then the mean of both faces: leave it out");
  Value mean;
  mean.key = find_key("sheet.temperature");
  mean.numbers = {0.5 * (faces->numbers[0] + faces->numbers[1])};
  mean.origin = Origin::kCase;
  mean.line = faces->line;
  mean.note = "mean of sheet.temperature_faces";
  values.put("sheet.temperature", mean);
}

HeaterSpec read_heater(const Values& values) {
  HeaterSpec heater;
  if (const Value* faces = values.find("sheet.temperature_faces"))
    heater.face_difference_K = faces->numbers[0] - faces->numbers[1];
  const Value *rim = values.find("sheet.cold_rim"), *clamp = values.find("sheet.clamp_temperature");
  if ((rim == nullptr) != (clamp == nullptr)) {
    values.refuse(rim == nullptr ? "sheet.clamp_temperature" : "sheet.cold_rim", "one without the other",
                  "both sheet.cold_rim and sheet.clamp_temperature",
                  "From the clamp inwards the sheet warms over cold_rim");
  }
  if (rim != nullptr) heater.cold_rim_m = rim->number(), heater.clamp_K = clamp->number();
  return heater;
}

std::optional<heater::MapFile> read_heater_map(const Values& values, const Folder& folder) {
  const std::string map = "sheet.temperature_map";
  if (!values.has_table(map)) return std::nullopt;
  const bool image = values.has(map + ".image"), table = values.has(map + ".table");
  if (image == table)
    values.refuse(map, image ? "both image and table" : "neither image nor table", "exactly one of image, table");
  if (!values.has("sheet.temperature") || values.at("sheet.temperature").origin != Origin::kCase)
    values.refuse(
        map, "a map without sheet.temperature", "sheet.temperature beside the map",
        "It is the temperature that stands for the whole sheet: for its law, the pace and the forming window");
  for (const char* key : {".black", ".white", ".width", ".at"}) {
    if (image && !values.has(map + key) && std::string_view(key) != ".at")
      values.refuse(map, fmt::format("an image without {}", key + 1), "an image with black, white and width",
                    "What temperatures are black and white, and how wide is the picture?");
    if (table && values.has(map + key))
      values.refuse(map + key, "a key of an image with a table", "leave it out: a table says all of it");
  }
  heater::MapFile file;
  file_of(values, folder, map + (image ? ".image" : ".table"), file.path);
  if (table) {
    file.kind = heater::Table{};
    return file;
  }
  const Value& at = values.has(map + ".at") ? values.at(map + ".at") : values.at("sheet.centre");
  file.kind = heater::Picture{values.at(map + ".black").number(),
                              values.at(map + ".white").number(),
                              {at.numbers[0], at.numbers[1]},
                              values.at(map + ".width").number()};
  return file;
}

void read_sag(Values& values, const PolymerCard* card, SheetSpec& sheet) {
  sheet.sags = values.at("sheet.sag").flag;
  if (const Value* given = values.find("sheet.expansion")) {
    sheet.expansion = given->number();
    return;
  }
  Value value;
  value.key = find_key("sheet.expansion");
  value.origin = Origin::kDefault;
  value.note = "as bought";
  if (sheet.sags && sheet.solid && card != nullptr && card->relaxation) {
    // Below the glass transition by the card's number, above it by more.
    const double glass_K = law_of(*card->relaxation).relaxation.shift.limit_K,
                 solid_1_K = sheet.solid->expansion_1_K.likely;
    const double below_K = std::clamp(sheet.temperature_K, kRoom_K, std::max(kRoom_K, glass_K)) - kRoom_K;
    const double above_K = std::max(0.0, sheet.temperature_K - std::max(kRoom_K, glass_K));
    sheet.expansion = solid_1_K * (below_K + kMoreAboveGlass * above_K);
    value.origin = Origin::kCard;
    value.note = fmt::format(
        "{:.3g} to {:.3g}: the card's expansion from 20 °C to its glass transition, {} times that above, an estimate",
        sheet.expansion / kExpansionSpread, sheet.expansion * kExpansionSpread, kMoreAboveGlass);
  }
  value.numbers = {sheet.expansion};
  values.put("sheet.expansion", value);
}

}  // namespace pellicle::cases
