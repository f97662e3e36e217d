// What differs between two finished runs? Keys of the case, answers, and fields of the sheet place by place.
#include "io/compare/runs.h"

#include "mesh/check.h"
#include "mesh/locate.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

namespace pellicle::compare {
namespace {

constexpr double kNoNumber = std::numeric_limits<double>::quiet_NaN();
constexpr double kMm = 1e3;
/// Corners of two surfaces that are nearer are the same corner: f32 of the file keeps a tenth of a micrometre of a
/// metre.
constexpr double kSameCorner_m = 1e-6;
constexpr double kHalf = 0.5;

std::size_t index(int i) { return static_cast<std::size_t>(i); }

std::vector<KeyChange> changes_between(const cases::ParsedCase& a, const cases::ParsedCase& b) {
  std::map<std::string, std::string> in_b;
  for (const cases::ResolvedValue& value : b.values) in_b[value.key] = value.value;
  std::vector<KeyChange> changes;
  for (const cases::ResolvedValue& value : a.values) {
    const auto other = in_b.find(value.key);
    if (other == in_b.end())
      changes.push_back({value.key, value.value, ""});
    else if (other->second != value.value)
      changes.push_back({value.key, value.value, other->second});
    if (other != in_b.end()) in_b.erase(other);
  }
  for (const cases::ResolvedValue& value : b.values)
    if (in_b.contains(value.key)) changes.push_back({value.key, "", value.value});
  return changes;
}

/// How far the corners of one surface lie from the other, at most.
double farthest_m(const mesh::TriangleMesh& of, const mesh::TriangleMesh& from) {
  const mesh::Nearest nearest(from);
  double far_m = 0.0;
  for (const mesh::Vec3& p : of.points_m) far_m = std::max(far_m, nearest.closest(p).distance_m);
  return far_m;
}

void note_moulds(const Run& a, const Run& b, std::vector<std::string>& notes) {
  if (!a.mould && !b.mould) return;
  if (!a.mould || !b.mould) {
    notes.push_back(fmt::format("only {} has a mould", a.mould ? "A" : "B"));
    return;
  }
  const bool same_size =
      a.mould->points_m.size() == b.mould->points_m.size() && a.mould->triangles == b.mould->triangles;
  double apart_m = 0.0;
  for (std::size_t i = 0; same_size && i < a.mould->points_m.size(); ++i)
    apart_m = std::max(apart_m, (a.mould->points_m[i] - b.mould->points_m[i]).norm());
  if (same_size && apart_m <= kSameCorner_m) return;
  apart_m = std::max(farthest_m(*a.mould, *b.mould), farthest_m(*b.mould, *a.mould));
  notes.push_back(fmt::format("the mould is another surface: {} triangles in A, {} in B, corners up to {:.3g} mm apart",
                              a.mould->triangles.size(), b.mould->triangles.size(), kMm * apart_m));
}

/// Keys tell the name of the heater's map alone; the sheet starts from what is in it.
void note_heater(const Run& a, const Run& b, std::vector<std::string>& notes) {
  const auto starts_from_it = [](const Run& run) {
    return run.parsed && run.parsed->heater_map && run.parsed->value.heat;
  };
  if (!starts_from_it(a) || !starts_from_it(b)) return;
  if (a.heater_file.empty() || b.heater_file.empty())
    notes.push_back(fmt::format("whether both start from one sheet.temperature_map is not known: {} has kept none",
                                a.heater_file.empty() ? "A" : "B"));
  else if (a.heater_file != b.heater_file)
    notes.emplace_back("sheet.temperature_map is another file in B than in A");
}

std::vector<AnswerPair> pairs_of(const std::vector<checks::Finding>& a, const std::vector<checks::Finding>& b) {
  std::vector<AnswerPair> pairs;
  for (const checks::Finding& f : a) pairs.push_back({f.id, f.question, f, {}});
  for (const checks::Finding& f : b) {
    const auto same = std::find_if(pairs.begin(), pairs.end(), [&](const AnswerPair& p) { return p.id == f.id; });
    if (same != pairs.end())
      same->b = f;
    else
      pairs.push_back({f.id, f.question, {}, f});
  }
  return pairs;
}

/// A field of B at the places of A's nodes.
class OnA {
 public:
  OnA(const Run& a, const Run& b) : b_(b) {
    const mesh::Nearest flat(mesh::flat_surface(b.sheet.flat_m, b.sheet.face.triangles));
    for (const mesh::Vec2& p_m : a.sheet.flat_m) spots_.push_back(mesh::spot_in_flat(flat, p_m));
  }
  std::vector<double> field(const std::vector<double>& of_b, double scale) const {
    std::vector<double> values;
    for (const mesh::Spot& spot : spots_)
      values.push_back(spot.triangle < 0 ? kNoNumber : scale * mesh::value_at(spot, b_.sheet.face.triangles, of_b));
    return values;
  }
  bool covers_all() const {
    return std::all_of(spots_.begin(), spots_.end(), [](const mesh::Spot& s) { return s.triangle >= 0; });
  }

