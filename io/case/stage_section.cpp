// What is done to the sheet, what is kept of it, and how is it computed? Stages, trim, limits, numerics.
#include "io/case/sections.h"
#include "mesh/check.h"
#include "mesh/loop.h"

#include <fmt/format.h>

#include <set>

namespace pellicle::cases {
namespace {

using mesh::Vec2;

std::variant<PressureDrive, GasDrive, VolumeDrive> read_drive(const Values& values, const std::string& stage) {
  const Value* pressure = values.find(stage + ".pressure");
  const Value* volume = values.find(stage + ".volume");
  const bool has_gas = values.has_table(stage + ".gas");
  const int given = (pressure ? 1 : 0) + (volume ? 1 : 0) + (has_gas ? 1 : 0);
  if (given != 1) {
    std::string found;
    if (pressure) found = "pressure";
    if (has_gas) found += std::string(found.empty() ? "" : " and ") + "gas";
    if (volume) found += std::string(found.empty() ? "" : " and ") + "volume";
    values.refuse(stage, given == 0 ? "none of pressure, gas, volume" : found, "exactly one of pressure, gas, volume",
                  given == 0 ? "Write for example pressure = \"4 bar\"; a hold repeats the last pressure"
                             : "A pressure is given, or it is the result of a volume or of gas flowing in");
  }
  if (pressure) return PressureDrive{pressure->number()};
  if (volume) return VolumeDrive{volume->number()};
  GasDrive gas{};
  gas.supply_Pa = values.at(stage + ".gas.supply").number();
  gas.orifice_m = values.at(stage + ".gas.orifice").number();
  gas.chamber_m3 = values.at(stage + ".gas.chamber").number();
  gas.adiabatic = values.at(stage + ".gas.process").text == "adiabatic";
  return gas;
}

}  // namespace

std::vector<StageSpec> read_stages(Values& values, Remarks& remarks) {
  const int count = values.count("forming.stage");
  if (count == 0) values.refuse("forming.stage", "no stage", "at least one [[forming.stage]]");
  std::vector<StageSpec> stages;
  std::set<std::string> names;
  for (int i = 1; i <= count; ++i) {
    const std::string path = fmt::format("forming.stage[{}]", i);
    if (!values.has(path + ".name")) {
      Value name;
      name.key = find_key("forming.stage.name");
      name.text = fmt::format("stage {}", i);
      name.origin = Origin::kDefault;
      values.put(path + ".name", name);
    }
    StageSpec stage;
    stage.name = values.at(path + ".name").text;
    stage.duration_s = values.at(path + ".duration").number();
    stage.drive = read_drive(values, path);
    if (const Value* clamp = values.find(path + ".clamp_to")) stage.clamp_to_m = clamp->number();
    if (!names.insert(stage.name).second) {
      remarks.warnings.push_back(fmt::format("{}: a second stage named {}; results tell them apart by time only",
                                             values.where(path + ".name"), in_quotes(stage.name)));
    }
    stages.push_back(std::move(stage));
  }
  return stages;
}

Trim read_trim(const Values& values) {
  if (const Value* height = values.find("part.trim.height")) return HeightTrim{height->number()};
  const Value* points = values.find("part.trim");
  if (points == nullptr) return MouldTrim{};
  std::vector<Vec2> loop_m;
  for (std::size_t i = 0; i + 1 < points->numbers.size(); i += 2) {
    loop_m.emplace_back(points->numbers[i], points->numbers[i + 1]);
  }
  if (loop_m.size() > 1 && loop_m.front() == loop_m.back()) loop_m.pop_back();  // closed by hand
  if (const auto fault = mesh::fault_of_loop(loop_m))
    values.refuse("part.trim", fault->found, fault->allowed, fault->advice);
  return LoopTrim{std::move(loop_m)};
}

Limits read_limits(const Values& values) {
  Limits limits;
  if (const Value* thickness = values.find("limits.min_thickness")) limits.min_thickness_m = thickness->number();
  if (const Value* capture = values.find("limits.min_capture")) limits.min_capture = capture->number();
  if (const Value* line = values.find("limits.max_layer_line")) limits.max_layer_line_m = line->number();
  return limits;
}

Numerics read_numerics(const Values& values) {
  Numerics numerics;
  numerics.pace = values.at("numerics.pace").text == "real" ? Pace::kReal : Pace::kQuasiStatic;
  numerics.threads = static_cast<int>(values.at("numerics.threads").number());
  numerics.energy_limit = values.at("numerics.energy_limit").number();
  numerics.frames = static_cast<int>(values.at("numerics.frames").number());
  numerics.trapped_air = values.at("numerics.trapped_air").flag;
  numerics.adiabatic_air = values.at("numerics.air_process").text == "adiabatic";
  return numerics;
}

void check_together(const Values& values, const Case& c) {
  if (!c.mould || !c.mould->platform) return;
  const double touch_m = -0.01 * c.sheet.thickness_m;  // design: a gap down to -1 % of the thickness counts as touch
  const auto check_height = [&](const std::string& path, double height_m) {
    if (height_m >= touch_m) return;
    throw Error({.kind = Fault::Kind::kGeometry,
                 .where = values.where(path),
                 .found = format_in(height_m, "mm") + ", below the platform at z = 0",
                 .allowed = "0 mm or more with mould.platform = true",
                 .advice = "Raise the clamp, or set platform = false"});
  };
  check_height("sheet.height", c.sheet.height_m);
  for (std::size_t i = 0; i < c.stages.size(); ++i) {
    if (c.stages[i].clamp_to_m) check_height(fmt::format("forming.stage[{}].clamp_to", i + 1), *c.stages[i].clamp_to_m);
  }
}

}  // namespace pellicle::cases
