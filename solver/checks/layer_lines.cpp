// Do the layers of the printed mould show on the part, where most, and which build direction would show them least?
#include "solver/checks/layer_lines.h"

#include "mesh/check.h"
#include "solver/checks/directions.h"
#include "solver/checks/place.h"
#include "solver/imprint/surface_stretch.h"
#include "solver/sheet/heat_layers.h"

#include <fmt/core.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace pellicle::checks {
namespace {

using mesh::Vec3;
using std::numbers::pi;

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();
constexpr double kDegree = pi / 180.0;

/// A sheet's triangle lies on the mould within kOnMould and within this angle: one that bridges a corner leans more.
const double kLeansLess = std::cos(30.0 * kDegree);
/// Layers up to this do not show on parts (common practice, no published source).
constexpr double kFineLayer_m = 0.05e-3;

const double kOneFace = std::cos(2.0 * kDegree);

constexpr int kLattice = 500;            // directions on the half sphere, some six degrees apart
constexpr std::size_t kSamples = 1000;   // places the search looks at
constexpr std::size_t kNormals = 12;     // commonest normals that are tried
constexpr double kSame = 0.5 * kDegree;  // apart: one normal
constexpr std::size_t kRefined = 5;
constexpr double kGain = 1e-6;  // of the layer height: no better by less

std::optional<Lying> lying_at(const forming::FormingResult& f, const mesh::Nearest& surface,
                              const std::vector<double>& width_m, int e) {
  const mesh::Triangle& t = f.triangles[at(e)];
  if (!f.touching[at(t[0])] || !f.touching[at(t[1])] || !f.touching[at(t[2])]) return std::nullopt;
  const Vec3 &a = f.points_m[at(t[0])], &b = f.points_m[at(t[1])], &c = f.points_m[at(t[2])];
  const mesh::Closest under = surface.closest((a + b + c) / 3.0, kOnMould * f.bought_thickness_m);
  if (under.triangle < 0) return std::nullopt;
  const Vec3 doubled = (b - a).cross(c - a), normal = doubled.normalized();
  if (!(normal.dot(surface.normal(under.triangle)) > kLeansLess)) return std::nullopt;
  const double pressure_Pa =
      (f.pressure_since_Pa[at(t[0])] + f.pressure_since_Pa[at(t[1])] + f.pressure_since_Pa[at(t[2])]) / 3.0;
  return Lying{.triangle = e,
               .mould_triangle = under.triangle,
               .place_m = under.point_m,
               .mould_normal = surface.normal(under.triangle),
               .face_width_m = width_m[at(under.triangle)],
               .sheet_normal = normal,
               .stretch = imprint::stretch_tensor(f, e),
               .area_m2 = 0.5 * doubled.norm(),
               .thickness_m = f.triangle_thickness_m[at(e)],
               .area_ratio = f.bought_thickness_m / f.triangle_thickness_m[at(e)],
               .pressure_Pa = pressure_Pa};
}

double open_share(const Lying& l, const imprint::Stair& stair) {
  return imprint::open_weight(0.5 * stair.period_m, l.chill->diffusivity_m2_s, l.chill->chilled.since_s);
}

imprint::PressedSheet at_moment(imprint::PressedSheet sheet, const imprint::Moment& m, double factor) {
  sheet.shear_modulus_Pa = factor * m.core_Pa;
  sheet.pressure_Pa = m.pressure_Pa;
  sheet.skin = {m.skin_m, factor * m.skin_Pa};
  return sheet;
}

double mould_face_m(const Lying& l, const Print& print, double modulus_Pa) {
  const auto pressed = pressing(l, print, modulus_Pa);
  if (!pressed) return 0.0;
  if (!l.chill) return imprint::mould_face_line_m(pressed->stair, pressed->sheet);
  const double factor = modulus_Pa / l.chill->reference_Pa;
  const auto of = [&](const imprint::Moment& m) {
    return imprint::mould_face_line_m(pressed->stair, at_moment(pressed->sheet, m, factor));
  };
  return of(l.chill->chilled) + open_share(l, pressed->stair) * (of(l.chill->open) - of(l.chill->chilled));
}

/// Angle between the mould's surface there and the build plane, 0 to 90 degrees.
double slope_deg(const Lying& lying, const Print& print) {
  return std::acos(std::min(1.0, std::fabs(lying.mould_normal.dot(print.build_direction)))) / kDegree;
}

/// Normals that most of the area shares: a direction has to meet a flat face exactly to have no step on it.
std::vector<Vec3> common_normals(const std::vector<Lying>& lying) {
  std::vector<char> taken(lying.size(), 0);
  std::vector<Vec3> normals;
  while (normals.size() < kNormals) {
    double most = 0.0;
    const Lying* best = nullptr;
    for (std::size_t i = 0; i < lying.size(); ++i) {
      if (taken[i]) continue;
      double shared = 0.0;
      for (std::size_t j = 0; j < lying.size(); ++j)
        if (!taken[j] && std::fabs(lying[j].mould_normal.dot(lying[i].mould_normal)) > std::cos(kSame))
          shared += lying[j].area_m2;
      if (shared > most) most = shared, best = &lying[i];
    }
    if (best == nullptr) break;
    normals.push_back(best->mould_normal);
    for (std::size_t j = 0; j < lying.size(); ++j)
      if (std::fabs(lying[j].mould_normal.dot(best->mould_normal)) > std::cos(kSame)) taken[j] = 1;
  }
  return normals;
}

Finding without_answer(Finding finding, const char* why) {
  finding.verdict = Verdict::kDoubt;
  finding.why = why;
  return finding;
}

std::string advice_for(const std::vector<Lying>& lying, const Print& print, double modulus_Pa) {
  const DirectionMeasure now = measure(lying, print, modulus_Pa);
  const DirectionMeasure best = best_direction(lying, print, modulus_Pa);
  std::string advice = "thinner layers, a coat of varnish on the mould or sanding it, or a thicker sheet";
  if (best.score_m() < 0.95 * now.score_m())
    return advice + fmt::format(
                        "; or build along {}: on average {:.2g} um instead of {:.2g} um, 95 % of the part "
                        "under {:.2g} um instead of {:.2g} um (supports and the base are not judged)",
                        direction_text(best.direction), 1e6 * best.mean_m, 1e6 * now.mean_m, 1e6 * best.high_m,
                        1e6 * now.high_m);
  return advice + "; no build direction does better by 5 %";
}

}  // namespace