 private:
  const Run& b_;
  std::vector<mesh::Spot> spots_;
};

FieldPair pair_of(const char* key, const char* name, const char* unit, std::vector<double> a, std::vector<double> b) {
  FieldPair pair{key, name, unit, std::move(a), std::move(b), {}};
  for (std::size_t i = 0; i < pair.a.size(); ++i) pair.difference.push_back(pair.b[i] - pair.a[i]);
  return pair;
}

/// A third of the flat area of each node's triangles.
std::vector<double> areas_m2(const results::StoredSheet& sheet) {
  std::vector<double> areas(sheet.flat_m.size(), 0.0);
  for (const mesh::Triangle& t : sheet.face.triangles) {
    const mesh::Vec2 u = sheet.flat_m[index(t[1])] - sheet.flat_m[index(t[0])],
                     v = sheet.flat_m[index(t[2])] - sheet.flat_m[index(t[0])];
    for (const int corner : t) areas[index(corner)] += std::abs(u.x() * v.y() - u.y() * v.x()) / 6.0;
  }
  return areas;
}

/// Over nodes that are wanted and have a difference; none: nothing.
std::optional<Spread> spread_of(const Run& a, const std::vector<double>& difference, const std::vector<double>& area_m2,
                                const std::vector<char>& wanted) {
  Spread s;
  double all_m2 = 0.0, some_m2 = 0.0;
  for (std::size_t i = 0; i < difference.size(); ++i) {
    all_m2 += area_m2[i];
    if (wanted[i] == 0 || !std::isfinite(difference[i])) continue;
    if (some_m2 == 0.0 || std::abs(difference[i]) > std::abs(s.worst))
      s.worst = difference[i], s.place_m = a.sheet.face.points_m[i], s.flat_m = a.sheet.flat_m[i];
    some_m2 += area_m2[i];
    s.mean += area_m2[i] * difference[i];
    s.rms += area_m2[i] * difference[i] * difference[i];
  }
  if (some_m2 == 0.0) return std::nullopt;
  s.mean /= some_m2;
  s.rms = std::sqrt(s.rms / some_m2);
  s.area_share = some_m2 / all_m2;
  return s;
}

/// Means weighted with area in the flat sheet, over nodes of the part that both have.
double ratio_of(const FieldPair& wall, const std::vector<double>& area_m2, const std::vector<char>& in_part) {
  double a = 0.0, b = 0.0;
  for (std::size_t i = 0; i < wall.a.size(); ++i) {
    if (in_part[i] == 0 || !std::isfinite(wall.difference[i])) continue;
    a += area_m2[i] * wall.a[i];
    b += area_m2[i] * wall.b[i];
  }
  return a > 0.0 ? b / a : kNoNumber;
}

void add_touched(const Run& a, const Run& b, const OnA& on_a, const std::vector<double>& area_m2, Comparison& out) {
  std::vector<double> in_b = on_a.field(b.touched, 1.0);
  for (double& value : in_b)
    if (std::isfinite(value)) value = value >= kHalf ? 1.0 : 0.0;  // between nodes that did and did not
  out.fields.push_back(pair_of("touched", "Touched the mould", "-", a.touched, std::move(in_b)));
  double both_m2 = 0.0;
  for (std::size_t i = 0; i < area_m2.size(); ++i) {
    const double d = out.fields.back().difference[i];
    if (!std::isfinite(d)) continue;
    both_m2 += area_m2[i];
    (d < 0.0 ? out.only_a : out.only_b) += d == 0.0 ? 0.0 : area_m2[i];
  }
  if (both_m2 > 0.0) out.only_a /= both_m2, out.only_b /= both_m2;
}

void add_fields(const Run& a, const Run& b, Comparison& out) {
  const OnA on_a(a, b);
  if (!on_a.covers_all()) out.notes.push_back("some of A's flat sheet lies outside B's: nothing is compared there");
  const std::vector<double> area_m2 = areas_m2(a.sheet);
  std::vector<double> wall_mm = a.sheet.thickness_m;
  for (double& value : wall_mm) value *= kMm;
  out.fields.push_back(
      pair_of("thickness", "Wall thickness", "mm", std::move(wall_mm), on_a.field(b.sheet.thickness_m, kMm)));
  const FieldPair& wall = out.fields.front();
  out.part = spread_of(a, wall.difference, area_m2, a.in_part);
  out.sheet = spread_of(a, wall.difference, area_m2, std::vector<char>(area_m2.size(), 1));
  out.ratio = ratio_of(wall, area_m2, a.in_part);
  add_touched(a, b, on_a, area_m2, out);
  if (a.stroke_depth_m.empty() || b.stroke_depth_m.empty()) return;
  std::vector<double> depth_mm = a.stroke_depth_m;
  for (double& value : depth_mm) value *= kMm;
  out.fields.push_back(pair_of("stroke_depth", "Depth in a stroke 0.5 mm wide", "mm", std::move(depth_mm),
                               on_a.field(b.stroke_depth_m, kMm)));
}

}  // namespace

double AnswerPair::change() const { return a && b && a->unit == b->unit ? b->value - a->value : kNoNumber; }

int AnswerPair::turned() const {
  if (!a || !b || a->verdict == b->verdict) return 0;
  return b->verdict > a->verdict ? 1 : -1;
}

Run read_run(const std::filesystem::path& path) {
  const results::HeldFolder folder(path);
  results::require_finished_run(folder);
  Run run;
  run.folder = path.string();
  run.summary = results::read_summary(folder.path());
  run.sheet = results::read_last_sheet(folder);
  try {
    run.parsed = results::read_case(folder);
  } catch (const Error& error) {
    // Of this version it would be damaged; of another it may hold what is not known here.
    if (run.summary.program_version == PELLICLE_VERSION) throw;
    run.notes.push_back(fmt::format("its case is not read by this version: {}", error.what()));
  }
  run.mould = run.parsed ? results::read_mould(folder, *run.parsed) : results::read_mould(folder);
  if (run.parsed) run.heater_file = results::read_heater_file(folder, *run.parsed);
  run.in_part = run.parsed ? results::part_nodes(run.sheet, run.mould, run.parsed->value)
                           : std::vector<char>(run.sheet.flat_m.size(), 1);
  run.touched = results::read_last_field(folder, "touched_s");
  for (double& value : run.touched) value = std::isfinite(value) ? 1.0 : 0.0;
  run.touched.resize(run.sheet.flat_m.size(), 0.0);
  run.stroke_depth_m = results::read_last_field(folder, "capture_depth_0.5mm_stroke_mm");
  for (double& value : run.stroke_depth_m) value /= kMm;
  return run;
}

Comparison compared(const Run& a, const Run& b) {
  Comparison out;
  if (a.summary.program_version != b.summary.program_version)
    out.notes.push_back(
        fmt::format("the runs are of different versions of the program, A of {}, B of {}: what differs "
                    "may be theirs",
                    a.summary.program_version, b.summary.program_version));
  for (const auto& [name, run] : {std::pair{"A", &a}, {"B", &b}})
    for (const std::string& note : run->notes) out.notes.push_back(fmt::format("{}: {}", name, note));
  if (a.parsed && b.parsed)
    out.changes = changes_between(*a.parsed, *b.parsed);
  else
    out.notes.push_back("what changed in the case is not listed");
  note_moulds(a, b, out.notes);
  note_heater(a, b, out.notes);
  out.answers = pairs_of(a.summary.findings, b.summary.findings);
  add_fields(a, b, out);
  return out;
}

}  // namespace pellicle::compare
