// What does a person start from who has no case yet? A folder with a small case that runs at once, and its mould.
#include "io/commands/commands.h"
#include "io/guide/shell_word.h"
#include "io/moulds/stl.h"
#include "mesh/check.h"
#include "mesh/shapes.h"

#include <fmt/format.h>

#include <cstdio>
#include <fstream>
#include <numbers>
#include <string>
#include <string_view>
#include <system_error>
#include <utility>

namespace pellicle::commands {
namespace {

namespace fs = std::filesystem;

constexpr double kFootX_m = 50e-3, kFootY_m = 16e-3, kHeight_m = 3e-3;  // of the plate, as the template says
constexpr double kDraft_rad = 5.0 * std::numbers::pi / 180.0;

constexpr std::string_view kTemplate =
    R"(# A nursery label to start from. Every quantity carries its unit. All keys: pellicle schema
# A line that starts with # is switched off: take the # away to use it.
title = "Nursery label, PETG 0.5 mm at 4 bar"

[sheet]                                 # the sheet as clamped
polymer      = "petg"                   # a card: law, density, temperatures. pellicle schema lists them
thickness    = "0.5 mm"                 # as bought
outline      = { disc = "80 mm" }       # free shape inside the clamp; or rectangle = ["70 mm", "40 mm"]
height       = "6 mm"                   # clamp plane above the platform at the start
temperature  = "140 °C"                 # as it leaves the heater
delay        = "2 s"                    # from the heater to the first stage
element      = "2 mm"                   # edge of its triangles
fine_element = "1 mm"                   # ... where the mould turns

[mould]
surface      = "mould.stl"              # a plate 50 x 16 x 3 mm with walls that lean by 5 degrees: put yours here
unit         = "mm"                     # of the numbers in that file
platform     = true                     # the floor z = 0 round it
friction     = "stick"                  # or a number: 0.2 with a release agent
resin        = "high-temperature"       # card of the print; with temperature the sheet's heat is followed
temperature  = "30 °C"                  # of the mould when the sheet comes
layer_height = "0.05 mm"                # of the print: how high its layer lines show
# wall       = "4 mm"                   # shell of a hollow print: does it bear pressure and heat? Takes some seconds
# fill       = "plaster"                # what is behind the shell; or "solid"
# cycle      = { hold = "20 s", open = "60 s" }  # how fast parts follow each other
# vents      = [{ at = ["0 mm", "0 mm"], diameter = "0.5 mm", below = "2 mm" }]  # upright air holes

[[forming.stage]]
name     = "lower"                      # the frame comes down over the mould: no gas yet
duration = "0.4 s"
pressure = "0 bar"
clamp_to = "0 mm"

[[forming.stage]]
name     = "press"
duration = "1 s"
pressure = "4 bar"                      # or gas = { supply = "4 bar", orifice = "3 mm", chamber = "0.3 L" }

[[forming.stage]]
name     = "hold"                       # the gas stays until letters keep their depth: see the finding hold
duration = "3 s"
pressure = "4 bar"

[[relief]]                              # a word tried on the plate before it is modelled
name   = "word"
source = { text = "LEEK", size = "6 mm", depth = "0.4 mm" }
at     = ["0 mm", "0 mm"]
grid   = "0.1 mm"                       # coarse, for a first look; 0.05 mm or finer to decide by

[part]
trim = { height = "0.5 mm" }            # the part is what lies higher above the platform
# cooling = "fan"                       # after the last stage: gas (it stays on), air or fan

[limits]
min_thickness    = "0.2 mm"             # where it is broken, the gauge that would do is looked for
# min_capture    = 0.8                  # least share of a stroke's depth
# max_layer_line = "5 um"

[numerics]
frames = 20                             # pictures of the sheet on its way
)";

[[noreturn]] void refuse(const fs::path& folder, std::string found, std::string advice) {
  throw Error({Fault::Kind::kCase, fmt::format("new folder '{}'", folder.string()), std::move(found),
               "a name that is still free, in a folder where you may write", std::move(advice)});
}

void write_file(const fs::path& file, std::string_view bytes) {
  std::ofstream out(file, std::ios::binary);
  out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  out.close();
  if (!out) {
    throw Error({Fault::Kind::kMachine, file.string(), "a file that cannot be written whole", "enough free space", ""});
  }
}

}  // namespace

int new_command(const NewOptions& options) {
  fs::path folder = options.folder.lexically_normal();
  if (!folder.has_filename()) folder = folder.parent_path();
  const std::string name = folder.filename().string();
  if (name.empty() || name == "." || name == "..") refuse(options.folder, "no name of a folder", "");
  std::error_code error;
  const bool is_made = fs::create_directory(folder, error);
  if (error && error != std::errc::file_exists) refuse(folder, error.message(), "");
  if (!is_made) refuse(folder, "something of this name", "nothing is overwritten: choose another name");
  write_file(folder / "case.toml", kTemplate);
  write_file(folder / "mould.stl",
             moulds::stl_bytes(mesh::drafted_plate(0.5 * kFootX_m, 0.5 * kFootY_m, kHeight_m, kDraft_rad)));
  fmt::print(
      "made {0}: case.toml, mould.stl. Next:\n"
      "  pellicle check {1}\n"
      "  pellicle run {1}\n"
      "  pellicle export {2}\n",
      folder.string(), guide::shell_word(folder.string()), guide::shell_word(name + "-results"));
  return 0;
}

}  // namespace pellicle::commands
