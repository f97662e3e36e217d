// What will a case do before it is run? Every resolved value with unit and origin, the mould as read, the cost.
#include "io/case/parse.h"
#include "io/commands/commands.h"
#include "io/commands/progress.h"
#include "io/moulds/load.h"
#include "io/results/json.h"
#include "solver/run.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <string>

namespace pellicle::commands {
namespace {

/// Everything `check` found out.
struct Preview {
  cases::ParsedCase parsed;
  std::optional<moulds::SurfaceNotes> mould;
  std::vector<std::string> warnings;
  Cost cost;
};

Preview look_ahead(const CheckOptions& options) {
  Preview preview{cases::parse_case(options.case_path), {}, {}, {}};
  preview.warnings = preview.parsed.warnings;
  Geometry geometry;
  if (preview.parsed.mould) {
    moulds::Surface surface = moulds::load_surface(*preview.parsed.mould);
    const auto doubt = moulds::unit_doubt(*preview.parsed.mould, surface.notes, preview.parsed.value.sheet.outline);
    if (doubt) preview.warnings.push_back(*doubt);
    preview.warnings.insert(preview.warnings.end(), surface.notes.notes.begin(), surface.notes.notes.end());
    preview.mould = surface.notes;
    geometry.mould = std::move(surface.mesh);
  }
  const Case& c = preview.parsed.value;
  const auto about_geometry = cases::telling_lines(preview.parsed, [&] { return check_geometry(c, geometry); });
  preview.warnings.insert(preview.warnings.end(), about_geometry.begin(), about_geometry.end());
  preview.cost = cases::telling_lines(preview.parsed, [&] { return estimate_cost(c, geometry); });
  return preview;
}

/// Columns a text takes on a terminal: bytes that start a character.
std::size_t columns(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

std::string padded(const std::string& text, std::size_t width) {
  return text + std::string(width > columns(text) ? width - columns(text) : 0, ' ');
}

std::string origin_text(const cases::ResolvedValue& value) {
  std::string text = value.origin == cases::Origin::kCase ? fmt::format("case, line {}", value.line)
                                                          : cases::origin_name(value.origin);
  return value.note.empty() ? text : text + "; " + value.note;
}

std::string values_text(const std::vector<cases::ResolvedValue>& values) {
  constexpr std::size_t kWidestValue = 30;  // a longer one pushes its origin to the right
  std::size_t key_width = 0, value_width = 0;
  for (const cases::ResolvedValue& v : values) {
    key_width = std::max(key_width, columns(v.key));
    value_width = std::max(value_width, std::min(kWidestValue, columns(v.value)));
  }
  std::string out;
  for (const cases::ResolvedValue& v : values) {
    out += fmt::format("  {}  {}  {}\n", padded(v.key, key_width), padded(v.value, value_width), origin_text(v));
  }
  return out;
}

std::string mould_text(const moulds::SurfaceNotes& notes) {
  const mesh::Vec3 size_mm = (notes.high_m - notes.low_m) * 1e3;
  std::string out = fmt::format("  {}, {} facets, {} points; unit {}{}\n", notes.format, notes.facets_in_file,
                                notes.points, notes.unit_name, notes.is_unit_of_file ? ", from the file" : "");
  out += fmt::format("  size {:.6g} x {:.6g} x {:.6g} mm\n", size_mm.x(), size_mm.y(), size_mm.z());
  out += fmt::format("  box  x {:.6g} to {:.6g}, y {:.6g} to {:.6g}, z {:.6g} to {:.6g} mm, as placed\n",
                     notes.low_m.x() * 1e3, notes.high_m.x() * 1e3, notes.low_m.y() * 1e3, notes.high_m.y() * 1e3,
                     notes.low_m.z() * 1e3, notes.high_m.z() * 1e3);
  out +=
      fmt::format("  corners nearer than {:.3g} um are one point ({} were not equal); {} facets without area dropped\n",
                  notes.weld_tolerance_m * 1e6, notes.welded_apart, notes.degenerate_dropped);
  return out;
}

std::string preview_text(const Preview& p) {
  std::string out = fmt::format("{}\n\nValues\n{}", p.parsed.value.title, values_text(p.parsed.values));
  if (p.mould) out += fmt::format("\nMould {}\n{}", p.parsed.mould->path.string(), mould_text(*p.mould));
  if (!p.parsed.not_used_yet.empty()) {
    out += "\nNot used yet: read and checked, but without effect in this version\n";
    out += values_text(p.parsed.not_used_yet);
  }
  out += fmt::format("\nCost\n  {} triangles, {} points, least quality {:.2f}\n  about {} steps, roughly {}\n",
                     p.cost.elements, p.cost.nodes, p.cost.min_mesh_quality, p.cost.steps,
                     duration_in_words(p.cost.seconds));
  return out;
}

void add_values(results::Json& json, const std::vector<cases::ResolvedValue>& values) {
  json.open_list();
  for (const cases::ResolvedValue& v : values) {
    json.open_object().key("key").text(v.key).key("value").text(v.value);
    json.key("origin").text(cases::origin_name(v.origin));
    json.key("line");
    if (v.line > 0) {
      json.whole(v.line);
    } else {
      json.null();
    }
    json.key("note").text(v.note).close_object();
  }
  json.close_list();
}

std::vector<double> in_mm(const mesh::Vec3& p_m) { return {p_m.x() * 1e3, p_m.y() * 1e3, p_m.z() * 1e3}; }

void add_mould(results::Json& json, const moulds::SurfaceNotes& notes, const moulds::SurfaceFile& file) {
  json.open_object().key("file").text(file.path.string()).key("format").text(notes.format);
  json.key("unit").text(notes.unit_name).key("facets").whole(notes.facets_in_file).key("points").whole(notes.points);
  json.key("degenerate_dropped").whole(notes.degenerate_dropped).key("welded_apart").whole(notes.welded_apart);
  json.key("weld_tolerance_mm").number(notes.weld_tolerance_m * 1e3);
  json.key("low_mm").numbers(in_mm(notes.low_m)).key("high_mm").numbers(in_mm(notes.high_m)).close_object();
}

std::string preview_json(const Preview& p) {
  results::Json json;
  json.open_object().key("title").text(p.parsed.value.title).key("values");
  add_values(json, p.parsed.values);
  json.key("not_used_yet");
  add_values(json, p.parsed.not_used_yet);
  json.key("mould");
  if (p.mould) {
    add_mould(json, *p.mould, *p.parsed.mould);
  } else {
    json.null();
  }
  json.key("cost").open_object().key("elements").whole(p.cost.elements).key("nodes").whole(p.cost.nodes);
  json.key("min_mesh_quality").number(p.cost.min_mesh_quality).key("steps").whole(p.cost.steps);
  json.key("seconds").number(p.cost.seconds).close_object();
  json.key("warnings").open_list();
  for (const std::string& warning : p.warnings) json.text(warning);
  json.close_list().close_object();
  return json.finish();
}

}  // namespace

int check_command(const CheckOptions& options) {
  const Preview preview = look_ahead(options);
  const std::string text = options.json ? preview_json(preview) : preview_text(preview);
  std::fwrite(text.data(), 1, text.size(), stdout);
  if (!options.quiet) {
    for (const std::string& warning : preview.warnings) fmt::print(stderr, "warning: {}\n", warning);
    if (options.out) fmt::print(stderr, "nothing written to {}: no search for defects yet\n", options.out->string());
  }
  return 0;
}

}  // namespace pellicle::commands
