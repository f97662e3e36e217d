// Where is a point of the sheet against the mould's outline: how far, which way is out, how curved is it there?
#include "solver/imprint/section/mould_curve.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace pellicle::imprint {
namespace {

using Eigen::Vector2d;

constexpr double kSmoothBend = 25.0 * std::numbers::pi / 180.0;  // less is a smooth curve given as points
// Radius of a sharp edge over the narrowest feature. Sheet that slides is held back where elements are bent over one
// node, so it gets a larger one, and walls are moved out by a share of what that adds (docs/theory/section.md).
constexpr double kSharpEdge = 0.002, kSharpEdgeOfSlip = 0.01, kGivenBack = 0.7;
constexpr double kRise = 0.1;        // of the relief: least height of a wave
constexpr double kSlides = 0.08;     // of the feature: sheet that may come over an edge
constexpr double kSharpFoot = 0.01;  // radius of a sharp foot over the relief
constexpr double kReach = 0.48;      // share of a segment an arc may take: both fit

double cross(const Vector2d& a, const Vector2d& b) { return a.x() * b.y() - a.y() * b.x(); }

/// Angle from the direction before to the one after; < 0 turns down, an edge towards the sheet.
double bend(const Vector2d& before, const Vector2d& at, const Vector2d& after) {
  const Vector2d d = at - before, e = after - at;
  return std::atan2(cross(d, e), d.dot(e));
}

/// The profile with what lies beyond its ends: copies if periodic, else mirror images.
std::vector<Vector2d> extended(const SectionProfile& profile, SectionEnds ends) {
  const auto& p = profile.points;
  const double length = p.back().x_m - p.front().x_m;
  std::vector<Vector2d> chain;
  const auto add = [&](double x, double z) {
    if (chain.empty() || (Vector2d(x, z) - chain.back()).norm() > 1e-9 * length) chain.emplace_back(x, z);
  };
  if (ends == SectionEnds::kPeriodic) {
    for (int copy = -1; copy <= 1; ++copy) {
      for (const auto& q : p) add(q.x_m + copy * length, q.z_m);
    }
  } else {
    for (auto q = p.rbegin(); q != p.rend(); ++q) add(2.0 * p.front().x_m - q->x_m, q->z_m);
    for (const auto& q : p) add(q.x_m, q.z_m);
    for (auto q = p.rbegin(); q != p.rend(); ++q) add(2.0 * p.back().x_m - q->x_m, q->z_m);
  }
  return chain;
}

/// Twice the shortest way along x between a crest and the trough after it, or the other way round; what rises or falls
/// by less than a tenth of the relief does not count.
double shortest_wave_m(const std::vector<ProfilePoint>& points, double relief_m) {
  std::vector<double> turns_m;
  ProfilePoint low = points.front(), high = low;  // since the last turn
  int way = 0;                                    // 1 up, -1 down, 0 not known yet
  for (const ProfilePoint& q : points) {
    if (q.z_m < low.z_m) low = q;
    if (q.z_m > high.z_m) high = q;
    if (way >= 0 && q.z_m < high.z_m - kRise * relief_m) {
      turns_m.push_back(high.x_m);
      way = -1;
      low = q;
    } else if (way <= 0 && q.z_m > low.z_m + kRise * relief_m) {
      turns_m.push_back(low.x_m);
      way = 1;
      high = q;
    }
  }
  double shortest = points.back().x_m - points.front().x_m;
  for (std::size_t k = 1; k < turns_m.size(); ++k) shortest = std::min(shortest, turns_m[k] - turns_m[k - 1]);
  return 2.0 * shortest;
}

/// Upright walls between an edge and a foot move out of the mould.
void move_walls(std::vector<Vector2d>& chain, double by_m) {
  const std::vector<Vector2d> old = chain;
  for (std::size_t k = 1; k + 2 < chain.size(); ++k) {
    const Vector2d wall = old[k + 1] - old[k];
    if (std::abs(wall.y()) < std::abs(wall.x())) continue;
    const double first = bend(old[k - 1], old[k], old[k + 1]), last = bend(old[k], old[k + 1], old[k + 2]);
    if (std::min(first, last) > -kSmoothBend || std::max(first, last) < kSmoothBend) continue;
    const double out = wall.y() < 0.0 ? by_m : -by_m;
    chain[k].x() += out;
    chain[k + 1].x() += out;
  }
}

}  // namespace

