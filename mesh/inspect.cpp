// What is wrong with a surface, and where?
#include "mesh/inspect.h"

#include "mesh/check.h"
#include "mesh/edges.h"
#include "mesh/inspect_parts.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numeric>
#include <utility>

namespace pellicle::mesh {
namespace {

using namespace inspect_parts;

/// Sets that are joined, each member with a side: whether it runs with or against the first of its set.
class Sides {
 public:
  explicit Sides(std::size_t n) : parent_(n), against_(n, 0) { std::iota(parent_.begin(), parent_.end(), 0); }

  struct Root {
    int set;
    bool against;
  };
  Root find(int i) {
    int root = i;
    char against = 0;
    while (parent_[at(root)] != root) against ^= against_[at(root)], root = parent_[at(root)];
    for (char left = against; parent_[at(i)] != root && i != root;) {  // the way is made short for the next time
      const int next = parent_[at(i)];
      const char own = against_[at(i)];
      parent_[at(i)] = root, against_[at(i)] = left;
      left ^= own, i = next;
    }
    return {root, against != 0};
  }
  /// False if they are in one set already and on other sides than told. The smaller number stays the root.
  bool join(int i, int j, bool against) {
    const Root a = find(i), b = find(j);
    const bool differ = a.against ^ b.against ^ against;
    if (a.set == b.set) return !differ;
    const int low = std::min(a.set, b.set), high = std::max(a.set, b.set);
    parent_[at(high)] = low, against_[at(high)] = differ ? 1 : 0;
    return true;
  }

 private:
  std::vector<int> parent_;
  std::vector<char> against_;  ///< to the parent
};

void mark(Inspection& r, int triangle, Defect defect) {
  r.marks[at(triangle)] |= static_cast<std::uint16_t>(1U << static_cast<unsigned>(defect));
}
bool has(const Inspection& r, int triangle, Defect defect) {
  return (r.marks[at(triangle)] >> static_cast<unsigned>(defect) & 1U) != 0;
}

/// 1 for each triangle on the same corners as one of a smaller number.
std::vector<char> doubles(const TriangleMesh& m) {
  std::vector<int> start(m.points_m.size() + 1, 0);
  const auto low = [&](std::size_t e) { return std::min({m.triangles[e][0], m.triangles[e][1], m.triangles[e][2]}); };
  for (std::size_t e = 0; e < m.triangles.size(); ++e) ++start[at(low(e)) + 1];
  for (std::size_t i = 1; i < start.size(); ++i) start[i] += start[i - 1];
  std::vector<int> by_low(m.triangles.size()), fill(start.begin(), start.end() - 1);
  for (std::size_t e = 0; e < m.triangles.size(); ++e) by_low[at(fill[at(low(e))]++)] = static_cast<int>(e);
  const auto sorted = [&](int e) {
    Triangle t = m.triangles[at(e)];
    std::sort(t.begin(), t.end());
    return t;
  };
  std::vector<char> is_double(m.triangles.size(), 0);
  for (std::size_t i = 0; i + 1 < start.size(); ++i) {
    const auto from = by_low.begin() + start[i], to = by_low.begin() + start[i + 1];
    std::sort(from, to, [&](int a, int b) {
      const Triangle s = sorted(a), t = sorted(b);
      return s != t ? s < t : a < b;
    });
    for (auto k = from; k != to && k + 1 != to; ++k)
      if (sorted(*k) == sorted(*(k + 1))) is_double[at(*(k + 1))] = 1;
  }
  return is_double;
}

/// Open edges, walked from end to end.
std::vector<Rim> rims(const TriangleMesh& m, const std::vector<std::array<int, 3>>& open) {
  // open: the two ends and the triangle of each
  std::vector<std::array<int, 2>> ends;  // point, edge
  for (std::size_t k = 0; k < open.size(); ++k)
    ends.push_back({open[k][0], static_cast<int>(k)}), ends.push_back({open[k][1], static_cast<int>(k)});
  std::sort(ends.begin(), ends.end());
  std::vector<char> used(open.size(), 0);
  const auto next_from = [&](int point) {
    for (auto k = std::lower_bound(ends.begin(), ends.end(), std::array<int, 2>{point, -1});
         k != ends.end() && (*k)[0] == point; ++k)
      if (used[at((*k)[1])] == 0) return (*k)[1];
    return -1;
  };
  std::vector<Rim> found;
  for (std::size_t k = 0; k < open.size(); ++k) {
    if (used[k] != 0) continue;
    Rim rim{Vec3::Zero(), 0.0, open[k][2], {}, false};
    const int start = open[k][0];
    for (int edge = static_cast<int>(k), from = start; edge >= 0;) {
      used[at(edge)] = 1;
      const int to = open[at(edge)][0] == from ? open[at(edge)][1] : open[at(edge)][0];
      const Vec3 &p = m.points_m[at(from)], &q = m.points_m[at(to)];
      rim.centre_m += 0.5 * (q - p).norm() * (p + q), rim.length_m += (q - p).norm();
      rim.triangle = std::min(rim.triangle, open[at(edge)][2]);
      rim.points.push_back(from);
      from = to;
      edge = from == start ? -1 : next_from(from);
      rim.is_loop = from == start;
    }
    rim.centre_m = rim.length_m > 0.0 ? Vec3(rim.centre_m / rim.length_m) : m.points_m[at(start)];
    found.push_back(rim);
  }
  std::stable_sort(found.begin(), found.end(), [](const Rim& a, const Rim& b) { return a.length_m > b.length_m; });
  return found;
}

double height_m(const Corners& t) {
  const double longest = std::max({(t.b - t.a).norm(), (t.c - t.b).norm(), (t.a - t.c).norm()});
  return longest > 0.0 ? (t.b - t.a).cross(t.c - t.a).norm() / longest : 0.0;
}

/// Bodies, their triangles and which of those run against the rest, found from the edges.
class Bodies {
 public:
  Bodies(const TriangleMesh& m, std::span<const char> left_out, Inspection& result)
      : m_(m), out_(left_out), r_(result) {
    Sides patches(m.triangles.size()), connected(m.triangles.size());
    std::vector<char> one_sided(m.triangles.size(), 0), open(m.triangles.size(), 0);
    std::vector<std::array<int, 3>> open_edges;
    Edges(m, left_out).for_each([&](int low, std::span<const EdgeUse> uses) {
      if (uses.size() == 1) {
        open_edges.push_back({low, uses[0].other, uses[0].triangle()});
        mark(r_, uses[0].triangle(), Defect::kHole), open[at(uses[0].triangle())] = 1;
      }
      if (uses.size() == 2 && !patches.join(uses[0].triangle(), uses[1].triangle(), uses[0].up == uses[1].up))
        one_sided[at(uses[0].triangle())] = 1;
      for (std::size_t k = 1; k < uses.size(); ++k) connected.join(uses[0].triangle(), uses[k].triangle(), false);
      if (uses.size() > 2)
        for (const EdgeUse& use : uses) mark(r_, use.triangle(), Defect::kBranch), open[at(use.triangle())] = 1;
    });
    r_.rims = rims(m, open_edges);
    number(connected, open, one_sided);
    turn(patches);
    measure();
  }

