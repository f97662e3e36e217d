// How deep does the sheet form each stroke of a relief, by which model, and what would make it deeper?
#include "solver/imprint/capture.h"

#include "mesh/check.h"
#include "solver/imprint/capture_parts.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace pellicle::imprint {
namespace {

using mesh::HeightMap;

/// Places in the answer of a profile lie at most this part of its length apart.
constexpr double kPlaces = 256.0;

bool is_same_along_y(const HeightMap& map) {
  constexpr double kAlike = 1e-3;  // of the relief
  const double alike = kAlike * (highest_m(map) - lowest_m(map));
  for (int j = 1; j < map.ny; ++j)
    for (int i = 0; i < map.nx; ++i)
      if (std::fabs(map.at(i, j) - map.at(i, 0)) > alike) return false;
  return true;
}

HeightMap turned(const HeightMap& map) {
  HeightMap out{map.ny, map.nx, map.spacing_m, {}, map.periodic};
  for (int i = 0; i < map.nx; ++i)
    for (int j = 0; j < map.ny; ++j) out.height_m.push_back(map.at(i, j));
  return out;
}

/// The first row as points.
Line line_of(const HeightMap& map) {
  const double s = map.spacing_m;
  const double before = map.periodic ? 0.5 * (map.at(0, 0) + map.at(map.nx - 1, 0)) : map.at(0, 0);
  const double after = map.periodic ? before : map.at(map.nx - 1, 0);
  std::vector<ProfilePoint> points{{0.0, before}};
  for (int i = 0; i < map.nx; ++i) points.push_back({(i + 0.5) * s, map.at(i, 0)});
  points.push_back({map.nx * s, after});
  const SectionProfile profile = profile_off_map(std::move(points), s);
  Line line;
  line.points = profile.points;
  line.periodic = map.periodic;
  line.edge_radius_m = profile.edge_radius_m;
  return line;
}

/// The answer along the line on all cells of the map it was taken from.
void spread(const HeightMap& map, bool along_x, ReliefAnswer& answer) {
  const int nx = along_x ? map.nx : map.ny, ny = along_x ? map.ny : map.nx;
  const ReliefAnswer line = answer;
  const auto on_line = [&](const std::vector<double>& value, double x) {
    const auto above = std::upper_bound(line.x_m.begin(), line.x_m.end(), x);
    const auto k = static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(above - line.x_m.begin(), 1, line.nx - 1));
    const double t = (x - line.x_m[k - 1]) / (line.x_m[k] - line.x_m[k - 1]);
    return (1.0 - t) * value[k - 1] + t * value[k];
  };
  answer.x_m.clear(), answer.y_m.clear();
  answer.mould_height_m.clear(), answer.sheet_height_m.clear(), answer.gap_m.clear();
  answer.contact_pressure_Pa.clear();
  answer.nx = nx, answer.ny = ny;
  const double s = map.spacing_m, top = highest_m(map);
  for (int i = 0; i < nx; ++i) answer.x_m.push_back((i + 0.5) * s);
  for (int j = 0; j < ny; ++j) answer.y_m.push_back((j + 0.5) * s);
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i) {
      const double x = ((along_x ? i : j) + 0.5) * s, mould = map.at(along_x ? i : j, 0) - top;
      const double sheet = std::max(mould, on_line(line.sheet_height_m, x));
      answer.mould_height_m.push_back(mould);
      answer.sheet_height_m.push_back(sheet);
      answer.gap_m.push_back(sheet - mould);
      answer.contact_pressure_Pa.push_back(on_line(line.contact_pressure_Pa, x));
    }
  for (StrokeAnswer& stroke : answer.strokes) {
    const double along = stroke.place_m[0], middle = 0.5 * s * (along_x ? ny : nx);
    stroke.place_m = along_x ? std::array{along, middle} : std::array{middle, along};
  }
}

ReliefAnswer of_map(const HeightMap& map, const CaptureTask& task, const LocalState& state) {
  for (const bool along_x : {true, false}) {
    const HeightMap seen = along_x ? map : turned(map);
    if (!is_same_along_y(seen)) continue;
    Line line = line_of(seen);
    line.run_rad = along_x ? 0.5 * std::numbers::pi : 0.0;
    line.most_spacing_m = 0.5 * map.spacing_m;
    ReliefAnswer answer = capture_line(line, state, task.wanted_share, task.sections, task.stop, task.lets_out);
    spread(seen, along_x, answer);
    return answer;
  }
  return capture_map(map, state, task.wanted_share, task.sections, task.stop, task.lets_out);
}

ReliefAnswer of_profile(const mesh::Profile& profile, const CaptureTask& task, const LocalState& state) {
  Line line;
  const double from = profile.x_m.front();
  for (std::size_t k = 0; k < profile.x_m.size(); ++k) line.points.push_back({profile.x_m[k] - from, profile.z_m[k]});
  line.round = profile.kind == mesh::Profile::Kind::kRound;
  line.periodic = task.periodic && !line.round;
  line.run_rad = line.round ? kNotRun : 0.5 * std::numbers::pi;
  line.most_spacing_m = line.points.back().x_m / kPlaces;
  ReliefAnswer answer = capture_line(line, state, task.wanted_share, task.sections, task.stop, task.lets_out);
  for (double& x : answer.x_m) x += from;
  for (StrokeAnswer& stroke : answer.strokes) stroke.place_m[0] += from;
  return answer;
}

