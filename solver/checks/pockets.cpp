// Is air shut in under the formed sheet, do the vents mark the part or print shut, and where should there be one?
#include "solver/checks/pockets.h"

#include "solver/checks/place.h"
#include "solver/imprint/screening.h"
#include "solver/sheet/polymer.h"

#include <fmt/core.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <numeric>
#include <string>
#include <utility>

namespace pellicle::checks {
namespace {

using mesh::Vec2;
using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr double kInfinity = std::numeric_limits<double>::infinity();

/// Held off by less than this share nobody sees a bubble.
constexpr double kHardlySeen = 0.50;
/// Air at less than this share of the pressure that pressed the sheet does not hold it off: its own stiffness does.
constexpr double kPushes = 0.05;
/// A hole under 0.5 mm leaves no mark (textbook, Kalpakjian's wording) ...
constexpr double kNoMark_m = 0.5e-3;
/// ... and may close in the print (shop guides).
constexpr double kPrintsOpen_m = 0.5e-3;
/// Of a slot, as engraved strokes are made (shop guides: 0.4 mm).
constexpr double kSlotPrintsOpen_m = 0.4e-3;
/// Diameters are proposed in steps of a drill.
constexpr double kDrillStep_m = 0.05e-3;
/// A part of the sheet that is cut off counts from so many squares of the element on: less is noise of the mesh.
constexpr double kLeastSquares = 10.0;
/// It must also stay cut off for so much of the time in which the sheet comes down: a sheet that lands flat does not
/// touch everywhere in one step.
constexpr double kLeastWhile = 0.01;

std::string place_text(const Vec2& p) { return fmt::format("({:.1f}, {:.1f}) mm", 1e3 * p.x(), 1e3 * p.y()); }

/// A hole in words, and how to make it if the printer cannot.
std::string hole_text(double diameter_m) {
  return fmt::format("{:.2g} mm{}", 1e3 * diameter_m,
                     diameter_m < kPrintsOpen_m * (1.0 - 1e-9) ? ", drilled or as a printed slot of that width" : "");
}

bool may_print_shut(const air::Hole& hole) {
  return hole.diameter_m < (hole.is_slot() ? kSlotPrintsOpen_m : kPrintsOpen_m) * (1.0 - 1e-9);
}

/// A slot is a stroke as long as it likes, Phi p w/(4 G), of a sheet not stretched (docs/theory/screening.md).
double mark_m(const air::Hole& hole, double thickness_m, double pressure_Pa, double shear_modulus_Pa) {
  if (!hole.is_slot()) return vent_mark_m(hole.diameter_m, thickness_m, pressure_Pa, shear_modulus_Pa);
  return imprint::stroke_depth_m(hole.diameter_m, thickness_m, 1.0, 1.0, shear_modulus_Pa, pressure_Pa);
}

/// "0.4 mm hole", "0.4 x 5 mm slot"
std::string opening_text(const air::Hole& hole) {
  return hole.is_slot() ? fmt::format("{:.2g} x {:.2g} mm slot", 1e3 * hole.diameter_m, 1e3 * hole.slot_m)
                        : fmt::format("{:.2g} mm hole", 1e3 * hole.diameter_m);
}

int nearest_node(const forming::FormingResult& r, const Vec2& p) {
  int best = 0;
  for (int i = 1; i < static_cast<int>(r.points_m.size()); ++i)
    if ((r.points_m[at(i)].head<2>() - p).squaredNorm() < (r.points_m[at(best)].head<2>() - p).squaredNorm()) best = i;
  return best;
}

std::vector<double> node_areas_m2(const forming::FormingResult& r) {
  std::vector<double> area_m2(r.points_m.size(), 0.0);
  for (const mesh::Triangle& t : r.triangles) {
    const Vec3 &a = r.points_m[at(t[0])], &b = r.points_m[at(t[1])], &c = r.points_m[at(t[2])];
    for (const int i : t) area_m2[at(i)] += (b - a).cross(c - a).norm() / 6.0;
  }
  return area_m2;
}

/// What pushes the sheet into a hole at the node.
double push_Pa(const forming::FormingResult& r, int node) {
  return r.touching[at(node)] ? std::max(r.pressure_since_Pa[at(node)], r.pressure_Pa) : r.pressure_Pa;
}

// --- places to vent: parts of the sheet that were cut off, found backwards in time ---

struct CutOff {
  int last;        ///< node that touched last
  double area_m2;  ///< when it was cut off
};
/// Nodes that had not yet touched at some moment and hung together then.
struct Part {
  double area_m2 = 0.0;
  bool open = false;            ///< its air was free
  int last = -1;                ///< to touch, of a part that has not come apart since
  std::vector<CutOff> cut_off;  ///< else what it came apart into
  void add_to(std::vector<CutOff>& all) const {
    if (cut_off.empty()) all.push_back({last, area_m2});
    all.insert(all.end(), cut_off.begin(), cut_off.end());
  }
};

struct Neighbours {
  std::vector<int> first, other;
  explicit Neighbours(const forming::FormingResult& r) : first(r.points_m.size() + 1, 0) {
    for (const mesh::Triangle& t : r.triangles)
      for (const int i : t) first[at(i) + 1] += 2;
    std::partial_sum(first.begin(), first.end(), first.begin());
    other.resize(at(first.back()));
    std::vector<int> next(first.begin(), first.end() - 1);
    for (const mesh::Triangle& t : r.triangles)
      for (std::size_t k = 0; k < 3; ++k)
        for (const std::size_t step : {1U, 2U}) other[at(next[at(t[k])]++)] = t[(k + step) % 3];
  }
};

/// Node areas, and whether the air at each is free whatever the sheet does: over a platform that leaks, over nothing,
/// at a vent, or at a rim that stands clear by more than a thickness.
struct Ground {
  std::vector<double> area_m2;
  std::vector<char> free;
};
Ground ground_under(const Formed& f, const std::vector<VentAtEnd>& vents, bool platform_leaks) {
  const forming::FormingResult& r = f.sheet;
  Ground g{node_areas_m2(r), std::vector<char>(r.points_m.size(), 0)};
  for (std::size_t i = 0; i < r.points_m.size(); ++i) {
    const auto top = f.mould.top_m(r.points_m[i].x(), r.points_m[i].y());
    const bool bare = !top || (platform_leaks && f.mould.has_platform() && *top <= 0.0);
    g.free[i] = bare || (r.on_rim[i] && r.points_m[i].z() > *top + r.bought_thickness_m);
  }
  for (const VentAtEnd& v : vents) g.free[at(nearest_node(r, v.at_m))] = 1;
  return g;
}

/// When each node touched, infinite for what never did, and what makes a part worth a vent.
struct History {
  std::vector<double> touched_s;
  std::vector<char> hardly_off;  ///< it never came down, and nobody sees that
  double least_m2, least_s = 0.0, first_s = kInfinity;

