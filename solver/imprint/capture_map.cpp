// How deep does the sheet go into, or beside, each stroke of a map of heights?
#include "solver/imprint/capture_parts.h"
#include "solver/imprint/shut_air.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

namespace pellicle::imprint {
namespace {

using mesh::HeightMap;

constexpr std::size_t kSections = 8;  // different ones a relief
constexpr double kLandWidths = 3.0;   // of land beside a stroke in its section

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// A stroke, the place where it is asked, and what the section there has to be read for.
struct Place {
  Span span;
  Crossing crossing;    ///< what the section is taken across
  double land_m;        ///< how much of what lies beside it belongs to the section
  double reference_m;   ///< height that depth counts from
  double from_m, to_m;  ///< part of the section, from the middle of the crossing, that is looked at
  std::array<double, 2> at_m;
  double run_rad;
  bool in_counter;
  std::size_t cell;  ///< that is looked at
};

/// The map around a stroke; all of it if it repeats.
struct Window {
  HeightMap map;
  int i0 = 0, j0 = 0;
  std::vector<int> of;

  std::size_t cell_of(const HeightMap& whole, std::size_t c) const {
    return whole.index(i0 + static_cast<int>(c % at(map.nx)), j0 + static_cast<int>(c / at(map.nx)));
  }
};

Window window_of(const HeightMap& map, const MapStrokes& all, const MapStroke& stroke, double margin_m) {
  Window w;
  const double s = map.spacing_m;
  const auto cell = [&](double x, int n) { return std::clamp(static_cast<int>(std::floor(x / s)), 0, n); };
  w.i0 = map.periodic ? 0 : cell(stroke.box_m[0] - margin_m, map.nx);
  w.j0 = map.periodic ? 0 : cell(stroke.box_m[1] - margin_m, map.ny);
  const int i1 = map.periodic ? map.nx : cell(stroke.box_m[2] + margin_m + s, map.nx);
  const int j1 = map.periodic ? map.ny : cell(stroke.box_m[3] + margin_m + s, map.ny);
  w.map = {i1 - w.i0, j1 - w.j0, s, {}, map.periodic};
  for (int j = w.j0; j < j1; ++j)
    for (int i = w.i0; i < i1; ++i) w.of.push_back(all.of[map.index(i, j)]), w.map.height_m.push_back(map.at(i, j));
  return w;
}

class MapAnswering {
 public:
  MapAnswering(const HeightMap& map, const LocalState& state, double wanted_share, const Stop& stop)
      : map_(map), state_(state), stop_(stop), wanted_(wanted_share), top_(highest_m(map)) {
    layer_ = pressed(map, map.periodic, state, stop);
    if (const auto land = land_of(map)) {
      all_ = strokes_of(map, *land);
    } else {
      all_.of.assign(map.height_m.size(), -1);
      answer_.notes.emplace_back("The relief has no level land: it is answered as a whole, without strokes.");
    }
    if (all_.too_narrow > 0)
      answer_.notes.push_back(
          all_.too_narrow == 1
              ? std::string("A stroke is narrower than three cells of the grid and is left out; a finer grid shows it.")
              : fmt::format("{} strokes are narrower than three cells of the grid and are left out; a finer "
                            "grid shows them.",
                            all_.too_narrow));
    find_places();
  }

  /// The same relief once more, over the air in its hollows. `free` must outlive it.
  MapAnswering(const MapAnswering& free, const ReliefAnswer& free_answer, const std::vector<Hollow>& hollows)
      : map_(free.map_),
        state_(free.state_),
        stop_(free.stop_),
        wanted_(free.wanted_),
        top_(free.top_),
        all_(free.all_),
        free_run_(&free),
        free_answer_(&free_answer),
        hollows_(&hollows) {
    SealedPatch sealed = pressed_with_air(map_, map_.periodic, state_, stop_, hollows, free.layer_.height_m);
    layer_ = std::move(sealed.patch);
    answer_.notes = free_answer.notes;
    answer_.air_pressure_Pa = std::move(sealed.back_Pa);
    const std::vector<double> ways = ways_out_m(map_, hollows, stop_);
    hollow_of_.assign(map_.height_m.size(), -1);
    for (std::size_t h = 0; h < hollows.size(); ++h) {
      for (const std::size_t c : hollows[h].cells) hollow_of_[c] = static_cast<int>(h);
      const std::size_t c = hollows[h].deepest;
      answer_.hollows.push_back({{x_m(c), y_m(c)},
                                 hollows[h].volume_m3,
                                 ways[h],
                                 sealed.filled_free[h],
                                 sealed.filled[h],
                                 sealed.pressure_Pa[h]});
    }
    find_places();
  }

