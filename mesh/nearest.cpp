// How far is a point from a surface, on which side, and what does a straight line hit first?
#include "mesh/nearest.h"

#include "mesh/check.h"
#include "mesh/triangle_shape.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace pellicle::mesh {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr double kRounding = 4.0 * std::numeric_limits<double>::epsilon();  // of a square and its root
// Four-way tree, at most 30 levels cut by area and 29 halved by count, three children waiting on each: 178.
constexpr std::size_t kStackSize = 192;
constexpr double kFloatRounding = 4e-6;  // of a squared distance to a box in floats, a few times over
constexpr double kFarthest = 1e15;       // half sizes: farther points are moved here, which only lowers the bound
constexpr double kLargestBound = 3e38;   // below the infinity that stands for an empty child
constexpr double kNoDirection = 1e-290;  // stands for 0 in a direction, so that 0 * (1 / 0) does not occur

struct Candidate {
  Vec3 point_m;
  double distance_sq_m2;
  Feature feature;
};

Candidate at(const Vec3& p, const Vec3& point, Feature feature) { return {point, (p - point).squaredNorm(), feature}; }

bool before(const Vec3& a, const Vec3& b) {
  if (a.x() != b.x()) return a.x() < b.x();
  if (a.y() != b.y()) return a.y() < b.y();
  return a.z() < b.z();
}

/// Closest point of a segment, its ends in an order of their own: both triangles at the edge get the same bits.
Candidate on_edge(const Vec3& p, const Vec3& from, const Vec3& to, int edge) {
  const bool forward = before(from, to);
  const Vec3& low = forward ? from : to;
  const Vec3& high = forward ? to : from;
  const Vec3 along = high - low;
  const double part = (p - low).dot(along);
  const double whole = along.squaredNorm();
  const auto corner = [edge](bool first) { return static_cast<Feature>(4 + (first ? edge : (edge + 1) % 3)); };
  if (!(part > 0.0)) return at(p, low, corner(forward));
  if (part >= whole) return at(p, high, corner(!forward));
  return at(p, low + (part / whole) * along, static_cast<Feature>(1 + edge));
}

/// The quick way, for triangles whose height is not tiny against their length. Dot products first, from which the
/// region of the point (corner, edge or face) follows without a division.
inline Candidate on_full(const Vec3& p, const Vec3& a, const Vec3& b, const Vec3& c) {
  const Vec3 ab = b - a;
  const Vec3 ac = c - a;
  const Vec3 ap = p - a;
  const double d1 = ab.dot(ap);
  const double d2 = ac.dot(ap);
  if (d1 <= 0.0 && d2 <= 0.0) return at(p, a, Feature::kCorner0);
  const Vec3 bp = p - b;
  const double d3 = ab.dot(bp);
  const double d4 = ac.dot(bp);
  if (d3 >= 0.0 && d4 <= d3) return at(p, b, Feature::kCorner1);
  const double vc = d1 * d4 - d3 * d2;
  if (vc <= 0.0 && d1 >= 0.0 && d3 <= 0.0) return on_edge(p, a, b, 0);
  const Vec3 cp = p - c;
  const double d5 = ab.dot(cp);
  const double d6 = ac.dot(cp);
  if (d6 >= 0.0 && d5 <= d6) return at(p, c, Feature::kCorner2);
  const double vb = d5 * d2 - d1 * d6;
  if (vb <= 0.0 && d2 >= 0.0 && d6 <= 0.0) return on_edge(p, c, a, 2);
  const double va = d3 * d6 - d5 * d4;
  if (va <= 0.0 && d4 >= d3 && d5 >= d6) return on_edge(p, b, c, 1);
  const double per_area = 1.0 / (va + vb + vc);
  return at(p, a + (vb * per_area) * ab + (vc * per_area) * ac, Feature::kFace);
}

/// The sure way: the nearest of three edges, or the foot on the plane if it lies inside all three. The foot is asked,
/// not p: seen from afar, rounding would move p by more than the needle is wide.
Candidate on_needle(const Vec3& p, const Vec3& a, const Vec3& b, const Vec3& c, bool has_area) {
  if (has_area) {
    const int longest = longest_edge({a, b, c});
    const Vec3 axis = longest == 0 ? b - a : longest == 1 ? c - b : a - c;
    Vec3 n = (b - a).cross(c - a);
    n -= (n.dot(axis) / axis.squaredNorm()) * axis;  // rounding may tip it along the needle, which counts most
    const Vec3 foot = p - (n.dot(p - a) / n.squaredNorm()) * n;
    const auto is_left = [&](const Vec3& from, const Vec3& to) { return n.dot((to - from).cross(foot - from)) > 0.0; };
    if (is_left(a, b) && is_left(b, c) && is_left(c, a)) return at(p, foot, Feature::kFace);
  }
  Candidate best = on_edge(p, a, b, 0);
  for (const Candidate& other : {on_edge(p, b, c, 1), on_edge(p, c, a, 2)}) {
    if (other.distance_sq_m2 < best.distance_sq_m2) best = other;
  }
  return best;
}

