// What is the finite-strain section across one place of a relief, and what does it say?
#include "solver/imprint/capture_section.h"

#include "mesh/check.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace pellicle::imprint {
namespace {

using mesh::HeightMap;
using Points = std::vector<ProfilePoint>;

constexpr double kAlike = 0.03;
constexpr double kCoarser = 0.7;     // elements a side of a second attempt: half again the error of the mesh
constexpr double kUpright = 4.3;     // cells: mean heights of cells, read between their middles, spread a wall so far
constexpr double kEdgeCells = 0.25;  // radius of edges: finer cannot be seen on the map
constexpr double kThinned = 1e-2;    // of the relief
constexpr double kLevel = 0.01;      // of the relief: what is nearer to its top or floor is level with it

/// Where heights cross a level, rising x.
std::vector<double> crossings_m(const Points& points, double level_m) {
  std::vector<double> at_m;
  for (std::size_t k = 0; k + 1 < points.size(); ++k) {
    const auto &a = points[k], &b = points[k + 1];
    if ((a.z_m > level_m) != (b.z_m > level_m))
      at_m.push_back(a.x_m + (level_m - a.z_m) / (b.z_m - a.z_m) * (b.x_m - a.x_m));
  }
  return at_m;
}

struct Extent {
  double low_m, high_m, mean_m;
};
Extent extent_of(const Points& points) {
  Extent e{points.front().z_m, points.front().z_m, 0.0};
  double area = 0.0;
  for (std::size_t k = 0; k < points.size(); ++k) {
    e.low_m = std::min(e.low_m, points[k].z_m), e.high_m = std::max(e.high_m, points[k].z_m);
    if (k > 0) area += 0.5 * (points[k].z_m + points[k - 1].z_m) * (points[k].x_m - points[k - 1].x_m);
  }
  e.mean_m = area / (points.back().x_m - points.front().x_m);
  return e;
}

/// One way out from the middle: ends in the middle of the next part like the one it begins in, or land_m beyond it.
template <class Height>
Points way_out(const Height& height_m, double half_m, double level_m, double land_m, double step_m) {
  const bool above = height_m(0.0) > level_m;
  Points points;
  double end = half_m + land_m, entered = -1.0;
  for (int k = 0;; ++k) {
    const double t = k * step_m;
    const double z = height_m(t);
    const bool inside = (z > level_m) == above;
    if (t > half_m + 2.0 * step_m && entered < 0.0 && inside && t < half_m + land_m) {
      entered = t;
      end = entered + land_m;
    }
    if (entered >= 0.0 && !inside) end = std::min(end, 0.5 * (entered + t));
    points.push_back({t, z});
    if (t >= end) break;
  }
  while (points.size() > 2 && points.back().x_m > end + 0.5 * step_m) points.pop_back();
  return points;
}

bool are_mirror_images(const Points& a, const Points& b, double level_m, double width_m) {
  if (std::fabs(a.back().x_m - b.back().x_m) > kAlike * a.back().x_m) return false;
  const auto p = crossings_m(a, level_m), q = crossings_m(b, level_m);
  if (p.size() != q.size()) return false;
  for (std::size_t k = 0; k < p.size(); ++k)
    if (std::fabs(p[k] - q[k]) > kAlike * width_m) return false;
  const Extent e = extent_of(a), f = extent_of(b);
  const double relief = std::max(e.high_m, f.high_m) - std::min(e.low_m, f.low_m);
  return std::fabs(e.mean_m - f.mean_m) < kAlike * relief;
}

/// Walls that rise within `steepest_m` made upright.
Points with_upright_walls(const Points& points, double relief_m, double steepest_m) {
  constexpr double kPart = 0.5, kFlat = 0.05;  // of the relief: a wall; a slope that still belongs to it, over a wall
  Points out;
  for (std::size_t k = 0; k < points.size();) {
    const auto slope = [&](std::size_t i) {
      return (points[i + 1].z_m - points[i].z_m) / (points[i + 1].x_m - points[i].x_m);
    };
    const double least = kFlat * relief_m / steepest_m;
    std::size_t end = k;
    while (end + 1 < points.size() && std::fabs(slope(end)) > least && slope(end) * slope(k) > 0.0) ++end;
    const double rise = points[end].z_m - points[k].z_m, length = points[end].x_m - points[k].x_m;
    if (end > k && std::fabs(rise) > kPart * relief_m && length <= steepest_m) {
      const Points wall(points.begin() + static_cast<std::ptrdiff_t>(k),
                        points.begin() + static_cast<std::ptrdiff_t>(end) + 1);
      const double x = crossings_m(wall, points[k].z_m + 0.5 * rise).front();
      out.push_back(points[k]);
      out.push_back({x, points[k].z_m});
      out.push_back({x, points[end].z_m});
      k = end;
    } else if (end > k) {
      const auto from = points.begin();
      out.insert(out.end(), from + static_cast<std::ptrdiff_t>(k), from + static_cast<std::ptrdiff_t>(end));
      k = end;
    } else {
      out.push_back(points[k++]);
    }
  }
  return out;
}

/// Points that are needed to keep within a tolerance in height.
Points thinned(const Points& points, double tolerance_m) {
  std::vector<char> keep(points.size());
  keep.front() = keep.back() = true;
  std::vector<std::pair<std::size_t, std::size_t>> open{{0, points.size() - 1}};
  while (!open.empty()) {  // Ramer 1972, Douglas and Peucker 1973, in height alone
    const auto [a, b] = open.back();
    open.pop_back();
    std::size_t worst = a;
    double most = tolerance_m;
    const double length = points[b].x_m - points[a].x_m;
    for (std::size_t k = a + 1; k < b; ++k) {
      const double t = length > 0.0 ? (points[k].x_m - points[a].x_m) / length : 0.0;
      const double off = std::fabs(points[k].z_m - (1.0 - t) * points[a].z_m - t * points[b].z_m);
      if (off > most) most = off, worst = k;
    }
    if (worst == a) continue;
    keep[worst] = true;
    open.emplace_back(a, worst);
    open.emplace_back(worst, b);
  }
  Points out;
  for (std::size_t k = 0; k < points.size(); ++k)
    if (keep[k]) out.push_back(points[k]);
  return out;
}

/// Straight between the nodes of the underside.
double between(const SectionResult& result, double x_m, const std::vector<double>& value) {
  const auto& face = result.underside;
  const double x = std::max(x_m, face.front().x_m);
  for (std::size_t k = 1; k < face.size(); ++k) {
    if (face[k].x_m < x) continue;
    const double length = face[k].x_m - face[k - 1].x_m;
    const double t = length > 0.0 ? std::clamp((x - face[k - 1].x_m) / length, 0.0, 1.0) : 1.0;
    return (1.0 - t) * value[k - 1] + t * value[k];
  }
  return value.back();
}

}  // namespace