  /// Over air: strokes beside its hollows are as they were.
  ReliefAnswer finish_over_air(bool sections) {
    section_.assign(places_.size(), -1);
    if (sections) solve_sections_over_air();
    for (std::size_t k = 0; k < places_.size(); ++k) answer_.strokes.push_back(stroke_over_air(k));
    fill_all();
    if (answer_.strokes.empty()) answer_.depth_lost_to_air_m = free_answer_->depth.answer_m - answer_.depth.answer_m;
    for (std::size_t k = 0; k < places_.size(); ++k)
      answer_.depth_lost_to_air_m = std::max(
          answer_.depth_lost_to_air_m, free_answer_->strokes[k].depth.answer_m - answer_.strokes[k].depth.answer_m);
    return std::move(answer_);
  }

  ReliefAnswer finish(bool sections) {
    section_.assign(places_.size(), -1);
    if (sections) solve_sections_too();
    for (std::size_t k = 0; k < places_.size(); ++k) answer_.strokes.push_back(stroke(k));
    refine_pressures();
    fill_all();
    return answer_;
  }

 private:
  void find_places() {
    height_ = map_;
    height_.height_m = layer_.height_m;
    free_ = map_;
    free_.height_m = layer_.free_height_m;
    answer_.own_depth_m = top_ - lowest_m(map_);
    answer_.gap_error_m = layer_.gap_error_m;
    for (std::size_t k = 0; k < all_.strokes.size(); ++k) {
      const MapStroke& stroke = all_.strokes[k];
      places_.push_back(stroke.height_m < 0.0 ? sunk(stroke) : raised(stroke, static_cast<int>(k)));
    }
  }

  void fill_all() {
    for (const StrokeAnswer& s : answer_.strokes)
      answer_.gap_error_m = std::max(answer_.gap_error_m, std::fabs(s.depth.answer_m - s.depth.layer_m));
    fill_depth();
    fill_fields();
  }

  /// Of the hollow that a stroke is asked in; -1: none.
  int hollow_at(std::size_t k) const { return hollow_of_[places_[k].cell]; }

  /// A stroke in a hollow is a section if it was one without air, or if layer theory does not hold; strokes alike, with
  /// rims alike, share one.
  void solve_sections_over_air() {
    constexpr double kAlikeRims = 0.03;  // of the relief, as sections are alike
    std::vector<double> rim_m;
    for (std::size_t k = 0; k < places_.size(); ++k) {
      const Place& p = places_[k];
      if (hollow_at(k) < 0 || (free_run_->section_[k] < 0 && in_range(p.span, state_))) continue;
      const CrossSection own = across(map_, p.crossing, level_m(k), p.land_m, p.span.stretch);
      const double rim = (*hollows_)[at(hollow_at(k))].rim_m;
      std::size_t s = 0;
      while (s < sections_.size() &&
             !(alike(sections_[s], own) && std::fabs(rim_m[s] - rim) <= kAlikeRims * answer_.own_depth_m))
        ++s;
      if (s == kSections) continue;
      section_[k] = static_cast<int>(s);
      if (s == sections_.size()) sections_.push_back(own), rim_m.push_back(rim);
    }
    std::vector<BothTouches> free;
    for (const CrossSection& own : sections_) {
      const auto& known = free_run_->sections_;
      const auto same = std::find_if(known.begin(), known.end(), [&](const auto& other) { return alike(other, own); });
      free.push_back(same != known.end() ? free_run_->solved_[static_cast<std::size_t>(same - known.begin())]
                                         : solve_sections({own}, state_, stop_).front());
    }
    std::vector<SectionOverAir> over;
    for (std::size_t s = 0; s < sections_.size(); ++s) {
      const Place& p = places_[first_of(s)];
      over.push_back({sections_[s], free[s], rim_m[s], p.from_m > 0.0 ? 0.5 * (p.from_m + p.to_m) : 0.0});
    }
    solved_ = solve_over_air(over, state_, stop_);
    for (std::size_t s = 0; s < sections_.size(); ++s) {
      const Crossing& c = places_[first_of(s)].crossing;
      if (free[s].stick && !solved_[s].stick)
        answer_.notes.push_back(fmt::format("Over shut-in air the section at ({:.2f}, {:.2f}) mm found no rest: {}.",
                                            1e3 * c.x_m, 1e3 * c.y_m, solved_[s].stick_failed));
    }
  }

