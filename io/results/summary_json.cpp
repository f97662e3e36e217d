// What came out, for a machine? Keys in a fixed order, as in docs/result_format.md and its schema.
#include "io/results/json.h"
#include "io/results/summary.h"

#include <cmath>

namespace pellicle::results {
namespace {

constexpr int kFormatVersion = 1;  ///< grows when a reader of an older version would be misled

void add_finding(Json& json, const checks::Finding& finding) {
  json.open_object();
  json.key("id").text(finding.id);
  json.key("question").text(finding.question);
  json.key("value").number(finding.value);
  json.key("unit").text(finding.unit);
  json.key("limit");
  finding.limit ? json.number(*finding.limit) : json.null();
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

void add_texts(Json& json, std::string_view key, const std::vector<std::string>& texts) {
  json.key(key).open_list();
  for (const std::string& text : texts) json.text(text);
  json.close_list();
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
  json.key("reliefs").open_list().close_list();
  add_texts(json, "warnings", summary.warnings);
  add_texts(json, "not_used_yet", summary.not_used_yet);
  json.close_object();
  return json.finish();
}

}  // namespace pellicle::results
