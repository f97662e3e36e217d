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

/// Lanes whose bit is set: of the lowest the first.
inline Mask mask_of(unsigned bits) {
  Mask bit{};
  for (int k = 0; k < kLanes; ++k) bit[k] = 1LL << k;
  return ((Mask{} + static_cast<long long>(bits)) & bit) != 0;
}

/// The one place that asks the processor by name: the compilers make a detour through memory or shuffles of it, and the
/// answer is waited for. One bit a lane, of the first the lowest.
inline unsigned bits_of_mask(Mask m) {
#if defined(__AVX512F__)
  return static_cast<unsigned>(__builtin_ia32_cvtq2mask512(m));
#elif defined(__AVX2__)
  return static_cast<unsigned>(__builtin_ia32_movmskpd256(__builtin_bit_cast(Lanes, m)));
#else
  return (m[0] != 0 ? 1U : 0U) | (m[1] != 0 ? 2U : 0U);
#endif
}
inline bool any(Mask m) { return bits_of_mask(m) != 0; }

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

// ---- Between records, one a node, and lanes. Nodes are given as in Group::corner, four corners to a pair of elements.
// As much as can be is worked out on records: what turns them over is what the processor has least of.

using Corners = const std::uint16_t* [4];

struct Edges {
  Triple d1, d2, d3;  ///< from corner o to p, q and r
};

/// What a pair of elements adds to its corners: forces on p, q and r, and minus their sum on o; the parts of the area
/// vectors of each element, which go to its own corners.
struct PairParts {
  Triple p, q, r;
  Triple area1, area2;
};

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

#if defined(__AVX512F__)
inline void store(double* to, Record x) { __builtin_memcpy(to, &x, sizeof x); }

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
#else
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
#endif

/// From records, one a pair, to lanes.
inline Edges turned_over(Lanes (&p)[4], Lanes (&q)[4], Lanes (&r)[4]) {
  transpose(p), transpose(q), transpose(r);
  return {{p[0], p[1], p[2]}, {q[0], q[1], q[2]}, {r[0], r[1], r[2]}};
}

/// PairParts pair by pair.
struct PairRecords {
  Lanes p[4], q[4], r[4], area1[4], area2[4];
  explicit PairRecords(const PairParts& t)
      : p{t.p.x, t.p.y, t.p.z, Lanes{}},
        q{t.q.x, t.q.y, t.q.z, Lanes{}},
        r{t.r.x, t.r.y, t.r.z, Lanes{}},
        area1{t.area1.x, t.area1.y, t.area1.z, Lanes{}},
        area2{t.area2.x, t.area2.y, t.area2.z, Lanes{}} {
    transpose(p), transpose(q), transpose(r), transpose(area1), transpose(area2);
  }
};

/// Adds to the sums of one pair's corners. The order of the pairs is the order in which a node's parts are added.
inline void add_pair(double* sum, const Corners& corner, int pair, Record p, Record q, Record r, Record area1,
                     Record area2) {
  const auto to = [&](int c, Record force, Record area) {
    double* const at = sum + corner[c][pair];
    store(at, record(at) + force);
    store(at + 4, record(at + 4) + area);
  };
  const Record both = area1 + area2;
  to(0, -(p + q + r), both), to(1, p, area1), to(2, q, both), to(3, r, area2);
}

#endif

#if defined(__AVX512F__)

inline Edges load_edges(const double* place, const Corners& corner) {
  Lanes p[4], q[4], r[4];
  for (int k = 0; k < 4; ++k) {
    const Record o = record(place_of(place, corner[0][k])), o2 = record(place_of(place, corner[0][k + 4]));
    const auto edges = [&](const std::uint16_t* to) {
      return __builtin_shufflevector(record(place_of(place, to[k])) - o, record(place_of(place, to[k + 4])) - o2, 0, 1,
                                     2, 3, 4, 5, 6, 7);
    };
    p[k] = edges(corner[1]), q[k] = edges(corner[2]), r[k] = edges(corner[3]);
  }
  return turned_over(p, q, r);
}

inline void add_to_nodes(double* sum, const Corners& corner, const PairParts& parts) {
  const PairRecords of(parts);
  const auto lower = [](Lanes x) { return __builtin_shufflevector(x, x, 0, 1, 2, 3); };
  const auto upper = [](Lanes x) { return __builtin_shufflevector(x, x, 4, 5, 6, 7); };
  for (int k = 0; k < 4; ++k)
    add_pair(sum, corner, k, lower(of.p[k]), lower(of.q[k]), lower(of.r[k]), lower(of.area1[k]), lower(of.area2[k]));
  for (int k = 0; k < 4; ++k)
    add_pair(sum, corner, k + 4, upper(of.p[k]), upper(of.q[k]), upper(of.r[k]), upper(of.area1[k]),
             upper(of.area2[k]));
}

#elif defined(__AVX2__)

inline Edges load_edges(const double* place, const Corners& corner) {
  Lanes p[4], q[4], r[4];
  for (int k = 0; k < 4; ++k) {
    const Record o = record(place_of(place, corner[0][k]));
    p[k] = record(place_of(place, corner[1][k])) - o, q[k] = record(place_of(place, corner[2][k])) - o;
    r[k] = record(place_of(place, corner[3][k])) - o;
  }
  return turned_over(p, q, r);
}

inline void add_to_nodes(double* sum, const Corners& corner, const PairParts& parts) {
  const PairRecords of(parts);
  for (int k = 0; k < 4; ++k) add_pair(sum, corner, k, of.p[k], of.q[k], of.r[k], of.area1[k], of.area2[k]);
}

#else

inline Triple load_places(const double* place, const std::uint16_t* corner) {
  const double *const p = place_of(place, corner[0]), *const q = place_of(place, corner[1]);
  const Lanes xy = load(p), xy2 = load(q);
  return {__builtin_shufflevector(xy, xy2, 0, 2), __builtin_shufflevector(xy, xy2, 1, 3), Lanes{p[2], q[2]}};
}

inline Edges load_edges(const double* place, const Corners& corner) {
  const Triple o = load_places(place, corner[0]);
  return {load_places(place, corner[1]) - o, load_places(place, corner[2]) - o, load_places(place, corner[3]) - o};
}

inline void add_to_nodes(double* sum, const Corners& corner, const PairParts& parts) {
  const Triple all = parts.p + parts.q + parts.r, both = parts.area1 + parts.area2;
  const Triple force[4] = {{-all.x, -all.y, -all.z}, parts.p, parts.q, parts.r},
               area[4] = {both, parts.area1, both, parts.area2};
  for (int k = 0; k < kLanes; ++k)
    for (int c = 0; c < 4; ++c) {
      double* const at = sum + corner[c][k];
      at[0] += force[c].x[k], at[1] += force[c].y[k], at[2] += force[c].z[k];
      at[4] += area[c].x[k], at[5] += area[c].y[k], at[6] += area[c].z[k];
    }
}

#endif

}  // namespace pellicle::sheet::PELLICLE_KERNEL_SET