Candidate closest_on_shape(TriangleShape shape, const Vec3& p, const Vec3& a, const Vec3& b, const Vec3& c) {
  return shape == TriangleShape::kFull ? on_full(p, a, b, c) : on_needle(p, a, b, c, shape == TriangleShape::kNeedle);
}

Closest closest_of(int triangle, const Candidate& found) {
  return {triangle, found.feature, found.point_m, std::sqrt(found.distance_sq_m2)};
}

/// x0 y1 - x1 y0, with the right sign: where rounding could decide, the rounding of both products is added back
/// (Dekker, Numer. Math. 18 (1971) 224, with fma; from memory).
double cross_sign_exact(double x0, double y0, double x1, double y1) {
  const double p = x0 * y1;
  const double q = x1 * y0;
  const double difference = p - q;
  if (std::abs(difference) > kRounding * (std::abs(p) + std::abs(q))) return difference;
  return difference + (std::fma(x0, y1, -p) - std::fma(x1, y0, -q));
}

/// A ray turned and sheared so that it runs along z from the origin, where a triangle is hit if the origin lies inside
/// its shadow. Neighbours see the same numbers for their shared edge, so nothing slips between them (Woop, Benthin &
/// Wald, J. Computer Graphics Techniques 2 (2013) 65; from memory).
struct ShearedRay {
  Vec3 p_m;
  int x, y, z;
  double shear_x, shear_y, per_z;

  ShearedRay(const Vec3& from_m, const Vec3& direction) : p_m(from_m) {
    direction.cwiseAbs().maxCoeff(&z);
    x = (z + 1) % 3;
    y = (z + 2) % 3;
    per_z = 1.0 / direction[z];
    shear_x = direction[x] * per_z;
    shear_y = direction[y] * per_z;
  }

  Vec3 seen(const Vec3& corner_m) const {
    const Vec3 d = corner_m - p_m;
    return {d[x] - shear_x * d[z], d[y] - shear_y * d[z], d[z] * per_z};
  }

  /// Distance along the ray; infinity if the triangle is missed.
  double hit(const Vec3& a_m, const Vec3& b_m, const Vec3& c_m) const {
    const Vec3 a = seen(a_m);
    const Vec3 b = seen(b_m);
    const Vec3 c = seen(c_m);
    const double u = cross_sign_exact(c.x(), c.y(), b.x(), b.y());
    const double v = cross_sign_exact(a.x(), a.y(), c.x(), c.y());
    const double w = cross_sign_exact(b.x(), b.y(), a.x(), a.y());
    if ((u < 0.0 || v < 0.0 || w < 0.0) && (u > 0.0 || v > 0.0 || w > 0.0)) return kInfinity;
    const double sum = u + v + w;
    const double t_m = (u * a.z() + v * b.z() + w * c.z()) / sum;
    if (t_m >= 0.0) return t_m;
    return kInfinity;  // sum = 0, seen edge-on: NaN, so a miss
  }

  /// The same for a triangle without area, whose shadow is a line: where the ray passes its longest edge.
  double hit_flat(const std::array<Vec3, 3>& corners_m) const {
    if (hit(corners_m[0], corners_m[1], corners_m[2]) == kInfinity) return kInfinity;
    const auto k = static_cast<std::size_t>(longest_edge(corners_m));
    const Vec3 from = seen(corners_m[k]);
    const Vec3 along = seen(corners_m[(k + 1) % 3]) - from;
    const double length_sq = along.head<2>().squaredNorm();
    const double part = length_sq > 0.0 ? std::clamp(-from.head<2>().dot(along.head<2>()) / length_sq, 0.0, 1.0) : 0.0;
    const double t_m = from.z() + part * along.z();
    if (t_m >= 0.0) return t_m;
    return kInfinity;
  }
};

/// Asks for memory that is read soon: on a large mesh most of the time goes into waiting for it.
void fetch(const void* from, std::size_t bytes) {
  constexpr std::size_t kLine = 64;
  for (std::size_t at = 0; at < bytes; at += kLine) __builtin_prefetch(static_cast<const char*>(from) + at);
}

/// What waits on the stack, farthest first.
template <class Key>
struct Waiting {
  int first, count;
  Key key;  ///< distance to the box

