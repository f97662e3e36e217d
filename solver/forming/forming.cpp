// How does the sheet move from flat to formed? The lines of the loop.
#include "solver/forming/forming.h"

#include "mesh/check.h"
#include "solver/forming/lot_nodes.h"
#include "solver/sheet/flat_frequency.h"
#include "solver/sheet/membrane.h"

#include <fmt/core.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdint>
#include <limits>

namespace pellicle::forming {
namespace {

using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Pressure noise of a volume drive dies over so many steps in what is reported.
constexpr double kMeanSteps = 20.0;
/// The stable step is found anew this often.
constexpr std::int64_t kRefreshSteps = 20;
/// A sheet that landing nodes have held back may catch up by this share of its travel at a time.
constexpr double kMostLag = 0.003;
/// Beyond this a volume drive only squeezes a full mould.
constexpr double kAbsurdPressure_Pa = 1e8;

/// Adds the time of one line of the loop.
class Watch {
 public:
  explicit Watch(StageTime& line) : line_(line), from_(std::chrono::steady_clock::now()) {}
  ~Watch() { line_.seconds += std::chrono::duration<double>(std::chrono::steady_clock::now() - from_).count(); }
  Watch(const Watch&) = delete;
  Watch& operator=(const Watch&) = delete;

 private:
  StageTime& line_;
  std::chrono::steady_clock::time_point from_;
};

}  // namespace

Forming::StiffnessSums& Forming::StiffnessSums::operator+=(const StiffnessSums& o) {
  power_W += o.power_W, kinetic2_J += o.kinetic2_J;
  return *this;
}

bool Forming::run(const FormingSinks& sinks) {
  enum Line { kNextStep, kMembrane, kGas, kAir, kEdges, kMould, kHeat, kLedger, kMemory, kRefine, kSend };
  if (!snap_.begun) {
    snap_.begun = true;
    sinks.history(history_row());
    sinks.frame(0, result());
  }
  while (!done()) {
    if (snap_.step % kBookSteps == 0 && sinks.stop()) return false;
    if (snap_.step % kBookSteps == 0 && sinks.keep_due()) sinks.keep(snapshot());
    if (stands()) {
      stand_until_row_or_frame();
      (Watch(profile_[kHeat]), exchange_heat());
      (Watch(profile_[kSend]), send(sinks));
      if (snap_.time_s >= schedule_.end_s(snap_.stage)) end_stage();
      continue;
    }
    stood_ = false;
    const StepContext step = (Watch(profile_[kNextStep]), next_step());
    (Watch(profile_[kMembrane]), sheet::membrane_forces(spec_.sheet.law, state_));  // f = -dW/dx
    (Watch(profile_[kNextStep]), follow_frequency(step));                           // damping for the next steps
    (Watch(profile_[kGas]), update_gas(step));        // p from ramp, throat or volume, given the motion without it
    (Watch(profile_[kGas]), add_gas_pressure(step));  // f += p dV/dx
    (Watch(profile_[kAir]), push_back_air(step));     // f -= p_pocket dV/dx, less what leaves by vents
    (Watch(profile_[kEdges]), look_at_edges(step));   // what of the mould stands through triangles
    (Watch(profile_[kMould]), meet_mould(step));      // gap >= 0, pressure >= 0, friction; x += v dt
    (Watch(profile_[kAir]), follow_air(step));        // the pockets' volumes go with the sheet
    (Watch(profile_[kHeat]), exchange_heat());        // to mould and gas, every so many steps
    (Watch(profile_[kLedger]), close_ledger(step));   // stops the run if energy does not balance
    (Watch(profile_[kMemory]), remember_layers());    // what the layers pull with, by temperature and time
    (Watch(profile_[kRefine]), refine_where_needed(step));
    (Watch(profile_[kAir]), find_air(step));  // which air is shut in, every so many steps
    (Watch(profile_[kSend]), send(sinks));
    if (snap_.time_s >= schedule_.end_s(snap_.stage)) end_stage();
  }
  return true;
}

StepContext Forming::next_step() {
  if (snap_.step == snap_.stage_first_step) begin_stage();
  const bool landed = snap_.ever_touched && snap_.mass_growth > kMostGrowth;
  if (landed) end_ride();
  if (landed || (snap_.step - snap_.stage_first_step) % kRefreshSteps == 0) refresh_limit();
  // Frames and stage ends are met exactly, by equal steps up to the next of them.
  double event = schedule_.end_s(snap_.stage);
  const int next_frame = snap_.frames_sent;  // frames_s()[0] is frame 1
  if (next_frame < static_cast<int>(schedule_.frames_s().size()))
    event = std::min(event, schedule_.frames_s()[at(next_frame)]);
  const double left = event - snap_.time_s, steps = std::max(1.0, std::ceil(left / snap_.limit_dt_s));
  StepContext step{};
  step.step = snap_.step;
  step.time_s = snap_.time_s;
  step.dt_s = left / steps;
  step.end_s = steps > 1.0 ? snap_.time_s + step.dt_s : event;
  step.mid_dt_s = snap_.dt_s > 0.0 ? 0.5 * (snap_.dt_s + step.dt_s) : step.dt_s;
  step.last_clamp_m_s = snap_.clamp_m_s;
  step.clamp_z_m = snap_.clamp_z_m;
  step.clamp_m_s = (clamp_at_m(step.end_s) - snap_.clamp_z_m) / step.dt_s;
  step.damping_per_s = snap_.damping_per_s;
  const double half = 0.5 * step.damping_per_s * step.mid_dt_s;
  step.keep = (1.0 - half) / (1.0 + half);
  step.push_s = step.mid_dt_s / (1.0 + half);
  // In quasi-static pace the sheet is carried along with the clamp, so that its scaled mass does not bow it.
  const bool carried = spec_.numerics.pace == Pace::kQuasiStatic;
  step.frame_m_s = carried ? step.clamp_m_s : 0.0;
  step.last_frame_m_s = carried ? step.last_clamp_m_s : 0.0;
  return step;
}

/// Damping for the slowest motion there is, alpha = w, half of critical: what follows a slow drive lags by 1/w then. A
/// nearly flat sheet moves much more slowly than one that is stretched, and would creep under the damping of the
/// latter. w^2 is Rayleigh's quotient of the present motion, -v.(f - f_before)/(dt v.m v), over the nodes that move
/// freely: at least the lowest, and near it while nothing but the slowest motion is left. Underwood, in Computational
/// Methods for Transient Analysis (1983) (from memory).
void Forming::follow_frequency(const StepContext& step) {
  constexpr double kLeastDamping = 0.05, kNews = 0.25;  // of the most; of each finding over what stood before
  if (spec_.numerics.pace == Pace::kReal) return;
  const std::int64_t phase = step.step % kBookSteps;
  if (phase == kBookSteps - 2) force_before_N_ = state_.force_N;
  if (phase != kBookSteps - 1 || force_before_N_.empty()) return;
  const Vec3 frame{0.0, 0.0, step.last_frame_m_s};
  const StiffnessSums sums = sum_stiffness_(state_.nodes(), [&](int i) {
    if (state_.on_rim[at(i)] || snap_.touch[at(i)].pressed) return StiffnessSums{};
    const Vec3 v = state_.v_m_s[at(i)] - frame;
    return StiffnessSums{-v.dot(state_.force_N[at(i)] - force_before_N_[at(i)]),
                         state_.mass_kg[at(i)] * v.squaredNorm()};
  });
  if (!(sums.kinetic2_J > 0.0)) return;
  const double w_sq = sums.power_W / (snap_.dt_s * sums.kinetic2_J);
  const double wanted = spec_.numerics.damping * std::sqrt(std::max(0.0, w_sq)), most = snap_.most_damping_per_s;
  snap_.damping_per_s += kNews * (std::clamp(wanted, kLeastDamping * most, most) - snap_.damping_per_s);
}

/// It stuck and stood in the last step, and nothing around it has moved since: still_ tells all.
bool Forming::feels_as_before(int i) const { return rests_[at(i)] && !state_.renewed[at(i)]; }

/// v* = (v (1 - alpha dt/2) + dt f/m) / (1 + alpha dt/2), relative to the frame that moves with the clamp.
Vec3 Forming::without_gas_m_s(const StepContext& step, int i) const {
  return vector(sheet::without_gas(step, step.push_s / state_.mass_kg[at(i)], three(state_.v_m_s[at(i)]),
                                   three(state_.force_N[at(i)]), weight_N_[at(i)]));
}

sheet::MovingNodes Forming::moving() {
  return {.force_N = state_.force_N.data()->data(),
          .area_m2 = state_.area_m2.data()->data(),
          .mass_kg = state_.mass_kg.data(),
          .weight_N = weight_N_.data(),
          .back_Pa = back_Pa_.data(),
          .pull_N = still_.pull_N.data(),
          .bears_m2 = still_.bears_m2.data(),
          .normal_z = still_.normal_z.data(),
          .x_m = state_.x_m.data()->data(),
          .v_m_s = state_.v_m_s.data()->data(),
          .predicted_m_s = predicted_m_s_.data()->data(),
          .moved = state_.moved.data()};
}

sheet::LotNodes Forming::free_in(int first, int count) const {
  return count == sheet::kLot ? free_[at(first / sheet::kLot)].nodes : 0;
}

/// Those that feel as before.
sheet::LotNodes Forming::at_rest_in(int first, int count) const {
  if (count < sheet::kLot) return 0;
  return nodes_with(flags_of(rests_.data() + first) & ~flags_of(state_.renewed.data() + first));
}

void Forming::predict_node(const StepContext& step, int i, sheet::GasSums& sums) {
  using S = sheet::GasSums;
  const int lane = i % sheet::kLot;
  const auto area = three(state_.area_m2[at(i)]);
  sums.lane[S::kVolume_m3][lane] += sheet::volume_m3(step, three(state_.x_m[at(i)]), area);
  if (state_.on_rim[at(i)]) {
    predicted_m_s_[at(i)] = {0.0, 0.0, step.clamp_m_s};
    sums.lane[S::kRimForce_N][lane] += state_.force_N[at(i)].z() - weight_N_[at(i)];
    return;
  }
  sums.lane[S::kFreeAreaUp_m2][lane] += area.z;
  const bool as_before = feels_as_before(i);
  if (!as_before) {
    // The air below counts as it pushed in the last step; push_back_air makes up for what is new.
    const double per_mass = step.push_s / state_.mass_kg[at(i)];
    const auto v = sheet::pushed(three(without_gas_m_s(step, i)), per_mass, back_Pa_[at(i)], area);
    predicted_m_s_[at(i)] = vector(v);
    if (!snap_.touch[at(i)].pressed) {
      sums.lane[S::kRate_m3_s][lane] += sheet::rate_m3_s(step, v, area);
      sums.lane[S::kSoftness_m3_sPa][lane] += per_mass * dot(area, area);
      return;
    }
  }
  sums.lane[S::kRate_m3_s][lane] += area.z * step.clamp_m_s;  // held by the mould while the clamp plane moves
}

void Forming::update_gas(const StepContext& step) {
  const sheet::MovingNodes nodes = moving();
  const sheet::GasSums lots = sum_gas_(state_.nodes(), [&](int first, int count, sheet::GasSums& lot) {
    const sheet::LotNodes free = free_in(first, count), rest = at_rest_in(first, count);
    if (free != 0) kernels_.predict(step, nodes, first, free, lot);
    if (rest != 0) kernels_.hold(step, nodes, first, rest, lot);
    each_of(first, first_of_lot(count) & ~(free | rest), [&](int i) { predict_node(step, i, lot); });
  });
  using S = sheet::GasSums;
  const double volume_m3 = total(lots, S::kVolume_m3);
  const VolumeResponse response{volume_m3, total(lots, S::kRate_m3_s), total(lots, S::kSoftness_m3_sPa), step.dt_s};
  const double pressure = drive_pressure_Pa(step, response);
  // Gas work as a state function, by the trapezoid; the clamp pulls the rim and carries the gas above.
  snap_.ledger.gas_J += tamper_.gas * 0.5 * (pressure + snap_.pressure_Pa) * (volume_m3 - snap_.volume_m3);
  snap_.ledger.clamp_J += tamper_.clamp * (-total(lots, S::kRimForce_N) - pressure * total(lots, S::kFreeAreaUp_m2)) *
                          0.5 * (step.clamp_m_s + step.last_clamp_m_s) * step.mid_dt_s;
  snap_.volume_m3 = volume_m3;
  snap_.pressure_Pa = pressure;
  snap_.mean_pressure_Pa += (pressure - snap_.mean_pressure_Pa) / kMeanSteps;
}

double Forming::drive_pressure_Pa(const StepContext& step, const VolumeResponse& response) {
  const StageSpec& now = stage();
  const double into_s = step.time_s - schedule_.start_s(snap_.stage);
  if (const auto* volume = std::get_if<VolumeDrive>(&now.drive)) {
    const double share = ramp((step.end_s - schedule_.start_s(snap_.stage)) / now.duration_s);
    const double target = snap_.stage_start_m3 + share * (volume->volume_m3 - snap_.stage_start_m3);
    const double pressure = response.pressure_for(target);
    if (std::fabs(pressure) > kAbsurdPressure_Pa)
      throw Error({Fault::Kind::kSolution, "stage '" + now.name + "'",
                   fmt::format("a pressure of more than 100 MPa at {:.4g} cm^3 swept", response.volume_m3 * 1e6),
                   "a volume the sheet can sweep",
                   "the mould is full: ask for a smaller volume, or drive by pressure"});
    snap_.drive_Pa = snap_.mean_pressure_Pa;
    return pressure;
  }
  if (const auto* gas = std::get_if<GasDrive>(&now.drive)) {
    Chamber chamber{snap_.gas_kg, snap_.gas_energy_J, snap_.chamber_m3};
    snap_.drive_Pa = feed_chamber(*gas, response, chamber);
    snap_.gas_kg = chamber.gas_kg, snap_.gas_energy_J = chamber.energy_J, snap_.chamber_m3 = chamber.volume_m3;
  } else {
    const double target = std::get<PressureDrive>(now.drive).pressure_Pa;
    snap_.drive_Pa = snap_.stage_start_Pa + ramp(into_s / now.duration_s) * (target - snap_.stage_start_Pa);
  }
  if (spec_.numerics.pace == Pace::kReal || snap_.drive_Pa == 0.0) return snap_.drive_Pa;
  // Past the limit load of the free sheet a prescribed pressure would let it snap: its swept volume follows a pace, the
  // whole travel in the time given to it. What landing nodes hold back is made up for in the steps after.
  const double sign = snap_.drive_Pa > 0.0 ? 1.0 : -1.0;
  const double rate = snap_.full_m3 / snap_.travel_s * ramp(into_s / (kSoftStart * snap_.travel_s));
  snap_.paced_m3 += sign * rate * step.dt_s;
  const double held = sign * response.pressure_for(snap_.paced_m3);
  if (response.softness_m3_sPa > 0.0 && held < std::fabs(snap_.drive_Pa)) return sign * std::max(held, 0.0);
  // The drive is what limits now. What lags behind the pace is not made up at any speed.
  const double lag = sign * (snap_.paced_m3 - response.volume_m3), most = kMostLag * snap_.full_m3;
  if (lag > most) snap_.paced_m3 = response.volume_m3 + sign * most;
  return snap_.drive_Pa;
}

void Forming::add_gas_pressure(const StepContext& step) {
  const sheet::MovingNodes nodes = moving();
  const int n = state_.nodes();
#pragma omp parallel for schedule(static, sheet::nodes_dealt(n) / sheet::kLot)
  for (int first = 0; first < n; first += sheet::kLot) {
    const int count = std::min(sheet::kLot, n - first);
    const sheet::LotNodes free = free_in(first, count);
    if (free != 0) kernels_.push(step, nodes, first, free, snap_.pressure_Pa);
    each_of(first, first_of_lot(count) & ~(free | at_rest_in(first, count)), [&](int i) { push_node(step, i); });
  }
}

void Forming::push_node(const StepContext& step, int i) {
  if (state_.on_rim[at(i)] || feels_as_before(i)) return;
  const Vec3& area = state_.area_m2[at(i)];
  Vec3 &carried = carried_m2_[at(i)], &v = predicted_m_s_[at(i)];
  const double per_mass = step.push_s / state_.mass_kg[at(i)];
  carried.setZero();
  if (mould_.is_there() && !spec_.friction.stick && snap_.touch[at(i)].pressed && lies_on_mould(i)) {
    // The mould under the whole triangle bears the gas. Where the triangle bridges an edge its area vector leans, and
    // would push the node along the surface.
    const Vec3& normal = snap_.touch[at(i)].normal;
    carried = area - normal.dot(area) * normal;
    v -= per_mass * (snap_.pressure_Pa * (area - carried) + back_Pa_[at(i)] * carried);
  } else {
    v = vector(sheet::pushed(three(v), per_mass, -snap_.pressure_Pa, three(area)));
  }
}

bool Forming::books_due(const StepContext& step) const {
  return (step.step + 1) % kBookSteps == 0 || frame_due(step.end_s) || row_due(step.end_s);
}

void Forming::close_ledger(const StepContext& step) {
  if (books_due(step)) close_books();
  if ((step.step + 1) % kBookSteps != 0) return;
  check_elements();
  note_rest();
  grow_mass();
  grow_mass_with_contact();
}

void Forming::close_books() {
  // Velocities stand half a step before the positions: strain and gas are taken half way too.
  Ledger& ledger = snap_.ledger;
  const double strain_J = sheet::strain_energy_J(spec_.sheet.law, state_);
  ledger.strain_J = tamper_.strain * (0.5 * (strain_before_J_ + strain_J) + snap_.unseen_strain_J);
  ledger.gravity_J = tamper_.gravity * (0.5 * (weighed_before_J_ + weighed_J()) + snap_.hung_J);
  const double now_m3 = sheet::swept_volume_m3(state_, snap_.clamp_z_m);
  snap_.half_gas_J = tamper_.gas * 0.5 * snap_.pressure_Pa * (now_m3 - snap_.volume_m3);
  check_balance();
}

double Forming::stable_limit_s() {
  constexpr double kSafety = 0.9;
  const double density = spec_.sheet.density_kg_m3 * snap_.mass_factor;
  const double pressure = std::max({std::fabs(snap_.pressure_Pa), std::fabs(snap_.mean_pressure_Pa), most_back_Pa()});
  if (flat_per_s_.size() != state_.triangles.size()) {
    // Of the flat sheet as bought, whatever its layers pull with by now: a run that goes on has to find the same.
    const bool pulls = !state_.pull.empty();
    if (pulls) state_.blocks.renew(state_.rest);
    flat_per_s_ = sheet::flat_frequency_per_s(spec_.sheet.law, state_, true_mass_kg_);
    if (pulls) sheet::renew_pull(state_);
  }
  const sheet::FlatFrequency flat{flat_per_s_, 1.0 / std::sqrt(snap_.mass_factor)};
  return kSafety * sheet::highest_frequency(spec_.sheet.law, state_, density, pressure, &flat).stable_step_s();
}

void Forming::refresh_limit() {
  const double stable = stable_limit_s();
  const double longest = stage().duration_s / 500.0;  // a slack sheet sets no limit of its own
  const double grown = snap_.limit_dt_s > 0.0 ? kMostStepGrowth * snap_.limit_dt_s : longest;
  snap_.limit_dt_s = std::min({stable, grown, longest});
  if (!(snap_.limit_dt_s > 1e-7 * longest))
    throw Error({Fault::Kind::kSolution, fmt::format("stage '{}' at {:.4g} s", stage().name, snap_.time_s),
                 fmt::format("a stable time step of {:.3g} us{}", stable * 1e6, stiffest_place()),
                 "at least a ten-millionth of the stage",
                 "an element has collapsed: use a larger element, or a lower pressure"});
}

}  // namespace pellicle::forming
