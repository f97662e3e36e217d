// How does the sheet move from flat to formed? What its heat does meanwhile, in real time of the case.
//
// docs/theory/heat.md; what its temperatures pull with, docs/theory/relaxation.md.
#include "solver/forming/forming.h"
#include "solver/forming/recover.h"
#include "solver/sheet/heater.h"
#include "solver/sheet/membrane.h"

#include <algorithm>
#include <cmath>

namespace pellicle::forming {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Heat moves on after so many steps of the sheet at the earliest. One heat step costs some five passes of the
/// membrane, and within this many steps the sheet stretches by about a percent at the most.
constexpr std::int64_t kHeatSteps = 25;
/// ... and after so long: in real pace steps are microseconds, and nothing of heat happens in 25 of them.
constexpr double kShortestHeat_s = 0.2e-3;
/// Memory moves on after so large a part of the stage, or once some element has been stretched by so much since: what
/// temperature and time do goes by the clock, what the books do not see with the third power of the strain in between.
constexpr double kMemoryShare = 1.0 / 150.0;
constexpr double kMemoryStrain = 0.02;
/// ... which is looked at so often. A snap in real pace is over within some hundred steps.
constexpr std::int64_t kStrainSteps = 25;
/// A sheet that hangs has been hot for so long that no mode remembers when it was flat.
constexpr double kHung_s = 1e9;
/// Before there were any steps: half the time to the first update, as a share of the first stage.
constexpr double kFirstAhead = 0.5 * kMemoryShare;

}  // namespace

/// From the heater to the first stage: flat, open on both sides in still air.
void Forming::leave_heater() {
  if (!spec_.heat) return;
  const HeatSpec& heat = *spec_.heat;
  const sheet::StartTemperature start =
      sheet::start_temperature(heat, {state_.flat_m, state_.triangles, state_.on_rim});
  snap_.heat = sheet::hot_sheet(heat.polymer, heat.cells, state_.flat_m, spec_.sheet.thickness_m, start, heat.mould_K);
  if (!(heat.delay_s > 0.0)) return;
  const std::size_t n = state_.flat_m.size();
  const std::vector<double> thickness_m(n, spec_.sheet.thickness_m), never(n, 0.0);
  sheet::exchange_heat(
      *snap_.heat, {heat.delay_s, thickness_m, never, never, heat.contact_W_m2K, heat.open_side(), heat.open_side()});
}

bool Forming::memory_due() const {
  if (!snap_.memory) return false;
  if (snap_.time_s - snap_.memory_s >= kMemoryShare * stage().duration_s) return true;
  return snap_.step - snap_.memory_step >= kStrainSteps && snap_.step % kStrainSteps == 0 &&
         sheet::largest_strain_since(*snap_.memory, state_) >= kMemoryStrain;
}

bool Forming::heat_due() const {
  if (memory_due()) return true;
  if (frame_due(snap_.time_s) || row_due(snap_.time_s)) return true;
  // A row has just been there as often as not: half the steps are too few.
  const double least_s = std::max(kShortestHeat_s, 0.5 * static_cast<double>(kHeatSteps) * snap_.dt_s);
  return snap_.step % kHeatSteps == 0 && snap_.time_s - snap_.heat_s >= least_s;
}

