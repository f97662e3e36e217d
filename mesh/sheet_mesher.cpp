// What does the clamped sheet look like before the gas comes on? A flat triangle mesh of its free outline.
#include "mesh/sheet_mesher.h"

#include "mesh/check.h"
#include "mesh/gmsh_session.h"
#include "mesh/order.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <string>
#include <utility>
#include <variant>

namespace pellicle::mesh {
namespace {

constexpr double kLeastElementsAcross = 3.0;  // in the half width: fewer cannot bend into a dome
constexpr double kMostTriangles = 5e6;        // about 10 GB with Gmsh's own data; a mistyped unit is likelier
constexpr double kSteepestGrowth = 0.25;      // edge length per length: neighbours differ by a quarter at most
constexpr double kRoundOff = 1e-9;            // of a length: what unit conversion may add to it

[[noreturn]] void refuse(std::string where, std::string found, std::string allowed, std::string advice) {
  throw Error({Fault::Kind::kCase, std::move(where), std::move(found), std::move(allowed), std::move(advice)});
}

std::string mm(double length_m) { return fmt::format("{:.6g} mm", length_m * 1e3); }

/// A disc or rectangle: a rectangle about its centre whose corners are rounded; a disc has nothing but corners.
struct Rounded {
  double half_x, half_y, corner;

  /// How far inside the rim; negative outside (a lower bound there).
  double depth(const Vec2& p) const {
    const Vec2 beyond(std::abs(p.x()) - (half_x - corner), std::abs(p.y()) - (half_y - corner));
    if (beyond.minCoeff() > 0.0) return corner - beyond.norm();
    return corner - beyond.maxCoeff();
  }
  double area() const { return 4.0 * half_x * half_y - (4.0 - std::numbers::pi) * corner * corner; }
};

/// Any outline about its centre.
struct Form {
  std::variant<Rounded, Loop> shape;
  Vec2 low, high;  ///< box around it

  double depth(const Vec2& p) const {
    if (const auto* r = std::get_if<Rounded>(&shape)) return r->depth(p);
    return depth_m(std::get<Loop>(shape), p);
  }
  double area() const {
    if (const auto* r = std::get_if<Rounded>(&shape)) return r->area();
    return area_m2(std::get<Loop>(shape));
  }
};

/// Lengths over `unit_m`.
Form form_of(const Outline& outline, double unit_m = 1.0) {
  if (const auto* given = std::get_if<Loop>(&outline.shape)) {
    Loop loop = *given;
    loop.inscribed_m /= unit_m;
    for (Vec2& p : loop.points_m) p /= unit_m;
    Vec2 low = loop.points_m[0], high = low;
    for (const Vec2& p : loop.points_m) low = low.cwiseMin(p), high = high.cwiseMax(p);
    return {std::move(loop), low, high};
  }
  Rounded r{};
  if (const auto* disc = std::get_if<Disc>(&outline.shape)) {
    r.half_x = r.half_y = r.corner = 0.5 * disc->diameter_m;
  } else {
    const auto& given = std::get<RoundedRectangle>(outline.shape);
    r = {0.5 * given.width_m, 0.5 * given.depth_m,
         std::min(given.corner_m, 0.5 * std::min(given.width_m, given.depth_m))};
  }
  r = {r.half_x / unit_m, r.half_y / unit_m, r.corner / unit_m};
  return {r, {-r.half_x, -r.half_y}, {r.half_x, r.half_y}};
}

/// A quarter of the rim: the side that faces +x turned by `turns` right angles, with half a corner at either end. So
/// the only nodes with a fixed place are the middles of the corners, sharp or round, and no straight part is too short.
struct Quarter {
  double out, along, corner;  // half widths across and along this side
  int turns;

  double length() const { return 0.5 * std::numbers::pi * corner + 2.0 * (along - corner); }

  Vec2 at(double s) const {
    const double arc = 0.25 * std::numbers::pi * corner;
    const double straight = 2.0 * (along - corner);
    double n = out;
    double t = s - arc - (along - corner);
    if (s < arc || s > arc + straight) {
      const bool first = s < arc;
      const double angle = first ? s / corner - 0.25 * std::numbers::pi : (s - arc - straight) / corner;
      n = out - corner + corner * std::cos(angle);
      t = (first ? corner - along : along - corner) + corner * std::sin(angle);
    }
    switch (turns) {
      case 0:
        return {n, t};
      case 1:
        return {-t, n};
      case 2:
        return {-n, -t};
      default:
        return {t, -n};
    }
  }
};

/// A part of a loop between two nodes with a fixed place.
struct Piece {
  std::vector<Vec2> points;
  std::vector<double> along;  ///< way from the first point

