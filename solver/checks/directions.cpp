// In which directions does a search look?
#include "solver/checks/directions.h"

#include <fmt/core.h>

namespace pellicle::checks {

using std::numbers::pi;

std::vector<mesh::Vec3> half_sphere(int count) {
  const double golden = pi * (3.0 - std::sqrt(5.0));
  std::vector<mesh::Vec3> all;
  for (int i = 0; i < count; ++i) {
    const double z = (i + 0.5) / count, r = std::sqrt(1.0 - z * z);
    all.push_back({r * std::cos(golden * i), r * std::sin(golden * i), z});
  }
  return all;
}

std::string direction_text(const mesh::Vec3& d) {
  constexpr double kDegree = pi / 180.0;
  return fmt::format("({:.2f}, {:.2f}, {:.2f}), {:.0f} degrees from z towards {:.0f} degrees from x", d.x(), d.y(),
                     d.z(), std::acos(std::clamp(d.z(), -1.0, 1.0)) / kDegree, std::atan2(d.y(), d.x()) / kDegree);
}

}  // namespace pellicle::checks
