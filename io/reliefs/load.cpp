// What shape does a relief of the case have? One function a kind of source.
#include "io/reliefs/load.h"

#include "io/reliefs/braille.h"
#include "io/reliefs/bytes.h"
#include "io/reliefs/image.h"
#include "io/reliefs/patch.h"
#include "io/reliefs/profile_csv.h"
#include "io/reliefs/refusals.h"
#include "io/reliefs/text.h"

#include <fmt/format.h>

#include <cmath>
#include <map>
#include <utility>

namespace pellicle::reliefs {
namespace {

using imprint::ReliefSpec;
using mesh::Vec2;

constexpr std::uintmax_t kLargestImage_bytes = 64'000'000U;    // twice the bytes of the most pixels
constexpr double kSameLength = 1e-9;                           // relative: two texts for one length
constexpr std::uintmax_t kLargestProfile_bytes = 16'000'000U;  // 160 bytes a point

Relief lettered(Lettering lettering) { return {std::move(lettering.map), std::move(lettering.glyphs)}; }

Relief load(const imprint::TextRelief& source, const ReliefSpec& spec, const std::string& where) {
  const std::filesystem::path file = source.font.empty() ? default_font() : std::filesystem::path(source.font);
  if (file.empty()) {
    refuse_wish(where, "no font, and DejaVu Sans is not installed", "font = \"...\", the path of a font file",
                "Or install the package fonts-dejavu-core");
  }
  Font font(file);
  TextRequest request;
  request.text = source.text;
  request.cap_height_m = source.cap_height_m;
  request.depth_m = source.depth_m;
  request.raised = source.raised;
  request.draft_rad = source.draft_rad;
  request.letter_spacing_m = source.letter_spacing_m;
  request.mirrored = source.mirrored;
  request.grid_m = spec.grid_m;
  request.patch_m = spec.size_m;
  request.periodic = spec.periodic;
  return lettered(make_text(request, font, where));
}

Relief load(const imprint::BrailleRelief& source, const ReliefSpec& spec, const std::string& where) {
  BrailleRequest request;
  request.text = source.text;
  request.dimensions.dot_height_m = source.dot_height_m;
  request.raised = source.raised;
  request.mirrored = source.mirrored;
  request.grid_m = spec.grid_m;
  request.patch_m = spec.size_m;
  request.periodic = spec.periodic;
  return lettered(make_braille(request, where));
}

Relief load(const imprint::ImageRelief& source, const ReliefSpec& spec, const std::string& where) {
  mesh::HeightMap map = read_image(read_bytes(source.path, kLargestImage_bytes), source.path, source.pixel_m,
                                   source.depth_m, spec.periodic);
  const Vec2 own_m = source.pixel_m * Vec2(map.nx, map.ny);
  const Vec2 patch_m = spec.size_m.value_or(own_m);
  check_fits(own_m, patch_m, where, "image");
  if (spec.periodic && !patch_m.isApprox(own_m, kSameLength)) {
    refuse_wish(where,
                fmt::format("a periodic image of {:.6g} x {:.6g} mm in a patch of {:.6g} x {:.6g} mm", 1e3 * own_m.x(),
                            1e3 * own_m.y(), 1e3 * patch_m.x(), 1e3 * patch_m.y()),
                "no size: pixels times pixel is the period");
  }
  const Cells own = cells_of(own_m, spec.grid_m, spec.periodic, where);
  const Cells patch = cells_of(patch_m, spec.grid_m, spec.periodic, where);
  const bool same_grid = std::fabs(spec.grid_m - source.pixel_m) <= kSameLength * source.pixel_m;
  if (!same_grid) map = mesh::resampled(map, own.nx, own.ny, spec.grid_m);
  if (patch.nx != own.nx || patch.ny != own.ny) map = mesh::framed(map, patch.nx, patch.ny);
  return {std::move(map), {}};
}

Relief load(const imprint::ProfileRelief& source, const ReliefSpec& spec, const std::string&) {
  return {read_profile_csv(read_bytes(source.path, kLargestProfile_bytes), source.path, source.kind, spec.periodic),
          {}};
}

Relief load(const imprint::MouldRelief&, const ReliefSpec&, const std::string&) {
  ensure(false, "a relief of the mould is looked for on the mould");
  return {};
}

void check_cells(const mesh::HeightMap& map, const std::string& where) {
  if (map.nx >= kFewestCells) return;
  refuse_wish(where, fmt::format("{} x {} cells of {:.6g} mm", map.nx, map.ny, 1e3 * map.spacing_m),
              fmt::format("{} cells or more along x", kFewestCells), "Take a finer grid or pixel, or a larger size");
}

mesh::HeightMap as_printed(mesh::HeightMap map, const imprint::Printed& printed) {
  if (printed.edge_radius_m > 0.0) map = mesh::with_round_edges(map, printed.edge_radius_m);
  if (printed.pixel_m > 0.0) map = mesh::blurred(map, printed.pixel_m);
  if (printed.layer_m > 0.0) map = mesh::in_layers(map, printed.layer_m);
  return map;
}

}  // namespace

Relief load_relief(const imprint::ReliefSpec& spec) {
  const std::string where = fmt::format("relief '{}', source", spec.name);
  Relief relief = std::visit([&](const auto& source) { return load(source, spec, where); }, spec.source);
  if (auto* map = std::get_if<mesh::HeightMap>(&relief.shape)) {
    check_cells(*map, where);
    *map = as_printed(*map, spec.printed);
  }
  return relief;
}

std::vector<imprint::Label> labels_of(const std::vector<Glyph>& glyphs, double spacing_m) {
  std::vector<imprint::Label> labels;
  std::map<std::string, int> count;
  for (const Glyph& g : glyphs) {
    const int n = ++count[g.character];
    labels.push_back({n == 1 ? g.character : fmt::format("{} ({})", g.character, n),
                      {spacing_m * g.first_i, spacing_m * g.first_j, spacing_m * g.end_i, spacing_m * g.end_j}});
  }
  return labels;
}

std::vector<ReliefShape> load_reliefs(const std::vector<ReliefSpec>& specs) {
  std::vector<ReliefShape> shapes;
  for (const ReliefSpec& spec : specs) {
    ReliefShape shape;
    if (!std::holds_alternative<imprint::MouldRelief>(spec.source)) {
      Relief relief = load_relief(spec);
      if (const auto* map = std::get_if<mesh::HeightMap>(&relief.shape))
        shape.labels = labels_of(relief.glyphs, map->spacing_m);
      shape.shape = std::move(relief.shape);
    }
    shapes.push_back(std::move(shape));
  }
  return shapes;
}

}  // namespace pellicle::reliefs
