// Does the printed mould of a case bear pressure and heat, part after part?
#include "solver/mould_answer.h"

#include "mesh/check.h"
#include "solver/checks/mould_cells.h"
#include "solver/checks/mould_creep.h"
#include "solver/checks/mould_slender.h"
#include "solver/checks/mould_strength.h"
#include "solver/checks/mould_temperature.h"
#include "solver/vents.h"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

namespace pellicle {
namespace {

std::string words(const Error& error) {
  return error.fault().where + ": " + error.fault().found + ", where " + error.fault().allowed + " is wanted";
}

/// Temperatures first: how strong the mould is depends on them. None with `why` filled if they are not known.
std::optional<checks::MouldWarmth> warmth_of(const checks::Formed& formed, const MouldBuild& build,
                                             const checks::MouldStop& stop, std::string& why, std::string& advice) {
  if (!build.polymer) {
    why =
        "how much heat the sheet brings is not known: no card with a specific heat in sheet.polymer; strength is told "
        "for a mould that stays as it starts";
    advice = "name the sheet's card in sheet.polymer";
    return std::nullopt;
  }
  try {
    return std::optional<checks::MouldWarmth>(std::in_place, formed, build, stop);
  } catch (const Error& error) {
    why = words(error) + "; strength is told for a mould that stays as it starts";
    advice = error.fault().advice;
    return std::nullopt;
  }
}

/// The vents of the case as they are drilled: from the surface at their place down to the platform.
std::vector<checks::DrilledVent> drilled(const Case& c, const mould::RigidMould& mould) {
  double floor_m = std::numeric_limits<double>::infinity();
  for (const mesh::Vec3& p : mould.surface()->mesh().points_m) floor_m = std::min(floor_m, p.z());
  if (mould.has_platform()) floor_m = 0.0;
  std::vector<checks::DrilledVent> vents;
  for (const PlacedVent& v : c.mould->vents) {
    const auto top_m = opening_m(mould, v);
    if (top_m && *top_m > floor_m)
      vents.push_back({{v.at_m.x(), v.at_m.y(), *top_m},
                       floor_m,
                       v.hole.diameter_m,
                       v.hole.land_m,
                       std::max(v.hole.diameter_m, v.hole.foot_m),
                       v.hole.is_slot() ? v.hole.slot_m : 0.0});
  }
  return vents;
}

checks::MouldStrength strength_of(const checks::MouldCase& c) {
  try {
    return checks::mould_strength(c);
  } catch (const Error& error) {
    return checks::no_mould_strength(words(error), error.fault().advice);
  }
}

/// Whether plaster helps against heat too; empty where there is nothing to fill or no answer.
std::string plaster_heat(const checks::Formed& formed, const MouldBuild& build, const checks::MouldWarmth& hollow,
                         const checks::MouldStop& stop) {
  if (build.inside != mesh::Inside::kHollow || !build.tries) return "";
  MouldBuild filled = build;
  filled.inside = mesh::Inside::kFilled;
  try {
    return checks::plaster_heat_text(hollow, checks::MouldWarmth(formed, filled, stop));
  } catch (const Error& error) {
    return "; with plaster not tried: " + error.fault().found;
  }
}

/// The mould as it comes out of the printer: a block where its shell leaves nothing inside, or the case's own build.
MouldBuild as_printed(const MouldBuild& build, const mould::RigidMould& mould) {
  MouldBuild printed = build;
  try {
    const auto platform_m = mould.has_platform() ? std::optional(0.0) : std::nullopt;
    if (!checks::has_inside(*mould.surface(), build, platform_m)) printed.inside = mesh::Inside::kSolid;
  } catch (const Error&) {
    // What cannot be cut is told by the findings, each in its own words.
  }
  return printed;
}

/// Tells a shell that fills its mould.
void tell_filled_by_shell(const MouldBuild& asked, const MouldBuild& printed, std::vector<checks::Finding>& findings) {
  if (asked.inside == printed.inside) return;
  for (checks::Finding& finding : findings)
    finding.why += fmt::format("; a shell of {:.2f} mm leaves nothing inside this mould{}", 1e3 * asked.wall_m,
                               asked.inside == mesh::Inside::kFilled ? " to fill" : "");
}

checks::Finding* named(std::vector<checks::Finding>& findings, std::string_view id) {
  for (checks::Finding& f : findings)
    if (f.id == id) return &f;
  return nullptr;
}

}  // namespace

bool tell_warm_detail(const Case& c, const std::vector<ReliefShape>& shapes, const mould::RigidMould& mould,
                      const forming::FormingResult& formed, const std::function<bool()>& stop,
                      const std::vector<checks::Finding>& first, MouldAnswer& answer) {
  checks::Finding* temperature = named(answer.findings, "mould_temperature");
  if (!answer.fiftieth_meets_K || temperature == nullptr || !c.heat || !c.heat->skin_to_relief) return true;
  if (!c.mould->build->tries) return true;
  Case warm = c;
  warm.heat->mould_K = *answer.fiftieth_meets_K;
  Reliefs again = answer_reliefs(warm, shapes, mould, &formed, stop);
  if (again.stopped) return false;
  std::string list;
  for (const checks::Finding& cold : first) {
    const checks::Finding* hot = named(again.findings, cold.id);
    const bool is_given = std::any_of(c.reliefs.begin(), c.reliefs.end(), [&](const imprint::ReliefSpec& r) {
      return r.state.has_value() && "relief_" + r.name == cold.id;
    });
    if (is_given || hot == nullptr || std::isnan(cold.value) || std::isnan(hot->value)) continue;
    list += fmt::format("{}{} {:.3f} and {:.3f}", list.empty() ? "" : ", ", cold.id, cold.value, hot->value);
  }
  if (!list.empty())
    temperature->why += fmt::format(
        "; depth of detail with the first and the fiftieth part, whose sheet finds the mould at {:.0f} instead of "
        "{:.0f} °C: {}",
        *answer.fiftieth_meets_K - 273.15, c.heat->mould_K - 273.15, list);
  return true;
}

MouldAnswer answer_mould(const Case& c, const mould::RigidMould& mould, const forming::FormingResult& formed,
                         const forming::Sinks& sinks) {
  ensure(c.mould && c.mould->build && mould.surface(), "a mould's body has a build and a surface");
  const MouldBuild build = as_printed(*c.mould->build, mould);
  const imprint::Screening no_detail;
  const std::vector<char> all(formed.points_m.size(), 1);
  const checks::Formed f{formed, no_detail, mould, c.sheet, all};
  MouldAnswer answer;
  try {
    sinks.task("following the mould's heat, part after part");
    std::string why, advice;
    const std::optional<checks::MouldWarmth> warmth = warmth_of(f, build, sinks.stop, why, advice);
    sinks.task("pressing on the mould's body");
    checks::MouldCase body{f, build, c.mould->build_direction, warmth ? &*warmth : nullptr, sinks.stop};
    body.vents = drilled(c, mould);
    checks::MouldStrength strength = strength_of(body);
    answer.findings = std::move(strength.findings);
    tell_filled_by_shell(*c.mould->build, build, answer.findings);
    sinks.task("asking how fast the mould may be used");
    const double working_Pa = strength.solution.working_Pa;
    answer.findings.push_back(warmth ? checks::mould_temperature(*warmth, f, build, working_Pa)
                                     : checks::no_mould_temperature(std::move(why), std::move(advice)));
    if (warmth) {
      answer.findings.back().why += plaster_heat(f, build, *warmth, sinks.stop);
      answer.fiftieth_meets_K = warmth->met_K(50);
    }
    answer.findings.push_back(checks::mould_creep(body.warmth, build, working_Pa));
    answer.findings.push_back(checks::mould_shock(f, build));
    for (checks::Finding& finding : checks::mould_slender(body, {strength.highest_Pa, strength.down_N}))
      answer.findings.push_back(std::move(finding));
    answer.field.shift_m = std::move(strength.solution.triangle_shift_m);
    answer.field.stress_share = std::move(strength.solution.triangle_share);
    if (warmth) answer.field.peak_K = warmth->surface_K();
  } catch (const mould::Stopped&) {
    answer = {};
    answer.stopped = true;
  }
  return answer;
}

}  // namespace pellicle
