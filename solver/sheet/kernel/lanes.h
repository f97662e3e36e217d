// How are several numbers worked on at once? The vector type of the compiler, and the few things it cannot write
// itself.
//
// Included by one file for each instruction set, which defines PELLICLE_KERNEL_SET. Arithmetic, comparisons and
// `mask ? a : b` are those of g++ and clang. Every operation is rounded as the standard says, one at a time, so a lane
// has the same bits whatever the width.
#pragma once

#include "solver/sheet/kernel/kernel.h"

#include <cstddef>
#include <cstdint>

#ifndef PELLICLE_KERNEL_SET
#error "a name for the instruction set is missing"
#endif

namespace pellicle::sheet::PELLICLE_KERNEL_SET {

#if defined(__AVX512F__)
inline constexpr int kLanes = 8;
#elif defined(__AVX2__)
inline constexpr int kLanes = 4;
#else
inline constexpr int kLanes = 2;
#endif

typedef double Lanes __attribute__((vector_size(8 * kLanes)));
typedef long long Mask __attribute__((vector_size(8 * kLanes)));  ///< all bits of a lane, or none
typedef std::uint64_t Bits __attribute__((vector_size(8 * kLanes)));

inline Bits bits_of(Lanes x) { return __builtin_bit_cast(Bits, x); }
inline Lanes lanes_of(Bits x) { return __builtin_bit_cast(Lanes, x); }
inline Lanes splat(double x) { return x - Lanes{}; }

inline Lanes load(const double* from) {
  Lanes x;
  __builtin_memcpy(&x, from, sizeof x);
  return x;
}
inline void store(double* to, Lanes x) { __builtin_memcpy(to, &x, sizeof x); }

/// Lane by lane; the compiler makes one instruction of it (-fno-math-errno).
inline Lanes root(Lanes x) {
  Lanes r;
  for (int k = 0; k < kLanes; ++k) r[k] = __builtin_sqrt(x[k]);
  return r;
}
/// The second where the first is not a number, as std::fmax.
inline Lanes larger(Lanes x, Lanes y) { return x > y ? x : y; }
inline Lanes smaller(Lanes x, Lanes y) { return x < y ? x : y; }
inline Lanes size_of(Lanes x) { return x < 0.0 ? -x : x; }

/// The one place that asks the processor by name: the compilers make a detour through memory or shuffles of it, and the
/// answer is waited for.
inline bool any(Mask m) {
#if defined(__AVX512F__)
  return __builtin_ia32_cvtq2mask512(m) != 0;
#elif defined(__AVX2__)
  return __builtin_ia32_movmskpd256(__builtin_bit_cast(Lanes, m)) != 0;
#else
  return (m[0] | m[1]) != 0;
#endif
}

struct Triple {
  Lanes x, y, z;
};
inline Triple operator-(const Triple& a, const Triple& b) { return {a.x - b.x, a.y - b.y, a.z - b.z}; }
inline Triple operator+(const Triple& a, const Triple& b) { return {a.x + b.x, a.y + b.y, a.z + b.z}; }
inline Triple operator*(Lanes k, const Triple& a) { return {k * a.x, k * a.y, k * a.z}; }
inline Lanes dot(const Triple& a, const Triple& b) { return a.x * b.x + a.y * b.y + a.z * b.z; }
inline Triple cross(const Triple& a, const Triple& b) {
  return {a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
}

// ---- Between records of four numbers, one a node, and lanes. Nodes are given as in Group::corner.

inline const double* place_of(const double* place, std::size_t corner) {
  return reinterpret_cast<const double*>(reinterpret_cast<const char*>(place) +
                                         corner * (sizeof(double) * kPlace / kSums));
}

#if defined(__AVX512F__) || defined(__AVX2__)

typedef double Record __attribute__((vector_size(32)));
inline Record record(const double* from) {
  Record r;
  __builtin_memcpy(&r, from, sizeof r);
  return r;
}

#endif

#if defined(__AVX512F__)

/// Squares of 4 x 4 turned over, in the lower and in the upper half of the lanes.
inline void transpose(Lanes (&r)[4]) {
  const Lanes xz = __builtin_shufflevector(r[0], r[1], 0, 8, 2, 10, 4, 12, 6, 14),
              yw = __builtin_shufflevector(r[0], r[1], 1, 9, 3, 11, 5, 13, 7, 15),
              xz2 = __builtin_shufflevector(r[2], r[3], 0, 8, 2, 10, 4, 12, 6, 14),
              yw2 = __builtin_shufflevector(r[2], r[3], 1, 9, 3, 11, 5, 13, 7, 15);
  r[0] = __builtin_shufflevector(xz, xz2, 0, 1, 8, 9, 4, 5, 12, 13);
  r[1] = __builtin_shufflevector(yw, yw2, 0, 1, 8, 9, 4, 5, 12, 13);
  r[2] = __builtin_shufflevector(xz, xz2, 2, 3, 10, 11, 6, 7, 14, 15);
  r[3] = __builtin_shufflevector(yw, yw2, 2, 3, 10, 11, 6, 7, 14, 15);
}

/// Places of the nodes: 4 numbers each.
inline Triple load_nodes(const double* place, const std::uint16_t* node) {
  Lanes r[4];
  for (int k = 0; k < 4; ++k)
    r[k] = __builtin_shufflevector(record(place_of(place, node[k])), record(place_of(place, node[k + 4])), 0, 1, 2, 3,
                                   4, 5, 6, 7);
  transpose(r);
  return {r[0], r[1], r[2]};
}

/// Adds to the sums of the corners, 8 numbers a node, element by element: the order of the elements is the order in
/// which a node's parts are added.
inline void add_to_nodes(double* sum, const std::uint16_t* const (&corner)[3], const Triple (&force)[3],
                         const Triple& area) {
  Lanes f[3][4], a[4]{area.x, area.y, area.z, Lanes{}};
  for (int c = 0; c < 3; ++c) {
    f[c][0] = force[c].x, f[c][1] = force[c].y, f[c][2] = force[c].z, f[c][3] = Lanes{};
    transpose(f[c]);
  }
  transpose(a);
  const auto add = [&](int element, int c, Lanes part) {
    double* const to = sum + corner[c][element];
    store(to, load(to) + part);
  };
  for (int k = 0; k < 4; ++k)
    for (int c = 0; c < 3; ++c) add(k, c, __builtin_shufflevector(f[c][k], a[k], 0, 1, 2, 3, 8, 9, 10, 11));
  for (int k = 0; k < 4; ++k)
    for (int c = 0; c < 3; ++c) add(k + 4, c, __builtin_shufflevector(f[c][k], a[k], 4, 5, 6, 7, 12, 13, 14, 15));
}

#elif defined(__AVX2__)

inline void transpose(Lanes (&r)[4]) {
  const Lanes xz = __builtin_shufflevector(r[0], r[1], 0, 4, 2, 6),
              yw = __builtin_shufflevector(r[0], r[1], 1, 5, 3, 7),
              xz2 = __builtin_shufflevector(r[2], r[3], 0, 4, 2, 6),
              yw2 = __builtin_shufflevector(r[2], r[3], 1, 5, 3, 7);
  r[0] = __builtin_shufflevector(xz, xz2, 0, 1, 4, 5);
  r[1] = __builtin_shufflevector(yw, yw2, 0, 1, 4, 5);
  r[2] = __builtin_shufflevector(xz, xz2, 2, 3, 6, 7);
  r[3] = __builtin_shufflevector(yw, yw2, 2, 3, 6, 7);
}

inline Triple load_nodes(const double* place, const std::uint16_t* node) {
  Lanes r[4];
  for (int k = 0; k < 4; ++k) r[k] = record(place_of(place, node[k]));
  transpose(r);
  return {r[0], r[1], r[2]};
}

inline void add_to_nodes(double* sum, const std::uint16_t* const (&corner)[3], const Triple (&force)[3],
                         const Triple& area) {
  Lanes f[3][4], a[4]{area.x, area.y, area.z, Lanes{}};
  for (int c = 0; c < 3; ++c) {
    f[c][0] = force[c].x, f[c][1] = force[c].y, f[c][2] = force[c].z, f[c][3] = Lanes{};
    transpose(f[c]);
  }
  transpose(a);
  for (int k = 0; k < 4; ++k)
    for (int c = 0; c < 3; ++c) {
      double* const to = sum + corner[c][k];
      store(to, load(to) + f[c][k]);
      store(to + 4, load(to + 4) + a[k]);
    }
}

#else

inline Triple load_nodes(const double* place, const std::uint16_t* node) {
  const double *const p = place_of(place, node[0]), *const q = place_of(place, node[1]);
  const Lanes xy = load(p), xy2 = load(q);
  return {__builtin_shufflevector(xy, xy2, 0, 2), __builtin_shufflevector(xy, xy2, 1, 3), Lanes{p[2], q[2]}};
}

inline void add_to_nodes(double* sum, const std::uint16_t* const (&corner)[3], const Triple (&force)[3],
                         const Triple& area) {
  for (int k = 0; k < kLanes; ++k)
    for (int c = 0; c < 3; ++c) {
      double* const to = sum + corner[c][k];
      to[0] += force[c].x[k], to[1] += force[c].y[k], to[2] += force[c].z[k];
      to[4] += area.x[k], to[5] += area.y[k], to[6] += area.z[k];
    }
}

#endif

}  // namespace pellicle::sheet::PELLICLE_KERNEL_SET
