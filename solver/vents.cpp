// Which holes let air out of a mould, and what became of the air under the sheet?
#include "solver/vents.h"

#include "mesh/holes.h"
#include "solver/checks/cooling.h"
#include "solver/forming/air_columns.h"

#include <fmt/core.h>

#include <algorithm>
#include <utility>

namespace pellicle {
namespace {

/// Wider holes than this are no vents but part of the shape.
constexpr double kWidestVent_m = 2e-3;

checks::AirAtEnd air_at_end(const AirSpec& spec, const forming::TrappedAir& air) {
  checks::AirAtEnd end;
  end.platform_leaks = spec.platform_leaks;
  end.pocket_of = air.pocket_of;  // the same words for no pocket and free air
  static_assert(checks::kNoPocket == forming::kTouches && checks::kFreeAir == forming::kOpenAir);
  for (const forming::Pocket& p : air.pockets) end.pockets.push_back({p.volume_m3, p.mass_kg, p.pressure_Pa});
  for (std::size_t k = 0; k < spec.vents.size(); ++k)
    end.vents.push_back(
        {spec.vents[k].at_m, spec.vents[k].hole, k < air.vent_of.size() ? air.vent_of[k] : checks::kFreeAir});
  return end;
}

std::vector<checks::VentPlace> propose_for(const Case& c, const checks::Formed& formed,
                                           const forming::FormingResult& full, const checks::AirAtEnd& air) {
  const std::vector<char> in_part = checks::part_nodes(full, formed.mould, c.trim);
  return checks::propose_vents({full, formed.detail, formed.mould, c.sheet, in_part}, air.vents, air.platform_leaks);
}

}  // namespace

std::optional<AirSpec> air_spec(const Case& c, const mould::RigidMould& mould) {
  if (!c.mould || !mould.surface() || !c.numerics.trapped_air) return std::nullopt;
  AirSpec spec{c.mould->vents, c.numerics.adiabatic_air, c.mould->platform_leaks};
  for (const mesh::ThroughHole& h : mesh::through_holes(*mould.surface(), kWidestVent_m)) {
    const mesh::Vec2 at_m = h.opening_m.head<2>();
    const bool told = std::any_of(c.mould->vents.begin(), c.mould->vents.end(), [&](const PlacedVent& v) {
      return (v.at_m - at_m).norm() < air::reach_m(v.hole) + 0.5 * std::max(h.diameter_m, h.slot_m);
    });
    if (!told) spec.vents.push_back({at_m, {h.diameter_m, h.land_m, h.foot_m, h.taper_m, h.slot_m}});
  }
  return spec;
}

std::optional<double> opening_m(const mould::RigidMould& mould, const PlacedVent& vent) {
  // A hole that is drawn as well is looked at beside its mouth.
  const mesh::Vec2 p = forming::beside_hole_m(mould, vent.at_m, vent.hole.diameter_m).value_or(vent.at_m);
  return mould.top_m(p.x(), p.y());
}

bool lets_out(const AirSpec& air, const mould::RigidMould& mould, const mesh::Vec2& p_m, double within_m) {
  // Which way a slot runs is not known: it counts as a disc of its width.
  for (const PlacedVent& v : air.vents)
    if ((v.at_m - p_m).norm() <= within_m + 0.5 * v.hole.diameter_m) return true;
  return air.platform_leaks && mould.has_platform() && mould.top_m(p_m.x(), p_m.y()).value_or(0.0) <= 0.0;
}

void warn_of_vents(const Case& c, const mould::RigidMould& mould, std::vector<std::string>& warnings) {
  if (!c.mould || !mould.surface()) return;
  for (std::size_t k = 0; k < c.mould->vents.size(); ++k) {
    const mesh::Vec2& p = c.mould->vents[k].at_m;
    const auto top = opening_m(mould, c.mould->vents[k]);
    if (top && (!mould.has_platform() || !c.mould->platform_leaks || *top > 0.0)) continue;
    warnings.push_back(fmt::format("mould.vents[{}] at ({:.4g}, {:.4g}) mm is not on the mould: it lets nothing out",
                                   k + 1, 1e3 * p.x(), 1e3 * p.y()));
  }
}

AirAnswer answer_air(const Case& c, const checks::Formed& formed, const AirSpec& spec, const forming::TrappedAir& air,
                     const WithoutAir& without_air) {
  const checks::AirAtEnd end = air_at_end(spec, air);
  const bool known = !checks::leaves_air(formed, end);
  std::vector<checks::VentPlace> advised;
  if (known && spec.vents.empty()) advised = checks::propose_vents(formed, {}, end.platform_leaks);
  if (!known) {
    const auto full = without_air();
    advised = full ? propose_for(c, formed, *full, end) : checks::propose_vents(formed, end.vents, end.platform_leaks);
  }
  std::optional<double> set_s;
  if (const auto seen = checks::pockets_seen(formed, end); c.heat && formed.sheet.heat && !seen.empty())
    set_s = checks::soft_for_s(formed.sheet, *c.heat, seen.front().node);
  AirAnswer answer;
  answer.findings = {checks::pockets(formed, end, set_s), checks::vents(formed, end, advised)};
  if (!known && !advised.empty())
    answer.findings.front().advice = fmt::format(
        "vents at the {} place{} that the finding on vents names: there the sheet touches last when it is formed "
        "again{} as if all air left",
        advised.size(), advised.size() == 1 ? "" : "s", c.heat ? ", hot all through," : "");
  for (std::size_t k = 0; k < spec.vents.size(); ++k) {
    const PlacedVent& v = spec.vents[k];
    const double top = opening_m(formed.mould, v).value_or(0.0);
    answer.vents.push_back({{v.at_m.x(), v.at_m.y(), top},
                            v.hole.diameter_m,
                            k < c.mould->vents.size() ? VentPoint::Origin::kCase : VentPoint::Origin::kSurface});
  }
  for (const checks::VentPlace& place : advised)
    answer.vents.push_back({place.place_m, place.diameter_m, VentPoint::Origin::kAdvised});
  return answer;
}

}  // namespace pellicle