/// Up to now, with the thickness of now. A node that touches and did not before the last heat step has done so since it
/// landed; where it landed before and lifted off meanwhile, or nobody knows when it did (it rests where an edge of the
/// mould held it first), for all of this heat step, which is a few milliseconds.
void Forming::exchange_heat() {
  if (!snap_.heat || !heat_due() || !(snap_.time_s > snap_.heat_s)) return;
  const HeatSpec& heat = *spec_.heat;
  const double dt_s = snap_.time_s - snap_.heat_s;
  const std::size_t n = state_.x_m.size();
  triangle_thickness_m_.resize(state_.triangles.size());
  heat_thickness_m_.resize(n), contact_s_.resize(n);
  effusivity_.resize(n, heat.mould_effusivity_Ws05_m2K);
#pragma omp parallel for schedule(static)
  for (int e = 0; e < state_.elements(); ++e)
    triangle_thickness_m_[at(e)] = sheet::element_stretch(state_, e).thickness(state_.bought_thickness_m);
#pragma omp parallel for schedule(static)
  for (int i = 0; i < state_.nodes(); ++i) {
    const Touch& touch = snap_.touch[at(i)];
    heat_thickness_m_[at(i)] = node_thickness_m(state_, triangle_thickness_m_, i);
    const double since_s = std::isnan(touch.first_s) ? dt_s : snap_.time_s - touch.first_s;
    contact_s_[at(i)] = touch.touching ? since_s : 0.0;
  }
  sheet::exchange_heat(*snap_.heat, {dt_s, heat_thickness_m_, contact_s_, effusivity_, heat.contact_W_m2K,
                                     heat.free_side(), heat.open_side()});
  snap_.heat_s = snap_.time_s;
}

double Forming::reference_Pa() const { return sheet::small_strain_shear_modulus_Pa(spec_.sheet.law); }

void Forming::begin_memory() {
  hot_law_ = forming_law(spec_);
  if (!hot_law_) return;
  snap_.memory = sheet::rested_layers(*hot_law_, *snap_.heat, state_, spec_.heat->skin_to_tension);
  snap_.memory->ahead_s = kFirstAhead * spec_.stages.front().duration_s;
  if (!spec_.sheet.sags) return;
  // The books begin with what the layers store as it hangs: elements that pull with it count their energy otherwise.
  const double stored_J = sheet::remember(*hot_law_, *snap_.heat, kHung_s, state_, *snap_.memory).stored_J;
  sheet::set_pull(*hot_law_, *snap_.memory, reference_Pa(), state_);
  snap_.unseen_strain_J = stored_J - sheet::strain_energy_J(spec_.sheet.law, state_);
  book_hang(stored_J);
}

/// What the layers store by their own formulas replaces what the elements pulled with so far, and what they lost by
/// theirs is booked: neither is made of the other.
void Forming::remember_layers() {
  if (!memory_due()) return;
  const double dt_s = snap_.time_s - snap_.memory_s, before_J = sheet::strain_energy_J(spec_.sheet.law, state_);
  const sheet::LayerWork work = sheet::remember(*hot_law_, *snap_.heat, dt_s, state_, *snap_.memory);
  snap_.memory->ahead_s = 0.5 * dt_s;
  sheet::set_pull(*hot_law_, *snap_.memory, reference_Pa(), state_);
  const double after_J = sheet::strain_energy_J(spec_.sheet.law, state_);
  // What is stored now, for a row that comes before the books are closed again.
  snap_.ledger.strain_J += tamper_.strain * (work.stored_J - before_J - snap_.unseen_strain_J);
  snap_.unseen_strain_J = work.stored_J - after_J;
  snap_.book_strain_J += after_J - before_J;
  snap_.ledger.viscous_J += tamper_.viscous * work.viscous_J;
  snap_.ledger.thermal_J += tamper_.thermal * work.thermal_J;
  snap_.memory_s = snap_.time_s, snap_.memory_step = snap_.step;
  snap_.limit_dt_s = std::min(snap_.limit_dt_s, stable_limit_s());
}

void Forming::tell_temperatures(FormingResult& r) const {
  if (!snap_.heat) return;
  const sheet::HeatState& heat = *snap_.heat;
  for (int i = 0; i < heat.count; ++i) {
    const std::size_t block = at(i / sheet::kHeatLanes);
    const int lane = i % sheet::kHeatLanes;
    r.temperature_mean_K.push_back(sheet::mean_K(heat, i));
    r.temperature_mould_face_K.push_back(heat.face_K[block][lane]);
    r.temperature_free_face_K.push_back(heat.free_face_K[block][lane]);
  }
  r.heat = heat;
  r.pressed_s = snap_.pressed_s, r.pressed_Pa = snap_.pressed_Pa;
}

}  // namespace pellicle::forming
