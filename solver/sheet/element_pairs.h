// Which two elements are worked off as one? Neighbours, so that the places and sums of the edge between them are read
// and written once.
//
// docs/theory/kernels.md.
#pragma once

#include "mesh/triangle_mesh.h"
#include "solver/sheet/rest.h"

#include <array>
#include <span>
#include <vector>

namespace pellicle::sheet {

/// An element and its corners from `turn` on: its corner 0 in the pair is its own corner `turn`.
struct TurnedElement {
  int element;  ///< -1: none
  int turn;
};

/// Two elements (o, p, q) and (o, q, r); the edge from o to q is theirs. An element without a partner is (o, p, q).
using ElementPair = std::array<TurnedElement, 2>;

/// Every element once: those with a partner by the smaller of their numbers, then those without. Depends on the mesh
/// alone. `first_corner` and `corners` are those of SheetState. Few are left over: some in a thousand.
std::vector<ElementPair> pair_up(std::span<const mesh::Triangle> triangles, std::span<const int> first_corner,
                                 std::span<const int> corners);

/// What a turned element keeps of the flat sheet: M of its edges from its new corner 0.
Rest turned(const Rest& rest, int turn);

}  // namespace pellicle::sheet
