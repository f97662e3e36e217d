// Where does the sheet fold, how much is in excess there, and what room would it need?
#include "solver/checks/webs.h"

#include "solver/checks/place.h"

#include <fmt/core.h>

#include <Eigen/Eigenvalues>
#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

namespace pellicle::checks {
namespace {

using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Less excess than this share of the natural width is taken up by the sheet's own stiffness.
constexpr double kFolds = 0.02;
/// A web no wider than so many bought thicknesses lies flat; one wider than the other stands up by more than the
/// sheet is thick, for a fold is half as high as it is wide.
constexpr double kHarmless = 0.5, kStandsUp = 2.0;
/// Two male features want so many times their height between them: 1.5 to 2 (common practice).
constexpr double kRoomPerHeight = 1.75;

struct Piece {
  std::array<Vec3, 3> corner;
  double excess_m2;  ///< area of the material less the area it covers
};

Piece piece_of(const forming::FormingResult& r, int e) {
  const mesh::Triangle& t = r.triangles[at(e)];
  Piece p{{r.points_m[at(t[0])], r.points_m[at(t[1])], r.points_m[at(t[2])]}, 0.0};
  const mesh::Vec2 o = r.flat_m[at(t[0])], u = r.flat_m[at(t[1])] - o, v = r.flat_m[at(t[2])] - o;
  const double flat_m2 = 0.5 * std::fabs(u.x() * v.y() - u.y() * v.x());
  const double material_m2 = flat_m2 * r.bought_thickness_m / r.triangle_thickness_m[at(e)];
  const double covered_m2 = 0.5 * (p.corner[1] - p.corner[0]).cross(p.corner[2] - p.corner[0]).norm();
  p.excess_m2 = std::max(0.0, material_m2 - covered_m2);
  return p;
}

/// Numbers of triangles that fold, in groups that share edges; both in ascending order.
std::vector<std::vector<int>> folding_groups(const forming::FormingResult& r) {
  const int m = static_cast<int>(r.triangles.size());
  std::map<std::pair<int, int>, std::vector<int>> by_edge;
  std::vector<int> group(at(m), -1);
  for (int e = 0; e < m; ++e) {
    if (!(r.triangle_wrinkle[at(e)] > kFolds)) continue;
    const mesh::Triangle& t = r.triangles[at(e)];
    for (int k = 0; k < 3; ++k) by_edge[std::minmax(t[at(k)], t[at((k + 1) % 3)])].push_back(e);
  }
  std::vector<std::vector<int>> groups;
  for (int e = 0; e < m; ++e) {
    if (!(r.triangle_wrinkle[at(e)] > kFolds) || group[at(e)] >= 0) continue;
    const int number = static_cast<int>(groups.size());
    std::vector<int> members{e};
    group[at(e)] = number;
    for (std::size_t next = 0; next < members.size(); ++next) {
      const mesh::Triangle& t = r.triangles[at(members[next])];
      for (int k = 0; k < 3; ++k)
        for (const int other : by_edge[std::minmax(t[at(k)], t[at((k + 1) % 3)])])
          if (group[at(other)] < 0) group[at(other)] = number, members.push_back(other);
    }
    std::sort(members.begin(), members.end());
    groups.push_back(std::move(members));
  }
  return groups;
}

/// The long axis of the group: folds run along the tension.
Vec3 long_axis(const std::vector<Piece>& pieces, const Vec3& centre) {
  Eigen::Matrix3d spread = Eigen::Matrix3d::Zero();
  for (const Piece& p : pieces)
    for (const Vec3& x : p.corner) spread += p.excess_m2 * (x - centre) * (x - centre).transpose();
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> axes(spread);
  return axes.eigenvectors().col(2);
}

/// Cuts the group across its long axis into stations about a triangle long; the excess area of each over its length is
/// its width in excess.
Web measure(const std::vector<Piece>& pieces) {
  double excess = 0.0, size = 0.0;
  Vec3 centre = Vec3::Zero();
  for (const Piece& p : pieces) {
    excess += p.excess_m2;
    centre += p.excess_m2 / 3.0 * (p.corner[0] + p.corner[1] + p.corner[2]);
    size += (p.corner[1] - p.corner[0]).norm() / static_cast<double>(pieces.size());
  }
  centre /= excess;
  Web web{.along = long_axis(pieces, centre)};
  const auto station_of = [&](const Vec3& x) { return web.along.dot(x - centre); };
  double from = 0.0, to = 0.0;
  for (const Piece& p : pieces)
    for (const Vec3& x : p.corner) from = std::min(from, station_of(x)), to = std::max(to, station_of(x));
  web.length_m = to - from;
  const int n = std::clamp(static_cast<int>(web.length_m / size), 1, 1000);
  const double step = web.length_m / n;
  std::vector<double> area_m2(at(n), 0.0);
  std::vector<Vec3> moment(at(n), Vec3::Zero());
  for (const Piece& p : pieces) {
    const auto [low, high] = std::minmax({station_of(p.corner[0]), station_of(p.corner[1]), station_of(p.corner[2])});
    for (int k = 0; k < n; ++k) {
      const double a = std::max(low, from + k * step), b = std::min(high, from + (k + 1) * step);
      if (!(b > a)) continue;
      const double share = p.excess_m2 * (b - a) / (high - low);
      area_m2[at(k)] += share;
      moment[at(k)] += share / 3.0 * (p.corner[0] + p.corner[1] + p.corner[2]);
    }
  }
  const auto worst = std::max_element(area_m2.begin(), area_m2.end()) - area_m2.begin();
  web.excess_m = area_m2[static_cast<std::size_t>(worst)] / step;
  web.place_m = moment[static_cast<std::size_t>(worst)] / area_m2[static_cast<std::size_t>(worst)];
  return web;
}

std::string advice_for(const Formed& f, const Web& web) {
  if (const auto s = spacing_at(f.mould, web))
    return fmt::format(
        "it hangs between two features {:.3g} mm apart that stand {:.3g} mm high: {:.3g} mm between them, {} times the "
        "height, is common practice; or lower what bridges them, or round their corners",
        1e3 * s->gap_m, 1e3 * s->height_m, 1e3 * kRoomPerHeight * s->height_m, kRoomPerHeight);
  return "a larger plan radius or more draft at this corner, a lower wall, or more room to the clamp frame";
}

}  // namespace

std::vector<Web> find_webs(const Formed& f) {
  std::vector<Web> webs;
  for (const std::vector<int>& group : folding_groups(f.sheet)) {
    std::vector<Piece> pieces;
    bool in_part = false;
    for (const int e : group) {
      if (Piece p = piece_of(f.sheet, e); p.excess_m2 > 0.0) pieces.push_back(p);
      for (const int i : f.sheet.triangles[at(e)]) in_part = in_part || f.in_part[at(i)];
    }
    if (pieces.empty()) continue;
    webs.push_back(measure(pieces));
    webs.back().in_part = in_part;
  }
  std::stable_sort(webs.begin(), webs.end(), [](const Web& a, const Web& b) { return a.excess_m > b.excess_m; });
  return webs;
}

std::optional<Spacing> spacing_at(const mould::RigidMould& mould, const Web& web) {
  if (!mould.surface()) return std::nullopt;
  const mesh::Nearest& surface = *mould.surface();
  const Vec3 level{web.along.x(), web.along.y(), 0.0};
  if (level.norm() < 0.5) return std::nullopt;  // it runs down a wall: a corner's
  // Along the web it ends on the features that carry it; what is across is air.
  const Vec3 direction = level.normalized();
  const double floor_m = mould.top_m(web.place_m.x(), web.place_m.y()).value_or(web.place_m.z() - web.length_m);
  const double middle_m = 0.5 * (floor_m + web.place_m.z());
  const Vec3 from{web.place_m.x(), web.place_m.y(), middle_m};
  const auto one = surface.ray(from, direction), other = surface.ray(from, -direction);
  if (!one || !other) return std::nullopt;
  const double inside_m = 0.05 * (one->t_m + other->t_m);
  const auto height = [&](const Vec3& towards, double t_m) {
    const Vec3 p = from + (t_m + inside_m) * towards;
    return mould.top_m(p.x(), p.y()).value_or(floor_m) - floor_m;
  };
  const double height_m = std::min(height(direction, one->t_m), height(-direction, other->t_m));
  if (!(height_m > 0.0)) return std::nullopt;
  return Spacing{one->t_m + other->t_m, height_m};
}

Finding webs(const Formed& f) {
  Finding finding{
      .id = "webs", .question = "Does the sheet fold, and how wide is the excess?", .value = 0.0, .unit = "mm"};
  const double h = f.sheet.bought_thickness_m;
  finding.uncertainty =
      "width of sheet in excess across the fold, which stands up half as high; the folds themselves are finer than the "
      "elements and are not drawn";
  const std::vector<Web> all = find_webs(f);
  std::vector<Web> kept, waste;
  for (const Web& web : all) (web.in_part ? kept : waste).push_back(web);
  std::string beside;
  if (!waste.empty())
    beside = fmt::format("; in the waste {} more, the widest {:.2g} mm at {}", waste.size(), 1e3 * waste[0].excess_m,
                         place_text(waste[0].place_m));
  if (kept.empty()) {
    finding.why = "no fold in the part" + beside;
    return finding;
  }
  const Web& worst = kept[0];
  finding.value = 1e3 * worst.excess_m;
  finding.limit = 1e3 * kHarmless * h;
  finding.place_m = worst.place_m;
  finding.verdict = worst.excess_m <= kHarmless * h   ? Verdict::kPass
                    : worst.excess_m <= kStandsUp * h ? Verdict::kDoubt
                                                      : Verdict::kFail;
  finding.why = fmt::format("{} fold{} in the part, the widest {:.2g} mm long{}", kept.size(),
                            kept.size() == 1 ? "" : "s", 1e3 * worst.length_m, beside);
  if (finding.verdict != Verdict::kPass) finding.advice = advice_for(f, worst);
  return finding;
}

}  // namespace pellicle::checks
