// How do nodes of a lot move that nothing but membrane, gas and air pushes, and which lie on? The formulas of motion.h
// in lanes.
#pragma once

#include "solver/sheet/kernel/lanes.h"

namespace pellicle::sheet::PELLICLE_KERNEL_SET {

using ThreeLanes = Three<Lanes>;

/// Of kLanes nodes, three numbers each, one after the other.
#if defined(__AVX512F__)
inline ThreeLanes load_three(const double* from) {
  const Lanes a = load(from), b = load(from + 8), c = load(from + 16);
  const Lanes x = __builtin_shufflevector(a, b, 0, 3, 6, 9, 12, 15, -1, -1),
              y = __builtin_shufflevector(a, b, 1, 4, 7, 10, 13, -1, -1, -1),
              z = __builtin_shufflevector(a, b, 2, 5, 8, 11, 14, -1, -1, -1);
  return {__builtin_shufflevector(x, c, 0, 1, 2, 3, 4, 5, 10, 13),
          __builtin_shufflevector(y, c, 0, 1, 2, 3, 4, 8, 11, 14),
          __builtin_shufflevector(z, c, 0, 1, 2, 3, 4, 9, 12, 15)};
}
inline void store_three(double* to, const ThreeLanes& v) {
  const Lanes a = __builtin_shufflevector(v.x, v.y, 0, 8, -1, 1, 9, -1, 2, 10),
              b = __builtin_shufflevector(v.x, v.y, -1, 3, 11, -1, 4, 12, -1, 5),
              c = __builtin_shufflevector(v.x, v.y, 13, -1, 6, 14, -1, 7, 15, -1);
  store(to, __builtin_shufflevector(a, v.z, 0, 1, 8, 3, 4, 9, 6, 7));
  store(to + 8, __builtin_shufflevector(b, v.z, 10, 1, 2, 11, 4, 5, 12, 7));
  store(to + 16, __builtin_shufflevector(c, v.z, 0, 13, 2, 3, 14, 5, 6, 15));
}
#elif defined(__AVX2__)
inline ThreeLanes load_three(const double* from) {
  const Lanes a = load(from), b = load(from + 4), c = load(from + 8);
  const Lanes x = __builtin_shufflevector(a, b, 0, 3, 6, -1), y = __builtin_shufflevector(a, b, 1, 4, 7, -1),
              z = __builtin_shufflevector(a, b, 2, 5, -1, -1);
  return {__builtin_shufflevector(x, c, 0, 1, 2, 5), __builtin_shufflevector(y, c, 0, 1, 2, 6),
          __builtin_shufflevector(z, c, 0, 1, 4, 7)};
}
inline void store_three(double* to, const ThreeLanes& v) {
  const Lanes a = __builtin_shufflevector(v.x, v.y, 0, 4, -1, 1), b = __builtin_shufflevector(v.x, v.y, 5, -1, 2, 6),
              c = __builtin_shufflevector(v.x, v.y, -1, 3, 7, -1);
  store(to, __builtin_shufflevector(a, v.z, 0, 1, 4, 3));
  store(to + 4, __builtin_shufflevector(b, v.z, 0, 5, 2, 3));
  store(to + 8, __builtin_shufflevector(c, v.z, 6, 1, 2, 7));
}
#else
inline ThreeLanes load_three(const double* from) {
  const Lanes a = load(from), b = load(from + 2), c = load(from + 4);
  return {__builtin_shufflevector(a, b, 0, 3), __builtin_shufflevector(a, c, 1, 2),
          __builtin_shufflevector(b, c, 0, 3)};
}
inline void store_three(double* to, const ThreeLanes& v) {
  store(to, __builtin_shufflevector(v.x, v.y, 0, 2));
  store(to + 2, __builtin_shufflevector(v.z, v.x, 0, 3));
  store(to + 4, __builtin_shufflevector(v.y, v.z, 1, 3));
}
#endif

/// To the lanes that are wanted.
inline void add(double* lane, Mask wanted, Lanes x) { store(lane, load(lane) + (wanted ? x : Lanes{})); }

inline ThreeLanes chosen(Mask wanted, const ThreeLanes& a, const ThreeLanes& b) {
  return {wanted ? a.x : b.x, wanted ? a.y : b.y, wanted ? a.z : b.z};
}

/// Velocity without what the gas will push in this step, and what the gas has to know.
inline void predict_lot(const MotionStep& step, const MovingNodes& nodes, int first, LotNodes wanted, GasSums& sums) {
  for (int k = 0; k < kLot; k += kLanes) {
    const int i = first + k;
    const Mask ours = mask_of(wanted >> k);
    const ThreeLanes area = load_three(nodes.area_m2 + 3 * i);
    const Lanes per_mass = step.push_s / load(nodes.mass_kg + i);
    const ThreeLanes v = pushed(without_gas(step, per_mass, load_three(nodes.v_m_s + 3 * i),
                                            load_three(nodes.force_N + 3 * i), load(nodes.weight_N + i)),
                                per_mass, load(nodes.back_Pa + i), area);
    store_three(nodes.predicted_m_s + 3 * i, v);
    add(sums.lane[GasSums::kVolume_m3] + k, ours, volume_m3(step, load_three(nodes.x_m + 3 * i), area));
    add(sums.lane[GasSums::kRate_m3_s] + k, ours, rate_m3_s(step, v, area));
    add(sums.lane[GasSums::kSoftness_m3_sPa] + k, ours, per_mass * dot(area, area));
    add(sums.lane[GasSums::kFreeAreaUp_m2] + k, ours, area.z);
  }
}

/// The same of nodes that lie still on the mould.
inline void hold_lot(const MotionStep& step, const MovingNodes& nodes, int first, LotNodes wanted, GasSums& sums) {
  for (int k = 0; k < kLot; k += kLanes) {
    const int i = first + k;
    const Mask ours = mask_of(wanted >> k);
    const ThreeLanes area = load_three(nodes.area_m2 + 3 * i);
    add(sums.lane[GasSums::kVolume_m3] + k, ours, volume_m3(step, load_three(nodes.x_m + 3 * i), area));
    add(sums.lane[GasSums::kRate_m3_s] + k, ours, area.z * step.clamp_m_s);
    add(sums.lane[GasSums::kFreeAreaUp_m2] + k, ours, area.z);
  }
}

inline void push_lot(const MotionStep& step, const MovingNodes& nodes, int first, LotNodes wanted, double pressure_Pa) {
  for (int k = 0; k < kLot; k += kLanes) {
    const int i = first + k;
    const Lanes per_mass = step.push_s / load(nodes.mass_kg + i);
    const ThreeLanes v = load_three(nodes.predicted_m_s + 3 * i);
    store_three(
        nodes.predicted_m_s + 3 * i,
        chosen(mask_of(wanted >> k), pushed(v, per_mass, splat(-pressure_Pa), load_three(nodes.area_m2 + 3 * i)), v));
  }
}

inline double way_of_lot(const MotionStep& step, const MovingNodes& nodes, int first, LotNodes wanted) {
  Lanes squares{};
  for (int k = 0; k < kLot; k += kLanes) {
    const ThreeLanes v = load_three(nodes.predicted_m_s + 3 * (first + k));
    squares += mask_of(wanted >> k) ? dot(v, v) : Lanes{};
  }
  double sum = 0.0;
  for (int k = 0; k < kLanes; ++k) sum += squares[k];
  return step.dt_s * __builtin_sqrt(sum);
}

/// They take the velocity they want.
inline void move_lot(const MotionStep& step, const MovingNodes& nodes, int first, LotNodes wanted, NodeSums& sums) {
  for (int k = 0; k < kLot; k += kLanes) {
    const int i = first + k;
    const Mask ours = mask_of(wanted >> k);
    const ThreeLanes v = load_three(nodes.predicted_m_s + 3 * i), x = load_three(nodes.x_m + 3 * i),
                     before = load_three(nodes.v_m_s + 3 * i);
    const Booked<Lanes> b =
        booked(step, load(nodes.mass_kg + i), load(nodes.back_Pa + i), load_three(nodes.area_m2 + 3 * i), before, v);
    add(sums.lane[NodeSums::kKinetic_J] + k, ours, b.kinetic_J);
    add(sums.lane[NodeSums::kLoud_J] + k, ours, b.loud_J);
    add(sums.lane[NodeSums::kDamping_J] + k, ours, b.damping_J);
    add(sums.lane[NodeSums::kClamp_J] + k, ours, b.clamp_J);
    add(sums.lane[NodeSums::kAir_J] + k, ours, b.air_J);
    const ThreeLanes to =
        chosen(ours, ThreeLanes{x.x + step.dt_s * v.x, x.y + step.dt_s * v.y, x.z + step.dt_s * v.z}, x);
    store_three(nodes.v_m_s + 3 * i, chosen(ours, v, before));
    store_three(nodes.x_m + 3 * i, to);
    const Mask other = (to.x != x.x) | (to.y != x.y) | (to.z != x.z);
    for (int l = 0; l < kLanes; ++l)
      nodes.moved[i + l] = (wanted >> (k + l) & 1U) != 0 ? static_cast<char>(other[l] != 0) : nodes.moved[i + l];
  }
}

inline LotNodes lie_lot(const MotionStep& step, const MovingNodes& nodes, int first, LotNodes wanted,
                        double pressure_Pa, NodeSums& sums, double* inward_m_s) {
  LotNodes lie = 0;
  for (int k = 0; k < kLot; k += kLanes) {
    const int i = first + k;
    const Lanes mass = load(nodes.mass_kg + i),
                inward = pressed_on_m_s(step, mass, pressure_Pa - load(nodes.back_Pa + i), load(nodes.pull_N + i),
                                        load(nodes.bears_m2 + i), load(nodes.normal_z + i));
    store(inward_m_s + k, inward);
    const Mask ours = mask_of(wanted >> k) & (inward > 0.0);
    const Lanes drag_J = drag_of_frame_J(step, mass);
    add(sums.lane[NodeSums::kDamping_J] + k, ours, drag_J);
    add(sums.lane[NodeSums::kClamp_J] + k, ours, drag_J);
    add(sums.lane[NodeSums::kLoaded] + k, ours, splat(1.0));
    lie |= bits_of_mask(ours) << k;
  }
  return lie;
}

}  // namespace pellicle::sheet::PELLICLE_KERNEL_SET
