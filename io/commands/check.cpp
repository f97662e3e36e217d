// What will a case do before it is run? Every resolved value with unit and origin, the mould as read, the cost.
#include "io/case/parse.h"
#include "io/commands/commands.h"
#include "io/commands/inputs.h"
#include "io/commands/progress.h"
#include "io/moulds/load.h"
#include "io/moulds/survey.h"
#include "io/reliefs/load.h"
#include "io/results/frames.h"
#include "io/results/json.h"
#include "io/results/summary.h"
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
  moulds::Survey survey;  ///< of the mould, if there is one
  std::vector<std::string> warnings;
  Cost cost;
};

/// Told before anything can end the command: a mould that hinders is the one whose defects one wants to see.
void keep_defects(const CheckOptions& options, const cases::ParsedCase& parsed, const mesh::TriangleMesh& surface,
                  const moulds::Survey& survey) {
  if (!options.out) return;
  results::ResultFolder folder(*options.out, options.force, input_files(parsed));
  results::write_defects(folder, surface, survey.inspection, survey.visibility);
  if (!options.quiet) fmt::print(stderr, "written: {}\n", (folder.path() / "defects.xdmf").string());
}

Preview look_ahead(const CheckOptions& options) {
  Preview preview{cases::parse_case(options.case_path), {}, {}, {}, {}};
  preview.warnings = preview.parsed.warnings;
  Geometry geometry;
  geometry.reliefs =
      cases::telling_lines(preview.parsed, [&] { return reliefs::load_reliefs(preview.parsed.value.reliefs); });
  std::string heater_file;
  const std::vector<std::string> about_heater = load_heater_map(preview.parsed, geometry, heater_file);
  preview.warnings.insert(preview.warnings.end(), about_heater.begin(), about_heater.end());
  if (preview.parsed.mould) {
    const bool platform = preview.parsed.value.mould && preview.parsed.value.mould->platform;
    moulds::Surface surface = moulds::load_surface(*preview.parsed.mould);
    preview.survey = moulds::survey(surface.mesh, platform, moulds::Depth::kForAReport);
    keep_defects(options, preview.parsed, surface.mesh, preview.survey);
    cases::telling_lines(preview.parsed, [&] { preview.survey.refuse_what_hinders(); });
    const auto doubt = moulds::unit_doubt(*preview.parsed.mould, surface.notes, preview.parsed.value.sheet.outline);
    if (doubt) preview.warnings.push_back(*doubt);
    preview.warnings.insert(preview.warnings.end(), surface.notes.notes.begin(), surface.notes.notes.end());
    const std::vector<std::string> about_surface = preview.survey.warnings(*preview.parsed.mould);
    preview.warnings.insert(preview.warnings.end(), about_surface.begin(), about_surface.end());
    preview.mould = surface.notes;
    geometry.mould = preview.survey.mended ? std::move(*preview.survey.mended) : std::move(surface.mesh);
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

std::string narrow_text(const char* most, const char* what, const std::optional<mesh::Narrow>& narrow) {
  if (!narrow) return fmt::format("  no {} under a tenth of the mould's size\n", what);
  return fmt::format("  {} {} {:.3g} mm, at {}\n", most, what, 1e3 * narrow->width_m,
                     moulds::place_text(narrow->place_m));
}

std::string survey_text(const moulds::Survey& survey) {
  const std::size_t bodies = survey.inspection.bodies.size();
  const bool is_closed = survey.inspection.of(mesh::Defect::kHole).count == 0;
  std::string out = fmt::format("  {}, {}\n", is_closed ? "closed" : "open",
                                bodies == 1 ? std::string("one body") : fmt::format("{} bodies", bodies));
  out += narrow_text("thinnest", "wall", survey.inspection.thinnest_wall);
  out += narrow_text("narrowest", "slot", survey.inspection.narrowest_slot);
  for (const moulds::Remark& remark : survey.remarks)
    out += fmt::format("  {}, {}\n    {}; {}\n", remark.found, remark.place, remark.means, remark.try_);
  if (survey.remarks.empty()) out += "  nothing wrong found\n";
  return out;
}

std::string preview_text(const Preview& p) {
  std::string out = fmt::format("{}\n\nValues\n{}", p.parsed.value.title, values_text(p.parsed.values));
  if (p.mould) {
    out += fmt::format("\nMould {}\n{}", p.parsed.mould->path.string(), mould_text(*p.mould));
    out += "\nSurface of the mould\n" + survey_text(p.survey);
  }
  if (!p.parsed.not_used_yet.empty()) {
    out += fmt::format("\nWithout effect in this run: {}\n", results::kMissing);
    out += values_text(p.parsed.not_used_yet);
  }
  out += fmt::format("\nCost\n  {} triangles, {} points, least quality {:.2f}\n  about {} steps, roughly {}\n",
                     p.cost.elements, p.cost.nodes, p.cost.min_mesh_quality, p.cost.steps,
                     duration_in_words(p.cost.seconds));
  if (p.cost.heat_share > 0.0)
    out +=
        fmt::format("  {:.0f} % of it for following heat{}\n", 100.0 * p.cost.heat_share,
                    p.parsed.value.heat && p.parsed.value.heat->temperature_to_modulus
                        ? ", with what the layers remember (numerics.temperature_to_modulus = false leaves that out, "
                          "numerics.heat = false all of it)"
                        : " (numerics.heat = false leaves it out)");
  if (p.cost.sag_m)
    out += fmt::format("  the sheet hangs {:.3g} mm below the clamp before the first stage\n", 1e3 * *p.cost.sag_m);
  if (p.cost.most_seconds > p.cost.seconds)
    out += fmt::format("  refinement adds to that: {} in all if the whole sheet were refined\n",
                       duration_in_words(p.cost.most_seconds));
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

void add_narrow(results::Json& json, const char* key, const std::optional<mesh::Narrow>& narrow) {
  json.key(key);
  if (narrow)
    json.open_object()
        .key("width_mm")
        .number(1e3 * narrow->width_m)
        .key("place_mm")
        .numbers(in_mm(narrow->place_m))
        .close_object();
  else
    json.null();
}

void add_survey(results::Json& json, const moulds::Survey& survey) {
  const mesh::Inspection& inspection = survey.inspection;
  json.open_object().key("closed").flag(inspection.of(mesh::Defect::kHole).count == 0).key("bodies").open_list();
  for (const mesh::Body& body : inspection.bodies) {
    json.open_object().key("triangles").whole(body.triangles).key("closed").flag(body.is_closed);
    json.key("low_mm").numbers(in_mm(body.low_m)).key("high_mm").numbers(in_mm(body.high_m)).close_object();
  }
  json.close_list().key("defects").open_list();
  for (int k = 0; k < mesh::kDefects; ++k) {
    const auto defect = static_cast<mesh::Defect>(k);
    const mesh::Found& found = inspection.of(defect);
    if (found.count == 0) continue;
    json.open_object().key("kind").text(mesh::defect_name(defect)).key("count").whole(found.count);
    json.key("place_mm").numbers(in_mm(found.place_m)).key("size_mm").number(1e3 * found.size_m).close_object();
  }
  json.close_list();
  add_narrow(json, "thinnest_wall", inspection.thinnest_wall);
  add_narrow(json, "narrowest_slot", inspection.narrowest_slot);
  const mesh::Visibility& seen = survey.visibility;
  json.key("undercut").open_object().key("area_mm2").number(1e6 * seen.undercut_area_m2);
  json.key("depth_mm").number(1e3 * seen.undercut_depth_m).key("place_mm").numbers(in_mm(seen.deepest_m));
  json.close_object().close_object();
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
  json.key("surface");
  if (p.mould) {
    add_survey(json, p.survey);
  } else {
    json.null();
  }
  json.key("cost").open_object().key("elements").whole(p.cost.elements).key("nodes").whole(p.cost.nodes);
  json.key("min_mesh_quality").number(p.cost.min_mesh_quality).key("steps").whole(p.cost.steps);
  json.key("seconds").number(p.cost.seconds).key("most_seconds").number(p.cost.most_seconds);
  json.key("heat_share").number(p.cost.heat_share).key("sag_mm");
  if (p.cost.sag_m) {
    json.number(1e3 * *p.cost.sag_m);
  } else {
    json.null();
  }
  json.close_object();
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
  }
  return 0;
}

}  // namespace pellicle::commands