/// Strokes by label, then from left to right; named after the label their place lies in.
void name_strokes(const std::vector<Label>& labels, std::vector<StrokeAnswer>& strokes) {
  const auto label_of = [&](const StrokeAnswer& s) {
    const auto inside = [&](const Label& l) {
      return s.place_m[0] >= l.box_m[0] && s.place_m[0] <= l.box_m[2] && s.place_m[1] >= l.box_m[1] &&
             s.place_m[1] <= l.box_m[3];
    };
    return std::find_if(labels.begin(), labels.end(), inside) - labels.begin();
  };
  std::stable_sort(strokes.begin(), strokes.end(), [&](const StrokeAnswer& a, const StrokeAnswer& b) {
    const auto p = label_of(a), q = label_of(b);
    return p != q ? p < q : a.place_m[0] < b.place_m[0];
  });
  int unnamed = 0;
  for (std::size_t k = 0; k < strokes.size();) {
    const auto label = label_of(strokes[k]);
    std::size_t end = k;
    while (end < strokes.size() && label_of(strokes[end]) == label) ++end;
    for (std::size_t i = k; i < end; ++i) {
      if (label == static_cast<std::ptrdiff_t>(labels.size())) {
        strokes[i].name = fmt::format("stroke {}", ++unnamed);
      } else {
        const std::string& name = labels[static_cast<std::size_t>(label)].name;
        strokes[i].name = end - k == 1 ? name : fmt::format("{}.{}", name, i - k + 1);
      }
    }
    k = end;
  }
}

}  // namespace

const char* model_word(Model model) {
  switch (model) {
    case Model::kLayer:
      return "layer";
    case Model::kSection:
      return "section";
    case Model::kLayerBeyond:
      return "layer beyond its range";
  }
  ensure(false, "every model has a word");
  return "";
}

double reach_m(double width_m, double thickness_m) { return std::max(width_m, 0.25 * thickness_m); }

Depths depth_of_patch(double layer_m, double above_m, const StrokeAnswer& stroke, double own_depth_m) {
  const Depths& own = stroke.depth;
  Depths depth;
  depth.layer_m = layer_m;
  depth.model = own.model;
  depth.valid = own.valid;
  const auto scaled = [&](double of_stroke_m) {
    if (std::isnan(of_stroke_m)) return kNotRun;
    const double part = own.layer_m > 0.0 ? of_stroke_m / own.layer_m : 1.0;
    return std::min(own_depth_m, above_m + (layer_m - above_m) * part);
  };
  depth.stick_m = scaled(own.stick_m);
  depth.slip_m = scaled(own.slip_m);
  depth.answer_m = scaled(own.answer_m);
  return depth;
}

void note_section(const BothTouches& both, const std::string& of, std::vector<std::string>& notes) {
  if (!both.stick)
    notes.push_back(
        fmt::format("The section of {} found no rest with the sheet sticking; layer theory answers, in its "
                    "range alone: {}.",
                    of, both.stick_failed));
  if (!both.slip)
    notes.push_back(fmt::format("The section of {} found no rest with the sheet slipping: no upper bound.", of));
  if (both.stick && both.stick->snapped)
    notes.push_back(fmt::format("The sheet snaps into {} at {:.0f} kPa: near that pressure its depth is uncertain.", of,
                                1e-3 * both.stick->snap_pressure_Pa));
}

double corner_radius_m(const BothTouches& both) { return both.stick ? both.stick->corner_radius_m : kNotRun; }

ReliefAnswer capture(const CaptureTask& task) {
  std::vector<std::string> notes;
  const LocalState state = taut(task.state, task.name, notes);
  const bool is_map = std::holds_alternative<HeightMap>(task.shape);
  const std::vector<double>& heights =
      is_map ? std::get<HeightMap>(task.shape).height_m : std::get<mesh::Profile>(task.shape).z_m;
  const auto [low, high] = std::minmax_element(heights.begin(), heights.end());
  if (!(*high > *low)) {
    throw Error({Fault::Kind::kCase, "relief " + task.name, "one height all over", "something raised or sunk", ""});
  }
  ReliefAnswer answer = is_map ? of_map(std::get<HeightMap>(task.shape), task, state)
                               : of_profile(std::get<mesh::Profile>(task.shape), task, state);
  answer.name = task.name;
  answer.state = task.state;
  answer.notes.insert(answer.notes.begin(), notes.begin(), notes.end());
  const auto share = [&](double depth_m) {
    return std::isnan(depth_m) ? kNotRun : std::clamp(depth_m / answer.own_depth_m, 0.0, 1.0);
  };
  answer.capture = share(answer.depth.answer_m);
  answer.capture_stick = share(answer.depth.stick_m);
  answer.capture_slip = share(answer.depth.slip_m);
  for (std::size_t k = 0; k < answer.strokes.size(); ++k) answer.strokes[k].number = static_cast<int>(k);
  name_strokes(task.labels, answer.strokes);
  for (const StrokeAnswer& s : answer.strokes) {
    if (!s.depth.valid || s.share < task.wanted_share) continue;
    if (std::isnan(answer.narrowest_formed_m) || s.width_m < answer.narrowest_formed_m)
      answer.narrowest_formed_m = s.width_m;
  }
  return answer;
}

}  // namespace pellicle::imprint
