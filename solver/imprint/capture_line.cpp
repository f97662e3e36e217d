// How deep does the sheet go along a line of heights: a profile, or a map that does not change along one side?
#include "solver/imprint/capture_parts.h"

#include "solver/imprint/line_strokes.h"
#include "solver/imprint/shut_air.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle::imprint {
namespace {

using mesh::HeightMap;
using Points = std::vector<ProfilePoint>;

std::size_t at(int i) { return static_cast<std::size_t>(i); }
std::size_t at(double i) { return static_cast<std::size_t>(i); }

bool is_symmetric(const Line& line) {
  if (line.round) return false;
  const Points& p = line.points;
  const double length = p.back().x_m, near = 1e-6 * length, alike = 1e-6 * (top_m(p) - low_m(p));
  for (std::size_t k = 0; k < p.size(); ++k) {
    const ProfilePoint& q = p[p.size() - 1 - k];
    if (std::fabs(p[k].x_m - (length - q.x_m)) > near || std::fabs(p[k].z_m - q.z_m) > alike) return false;
  }
  return true;
}

CrossSection section_of(const Line& line, const LocalState& state) {
  CrossSection section;
  section.plane = line.round ? SectionPlane::kRound : SectionPlane::kStrip;
  section.stretch = ways(state, line.run_rad);
  section.profile = {line.points, line.edge_radius_m, 0.0};
  if (is_symmetric(line)) {
    const double middle = 0.5 * line.points.back().x_m;
    Points half{{middle, height_on(line.points, middle)}};
    for (const ProfilePoint& p : line.points)
      if (p.x_m > middle) half.push_back(p);
    section.profile.points = half;
  } else if (line.periodic) {
    section.ends = SectionEnds::kPeriodic;
  }
  return section;
}

/// The press on a strip: with its mirror image beyond its ends, as the section has it, or periodic.
PressedPatch pressed_strip(const Line& line, const LineRow& row, LocalState state, const Stop& stop) {
  // Nothing varies along the strokes: the wave vector lies along the line.
  const Ways stretch = ways(state, line.run_rad);
  state.stretch_x = stretch.across, state.stretch_y = stretch.along;
  HeightMap map{row.n(), 1, row.spacing_m, row.z_m, true};
  if (!line.periodic) {
    map.height_m.insert(map.height_m.end(), row.z_m.rbegin(), row.z_m.rend());
    map.nx *= 2;
  }
  PressedPatch p = pressed(map, true, state, stop);
  for (auto* field : {&p.height_m, &p.free_height_m, &p.gap_m, &p.contact_pressure_Pa}) field->resize(row.z_m.size());
  return p;
}

/// A square map of a round profile, about its middle.
HeightMap square_of(const Line& line) {
  constexpr double kCells = 12.0, kLeast = 64.0, kMost = 400.0;
  const double radius = line.points.back().x_m, cells = 2.0 * radius / feature_m(line) * kCells;
  const int n = 16 * static_cast<int>(std::ceil(std::clamp(cells, kLeast, kMost) / 16.0));
  HeightMap map = mesh::flat_map(n, n, 2.0 * radius / n, line.periodic);
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < n; ++i)
      map.at(i, j) = height_on(line.points, map.spacing_m * std::hypot(i + 0.5 - 0.5 * n, j + 0.5 - 0.5 * n));
  return map;
}

/// Fields of the square as means of four ways out.
PressedPatch on_row_of(const PressedPatch& square, HeightMap map, const LineRow& row) {
  PressedPatch p;
  p.gap_error_m = square.gap_error_m;
  const double radius = 0.5 * map.nx * map.spacing_m;
  const auto out = [&](const std::vector<double>& field, std::vector<double>& along) {
    map.height_m = field;
    for (std::size_t i = 0; i < row.z_m.size(); ++i) {
      const double r = row.x_m(i);
      along.push_back(0.25 * (height_at(map, radius + r, radius) + height_at(map, radius - r, radius) +
                              height_at(map, radius, radius + r) + height_at(map, radius, radius - r)));
    }
  };
  out(square.height_m, p.height_m);
  out(square.free_height_m, p.free_height_m);
  out(square.gap_m, p.gap_m);
  out(square.contact_pressure_Pa, p.contact_pressure_Pa);
  return p;
}

/// Where the section is a half, its other side.
double place_in(const CrossSection& section, const Line& line, double x_m) {
  const double from = section.profile.points.front().x_m;
  return x_m < from ? line.points.back().x_m - x_m : x_m;
}