SectionSheet section_sheet(const LocalState& s, const Ways& stretch) {
  SectionSheet sheet{s.thickness_m, s.shear_modulus_Pa, stretch.across, stretch.along, {}};
  if (s.has_skin()) sheet.skin = SectionSkin{s.skin_thickness_m, s.skin_shear_modulus_Pa, !s.skin_stretched};
  return sheet;
}

std::optional<SectionResult> solve_touch(const CrossSection& section, const LocalState& state, SectionTouch touch,
                                         std::string& failed) {
  SectionTask task;
  task.sheet = section_sheet(state, section.stretch);
  task.profile = section.profile;
  task.plane = section.plane;
  task.ends = section.ends;
  task.touch = touch;
  task.pressure_Pa = state.pressure_Pa;
  // Where one mesh finds no rest, when the sheet first lands on a face all at once, a coarser one often does.
  for (const double refinement : {1.0, kCoarser}) {
    task.refinement = refinement;
    try {
      return solve_section(task);
    } catch (const Error& e) {
      if (e.fault().kind != Fault::Kind::kSolution) throw;
      if (failed.empty()) failed = e.what();
    }
  }
  return {};
}

std::vector<BothTouches> solve_sections(const std::vector<CrossSection>& sections, const LocalState& state,
                                        const Stop& stop) {
  std::vector<BothTouches> out(sections.size());
  std::exception_ptr broken;
#pragma omp parallel for schedule(dynamic, 1)
  for (std::size_t k = 0; k < 2 * sections.size(); ++k) {
    BothTouches& both = out[k / 2];
    try {
      if (stop()) throw Stopped{};
      if (k % 2 == 0) {
        both.stick = solve_touch(sections[k / 2], state, SectionTouch::kStick, both.stick_failed);
      } else {
        both.slip = solve_touch(sections[k / 2], state, SectionTouch::kSlip, both.slip_failed);
      }
    } catch (...) {
#pragma omp critical
      broken = std::current_exception();
    }
  }
  if (broken) std::rethrow_exception(broken);
  return out;
}

double pressure_for_Pa(const CrossSection& section, const LocalState& state, double depth_m, double guess_Pa,
                       double wanted_m, const std::function<double(const SectionResult&)>& read_m) {
  constexpr int kMore = 2;
  constexpr double kNear = 0.02, kFarthest = 2.0;  // a secant is not trusted with more than a factor
  double before_Pa = state.pressure_Pa, before_m = depth_m;
  LocalState at_guess = state;
  for (int k = 0; k < kMore; ++k) {
    at_guess.pressure_Pa = guess_Pa;
    std::string failed;
    const auto result = solve_touch(section, at_guess, SectionTouch::kStick, failed);
    if (!result) return guess_Pa;
    const double found_m = read_m(*result);
    if (std::fabs(found_m - wanted_m) <= kNear * wanted_m) return guess_Pa;
    const double slope = std::log(found_m / before_m) / std::log(guess_Pa / before_Pa);
    if (!(slope > 0.0)) return guess_Pa;
    before_Pa = guess_Pa, before_m = found_m;
    guess_Pa *= std::clamp(std::pow(wanted_m / found_m, 1.0 / slope), 1.0 / kFarthest, kFarthest);
  }
  return guess_Pa;
}

