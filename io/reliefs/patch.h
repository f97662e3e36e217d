// How many cells does a patch take?
#pragma once

#include "mesh/triangle_mesh.h"

#include <string>

namespace pellicle::reliefs {

struct Cells {
  int nx, ny;
};

/// The least number of cells that hold the size. Throws Error (case) at `where` for more than kMostCells, and for a
/// periodic patch that is not a whole number of them: its period would be another than the one asked for.
Cells cells_of(const mesh::Vec2& size_m, double grid_m, bool periodic, const std::string& where);

/// The patch asked for must hold what is to stand in it.
void check_fits(const mesh::Vec2& content_m, const mesh::Vec2& patch_m, const std::string& where,
                const std::string& content);

}  // namespace pellicle::reliefs
