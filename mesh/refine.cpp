// How is a flat sheet cut finer where it must be?
#include "mesh/refine.h"

#include <algorithm>
#include <cstdint>
#include <unordered_map>

namespace pellicle::mesh {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::uint64_t key(int a, int b) {
  const auto low = static_cast<std::uint64_t>(std::min(a, b)), high = static_cast<std::uint64_t>(std::max(a, b));
  return low << 32 | high;
}

/// Edge k runs from corner k to corner k + 1. Of edges equally long the one with the lowest points counts as longest,
/// so that both sides of an edge agree.
int longest_edge(std::span<const Vec2> p, const Triangle& t) {
  int longest = 0;
  double longest_sq = -1.0;
  for (int k = 0; k < 3; ++k) {
    const int a = t[at(k)], b = t[at((k + 1) % 3)];
    const double sq = (p[at(a)] - p[at(b)]).squaredNorm();
    const std::uint64_t here = key(a, b), there = key(t[at(longest)], t[at((longest + 1) % 3)]);
    if (sq > longest_sq || (sq == longest_sq && here < there)) longest = k, longest_sq = sq;
  }
  return longest;
}

/// The middles of cut edges, numbered in the order in which they are asked for first.
class Cuts {
 public:
  explicit Cuts(int first) : first_(first) {}
  bool add(int a, int b) { return middle_.try_emplace(key(a, b), -1).second; }
  bool has(int a, int b) const { return middle_.count(key(a, b)) != 0; }
  bool empty() const { return middle_.empty(); }
  int middle(int a, int b, std::vector<std::array<int, 2>>& ends) {
    int& number = middle_.at(key(a, b));
    if (number < 0) {
      number = first_ + static_cast<int>(ends.size());
      ends.push_back({std::min(a, b), std::max(a, b)});
    }
    return number;
  }

 private:
  int first_;
  std::unordered_map<std::uint64_t, int> middle_;
};

/// Cuts that one triangle asks for because of those it has; true if there were new ones.
bool close(const Triangle& t, int longest, Cuts& cuts) {
  bool any = false;
  for (int k = 0; k < 3; ++k) any = any || cuts.has(t[at(k)], t[at((k + 1) % 3)]);
  return any && cuts.add(t[at(longest)], t[at((longest + 1) % 3)]);
}

}  // namespace

Refined refine(std::span<const Vec2> points_m, std::span<const Triangle> triangles, std::span<const char> wanted,
               double shortest_m) {
  Refined out;
  Cuts cuts(static_cast<int>(points_m.size()));
  std::vector<int> longest(triangles.size());
  for (std::size_t e = 0; e < triangles.size(); ++e) {
    longest[e] = longest_edge(points_m, triangles[e]);
    const int a = triangles[e][at(longest[e])], b = triangles[e][at((longest[e] + 1) % 3)];
    if (wanted[e] && (points_m[at(a)] - points_m[at(b)]).squaredNorm() >= 4.0 * shortest_m * shortest_m) cuts.add(a, b);
  }
  // Each round reaches one triangle further; a chain climbs to ever longer edges, so it ends.
  for (bool more = !cuts.empty(); more;) {
    more = false;
    for (std::size_t e = 0; e < triangles.size(); ++e) more = close(triangles[e], longest[e], cuts) || more;
  }
  for (std::size_t e = 0; e < triangles.size(); ++e) {
    const auto add = [&](int a, int b, int c) {
      out.triangles.push_back({a, b, c});
      out.parent.push_back(static_cast<int>(e));
    };
    // a-b is the longest edge, c opposite.
    const int k = longest[e], a = triangles[e][at(k)], b = triangles[e][at((k + 1) % 3)],
              c = triangles[e][at((k + 2) % 3)];
    if (!cuts.has(a, b)) {
      add(triangles[e][0], triangles[e][1], triangles[e][2]);
      continue;
    }
    const int m = cuts.middle(a, b, out.ends);
    const auto half = [&](int from, int to) {  // triangle (from, to, m), whose edge from-to may be cut
      if (!cuts.has(from, to)) return add(from, to, m);
      const int middle = cuts.middle(from, to, out.ends);
      add(from, middle, m);
      add(middle, to, m);
    };
    half(c, a);
    half(b, c);
  }
  return out;
}

}  // namespace pellicle::mesh
