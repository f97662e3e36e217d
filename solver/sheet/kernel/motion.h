// How does a node move that membrane, gas and shut-in air push, and what work do they do? Eight nodes side by side are
// a lot; formulas are written once, for one node and for lanes of several.
//
// docs/theory/time.md, eq. 1, 9 and 10; docs/theory/gas.md, eq. 3. Every operation is rounded by itself, so a node has
// the same bits alone and in a lot. Includes nothing: see kernel.h.
#pragma once

namespace pellicle::sheet {

inline constexpr int kLot = 8;

/// Some nodes of a lot: bit k is the k-th of them.
using LotNodes = unsigned;
inline constexpr LotNodes kWholeLot = (1U << kLot) - 1U;

/// What one step says to every node. Of frames and clamp the speed upwards.
struct MotionStep {
  double frame_m_s, last_frame_m_s;  ///< the frame in which mass and damping count
  double clamp_m_s, clamp_z_m;
  double keep;           ///< share of its velocity that damping leaves a node
  double push_s;         ///< velocity that a force over mass gives
  double damping_per_s;  ///< alpha
  double dt_s, mid_dt_s;
};

/// Sums over nodes, lane by lane: node i adds to lane i % kLot, so the order of adding is the same however it is done.
struct GasSums {
  enum Field { kVolume_m3, kRate_m3_s, kSoftness_m3_sPa, kFreeAreaUp_m2, kRimForce_N, kFields };
  alignas(64) double lane[kFields][kLot] = {};
};
struct NodeSums {
  enum Field {
    kKinetic_J,
    kLoud_J,  ///< kinetic energy of what moves neither with the clamp nor with the mould
    kDamping_J,
    kClamp_J,
    kAir_J,  ///< work on the air shut in below
    kFriction_J,
    kContact_J,
    kLoaded,  ///< nodes that carry load
    kSlid,
    kFields
  };
  alignas(64) double lane[kFields][kLot] = {};
};

template <class T>
struct Three {
  T x, y, z;
};
template <class T>
inline T dot(const Three<T>& a, const Three<T>& b) {
  return a.x * b.x + a.y * b.y + a.z * b.z;
}

/// v* = w + keep (v - w_last) + per_mass (f - weight): `per_mass_s_kg` is push_s over mass.
template <class T>
inline Three<T> without_gas(const MotionStep& step, T per_mass_s_kg, const Three<T>& v, const Three<T>& force_N,
                            T weight_N) {
  return {step.keep * v.x + per_mass_s_kg * force_N.x, step.keep * v.y + per_mass_s_kg * force_N.y,
          step.frame_m_s + step.keep * (v.z - step.last_frame_m_s) + per_mass_s_kg * (force_N.z - weight_N)};
}

/// v* and what a pressure difference across the sheet adds to it, positive upwards.
template <class T>
inline Three<T> pushed(const Three<T>& v, T per_mass_s_kg, T pressure_Pa, const Three<T>& area_m2) {
  const T push = per_mass_s_kg * pressure_Pa;
  return {v.x + push * area_m2.x, v.y + push * area_m2.y, v.z + push * area_m2.z};
}

/// A node's part of the swept volume: dV/dx = -area, and V counts downwards from the clamp.
template <class T>
inline T volume_m3(const MotionStep& step, const Three<T>& x_m, const Three<T>& area_m2) {
  return -(1.0 / 3.0) * (x_m.x * area_m2.x + x_m.y * area_m2.y + (x_m.z - step.clamp_z_m) * area_m2.z);
}
/// How fast that grows, relative to the clamp's plane.
template <class T>
inline T rate_m3_s(const MotionStep& step, const Three<T>& v, const Three<T>& area_m2) {
  return -(v.x * area_m2.x + v.y * area_m2.y + (v.z - step.clamp_m_s) * area_m2.z);
}

/// What is booked of a node over a step: each force times the mean of the velocities before and after it.
template <class T>
struct Booked {
  Three<T> middle_m_s;
  T half_drag_kg, kinetic_J, loud_J, damping_J, clamp_J, air_J;
};
/// `area_m2` is that whose air is not borne by the mould.
template <class T>
inline Booked<T> booked(const MotionStep& step, T mass_kg, T back_Pa, const Three<T>& area_m2, const Three<T>& before,
                        const Three<T>& v) {
  Booked<T> b;
  b.middle_m_s = {0.5 * (before.x + v.x), 0.5 * (before.y + v.y), 0.5 * (before.z + v.z)};
  b.half_drag_kg = (0.5 * step.damping_per_s * step.mid_dt_s) * mass_kg;
  const double frame_middle = 0.5 * (step.frame_m_s + step.last_frame_m_s);
  const Three<T> drag{b.half_drag_kg * (before.x + v.x), b.half_drag_kg * (before.y + v.y),
                      b.half_drag_kg * ((before.z - step.last_frame_m_s) + (v.z - step.frame_m_s))};
  const T half_mass = 0.5 * mass_kg, along = v.x * v.x + v.y * v.y, up = v.z - step.clamp_m_s;
  const T own = along + v.z * v.z, other = along + up * up;
  b.kinetic_J = half_mass * own;
  b.loud_J = half_mass * (other < own ? other : own);
  b.damping_J = drag.x * b.middle_m_s.x + drag.y * b.middle_m_s.y + drag.z * (b.middle_m_s.z - frame_middle);
  b.clamp_J = (step.frame_m_s - step.last_frame_m_s) * mass_kg * b.middle_m_s.z - frame_middle * drag.z;
  b.air_J = -step.mid_dt_s * back_Pa * dot(area_m2, b.middle_m_s);
  return b;
}

/// With what velocity membrane and gas would push a node that lies still through what it lies on; < 0: off it. `pull_N`
/// is the membrane's force along the normal there, `bears_m2` its area vector along it.
template <class T>
inline T pressed_on_m_s(const MotionStep& step, T mass_kg, T net_Pa, T pull_N, T bears_m2, T normal_z) {
  return normal_z * (step.keep * step.last_frame_m_s - step.frame_m_s) +
         step.push_s / mass_kg * (net_Pa * bears_m2 - pull_N);
}

/// Nothing moves, so nothing is booked but the drag of a frame that moves on without the node.
template <class T>
inline T drag_of_frame_J(const MotionStep& step, T mass_kg) {
  const double frame_m_s = 0.5 * (step.frame_m_s + step.last_frame_m_s);
  return step.damping_per_s * mass_kg * step.mid_dt_s * frame_m_s * frame_m_s;
}

/// The nodes of a sheet, three numbers each or one; the last three of those that are read are pressed_on_m_s's.
struct MovingNodes {
  const double *force_N, *area_m2, *mass_kg, *weight_N, *back_Pa, *pull_N, *bears_m2, *normal_z;
  double *x_m, *v_m_s, *predicted_m_s;
  char* moved;
};

}  // namespace pellicle::sheet
