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

/// Gathers what moved and where all stand; how many have moved. The place and the sum of the node that fills groups up
/// stand behind those of the block.
inline int gather(const NodesView& sheet, const BlockView& block, const ScratchView& scratch) {
  int moved = 0;
  for (int k = 0; k < block.local; ++k) {
    const std::size_t node = at(block.nodes[k]);
    __builtin_memcpy(scratch.place + kPlace * at(k), sheet.x_m + 3 * node, 3 * sizeof(double));
    const char own = sheet.moved[node];
    scratch.wanted[k] = own;
    moved += own != 0;
  }
  scratch.wanted[block.local] = 0;
  for (std::size_t k = 0; k < kPlace; ++k) scratch.place[kPlace * at(block.local) + k] = 0.0;
  return moved;
}

/// From nodes that have moved to own nodes that feel it: those of an element with a corner that has.
inline void spread_to_elements(const BlockView& block, char* wanted) {
  // Bit 0: has moved; bit 1: feels it.
  for (int g = 0; g < block.group_count; ++g) {
    const auto& corner = block.groups[g].corner;
    for (int k = 0; k < kGroup; ++k) {
      char &p = wanted[corner[0][k] / kSums], &q = wanted[corner[1][k] / kSums], &r = wanted[corner[2][k] / kSums];
      if (((p | q | r) & 1) != 0) p |= 2, q |= 2, r |= 2;
    }
  }
  for (int k = 0; k < block.own; ++k) wanted[k] = static_cast<char>(wanted[k] >> 1);
  for (int k = block.own; k <= block.local; ++k) wanted[k] = 0;
}

/// Does an own node that is wanted belong to an element of this group?
inline bool wanted_group(const Group& g, const char* wanted) {
  int any_of = 0;
  for (int k = 0; k < kGroup; ++k)
    any_of |= wanted[g.corner[0][k] / kSums] | wanted[g.corner[1][k] / kSums] | wanted[g.corner[2][k] / kSums];
  return any_of != 0;
}

/// Some groups, stage by stage. A processor looks some hundred instructions ahead, less than one element takes from
/// start to end; within a stage it finds enough to do while results are on their way.
struct Batch {
  static constexpr int kGroups = 8, kLots = kGroups * kGroup / kLanes;
  const Group* groups[kGroups];
  Edges edges[kLots];
  Metric metrics[kLots];
  Stretches stretches[kLots];
  Lanes k11[kLots], k12[kLots], k22[kLots];  ///< minus the K of docs/theory/membrane.md, eq. 4

  const Group& group(int lot) const { return *groups[lot * kLanes / kGroup]; }
  static int first(int lot) { return lot * kLanes % kGroup; }
};

/// Groups are read once a pass, in a row. The processor's own looking ahead ends with a page, which holds ten of them;
/// asked for one by one, as others are measured, they do not stand in each other's way. An address behind the last is
/// none of ours, and asking for it does nothing.
inline void fetch_ahead(const Group& group) {
  constexpr std::size_t kAhead = 10;
  const auto from = reinterpret_cast<std::uintptr_t>(&group) + kAhead * sizeof(Group);
  for (std::size_t byte = 0; byte < sizeof(Group); byte += 64)
    __builtin_prefetch(reinterpret_cast<const void*>(from + byte));
}

inline void measure(Batch& batch, int lots, const double* place) {
  for (int k = 0; k < lots; ++k) {
    const Group& g = batch.group(k);
    const int first = Batch::first(k);
    if (first == 0) fetch_ahead(g);
    batch.edges[k] = load_edges(place, {g.corner[0] + first, g.corner[1] + first, g.corner[2] + first});
    batch.metrics[k] = metric(batch.edges[k].d1, batch.edges[k].d2);
    batch.stretches[k] = invariants(load_rest(g, first), batch.metrics[k]);
  }
}

/// K = 2 V0 (W_a M + W_b b G^-1), with b G^-1 = adj(G)/det G0, finite for a collapsed triangle.
template <class Law>
inline void ask_law(const Law& law, Batch& batch, int lots) {
  for (int k = 0; k < lots; ++k) {
    const Slopes w = relaxed_slopes(law, batch.stretches[k]);
    const RestLanes r = load_rest(batch.group(k), Batch::first(k));
    const Metric& g = batch.metrics[k];
    const Lanes minus_v = -2.0 * r.volume, wb = w.wb_Pa * r.inverse_det;
    batch.k11[k] = minus_v * (w.wa_Pa * r.m11 + wb * g.g22);
    batch.k12[k] = minus_v * (w.wa_Pa * r.m12 - wb * g.g12);
    batch.k22[k] = minus_v * (w.wa_Pa * r.m22 + wb * g.g11);
  }
}

/// f2 = -(K11 d1 + K12 d2), f3 = -(K12 d1 + K22 d2), f1 = -(f2 + f3), and a third of the area vector to each corner.
inline void add_up(const Batch& batch, int lots, double* sum) {
  for (int k = 0; k < lots; ++k) {
    const Group& g = batch.group(k);
    const int first = Batch::first(k);
    const auto& [d1, d2] = batch.edges[k];
    add_to_nodes(sum, {g.corner[0] + first, g.corner[1] + first, g.corner[2] + first},
                 batch.k11[k] * d1 + batch.k12[k] * d2, batch.k12[k] * d1 + batch.k22[k] * d2,
                 splat(1.0 / 6.0) * cross(d1, d2));
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

/// Own sums to where they belong, if they are wanted; all are zero again afterwards, for the next block.
template <class Wanted>
inline void hand_back(const NodesView& sheet, const BlockView& block, double* sum, const Wanted& wanted) {
  for (int k = 0; k < block.own; ++k, sum += kSums) {
    if (wanted(k)) {
      __builtin_memcpy(sheet.force_N + 3 * at(block.nodes[k]), sum, 3 * sizeof(double));
      __builtin_memcpy(sheet.area_m2 + 3 * at(block.nodes[k]), sum + 4, 3 * sizeof(double));
      sheet.renewed[at(block.nodes[k])] = 1;
    }
    __builtin_memset(sum, 0, kSums * sizeof(double));
  }
  __builtin_memset(sum, 0, kSums * at(block.local + 1 - block.own) * sizeof(double));
}

/// A node whose elements all stand keeps what it has; elements of such nodes alone are left out.
template <class Law>
inline void block_forces(const Law& law, const NodesView& sheet, const BlockView& block, const ScratchView& scratch) {
  if (!anything_moved(sheet, block)) return;
  if (gather(sheet, block, scratch) == block.local) {
    add_groups(law, block, scratch, [](const Group&) { return true; });
    hand_back(sheet, block, scratch.sum, [](int) { return true; });
    return;
  }
  spread_to_elements(block, scratch.wanted);
  add_groups(law, block, scratch, [&](const Group& g) { return wanted_group(g, scratch.wanted); });
  hand_back(sheet, block, scratch.sum, [&](int k) { return scratch.wanted[k] != 0; });
}

}  // namespace pellicle::sheet::PELLICLE_KERNEL_SET
