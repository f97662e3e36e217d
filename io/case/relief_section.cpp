// Which fine detail does the case name, from which source, where, and in what state of the sheet?
#include "io/case/sections.h"
#include "io/reliefs/refusals.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>
#include <string_view>
#include <system_error>

namespace pellicle::cases {
namespace {

namespace fs = std::filesystem;
using imprint::ReliefSpec;

constexpr std::size_t kLongestName = 40;         // a word in tables and names of files
constexpr double kDefaultGrid_m = 0.02e-3;       // a stroke of a printed mould has 0.1 mm or more: five cells
constexpr double kDefaultDotHeight_m = 0.75e-3;  // middle of 0.6 to 0.9 mm, 2010 ADA Standards, Table 703.3.1

/// The keys that belong to each kind of source, the first of which names it.
struct SourceKind {
  std::string_view name;
  std::vector<std::string_view> needs, may_have;
};
const std::array<SourceKind, 4>& source_kinds() {
  static const std::array<SourceKind, 4> kKinds{{
      {"text", {"text", "size", "depth"}, {"font", "raised", "mirrored", "draft", "letter_spacing", "braille"}},
      {"braille", {"text"}, {"braille", "depth", "raised", "mirrored"}},
      {"image", {"image", "pixel", "depth"}, {}},
      {"profile", {"profile", "kind"}, {}},
  }};
  return kKinds;
}

/// Reads one relief; `path` is "relief[2]".
class ReliefReader {
 public:
  ReliefReader(Values& values, const Folder& folder, std::string path)
      : values_(values), folder_(folder), path_(std::move(path)), source_(path_ + ".source") {}

  ReliefSpec read() {
    spec_.name = read_name();
    read_source();
    read_place();
    spec_.periodic = values_.at(path_ + ".periodic").flag;
    read_printed();
    read_state();
    check_together();
    return std::move(spec_);
  }

 private:
  const Value* source(std::string_view key) const { return values_.find(fmt::format("{}.{}", source_, key)); }
  double source_number(std::string_view key, double otherwise) const {
    const Value* value = source(key);
    return value != nullptr ? value->number() : otherwise;
  }
  bool source_flag(std::string_view key, bool otherwise) const {
    const Value* value = source(key);
    return value != nullptr ? value->flag : otherwise;
  }
  bool is_profile() const { return std::holds_alternative<imprint::ProfileRelief>(spec_.source); }
  bool is_mould() const { return std::holds_alternative<imprint::MouldRelief>(spec_.source); }

  /// It becomes part of the names of files.
  std::string read_name() const {
    const std::string& name = values_.at(path_ + ".name").text;
    const bool fits =
        name.size() <= kLongestName && std::all_of(name.begin(), name.end(), [](char c) {
          return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '_';
        });
    if (!fits) {
      values_.refuse(path_ + ".name", in_quotes(name),
                     fmt::format("letters a to z and A to Z, digits, - and _, at most {}", kLongestName),
                     "The results of a relief are files with its name");
    }
    return name;
  }

  /// The one kind whose naming key is there, with all it needs and nothing of another.
  const SourceKind& source_kind() const {
    std::vector<std::string_view> named;
    for (const std::string_view key : {"text", "image", "profile"}) {
      if (source(key) != nullptr) named.push_back(key);
    }
    if (named.size() != 1) {
      values_.refuse(
          source_, named.empty() ? "none of text, image, profile" : fmt::format("{} and {}", named[0], named[1]),
          "exactly one of text, image, profile",
          named.empty() ? "Write for example source = { text = \"BASIL\", size = \"6 mm\", depth = \"0.4 mm\" }"
                        : "Write a [[relief]] for each");
    }
    const std::string_view name = named[0] == "text" && source_flag("braille", false) ? "braille" : named[0];
    const auto& kinds = source_kinds();
    const SourceKind& kind = *std::find_if(kinds.begin(), kinds.end(), [&](const auto& k) { return k.name == name; });
    const auto listed = [](const std::vector<std::string_view>& keys, std::string_view key) {
      return std::find(keys.begin(), keys.end(), key) != keys.end();
    };
    for (const Key* key : keys_inside("relief.source")) {
      const std::string_view at = leaf(*key);
      const bool given = source(at) != nullptr;
      if (given && !listed(kind.needs, at) && !listed(kind.may_have, at)) {
        values_.refuse(fmt::format("{}.{}", source_, at), fmt::format("{} with {}", at, name),
                       fmt::format("with {}: {}{}{}", name, fmt::join(kind.needs, ", "),
                                   kind.may_have.empty() ? "" : ", ", fmt::join(kind.may_have, ", ")),
                       name == "braille" ? "The dots of braille have the size and place that fingers know" : "");
      }
      if (!given && listed(kind.needs, at)) {
        values_.refuse(source_, fmt::format("{} without {}", name, at), allowed_text(*key),
                       fmt::format("Write for example {} = {}", at, key->example));
      }
    }
    return kind;
  }

