// Which triangles meet at each edge of a surface?
#include "mesh/edges.h"

#include <algorithm>

namespace pellicle::mesh {

Edges::Edges(const TriangleMesh& mesh, std::span<const char> left_out) {
  start_.assign(mesh.points_m.size() + 1, 0);
  const auto for_each_side = [&](const auto& work) {
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
      if (!left_out.empty() && left_out[t] != 0) continue;
      for (int k = 0; k < 3; ++k) {
        const int from = mesh.triangles[t][static_cast<std::size_t>(k)];
        const int to = mesh.triangles[t][static_cast<std::size_t>((k + 1) % 3)];
        work(static_cast<std::size_t>(std::min(from, to)),
             EdgeUse{std::max(from, to), 3 * static_cast<int>(t) + k, from < to});
      }
    }
  };
  for_each_side([this](std::size_t low, const EdgeUse&) { ++start_[low + 1]; });
  for (std::size_t i = 1; i < start_.size(); ++i) start_[i] += start_[i - 1];
  uses_.resize(start_.back());
  std::vector<std::size_t> fill(start_.begin(), start_.end() - 1);
  for_each_side([&](std::size_t low, const EdgeUse& use) { uses_[fill[low]++] = use; });
  for (std::size_t i = 0; i + 1 < start_.size(); ++i) {
    std::sort(uses_.begin() + static_cast<std::ptrdiff_t>(start_[i]),
              uses_.begin() + static_cast<std::ptrdiff_t>(start_[i + 1]), [](const EdgeUse& a, const EdgeUse& b) {
                return a.other != b.other ? a.other < b.other : a.slot < b.slot;
              });
  }
}

}  // namespace pellicle::mesh