/// Own points, and more between.
std::vector<double> places_of(const Line& line) {
  std::vector<double> x;
  for (const ProfilePoint& p : line.points) {
    if (!x.empty() && !(p.x_m > x.back())) continue;
    if (!x.empty() && line.most_spacing_m > 0.0) {
      const double from = x.back();
      const int parts = static_cast<int>(std::ceil((p.x_m - from) / line.most_spacing_m - 1e-9));
      for (int k = 1; k < parts; ++k) x.push_back(from + (p.x_m - from) * k / parts);
    }
    x.push_back(p.x_m);
  }
  return x;
}

/// On the row, straight between the middles of its cells.
double on_row(const LineRow& row, const std::vector<double>& value, double x_m) {
  const double i = std::clamp(x_m / row.spacing_m - 0.5, 0.0, row.n() - 1.0);
  const auto k = std::min(at(i), value.size() - 2);
  const double t = i - static_cast<double>(k);
  return (1.0 - t) * value[k] + t * value[k + 1];
}

/// One run of the press, one section, and what they say.
class Answering {
 public:
  Answering(const Line& line, const LocalState& state, double wanted_share, const Stop& stop)
      : line_(line), state_(state), wanted_(wanted_share), stop_(stop), row_(row_of(line)), top_(top_m(line.points)) {
    if (line.round) {
      square_ = square_of(line);
      on_square_ = pressed(square_, line.periodic, state, stop);
      layer_ = on_row_of(on_square_, square_, row_);
    } else {
      layer_ = pressed_strip(line, row_, state, stop);
    }
    answer_.own_depth_m = top_ - low_m(line.points);
    answer_.gap_error_m = layer_.gap_error_m;
  }

  std::vector<Hollow> closed(const LetsOut& lets_out) const {
    const double radius = 0.5 * square_.nx * square_.spacing_m;
    return closed_hollows(square_, [&](double x_m, double y_m, double within_m) {
      return lets_out(x_m - radius, y_m - radius, within_m);
    });
  }

  /// The same line once more, over the air in its hollows, which it presses on as those of its square map do. `free`
  /// must outlive it.
  Answering(const Answering& free, const ReliefAnswer& free_answer, const std::vector<Hollow>& hollows)
      : line_(free.line_),
        state_(free.state_),
        wanted_(free.wanted_),
        stop_(free.stop_),
        row_(free.row_),
        square_(free.square_),
        top_(free.top_),
        section_(free.section_),
        both_(free.both_),
        stick_m_(free.stick_m_),
        slip_m_(free.slip_m_),
        free_answer_(&free_answer) {
    const SealedPatch sealed =
        pressed_with_air(square_, line_.periodic, state_, stop_, hollows, free.on_square_.height_m);
    layer_ = on_row_of(sealed.patch, square_, row_);
    answer_.own_depth_m = free_answer.own_depth_m;
    answer_.gap_error_m = layer_.gap_error_m;
    answer_.notes = free_answer.notes;
    const std::vector<double> ways = ways_out_m(square_, hollows, stop_);
    for (std::size_t h = 0; h < hollows.size(); ++h) {
      hollows_.push_back(ring_of(hollows[h], sealed.pressure_Pa[h]));
      answer_.hollows.push_back({{hollows_[h].about_m, 0.0},
                                 hollows[h].volume_m3,
                                 ways[h],
                                 sealed.filled_free[h],
                                 sealed.filled[h],
                                 sealed.pressure_Pa[h]});
    }
    if (both_.stick) solve_section_over_air();
  }

  /// Strokes beside its hollows are as they were.
  ReliefAnswer finish_over_air() {
    ReliefAnswer answer = finish();
    for (const double x : answer.x_m) {
      const Ring* ring = ring_at(x);
      answer.air_pressure_Pa.push_back(ring ? ring->pressure_Pa : 0.0);
    }
    answer.depth_lost_to_air_m = answer.strokes.empty() ? free_answer_->depth.answer_m - answer.depth.answer_m : 0.0;
    for (std::size_t k = 0; k < answer.strokes.size(); ++k)
      answer.depth_lost_to_air_m = std::max(answer.depth_lost_to_air_m,
                                            free_answer_->strokes[k].depth.answer_m - answer.strokes[k].depth.answer_m);
    return answer;
  }

  void solve_section_too() {
    section_ = section_of(line_, state_);
    both_ = solve_sections({section_}, state_, stop_).front();
    note_section(both_, "the relief", answer_.notes);
    if (line_.round && state_.stretch_x != state_.stretch_y)
      answer_.notes.emplace_back("The sheet is stretched unequally; round detail is computed with the mean stretch.");
    stick_m_ = section_on_row(both_.stick);
    slip_m_ = section_on_row(both_.slip);
  }

