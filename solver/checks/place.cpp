// How is a place told?
#include "solver/checks/place.h"

#include <fmt/format.h>

namespace pellicle::checks {

std::string place_text(const mesh::Vec3& p) {
  return fmt::format("({:.1f}, {:.1f}, {:.1f}) mm", 1e3 * p.x(), 1e3 * p.y(), 1e3 * p.z());
}

}  // namespace pellicle::checks
