// What does a closed loop of points enclose? Is it a sound outline, how wide is it, and where must an edge end?
#include "mesh/loop.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <numeric>
#include <queue>

namespace pellicle::mesh {
namespace {

constexpr double kDegree = std::numbers::pi / 180.0;
constexpr double kSharpest = 20.0 * kDegree;  // the first triangle in such a corner has a side of a third of an edge
constexpr double kTurn = 20.0 * kDegree;      // the rim turning by more within half an edge either way is a corner
constexpr double kNeck = 0.25;                // of an edge: two sides nearer than that leave no room for triangles
constexpr double kLeastApart = 0.5;           // of an edge: of two corners nearer than that, one is kept
constexpr double kRoundOff = 1e-12;           // of the area of the box: what summing some thousand terms may leave

double cross(const Vec2& a, const Vec2& b) { return a.x() * b.y() - a.y() * b.x(); }

double doubled_area(const std::vector<Vec2>& p) {
  double sum = 0.0;
  for (std::size_t i = 0; i < p.size(); ++i) sum += cross(p[i] - p[0], p[(i + 1) % p.size()] - p[0]);
  return sum;
}

double distance(const Vec2& p, const Vec2& a, const Vec2& b) {
  const Vec2 along = b - a;
  const double length_sq = along.squaredNorm();
  const double t = length_sq > 0.0 ? std::clamp((p - a).dot(along) / length_sq, 0.0, 1.0) : 0.0;
  return (p - a - t * along).norm();
}

/// Whether the closed segments ab and cd share a point.
bool segments_meet(const Vec2& a, const Vec2& b, const Vec2& c, const Vec2& d) {
  if (std::max(a.x(), b.x()) < std::min(c.x(), d.x()) || std::max(c.x(), d.x()) < std::min(a.x(), b.x()) ||
      std::max(a.y(), b.y()) < std::min(c.y(), d.y()) || std::max(c.y(), d.y()) < std::min(a.y(), b.y()))
    return false;
  const double abc = cross(b - a, c - a), abd = cross(b - a, d - a);
  const double cda = cross(d - c, a - c), cdb = cross(d - c, b - c);
  const auto within = [](const Vec2& p, const Vec2& q, const Vec2& r) {  // r on the line pq: between them?
    return std::min(p.x(), q.x()) <= r.x() && r.x() <= std::max(p.x(), q.x()) && std::min(p.y(), q.y()) <= r.y() &&
           r.y() <= std::max(p.y(), q.y());
  };
  if (((abc > 0 && abd < 0) || (abc < 0 && abd > 0)) && ((cda > 0 && cdb < 0) || (cda < 0 && cdb > 0))) return true;
  return (abc == 0 && within(a, b, c)) || (abd == 0 && within(a, b, d)) || (cda == 0 && within(c, d, a)) ||
         (cdb == 0 && within(c, d, b));
}

std::string place(const Vec2& p_m) { return fmt::format("({:.6g}, {:.6g}) mm", p_m.x() * 1e3, p_m.y() * 1e3); }

/// The angle by which the way turns at point i, to the left positive.
double turn(const std::vector<Vec2>& p, std::size_t i) {
  const std::size_t n = p.size();
  const Vec2 in = p[i] - p[(i + n - 1) % n], out = p[(i + 1) % n] - p[i];
  return std::atan2(cross(in, out), in.dot(out));
}

/// A square of the plane and how deep the deepest place in it may lie.
struct Cell {
  Vec2 middle;
  double half, depth;
  double may_be() const { return depth + half * std::numbers::sqrt2; }
};

/// Squares are halved where they may hold a deeper place than the deepest known, the most promising first (branch and
/// bound): the depth changes by no more than the distance walked.
double inscribed_radius_m(const Loop& loop) {
  constexpr double kClose = 1e-3;
  Vec2 low = loop.points_m[0], high = low;
  for (const Vec2& p : loop.points_m) low = low.cwiseMin(p), high = high.cwiseMax(p);
  const auto worse = [](const Cell& a, const Cell& b) { return a.may_be() < b.may_be(); };
  std::priority_queue<Cell, std::vector<Cell>, decltype(worse)> open(worse);
  double best = 0.0;
  const auto look = [&](const Vec2& middle, double half) {
    const Cell cell{middle, half, depth_m(loop, middle)};
    best = std::max(best, cell.depth);
    if (cell.may_be() > best * (1.0 + kClose)) open.push(cell);
  };
  look(0.5 * (low + high), 0.5 * (high - low).maxCoeff());
  // A loop of no width would be halved for ever; the count is far beyond what sound loops take.
  constexpr int kMostCells = 20000;
  for (int k = 0; k < kMostCells && !open.empty() && open.top().may_be() > best * (1.0 + kClose); ++k) {
    const Cell cell = open.top();
    open.pop();
    const double q = 0.5 * cell.half;
    for (const Vec2& step : {Vec2(-q, -q), Vec2(q, -q), Vec2(-q, q), Vec2(q, q)}) look(cell.middle + step, q);
  }
  return best;
}

}  // namespace

std::optional<LoopFault> fault_of_loop(const std::vector<Vec2>& p) {
  const std::size_t n = p.size();
  if (n < 3 || n > kMostLoopPoints) {
    return LoopFault{fmt::format("a loop of {} points", n), fmt::format("3 to {} points", kMostLoopPoints),
                     "The last point is joined to the first"};
  }
  Vec2 low = p[0], high = p[0];
  for (const Vec2& q : p) low = low.cwiseMin(q), high = high.cwiseMax(q);
  const double reach_sq = (high - low).squaredNorm();
  double widest = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    const Vec2& next = p[(i + 1) % n];
    if (p[i] == next) return LoopFault{"twice the same point " + place(p[i]), "points that differ", ""};
    widest = std::max(widest, std::abs(cross(p[i] - p[0], next - p[0])));
  }
  if (!(widest > kRoundOff * reach_sq))
    return LoopFault{"a loop without area", "points that are not all on one line", ""};
  for (std::size_t i = 0; i < n; ++i) {
    const Vec2 &a = p[i], &b = p[(i + 1) % n], &c = p[(i + 2) % n];
    if (std::abs(cross(b - a, c - b)) <= kRoundOff * reach_sq && (b - a).dot(c - b) < 0.0)
      return LoopFault{"a loop that runs back along itself at " + place(b), "a loop that does not touch itself", ""};
    for (std::size_t j = i + 2; j < n; ++j) {
      if (i == 0 && j == n - 1) continue;  // neighbours across the end
      if (segments_meet(a, b, p[j], p[(j + 1) % n]))
        return LoopFault{
            fmt::format("a loop that crosses itself: the side from {} meets the side from {}", place(a), place(p[j])),
            "a loop that does not cross or touch itself", "Give the points in order around it"};
    }
  }
  return std::nullopt;
}