  History(const forming::FormingResult& r, const Neighbours& around, const std::vector<char>& free, double smallest_m2)
      : touched_s(r.touched_s), least_m2(smallest_m2) {
    double last_s = 0.0;
    for (double& t : touched_s) {
      if (std::isnan(t)) t = kInfinity;
      first_s = std::min(first_s, t);
      if (t < kInfinity) last_s = std::max(last_s, t);
    }
    hardly_off.assign(touched_s.size(), 0);
    if (!(first_s < kInfinity)) return;
    least_s = kLeastWhile * (last_s - first_s);
    // A rim that is down holds from the start, though no contact is asked of it.
    std::vector<int> left;
    for (std::size_t i = 0; i < touched_s.size(); ++i) {
      if (touched_s[i] < kInfinity) continue;
      if (r.on_rim[i] && !free[i])
        touched_s[i] = first_s;
      else if (r.gap_m[i] < kHardlySeen * r.bought_thickness_m)
        left.push_back(static_cast<int>(i)), hardly_off[i] = 1;
    }
    // What stands off so little that nobody sees it, as in the sharp corner of a floor, has come down with the last of
    // what touches around it, ring by ring.
    while (!left.empty()) {
      std::vector<std::pair<int, double>> ring;
      for (const int i : left) {
        double around_s = -kInfinity;
        for (int k = around.first[at(i)]; k < around.first[at(i) + 1]; ++k)
          if (const double t = touched_s[at(around.other[at(k)])]; t < kInfinity) around_s = std::max(around_s, t);
        if (around_s > -kInfinity) ring.emplace_back(i, around_s);
      }
      if (ring.empty()) return;
      for (const auto& [i, t] : ring) touched_s[at(i)] = t;
      std::erase_if(left, [&](int i) { return touched_s[at(i)] < kInfinity; });
    }
  }
  /// A part that is cut off from time_s on.
  bool counts(const Part& p, double time_s) const {
    const double last_s = touched_s[at(p.last)];
    return p.area_m2 >= least_m2 && last_s > time_s && !(last_s - time_s <= least_s);
  }
};

/// Later first; of those that touched at one time, and of what never touched, the widest gap first.
std::vector<int> by_touch(const std::vector<double>& touched_s, const std::vector<double>& gap_m) {
  std::vector<int> order(touched_s.size());
  std::iota(order.begin(), order.end(), 0);
  const auto key = [&](int i) { return std::pair(touched_s[at(i)], std::isnan(gap_m[at(i)]) ? 0.0 : gap_m[at(i)]); };
  std::stable_sort(order.begin(), order.end(), [&](int i, int j) { return key(i) > key(j); });
  return order;
}

/// Two parts meet, seen backwards: from then on each was cut off from the other. What counts for nothing then has no
/// say. Parts whose other side had free air are `done`.
void meet(Part& a, Part& b, const History& history, double time_s, std::vector<CutOff>& done) {
  const bool a_counts = history.counts(a, time_s), b_counts = history.counts(b, time_s);
  std::vector<CutOff> both;
  if (a.open || b.open) {
    if (!a.open && a_counts) a.add_to(done);
    if (!b.open && b_counts) b.add_to(done);
  } else if (a_counts && b_counts) {
    a.add_to(both), b.add_to(both);
  } else {
    const Part& counts = b_counts ? b : a;
    both = counts.cut_off;
    a.last = counts.last;
  }
  a.cut_off = std::move(both);
  a.area_m2 += b.area_m2;
  a.open = a.open || b.open;
  b = {};
}

}  // namespace

std::vector<PocketSeen> pockets_seen(const Formed& f, const AirAtEnd& air) {
  std::vector<PocketSeen> all;
  const std::vector<double>& since_Pa = f.sheet.pressure_since_Pa;
  const std::vector<double> area_m2 = node_areas_m2(f.sheet);
  const double pressed_Pa = since_Pa.empty() ? 0.0 : *std::max_element(since_Pa.begin(), since_Pa.end());
  for (int k = 0; k < static_cast<int>(air.pockets.size()); ++k) {
    PocketSeen p{.pocket = k, .depth_m = 0.0, .node = -1, .empty_s = kInfinity, .place_m = Vec3::Zero()};
    double own_m2 = 0.0;
    for (std::size_t i = 0; i < air.pocket_of.size(); ++i)
      if (air.pocket_of[i] == k) own_m2 += area_m2[i];
    for (std::size_t i = 0; i < air.pocket_of.size(); ++i)
      if (air.pocket_of[i] == k && f.in_part[i] && f.sheet.gap_m[i] > p.depth_m)
        p.depth_m = f.sheet.gap_m[i], p.node = static_cast<int>(i), p.place_m = f.sheet.points_m[i];
    const ShutIn& s = air.pockets[at(k)];
    if (!(p.depth_m > 0.0) || s.pressure_Pa < kPushes * pressed_Pa) continue;
    // A strip under a sharp edge that the edge itself holds off is no bubble.
    const double element_m = f.sheet.element_m[at(p.node)];
    if (p.depth_m < kHardlySeen * f.sheet.bought_thickness_m && own_m2 < kLeastSquares * element_m * element_m)
      continue;
    double flow_kg_s = 0.0;
    for (const VentAtEnd& v : air.vents)
      if (v.serves == k && s.pressure_Pa > 0.0)
        flow_kg_s +=
            air::hole_flow_kg_s(v.hole, air::kAtmosphere_Pa + s.pressure_Pa, air::kAtmosphere_Pa, air.temperature_K);
    if (flow_kg_s > 0.0) p.empty_s = s.mass_kg / flow_kg_s;
    all.push_back(p);
  }
  std::stable_sort(all.begin(), all.end(),
                   [](const PocketSeen& a, const PocketSeen& b) { return a.depth_m > b.depth_m; });
  return all;
}

Finding pockets(const Formed& f, const AirAtEnd& air, std::optional<double> set_s) {
  Finding finding{.id = "pockets",
                  .question = "Is air shut in under the sheet, and how far does it hold it off?",
                  .value = 0.0,
                  .unit = "mm"};
  const double h = f.sheet.bought_thickness_m;
  finding.limit = 1e3 * kOnMould * h;
  finding.uncertainty = fmt::format(
      "the sheet is taken to seal wherever it touches and the platform to {}; some of the gap would be left without "
      "air too, as in a sharp corner",
      air.platform_leaks ? "leak" : "be tight");
  const std::vector<PocketSeen> all = pockets_seen(f, air);
  if (all.empty()) {
    finding.why = "no air that is shut in holds the part off";
    return finding;
  }
  const PocketSeen& worst = all[0];
  const ShutIn& s = air.pockets[at(worst.pocket)];
  finding.value = 1e3 * worst.depth_m;
  finding.place_m = worst.place_m;
  const bool vented = std::isfinite(worst.empty_s), in_time = vented && (!set_s || worst.empty_s <= *set_s);
  finding.verdict = worst.depth_m <= kOnMould * h                 ? Verdict::kPass
                    : worst.depth_m <= kHardlySeen * h || in_time ? Verdict::kDoubt
                                                                  : Verdict::kFail;
  finding.why = fmt::format(
      "{} pocket{}; the deepest holds {:.3g} mm3 at {:.2g} bar gauge against {:.2g} bar above the sheet, and {}",
      all.size(), all.size() == 1 ? "" : "s", 1e9 * s.volume_m3, 1e-5 * s.pressure_Pa, 1e-5 * f.sheet.pressure_Pa,
      vented ? fmt::format("empties by its vents in {:.2g} s", worst.empty_s) : "no vent opens into it");
  if (vented && set_s)
    finding.why += !(*set_s > 0.0)         ? "; the sheet there has set"
                   : std::isfinite(*set_s) ? fmt::format("; the sheet stays soft for {:.2g} s", *set_s)
                                           : "; the sheet stays soft for minutes";
  if (finding.verdict == Verdict::kPass) return finding;
  const double wall_m = f.sheet.thickness_m[at(worst.node)];
  if (in_time)
    finding.advice = fmt::format("hold the pressure {:.2g} s longer while the sheet is hot", worst.empty_s);
  else if (vented)
    finding.advice = fmt::format(
        "{} the hole area in this pocket, as more holes rather than wider ones",
        *set_s > 0.0 ? fmt::format("{:.0f} times", std::ceil(worst.empty_s / *set_s)) : std::string("several times"));
  else
    finding.advice = fmt::format("a vent at {} of {}; taper it below the land so that it can be cleared",
                                 place_text(worst.place_m), hole_text(vent_diameter_m(wall_m)));
  return finding;
}

double vent_mark_m(double diameter_m, double thickness_m, double pressure_Pa, double shear_modulus_Pa) {
  // d_lin = p D/(2 pi G); d = d_lin/(1 + k d_lin/D)
  const double linear_m = pressure_Pa * diameter_m / (2.0 * std::numbers::pi * shear_modulus_Pa);
  return linear_m / (1.0 + imprint::depth_correction(diameter_m / thickness_m) * linear_m / diameter_m);
}

double vent_diameter_m(double thickness_m) {
  const double steps = std::floor(std::min(thickness_m, kNoMark_m) / kDrillStep_m * (1.0 + 1e-9));
  return kDrillStep_m * std::max(1.0, steps);
}

std::vector<VentPlace> propose_vents(const Formed& f, const std::vector<VentAtEnd>& vents, bool platform_leaks) {
  const forming::FormingResult& r = f.sheet;
  const int n = static_cast<int>(r.points_m.size());
  if (n == 0) return {};
  const Ground ground = ground_under(f, vents, platform_leaks);
  const Neighbours around(r);
  const double element_m = std::accumulate(r.element_m.begin(), r.element_m.end(), 0.0) / n;
  const History history(r, around, ground.free, kLeastSquares * element_m * element_m);
  const std::vector<int> order = by_touch(history.touched_s, r.gap_m);
  std::vector<int> rank(at(n)), up(at(n), -1);  // up = -1: had touched already
  for (int k = 0; k < n; ++k) rank[at(order[at(k)])] = k;
  const auto root = [&](int i) {
    while (up[at(i)] != i) i = up[at(i)] = up[at(up[at(i)])];
    return i;
  };
  std::vector<Part> part(at(n));
  std::vector<CutOff> done;
  for (const int i : order) {
    up[at(i)] = i;
    // A strip that hangs a little off under an edge asks for no vent of its own.
    const double area_m2 = history.hardly_off[at(i)] ? 0.0 : ground.area_m2[at(i)];
    part[at(i)] = {.area_m2 = area_m2, .open = ground.free[at(i)] != 0, .last = i, .cut_off = {}};
    for (int k = around.first[at(i)]; k < around.first[at(i) + 1]; ++k) {
      const int j = around.other[at(k)];
      if (up[at(j)] < 0 || root(j) == root(i)) continue;
      int later = root(j), other = root(i);
      if (rank[at(other)] < rank[at(later)]) std::swap(later, other);
      meet(part[at(later)], part[at(other)], history, history.touched_s[at(i)], done);
      up[at(other)] = later;
    }
  }
  for (int i = 0; i < n; ++i)
    if (const Part& p = part[at(i)]; up[at(i)] == i && !p.open && history.counts(p, history.first_s)) p.add_to(done);
  std::vector<VentPlace> places;
  for (const CutOff& c : done)
    places.push_back(
        {r.points_m[at(c.last)], vent_diameter_m(r.thickness_m[at(c.last)]), c.area_m2, r.touched_s[at(c.last)]});
  std::stable_sort(places.begin(), places.end(),
                   [](const VentPlace& a, const VentPlace& b) { return a.area_m2 > b.area_m2; });
  return places;
}

bool leaves_air(const Formed& f, const AirAtEnd& air) {
  const std::vector<PocketSeen> seen = pockets_seen(f, air);
  return std::any_of(seen.begin(), seen.end(), [&](const PocketSeen& p) {
    const bool has_vent =
        std::any_of(air.vents.begin(), air.vents.end(), [&](const VentAtEnd& v) { return v.serves == p.pocket; });
    return !has_vent && p.depth_m > kHardlySeen * f.sheet.bought_thickness_m;
  });
}

Finding vents(const Formed& f, const AirAtEnd& air, std::optional<std::vector<VentPlace>> advised) {
  Finding finding{.id = "vents",
                  .question = "Do the vents mark the part, and do they let the air out?",
                  .value = 0.0,
                  .unit = "mm"};
  const forming::FormingResult& r = f.sheet;
  const double G = sheet::small_strain_shear_modulus_Pa(f.spec.law);
  int wide = 0, narrow = 0, covered = 0, worst_node = -1;
  const VentAtEnd* worst = nullptr;
  const VentAtEnd* shut = nullptr;
  const bool unserved = leaves_air(f, air);
  for (const VentAtEnd& v : air.vents) {
    const double D = v.hole.diameter_m;
    const int node = nearest_node(r, v.at_m);
    narrow += may_print_shut(v.hole);
    if (v.serves == kNoPocket && unserved) ++covered, shut = &v;
    if (v.serves == kFreeAir || !f.in_part[at(node)]) continue;
    const double h = r.thickness_m[at(node)], mark = mark_m(v.hole, h, push_Pa(r, node), G);
    wide += D > std::min(h, kNoMark_m) * (1.0 + 1e-9);
    if (worst == nullptr || 1e3 * mark > finding.value) finding.value = 1e3 * mark, worst = &v, worst_node = node;
  }
  const bool asks = air.vents.empty() || unserved;
  const std::vector<VentPlace> wanted = advised               ? *std::move(advised)
                                        : asks || covered > 0 ? propose_vents(f, air.vents, air.platform_leaks)
                                                              : std::vector<VentPlace>{};
  const std::string places = [&] {
    std::string text;
    for (std::size_t k = 0; k < wanted.size() && k < 3; ++k)
      text +=
          fmt::format("{}{} ({})", k == 0 ? "" : ", ", place_text(wanted[k].place_m), hole_text(wanted[k].diameter_m));
    if (wanted.size() > 3) text += fmt::format(" and {} more", wanted.size() - 3);
    return text;
  }();
  finding.uncertainty =
      "the height of a mark is that of a thick sheet neither stretched nor chilled, so rather too high; that a hole no "
      "wider than the sheet leaves none is common practice";
  if (worst != nullptr) {
    finding.place_m = r.points_m[at(worst_node)];
    finding.why = fmt::format("{} vent{}, the highest mark {:.2g} mm at the {}, where the sheet is {:.2g} mm",
                              air.vents.size(), air.vents.size() == 1 ? "" : "s", finding.value,
                              opening_text(worst->hole), 1e3 * r.thickness_m[at(worst_node)]);
  } else {
    finding.why = air.vents.empty() ? "no vents" : "no vent under the part";
  }
  const auto add = [](std::string& to, const std::string& what) { to += (to.empty() ? "" : "; ") + what; };
  if (wide > 0) {
    add(finding.why, fmt::format("{} wider than the sheet there or than {:.2g} mm", wide, 1e3 * kNoMark_m));
    add(finding.advice,
        fmt::format("{} leaves no mark there", hole_text(vent_diameter_m(r.thickness_m[at(worst_node)]))));
  }
  if (narrow > 0) {
    add(finding.why, fmt::format("{} under {:.2g} mm (slots {:.2g}) may print shut (shop guides)", narrow,
                                 1e3 * kPrintsOpen_m, 1e3 * kSlotPrintsOpen_m));
    add(finding.advice, "drill the narrow ones, or print a slot, and look through each before use");
  }
  if (covered > 0) {
    add(finding.why,
        fmt::format("{} covered by sheet while air is shut in elsewhere, one at {}", covered, place_text(shut->at_m)));
    add(finding.advice, "move it to where the sheet touches last");
  }
  if (!wanted.empty())
    add(finding.advice, fmt::format("the sheet cuts air off at {} place{}, so a vent each at {}", wanted.size(),
                                    wanted.size() == 1 ? "" : "s", places));
  const bool missing = air.vents.empty() && !wanted.empty();
  if (missing)
    add(finding.why, fmt::format("the sheet cuts air off at {} place{}", wanted.size(), wanted.size() == 1 ? "" : "s"));
  if (wide + narrow + covered > 0 || missing) finding.verdict = Verdict::kDoubt;
  return finding;
}

}  // namespace pellicle::checks
