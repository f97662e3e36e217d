// What would the sheet be with another gauge, stiffness, temperature or friction? docs/theory/comparison.md.
#include "solver/what_if.h"

#include "solver/prepare.h"
#include "solver/sheet/heater.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <type_traits>
#include <utility>

namespace pellicle {
namespace {

// Steps are large against what re-meshing moves, and small enough to be straight.
constexpr double kGaugeStep = 1.05, kModulusStep = 1.25, kTemperatureStep_K = 5.0, kFrictionStep = 0.1;
constexpr double kGaugeOff = 1.1;           // gauge +-10 %: fabricators' guides
constexpr double kModulusOff = 2.0;         // without a card's band: estimate, as in docs/theory/calibration.md
constexpr double kTemperatureOff_K = 10.0;  // estimate, 5 to 20 K: sheet under a heater, by a pyrometer
// Sheet on a tool 0.1 to 0.3, rising sharply near forming temperature: measured, 10.3139/217.1702.
constexpr double kSliding = 0.3, kFrictionOff = 0.2;

sheet::Polymer stiffer(sheet::Polymer law, double factor) {
  std::visit(
      [factor](auto& l) {
        using Law = std::decay_t<decltype(l)>;
        if constexpr (std::is_same_v<Law, sheet::NeoHookean>)
          l.shear_modulus_Pa *= factor;
        else if constexpr (std::is_same_v<Law, sheet::MooneyRivlin>)
          l.c10_Pa *= factor, l.c01_Pa *= factor;
        else if constexpr (std::is_same_v<Law, sheet::Yeoh>)
          l.c10_Pa *= factor, l.c20_Pa *= factor, l.c30_Pa *= factor;
        else
          for (double& mu_Pa : l.mu_Pa) mu_Pa *= factor;
      },
      law);
  return law;
}

void scale_modulus(Case& c, double factor) {
  c.sheet.law = stiffer(c.sheet.law, factor);
  if (auto& band = c.sheet.shear_modulus_Pa) *band = {factor * band->likely, factor * band->low, factor * band->high};
}

WhatIf gauge_step(const Case& c) {
  Case changed = c;
  changed.sheet.thickness_m *= kGaugeStep;
  return {"gauge",
          "mm",
          std::move(changed),
          1e3 * c.sheet.thickness_m,
          kGaugeStep,
          true,
          std::log(kGaugeOff) / std::log(kGaugeStep),
          "sheet is sold to 10 % of its gauge"};
}

WhatIf stiffness_step(const Case& c) {
  Case changed = c;
  scale_modulus(changed, kModulusStep);
  if (changed.heat && changed.heat->law) changed.heat->law = sheet::scaled(*changed.heat->law, kModulusStep);
  const auto& band = c.sheet.shear_modulus_Pa;
  const bool has_band = band && band->low < band->high;
  const double most = has_band ? std::max(band->high / band->likely, band->likely / band->low) : kModulusOff;
  return {"stiffness",
          "MPa",
          std::move(changed),
          1e-6 * sheet::small_strain_shear_modulus_Pa(c.sheet.law),
          kModulusStep,
          true,
          std::log(most) / std::log(kModulusStep),
          has_band ? "the card's band" : "known within a factor of 2 (estimate)"};
}

/// As the parser makes it of another temperature: the sheet starts there, and its modulus follows.
WhatIf temperature_step(const Case& c) {
  Case changed = c;
  HeatSpec& heat = *changed.heat;
  const double before_Pa = sheet::modulus_after_Pa(*heat.law, heat.start_K, sheet::kFormingTime_s);
  changed.sheet.temperature_K += kTemperatureStep_K;
  heat = sheet::warmer(std::move(heat), kTemperatureStep_K);
  scale_modulus(changed, sheet::modulus_after_Pa(*heat.law, heat.start_K, sheet::kFormingTime_s) / before_Pa);
  return {"temperature",
          "°C",
          std::move(changed),
          c.sheet.temperature_K - 273.15,
          kTemperatureStep_K,
          false,
          kTemperatureOff_K / kTemperatureStep_K,
          "known to 10 K (estimate)"};
}

WhatIf friction_step(const Case& c) {
  Case changed = c;
  Friction& friction = changed.mould->friction;
  const Friction now = friction;
  friction = now.stick ? Friction{false, kSliding} : Friction{false, now.coefficient + kFrictionStep};
  const char* known = "0.1 to 0.3 where it slides";
  if (now.stick)  // a step is all the way
    return {"friction", "-", std::move(changed), std::numeric_limits<double>::quiet_NaN(), kSliding, false, 1.0, known};
  return {"friction",    "-",   std::move(changed),           now.coefficient,
          kFrictionStep, false, kFrictionOff / kFrictionStep, known};
}

}  // namespace

double WhatIf::value(double steps) const { return by_factor ? now * std::pow(step, steps) : now + step * steps; }

WhatIfs what_ifs(const Case& c) {
  WhatIfs all;
  all.steps = {gauge_step(c), stiffness_step(c)};
  if (c.heat && c.heat->temperature_to_modulus && c.heat->law)
    all.steps.push_back(temperature_step(c));
  else
    all.left_out.emplace_back(
        "temperature: it changes nothing in this case but by the stiffness, as heat does not set that (give "
        "mould.temperature and mould.resin)");
  if (c.mould)
    all.steps.push_back(friction_step(c));
  else
    all.left_out.emplace_back("friction: there is no mould");
  return all;
}

std::optional<FormedSheet> form_only(const Case& c, const Geometry& geometry, const forming::Sinks& sinks) {
  const Threads threads(c.numerics.threads);
  const mould::RigidMould mould = make_mould(c, geometry);
  const FormingSpec spec = full_spec(c, geometry, mould);
  forming::Forming forming(spec, mould, make_sheet(c, geometry));
  forming::FormingSinks quiet;
  quiet.progress = sinks.progress;
  quiet.stop = sinks.stop;
  if (!forming.run(quiet)) return std::nullopt;
  forming::FormingResult formed = forming.result();
  return FormedSheet{{std::move(formed.points_m), std::move(formed.triangles)},
                     std::move(formed.flat_m),
                     std::move(formed.thickness_m)};
}

}  // namespace pellicle