  void read_source() {
    if (!values_.has_table(source_)) {
      if (!values_.has("mould.surface")) {
        values_.refuse(source_, "a relief of the mould without a mould", "mould.surface, or a source of its own");
      }
      spec_.source = imprint::MouldRelief{};
      return;
    }
    const std::string_view kind = source_kind().name;
    if (kind == "text") {
      spec_.source =
          imprint::TextRelief{source("text")->text,        source("font") != nullptr ? file_of("font") : std::string(),
                              source("size")->number(),    source("depth")->number(),
                              source_flag("raised", true), source_flag("mirrored", false),
                              source_number("draft", 0.0), source_number("letter_spacing", 0.0)};
    } else if (kind == "braille") {
      spec_.source = imprint::BrailleRelief{source("text")->text, source_number("depth", kDefaultDotHeight_m),
                                            source_flag("raised", true), source_flag("mirrored", false)};
    } else if (kind == "image") {
      spec_.source = imprint::ImageRelief{file_of("image"), source("pixel")->number(), source("depth")->number()};
    } else {
      const bool is_round = source("kind")->text == "round";
      spec_.source = imprint::ProfileRelief{file_of("profile"),
                                            is_round ? mesh::Profile::Kind::kRound : mesh::Profile::Kind::kStrip};
    }
  }

  /// Path of a file beside the case that must be there.
  std::string file_of(std::string_view key) const {
    const std::string& written = source(key)->text;
    const fs::path file = (folder_.value_or(fs::path()) / written).lexically_normal();
    std::error_code ignored;
    if (folder_ && !fs::is_regular_file(file, ignored)) {
      values_.refuse(fmt::format("{}.{}", source_, key), fmt::format("no file {}", in_quotes(written)),
                     "a file that is there", "Paths are relative to the case file");
    }
    return file.string();
  }

  void read_place() {
    for (const char* key : {"at", "size", "angle"}) {
      const bool given = values_.has(fmt::format("{}.{}", path_, key));
      if (given && is_profile()) {
        values_.refuse(fmt::format("{}.{}", path_, key), fmt::format("{} with a profile", key), "no at, size or angle",
                       "A profile has no place on the mould: its state says how the sheet is");
      }
      if (!given && is_mould() && std::string_view(key) != "angle") {
        values_.refuse(path_, fmt::format("a relief of the mould without {}", key),
                       allowed_text(*find_key(fmt::format("relief.{}", key))),
                       fmt::format("Write for example {} = {}", key, find_key(fmt::format("relief.{}", key))->example));
      }
    }
    if (!is_profile()) put_default("at", {0.0, 0.0});
    if (const Value* at = values_.find(path_ + ".at")) spec_.at_m = {at->numbers[0], at->numbers[1]};
    if (const Value* size = values_.find(path_ + ".size")) spec_.size_m = {size->numbers[0], size->numbers[1]};
    if (!is_profile()) put_default("angle", {0.0});
    if (const Value* angle = values_.find(path_ + ".angle")) spec_.angle_rad = angle->number();
    const auto* image = std::get_if<imprint::ImageRelief>(&spec_.source);
    put_default("grid", {image != nullptr ? image->pixel_m : kDefaultGrid_m});
    spec_.grid_m = values_.at(path_ + ".grid").number();
  }

  /// A default that depends on the source, so that `check` shows it.
  void put_default(std::string_view key, std::vector<double> numbers) {
    const std::string at = fmt::format("{}.{}", path_, key);
    if (values_.has(at)) return;
    Value value;
    value.key = find_key(fmt::format("relief.{}", key));
    value.numbers = std::move(numbers);
    value.origin = Origin::kDefault;
    values_.put(at, std::move(value));
  }