std::vector<double> face_widths_m(const mesh::Nearest& surface) {
  const mesh::TriangleMesh& m = surface.mesh();
  const int n = static_cast<int>(m.triangles.size());
  const auto corner = [&](int t, int k) -> const Vec3& { return m.points_m[at(m.triangles[at(t)][at(k % 3)])]; };
  std::vector<int> seed_of(at(n), -1);
  std::vector<double> width_m(at(n), 0.0);
  for (int seed = 0; seed < n; ++seed) {
    if (seed_of[at(seed)] >= 0) continue;
    std::vector<int> face{seed};
    seed_of[at(seed)] = seed;
    for (std::size_t next = 0; next < face.size(); ++next)
      for (int k = 0; k < 3; ++k) {
        const int other = surface.across(face[next], k);
        if (other < 0 || seed_of[at(other)] >= 0) continue;
        if (!(surface.normal(other).dot(surface.normal(seed)) > kOneFace)) continue;
        seed_of[at(other)] = seed;
        face.push_back(other);
      }
    double area = 0.0, rim = 0.0;
    for (const int t : face) {
      area += 0.5 * (corner(t, 1) - corner(t, 0)).cross(corner(t, 2) - corner(t, 0)).norm();
      for (int k = 0; k < 3; ++k) {
        const int other = surface.across(t, k);
        if (other < 0 || seed_of[at(other)] != seed) rim += (corner(t, k + 1) - corner(t, k)).norm();
      }
    }
    // Nothing that stays within 2 degrees of one plane closes on itself: there is a rim, if not of a point.
    for (const int t : face) width_m[at(t)] = rim > 0.0 ? 2.0 * area / rim : 0.0;
  }
  return width_m;
}

