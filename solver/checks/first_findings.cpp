// What can be said of the formed part at once?
#include "solver/checks/first_findings.h"

#include "solver/checks/place.h"

#include <fmt/core.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle::checks {
namespace {

using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

/// Gauge of bought sheet varies by so much (common practice).
constexpr double kGaugeTolerance = 0.10;

/// Lowest, middle and highest of a node field over the touched part, with where the extremes are.
struct Range {
  int count = 0;
  double low = kNaN, median = kNaN, high = kNaN;
  int low_node = -1, high_node = -1;
};
Range range_in_part(const Formed& f, const std::vector<double>& field) {
  std::vector<int> nodes;
  for (int i = 0; i < static_cast<int>(field.size()); ++i)
    if (f.in_part[at(i)] && !std::isnan(field[at(i)])) nodes.push_back(i);
  if (nodes.empty()) return {};
  std::stable_sort(nodes.begin(), nodes.end(), [&](int a, int b) { return field[at(a)] < field[at(b)]; });
  const int middle = nodes[nodes.size() / 2];
  return {static_cast<int>(nodes.size()),
          field[at(nodes.front())],
          field[at(middle)],
          field[at(nodes.back())],
          nodes.front(),
          nodes.back()};
}

/// What the answer is at the ends of the card's modulus band, in words; `at` gives it for a modulus.
template <class F>
std::string modulus_band(const SheetSpec& spec, F&& at) {
  if (!spec.shear_modulus_Pa) return "the law of the case is taken as exact";
  const Estimate& g = *spec.shear_modulus_Pa;
  return fmt::format(
      "the hot sheet's stiffness is known only between {:.2g} and {:.2g} MPa (estimate): {:.3g} to {:.3g} mm",
      1e-6 * g.low, 1e-6 * g.high, 1e3 * std::min(at(g.low), at(g.high)), 1e3 * std::max(at(g.low), at(g.high)));
}

/// What the answer would be if the mould had chilled nothing; nothing where it was taken so.
template <class F>
std::string beside_hot(const Formed& f, int node, F&& at_modulus) {
  if (!f.detail.chill || f.detail.chill->class_of[at(node)] < 0) return "";
  return fmt::format("; as the mould has chilled the sheet since it touched there, hot all through {:.3g} mm",
                     1e3 * at_modulus(sheet::small_strain_shear_modulus_Pa(f.spec.law)));
}

/// Where the sheet was drawn colder than its forming window begins: how it tears there is not known.
struct ColdDraw {
  double share = 0.0;  ///< of the part's nodes
  int node = -1;       ///< the most stretched of them
  double drawn_K = kNaN;
};
ColdDraw cold_draw(const Formed& f) {
  ColdDraw cold;
  int all = 0, count = 0;
  if (!f.detail.chill || f.draws_from_K <= 0.0) return cold;
  for (int i = 0; i < static_cast<int>(f.sheet.points_m.size()); ++i) {
    if (!f.in_part[at(i)]) continue;
    ++all;
    // What sticks is drawn no more after its touch.
    const int k = f.detail.chill->class_of[at(i)];
    const double drawn_K = k < 0 ? f.detail.chill->untouched_K : f.detail.chill->classes[at(k)].drawn_K;
    if (!(drawn_K < f.draws_from_K)) continue;
    ++count;
    if (cold.node < 0 || f.sheet.stretch_1[at(i)] > f.sheet.stretch_1[at(cold.node)])
      cold.node = i, cold.drawn_K = drawn_K;
  }
  if (all > 0) cold.share = static_cast<double>(count) / all;
  return cold;
}

/// Sample points on the mould that the sheet could touch: not facing down, not on the platform, no coarser than `size`.
template <class F>
void each_mould_sample(const mould::RigidMould& mould, double size_m, F&& use) {
  const auto& m = mould.surface()->mesh();
  for (int t = 0; t < static_cast<int>(m.triangles.size()); ++t) {
    if (mould.surface()->normal(t).z() < -1e-6) continue;
    const auto& c = m.triangles[at(t)];
    const Vec3 &a = m.points_m[at(c[0])], &b = m.points_m[at(c[1])], &d = m.points_m[at(c[2])];
    const double longest = std::sqrt(std::max({(a - b).squaredNorm(), (b - d).squaredNorm(), (d - a).squaredNorm()}));
    const int n = std::clamp(static_cast<int>(std::ceil(longest / size_m)), 1, 200);
    const double area = 0.5 * (b - a).cross(d - a).norm() / (n * n);
    for (int i = 0; i < n; ++i)
      for (int j = 0; j < 2 * (n - i) - 1; ++j) {  // centroids of the n^2 small triangles
        const bool up = j % 2 == 0;
        const double u = (i + (up ? 1.0 : 2.0) / 3.0) / n, v = (j / 2 + (up ? 1.0 : 2.0) / 3.0) / n;
        use(Vec3{a + u * (d - a) + v * (b - a)}, area);
      }
  }
}

}  // namespace

