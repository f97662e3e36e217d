// Which nodes of a lot? Flags of theirs as bits, and one after the other.
#pragma once

#include "mesh/triangle_mesh.h"
#include "solver/sheet/kernel/motion.h"

#include <bit>
#include <cstdint>
#include <cstring>

namespace pellicle::forming {

inline sheet::Three<double> three(const mesh::Vec3& v) { return {v.x(), v.y(), v.z()}; }
inline mesh::Vec3 vector(const sheet::Three<double>& v) { return {v.x, v.y, v.z}; }

/// Bytes of 0 or 1, one a node of a lot, the first the lowest.
using Flags = std::uint64_t;
static_assert(sizeof(Flags) == sheet::kLot && std::endian::native == std::endian::little);
inline Flags flags_of(const char* first) {
  Flags flags;
  std::memcpy(&flags, first, sizeof flags);
  return flags;
}
/// Bit k of byte k, each moved to where no other comes: the eighth byte of the product.
inline sheet::LotNodes nodes_with(Flags flags) {
  return static_cast<sheet::LotNodes>((flags * 0x0102040810204080U) >> 56);
}
/// The way back: bit k in byte k, then anything there to 1.
inline Flags flags_with(sheet::LotNodes nodes) {
  const Flags own_bit = nodes * 0x0101010101010101U & 0x8040201008040201U;
  return (own_bit + 0x7f7f7f7f7f7f7f7fU) >> 7 & 0x0101010101010101U;
}
inline void clear_flags(char* first, sheet::LotNodes nodes) {
  const Flags flags = flags_of(first) & ~flags_with(nodes);
  std::memcpy(first, &flags, sizeof flags);
}

/// Calls one(i) for each of the nodes, first + k where bit k is set.
template <class One>
void each_of(int first, sheet::LotNodes nodes, One&& one) {
  for (; nodes != 0; nodes &= nodes - 1) one(first + std::countr_zero(nodes));
}
inline sheet::LotNodes first_of_lot(int count) { return (1U << count) - 1U; }

}  // namespace pellicle::forming