 private:
  void number(Sides& connected, const std::vector<char>& open, const std::vector<char>& one_sided) {
    r_.body.assign(m_.triangles.size(), -1);
    std::vector<int> of_root(m_.triangles.size(), -1);
    for (std::size_t e = 0; e < m_.triangles.size(); ++e) {
      if (out_[e] != 0) continue;
      int& body = of_root[at(connected.find(static_cast<int>(e)).set)];
      if (body < 0) {
        body = static_cast<int>(r_.bodies.size());
        r_.bodies.emplace_back();
        r_.bodies.back().first_triangle = static_cast<int>(e);
        r_.bodies.back().is_closed = true;
        r_.bodies.back().low_m = Vec3::Constant(std::numeric_limits<double>::infinity());
        r_.bodies.back().high_m = -r_.bodies.back().low_m;
      }
      r_.body[e] = body;
      Body& b = r_.bodies[at(body)];
      ++b.triangles;
      b.is_closed = b.is_closed && open[e] == 0;
      b.is_one_sided = b.is_one_sided || one_sided[e] != 0;
      for (const int i : m_.triangles[e])
        b.low_m = b.low_m.cwiseMin(m_.points_m[at(i)]), b.high_m = b.high_m.cwiseMax(m_.points_m[at(i)]);
    }
  }

  /// Six times what a triangle adds to the volume of its body.
  double determinant(std::size_t e) const {
    const Body& body = r_.bodies[at(r_.body[e])];
    const Vec3 centre = 0.5 * (body.low_m + body.high_m);
    const Corners t = corners(m_, static_cast<int>(e));
    return (t.a - centre).dot((t.b - centre).cross(t.c - centre));
  }