double thinnest_m(const Formed& f) { return range_in_part(f, f.sheet.thickness_m).low; }

Finding thinnest_wall(const Formed& f, std::optional<double> limit_m) {
  const Range r = range_in_part(f, f.sheet.thickness_m);
  Finding finding{
      .id = "thinnest_wall", .question = "How thin does the wall get, and where?", .value = kNaN, .unit = "mm"};
  if (r.count == 0) {
    finding.verdict = Verdict::kDoubt;
    finding.why = "no node of the sheet lies inside the trim";
    return finding;
  }
  const double radius = f.detail.finest_radius_m[at(r.low_node)], element = f.sheet.element_m[at(r.low_node)];
  const bool coarse = radius < element;
  finding.value = 1e3 * r.low;
  finding.place_m = f.sheet.points_m[at(r.low_node)];
  finding.why =
      fmt::format("{:.0f} % of the bought {:.2f} mm is left there; half of the part is thicker than {:.2f} mm",
                  100.0 * r.low / f.sheet.bought_thickness_m, 1e3 * f.sheet.bought_thickness_m, 1e3 * r.median);
  finding.uncertainty = fmt::format("bought gauge +-{:.0f} % (common practice)", 100.0 * kGaugeTolerance);
  if (coarse)
    finding.uncertainty += fmt::format(
        "; elements of {:.2f} mm are coarser than the radius of {:.2f} mm the sheet follows "
        "there: a sharp corner is thinner still",
        1e3 * element, 1e3 * radius);
  if (limit_m) {
    finding.limit = 1e3 * *limit_m;
    finding.verdict = r.low < *limit_m                             ? Verdict::kFail
                      : r.low * (1.0 - kGaugeTolerance) < *limit_m ? Verdict::kDoubt
                                                                   : Verdict::kPass;
    if (finding.verdict == Verdict::kDoubt)
      finding.advice = "a sheet at the thin end of its gauge tolerance falls below the limit";
  }
  return finding;
}

Finding mean_wall(const Formed& f) {
  double bought_area = 0.0, area = 0.0;
  for (std::size_t e = 0; e < f.sheet.triangles.size(); ++e) {
    const auto& t = f.sheet.triangles[e];
    if (!f.in_part[at(t[0])] || !f.in_part[at(t[1])] || !f.in_part[at(t[2])]) continue;
    const mesh::Vec2 o = f.sheet.flat_m[at(t[0])], p = f.sheet.flat_m[at(t[1])] - o, q = f.sheet.flat_m[at(t[2])] - o;
    const double flat = 0.5 * std::fabs(p.x() * q.y() - p.y() * q.x());
    bought_area += flat;
    area += flat * f.sheet.bought_thickness_m / f.sheet.triangle_thickness_m[e];
  }
  Finding finding{.id = "mean_wall", .question = "How thick is the wall on average?", .value = kNaN, .unit = "mm"};
  if (!(area > 0.0)) {
    finding.verdict = Verdict::kDoubt;
    finding.why = "no element of the sheet lies inside the trim";
    return finding;
  }
  const double ratio = area / bought_area;
  finding.value = 1e3 * f.sheet.bought_thickness_m / ratio;
  finding.why = fmt::format("the part covers {:.1f} cm^2 with {:.1f} cm^2 of bought sheet: area draw ratio {:.2f}",
                            1e4 * area, 1e4 * bought_area, ratio);
  finding.uncertainty = "exact for the shape found; volume is kept";
  return finding;
}

