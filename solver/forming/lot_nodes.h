// Which nodes of a lot? Flags of theirs as bits, and one after the other.
#pragma once

#include "mesh/triangle_mesh.h"
#include "solver/sheet/kernel/motion.h"

#include <array>
#include <bit>
#include <cstdint>
#include <cstring>

namespace pellicle::forming {

inline sheet::Three<double> three(const mesh::Vec3& v) { return {v.x(), v.y(), v.z()}; }
inline mesh::Vec3 vector(const sheet::Three<double>& v) { return {v.x, v.y, v.z}; }

/// Bytes of 0 or 1, one a node of a lot.
using Flags = std::uint64_t;
static_assert(sizeof(Flags) == sheet::kLot);
inline constexpr Flags kAllSet = 0x0101010101010101U;
inline Flags flags_of(const char* first) {
  Flags flags;
  std::memcpy(&flags, first, sizeof flags);
  return flags;
}
inline sheet::LotNodes nodes_with(Flags flags) {
  if (flags == 0 || flags == kAllSet) return flags == 0 ? 0 : sheet::kWholeLot;
  std::array<char, sheet::kLot> each;
  std::memcpy(each.data(), &flags, sizeof flags);
  sheet::LotNodes nodes = 0;
  for (std::size_t k = 0; k < each.size(); ++k) nodes |= static_cast<sheet::LotNodes>(each[k]) << k;
  return nodes;
}

/// Calls one(i) for each of the nodes, first + k where bit k is set.
template <class One>
void each_of(int first, sheet::LotNodes nodes, One&& one) {
  for (; nodes != 0; nodes &= nodes - 1) one(first + std::countr_zero(nodes));
}
inline sheet::LotNodes first_of_lot(int count) { return (1U << count) - 1U; }

}  // namespace pellicle::forming