  ReliefAnswer finish() {
    fill_fields();
    const HeightMap map{row_.n(), 1, row_.spacing_m, row_.z_m, line_.periodic};
    const auto land = land_of(map);
    if (land) runs_ = runs_of(line_, row_, *land);
    for (const LineRun& run : runs_) answer_.strokes.push_back(stroke(run, *land));
    if (free_answer_) compare_strokes();
    fill_depth(land.value_or(top_));
    return answer_;
  }

 private:
  /// A closed hollow of a round line: between two radii.
  struct Ring {
    double from_m, to_m;
    double about_m;  ///< where it is deepest
    double rim_m, pressure_Pa;
  };
  Ring ring_of(const Hollow& hollow, double pressure_Pa) const {
    const double middle = 0.5 * square_.nx, s = square_.spacing_m;
    const auto out_m = [&](std::size_t c) {
      const auto nx = at(square_.nx);
      return s * std::hypot(static_cast<double>(c % nx) + 0.5 - middle, static_cast<double>(c / nx) + 0.5 - middle);
    };
    Ring ring{line_.points.back().x_m, 0.0, out_m(hollow.deepest), hollow.rim_m, pressure_Pa};
    for (const std::size_t c : hollow.cells) {
      ring.from_m = std::min(ring.from_m, out_m(c) - 0.5 * s);
      ring.to_m = std::max(ring.to_m, out_m(c) + 0.5 * s);
    }
    if (ring.from_m < s) ring.from_m = 0.0;  // no cell has its middle on the axis
    return ring;
  }
  const Ring* ring_at(double x_m) const {
    for (const Ring& ring : hollows_)
      if (x_m >= ring.from_m && x_m <= ring.to_m) return &ring;
    return nullptr;
  }

  /// The section that tells of a place: over the air of its hollow where it lies in one.
  const SectionResult& stick_at(double x_m) const {
    const Ring* ring = ring_at(x_m);
    return ring ? *over_[static_cast<std::size_t>(ring - hollows_.data())].stick : *both_.stick;
  }

  void solve_section_over_air() {
    std::vector<SectionOverAir> asked;
    for (const Ring& ring : hollows_) asked.push_back({section_, both_, ring.rim_m, ring.about_m});
    over_ = solve_over_air(asked, state_, stop_);
    for (const BothTouches& over : over_) {
      if (!over.stick) {
        answer_.notes.push_back(fmt::format("Over shut-in air the section found no rest: {}.", over.stick_failed));
        both_ = {};  // layer theory answers
        return;
      }
      if (!over.slip) both_.slip.reset();
    }
    for (std::size_t i = 0; i < row_.z_m.size(); ++i) {
      const Ring* ring = ring_at(row_.x_m(i));
      if (!ring) continue;
      const BothTouches& over = over_[static_cast<std::size_t>(ring - hollows_.data())];
      stick_m_[i] = underside_m(*over.stick, row_.x_m(i)) - top_;
      if (both_.slip) slip_m_[i] = underside_m(*over.slip, row_.x_m(i)) - top_;
    }
  }

  /// What would make a stroke deeper is as without air: it is asked for once the hollow is open.
  void compare_strokes() {
    for (std::size_t k = 0; k < answer_.strokes.size(); ++k) {
      StrokeAnswer& s = answer_.strokes[k];
      const StrokeAnswer& free = free_answer_->strokes[k];
      const bool over_air = s.in_counter || (s.height_m < 0.0 && ring_at(s.place_m[0]));
      if (!over_air || (s.depth.valid && !(s.share < free.share))) s = free;
      if (over_air) s.share_air_free = free.share;
      s.needed_pressure_Pa = free.needed_pressure_Pa;
      s.needed_width_m = free.needed_width_m;
      s.needed_thickness_m = free.needed_thickness_m;
    }
  }

  std::vector<double> section_on_row(const std::optional<SectionResult>& result) const {
    std::vector<double> height;
    if (!result) return height;
    for (std::size_t i = 0; i < row_.z_m.size(); ++i)
      height.push_back(underside_m(*result, place_in(section_, line_, row_.x_m(i))) - top_);
    return height;
  }