  /// What would make it deeper is as without air: it is asked for once the hollow is open.
  StrokeAnswer stroke_over_air(std::size_t k) const {
    const StrokeAnswer& free = free_answer_->strokes[k];
    if (hollow_at(k) < 0) return free;
    StrokeAnswer s = stroke(k);
    if (s.depth.valid && !(s.share < free.share)) s = free;
    s.share_air_free = free.share;
    s.needed_pressure_Pa = free.needed_pressure_Pa;
    s.needed_width_m = free.needed_width_m;
    s.needed_thickness_m = free.needed_thickness_m;
    return s;
  }

  /// First stroke that has this section.
  std::size_t first_of(std::size_t section) const {
    return static_cast<std::size_t>(std::find(section_.begin(), section_.end(), static_cast<int>(section)) -
                                    section_.begin());
  }

  /// Where along its middle the sheet is shallowest but for a tenth of it.
  Place sunk(const MapStroke& stroke) const {
    constexpr double kTenth = 0.1;
    const double land = all_.land_m - top_;
    std::vector<double> height;
    for (const Crossing& c : stroke.middle) height.push_back(height_at(height_, c.x_m, c.y_m));
    std::vector<std::size_t> order(height.size());
    std::iota(order.begin(), order.end(), 0U);
    std::stable_sort(order.begin(), order.end(), [&](auto a, auto b) { return height[a] > height[b]; });
    const std::size_t k = order[static_cast<std::size_t>(kTenth * static_cast<double>(order.size() - 1))];
    const Crossing& c = stroke.middle[k];
    const double layer = land - height[k], free = land - height_at(free_, c.x_m, c.y_m);
    const Span span{c.width_m, -stroke.height_m,     layer, std::max(layer, free), ways(state_, c.run_rad),
                    true,      std::isnan(c.run_rad)};
    return {span,      c,     kLandWidths * c.width_m, all_.land_m, 0.0, 0.5 * c.width_m, {c.x_m, c.y_m},
            c.run_rad, false, cell_at(c.x_m, c.y_m)};
  }

  /// Beside it, or in the counter where the sheet is least deep.
  Place raised(const MapStroke& stroke, int number) const {
    std::vector<double> widths;
    for (const Crossing& c : stroke.middle) widths.push_back(c.width_m);
    std::nth_element(widths.begin(), widths.begin() + static_cast<std::ptrdiff_t>(widths.size() / 2), widths.end());
    const double width = widths[widths.size() / 2], reach = reach_m(width, state_.thickness_m);
    const Window w = window_of(map_, all_, stroke, reach + 2.0 * map_.spacing_m);
    std::vector<char> own(w.of.size());
    for (std::size_t c = 0; c < own.size(); ++c) own[c] = w.of[c] == number;
    const Surroundings surroundings = around(w.map, own);
    const std::vector<double> distance = distance_m(w.map, own);
    std::vector<std::size_t> near;
    for (std::size_t c = 0; c < own.size(); ++c)
      if (surroundings.outside[c] && w.of[c] < 0 && distance[c] - 0.5 * map_.spacing_m <= reach) near.push_back(c);
    Place place = outside(stroke, w, near, distance, width, reach);
    for (const auto& counter : surroundings.counters) {
      const Place inside = in_counter(stroke, w, counter);
      if (inside.span.layer_m < place.span.layer_m) place = inside;
    }
    return place;
  }

  std::size_t deepest(const Window& w, const std::vector<std::size_t>& cells) const {
    std::size_t found = w.cell_of(map_, cells.front());
    for (const std::size_t c : cells) {
      const std::size_t here = w.cell_of(map_, c);
      if (layer_.height_m[here] < layer_.height_m[found]) found = here;
    }
    return found;
  }