double height_on(const Points& points, double x_m) {
  if (x_m <= points.front().x_m) return points.front().z_m;
  for (std::size_t k = 1; k < points.size(); ++k) {
    if (points[k].x_m < x_m) continue;
    const double length = points[k].x_m - points[k - 1].x_m;
    if (!(length > 0.0)) return std::min(points[k].z_m, points[k - 1].z_m);
    const double t = (x_m - points[k - 1].x_m) / length;
    return (1.0 - t) * points[k - 1].z_m + t * points[k].z_m;
  }
  return points.back().z_m;
}

SectionProfile profile_off_map(Points points, double spacing_m) {
  const Extent e = extent_of(points);
  const double relief = e.high_m - e.low_m, outermost_m = points.back().z_m;
  const auto level = [&](double z_m) {
    for (ProfilePoint& p : points)
      if (std::fabs(p.z_m - z_m) < kLevel * relief) p.z_m = z_m;
  };
  // Oblique to the cells a wall has a faint tail, and land that slopes by it would carry the sheet at one end. A dome
  // has no walls, and its top stays round.
  level(outermost_m);
  if (with_upright_walls(points, relief, kUpright * spacing_m).size() != points.size()) {
    level(e.low_m);
    level(e.high_m);
  }
  return {thinned(with_upright_walls(points, relief, kUpright * spacing_m), kThinned * relief), kEdgeCells * spacing_m,
          0.0};
}

CrossSection across(const HeightMap& map, const Crossing& place, double level_m, double land_m, const Ways& stretch) {
  constexpr double kSteps = 0.25;  // cells
  const double step = kSteps * map.spacing_m, half = 0.5 * place.width_m;
  CrossSection section;
  section.stretch = stretch;
  if (std::isnan(place.run_rad)) {
    const auto mean = [&](double r) {
      constexpr int kWays = 48;
      double sum = 0.0;
      for (int k = 0; k < kWays; ++k) {
        const double angle = 2.0 * std::numbers::pi * k / kWays;
        sum += height_at(map, place.x_m + r * std::cos(angle), place.y_m + r * std::sin(angle));
      }
      return sum / kWays;
    };
    section.plane = SectionPlane::kRound;
    section.profile = profile_off_map(way_out(mean, half, level_m, land_m, step), map.spacing_m);
    return section;
  }
  const double c = -std::sin(place.run_rad), s = std::cos(place.run_rad);
  const auto ahead = [&](double t) { return height_at(map, place.x_m + t * c, place.y_m + t * s); };
  const auto back = [&](double t) { return height_at(map, place.x_m - t * c, place.y_m - t * s); };
  Points right = way_out(ahead, half, level_m, land_m, step), left = way_out(back, half, level_m, land_m, step);
  if (!are_mirror_images(right, left, level_m, place.width_m)) {
    Points whole;
    for (auto p = left.rbegin(); p + 1 != left.rend(); ++p) whole.push_back({-p->x_m, p->z_m});
    whole.insert(whole.end(), right.begin(), right.end());
    right = std::move(whole);
  }
  section.profile = profile_off_map(right, map.spacing_m);
  return section;
}

bool alike(const CrossSection& a, const CrossSection& b) {
  if (a.plane != b.plane) return false;
  const auto near = [](double p, double q, double scale) { return std::fabs(p - q) <= kAlike * scale; };
  const Points &p = a.profile.points, &q = b.profile.points;
  const Extent e = extent_of(p), f = extent_of(q);
  const double relief = e.high_m - e.low_m;
  if (!near(a.stretch.across, b.stretch.across, 1.0) || !near(a.stretch.along, b.stretch.along, 1.0)) return false;
  if (!near(p.front().x_m, q.front().x_m, p.back().x_m) || !near(p.back().x_m, q.back().x_m, p.back().x_m))
    return false;
  if (!near(relief, f.high_m - f.low_m, relief) || !near(e.mean_m - e.low_m, f.mean_m - f.low_m, relief)) return false;
  const double half_p = 0.5 * (e.low_m + e.high_m), half_q = 0.5 * (f.low_m + f.high_m);
  if ((height_on(p, 0.0) > half_p) != (height_on(q, 0.0) > half_q)) return false;  // a rib is no groove
  const auto at_p = crossings_m(p, half_p), at_q = crossings_m(q, half_q);
  if (at_p.size() != at_q.size()) return false;
  for (std::size_t k = 0; k < at_p.size(); ++k)
    if (!near(at_p[k], at_q[k], 2.0 * std::fabs(at_p.front()))) return false;
  return true;
}

double underside_m(const SectionResult& result, double x_m) {
  std::vector<double> z;
  z.reserve(result.underside.size());
  for (const ProfilePoint& p : result.underside) z.push_back(p.z_m);
  return between(result, x_m, z);
}

double contact_pressure_Pa(const SectionResult& result, double x_m) {
  return between(result, x_m, result.contact_pressure_Pa);
}

}  // namespace pellicle::imprint