MouldCurve::MouldCurve(const SectionProfile& profile, SectionEnds ends, SectionTouch touch)
    : from_m_(profile.points.front().x_m), to_m_(profile.points.back().x_m), feature_m_(to_m_ - from_m_) {
  auto chain = extended(profile, ends);
  const auto [low, high] = std::minmax_element(profile.points.begin(), profile.points.end(),
                                               [](const auto& a, const auto& b) { return a.z_m < b.z_m; });
  relief_m_ = high->z_m - low->z_m;
  std::vector<double> sharp;
  for (std::size_t k = 1; k + 1 < chain.size(); ++k) {
    if (bend(chain[k - 1], chain[k], chain[k + 1]) < -kSmoothBend) sharp.push_back(chain[k].x());
  }
  for (std::size_t k = 1; k < sharp.size(); ++k) {
    const double apart = sharp[k] - sharp[k - 1];
    if (apart > 1e-6 * (to_m_ - from_m_)) feature_m_ = std::min(feature_m_, apart);
  }
  if (sharp.empty()) feature_m_ = std::min(feature_m_, shortest_wave_m(profile.points, relief_m_));
  const double sharp_m = (touch == SectionTouch::kSlip ? kSharpEdgeOfSlip : kSharpEdge) * feature_m_;
  if (touch == SectionTouch::kSlip) move_walls(chain, kGivenBack * std::max(0.0, sharp_m - profile.edge_radius_m));
  round_off(chain, profile, touch);
  settle_height();
  settle_pieces();
}

void MouldCurve::round_off(const std::vector<Vector2d>& chain, const SectionProfile& profile, SectionTouch touch) {
  const double sharp_m = (touch == SectionTouch::kSlip ? kSharpEdgeOfSlip : kSharpEdge) * feature_m_;
  const auto straight = [&](const Vector2d& a, const Vector2d& b) {
    Piece piece{a, b, Vector2d::Zero(), 0.0, 0.0, std::min(a.x(), b.x()), std::max(a.x(), b.x())};
    if ((b - a).norm() > 0.0) pieces_.push_back(piece);
  };
  Vector2d from = chain.front();
  for (std::size_t k = 1; k + 1 < chain.size(); ++k) {
    const Vector2d before = chain[k] - chain[k - 1], after = chain[k + 1] - chain[k];
    const double turn = bend(chain[k - 1], chain[k], chain[k + 1]);
    if (std::abs(turn) < 1e-9) continue;  // round-off of points on one line
    const double room = kReach * std::min(before.norm(), after.norm());
    const double wanted = turn < 0.0 ? std::max(profile.edge_radius_m, sharp_m)
                                     : std::max(profile.foot_radius_m, kSharpFoot * std::min(relief_m_, feature_m_));
    const double half = std::tan(0.5 * std::abs(turn));
    const bool smooth = std::abs(turn) < kSmoothBend;
    const double tangent = smooth ? room : std::min(room, wanted * half);
    Piece arc;
    arc.a = chain[k] - tangent * before.normalized();
    arc.b = chain[k] + tangent * after.normalized();
    arc.radius_m = tangent / half;
    arc.side = turn < 0.0 ? 1.0 : -1.0;
    const Vector2d up = Vector2d(-before.y(), before.x()).normalized();
    arc.centre = arc.a - arc.side * arc.radius_m * up;
    arc.low_x = std::min(arc.a.x(), arc.b.x());
    arc.high_x = std::max(arc.a.x(), arc.b.x());
    straight(from, arc.a);
    pieces_.push_back(arc);
    from = arc.b;
    const double margin = arc.radius_m + 1e-9 * (to_m_ - from_m_);
    if (!smooth && turn < 0.0 && chain[k].x() > from_m_ - margin && chain[k].x() < to_m_ + margin) {
      const double land = std::abs(before.normalized().y()) > std::abs(after.normalized().y()) ? 1.0 : -1.0;
      const double slides_m = touch == SectionTouch::kSlip ? land * kSlides * feature_m_ : 0.0;
      edges_.push_back({chain[k].x(), arc.radius_m, slides_m});
    }
  }
  straight(from, chain.back());
}

