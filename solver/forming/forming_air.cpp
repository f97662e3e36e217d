// How does the sheet move from flat to formed? What the air does that it shuts in below itself.
//
// docs/theory/trapped_air.md, "In the loop".
#include "mesh/check.h"
#include "solver/forming/forming.h"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <limits>

namespace pellicle::forming {
namespace {

using mesh::Vec2;
using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Pockets are looked for this often: the sheet moves by a fraction of an element in between.
constexpr std::int64_t kAirSteps = 25;

/// Under all of the flat sheet and an element more. Columns as fine as the smallest elements need would take longer to
/// look up than some runs; a quarter of a large element tells a volume to a thousandth.
AirColumns columns_under(const SheetSpec& sheet, const mould::RigidMould& mould, const std::vector<Vec2>& flat_m,
                         const std::vector<PlacedVent>& vents) {
  const double fine_m = sheet.refines() ? sheet.fine_element_m : sheet.element_m;
  Vec2 low = flat_m.front(), high = low;
  for (const Vec2& p : flat_m) low = low.cwiseMin(p), high = high.cwiseMax(p);
  const Vec2 margin = Vec2::Constant(sheet.element_m);
  return {mould, low - margin, high + margin, std::max(0.5 * fine_m, 0.25 * sheet.element_m), vents};
}

}  // namespace

void Forming::set_up_air() {
  const std::size_t n = state_.x_m.size();
  back_Pa_.assign(n, 0.0);
  if (!spec_.air || !mould_.is_there()) return;
  AirOptions options = air_options(spec_.sheet.thickness_m);
  options.adiabatic = spec_.air->adiabatic;
  options.platform_leaks = spec_.air->platform_leaks;
  air_.emplace(mould_, columns_under(spec_.sheet, mould_, state_.flat_m, spec_.air->vents), spec_.air->vents, options);
  air_rim_at_m_ = std::numeric_limits<double>::quiet_NaN();
  for (const int i : snap_.air.nodes) back_Pa_[at(i)] = snap_.air.pressure_Pa(i);
}

/// The pressure of each pocket at the end of this step, with the sheet giving way to it: eq. 5 of the theory page.
void Forming::push_back_air(const StepContext& step) {
  TrappedAir& air = snap_.air;
  if (air.pockets.empty()) return;
  air_v_m_s_.resize(state_.x_m.size());
  air_flags_.resize(state_.x_m.size());
  for (const int i : air.nodes) {
    // What only an edge under one of its triangles holds up lets go of it in one step and meets it in the next.
    const Touch& touch = snap_.touch[at(i)];
    const bool free = !state_.on_rim[at(i)] && !(touch.pressed && touch.touching);
    air_flags_[at(i)] = free;
    if (free)
      air_v_m_s_[at(i)] = predicted_m_s_[at(i)];
    else
      air_v_m_s_[at(i)] = {0.0, 0.0, state_.on_rim[at(i)] ? step.clamp_m_s : 0.0};
  }
  AirUnderSheet::gives({.area_m2 = state_.area_m2,
                        .v_m_s = air_v_m_s_,
                        .mass_kg = state_.mass_kg,
                        .gives = air_flags_,
                        .dt_s = step.dt_s,
                        .push_s = step.push_s},
                       air, air_gives_);
  // The motion so far has the push of the last step in it.
  for (std::size_t k = 0; k < air.pockets.size(); ++k)
    air_gives_[k].rate_m3_s -= air_gives_[k].softness_m3_sPa * air.pockets[k].pressure_Pa;
  air_->advance(air_gives_, air);
  for (const int i : air.nodes) {
    const double now_Pa = air.pressure_Pa(i), more_Pa = now_Pa - back_Pa_[at(i)];
    back_Pa_[at(i)] = now_Pa;
    // What rests has no prediction; if it has to move, it is made with the push as it is now.
    if (!state_.on_rim[at(i)] && !feels_as_before(i))
      predicted_m_s_[at(i)] +=
          step.push_s * more_Pa / state_.mass_kg[at(i)] * (state_.area_m2[at(i)] - carried_m2_[at(i)]);
  }
}

void Forming::follow_air(const StepContext& step) {
  if (!snap_.air.pockets.empty()) AirUnderSheet::follow(state_.area_m2, state_.v_m_s, step.dt_s, snap_.air);
}

void Forming::find_air(const StepContext& step) {
  if (!air_ || (step.step + 1) % kAirSteps != 0) return;
  const std::size_t n = state_.x_m.size();
  if (air_rim_.size() != n || air_rim_at_m_ != snap_.clamp_z_m) {
    // The clamp holds the rim, and no contact is asked of it; on the mould it seals like what touches.
    air_rim_.assign(n, 0);
    for (std::size_t i = 0; i < n; ++i)
      if (state_.on_rim[i]) air_rim_[i] = mould_.gap_m(state_.x_m[i]) <= scale_.touch_m;
    air_rim_at_m_ = snap_.clamp_z_m;
  }
  air_flags_.resize(n);
  for (std::size_t i = 0; i < n; ++i) air_flags_[i] = snap_.touch[i].touching != 0 || air_rim_[i] != 0;
  open_under_bridges();
  for (const int i : snap_.air.nodes) back_Pa_[at(i)] = 0.0;
  air_->find({state_.x_m, state_.triangles, air_flags_, state_.on_rim}, snap_.time_s, snap_.air);
  for (const int i : snap_.air.nodes) back_Pa_[at(i)] = snap_.air.pressure_Pa(i);
}

/// Two nodes of one edge that lie on different sides of a concave corner do not seal it: air passes below the edge.
/// Each stands above the plane that the other lies on; half of that, about, is how high the middle of the edge stands.
void Forming::open_under_bridges() {
  const double seals_m = 2.0 * air_->options().film_m;
  const auto above_m = [&](int i, int j) {  // of j over what i lies on
    return snap_.touch[at(i)].normal.dot(state_.x_m[at(j)] - state_.x_m[at(i)]);
  };
#pragma omp parallel for schedule(static)
  for (int e = 0; e < state_.elements(); ++e)
    for (std::size_t k = 0; k < 3; ++k) {
      const int i = state_.triangles[at(e)][k], j = state_.triangles[at(e)][(k + 1) % 3];
      if (!snap_.touch[at(i)].touching || !snap_.touch[at(j)].touching) continue;
      if (!(above_m(i, j) > seals_m && above_m(j, i) > seals_m)) continue;
      for (const int opens : {i, j})  // others may say so too
        std::atomic_ref(air_flags_[at(opens)]).store(0, std::memory_order_relaxed);
    }
}

/// Something is still going out by vents, or coming in: a thousandth of a pocket in what is left of the stage counts.
bool Forming::air_leaves() const {
  constexpr double kCounts = 1e-3;
  const double left_s = schedule_.end_s(snap_.stage) - snap_.time_s;
  return std::any_of(snap_.air.pockets.begin(), snap_.air.pockets.end(),
                     [&](const Pocket& p) { return std::fabs(p.vented_kg_s) * left_s > kCounts * p.mass_kg; });
}

double Forming::most_back_Pa() const {
  double most = 0.0;
  for (const Pocket& p : snap_.air.pockets) most = std::max(most, std::fabs(p.pressure_Pa));
  return most;
}

void Forming::tell_air(FormingResult& r) const {
  if (!air_) return;
  r.pocket.assign(state_.x_m.size(), kNoPocket);
  r.pocket_pressure_Pa.assign(state_.x_m.size(), 0.0);
  for (const int i : snap_.air.nodes) {
    const Pocket& p = snap_.air.pockets[at(snap_.air.pocket_of[at(i)])];
    r.pocket[at(i)] = p.name;
    r.pocket_pressure_Pa[at(i)] = p.pressure_Pa;
  }
}

}  // namespace pellicle::forming