  std::size_t cell_at(double x, double y) const {
    const auto on = [&](double way_m, int n) {
      return std::clamp(static_cast<int>(std::floor(way_m / map_.spacing_m)), 0, n - 1);
    };
    return map_.index(on(x, map_.nx), on(y, map_.ny));
  }
  double x_m(std::size_t c) const { return (static_cast<double>(c % at(map_.nx)) + 0.5) * map_.spacing_m; }
  double y_m(std::size_t c) const { return (static_cast<double>(c / at(map_.nx)) + 0.5) * map_.spacing_m; }

  Span span_at(const MapStroke& stroke, std::size_t cell, double width_m, double run_rad) const {
    const double top = all_.land_m + stroke.height_m - top_, layer = top - layer_.height_m[cell];
    return {
        width_m, stroke.height_m,    layer, std::max(layer, top - layer_.free_height_m[cell]), ways(state_, run_rad),
        false,   std::isnan(run_rad)};
  }

  /// The place of its middle nearest to the deepest cell beside it. The sheet there is taken as the middle of a slot
  /// twice as wide as it is far from the stroke.
  Place outside(const MapStroke& stroke, const Window& w, const std::vector<std::size_t>& near,
                const std::vector<double>& distance, double width_m, double reach) const {
    if (near.empty()) {  // its neighbours leave no land: it counts as covered on its top
      const Crossing& c = stroke.middle.front();
      const Span none{width_m, stroke.height_m, 0.0, 0.0, ways(state_, c.run_rad), false, stroke.round};
      return {none,      c,     kLandWidths * width_m, all_.land_m + stroke.height_m, 0.0, 0.0, {c.x_m, c.y_m},
              c.run_rad, false, cell_at(c.x_m, c.y_m)};
    }
    const std::size_t cell = deepest(w, near);
    double far = map_.spacing_m;
    for (const std::size_t c : near)
      if (w.cell_of(map_, c) == cell) far = std::max(far, distance[c] - 0.5 * map_.spacing_m);
    const double x = x_m(cell), y = y_m(cell);
    const Crossing* nearest = &stroke.middle.front();
    const auto apart = [&](const Crossing& c) {
      return std::hypot(period(c.x_m - x, map_.nx), period(c.y_m - y, map_.ny));
    };
    for (const Crossing& c : stroke.middle)
      if (apart(c) < apart(*nearest)) nearest = &c;
    const double half = 0.5 * nearest->width_m;
    return {span_at(stroke, cell, 2.0 * far, nearest->run_rad),
            *nearest,
            std::max(kLandWidths * nearest->width_m, 2.0 * state_.thickness_m),
            all_.land_m + stroke.height_m,
            half,
            half + reach,
            {nearest->x_m, nearest->y_m},
            nearest->run_rad,
            false,
            cell};
  }

  Place in_counter(const MapStroke& stroke, const Window& w, const std::vector<std::size_t>& counter) const {
    const std::size_t cell = deepest(w, counter);
    const Crossing c = crossing_at(map_, x_m(cell), y_m(cell), all_.land_m + 0.5 * stroke.height_m);
    return {span_at(stroke, cell, c.width_m, c.run_rad),
            c,
            kLandWidths * c.width_m,
            all_.land_m + stroke.height_m,
            0.0,
            0.5 * c.width_m,
            {c.x_m, c.y_m},
            c.run_rad,
            true,
            cell};
  }

  double period(double way_m, int cells) const {
    const double length = cells * map_.spacing_m;
    return map_.periodic ? way_m - length * std::round(way_m / length) : way_m;
  }

  double level_m(std::size_t k) const { return all_.land_m + 0.5 * all_.strokes[k].height_m; }