  StrokeAnswer stroke(const LineRun& run, double land_m) const {
    const LineReader reader(line_, row_, runs_, land_m - top_, state_.thickness_m);
    StrokeAnswer s;
    s.place_m = {run.middle_m, 0.0};
    s.width_m = s.narrowest_m = run.width_m;
    s.height_m = run.height_m;
    s.angle_rad = line_.run_rad;
    const DepthFound layer = reader.at_run(run, layer_.height_m), free = reader.at_run(run, layer_.free_height_m);
    s.in_counter = layer.in_counter;
    if (both_.stick) {
      const DepthFound found = reader.at_run(run, stick_m_);
      s.depth.stick_m = found.depth_m;
      s.in_counter = found.in_counter;
    }
    if (both_.slip) s.depth.slip_m = reader.at_run(run, slip_m_).depth_m;
    const Span span{layer.span_m,
                    std::fabs(run.height_m),
                    layer.depth_m,
                    std::max(layer.depth_m, free.depth_m),
                    ways(state_, line_.run_rad),
                    run.height_m < 0.0,
                    line_.round};
    settle(span, state_, wanted_, s);
    if (both_.stick && !free_answer_ && !std::isnan(s.needed_pressure_Pa)) {
      s.needed_pressure_Pa = pressure_for_Pa(
          section_, state_, s.depth.stick_m, s.needed_pressure_Pa, wanted_ * span.height_m,
          [&](const SectionResult& result) { return reader.at_run(run, section_on_row(result)).depth_m; });
    }
    if (s.share_stick > 0.9) s.corner_radius_m = corner_radius_m(both_);
    return s;
  }

  void fill_depth(double land_m) {
    const auto deepest = std::min_element(layer_.height_m.begin(), layer_.height_m.end());
    const double layer = -*deepest, x = row_.x_m(at(static_cast<int>(deepest - layer_.height_m.begin())));
    Depths& depth = answer_.depth;
    depth.layer_m = layer;
    const auto of_section = [&](const SectionResult& result, const std::vector<double>& row_m) {
      const double deepest_m = free_answer_ ? -*std::min_element(row_m.begin(), row_m.end()) : result.depth_m;
      return std::min(deepest_m, answer_.own_depth_m);
    };
    if (both_.slip) depth.slip_m = of_section(*both_.slip, slip_m_);
    if (both_.stick) {
      depth.stick_m = depth.answer_m = of_section(*both_.stick, stick_m_);
      depth.model = Model::kSection;
      return;
    }
    const StrokeAnswer* nearest = nullptr;
    for (const StrokeAnswer& s : answer_.strokes)
      if (!nearest || std::fabs(s.place_m[0] - x) < std::fabs(nearest->place_m[0] - x)) nearest = &s;
    if (nearest) {
      depth = depth_of_patch(layer, top_ - land_m - std::max(0.0, nearest->height_m), *nearest, answer_.own_depth_m);
      return;
    }
    StrokeAnswer whole;  // a wave, or another line without land
    const Span span{feature_m(line_),
                    answer_.own_depth_m,
                    layer,
                    -*std::min_element(layer_.free_height_m.begin(), layer_.free_height_m.end()),
                    ways(state_, line_.run_rad),
                    true,
                    line_.round};
    settle(span, state_, wanted_, whole);
    depth = whole.depth;
  }

  void fill_fields() {
    answer_.x_m = places_of(line_);
    answer_.y_m = {0.0};
    answer_.nx = static_cast<int>(answer_.x_m.size()), answer_.ny = 1;
    for (const double x : answer_.x_m) {
      const double mould = height_on(line_.points, x) - top_;
      double sheet = on_row(row_, layer_.height_m, x), pressure = on_row(row_, layer_.contact_pressure_Pa, x);
      if (both_.stick) {
        const double place = place_in(section_, line_, x);
        sheet = underside_m(stick_at(x), place) - top_;
        pressure = contact_pressure_Pa(stick_at(x), place);
      }
      sheet = std::max(sheet, mould);
      answer_.mould_height_m.push_back(mould);
      answer_.sheet_height_m.push_back(sheet);
      answer_.gap_m.push_back(sheet - mould);
      answer_.contact_pressure_Pa.push_back(pressure);
    }
  }

  const Line& line_;
  const LocalState& state_;
  double wanted_;
  const Stop& stop_;
  LineRow row_;
  HeightMap square_;        // round
  PressedPatch on_square_;  // round, of a free run
  double top_;
  PressedPatch layer_;
  CrossSection section_;
  BothTouches both_;
  std::vector<double> stick_m_, slip_m_;
  std::vector<LineRun> runs_;
  ReliefAnswer answer_;
  // Of a run over air alone:
  const ReliefAnswer* free_answer_ = nullptr;
  std::vector<Ring> hollows_;
  std::vector<BothTouches> over_;
};

}  // namespace

ReliefAnswer capture_line(const Line& line, const LocalState& state, double wanted_share, bool sections,
                          const Stop& stop, const LetsOut& lets_out) {
  Answering free(line, state, wanted_share, stop);
  if (sections) free.solve_section_too();
  ReliefAnswer answer = free.finish();
  if (!lets_out || !line.round) return answer;
  const std::vector<Hollow> hollows = free.closed(lets_out);
  return hollows.empty() ? answer : Answering(free, answer, hollows).finish_over_air();
}

}  // namespace pellicle::imprint
