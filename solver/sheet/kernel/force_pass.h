// What does one block of nodes feel? Places gathered, elements worked off in their order, sums handed back.
#pragma once

#include "solver/sheet/kernel/element.h"

namespace pellicle::sheet::PELLICLE_KERNEL_SET {

inline std::size_t at(int k) { return static_cast<std::size_t>(k); }

inline bool anything_moved(const NodesView& sheet, const BlockView& block) {
  for (int k = 0; k < block.local; ++k)
    if (sheet.moved[block.nodes[k]] != 0) return true;
  return false;
}

/// Gathers where all stand and what moved; how many have moved. The place and the sum of the node that fills groups up
/// stand behind those of the block. Of own nodes in a row a whole record is read at once, the next node's first number
/// for its fourth, which nobody uses.
inline int gather(const NodesView& sheet, const BlockView& block, const ScratchView& scratch) {
  const double* const x = sheet.x_m;
  const char* const has_moved = sheet.moved;
  const int* const nodes = block.nodes;
  double* const place = scratch.place;
  char* const wanted = scratch.wanted;
  const int row = block.in_a_row ? block.own - 1 : 0, local = block.local;
  if (row > 0) {
    const std::size_t first = at(nodes[0]);
    for (int k = 0; k < row; ++k) __builtin_memcpy(place + kPlace * at(k), x + 3 * (first + at(k)), 4 * sizeof(double));
    __builtin_memcpy(wanted, has_moved + first, at(row));
  }
  for (int k = row; k < local; ++k) {
    const std::size_t node = at(nodes[k]);
    __builtin_memcpy(place + kPlace * at(k), x + 3 * node, 3 * sizeof(double));
    wanted[k] = has_moved[node];
  }
  int moved = 0;
  for (int k = 0; k < local; ++k) moved += wanted[k] != 0;
  wanted[local] = 0;
  for (std::size_t k = 0; k < kPlace; ++k) place[kPlace * at(local) + k] = 0.0;
  return moved;
}

/// From nodes that have moved to own nodes that may feel it: those of a pair with a corner that has.
inline void spread_to_elements(const BlockView& block, char* wanted) {
  // Bit 0: has moved; bit 1: feels it.
  for (int g = 0; g < block.group_count; ++g) {
    const auto& corner = block.groups[g].corner;
    for (int k = 0; k < kGroup; ++k) {
      char &o = wanted[corner[0][k] / kSums], &p = wanted[corner[1][k] / kSums], &q = wanted[corner[2][k] / kSums],
           &r = wanted[corner[3][k] / kSums];
      if (((o | p | q | r) & 1) != 0) o |= 2, p |= 2, q |= 2, r |= 2;
    }
  }
  for (int k = 0; k < block.own; ++k) wanted[k] = static_cast<char>(wanted[k] >> 1);
  for (int k = block.own; k <= block.local; ++k) wanted[k] = 0;
}

/// Does an own node that is wanted belong to a pair of this group?
inline bool wanted_group(const Group& g, const char* wanted) {
  int any_of = 0;
  for (const auto& corner : g.corner)
    for (int k = 0; k < kGroup; ++k) any_of |= wanted[corner[k] / kSums];
  return any_of != 0;
}

/// Some groups, stage by stage. A processor looks some hundred instructions ahead, less than one element takes from
/// start to end; within a stage it finds enough to do while results are on their way.
struct Batch {
  static constexpr int kGroups = 4, kLots = kGroups * kGroup / kLanes;
  const Group* groups[kGroups];
  Edges edges[kLots];
  struct Half {
    Metric metric;
    Stretches stretches;
    Lanes k11, k12, k22;  ///< minus the K of docs/theory/membrane.md, eq. 4
  };
  Half halves[kLots][2];