Finding mould_touched(const Formed& f) {
  Finding finding{
      .id = "mould_touched", .question = "How much of the mould does the sheet reach?", .value = kNaN, .unit = "%"};
  const mesh::Nearest sheet({f.sheet.points_m, f.sheet.triangles});
  const double near_m = kOnMould * f.sheet.bought_thickness_m;
  double touched = 0.0, through = 0.0, all = 0.0, farthest = 0.0;
  each_mould_sample(f.mould, f.spec.element_m, [&](const Vec3& p, double area) {
    if (f.mould.has_platform() && p.z() < near_m) return;
    if (!mesh::contains(f.spec.outline, p.head<2>())) return;  // under and beyond the clamp
    all += area;
    const mesh::Closest c = sheet.closest(p);
    const bool cut = sheet.pseudonormal(c).dot(p - c.point_m) > 0.0;  // the sheet's upper side is the gas side
    if (cut || c.distance_m <= near_m) touched += area;
    if (cut && c.distance_m > near_m) through += area;
    if (!cut && c.distance_m > farthest) farthest = c.distance_m, finding.place_m = p;
  });
  if (!(all > 0.0)) {
    finding.verdict = Verdict::kDoubt;
    finding.why = "the mould has no surface the sheet could reach from above";
    return finding;
  }
  finding.value = 100.0 * touched / all;
  finding.why = fmt::format(
      "of {:.1f} cm^2 under the sheet that do not face down; the largest gap left is {:.2f} mm, at the place given",
      1e4 * all, 1e3 * farthest);
  finding.uncertainty = fmt::format(
      "shapes finer than the {:.2g} mm element are cut off by it: {:.0f} % of the mould stands through "
      "the sheet by more than {:.2g} mm; how they form is what the strokes below tell",
      1e3 * f.spec.element_m, 100.0 * through / all, 1e3 * near_m);
  return finding;
}

Finding finest_radius(const Formed& f) {
  const Range r = range_in_part(f, f.detail.finest_radius_m);
  Finding finding{.id = "finest_radius",
                  .question = "Which inner radius does the sheet follow, at its bluntest?",
                  .value = kNaN,
                  .unit = "mm"};
  if (r.count == 0) {
    finding.verdict = Verdict::kDoubt;
    finding.why = "the sheet touches nothing under pressure inside the trim";
    return finding;
  }
  finding.value = 1e3 * r.high;
  finding.place_m = f.sheet.points_m[at(r.high_node)];
  finding.why =
      fmt::format("half of the part follows {:.3g} mm or less, the best place {:.3g} mm", 1e3 * r.median, 1e3 * r.low);
  const int n = r.high_node;
  finding.uncertainty = modulus_band(f.spec, [&](double modulus_Pa) {
    return imprint::screened_radius_m(f.sheet, f.detail.chill, at(n), modulus_Pa);
  });
  finding.uncertainty += beside_hot(
      f, n, [&](double modulus_Pa) { return imprint::screened_radius_m(f.sheet, std::nullopt, at(n), modulus_Pa); });
  return finding;
}

