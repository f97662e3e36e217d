// In which order are points visited so that neighbours in space are neighbours in memory? Along a Hilbert curve.
#pragma once

#include "mesh/triangle_mesh.h"

#include <cstdint>
#include <span>
#include <vector>

namespace pellicle::mesh {

/// Cells a side of the square the curve is drawn in. 2^24 tells points apart that are 6e-8 of the square's side apart.
inline constexpr std::uint32_t kHilbertCells = 1U << 24U;

/// Place of a cell along the curve that visits all cells of the square, each next to the one before.
/// Hilbert, Math. Ann. 38 (1891) 459; bitwise form from memory.
std::uint64_t hilbert_key(std::uint32_t x, std::uint32_t y, std::uint32_t cells = kHilbertCells);

/// Indices of the points in the order of the curve through their bounding square; ties by index. Finite points only.
std::vector<int> hilbert_order(std::span<const Vec2> points_m);

/// Renumbers: nodes along the curve, each triangle turned so that its lowest node is first (same sense), triangles
/// sorted by their nodes. So the triangles whose lowest node lies in a block of nodes are one run of triangles: a
/// block can be worked off from one stretch of each array. Returns for each new node its old number.
std::vector<int> renumber(std::vector<Vec2>& points_m, std::vector<Triangle>& triangles);

}  // namespace pellicle::mesh