std::vector<Lying> lying_on(const forming::FormingResult& f, const mould::RigidMould& mould) {
  if (!mould.surface()) return {};
  const std::vector<double> width_m = face_widths_m(*mould.surface());
  std::vector<std::optional<Lying>> found(f.triangles.size());
#pragma omp parallel for schedule(dynamic, 64)
  for (std::size_t e = 0; e < found.size(); ++e) found[e] = lying_at(f, *mould.surface(), width_m, static_cast<int>(e));
  std::vector<Lying> lying;
  for (const auto& l : found)
    if (l) lying.push_back(*l);
  return lying;
}

std::vector<Lying> lying_in_part(const Formed& f) {
  std::vector<Lying> all = lying_on(f.sheet, f.mould);
  std::erase_if(all, [&](const Lying& l) {
    const mesh::Triangle& t = f.sheet.triangles[at(l.triangle)];
    return !f.in_part[at(t[0])] || !f.in_part[at(t[1])] || !f.in_part[at(t[2])];
  });
  return all;
}

std::optional<Pressing> pressing(const Lying& l, const Print& print, double modulus_Pa) {
  const auto stair = imprint::stair(print.layer_height_m, l.mould_normal.dot(print.build_direction));
  if (!stair || stair->period_m > l.face_width_m) return std::nullopt;
  const Vec3 level = l.mould_normal.cross(print.build_direction);  // along the lines; not 0, for there are steps
  const Vec3 uphill = level.cross(l.sheet_normal).normalized();
  const double along = std::sqrt(uphill.dot(l.stretch * uphill));
  return Pressing{*stair,
                  {.thickness_m = l.thickness_m,
                   .shear_modulus_Pa = modulus_Pa,
                   .pressure_Pa = l.pressure_Pa,
                   .stretch_along = along,
                   .stretch_across = l.area_ratio / along}};
}

imprint::LayerLines lines_at(const Lying& l, const Print& print, double modulus_Pa) {
  const auto pressed = pressing(l, print, modulus_Pa);
  if (!pressed) return {};
  if (!l.chill) return imprint::layer_lines(pressed->stair, pressed->sheet);
  const double factor = modulus_Pa / l.chill->reference_Pa, share = open_share(l, pressed->stair);
  const auto chilled = imprint::layer_lines(pressed->stair, at_moment(pressed->sheet, l.chill->chilled, factor));
  const auto open = imprint::layer_lines(pressed->stair, at_moment(pressed->sheet, l.chill->open, factor));
  return {chilled.mould_face_m + share * (open.mould_face_m - chilled.mould_face_m),
          chilled.free_face_m + share * (open.free_face_m - chilled.free_face_m)};
}

void chill(std::vector<Lying>& lying, const forming::FormingResult& f, const HeatSpec& heat, const Print& print,
           double modulus_Pa) {
  if (lying.empty()) return;
  std::vector<double> touched_s, area_m2, thickness_m;  // mean of the corners; one nobody saw land has just landed
  for (const Lying& l : lying) {
    double sum_s = 0.0;
    for (const int i : f.triangles[at(l.triangle)])
      sum_s += std::isnan(f.touched_s[at(i)]) ? f.time_s : f.touched_s[at(i)];
    touched_s.push_back(sum_s / 3.0);
    area_m2.push_back(l.area_m2), thickness_m.push_back(l.thickness_m);
  }
  for (const imprint::TouchClass& like : imprint::touch_classes(touched_s, area_m2, thickness_m)) {
    double area = 0.0, start_K = 0.0;
    for (const std::size_t i : like.members) {
      area += area_m2[i];
      for (const int node : f.triangles[at(lying[i].triangle)])
        start_K += area_m2[i] / 3.0 * (f.heat ? sheet::start_mean_K(*f.heat, node) : heat.start_K);
    }
    HeatSpec here = heat;
    here.start_K = start_K / area;
    const auto moments = imprint::moments_after(here, f, like.touched_s, like.thickness_m);
    if (!moments) continue;
    const auto most = [&](const std::vector<imprint::Moment>& of) {
      return imprint::strongest(of, like.thickness_m, print.layer_height_m);
    };
    const ChilledLines chilled{most(moments->chilled), most(moments->open), moments->diffusivity_m2_s, modulus_Pa};
    for (const std::size_t i : like.members) lying[i].chill = chilled;
  }
}

