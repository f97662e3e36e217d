// How is a surface cut into boxes so that a query looks at few triangles? Four-way tree, split by the surface area
// heuristic (Goldsmith & Salmon, IEEE CG&A 7 (1987) 14; binned: Wald, IEEE Symp. Interactive Ray Tracing 2007; from
// memory).
#include "mesh/check.h"
#include "mesh/nearest.h"
#include "mesh/triangle_shape.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace pellicle::mesh {
namespace {

constexpr int kLeafSize = 4;
constexpr int kBins = 16;
constexpr int kMedianDepth =
    30;  // below, parts are halved by count: the depth is bounded, see kStackSize in nearest.cpp
// Boxes are floats of half_size 1. They are enlarged by more than float rounding of box and query point together, so
// that a query in floats never overlooks what a query in doubles would find; 4.8e-7 of the half size is 0.02 um on
// 100 mm.
constexpr float kSlack = 4.8e-7F;

using Float3 = Eigen::Vector3f;

struct Bounds {
  Float3 low = Float3::Constant(std::numeric_limits<float>::infinity());
  Float3 high = -low;

  void add(const Float3& other_low, const Float3& other_high) {
    low = low.cwiseMin(other_low);
    high = high.cwiseMax(other_high);
  }
  float area() const {
    const Float3 d = (high - low).cwiseMax(0.0F);
    return d.x() * d.y() + d.y() * d.z() + d.z() * d.x();
  }
};

struct Item {
  Float3 low, high;
  int triangle;

  float middle(int axis) const { return low[axis] + high[axis]; }  // doubled
};

struct Bin {
  Bounds bounds;
  int count = 0;
};

}  // namespace

struct Nearest::Part {
  Item* begin;
  Item* end;
  Bounds bounds;

  Part(Item* first, Item* last) : begin(first), end(last) {
    for (const Item* item = begin; item != end; ++item) bounds.add(item->low, item->high);
  }
  int count() const { return static_cast<int>(end - begin); }

  Item* halve() const {
    Item* middle = begin + (end - begin) / 2;
    int axis = 0;
    (bounds.high - bounds.low).maxCoeff(&axis);
    std::nth_element(begin, middle, end, [axis](const Item& a, const Item& b) {
      return a.middle(axis) != b.middle(axis) ? a.middle(axis) < b.middle(axis) : a.triangle < b.triangle;
    });
    return middle;
  }

  /// Cuts between the bins where (area x count) of both sides together is least.
  Item* cut() const {
    Float3 first = Float3::Constant(std::numeric_limits<float>::infinity());
    Float3 last = -first;
    for (const Item* item = begin; item != end; ++item) {
      first = first.cwiseMin(item->low + item->high);
      last = last.cwiseMax(item->low + item->high);
    }
    int axis = 0;
    const float width = (last - first).maxCoeff(&axis);
    const float scale = static_cast<float>(kBins) * (1.0F - 1e-6F) / width;
    if (!(width > 0.0F) || !std::isfinite(scale)) return halve();
    const float origin = first[axis];
    const auto bin_of = [axis, scale, origin](const Item& item) {
      return std::min(static_cast<int>((item.middle(axis) - origin) * scale), kBins - 1);
    };
    std::array<Bin, kBins> bins;
    for (const Item* item = begin; item != end; ++item) {
      Bin& bin = bins[static_cast<std::size_t>(bin_of(*item))];
      bin.bounds.add(item->low, item->high);
      ++bin.count;
    }
    const int best = best_cut(bins);
    return std::partition(begin, end, [&bin_of, best](const Item& item) { return bin_of(item) < best; });
  }

  static int best_cut(const std::array<Bin, kBins>& bins) {
    std::array<float, kBins> right_cost{};
    Bin side;
    for (std::size_t i = kBins - 1; i > 0; --i) {
      side.bounds.add(bins[i].bounds.low, bins[i].bounds.high);
      side.count += bins[i].count;
      right_cost[i] = side.bounds.area() * static_cast<float>(side.count);
    }
    side = {};
    std::size_t best = 1;
    float best_cost = std::numeric_limits<float>::infinity();
    for (std::size_t i = 1; i < kBins; ++i) {  // the outermost bins are never empty, so both sides have something
      side.bounds.add(bins[i - 1].bounds.low, bins[i - 1].bounds.high);
      side.count += bins[i - 1].count;
      const float cost = side.bounds.area() * static_cast<float>(side.count) + right_cost[i];
      if (cost < best_cost) {
        best_cost = cost;
        best = i;
      }
    }
    return static_cast<int>(best);
  }
};

namespace {

/// Cuts the largest part until there are four or all are leaves.
template <class Part>
std::vector<Part> four_of(const Part& whole, int depth) {
  std::vector<Part> parts{whole};
  while (parts.size() < 4) {
    const auto largest = std::max_element(parts.begin(), parts.end(), [](const Part& a, const Part& b) {
      const auto rank = [](const Part& part) { return part.count() > kLeafSize ? part.bounds.area() : -1.0F; };
      return rank(a) < rank(b);
    });
    if (largest->count() <= kLeafSize) break;
    Item* middle = depth < kMedianDepth ? largest->cut() : largest->halve();
    const Part rest(middle, largest->end);
    *largest = Part(largest->begin, middle);
    parts.push_back(rest);
  }
  return parts;
}

}  // namespace