  /// Of each patch the side with less area is turned; of a closed body of which some must be, the side that leaves it
  /// with a volume below zero.
  void turn(Sides& patches) {
    struct Sum {
      double area[2] = {0.0, 0.0};
      double volume = 0.0;  ///< with the `against` side turned
    };
    std::vector<Sum> sums(m_.triangles.size());
    for (std::size_t e = 0; e < m_.triangles.size(); ++e) {
      if (out_[e] != 0) continue;
      const Sides::Root root = patches.find(static_cast<int>(e));
      const Corners t = corners(m_, static_cast<int>(e));
      Sum& sum = sums[at(root.set)];
      sum.area[root.against ? 1 : 0] += (t.b - t.a).cross(t.c - t.a).norm();
      sum.volume += (root.against ? -1.0 : 1.0) * determinant(e);
    }
    turned_.assign(m_.triangles.size(), 0);
    r_.patch.assign(m_.triangles.size(), -1);
    for (std::size_t e = 0; e < m_.triangles.size(); ++e) {
      if (out_[e] != 0) continue;
      const Body& body = r_.bodies[at(r_.body[e])];
      const Sides::Root root = patches.find(static_cast<int>(e));
      const Sum& sum = sums[at(root.set)];
      r_.patch[e] = root.set;
      if (body.is_one_sided || !(sum.area[0] > 0.0 && sum.area[1] > 0.0)) continue;
      const bool turns_against = body.is_closed && sum.volume != 0.0 ? sum.volume > 0.0 : sum.area[0] >= sum.area[1];
      if (root.against != turns_against) continue;
      turned_[e] = 1;
      mark(r_, static_cast<int>(e), Defect::kTurned);
    }
  }

  void measure() {
    for (std::size_t e = 0; e < m_.triangles.size(); ++e)
      if (out_[e] == 0) r_.bodies[at(r_.body[e])].volume_m3 += (turned_[e] != 0 ? -1.0 : 1.0) * determinant(e) / 6.0;
    for (std::size_t e = 0; e < m_.triangles.size(); ++e)
      if (out_[e] == 0 && r_.bodies[at(r_.body[e])].is_one_sided) mark(r_, static_cast<int>(e), Defect::kOneSided);
  }

