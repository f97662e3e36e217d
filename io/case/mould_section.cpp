// Which mould does the case stand below the sheet? File, unit, placement, platform and friction.
#include "io/case/cards.h"
#include "io/case/sections.h"
#include "io/case/spelling.h"

#include <fmt/format.h>

#include <algorithm>
#include <system_error>

namespace pellicle::cases {
namespace {

namespace fs = std::filesystem;

constexpr const char* kKinds = "a .stl, .obj, .ply, .3mf, .step or .stp file";

[[noreturn]] void refuse_missing_file(const Values& values, const fs::path& path, const std::string& written) {
  std::vector<std::string> near;
  std::error_code ignored;
  const fs::path folder = path.has_parent_path() ? path.parent_path() : fs::path(".");
  for (fs::directory_iterator it(folder, ignored), end; !ignored && it != end; it.increment(ignored)) {
    if (moulds::file_kind(it->path()) != moulds::FileKind::kUnknown) near.push_back(it->path().filename().string());
  }
  std::sort(near.begin(), near.end());  // folders are listed in no order
  std::string advice = "Paths are relative to the case file";
  if (const auto best = nearest_word(path.filename().string(), near)) {
    advice = fmt::format("Did you mean {}?", *best);
  } else if (!near.empty()) {
    advice += fmt::format("; there is {}", near.front());
  }
  values.refuse("mould.surface", fmt::format("no file {}", in_quotes(written)), kKinds, advice);
}

moulds::SurfaceFile read_surface(const Values& values, const Folder& folder) {
  const Value& surface = values.at("mould.surface");
  moulds::SurfaceFile file;
  file.path = (folder.value_or(fs::path()) / surface.text).lexically_normal();
  const moulds::FileKind kind = moulds::file_kind(file.path);
  if (kind == moulds::FileKind::kUnknown) values.refuse("mould.surface", in_quotes(surface.text), kKinds);
  std::error_code ignored;
  if (folder && !fs::exists(file.path, ignored)) refuse_missing_file(values, file.path, surface.text);
  if (folder && !fs::is_regular_file(file.path, ignored)) {
    values.refuse("mould.surface", fmt::format("{}, which is no plain file", in_quotes(surface.text)), kKinds);
  }
  const Value* unit = values.find("mould.unit");
  if (unit == nullptr && moulds::carries_unit(kind)) return file;  // the file says it
  if (unit == nullptr) {
    values.refuse("mould", "no unit", allowed_text(*find_key("mould.unit")),
                  fmt::format("{} {} file holds bare numbers. Write for example unit = \"mm\"",
                              kind == moulds::FileKind::kPly ? "A" : "An", moulds::kind_name(kind)));
  }
  file.unit_name = unit->text;
  file.unit_m = to_SI(1.0, unit->text);
  return file;
}

void check_resin(const Values& values) {
  const Value* resin = values.find("mould.resin");
  if (resin == nullptr || find_resin(resin->text) != nullptr) return;
  std::vector<std::string> names;
  std::string allowed;
  for (const ResinCard& card : known_resins()) {
    names.push_back(card.name);
    allowed += (allowed.empty() ? "one of the cards " : ", ") + card.name;
  }
  const auto near = nearest_word(resin->text, names);
  values.refuse("mould.resin", "the unknown card " + in_quotes(resin->text), allowed,
                near ? fmt::format("Did you mean {}?", *near) : "");
}

std::vector<PlacedVent> read_vents(const Values& values) {
  std::vector<PlacedVent> vents;
  for (int i = 1; i <= values.count("mould.vents"); ++i) {
    const std::string path = fmt::format("mould.vents[{}]", i);
    const std::vector<double>& at_m = values.at(path + ".at").numbers;
    air::Hole hole{.diameter_m = values.at(path + ".diameter").number(), .land_m = values.at(path + ".land").number()};
    if (const Value* slot = values.find(path + ".slot")) {
      hole.slot_m = slot->number();
      if (!hole.is_slot())
        values.refuse(path + ".slot",
                      value_text(*slot) + " long, " + value_text(values.at(path + ".diameter")) + " wide",
                      "more than its width, which is the diameter", "a round hole needs no slot");
    }
    if (const Value* below = values.find(path + ".below")) {
      hole.foot_m = below->number();
      if (hole.foot_m < hole.diameter_m)
        values.refuse(path + ".below",
                      value_text(*below) + " under a hole of " + value_text(values.at(path + ".diameter")),
                      "at least the diameter", "a vent widens downwards, so that it can be cleared");
    }
    vents.push_back({{at_m[0], at_m[1]}, hole});
  }
  return vents;
}

}  // namespace

std::optional<MouldSpec> read_mould(const Values& values, const Folder& folder,
                                    std::optional<moulds::SurfaceFile>& surface) {
  if (!values.has_table("mould")) return std::nullopt;
  check_resin(values);
  if (const Value* direction = values.find("mould.build_direction")) {
    const bool is_zero =
        std::all_of(direction->numbers.begin(), direction->numbers.end(), [](double x) { return x == 0.0; });
    if (is_zero) values.refuse("mould.build_direction", "[0, 0, 0]", "a direction of any length but 0");
  }
  MouldSpec mould{};
  mould.platform = values.at("mould.platform").flag;
  mould.platform_leaks = values.at("mould.platform_leaks").flag;
  if (const Value* layer = values.find("mould.layer_height")) mould.layer_height_m = layer->number();
  const std::vector<double>& built = values.at("mould.build_direction").numbers;
  mould.build_direction = mesh::Vec3(built[0], built[1], built[2]).normalized();
  const Value& friction = values.at("mould.friction");
  mould.friction = friction.numbers.empty() ? Friction{true, 0.0} : Friction{false, friction.number()};
  if (values.has("mould.surface")) {
    surface = read_surface(values, folder);
    const Value& move = values.at("mould.move");
    surface->placement.move_m = {move.numbers[0], move.numbers[1], move.numbers[2]};
    if (values.has_table("mould.turn")) {
      surface->placement.axis = values.at("mould.turn.axis").text.front() - 'x';
      surface->placement.angle_rad = values.at("mould.turn.angle").number();
    }
    mould.vents = read_vents(values);
    return mould;
  }
  if (!mould.platform) {
    values.refuse("mould", "neither surface nor platform", "a surface, or platform = true",
                  "For free inflation leave [mould] out");
  }
  if (values.count("mould.vents") > 0)
    values.refuse("mould.vents[1]", "a hole in no surface", "vents only with mould.surface");
  for (const char* key : {"mould.unit", "mould.turn.angle", "mould.layer_height"}) {
    if (values.has(key)) values.refuse(key, "a key of a surface", "it only with mould.surface");
  }
  return mould;
}

}  // namespace pellicle::cases