  const Group& group(int lot) const { return *groups[lot * kLanes / kGroup]; }
  static int first(int lot) { return lot * kLanes % kGroup; }
};

/// Groups are read once a pass, in a row. The processor's own looking ahead ends with a page, which holds five of them;
/// asked for one by one, as others are measured, they do not stand in each other's way. An address behind the last is
/// none of ours, and asking for it does nothing.
inline void fetch_ahead(const Group& group) {
  constexpr std::size_t kAhead = 5;
  const auto from = reinterpret_cast<std::uintptr_t>(&group) + kAhead * sizeof(Group);
  for (std::size_t byte = 0; byte < sizeof(Group); byte += 64)
    __builtin_prefetch(reinterpret_cast<const void*>(from + byte));
}

inline void measure(Batch& batch, int lots, const double* place) {
  for (int k = 0; k < lots; ++k) {
    const Group& g = batch.group(k);
    const int first = Batch::first(k);
    if (first == 0) fetch_ahead(g);
    const Edges d =
        load_edges(place, {g.corner[0] + first, g.corner[1] + first, g.corner[2] + first, g.corner[3] + first});
    const Lanes between = dot(d.d2, d.d2);
    const Metric metrics[2] = {{dot(d.d1, d.d1), dot(d.d1, d.d2), between},
                               {between, dot(d.d2, d.d3), dot(d.d3, d.d3)}};
    batch.edges[k] = d;
    for (int h = 0; h < 2; ++h) {
      batch.halves[k][h].metric = metrics[h];
      batch.halves[k][h].stretches = invariants(load_rest(g.flat[h], first), metrics[h]);
    }
  }
}

/// K = 2 V0 (W_a M + W_b b G^-1), with b G^-1 = adj(G)/det G0, finite for a collapsed triangle.
template <class Law>
inline void ask_law(const Law& law, Batch& batch, int lots) {
  for (int k = 0; k < lots; ++k)
    for (int h = 0; h < 2; ++h) {
      Batch::Half& half = batch.halves[k][h];
      const Slopes w = relaxed_slopes(law, half.stretches);
      const RestLanes r = load_rest(batch.group(k).flat[h], Batch::first(k));
      const Metric& g = half.metric;
      const Lanes minus_v = -2.0 * r.volume, wb = w.wb_Pa * r.inverse_det;
      half.k11 = minus_v * (w.wa_Pa * r.m11 + wb * g.g22);
      half.k12 = minus_v * (w.wa_Pa * r.m12 - wb * g.g12);
      half.k22 = minus_v * (w.wa_Pa * r.m22 + wb * g.g11);
    }
}

/// f2 = -(K11 d1 + K12 d2), f3 = -(K12 d1 + K22 d2), f1 = -(f2 + f3), and a third of the area vector to each corner.
inline void add_up(const Batch& batch, int lots, double* sum) {
  for (int k = 0; k < lots; ++k) {
    const Group& g = batch.group(k);
    const int first = Batch::first(k);
    const auto& [d1, d2, d3] = batch.edges[k];
    const auto& [a, b] = batch.halves[k];
    add_to_nodes(sum, {g.corner[0] + first, g.corner[1] + first, g.corner[2] + first, g.corner[3] + first},
                 {a.k11 * d1 + a.k12 * d2, (a.k12 * d1 + a.k22 * d2) + (b.k11 * d2 + b.k12 * d3),
                  b.k12 * d2 + b.k22 * d3, splat(1.0 / 6.0) * cross(d1, d2), splat(1.0 / 6.0) * cross(d2, d3)});
  }
}

/// Forces and area vectors of all groups that are wanted, added to the sums of their corners.
template <class Law, class Wanted>
inline void add_groups(const Law& law, const BlockView& block, const ScratchView& scratch, const Wanted& wanted) {
  Batch batch;
  for (int next = 0; next < block.group_count;) {
    int count = 0;
    for (; next < block.group_count && count < Batch::kGroups; ++next)
      if (wanted(block.groups[next])) batch.groups[count++] = block.groups + next;
    const int lots = count * kGroup / kLanes;
    measure(batch, lots, scratch.place);
    ask_law(law, batch, lots);
    add_up(batch, lots, scratch.sum);
  }
}

/// Own sums to where they belong; all are zero again afterwards, for the next block. In a row they are written four
/// numbers at once, the fourth to be overwritten by the next node's first.
inline void hand_back_row(const NodesView& sheet, const BlockView& block, double* sum) {
  const std::size_t first = at(block.nodes[0]), last = at(block.own) - 1;
  double *const force = sheet.force_N + 3 * first, *const area = sheet.area_m2 + 3 * first;
  for (std::size_t k = 0; k < last; ++k, sum += kSums) {
    __builtin_memcpy(force + 3 * k, sum, 4 * sizeof(double));
    __builtin_memcpy(area + 3 * k, sum + 4, 4 * sizeof(double));
    __builtin_memset(sum, 0, kSums * sizeof(double));
  }
  __builtin_memcpy(force + 3 * last, sum, 3 * sizeof(double));
  __builtin_memcpy(area + 3 * last, sum + 4, 3 * sizeof(double));
  __builtin_memset(sheet.renewed + first, 1, last + 1);
  __builtin_memset(sum, 0, kSums * (at(block.local + 1) - last) * sizeof(double));
}

/// The same where they do not lie in a row, of those that are wanted.
template <class Wanted>
inline void hand_back(const NodesView& sheet, const BlockView& block, double* sum, const Wanted& wanted) {
  double *const force = sheet.force_N, *const area = sheet.area_m2;
  char* const renewed = sheet.renewed;
  const int* const nodes = block.nodes;
  const int own = block.own;
  for (int k = 0; k < own; ++k) {
    if (!wanted(k)) continue;
    const std::size_t node = at(nodes[k]);
    __builtin_memcpy(force + 3 * node, sum + kSums * at(k), 3 * sizeof(double));
    __builtin_memcpy(area + 3 * node, sum + kSums * at(k) + 4, 3 * sizeof(double));
    renewed[node] = 1;
  }
  __builtin_memset(sum, 0, kSums * at(block.local + 1) * sizeof(double));
}

/// A node whose elements all stand keeps what it has; elements of such nodes alone are left out.
template <class Law>
inline void block_forces(const Law& law, const NodesView& sheet, const BlockView& block, const ScratchView& scratch) {
  if (!anything_moved(sheet, block)) return;
  if (gather(sheet, block, scratch) == block.local) {
    add_groups(law, block, scratch, [](const Group&) { return true; });
    if (block.in_a_row)
      hand_back_row(sheet, block, scratch.sum);
    else
      hand_back(sheet, block, scratch.sum, [](int) { return true; });
    return;
  }
  spread_to_elements(block, scratch.wanted);
  add_groups(law, block, scratch, [&](const Group& g) { return wanted_group(g, scratch.wanted); });
  hand_back(sheet, block, scratch.sum, [&](int k) { return scratch.wanted[k] != 0; });
}

}  // namespace pellicle::sheet::PELLICLE_KERNEL_SET
