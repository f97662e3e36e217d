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
  __builtin_memset(scratch.sum, 0, kSums * at(block.local + 1) * sizeof(double));
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

/// What is known of some elements before their law is asked.
struct Ready {
  Triple d1, d2;
  Metric g;
  Stretches stretches;
};
inline Ready make_ready(const Group& group, int first, const ScratchView& scratch) {
  Ready k;
  const Triple o = load_nodes(scratch.place, group.corner[0] + first);
  k.d1 = load_nodes(scratch.place, group.corner[1] + first) - o;
  k.d2 = load_nodes(scratch.place, group.corner[2] + first) - o;
  k.g = metric(k.d1, k.d2);
  k.stretches = invariants(load_rest(group, first), k.g);
  return k;
}

/// Forces and area vectors, added to the sums of the corners.
///   K = 2 V0 (W_a M + W_b b G^-1),   f2 = -(K11 d1 + K12 d2),   f3 = -(K12 d1 + K22 d2),   f1 = -(f2 + f3),
/// with b G^-1 = adj(G)/det G0, finite for a collapsed triangle.
inline void add_up(const Group& group, int first, const Ready& k, const Slopes& w, const ScratchView& scratch) {
  const RestLanes r = load_rest(group, first);
  const Lanes minus_v = -2.0 * r.volume, wb = w.wb_Pa * r.inverse_det;
  const Lanes k11 = minus_v * (w.wa_Pa * r.m11 + wb * k.g.g22), k12 = minus_v * (w.wa_Pa * r.m12 - wb * k.g.g12),
              k22 = minus_v * (w.wa_Pa * r.m22 + wb * k.g.g11);
  const Triple f2 = k11 * k.d1 + k12 * k.d2, f3 = k12 * k.d1 + k22 * k.d2, both = f2 + f3;
  const Triple forces[3] = {{-both.x, -both.y, -both.z}, f2, f3};
  const Triple area_third = splat(1.0 / 6.0) * cross(k.d1, k.d2);
  const std::uint16_t* const corner[3] = {group.corner[0] + first, group.corner[1] + first, group.corner[2] + first};
  add_to_nodes(scratch.sum, corner, forces, area_third);
}

template <class Law>
inline void add_group(const Law& law, const Group& group, const ScratchView& scratch) {
  for (int first = 0; first < kGroup; first += kLanes) {
    const Ready k = make_ready(group, first, scratch);
    add_up(group, first, k, relaxed_slopes(law, k.stretches), scratch);
  }
}

/// Two groups, two lots of lanes at a time, so that one is worked on while the other waits for its results. A law with
/// powers has enough to do by itself. Elements are added in their order here too.
template <class Law>
inline void add_pair(const Law& law, const Group* groups, const ScratchView& scratch) {
  if constexpr (Law::needs_x) {
    for (int g = 0; g < 2; ++g) add_group(law, groups[g], scratch);
  } else {
    for (int element = 0; element < 2 * kGroup; element += 2 * kLanes) {
      const int next = element + kLanes;
      const Group &p = groups[element / kGroup], &q = groups[next / kGroup];
      const Ready k = make_ready(p, element % kGroup, scratch), l = make_ready(q, next % kGroup, scratch);
      Slopes w, v;
      if (any(~(surely_taut(k.stretches) & surely_taut(l.stretches))))
        w = relaxed_slopes(law, k.stretches), v = relaxed_slopes(law, l.stretches);
      else
        w = law.slopes(k.stretches), v = law.slopes(l.stretches);
      add_up(p, element % kGroup, k, w, scratch);
      add_up(q, next % kGroup, l, v, scratch);
    }
  }
}

inline void hand_back(const NodesView& sheet, int node, const double* sum) {
  __builtin_memcpy(sheet.force_N + 3 * at(node), sum, 3 * sizeof(double));
  __builtin_memcpy(sheet.area_m2 + 3 * at(node), sum + 4, 3 * sizeof(double));
}

/// A node whose elements all stand keeps what it has; elements of such nodes alone are left out.
template <class Law>
inline void block_forces(const Law& law, const NodesView& sheet, const BlockView& block, const ScratchView& scratch) {
  if (!anything_moved(sheet, block)) return;
  if (gather(sheet, block, scratch) == block.local) {
    int g = 0;
    for (; g + 1 < block.group_count; g += 2) add_pair(law, block.groups + g, scratch);
    if (g < block.group_count) add_group(law, block.groups[g], scratch);
    for (int k = 0; k < block.own; ++k) hand_back(sheet, block.nodes[k], scratch.sum + kSums * at(k));
    return;
  }
  spread_to_elements(block, scratch.wanted);
  for (int g = 0; g < block.group_count; ++g)
    if (wanted_group(block.groups[g], scratch.wanted)) add_group(law, block.groups[g], scratch);
  for (int k = 0; k < block.own; ++k)
    if (scratch.wanted[k] != 0) hand_back(sheet, block.nodes[k], scratch.sum + kSums * at(k));
}

}  // namespace pellicle::sheet::PELLICLE_KERNEL_SET