std::vector<Finding> stroke_captures(const Formed& f) {
  struct Stroke {
    const char* id;
    std::size_t width;  // of imprint::kScreenedWidths_m
    const std::vector<double>& depth_m;
  };
  std::vector<Finding> findings;
  for (const Stroke& s : {Stroke{"capture_0.2mm", 0, f.detail.capture_depth_200um_m},
                          Stroke{"capture_0.5mm", 1, f.detail.capture_depth_500um_m},
                          Stroke{"capture_1.0mm", 2, f.detail.capture_depth_1000um_m}}) {
    const Range r = range_in_part(f, s.depth_m);
    Finding finding{.id = s.id,
                    .question = fmt::format("How deep does a stroke {:.1f} mm wide form?",
                                            1e3 * imprint::kScreenedWidths_m[s.width]),
                    .value = kNaN,
                    .unit = "mm",
                    .verdict = Verdict::kDoubt};
    if (r.count == 0) {
      finding.why = "the sheet touches nothing under pressure inside the trim";
    } else {
      finding.value = 1e3 * r.low;
      finding.place_m = f.sheet.points_m[at(r.low_node)];
      finding.why = fmt::format(
          "this is the shallowest place; half of the part reaches {:.3g} mm or more, the best place {:.3g} mm",
          1e3 * r.median, 1e3 * r.high);
      const int n = r.low_node;
      finding.uncertainty = modulus_band(f.spec, [&](double modulus_Pa) {
        return imprint::screened_depth_m(f.sheet, f.detail.chill, at(n), s.width, modulus_Pa);
      });
      finding.uncertainty += beside_hot(f, n, [&](double modulus_Pa) {
        return imprint::screened_depth_m(f.sheet, std::nullopt, at(n), s.width, modulus_Pa);
      });
      finding.uncertainty += "; for a straight stroke far from others that forms no deeper than half its width";
    }
    findings.push_back(finding);
  }
  return findings;
}

Finding tear(const Formed& f) {
  const Range r = range_in_part(f, f.sheet.stretch_1);
  Finding finding{.id = "tear",
                  .question = "How far is the sheet stretched, does it tear?",
                  .value = kNaN,
                  .unit = "-",
                  .verdict = Verdict::kDoubt};
  if (r.count == 0) {
    finding.why = "no node of the sheet lies inside the trim";
    return finding;
  }
  const auto most = std::max_element(f.sheet.stretch_1.begin(), f.sheet.stretch_1.end());
  const Vec3& waste = f.sheet.points_m[at(static_cast<int>(most - f.sheet.stretch_1.begin()))];
  finding.value = r.high;
  finding.place_m = f.sheet.points_m[at(r.high_node)];
  finding.why = "largest stretch in the part, length over bought length";
  if (*most > r.high)
    finding.why += fmt::format("; the waste around it reaches {:.2f} at ({:.1f}, {:.1f}, {:.1f}) mm", *most,
                               1e3 * waste.x(), 1e3 * waste.y(), 1e3 * waste.z());
  if (!f.spec.stretch_limit) {
    finding.uncertainty = "the case gives a law without a card, so no stretch limit is known";
    return finding;
  }
  const Estimate& limit = *f.spec.stretch_limit;
  finding.limit = limit.likely;
  finding.verdict = r.high < limit.low ? Verdict::kPass : r.high < limit.high ? Verdict::kDoubt : Verdict::kFail;
  finding.uncertainty = fmt::format("limit of the card between {:.1f} and {:.1f}, an estimate", limit.low, limit.high);
  if (finding.verdict != Verdict::kPass)
    finding.advice =
        "less draw here: round the edge, more draft, a lower clamp at the start, or a sheet that draws deeper";
  if (const ColdDraw cold = cold_draw(f); cold.node >= 0) {
    constexpr double kIceMelts_K = 273.15;
    if (cold.node == r.high_node && finding.verdict == Verdict::kPass) {
      finding.verdict = Verdict::kDoubt;
      finding.advice = "heat the sheet more, or bring the gas on sooner";
    }
    finding.uncertainty += fmt::format(
        "; it holds from {:.0f} °C on, where the forming window begins: {:.0f} % of the part was drawn colder, "
        "its most stretched place to {:.2f} at {:.0f} °C, where it tears sooner",
        f.draws_from_K - kIceMelts_K, 100.0 * cold.share, f.sheet.stretch_1[at(cold.node)], cold.drawn_K - kIceMelts_K);
  }
  return finding;
}

}  // namespace pellicle::checks
