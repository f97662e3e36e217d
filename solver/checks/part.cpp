// Which part of the formed sheet is the part, and which is waste?
#include "solver/checks/part.h"

namespace pellicle::checks {
namespace {

/// Even-odd rule: a ray to +x crosses the loop an odd number of times from inside.
bool inside(const std::vector<mesh::Vec2>& loop, double x, double y) {
  bool in = false;
  for (std::size_t k = 0, j = loop.size() - 1; k < loop.size(); j = k++) {
    const mesh::Vec2 &a = loop[k], &b = loop[j];
    if ((a.y() > y) != (b.y() > y) && x < a.x() + (y - a.y()) / (b.y() - a.y()) * (b.x() - a.x())) in = !in;
  }
  return in;
}

bool over_mould(const mould::RigidMould& mould, const mesh::Vec3& p) {
  const auto& surface = mould.surface();
  if (!surface) return true;
  // From far below upwards: the platform is no part of the mould.
  const mesh::Vec3 below{p.x(), p.y(), -1.0};
  return surface->ray(below, mesh::Vec3::UnitZ()).has_value();
}

}  // namespace

std::vector<char> part_nodes(const forming::FormingResult& formed, const mould::RigidMould& mould, const Trim& trim) {
  std::vector<char> in(formed.points_m.size(), 0);
  for (std::size_t i = 0; i < in.size(); ++i) {
    const mesh::Vec3& p = formed.points_m[i];
    if (const auto* loop = std::get_if<LoopTrim>(&trim))
      in[i] = inside(loop->loop_m, p.x(), p.y());
    else if (const auto* height = std::get_if<HeightTrim>(&trim))
      in[i] = p.z() >= height->above_platform_m;
    else
      in[i] = over_mould(mould, p);
  }
  return in;
}

}  // namespace pellicle::checks
