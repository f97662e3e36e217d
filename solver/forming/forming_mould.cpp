// How does the sheet meet the mould in a step, and what of it lies on? Lot by lot, node by node.
#include "solver/forming/forming.h"
#include "solver/forming/lot_nodes.h"
#include "solver/sheet/membrane.h"

#include <Eigen/Geometry>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <optional>

namespace pellicle::forming {
namespace {

using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Contact noise dies over so many steps in what is reported.
constexpr double kContactMeanSteps = 50.0;
/// ... of what lies still every so many steps only.
constexpr std::int64_t kRestSteps = 5;
/// Which edges of the mould are near which triangles is found anew this often.
constexpr std::int64_t kPairSteps = 25;
/// Nodes of a lot that have become free are looked for this often.
constexpr std::int64_t kFreeSteps = 32;

}  // namespace

bool Forming::lies_on_mould(int node) const {
  for (int k = state_.first_corner[at(node)]; k < state_.first_corner[at(node) + 1]; ++k)
    for (const int i : state_.triangles[at(state_.corners[at(k)] / 3)])
      if (!snap_.touch[at(i)].touching) return false;
  return true;
}

void Forming::look_at_edges(const StepContext& step) {
  if (step.step % kPairSteps == 0)
    corners_.find(state_, near_, static_cast<double>(kPairSteps) * step.dt_s, snap_.pokes, snap_.paired_at_m);
  corners_.begin_step(state_, snap_.touch, step.dt_s);
}

void Forming::meet_mould(const StepContext& step) {
  if (books_due(step)) {
    strain_before_J_ = sheet::strain_energy_J(spec_.sheet.law, state_);
    weighed_before_J_ = weighed_J();
  }
  snap_.clamp_z_m = clamp_at_m(step.end_s);
  last_sums_ = sum_nodes_(state_.nodes(),
                          [&](int first, int count, sheet::NodeSums& lot) { meet_lot(step, first, count, lot); });
  using S = sheet::NodeSums;
  Ledger& ledger = snap_.ledger;
  ledger.damping_J += tamper_.damping * total(last_sums_, S::kDamping_J);
  ledger.friction_J += tamper_.friction * total(last_sums_, S::kFriction_J);
  ledger.contact_J += tamper_.contact * total(last_sums_, S::kContact_J);
  ledger.air_J += tamper_.air * total(last_sums_, S::kAir_J);
  ledger.clamp_J += tamper_.clamp * total(last_sums_, S::kClamp_J);
  ledger.kinetic_J = tamper_.kinetic * total(last_sums_, S::kKinetic_J);
  const double loaded = total(last_sums_, S::kLoaded);
  if (loaded > 0.0) snap_.ever_touched = true;
  snap_.slipped_share = loaded > 0.0 ? total(last_sums_, S::kSlid) / loaded : 0.0;
  snap_.time_s = step.end_s;
  snap_.dt_s = step.dt_s;
  snap_.clamp_m_s = step.clamp_m_s;
  ++snap_.step;
  snap_.element_updates += state_.elements();
}

/// How far the mould is from a node that nothing holds and that has never met it, if it is farther than `wanted_m`;
/// else less than that, or -1.
double Forming::room_of_node_m(int i, double wanted_m) {
  const Touch& touch = snap_.touch[at(i)];
  if (state_.on_rim[at(i)] || rests_[at(i)] || !std::isnan(touch.first_s) || corners_.is_stirred(i)) return -1.0;
  if (touch.pressed || touch.touching || touch.anchored || touch.contact_Pa != 0.0) return -1.0;
  const Vec3& x = state_.x_m[at(i)];
  double room_m = std::numeric_limits<double>::max();
  if (mould_.has_platform()) room_m = std::min(room_m, x.z());
  if (room_m > wanted_m) room_m = std::min(room_m, mould_.room_m(x, wanted_m, scale_.near_m, near_[at(i)]));
  return room_m;
}

/// Those nodes of a full lot that will stay free for some steps of such reach.
void Forming::find_free(int first, sheet::LotNodes among, double reach_m) {
  constexpr double kSomeSteps = 2.0;
  Free& free = free_[at(first / sheet::kLot)];
  free = {std::numeric_limits<double>::max(), 0, false};
  each_of(first, among, [&](int i) {
    const double room_m = room_of_node_m(i, kSomeSteps * reach_m);
    if (!(room_m > kSomeSteps * reach_m)) return;
    free.room_m = std::min(free.room_m, room_m);
    free.nodes |= 1U << (i - first);
    carried_m2_[at(i)].setZero();
  });
}

/// Moves the nodes of a full lot that cannot come to the mould in this step, and says which.
sheet::LotNodes Forming::move_free(const StepContext& step, int first, sheet::NodeSums& sums) {
  Free& free = free_[at(first / sheet::kLot)];
  if (free.nodes == 0) return 0;
  const sheet::MovingNodes nodes = moving();
  const double way_m = kernels_.way_m(step, nodes, first, free.nodes), reach_m = std::max(1.01 * way_m, scale_.touch_m);
  if (!(reach_m < free.room_m)) find_free(first, free.nodes, reach_m);
  if (free.nodes != 0) kernels_.move(step, nodes, first, free.nodes, sums);
  free.room_m -= 1.01 * way_m;
  return free.nodes;
}

/// Those nodes of a full lot that lay still and are pressed on: lie_still of each.
sheet::LotNodes Forming::lie_on(const StepContext& step, int first, sheet::NodeSums& sums) {
  const Flags still = flags_of(rests_.data() + first) & ~flags_of(state_.moved.data() + first);
  if (still == 0) return 0;
  const sheet::LotNodes wanted = nodes_with(still) & ~corners_.concerned(first);
  each_of(first, wanted & nodes_with(flags_of(state_.renewed.data() + first)),
          [&](int i) { look_at_still(i, snap_.touch[at(i)].normal); });
  std::array<double, sheet::kLot> inward_m_s;
  const sheet::LotNodes lie = kernels_.lie(step, moving(), first, wanted, snap_.pressure_Pa, sums, inward_m_s.data());
  clear_flags(state_.renewed.data() + first, lie);
  corners_.calm(first, lie);
  if (step.step % kRestSteps == 0)
    each_of(first, lie, [&](int i) { note_touch(i, inward_m_s[at(i - first)], step.mid_dt_s, kRestSteps); });
  return lie;
}

void Forming::meet_lot(const StepContext& step, int first, int count, sheet::NodeSums& sums) {
  sheet::LotNodes others = first_of_lot(count);
  bool look = false;
  if (count == sheet::kLot) {
    Free& free = free_[at(first / sheet::kLot)];
    const sheet::LotNodes before = free.nodes;
    if (before != 0) free.nodes &= ~corners_.concerned(first);
    others &= ~move_free(step, first, sums);
    others &= ~lie_on(step, first, sums);
    look = free.nodes != before || free.is_new || (step.step + first / sheet::kLot) % kFreeSteps == 0;
  }
  if (others == 0) return;
  each_of(first, others, [&](int i) {
    meet_node(step, i, sums);
    move_node(step, i);
  });
  if (look) find_free(first, sheet::kWholeLot, scale_.touch_m);
}

void Forming::move_node(const StepContext& step, int i) {
  if (rests_[at(i)]) {
    state_.moved[at(i)] = 0;
    return;
  }
  Vec3& x = state_.x_m[at(i)];
  const Vec3 before = x;
  if (state_.on_rim[at(i)])
    x.z() = snap_.clamp_z_m;
  else
    x += step.dt_s * state_.v_m_s[at(i)] + put_back_m_[at(i)];
  state_.moved[at(i)] = x != before;
}

/// `own` is what the mould has within reach, or a little farther.
Meeting Forming::meet_planes(const StepContext& step, int i, const mould::Planes& own, double reach_m) {
  const Vec3 &x = state_.x_m[at(i)], &wanted = predicted_m_s_[at(i)];
  Touch& touch = snap_.touch[at(i)];
  const std::optional<mould::Plane> edge =
      corners_.concerns(i) ? corners_.plane_at(state_, i, reach_m, own) : std::nullopt;
  if (!edge && !own.leans) return meet(spec_.friction, scale_, own, x, wanted, step.dt_s, step.time_s, touch);
  // Whatever is kept of a longer reach must not count.
  mould::Planes planes = own.within(own.leans ? reach_m : std::numeric_limits<double>::infinity());
  if (edge) planes.add(*edge);
  return meet(spec_.friction, scale_, planes, x, wanted, step.dt_s, step.time_s, touch);
}

void Forming::note_touch(int i, double load_m_s, double mid_dt_s, double steps) {
  Touch& touch = snap_.touch[at(i)];
  if (!touch.touching)
    touch.contact_Pa = 0.0;
  else if (load_m_s > 0.0 || !touch.pressed) {
    const double now_Pa = state_.mass_kg[at(i)] * load_m_s / (mid_dt_s * state_.area_m2[at(i)].norm());
    touch.contact_Pa += (now_Pa - touch.contact_Pa) * steps / kContactMeanSteps;
  }
  // What touches feels no air, though air may pass beside it.
  const double below_Pa = touch.touching ? 0.0 : back_Pa_[at(i)];
  if (!std::isnan(touch.first_s))
    touch.pressure_since_Pa = std::max(touch.pressure_since_Pa, snap_.mean_pressure_Pa - below_Pa);
}

void Forming::look_at_still(int i, const Vec3& normal) {
  const Vec3& area = state_.area_m2[at(i)];
  const Vec3 force = state_.force_N[at(i)] - Vec3{0.0, 0.0, weight_N_[at(i)]};
  still_.pull_N[at(i)] = normal.dot(force);
  still_.bears_m2[at(i)] = normal.dot(area);
  still_.normal_z[at(i)] = normal.z();
}

/// With what velocity membrane and gas would push a node that lies still through what it lies on; < 0: off it.
double Forming::pressed_on_m_s(const StepContext& step, int i) const {
  return sheet::pressed_on_m_s(step, state_.mass_kg[at(i)], net_Pa(i), still_.pull_N[at(i)], still_.bears_m2[at(i)],
                               still_.normal_z[at(i)]);
}

/// Most of a formed sheet.
void Forming::lie_still(const StepContext& step, int i, bool touches_otherwise, sheet::NodeSums& sums) {
  using S = sheet::NodeSums;
  state_.v_m_s[at(i)].setZero();
  rests_[at(i)] = 1;
  state_.renewed[at(i)] = 0;  // still_ tells all
  if (step.step % kRestSteps == 0) note_touch(i, pressed_on_m_s(step, i), step.mid_dt_s, kRestSteps);
  corners_.stir(i, touches_otherwise);
  const double drag_J = sheet::drag_of_frame_J(step, state_.mass_kg[at(i)]);
  const int lane = i % sheet::kLot;
  sums.lane[S::kDamping_J][lane] += drag_J;
  sums.lane[S::kClamp_J][lane] += drag_J;
  sums.lane[S::kLoaded][lane] += 1.0;
}

/// One node against the mould; every force on it is booked with the mean of its velocities before and after the step,
/// f.(x_{n+1} - x_{n-1})/2, whose sum is exactly the change of kinetic energy.
void Forming::meet_node(const StepContext& step, int i, sheet::NodeSums& sums) {
  using S = sheet::NodeSums;
  const int lane = i % sheet::kLot;
  Vec3& v = state_.v_m_s[at(i)];
  if (state_.on_rim[at(i)]) {
    v = {0.0, 0.0, step.clamp_m_s};
    corners_.stir(i, false);
    return;
  }
  const bool by_edge = corners_.concerns(i);
  const auto left_to_mould = [&](const Vec3& normal) {
    return !by_edge || corners_.leaves_to_mould(state_, i, normal);
  };
  if (rests_[at(i)] && !state_.moved[at(i)]) {
    const bool as_before = feels_as_before(i);
    if (!as_before) look_at_still(i, snap_.touch[at(i)].normal);
    // Nothing can have come nearer.
    if (pressed_on_m_s(step, i) > 0.0 && left_to_mould(snap_.touch[at(i)].normal))
      return lie_still(step, i, false, sums);
    if (as_before)  // and so far nobody asked where it would go
      predicted_m_s_[at(i)] = vector(sheet::pushed(three(without_gas_m_s(step, i)), step.push_s / state_.mass_kg[at(i)],
                                                   -net_Pa(i), three(state_.area_m2[at(i)])));
  }
  rests_[at(i)] = 0;
  const Vec3 before = v;
  const Vec3& wanted = predicted_m_s_[at(i)];
  const double mass = state_.mass_kg[at(i)];
  v = wanted;
  put_back_m_[at(i)].setZero();
  if (mould_.is_there()) {
    Touch& touch = snap_.touch[at(i)];
    const bool touched = touch.touching != 0;
    const Vec3 normal = touch.normal;
    const double reach = std::max(1.01 * wanted.norm() * step.dt_s, scale_.touch_m);
    const mould::Planes& own = mould_.planes(state_.x_m[at(i)], reach, scale_.near_m, near_[at(i)]);
    const bool lands = before.isZero(0.0) && has_come_to_rest(spec_.friction, scale_, own, state_.x_m[at(i)], touch) &&
                       left_to_mould(own.at[0].normal);
    if (lands) look_at_still(i, own.at[0].normal);
    if (own.count == 0 && !by_edge) {
      touch.pressed = touch.touching = touch.anchored = 0;
      note_touch(i, 0.0, step.mid_dt_s, 1.0);
    } else if (lands && pressed_on_m_s(step, i) > 0.0) {
      rest(own, touch);
      return lie_still(step, i, !touched || normal != touch.normal, sums);
    } else {
      const Meeting m = meet_planes(step, i, own, reach);
      v = m.v_m_s;
      put_back_m_[at(i)] = m.put_back_m;
      const Vec3 middle = 0.5 * (before + v), weight{0.0, 0.0, weight_N_[at(i)]},
                 loads = state_.force_N[at(i)] - weight - snap_.pressure_Pa * state_.area_m2[at(i)];
      sums.lane[S::kContact_J][lane] += -mass * m.normal_m_s.dot(middle) + loads.dot(m.put_back_m) -
                                        snap_.pressure_Pa * carried_m2_[at(i)].dot(middle) * step.mid_dt_s;
      sums.lane[S::kFriction_J][lane] -= mass * m.tangential_m_s.dot(middle);
      if (m.load_m_s > 0.0) sums.lane[S::kLoaded][lane] += 1.0;
      if (m.slid) sums.lane[S::kSlid][lane] += 1.0;
      note_touch(i, m.load_m_s, step.mid_dt_s, 1.0);
    }
    corners_.stir(i, touched != (touch.touching != 0) || normal != touch.normal);
  }
  // Damping force -alpha m u, u relative to the frame; the frame's share of its work, and of carrying the mass, is the
  // clamp's. What the mould takes from the predicted velocity it takes from the drag on it too.
  const auto booked = sheet::booked(step, mass, back_Pa_[at(i)], three(state_.area_m2[at(i)] - carried_m2_[at(i)]),
                                    three(before), three(v));
  sums.lane[S::kContact_J][lane] -= booked.half_drag_kg * (v - wanted).dot(vector(booked.middle_m_s));
  sums.lane[S::kKinetic_J][lane] += booked.kinetic_J;
  sums.lane[S::kLoud_J][lane] += booked.loud_J;
  sums.lane[S::kDamping_J][lane] += booked.damping_J;
  sums.lane[S::kClamp_J][lane] += booked.clamp_J;
  sums.lane[S::kAir_J][lane] += booked.air_J;
}

}  // namespace pellicle::forming