std::optional<LoopFault> fault_of_corners(const std::vector<Vec2>& p) {
  for (std::size_t i = 0; i < p.size(); ++i) {
    const double angle = std::numbers::pi - std::abs(turn(p, i));
    if (angle < kSharpest) {
      return LoopFault{fmt::format("a spike of {:.2g}° at {}", angle / kDegree, place(p[i])),
                       fmt::format("corners of {:.0f}° or more, inwards and outwards", kSharpest / kDegree),
                       "Blunt the corner: no clamp frame has such a tip"};
    }
  }
  return std::nullopt;
}

std::optional<LoopFault> fault_of_rim(const std::vector<Vec2>& rim, double unit_m, const Vec2& centre_m) {
  const std::size_t n = rim.size();
  for (std::size_t i = 0; i < n; ++i) {
    const Vec2 &p = rim[i], &next = rim[(i + 1) % n];
    const double edge = std::max((next - p).norm(), (p - rim[(i + n - 1) % n]).norm());
    // Neighbours are as near as their corner is sharp: the sides that begin or end at i or next to it are left out.
    for (std::size_t k = 2; k + 3 <= n; ++k) {
      const Vec2 &a = rim[(i + k) % n], &b = rim[(i + k + 1) % n];
      const double apart = distance(p, a, b);
      const bool meet = segments_meet(p, next, a, b);
      if (apart >= kNeck * edge && !meet) continue;
      return LoopFault{
          fmt::format("a neck, slit or spike {:.3g} mm wide at {}, where edges are {:.3g} mm long",
                      meet ? 0.0 : apart * unit_m * 1e3, place(p * unit_m + centre_m), edge * unit_m * 1e3),
          fmt::format("a width of at least {:.2g} of an edge", kNeck), "Take a smaller element, or a plainer outline"};
    }
  }
  return std::nullopt;
}