LayerLineField layer_line_field(const forming::FormingResult& f, const mould::RigidMould& mould, const Print& print,
                                double modulus_Pa, const std::optional<HeatSpec>& heat) {
  std::vector<Lying> lying = lying_on(f, mould);
  if (heat) chill(lying, f, *heat, print, modulus_Pa);
  std::vector<imprint::LayerLines> lines(lying.size());
#pragma omp parallel for schedule(dynamic, 64)
  for (std::size_t i = 0; i < lying.size(); ++i) lines[i] = lines_at(lying[i], print, modulus_Pa);
  const std::size_t n = f.points_m.size();
  LayerLineField field{std::vector<double>(n, 0.0), std::vector<double>(n, 0.0)};
  std::vector<double> area_m2(n, 0.0);
  for (std::size_t i = 0; i < lying.size(); ++i)
    for (const int node : f.triangles[at(lying[i].triangle)]) {
      area_m2[at(node)] += lying[i].area_m2;
      field.mould_face_m[at(node)] += lying[i].area_m2 * lines[i].mould_face_m;
      field.free_face_m[at(node)] += lying[i].area_m2 * lines[i].free_face_m;
    }
  for (std::size_t i = 0; i < n; ++i) {
    const bool none = !(area_m2[i] > 0.0);
    field.mould_face_m[i] = none ? kNaN : field.mould_face_m[i] / area_m2[i];
    field.free_face_m[i] = none ? kNaN : field.free_face_m[i] / area_m2[i];
  }
  return field;
}

DirectionMeasure measure(const std::vector<Lying>& lying, const Print& print, double modulus_Pa) {
  ensure(!lying.empty(), "a build direction is measured on a part that lies on the mould");
  std::vector<std::pair<double, double>> height_area;
  double area = 0.0, sum = 0.0;
  for (const Lying& l : lying) {
    height_area.emplace_back(mould_face_m(l, print, modulus_Pa), l.area_m2);
    sum += height_area.back().first * l.area_m2;
    area += l.area_m2;
  }
  std::sort(height_area.begin(), height_area.end());
  double below = 0.0, high = 0.0;
  for (const auto& [height, own] : height_area) {
    high = height;
    if ((below += own) >= 0.95 * area) break;
  }
  return {print.build_direction, sum / area, high};
}

DirectionMeasure best_direction(const std::vector<Lying>& lying, const Print& print, double modulus_Pa) {
  const DirectionMeasure now = measure(lying, print, modulus_Pa);  // makes the table, outside the loops
  const std::vector<Lying> some = sampled_by_area(lying, kSamples);
  const auto print_along = [&](const Vec3& d) { return Print{print.layer_height_m, d}; };
  const auto score = [&](const Vec3& d) { return measure(some, print_along(d), modulus_Pa).score_m(); };

  std::vector<Vec3> tried{Vec3::UnitX(), Vec3::UnitY(), Vec3::UnitZ()};
  for (const Vec3& n : common_normals(some)) tried.push_back(n);
  const std::size_t named = tried.size();
  for (const Vec3& d : half_sphere(kLattice)) tried.push_back(d);
  std::vector<double> scores(tried.size());
#pragma omp parallel for schedule(dynamic, 8)
  for (std::size_t i = 0; i < tried.size(); ++i) scores[i] = score(tried[i]);

  const double gain = kGain * print.layer_height_m;
  std::vector<std::size_t> order(tried.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return scores[a] < scores[b]; });
  std::vector<Vec3> last(tried.begin(), tried.begin() + static_cast<std::ptrdiff_t>(named));
  for (std::size_t i = 0; i < kRefined; ++i) last.push_back(refined(tried[order[i]], gain, score));

  DirectionMeasure best = now;
  for (const Vec3& d : last) {
    const DirectionMeasure other = measure(lying, print_along(d), modulus_Pa);
    if (other.score_m() < best.score_m() - gain) best = other;
  }
  if (best.direction.z() < 0.0) best.direction = -best.direction;
  return best;
}