  /// The worst strokes first; strokes alike share one.
  void solve_sections_too() {
    std::vector<std::size_t> asked;
    // One hole or dot alone is its section, as a profile is.
    const bool alone = places_.size() == 1 && all_.strokes.front().round;
    for (std::size_t k = 0; k < places_.size(); ++k)
      if (alone || !in_range(places_[k].span, state_)) asked.push_back(k);
    const auto share = [&](std::size_t k) { return corrected_m(places_[k].span, state_) / places_[k].span.height_m; };
    std::stable_sort(asked.begin(), asked.end(), [&](auto a, auto b) { return share(a) < share(b); });
    int left_out = 0;
    bool round = false;
    for (const std::size_t k : asked) {
      const Place& p = places_[k];
      const CrossSection own = across(map_, p.crossing, level_m(k), p.land_m, p.span.stretch);
      const auto same = std::find_if(sections_.begin(), sections_.end(), [&](const auto& s) { return alike(s, own); });
      if (same == sections_.end() && sections_.size() == kSections) {
        ++left_out;
        continue;
      }
      section_[k] = static_cast<int>(same - sections_.begin());
      if (same == sections_.end()) sections_.push_back(own);
      round = round || own.plane == SectionPlane::kRound;
    }
    solved_ = solve_sections(sections_, state_, stop_);
    for (std::size_t s = 0; s < solved_.size(); ++s) {
      const Crossing& c = places_[first_of(s)].crossing;
      note_section(solved_[s], fmt::format("the stroke at ({:.2f}, {:.2f}) mm", 1e3 * c.x_m, 1e3 * c.y_m),
                   answer_.notes);
    }
    if (round && state_.stretch_x != state_.stretch_y)
      answer_.notes.emplace_back("The sheet is stretched unequally; round detail is computed with the mean stretch.");
    if (left_out > 0)
      answer_.notes.push_back(
          fmt::format("{} strokes are beyond layer theory and unlike the {} that were computed as "
                      "sections: their depths are not valid.",
                      left_out, kSections));
  }

  /// Deepest of the underside in the part of the section that is looked at, on both sides of its middle.
  double section_depth_m(const Place& p, const SectionResult& result) const {
    constexpr int kLooks = 200;
    const double from = result.underside.front().x_m;
    double lowest = p.reference_m;
    for (const double side : {1.0, -1.0})
      for (int k = 0; k <= kLooks; ++k) {
        const double t = p.from_m + (p.to_m - p.from_m) * k / kLooks;
        if (side < 0.0 && -t < from) break;  // half a section, or one that is shorter on its left
        if (t > result.underside.back().x_m) break;
        lowest = std::min(lowest, underside_m(result, side * t));
      }
    return p.reference_m - lowest;
  }

  StrokeAnswer stroke(std::size_t k) const {
    const MapStroke& found = all_.strokes[k];
    const Place& p = places_[k];
    std::vector<double> widths;
    for (const Crossing& c : found.middle) widths.push_back(c.width_m);
    std::sort(widths.begin(), widths.end());
    StrokeAnswer s;
    s.place_m = p.at_m;
    s.width_m = widths[widths.size() / 2];
    s.narrowest_m = widths[widths.size() / 10];
    s.height_m = found.height_m;
    s.angle_rad = p.run_rad;
    s.in_counter = p.in_counter;
    if (section_[k] >= 0) {
      const BothTouches& both = solved_[at(section_[k])];
      if (both.stick) s.depth.stick_m = section_depth_m(p, *both.stick);
      if (both.slip) s.depth.slip_m = section_depth_m(p, *both.slip);
      settle(p.span, state_, wanted_, s);
      if (s.share_stick > 0.9) s.corner_radius_m = corner_radius_m(both);
      return s;
    }
    settle(p.span, state_, wanted_, s);
    return s;
  }

  /// Of the first stroke that has this section; NaN if it needs none.
  double refined_pressure_Pa(std::size_t section) const {
    const std::size_t first = first_of(section);
    const StrokeAnswer& stroke = answer_.strokes[first];
    const Place& p = places_[first];
    if (std::isnan(stroke.needed_pressure_Pa) || stroke.depth.model != Model::kSection) return kNotRun;
    return pressure_for_Pa(sections_[section], state_, stroke.depth.stick_m, stroke.needed_pressure_Pa,
                           wanted_ * p.span.height_m, [&](const SectionResult& r) { return section_depth_m(p, r); });
  }