  explicit Piece(std::vector<Vec2> way) : points(std::move(way)), along{0.0} {
    for (std::size_t i = 1; i < points.size(); ++i) along.push_back(along.back() + (points[i] - points[i - 1]).norm());
  }
  double length() const { return along.back(); }
  Vec2 at(double s) const {
    const auto after = std::upper_bound(along.begin() + 1, along.end() - 1, s);
    const auto i = static_cast<std::size_t>(after - along.begin());
    return points[i - 1] + (s - along[i - 1]) / (along[i] - along[i - 1]) * (points[i] - points[i - 1]);
  }
};

/// Appends the nodes of one part of the rim, its end left to the next. They stand at equal steps of the integral of
/// 1/size.
template <class Part>
void divide(const Part& part, const BoxSize& size, std::vector<Vec2>& rim) {
  constexpr double kSamplesPerElement = 8.0;  // the size changes by a quarter an element at most
  const double length = part.length();
  const auto samples = static_cast<std::size_t>(std::ceil(kSamplesPerElement * length / size.inside));
  std::vector<double> elements(samples + 1, 0.0);  // how many elements fit from the start to here
  const double step = length / static_cast<double>(samples);
  for (std::size_t i = 0; i < samples; ++i) {
    elements[i + 1] = elements[i] + step / size.at(part.at((static_cast<double>(i) + 0.5) * step));
  }
  const int count = std::max(1, static_cast<int>(std::lround(elements.back())));
  std::size_t i = 0;
  for (int k = 0; k < count; ++k) {
    const double wanted = elements.back() * k / count;
    while (i + 1 < samples && elements[i + 1] <= wanted) ++i;
    const double share = (wanted - elements[i]) / (elements[i + 1] - elements[i]);
    rim.push_back(part.at((static_cast<double>(i) + share) * step));
  }
}

std::vector<Vec2> divide(const Form& form, const BoxSize& size) {
  std::vector<Vec2> rim;
  if (const auto* loop = std::get_if<Loop>(&form.shape)) {
    for (std::vector<Vec2>& way : pieces(*loop, [&](const Vec2& p) { return size.at(p); }))
      divide(Piece(std::move(way)), size, rim);
    return rim;
  }
  const auto& r = std::get<Rounded>(form.shape);
  for (int turns = 0; turns < 4; ++turns) {
    const bool even = turns % 2 == 0;
    divide(Quarter{even ? r.half_x : r.half_y, even ? r.half_y : r.half_x, r.corner, turns}, size, rim);
  }
  return rim;
}

/// Triangles of side h have area sqrt(3)/4 h^2. Midpoint rule outside the box, exact inside.
double triangles_expected(const Form& form, const BoxSize& size) {
  const double per_area = 4.0 / std::numbers::sqrt3;
  const Vec2 box = (size.high.cwiseMin(form.high) - size.low.cwiseMax(form.low)).cwiseMax(0.0);
  double count = box.prod() / (size.inside * size.inside);
  constexpr int kCells = 128;
  const Vec2 cell = (form.high - form.low) / kCells;
  for (int i = 0; i < kCells * kCells; ++i) {
    const int column = i % kCells;
    const int row = i / kCells;
    const Vec2 p = form.low + Vec2((column + 0.5) * cell.x(), (row + 0.5) * cell.y());
    if (form.depth(p) < 0.0 || ((p - size.low).minCoeff() >= 0.0 && (size.high - p).minCoeff() >= 0.0)) continue;
    const double h = size.at(p);
    count += cell.prod() / (h * h);
  }
  return per_area * count;
}

void check(const Outline& outline) {
  const auto positive = [](double length_m, const char* what) {
    if (!(length_m > 0.0) || !std::isfinite(length_m)) {
      refuse("sheet outline, " + std::string(what), mm(length_m), "more than 0",
             "it is the free size inside the clamp");
    }
  };
  if (const auto* disc = std::get_if<Disc>(&outline.shape)) return positive(disc->diameter_m, "diameter");
  if (const auto* loop = std::get_if<Loop>(&outline.shape)) return positive(loop->inscribed_m, "largest circle inside");
  const auto& r = std::get<RoundedRectangle>(outline.shape);
  positive(r.width_m, "width");
  positive(r.depth_m, "depth");
  const double most_m = 0.5 * std::min(r.width_m, r.depth_m);
  if (!(r.corner_m >= 0.0 && r.corner_m <= most_m * (1.0 + kRoundOff))) {
    refuse("sheet outline, corner", mm(r.corner_m), "0 to half the smaller width, " + mm(most_m),
           "a fully round sheet is a disc");
  }
}

void check(const SheetSize& size, double half_m) {
  const double most_m = half_m / kLeastElementsAcross;
  const auto in_range = [most_m](double length_m, const char* what) {
    if (!(length_m > 0.0 && length_m <= most_m)) {
      refuse(what, mm(length_m), "more than 0, at most a third of the half width, " + mm(most_m),
             "an edge of " + mm(most_m / 10.0) + " is a sound start");
    }
  };
  in_range(size.element_m, "sheet element");
  if (!size.fine_box) return;
  in_range(size.rim_element_m, "sheet rim element");
  if (size.rim_element_m < size.element_m) {
    refuse("sheet rim element", mm(size.rim_element_m), "at least the element, " + mm(size.element_m),
           "the box is the fine part");
  }
  if (!((size.fine_box->high_m - size.fine_box->low_m).minCoeff() > 0.0)) {
    refuse("sheet fine box", "a side of no length", "low corner below high corner in x and y", "");
  }
}

/// How near the box comes to the rim; 0 or less where it reaches it. The rim of a disc or rectangle is convex, so the
/// corners of the box are nearest to it; a loop may also point into a side of the box.
double box_to_rim(const BoxSize& box, const Form& form) {
  double least = std::min({form.depth(box.low), form.depth(box.high), form.depth({box.low.x(), box.high.y()}),
                           form.depth({box.high.x(), box.low.y()})});
  if (const auto* loop = std::get_if<Loop>(&form.shape)) {
    for (const Vec2& p : loop->points_m)
      least = std::min(least, (box.low - p).cwiseMax(p - box.high).cwiseMax(0.0).norm());
  }
  return least;
}

/// Lengths over `unit`, seen from the outline's centre.
BoxSize graded(const SheetSize& size, const Outline& outline, const Form& form, double unit_m) {
  const double inside = size.element_m / unit_m;
  if (!size.fine_box) return {inside, inside, 0.0, form.low, form.high};
  BoxSize box{inside, size.rim_element_m / unit_m, 0.0, (size.fine_box->low_m - outline.centre_m) / unit_m,
              (size.fine_box->high_m - outline.centre_m) / unit_m};
  box.growth = std::max(box_to_rim(box, form), (box.outside - box.inside) / kSteepestGrowth);
  return box;
}

/// A power of two about as large as the sheet: dividing and multiplying by it changes no digit.
double unit_of(const Outline& outline) { return std::exp2(std::ilogb(0.5 * longer_side_m(outline))); }

double doubled_area(const Vec2& a, const Vec2& b, const Vec2& c) {
  return (b.x() - a.x()) * (c.y() - a.y()) - (b.y() - a.y()) * (c.x() - a.x());
}

/// Ends of the edges that only one triangle has.
std::vector<char> rim_of(const std::vector<Triangle>& triangles, std::size_t nodes) {
  std::vector<std::pair<int, int>> edges;
  edges.reserve(3 * triangles.size());
  for (const Triangle& t : triangles) {
    for (std::size_t k = 0; k < 3; ++k) edges.push_back(std::minmax(t[k], t[(k + 1) % 3]));
  }
  std::sort(edges.begin(), edges.end());
  std::vector<char> on_rim(nodes, 0);
  for (std::size_t i = 0; i < edges.size(); ++i) {
    const bool alone = (i == 0 || edges[i - 1] != edges[i]) && (i + 1 == edges.size() || edges[i + 1] != edges[i]);
    if (!alone) continue;
    on_rim[static_cast<std::size_t>(edges[i].first)] = 1;
    on_rim[static_cast<std::size_t>(edges[i].second)] = 1;
  }
  return on_rim;
}

/// Quality 4 sqrt(3) A / (l1^2 + l2^2 + l3^2): 1 for the equilateral triangle, 0 for a flat one (citation from memory:
/// Bank & Smith, SIAM J. Numer. Anal. 34 (1997) 979). Also turns triangles counter-clockwise; returns their area.
double orient_and_judge(SheetMesh& mesh) {
  double area_sum = 0.0;
  double quality_sum = 0.0;
  mesh.min_quality = 1.0;
  for (Triangle& t : mesh.triangles) {
    const auto point = [&](std::size_t k) -> const Vec2& { return mesh.flat_m[static_cast<std::size_t>(t[k])]; };
    double twice = doubled_area(point(0), point(1), point(2));
    if (twice < 0.0) {
      std::swap(t[1], t[2]);
      twice = -twice;
    }
    const double sides_sq =
        (point(1) - point(0)).squaredNorm() + (point(2) - point(1)).squaredNorm() + (point(0) - point(2)).squaredNorm();
    const double quality = 2.0 * std::numbers::sqrt3 * twice / sides_sq;
    mesh.min_quality = std::min(mesh.min_quality, quality);
    quality_sum += quality;
    area_sum += 0.5 * twice;
  }
  mesh.mean_quality = quality_sum / static_cast<double>(mesh.triangles.size());
  return area_sum;
}

/// Gmsh may return quietly with a part of the sheet, or one laid double: the triangles must have exactly the rim asked
/// for, fill it once, and none may be flat.
void check_whole(const SheetMesh& mesh, double area, const std::vector<Vec2>& rim) {
  double rim_area = 0.0;
  for (std::size_t i = 0; i < rim.size(); ++i) {
    rim_area += 0.5 * doubled_area(Vec2::Zero(), rim[i], rim[(i + 1) % rim.size()]);
  }
  const auto on_rim = static_cast<std::size_t>(std::count(mesh.on_rim.begin(), mesh.on_rim.end(), 1));
  if (on_rim == rim.size() && std::abs(area - rim_area) <= kRoundOff * rim_area && mesh.min_quality > 0.0) return;
  throw Error({.kind = Fault::Kind::kGeometry,
               .where = "sheet mesh",
               .found = fmt::format("{} nodes on the rim and {:.6g} of the area, smallest quality {:.3g}", on_rim,
                                    area / rim_area, mesh.min_quality),
               .allowed = fmt::format("{} nodes on the rim, the whole area, every quality above 0", rim.size()),
               .advice = "try an element a few per cent larger or smaller"});
}

}  // namespace

double half_width_m(const Outline& outline) {
  if (const auto* loop = std::get_if<Loop>(&outline.shape)) return loop->inscribed_m;
  return form_of(outline).high.minCoeff();
}

bool contains(const Outline& outline, const Vec2& place) {
  if (const auto* loop = std::get_if<Loop>(&outline.shape)) return contains(*loop, place - outline.centre_m);
  const Vec2 p = (place - outline.centre_m).cwiseAbs();
  if (const auto* disc = std::get_if<Disc>(&outline.shape)) return p.norm() < 0.5 * disc->diameter_m;
  const auto& r = std::get<RoundedRectangle>(outline.shape);
  const Vec2 half{0.5 * r.width_m, 0.5 * r.depth_m}, straight = half - Vec2::Constant(r.corner_m);
  if ((p.array() >= half.array()).any()) return false;
  return (p.array() <= straight.array()).any() || (p - straight).norm() < r.corner_m;
}

double area_m2(const Outline& outline) { return form_of(outline).area(); }

double longer_side_m(const Outline& outline) {
  const Form form = form_of(outline);
  return (form.high - form.low).maxCoeff();
}

std::optional<LoopFault> fault_of_outline(const Outline& outline, double element_m) {
  if (!std::holds_alternative<Loop>(outline.shape)) return std::nullopt;
  const double unit_m = unit_of(outline);
  const Form form = form_of(outline, unit_m);
  return fault_of_rim(divide(form, graded({element_m, element_m, {}}, outline, form, unit_m)), unit_m,
                      outline.centre_m);
}

SheetMesh mesh_sheet(const Outline& outline, const SheetSize& size) {
  check(outline);
  check(size, half_width_m(outline));
  const double unit_m = unit_of(outline);
  const Form form = form_of(outline, unit_m);
  const BoxSize sizes = graded(size, outline, form, unit_m);

  const double expected = triangles_expected(form, sizes);
  if (!(expected <= kMostTriangles)) {
    refuse("sheet element", fmt::format("{}, which makes about {:.2g} triangles", mm(size.element_m), expected),
           fmt::format("at most {:.0e} triangles", kMostTriangles), "is the unit right? Else take a larger element");
  }
  const std::vector<Vec2> rim = divide(form, sizes);
  if (std::holds_alternative<Loop>(outline.shape)) {
    if (auto fault = fault_of_rim(rim, unit_m, outline.centre_m))
      refuse("sheet outline", std::move(fault->found), std::move(fault->allowed), std::move(fault->advice));
  }
  PlaneMesh plane = GmshSession().mesh_polygon(rim, sizes);

  SheetMesh mesh{std::move(plane.points), std::move(plane.triangles), {}, 0.0, 0.0};
  const double area = orient_and_judge(mesh);
  renumber(mesh.flat_m, mesh.triangles);
  mesh.on_rim = rim_of(mesh.triangles, mesh.flat_m.size());
  check_whole(mesh, area, rim);
  for (Vec2& p : mesh.flat_m) p = p * unit_m + outline.centre_m;
  return mesh;
}

}  // namespace pellicle::mesh
