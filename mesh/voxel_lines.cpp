// How much of each cell do straight lines along one axis see inside a surface?
#include "mesh/voxel_lines.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <tuple>

namespace pellicle::mesh {
namespace {

constexpr int kSlabs = 64;  // a fixed share of the work each, whatever the number of threads

std::size_t at(int i) { return static_cast<std::size_t>(i); }

struct Crossing {
  int line;     ///< within the slab
  int entered;  ///< +1 into the surface, -1 out of it
  double t_m;
};

/// Twice the area of (a, b, p), never 0: a point on the line counts as moved by (epsilon, epsilon^2), so that it lies
/// in exactly one of two neighbours. Both see the same bits: the ends are taken in an order of their own.
double side_of(const Vec2& a, const Vec2& b, const Vec2& p) {
  const bool forward = std::tie(a.x(), a.y()) < std::tie(b.x(), b.y());
  const Vec2 along = forward ? Vec2(b - a) : Vec2(a - b);
  const Vec2 to = p - (forward ? a : b);
  double side = along.x() * to.y() - along.y() * to.x();
  if (side == 0.0) side = along.y() != 0.0 ? -std::copysign(1e-300, along.y()) : 1e-300;
  return forward ? side : -side;
}

/// A triangle seen along the axis: u, v across it, t along.
struct Seen {
  std::array<Vec2, 3> uv;
  std::array<double, 3> t_m;

  std::optional<Crossing> crossing(const Vec2& p, int line) const {
    const double a = side_of(uv[1], uv[2], p), b = side_of(uv[2], uv[0], p), c = side_of(uv[0], uv[1], p);
    const bool faces_up = a > 0.0 && b > 0.0 && c > 0.0;
    if (!faces_up && !(a < 0.0 && b < 0.0 && c < 0.0)) return std::nullopt;
    return Crossing{line, faces_up ? -1 : 1, (a * t_m[0] + b * t_m[1] + c * t_m[2]) / (a + b + c)};
  }
};

class Lines {
 public:
  Lines(int axis, const TriangleMesh& mesh, const CellBox& box, int samples)
      : mesh_(mesh), box_(box), samples_(samples), t_(axis), u_((axis + 1) % 3), v_((axis + 2) % 3) {
    cover_.share.assign(box.size(), 0.0F);
    cover_.doubt.assign(box.size(), 0);
  }

  LineCover run() {
    const int rows = box_.cells[at(v_)];
#pragma omp parallel for schedule(dynamic, 1)
    for (int slab = 0; slab < kSlabs; ++slab) {
      const auto from = static_cast<int>(static_cast<long>(rows) * slab / kSlabs);
      const auto to = static_cast<int>(static_cast<long>(rows) * (slab + 1) / kSlabs);
      if (from < to) cover_rows(from, to);
    }
    return std::move(cover_);
  }

 private:
  double spacing_m() const { return box_.cell_m / samples_; }
  /// First line at or after a place.
  int first_line(double x_m, int axis) const {
    const double n = std::ceil((x_m - box_.low_m[axis]) / spacing_m() - 0.5);
    return static_cast<int>(std::clamp(n, 0.0, static_cast<double>(box_.cells[at(axis)] * samples_)));
  }
  double line_m(int line, int axis) const { return box_.low_m[axis] + (line + 0.5) * spacing_m(); }

  void cover_rows(int from, int to) {
    const int lines_u = box_.cells[at(u_)] * samples_, first_v = from * samples_, end_v = to * samples_;
    std::vector<Crossing> found;
    for (const Triangle& corners : mesh_.triangles) {
      Seen seen;
      for (std::size_t k = 0; k < 3; ++k) {
        const Vec3& x = mesh_.points_m[at(corners[k])];
        seen.uv[k] = {x[u_], x[v_]};
        seen.t_m[k] = x[t_];
      }
      const auto [low_u, high_u] = std::minmax({seen.uv[0].x(), seen.uv[1].x(), seen.uv[2].x()});
      const auto [low_v, high_v] = std::minmax({seen.uv[0].y(), seen.uv[1].y(), seen.uv[2].y()});
      // One line more each way: what lies on an edge is decided by side_of alone.
      const int end = std::min(end_v, first_line(high_v, v_) + 1);
      for (int v = std::max(first_v, first_line(low_v, v_) - 1); v < end; ++v)
        for (int u = std::max(0, first_line(low_u, u_) - 1); u < std::min(lines_u, first_line(high_u, u_) + 1); ++u)
          if (const auto c = seen.crossing({line_m(u, u_), line_m(v, v_)}, (v - first_v) * lines_u + u))
            found.push_back(*c);
    }
    // Of crossings at one place those that enter come first: bodies that touch have no gap.
    std::sort(found.begin(), found.end(), [](const Crossing& a, const Crossing& b) {
      return std::tie(a.line, a.t_m, b.entered) < std::tie(b.line, b.t_m, a.entered);
    });
    for (auto first = found.begin(); first != found.end();) {
      const auto last = std::find_if(first, found.end(), [&](const Crossing& c) { return c.line != first->line; });
      walk({first, last}, first->line % lines_u / samples_, (first->line / lines_u + first_v) / samples_);
      first = last;
    }
  }

  std::size_t cell(int u, int v, int t) const {
    std::array<int, 3> c{};
    c[at(u_)] = u, c[at(v_)] = v, c[at(t_)] = t;
    return at(c[0]) + at(box_.cells[0]) * (at(c[1]) + at(box_.cells[1]) * at(c[2]));
  }

  void walk(const std::vector<Crossing>& crossings, int u, int v) {
    int times = 0;
    bool is_sound = true;
    for (const Crossing& c : crossings) {
      times += c.entered;
      is_sound = is_sound && times >= 0;
    }
    if (!is_sound || times != 0) {
      for (int t = 0; t < box_.cells[at(t_)]; ++t) cover_.doubt[cell(u, v, t)] = 1;
      return;
    }
    double entered_m = 0.0;
    for (const Crossing& c : crossings) {
      if (times == 0) entered_m = c.t_m;
      times += c.entered;
      if (times == 0) add(u, v, entered_m, c.t_m);
    }
  }

  /// A stretch of a line that is inside.
  void add(int u, int v, double from_m, double to_m) {
    const double most = box_.cells[at(t_)];
    const double from = std::clamp((from_m - box_.low_m[t_]) / box_.cell_m, 0.0, most);
    const double to = std::clamp((to_m - box_.low_m[t_]) / box_.cell_m, 0.0, most);
    const double weight = 1.0 / (samples_ * samples_);
    for (int t = static_cast<int>(from); t < static_cast<int>(std::ceil(to)); ++t) {
      const double length = std::min(to, t + 1.0) - std::max(from, static_cast<double>(t));
      cover_.share[cell(u, v, t)] += static_cast<float>(weight * length);
    }
  }

  const TriangleMesh& mesh_;
  const CellBox& box_;
  int samples_;
  int t_, u_, v_;  ///< axis along the lines, and the two across, right-handed
  LineCover cover_;
};

}  // namespace

LineCover cover_along(int axis, const TriangleMesh& mesh, const CellBox& box, int samples) {
  return Lines(axis, mesh, box, samples).run();
}

}  // namespace pellicle::mesh