void Nearest::build_tree() {
  if (mesh_.triangles.empty()) return;
  Vec3 low_m = Vec3::Constant(std::numeric_limits<double>::infinity());
  Vec3 high_m = -low_m;
  for (const Triangle& t : mesh_.triangles) {
    for (const int i : t) {
      low_m = low_m.cwiseMin(mesh_.points_m[static_cast<std::size_t>(i)]);
      high_m = high_m.cwiseMax(mesh_.points_m[static_cast<std::size_t>(i)]);
    }
  }
  centre_m_ = 0.5 * (low_m + high_m);
  const double half_m = 0.5 * (high_m - low_m).maxCoeff();
  if (half_m > 0.0) half_size_m_ = half_m;

  std::vector<Item> items(mesh_.triangles.size());
  for (std::size_t t = 0; t < items.size(); ++t) {
    const auto [a, b, c] = corners(mesh_, static_cast<int>(t));
    const Vec3 low = (a.cwiseMin(b).cwiseMin(c) - centre_m_) / half_size_m_;
    const Vec3 high = (a.cwiseMax(b).cwiseMax(c) - centre_m_) / half_size_m_;
    items[t] = {low.cast<float>().array() - kSlack, high.cast<float>().array() + kSlack, static_cast<int>(t)};
  }
  leaves_.reserve(items.size());
  places_.resize(items.size());
  nodes_.reserve(items.size() / 4);
  nodes_.emplace_back();

  struct Task {
    Part part;
    std::size_t node;
    int depth;
  };
  std::vector<Task> tasks{{Part(items.data(), items.data() + items.size()), 0, 0}};
  while (!tasks.empty()) {
    const Task task = tasks.back();
    tasks.pop_back();
    const std::vector<Part> parts = four_of(task.part, task.depth);
    add_children(task.node, parts);
    for (std::size_t k = 0; k < parts.size(); ++k) {
      const Node& node = nodes_[task.node];
      if (node.count[k] == 0) tasks.push_back({parts[k], static_cast<std::size_t>(node.first[k]), task.depth + 1});
    }
  }
}

void Nearest::add_children(std::size_t number, const std::vector<Part>& parts) {
  Node node{};
  for (std::size_t k = 0; k < 4; ++k) {
    const Bounds bounds = k < parts.size() ? parts[k].bounds : Bounds();
    for (std::size_t axis = 0; axis < 3; ++axis) {
      node.low[axis][k] = bounds.low[static_cast<int>(axis)];
      node.high[axis][k] = bounds.high[static_cast<int>(axis)];
    }
    if (k >= parts.size()) continue;
    if (parts[k].count() > kLeafSize) {
      node.first[k] = static_cast<int>(nodes_.size());
      nodes_.emplace_back();
      continue;
    }
    node.first[k] = static_cast<int>(leaves_.size());
    node.count[k] = parts[k].count();
    for (const Item* item = parts[k].begin; item != parts[k].end; ++item) {
      const auto [a, b, c] = corners(mesh_, item->triangle);
      const auto t = static_cast<std::size_t>(item->triangle);
      places_[t] = static_cast<int>(leaves_.size());
      leaves_.push_back({a, b, c, item->triangle, shapes_[t]});
    }
  }
  nodes_[number] = node;
}

void Nearest::in_box(const Vec3& low_m, const Vec3& high_m, std::vector<int>& out) const {
  if (nodes_.empty()) return;
  const auto in_float = [this](const Vec3& p) -> Float3 {
    return ((p - centre_m_) / half_size_m_).cwiseMax(-1e15).cwiseMin(1e15).cast<float>();
  };
  const Float3 low = in_float(low_m), high = in_float(high_m);  // the slack of the boxes covers their rounding
  std::vector<int> waiting{0};
  while (!waiting.empty()) {
    const Node& node = nodes_[static_cast<std::size_t>(waiting.back())];
    waiting.pop_back();
    for (std::size_t k = 0; k < 4; ++k) {
      bool meets = true;
      for (std::size_t axis = 0; axis < 3; ++axis) {
        const auto i = static_cast<int>(axis);
        meets = meets && node.low[axis][k] <= high[i] && node.high[axis][k] >= low[i];
      }
      if (!meets) continue;
      if (node.count[k] == 0) {
        waiting.push_back(node.first[k]);
        continue;
      }
      const auto first = static_cast<std::size_t>(node.first[k]);
      for (std::size_t i = first; i < first + static_cast<std::size_t>(node.count[k]); ++i) {
        const LeafTriangle& t = leaves_[i];
        const Vec3 from = t.a_m.cwiseMin(t.b_m).cwiseMin(t.c_m), to = t.a_m.cwiseMax(t.b_m).cwiseMax(t.c_m);
        if ((from.array() <= high_m.array()).all() && (to.array() >= low_m.array()).all()) out.push_back(t.number);
      }
    }
  }
}

}  // namespace pellicle::mesh