  static void push(std::array<Waiting, kStackSize>& stack, std::size_t& size, std::size_t base, const Waiting& item) {
    std::size_t place = size++;
    for (; place > base && stack[place - 1].key < item.key; --place) stack[place] = stack[place - 1];
    stack[place] = item;
  }
};

}  // namespace

Closest closest_on_triangle(const Vec3& p_m, const Vec3& a_m, const Vec3& b_m, const Vec3& c_m) {
  return closest_on_triangle(p_m, a_m, b_m, c_m, shape_of(a_m, b_m, c_m));
}

Closest closest_on_triangle(const Vec3& p_m, const Vec3& a_m, const Vec3& b_m, const Vec3& c_m, TriangleShape shape) {
  return closest_of(-1, closest_on_shape(shape, p_m, a_m, b_m, c_m));
}

Closest Nearest::closest_on(int triangle, const Vec3& p_m) const {
  const LeafTriangle& t = leaves_[static_cast<std::size_t>(places_[static_cast<std::size_t>(triangle)])];
  return closest_of(triangle, closest_on_shape(t.shape, p_m, t.a_m, t.b_m, t.c_m));
}

Nearest::Nearest(TriangleMesh mesh) : mesh_(std::move(mesh)) {
  const int points = static_cast<int>(mesh_.points_m.size());
  for (const Triangle& t : mesh_.triangles) {
    for (const int i : t) ensure(0 <= i && i < points, "every triangle's corners are points of the mesh");
  }
  find_neighbours();
  set_normals();
  build_tree();
}

/// Shows the leaf triangles whose boxes are within the limit, roughly nearest first. The limit may shrink meanwhile.
template <class Visit>
void Nearest::visit_near(const Vec3& p_m, const double& limit_sq_m2, const Visit& visit) const {
  if (nodes_.empty()) return;
  using Four = Eigen::Array4f;
  using Box = Eigen::Map<const Four, Eigen::Aligned16>;
  const Vec3 q = ((p_m - centre_m_) / half_size_m_).cwiseMax(-kFarthest).cwiseMin(kFarthest);
  const std::array<Four, 3> point{Four::Constant(static_cast<float>(q.x())), Four::Constant(static_cast<float>(q.y())),
                                  Four::Constant(static_cast<float>(q.z()))};
  const double scale = (1.0 + kFloatRounding) / (half_size_m_ * half_size_m_);
  const auto bound = [&] { return static_cast<float>(std::min(limit_sq_m2 * scale, kLargestBound)); };

  std::array<Waiting<float>, kStackSize> stack;
  std::size_t size = 0;
  stack[size++] = {0, 0, 0.0F};
  float limit = bound();
  while (size > 0) {
    const Waiting<float> here = stack[--size];
    if (here.key > limit) continue;
    if (here.count > 0) {
      const auto first = static_cast<std::size_t>(here.first);
      for (std::size_t i = first; i < first + static_cast<std::size_t>(here.count); ++i) visit(leaves_[i]);
      limit = bound();
      continue;
    }
    const Node& node = nodes_[static_cast<std::size_t>(here.first)];
    alignas(16) std::array<float, 4> distance_sq;
    Four sum = Four::Zero();
    for (std::size_t axis = 0; axis < 3; ++axis) {
      const Four outside =
          (Box(node.low[axis].data()) - point[axis]).max(point[axis] - Box(node.high[axis].data())).max(0.0F);
      sum += outside * outside;
    }
    Eigen::Map<Four, Eigen::Aligned16>(distance_sq.data()) = sum;
    const std::size_t base = size;
    for (std::size_t k = 0; k < 4; ++k) {
      if (distance_sq[k] <= limit) {
        if (node.count[k] > 0)
          fetch(leaves_.data() + node.first[k], static_cast<std::size_t>(node.count[k]) * sizeof(LeafTriangle));
        else
          fetch(nodes_.data() + node.first[k], sizeof(Node));
        Waiting<float>::push(stack, size, base, {node.first[k], node.count[k], distance_sq[k]});
      }
    }
  }
}

Closest Nearest::closest(const Vec3& p_m, double limit_m) const {
  Closest best;
  if (!(limit_m >= 0.0)) return best;
  double limit_sq = limit_m * limit_m * (1.0 + kRounding);
  visit_near(p_m, limit_sq, [&](const LeafTriangle& t) {
    if (t.shape == TriangleShape::kFlat) return;
    const Candidate found = closest_on_shape(t.shape, p_m, t.a_m, t.b_m, t.c_m);
    if (!(found.distance_sq_m2 <= limit_sq)) return;
    const double distance_m = std::sqrt(found.distance_sq_m2);
    const bool is_better = distance_m < best.distance_m || (distance_m == best.distance_m && t.number < best.triangle);
    if (!is_better || distance_m > limit_m) return;
    best = {t.number, found.feature, found.point_m, distance_m};
    limit_sq = distance_m * distance_m * (1.0 + kRounding);
  });
  return best;
}