Loop make_loop(std::vector<Vec2> points_m) {
  if (doubled_area(points_m) < 0.0) std::reverse(points_m.begin(), points_m.end());
  Loop loop{std::move(points_m), 0.0};
  loop.inscribed_m = inscribed_radius_m(loop);
  return loop;
}

bool contains(const Loop& loop, const Vec2& q) {
  const std::vector<Vec2>& p = loop.points_m;
  bool inside = false;  // a ray towards +x crosses the sides an odd number of times
  for (std::size_t i = 0, j = p.size() - 1; i < p.size(); j = i++) {
    if ((p[i].y() > q.y()) == (p[j].y() > q.y())) continue;
    const double side = cross(p[j] - p[i], q - p[i]);
    if ((p[j].y() > p[i].y()) == (side > 0.0)) inside = !inside;
  }
  return inside;
}

double area_m2(const Loop& loop) { return 0.5 * doubled_area(loop.points_m); }

double depth_m(const Loop& loop, const Vec2& place_m) {
  const std::vector<Vec2>& p = loop.points_m;
  double nearest = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < p.size(); ++i)
    nearest = std::min(nearest, distance(place_m, p[i], p[(i + 1) % p.size()]));
  return contains(loop, place_m) ? nearest : -nearest;
}

std::vector<std::vector<Vec2>> pieces(const Loop& loop, const std::function<double(const Vec2&)>& edge_m) {
  const std::vector<Vec2>& p = loop.points_m;
  const std::size_t n = p.size();
  std::vector<double> turns(n), along(n + 1, 0.0);  // along: way from point 0
  for (std::size_t i = 0; i < n; ++i) {
    turns[i] = turn(p, i);
    along[i + 1] = along[i] + (p[(i + 1) % n] - p[i]).norm();
  }
  const auto apart = [&](std::size_t i, std::size_t j) {
    const double way = std::abs(along[i] - along[j]);
    return std::min(way, along[n] - way);
  };
  // How much the rim turns within half an edge of each point, near points counting more: the middle of a small arc
  // stands out.
  std::vector<double> bend(n), edge(n);
  for (std::size_t i = 0; i < n; ++i) {
    edge[i] = edge_m(p[i]);
    const double reach = 0.5 * edge[i];
    bend[i] = turns[i];
    for (const std::size_t step : {std::size_t{1}, n - 1}) {
      double way = 0.0;
      std::size_t from = i;
      for (std::size_t k = 1; k < n; ++k) {
        const std::size_t to = (from + step) % n;
        way += (p[to] - p[from]).norm();
        if (way >= reach) break;
        bend[i] += turns[to] * (1.0 - way / reach);
        from = to;
      }
    }
  }
  std::vector<std::size_t> sharpest(n);
  std::iota(sharpest.begin(), sharpest.end(), std::size_t{0});
  std::stable_sort(sharpest.begin(), sharpest.end(),
                   [&](std::size_t a, std::size_t b) { return std::abs(bend[a]) > std::abs(bend[b]); });
  std::vector<std::size_t> corners;
  for (const std::size_t i : sharpest) {
    if (std::abs(bend[i]) < kTurn) break;
    const auto too_near = [&](std::size_t j) { return apart(i, j) < kLeastApart * edge[i]; };
    if (std::none_of(corners.begin(), corners.end(), too_near)) corners.push_back(i);
  }
  if (corners.empty()) corners.push_back(0);
  std::sort(corners.begin(), corners.end());

  std::vector<std::vector<Vec2>> cut;
  for (std::size_t c = 0; c < corners.size(); ++c) {
    const std::size_t first = corners[c], last = corners[(c + 1) % corners.size()];
    std::vector<Vec2> piece{p[first]};
    std::size_t i = first;
    do {
      i = (i + 1) % n;
      piece.push_back(p[i]);
    } while (i != last);
    cut.push_back(std::move(piece));
  }
  return cut;
}

}  // namespace pellicle::mesh
