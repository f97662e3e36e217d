// What is asked of sheet, gas and clamp at a moment?
#include "solver/forming/stage.h"

#include "mesh/check.h"

#include <algorithm>
#include <cmath>

namespace pellicle::forming {
namespace {

/// A prescribed pressure leaves half its stage to the travel, the rest to the press (docs/theory/gas.md).
constexpr double kTravelShare = 0.5;
/// Mass damping alpha = k c/R; k = 1 is near critical for the slowest mode (docs/theory/time.md).
constexpr double kDampingQuasiStatic = 1.0;
/// With the true mass the sheet may ring; the hot sheet's own loss is not modelled, a tenth of critical stands for it.
constexpr double kDampingReal = 0.1;

}  // namespace

double ramp(double share) {
  const double s = std::clamp(share, 0.0, 1.0);
  return s * s * s * (10.0 + s * (-15.0 + 6.0 * s));
}

PaceChoice choose_pace(const FormingSpec& spec, const StageSpec& stage, bool changes_drive, double R) {
  const double mu = sheet::small_strain_shear_modulus_Pa(spec.sheet.law), rho = spec.sheet.density_kg_m3;
  const bool by_volume = std::holds_alternative<VolumeDrive>(stage.drive);
  const double travel = by_volume || !changes_drive ? stage.duration_s : kTravelShare * stage.duration_s;
  const double true_c = 2.0 * std::sqrt(mu / rho);  // c = sqrt(E*/rho), E* = 4 mu
  if (spec.numerics.pace == Pace::kReal)
    return {travel, travel * true_c / R, 1.0, spec.numerics.damping * kDampingReal * true_c / R};
  // Mass is scaled, time is not: the wave speed that just keeps the pace.
  const double pace = spec.numerics.slowness * (by_volume ? kPaceVolume : kPaceTravel);
  const double wave = pace * R / travel;
  return {travel, pace, (true_c / wave) * (true_c / wave), spec.numerics.damping * kDampingQuasiStatic * wave / R};
}

Schedule::Schedule(const FormingSpec& spec) {
  double t = 0.0;
  for (const StageSpec& stage : spec.stages) ends_s_.push_back(t += stage.duration_s);
  std::vector<double> wanted = ends_s_;
  for (int k = 1; k <= spec.numerics.frames; ++k) wanted.push_back(t * k / spec.numerics.frames);
  std::sort(wanted.begin(), wanted.end());
  // Two moments closer than a thousandth of the frame spacing are one: a stage's end wins over the even grid.
  const double close = 1e-3 * t / std::max(1, spec.numerics.frames);
  for (const double moment : wanted) {
    if (!frames_s_.empty() && moment - frames_s_.back() < close) {
      if (std::find(ends_s_.begin(), ends_s_.end(), moment) != ends_s_.end()) frames_s_.back() = moment;
      continue;
    }
    frames_s_.push_back(moment);
  }
}

std::optional<sheet::HotLaw> forming_law(const FormingSpec& spec) {
  if (!spec.heat || !spec.heat->law || !spec.heat->temperature_to_modulus) return std::nullopt;
  ensure(std::holds_alternative<sheet::NeoHookean>(spec.sheet.law), "layers pull together in a neo-Hookean sheet only");
  return sheet::capped(*spec.heat->law, spec.heat->start_K);
}

}  // namespace pellicle::forming
