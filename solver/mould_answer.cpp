// Does the printed mould of a case bear pressure and heat, part after part?
#include "solver/mould_answer.h"

#include "mesh/check.h"
#include "solver/checks/mould_strength.h"
#include "solver/checks/mould_temperature.h"
#include "solver/vents.h"

#include <algorithm>
#include <limits>
#include <optional>
#include <string>
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
                       std::max(v.hole.diameter_m, v.hole.foot_m)});
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

}  // namespace

MouldAnswer answer_mould(const Case& c, const mould::RigidMould& mould, const forming::FormingResult& formed,
                         const forming::Sinks& sinks) {
  ensure(c.mould && c.mould->build && mould.surface(), "a mould's body has a build and a surface");
  const MouldBuild& build = *c.mould->build;
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
    sinks.task("asking how fast the mould may be used");
    answer.findings.push_back(warmth ? checks::mould_temperature(*warmth, f, build, strength.solution.working_Pa)
                                     : checks::no_mould_temperature(std::move(why), std::move(advice)));
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