  void read_printed() {
    const std::string printed = path_ + ".printed";
    if (!values_.has_table(printed)) return;
    if (is_profile() || is_mould()) {
      values_.refuse(printed, is_profile() ? "printed with a profile" : "printed with a relief of the mould",
                     "printed with text, braille or image", "What is measured or modelled already is as it is");
    }
    const auto length = [&](const char* key) {
      const Value* value = values_.find(fmt::format("{}.{}", printed, key));
      return value != nullptr ? value->number() : 0.0;
    };
    spec_.printed = {length("edge_radius"), length("pixel"), length("layer")};
  }

  void read_state() {
    const std::string state = path_ + ".state";
    if (!values_.has_table(state)) return;
    const auto number = [&](const char* key) { return values_.at(fmt::format("{}.{}", state, key)).number(); };
    imprint::GivenState given;
    given.thickness_m = number("thickness");
    const Value& stretch = values_.at(state + ".stretch");
    given.stretch_x = stretch.numbers[0];
    given.stretch_y = stretch.numbers[1];
    given.shear_modulus_Pa = number("shear_modulus");
    given.pressure_Pa = number("pressure");
    const Value* skin = values_.find(state + ".skin_thickness");
    const Value* modulus = values_.find(state + ".skin_shear_modulus");
    if ((skin == nullptr) != (modulus == nullptr)) {
      values_.refuse(
          state,
          skin == nullptr ? "skin_shear_modulus without skin_thickness" : "skin_thickness without skin_shear_modulus",
          "both of a skin, or neither");
    }
    if (skin != nullptr) {
      if (!(skin->number() < given.thickness_m)) {
        values_.refuse(state + ".skin_thickness", value_text(*skin),
                       fmt::format("less than thickness, {}", format_in(given.thickness_m, "mm")),
                       "thickness includes the skin");
      }
      given.skin_thickness_m = skin->number();
      given.skin_shear_modulus_Pa = modulus->number();
      given.skin_stretched = values_.at(state + ".skin_stretched").flag;
    }
    spec_.state = given;
  }

  void check_together() const {
    if (is_profile() && !spec_.state) {
      values_.refuse(path_, "a profile without state", "state = { thickness, shear_modulus, pressure, ... }",
                     "A profile has no place on the part that a state could be taken from");
    }
    const auto* profile = std::get_if<imprint::ProfileRelief>(&spec_.source);
    if (profile != nullptr && profile->kind == mesh::Profile::Kind::kRound && spec_.periodic) {
      values_.refuse(path_ + ".periodic", "a round profile that repeats", "periodic with kind = \"strip\" only");
    }
    if (spec_.size_m && spec_.size_m->minCoeff() < reliefs::kFewestCells * spec_.grid_m) {
      const double most_m = spec_.size_m->minCoeff() / reliefs::kFewestCells;
      values_.refuse(
          path_ + ".grid", format_in(spec_.grid_m, "mm"),
          fmt::format("at most {}, the shorter side of size by {}", format_in(most_m, "mm"), reliefs::kFewestCells));
    }
  }

  Values& values_;
  const Folder& folder_;
  std::string path_, source_;
  ReliefSpec spec_;
};

}  // namespace

std::vector<ReliefSpec> read_reliefs(Values& values, const Folder& folder) {
  std::vector<ReliefSpec> reliefs;
  std::map<std::string, std::string> names;  // by what a file system that folds case makes of them
  for (int i = 1; i <= values.count("relief"); ++i) {
    const std::string path = fmt::format("relief[{}]", i);
    reliefs.push_back(ReliefReader(values, folder, path).read());
    const std::string& name = reliefs.back().name;
    std::string folded = name;
    for (char& c : folded) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    const auto [before, is_new] = names.emplace(folded, name);
    if (!is_new) {
      const bool same = before->second == name;
      values.refuse(path + ".name",
                    fmt::format("{} {}{}", same ? "a second relief named" : "a relief named", in_quotes(name),
                                same ? "" : " beside " + in_quotes(before->second)),
                    "a name of its own for each, large and small letters being one",
                    "The results of a relief are files with its name");
    }
  }
  return reliefs;
}

}  // namespace pellicle::cases