Finding layer_lines(const Formed& f, const std::optional<Print>& print, std::optional<double> limit_m,
                    const std::optional<HeatSpec>& heat) {
  Finding finding{.id = "layer_lines",
                  .question = "Do the print's layer lines show, on the face that met the mould?",
                  .value = kNaN,
                  .unit = "um"};
  if (limit_m) finding.limit = 1e6 * *limit_m;
  if (!print) return without_answer(finding, "the case does not tell mould.layer_height");
  std::vector<Lying> lying = lying_in_part(f);
  if (lying.empty()) return without_answer(finding, "the sheet lies nowhere on the mould inside the trim");

  const double modulus_Pa = sheet::small_strain_shear_modulus_Pa(f.spec.law);
  if (heat) chill(lying, f.sheet, *heat, *print, modulus_Pa);
  const bool chilled = std::any_of(lying.begin(), lying.end(), [](const Lying& l) { return l.chill.has_value(); });
  const Lying* worst = &lying.front();
  double highest_m = -1.0;
  for (const Lying& l : lying)
    if (const double m = mould_face_m(l, *print, modulus_Pa); m > highest_m) highest_m = m, worst = &l;
  const auto highest_at = [&](double modulus) {
    double most = 0.0;
    for (const Lying& l : lying) most = std::max(most, mould_face_m(l, *print, modulus));
    return most;
  };
  const double softest_m = f.spec.shear_modulus_Pa ? highest_at(f.spec.shear_modulus_Pa->low) : highest_m;
  const double stiffest_m = f.spec.shear_modulus_Pa ? highest_at(f.spec.shear_modulus_Pa->high) : highest_m;

  Lying hot = *worst;
  hot.chill.reset();
  const double unchilled_m = mould_face_m(hot, *print, modulus_Pa);
  finding.value = 1e6 * highest_m;
  const mesh::Triangle& t = f.sheet.triangles[at(worst->triangle)];
  if (highest_m > 0.0)
    finding.place_m = (f.sheet.points_m[at(t[0])] + f.sheet.points_m[at(t[1])] + f.sheet.points_m[at(t[2])]) / 3.0;
  const DirectionMeasure now = measure(lying, *print, modulus_Pa);
  const auto pressed = pressing(*worst, *print, modulus_Pa);
  finding.why =
      pressed
          ? fmt::format(
                "layers of {:.3g} mm on a surface {:.0f} degrees from the build plane are steps {:.2g} um "
                "high every {:.2g} mm; the free face shows {:.2g} um of them; on average over the part the "
                "mould's face shows {:.2g} um",
                1e3 * print->layer_height_m, slope_deg(*worst, *print), 1e6 * pressed->stair.height_m,
                1e3 * pressed->stair.period_m, 1e6 * lines_at(*worst, *print, modulus_Pa).free_face_m, 1e6 * now.mean_m)
          : "all of the part lies on surfaces that are flat or upright in the print, or narrower than a step is long";
  finding.uncertainty = fmt::format(
      "{}{}; upright walls show a few micrometres of ribs that are not counted",
      f.spec.shear_modulus_Pa ? fmt::format("the hot sheet's stiffness is known only between {:.2g} and {:.2g} MPa "
                                            "(estimate): {:.3g} to {:.3g} um; ",
                                            1e-6 * f.spec.shear_modulus_Pa->low, 1e-6 * f.spec.shear_modulus_Pa->high,
                                            1e6 * stiffest_m, 1e6 * softest_m)
                              : "",
      chilled && worst->chill
          ? fmt::format("with the skin that the mould chills: {:.2g} mm of {:.3g} MPa where they are "
                        "highest; without it {:.3g} um",
                        1e3 * worst->chill->chilled.skin_m, 1e-6 * worst->chill->chilled.skin_Pa, 1e6 * unchilled_m)
          : "upper end: the sheet is taken as hot all through, a chilled skin shows less");
  if (limit_m) {
    finding.verdict = softest_m <= *limit_m ? Verdict::kPass : stiffest_m > *limit_m ? Verdict::kFail : Verdict::kDoubt;
  } else if (highest_m > 0.0 && print->layer_height_m > kFineLayer_m * (1.0 + 1e-9)) {
    finding.verdict = Verdict::kDoubt;
    finding.why += "; the case sets no limits.max_layer_line; layers up to 0.05 mm do not show (common practice)";
  }
  if (finding.verdict != Verdict::kPass) finding.advice = advice_for(lying, *print, modulus_Pa);
  return finding;
}

}  // namespace pellicle::checks
