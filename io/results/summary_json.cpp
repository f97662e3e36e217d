// What came out, for a machine? Keys in a fixed order, as in docs/result_format.md and its schema.
#include "io/results/json.h"
#include "io/results/relief_files.h"
#include "io/results/spread.h"
#include "io/results/summary.h"

#include <cmath>
#include <numbers>
#include <utility>

namespace pellicle::results {
namespace {

constexpr int kFormatVersion = 1;  ///< grows when a reader of an older version would be misled

void add_finding(Json& json, const checks::Finding& finding) {
  json.open_object();
  json.key("id").text(finding.id);
  json.key("question").text(finding.question);
  json.key("value").number(finding.value);
  if (finding.band) add_band(json, *finding.band);
  json.key("unit").text(finding.unit);
  json.key("limit");
  finding.limit ? json.number(*finding.limit) : json.null();
  if (finding.limit_band) add_band(json, *finding.limit_band, "limit_", "limit_moved_by");
  json.key("verdict").text(verdict_word(finding.verdict));
  json.key("place_mm");
  if (finding.place_m) {
    json.numbers({1e3 * finding.place_m->x(), 1e3 * finding.place_m->y(), 1e3 * finding.place_m->z()});
  } else {
    json.null();
  }
  json.key("why").text(finding.why);
  json.key("uncertainty").text(finding.uncertainty);
  json.key("advice").text(finding.advice);
  json.close_object();
}

void add_stage(Json& json, const StageReport& stage) {
  json.open_object();
  json.key("name").text(stage.name);
  json.key("start_s").number(stage.start_s);
  json.key("end_s").number(stage.end_s);
  json.key("steps").whole(stage.steps);
  json.key("pressure_MPa").number(1e-6 * stage.pressure_Pa);
  json.key("swept_volume_mm3").number(1e9 * stage.swept_volume_m3);
  json.key("reached").flag(stage.reached);
  json.key("mass_factor").number(stage.mass_factor);
  json.key("damping_per_s").number(stage.damping_per_s);
  json.key("travel_s").number(stage.travel_s);
  json.key("pace").number(stage.pace);
  json.key("kinetic_share").number(stage.kinetic_share);
  json.key("slipped_share").number(stage.friction_share_slipped);
  json.key("passed_limit");
  if (std::isnan(stage.peak_Pa)) {
    json.null();
  } else {
    json.open_object().key("time_s").number(stage.peak_s).key("pressure_MPa").number(1e-6 * stage.peak_Pa);
    json.key("swept_volume_mm3").number(1e9 * stage.peak_m3);
    json.key("fastest_mm3_per_s").number(1e9 * stage.fastest_m3_s).close_object();
  }
  json.close_object();
}

std::vector<double> in_mm(const mesh::Vec3& p_m) { return {1e3 * p_m.x(), 1e3 * p_m.y(), 1e3 * p_m.z()}; }

void add_stroke(Json& json, const ReliefResult& relief, const imprint::StrokeAnswer& s) {
  json.open_object();
  json.key("name").text(s.name);
  json.key("place_mm").numbers(in_mm(relief.place_m(s.place_m[0], s.place_m[1], 0.0)));
  json.key("width_mm").number(1e3 * s.width_m);
  json.key("narrowest_mm").number(1e3 * s.narrowest_m);
  json.key("height_mm").number(1e3 * s.height_m);
  json.key("angle_deg").number(s.angle_rad * 180.0 / std::numbers::pi);
  json.key("in_counter").flag(s.in_counter);
  json.key("depth_mm").number(1e3 * s.depth.answer_m);
  json.key("depth_stick_mm").number(1e3 * s.depth.stick_m);
  json.key("depth_slip_mm").number(1e3 * s.depth.slip_m);
  json.key("depth_layer_mm").number(1e3 * s.depth.layer_m);
  json.key("share").number(s.share);
  json.key("share_stick").number(s.share_stick);
  json.key("share_slip").number(s.share_slip);
  json.key("share_air_free").number(s.share_air_free);
  json.key("share_along").number(s.share_along);
  json.key("model").text(imprint::model_word(s.depth.model));
  json.key("valid").flag(s.depth.valid);
  json.key("corner_radius_mm").number(1e3 * s.corner_radius_m);
  json.key("needed_pressure_MPa").number(1e-6 * s.needed_pressure_Pa);
  json.key("needed_width_mm").number(1e3 * s.needed_width_m);
  json.key("needed_thickness_mm").number(1e3 * s.needed_thickness_m);
  json.close_object();
}

void add_texts(Json& json, std::string_view key, const std::vector<std::string>& texts) {
  json.key(key).open_list();
  for (const std::string& text : texts) json.text(text);
  json.close_list();
}

void add_relief(Json& json, const ReliefResult& relief) {
  json.open_object();
  for (const ReliefAttribute& attribute : relief_attributes(relief)) {
    json.key(attribute.name);
    if (const auto* flag = std::get_if<bool>(&attribute.value))
      json.flag(*flag);
    else if (const auto* text = std::get_if<std::string>(&attribute.value))
      json.text(*text);
    else
      json.number(std::get<double>(attribute.value));
  }
  if (relief.capture_band) add_band(json, *relief.capture_band, "capture_");
  json.key("file").text(relief_file(relief.answer.name));
  const imprint::PatchFrame& f = relief.frame;
  json.key("corner_mm").numbers(in_mm(f.corner_m));
  for (const auto& [key, axis] : {std::pair{"along_x", f.along_x}, {"along_y", f.along_y}, {"normal", f.normal}})
    json.key(key).numbers({axis.x(), axis.y(), axis.z()});
  json.key("strokes").open_list();
  for (const imprint::StrokeAnswer& stroke : relief.answer.strokes) add_stroke(json, relief, stroke);
  json.close_list();
  add_texts(json, "notes", relief.answer.notes);
  json.close_object();
}

}  // namespace

std::string summary_json(const Summary& summary) {
  const CaseResult& result = summary.result;
  Json json;
  json.open_object();
  json.key("format").text("pellicle-summary");
  json.key("format_version").whole(kFormatVersion);
  json.key("program_version").text(PELLICLE_VERSION);
  json.key("title").text(summary.title);
  json.key("findings").open_list();
  for (const checks::Finding& finding : result.findings) add_finding(json, finding);
  json.close_list();
  json.key("elements").whole(result.elements);
  json.key("nodes").whole(result.nodes);
  json.key("final_elements").whole(result.final_elements);
  json.key("element_updates").whole(result.element_updates);
  json.key("steps").whole(result.steps);
  json.key("seconds").number(result.seconds);
  json.key("worst_balance").number(result.worst_balance);
  json.key("min_mesh_quality").number(result.min_mesh_quality);
  const forming::Penetration& p = result.penetration;
  json.key("deepest_penetration").open_object();
  json.key("depth_mm").number(1e3 * p.depth_m).key("of_thickness").number(p.of_thickness);
  json.key("place_mm").numbers({1e3 * p.place_m.x(), 1e3 * p.place_m.y(), 1e3 * p.place_m.z()});
  json.close_object();
  json.key("stages").open_list();
  for (const StageReport& stage : result.stages) add_stage(json, stage);
  json.close_list();
  json.key("reliefs").open_list();
  for (const ReliefResult& relief : result.reliefs) add_relief(json, relief);
  json.close_list();
  add_texts(json, "warnings", summary.warnings);
  add_texts(json, "not_used_yet", summary.not_used_yet);
  if (summary.spread) add_spread(json, *summary.spread);
  json.close_object();
  return json.finish();
}

}  // namespace pellicle::results