  /// Strokes that share a section share the pressure, which belongs to the first of them.
  void refine_pressures() {
    std::vector<double> refined_Pa(sections_.size(), kNotRun);
    std::exception_ptr broken;
#pragma omp parallel for schedule(dynamic, 1)
    for (std::size_t s = 0; s < sections_.size(); ++s) {
      try {
        if (stop_()) throw Stopped{};
        refined_Pa[s] = refined_pressure_Pa(s);
      } catch (...) {
#pragma omp critical(pellicle_refined_pressures)
        broken = std::current_exception();
      }
    }
    if (broken) std::rethrow_exception(broken);
    for (std::size_t k = 0; k < section_.size(); ++k) {
      if (section_[k] < 0 || std::isnan(answer_.strokes[k].needed_pressure_Pa)) continue;
      const double Pa = refined_Pa[at(section_[k])];
      if (!std::isnan(Pa)) answer_.strokes[k].needed_pressure_Pa = Pa;
    }
  }

  void fill_depth() {
    const auto deepest = std::min_element(layer_.height_m.begin(), layer_.height_m.end());
    const std::size_t c = at(static_cast<int>(deepest - layer_.height_m.begin()));
    const double layer = -*deepest;
    if (answer_.strokes.empty()) {
      const Crossing wave = crossing_at(map_, x_m(c), y_m(c), 0.5 * (top_ + lowest_m(map_)));
      const Span span{wave.width_m,
                      answer_.own_depth_m,
                      layer,
                      std::max(layer, -layer_.free_height_m[c]),
                      ways(state_, wave.run_rad),
                      true,
                      std::isnan(wave.run_rad)};
      StrokeAnswer whole;
      settle(span, state_, wanted_, whole);
      answer_.depth = whole.depth;
      return;
    }
    if (all_.of[c] < 0 && layer_.gap_m[c] <= 2.0 * layer_.gap_error_m) {  // on the land: every model finds it there
      answer_.depth.layer_m = answer_.depth.answer_m = layer;
      return;
    }
    std::size_t nearest = 0;
    const auto apart = [&](std::size_t k) {
      const auto& at_m = answer_.strokes[k].place_m;
      return std::hypot(period(at_m[0] - x_m(c), map_.nx), period(at_m[1] - y_m(c), map_.ny));
    };
    for (std::size_t k = 1; k < answer_.strokes.size(); ++k)
      if (apart(k) < apart(nearest)) nearest = k;
    if (all_.of[c] >= 0 && all_.strokes[at(all_.of[c])].height_m < 0.0) nearest = at(all_.of[c]);
    const StrokeAnswer& s = answer_.strokes[nearest];
    answer_.depth = depth_of_patch(layer, top_ - all_.land_m - std::max(0.0, s.height_m), s, answer_.own_depth_m);
  }

  void fill_fields() {
    answer_.nx = map_.nx, answer_.ny = map_.ny;
    for (int i = 0; i < map_.nx; ++i) answer_.x_m.push_back((i + 0.5) * map_.spacing_m);
    for (int j = 0; j < map_.ny; ++j) answer_.y_m.push_back((j + 0.5) * map_.spacing_m);
    answer_.mould_height_m = map_.height_m;
    for (double& z : answer_.mould_height_m) z -= top_;
    answer_.sheet_height_m = layer_.height_m;
    answer_.gap_m = layer_.gap_m;
    answer_.contact_pressure_Pa = layer_.contact_pressure_Pa;
  }

  const HeightMap& map_;
  const LocalState& state_;
  const Stop& stop_;
  double wanted_, top_;
  PressedPatch layer_;
  HeightMap height_, free_;  // of the underside
  MapStrokes all_;
  std::vector<Place> places_;
  std::vector<int> section_;  // of each stroke; -1: none
  std::vector<CrossSection> sections_;
  std::vector<BothTouches> solved_;
  ReliefAnswer answer_;
  // Of a run over air alone:
  const MapAnswering* free_run_ = nullptr;
  const ReliefAnswer* free_answer_ = nullptr;
  const std::vector<Hollow>* hollows_ = nullptr;
  std::vector<int> hollow_of_;  // of each cell; -1: none
};

}  // namespace

ReliefAnswer capture_map(const HeightMap& map, const LocalState& state, double wanted_share, bool sections,
                         const Stop& stop, const LetsOut& lets_out) {
  MapAnswering free(map, state, wanted_share, stop);
  ReliefAnswer answer = free.finish(sections);
  if (!lets_out) return answer;
  const std::vector<Hollow> hollows = closed_hollows(map, lets_out);
  return hollows.empty() ? answer : MapAnswering(free, answer, hollows).finish_over_air(sections);
}

}  // namespace pellicle::imprint