double Nearest::signed_distance_m(const Vec3& p_m) const {
  const Closest at = closest(p_m);
  if (at.triangle < 0) return at.distance_m;
  return pseudonormal(at).dot(p_m - at.point_m) < 0.0 ? -at.distance_m : at.distance_m;
}

int Nearest::within(const Vec3& p_m, double radius_m, std::span<Closest> out, double& complete_m) const {
  std::size_t size = 0;
  bool is_full = false;  // something was left out
  complete_m = radius_m;
  double limit_sq = radius_m >= 0.0 ? radius_m * radius_m * (1.0 + kRounding) : -1.0;
  visit_near(p_m, limit_sq, [&](const LeafTriangle& t) {
    if (t.shape == TriangleShape::kFlat) return;
    const Candidate found = closest_on_shape(t.shape, p_m, t.a_m, t.b_m, t.c_m);
    if (!(found.distance_sq_m2 <= limit_sq)) return;
    const Closest item = closest_of(t.number, found);
    if (item.distance_m > radius_m) return;
    const auto is_before = [](const Closest& a, const Closest& b) {
      return a.distance_m != b.distance_m ? a.distance_m < b.distance_m : a.triangle < b.triangle;
    };
    if (size == out.size()) {
      is_full = true;
      if (!out.empty() && is_before(item, out.back())) --size;
    }
    if (size < out.size()) {
      std::size_t place = size++;
      for (; place > 0 && is_before(item, out[place - 1]); --place) out[place] = out[place - 1];
      out[place] = item;
    }
    if (is_full) {
      complete_m = out.empty() ? 0.0 : out.back().distance_m;
      limit_sq = complete_m * complete_m * (1.0 + kRounding);
    }
  });
  return static_cast<int>(size);
}

std::optional<Nearest::Hit> Nearest::ray(const Vec3& p_m, const Vec3& direction, double limit_m) const {
  if (nodes_.empty()) return std::nullopt;
  constexpr double kLonger = 1.0 + 1e-12;
  const ShearedRay sheared(p_m, direction);
  const Vec3 q = (p_m - centre_m_) / half_size_m_;
  Vec3 per_direction;
  for (int i = 0; i < 3; ++i) {
    const double d = direction[i];
    per_direction[i] = 1.0 / (std::abs(d) < kNoDirection ? std::copysign(kNoDirection, d) : d);
  }
  Hit best{-1, limit_m};
  std::array<Waiting<double>, kStackSize> stack;
  std::size_t size = 0;
  stack[size++] = {0, 0, 0.0};
  while (size > 0) {
    const Waiting<double> here = stack[--size];
    if (here.key > best.t_m / half_size_m_ * kLonger) continue;
    if (here.count > 0) {
      const auto first = static_cast<std::size_t>(here.first);
      for (std::size_t i = first; i < first + static_cast<std::size_t>(here.count); ++i) {
        const LeafTriangle& t = leaves_[i];
        const double t_m = t.shape != TriangleShape::kFlat ? sheared.hit(t.a_m, t.b_m, t.c_m)
                                                           : sheared.hit_flat({t.a_m, t.b_m, t.c_m});
        if (t_m == kInfinity) continue;
        if (t_m < best.t_m || (t_m == best.t_m && (best.triangle < 0 || t.number < best.triangle))) {
          best = {t.number, t_m};
        }
      }
      continue;
    }
    const Node& node = nodes_[static_cast<std::size_t>(here.first)];
    const std::size_t base = size;
    for (std::size_t k = 0; k < 4; ++k) {
      double enter = 0.0;
      double leave = best.t_m / half_size_m_;
      for (std::size_t axis = 0; axis < 3; ++axis) {
        const auto i = static_cast<int>(axis);
        const double at_low = (static_cast<double>(node.low[axis][k]) - q[i]) * per_direction[i];
        const double at_high = (static_cast<double>(node.high[axis][k]) - q[i]) * per_direction[i];
        enter = std::max(enter, std::min(at_low, at_high));
        leave = std::min(leave, std::max(at_low, at_high));
      }
      if (node.low[0][k] <= node.high[0][k] && enter <= leave * kLonger) {
        Waiting<double>::push(stack, size, base, {node.first[k], node.count[k], enter});
      }
    }
  }
  if (best.triangle < 0) return std::nullopt;
  return best;
}

}  // namespace pellicle::mesh