  const TriangleMesh& m_;
  std::span<const char> out_;
  Inspection& r_;
  std::vector<char> turned_;
};

/// A closed body inside another one is out of reach if it faces outwards, and a hollow if it faces inwards; on its own
/// one that faces inwards is inside out.
void judge_bodies(const Nearest& surface, double round_off_m, Inspection& r) {
  const double smallest_m3 = round_off_m * round_off_m * round_off_m;
  std::vector<char> is_nested(r.bodies.size(), 0), crosses(r.bodies.size(), 0);
  for (std::size_t e = 0; e < r.marks.size(); ++e)
    if (r.body[e] >= 0 && has(r, static_cast<int>(e), Defect::kCrossing)) crosses[at(r.body[e])] = 1;
  for (std::size_t k = 0; k < r.bodies.size(); ++k) {
    Body& body = r.bodies[k];
    if (!body.is_closed || body.is_one_sided || std::fabs(body.volume_m3) < smallest_m3) continue;
    const Corners t = corners(surface.mesh(), body.first_triangle);
    const bool is_inside = r.bodies.size() > 1 && crosses[k] == 0 &&
                           bodies_around(surface, r, (t.a + t.b + t.c) / 3.0, static_cast<int>(k), round_off_m) > 0;
    if (body.volume_m3 > 0.0)
      is_nested[k] = is_inside ? 1 : 0;
    else
      body.is_inside_out = !is_inside;
  }
  for (std::size_t e = 0; e < r.marks.size(); ++e) {
    if (r.body[e] < 0) continue;
    if (is_nested[at(r.body[e])] != 0) mark(r, static_cast<int>(e), Defect::kNested);
    if (r.bodies[at(r.body[e])].is_inside_out) mark(r, static_cast<int>(e), Defect::kInsideOut);
  }
}

void count_triangles(const TriangleMesh& m, Inspection& r) {
  for (int k = 0; k < kDefects; ++k) {
    const auto defect = static_cast<Defect>(k);
    Found& found = r.found[at(k)];
    if (defect == Defect::kHole) {
      found.count = static_cast<int>(r.rims.size());
      if (!r.rims.empty()) found.place_m = r.rims.front().centre_m, found.size_m = r.rims.front().length_m;
      continue;
    }
    const bool by_body = defect == Defect::kOneSided || defect == Defect::kInsideOut || defect == Defect::kNested;
    for (std::size_t e = 0; e < m.triangles.size(); ++e) {
      if (!has(r, static_cast<int>(e), defect)) continue;
      if (by_body) {
        const Body& body = r.bodies[at(r.body[e])];
        if (body.first_triangle != static_cast<int>(e)) continue;
        const double size_m = (body.high_m - body.low_m).norm();
        if (size_m > found.size_m) found.size_m = size_m, found.place_m = 0.5 * (body.low_m + body.high_m);
      } else if (found.count == 0) {
        const Corners t = corners(m, static_cast<int>(e));
        found.place_m = (t.a + t.b + t.c) / 3.0;
        found.size_m = std::max({(t.b - t.a).norm(), (t.c - t.b).norm(), (t.a - t.c).norm()});
      }
      ++found.count;
    }
  }
}

/// A point that several patches use is copied for all but the first of them.
void take_apart(TriangleMesh& m, const std::vector<int>& patch) {
  std::vector<int> owner(m.points_m.size(), -1);
  std::map<std::pair<int, int>, int> copies;  // patch, point
  for (std::size_t e = 0; e < m.triangles.size(); ++e)
    for (int& i : m.triangles[e]) {
      if (owner[at(i)] < 0) owner[at(i)] = patch[e];
      if (owner[at(i)] == patch[e]) continue;
      const auto [copy, is_new] = copies.try_emplace({patch[e], i}, static_cast<int>(m.points_m.size()));
      if (is_new) m.points_m.push_back(Vec3(m.points_m[at(i)]));
      i = copy->second;
    }
}

}  // namespace

std::string_view defect_name(Defect defect) {
  constexpr std::array<std::string_view, kDefects> kNames{"hole",      "branch", "turned",   "one sided", "inside out",
                                                          "duplicate", "sliver", "crossing", "nested"};
  return kNames[static_cast<std::size_t>(defect)];
}

Inspection inspect(const Nearest& surface, const InspectOptions& options) {
  const TriangleMesh& m = surface.mesh();
  Inspection r;
  r.marks.assign(m.triangles.size(), 0);
  Eigen::AlignedBox3d box;
  for (const Vec3& p : m.points_m) box.extend(p);
  const double diagonal_m = m.points_m.empty() ? 0.0 : box.diagonal().norm(), round_off_m = kRoundOff * diagonal_m;
  const std::vector<char> is_double = doubles(m);
  for (std::size_t e = 0; e < m.triangles.size(); ++e) {
    if (is_double[e] != 0)
      mark(r, static_cast<int>(e), Defect::kDuplicate);
    else if (height_m(corners(m, static_cast<int>(e))) < round_off_m)
      mark(r, static_cast<int>(e), Defect::kSliver);
  }
  const Bodies bodies(m, is_double, r);
  if (options.crossings) {
    const std::vector<char> crosses = crossings(surface, is_double, round_off_m);
    for (std::size_t e = 0; e < crosses.size(); ++e)
      if (crosses[e] != 0) mark(r, static_cast<int>(e), Defect::kCrossing);
  }
  judge_bodies(surface, round_off_m, r);
  if (options.narrow) {
    const double widest_m = options.widest_m > 0.0 ? options.widest_m : 0.1 * diagonal_m;
    std::vector<char> turned(m.triangles.size());
    for (std::size_t e = 0; e < turned.size(); ++e) turned[e] = has(r, static_cast<int>(e), Defect::kTurned) ? 1 : 0;
    r.thinnest_wall = narrowest(surface, false, is_double, turned, widest_m, round_off_m);
    r.narrowest_slot = narrowest(surface, true, is_double, turned, widest_m, round_off_m);
  }
  count_triangles(m, r);
  return r;
}

TriangleMesh mended(const TriangleMesh& surface, const Inspection& inspection) {
  ensure(inspection.marks.size() == surface.triangles.size(), "an inspection is of the surface it mends");
  TriangleMesh out{surface.points_m, {}};
  out.triangles.reserve(surface.triangles.size());
  std::vector<int> patch;  // of the triangles that are kept
  for (std::size_t e = 0; e < surface.triangles.size(); ++e) {
    if (has(inspection, static_cast<int>(e), Defect::kDuplicate)) continue;
    out.triangles.push_back(surface.triangles[e]);
    if (has(inspection, static_cast<int>(e), Defect::kTurned))
      std::swap(out.triangles.back()[1], out.triangles.back()[2]);
    patch.push_back(inspection.patch[e]);
  }
  if (inspection.of(Defect::kBranch).count > 0) take_apart(out, patch);
  return out;
}

}  // namespace pellicle::mesh
