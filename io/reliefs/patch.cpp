// How many cells does a patch take?
#include "io/reliefs/patch.h"

#include "io/reliefs/refusals.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace pellicle::reliefs {
namespace {

constexpr double kSameLength = 1e-6;  // of a cell: two texts for one length

std::string mm(const mesh::Vec2& size_m) {
  return fmt::format("{:.6g} x {:.6g} mm", 1e3 * size_m.x(), 1e3 * size_m.y());
}

}  // namespace

Cells cells_of(const mesh::Vec2& size_m, double grid_m, bool periodic, const std::string& where) {
  const mesh::Vec2 exact = size_m / grid_m;
  const double nx = std::ceil(exact.x() - kSameLength), ny = std::ceil(exact.y() - kSameLength);
  if (!(nx * ny <= static_cast<double>(kMostCells))) {
    refuse_wish(
        where, fmt::format("{} on a grid of {:.6g} mm: {:.3g} million cells", mm(size_m), 1e3 * grid_m, 1e-6 * nx * ny),
        fmt::format("up to {} million", kMostCells / 1'000'000), "Take a smaller patch or a coarser grid");
  }
  if (periodic && (std::fabs(nx - exact.x()) > kSameLength || std::fabs(ny - exact.y()) > kSameLength)) {
    const double fitting_mm = 1e3 * size_m.x() / std::max(1.0, std::round(exact.x()));
    refuse_wish(where, fmt::format("a period of {} on a grid of {:.6g} mm", mm(size_m), 1e3 * grid_m),
                "a period of whole cells", fmt::format("A grid of {:.8g} mm divides its length", fitting_mm));
  }
  return {std::max(1, static_cast<int>(nx)), std::max(1, static_cast<int>(ny))};
}

void check_fits(const mesh::Vec2& content_m, const mesh::Vec2& patch_m, const std::string& where,
                const std::string& content) {
  if ((content_m.array() <= patch_m.array() * (1.0 + 1e-9)).all()) return;
  refuse_wish(where, fmt::format("{} of {} in a patch of {}", content, mm(content_m), mm(patch_m)),
              fmt::format("a patch of {} or more", mm(content_m)), "Enlarge size, or make what stands in it smaller");
}

}  // namespace pellicle::reliefs
