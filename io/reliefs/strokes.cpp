// How wide are the strokes of a character? Every piece of its outline against every other.
#include "io/reliefs/strokes.h"

#include "io/reliefs/refusals.h"

#include <fmt/format.h>
#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace pellicle::reliefs {
namespace {

using mesh::Vec2;

constexpr double kLongestPiece = 1.0 / 200.0;  // of the size
constexpr std::size_t kMostPieces = 20'000;    // each against each: about a second
constexpr double kFacing = -0.9;               // cosine between normals of walls that face each other
constexpr double kTouching = 1.02;             // the disc that touches the wall across, but for the pieces' length
constexpr double kCornerStep = 0.1;            // rad between normals at a corner: a radius is off by its square
constexpr double kInfinity = std::numeric_limits<double>::infinity();

struct Piece {
  Vec2 middle, normal;  ///< normal into the shape
  double length;
};

double cross(const Vec2& a, const Vec2& b) { return a.x() * b.y() - a.y() * b.x(); }

class Pieces {
 public:
  Pieces(double longest, const std::string& where) : longest_(longest), where_(where) {}

  void add_contour(const Contour& contour) {
    for (std::size_t k = 0; k < contour.size(); ++k) {
      const Vec2 &from = contour[k], &to = contour[(k + 1) % contour.size()];
      add_edge(from, to);
      add_corner(to, (to - from).normalized(), (contour[(k + 2) % contour.size()] - to).normalized());
    }
  }
  std::vector<Piece> take() { return std::move(pieces_); }

 private:
  void add(const Vec2& middle, const Vec2& along, double length) {
    if (pieces_.size() == kMostPieces) {
      refuse_shape(where_, fmt::format("an outline of more than {} pieces", kMostPieces), "a simpler character");
    }
    pieces_.push_back({middle, {-along.y(), along.x()}, length});
  }

  void add_edge(const Vec2& from, const Vec2& to) {
    const double length = (to - from).norm();
    const double count = std::ceil(length / longest_);
    for (double m = 0.5; m < count; m += 1.0)
      add(from + (to - from) * (m / count), (to - from) / length, length / count);
  }

  /// Where the outline turns into the shape, discs touch the corner itself, each along a normal of its own.
  void add_corner(const Vec2& corner, const Vec2& before, const Vec2& after) {
    const double turn = std::atan2(cross(before, after), before.dot(after));
    if (turn > -kCornerStep) return;
    const double count = std::ceil(-turn / kCornerStep);
    for (double m = 0.0; m <= count; m += 1.0) add(corner, Eigen::Rotation2Dd(turn * m / count) * before, 0.0);
  }

  double longest_;
  const std::string& where_;
  std::vector<Piece> pieces_;
};

std::vector<Piece> pieces_of(const GlyphShape& shape, double size, const std::string& where) {
  Pieces pieces(kLongestPiece * size, where);
  for (const Contour& contour : shape.contours) pieces.add_contour(contour);
  return pieces.take();
}

/// How often the shape goes round a point.
int winding(const GlyphShape& shape, const Vec2& p) {
  int turns = 0;
  for (const Contour& contour : shape.contours) {
    for (std::size_t k = 0; k < contour.size(); ++k) {
      const Vec2 a = contour[k] - p, b = contour[(k + 1) % contour.size()] - p;
      if ((a.y() <= 0.0) == (b.y() <= 0.0)) continue;
      const double side = a.x() * b.y() - a.y() * b.x();  // > 0: p left of the edge
      if (b.y() > a.y() && side > 0.0) ++turns;
      if (b.y() < a.y() && side < 0.0) --turns;
    }
  }
  return turns;
}

struct Width {
  double width, length;
};

/// Middle of the widths, each counted by its length.
double median(std::vector<Width>& widths) {
  std::sort(widths.begin(), widths.end(), [](const Width& a, const Width& b) { return a.width < b.width; });
  double total = 0.0, sum = 0.0;
  for (const Width& w : widths) total += w.length;
  for (const Width& w : widths) {
    sum += w.length;
    if (sum >= 0.5 * total) return w.width;
  }
  return 0.0;
}

}  // namespace

StrokeWidths stroke_widths(const GlyphShape& shape, double size, const std::string& where) {
  std::vector<Piece> pieces = pieces_of(shape, size, where);
  if (pieces.empty()) return {};
  const double aside = 1e-3 * kLongestPiece * size;
  std::erase_if(pieces, [&](const Piece& p) { return winding(shape, p.middle - aside * p.normal) != 0; });
  std::vector<Width> widths;
  double widest = 0.0;
  for (const Piece& p : pieces) {
    double radius = kInfinity, across = kInfinity;
    for (const Piece& q : pieces) {
      const Vec2 d = q.middle - p.middle;
      const double inwards = d.dot(p.normal);
      if (inwards <= 0.0) continue;
      const double bound = d.squaredNorm() / (2.0 * inwards);
      radius = std::min(radius, bound);
      if (p.normal.dot(q.normal) <= kFacing) across = std::min(across, bound);
    }
    if (radius < kInfinity) widest = std::max(widest, 2.0 * radius);
    if (across <= kTouching * radius && across < kInfinity) widths.push_back({2.0 * across, p.length});
  }
  if (widths.empty()) return {widest, widest, widest};
  const double typical = median(widths);
  return {widths.front().width, typical, widest};
}

}  // namespace pellicle::reliefs