void MouldCurve::settle_height() {
  double high = -std::numeric_limits<double>::infinity(), low = -high;
  for (const Piece& piece : pieces_) {
    const bool crest =
        piece.radius_m > 0.0 && piece.side > 0.0 && piece.low_x <= piece.centre.x() && piece.centre.x() <= piece.high_x;
    const bool trough =
        piece.radius_m > 0.0 && piece.side < 0.0 && piece.low_x <= piece.centre.x() && piece.centre.x() <= piece.high_x;
    high = std::max({high, piece.a.y(), piece.b.y(), crest ? piece.centre.y() + piece.radius_m : piece.a.y()});
    low = std::min({low, piece.a.y(), piece.b.y(), trough ? piece.centre.y() - piece.radius_m : piece.a.y()});
  }
  top_m_ = high;
  relief_m_ = high - low;
  for (Piece& piece : pieces_) {
    piece.a.y() -= high;
    piece.b.y() -= high;
    piece.centre.y() -= high;
  }
}

void MouldCurve::settle_pieces() {
  for (Piece& piece : pieces_) {
    piece.way = piece.b - piece.a;
    piece.way_sq = piece.way.squaredNorm();
    piece.normal = Vector2d(-piece.way.y(), piece.way.x()).normalized();
    piece.first = piece.a - piece.centre;
    piece.last = piece.b - piece.centre;
    ends_m_.push_back(std::max(piece.high_x, ends_m_.empty() ? piece.high_x : ends_m_.back()));
  }
  begins_m_.resize(pieces_.size());
  double least = std::numeric_limits<double>::infinity();
  for (std::size_t k = pieces_.size(); k-- > 0;) begins_m_[k] = least = std::min(least, pieces_[k].low_x);
}

MouldCurve::Near MouldCurve::near(const Piece& piece, const Vector2d& q) {
  if (piece.radius_m == 0.0) {
    const double along = std::clamp((q - piece.a).dot(piece.way) / piece.way_sq, 0.0, 1.0);
    return {(q - piece.a).dot(piece.normal), piece.normal, 0.0, piece.a + along * piece.way};
  }
  const Vector2d out = q - piece.centre;
  const double rho = out.norm();
  const Vector2d n = rho > 0.0 ? Vector2d(piece.side / rho * out) : Vector2d(0.0, 1.0);
  return {piece.side * (rho - piece.radius_m), n, rho > 0.0 ? piece.side / rho : 0.0,
          piece.centre + piece.side * piece.radius_m * n};
}

double MouldCurve::apart_sq(const Piece& piece, const Vector2d& q) {
  if (piece.radius_m == 0.0) {
    const double along = std::clamp((q - piece.a).dot(piece.way) / piece.way_sq, 0.0, 1.0);
    return (q - Vector2d(piece.a + along * piece.way)).squaredNorm();
  }
  // Between the rays to its ends the arc itself is nearest; an arc here is always less than half a turn.
  const Vector2d out = q - piece.centre;
  if (piece.side * cross(piece.first, out) <= 0.0 && piece.side * cross(out, piece.last) <= 0.0)
    return std::pow(out.norm() - piece.radius_m, 2);
  return std::min((q - piece.a).squaredNorm(), (q - piece.b).squaredNorm());
}

/// The piece over or under q bounds how far aside others can lie that are nearer, round-off allowed for.
MouldCurve::Near MouldCurve::nearest(const Vector2d& q) const {
  constexpr double kRoundOff = 1e-12;  // of the section's length
  const auto first_to = [&](double x) {
    const auto found = std::lower_bound(ends_m_.begin(), ends_m_.end(), x) - ends_m_.begin();
    return std::min(static_cast<std::size_t>(found), pieces_.size() - 1);
  };
  const Piece* best = &pieces_[first_to(q.x())];
  const double reach = std::sqrt(apart_sq(*best, q)) + kRoundOff * (to_m_ - from_m_);
  double best_sq = std::numeric_limits<double>::infinity();
  for (std::size_t k = first_to(q.x() - reach); k < pieces_.size() && begins_m_[k] <= q.x() + reach; ++k) {
    const Piece& piece = pieces_[k];
    const double aside = std::max({piece.low_x - q.x(), q.x() - piece.high_x, 0.0});
    if (aside * aside >= best_sq) continue;
    const double sq = apart_sq(piece, q);
    if (sq < best_sq) {
      best_sq = sq;
      best = &piece;
    }
  }
  return near(*best, q);
}

}  // namespace pellicle::imprint
