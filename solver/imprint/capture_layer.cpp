// How far does layer theory hold for one stroke, how deep does it say the sheet goes, and what would make it deeper?
#include "solver/imprint/capture_layer.h"

#include "mesh/check.h"
#include "solver/imprint/screening.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace pellicle::imprint {
namespace {

constexpr double kEighth = 0.125;   // of the pressure: little enough to come free of any floor that counts
constexpr double kOfRelief = 1e-3;  // how well the press is asked to know a gap

/// Depth of a slot by the table, for this width, thickness and stretches; only ratios of it are used.
double slot_m(double width_m, double thickness_m, const Ways& stretch) {
  return stroke_factor(width_m / thickness_m, stretch.across, stretch.along) * width_m;
}

/// d_lin that the correction turns into d; infinite beyond what it can give.
double uncorrected_m(double depth_m, double width_m, double thickness_m) {
  const double left = 1.0 - depth_correction(width_m / thickness_m) * depth_m / width_m;
  return left > 0.0 ? depth_m / left : std::numeric_limits<double>::infinity();
}

/// Where a rising (falling) condition turns true on the way from one value to the other, both above 0; NaN if it is not
/// true there.
template <class Holds>
double turn(double from, double to, const Holds& holds) {
  if (!holds(to)) return kNotRun;
  for (int k = 0; k < 50; ++k) {
    const double middle = std::sqrt(from * to);
    (holds(middle) ? to : from) = middle;
  }
  return to;
}

/// Scaled to the model that gave the answer: its depth over that of the corrected layer theory, floors apart, is kept.
struct Scaled {
  double factor;
  const Span& span;
  const LocalState& state;

  /// With another width, thickness, stretch and pressure.
  double depth_m(double width_m, double thickness_m, const Ways& stretch, double pressure_Pa) const {
    const double now = slot_m(span.width_m, state.thickness_m, span.stretch);
    const double linear = span.free_m * slot_m(width_m, thickness_m, stretch) / now * pressure_Pa / state.pressure_Pa;
    return factor * corrected_depth_m(linear, width_m, thickness_m);
  }
};

double wanted_pressure_Pa(const Scaled& by, double wanted_m) {
  const double linear = uncorrected_m(wanted_m / by.factor, by.span.width_m, by.state.thickness_m);
  return std::isfinite(linear) ? by.state.pressure_Pa * linear / by.span.free_m : kNotRun;
}

void advise(const Scaled& by, double wanted_m, StrokeAnswer& stroke) {
  constexpr double kWidest = 16.0, kThinnest = 1.0 / 16.0;  // of what is there: beyond is another mould, another sheet
  const Span& span = by.span;
  const LocalState& s = by.state;
  stroke.needed_pressure_Pa = wanted_pressure_Pa(by, wanted_m);
  if (span.sunk) {
    stroke.needed_width_m = turn(span.width_m, kWidest * span.width_m, [&](double w) {
      return by.depth_m(w, s.thickness_m, span.stretch, s.pressure_Pa) >= wanted_m;
    });
  }
  stroke.needed_thickness_m = turn(s.thickness_m, kThinnest * s.thickness_m, [&](double h) {
    return by.depth_m(span.width_m, h, span.stretch, s.pressure_Pa) >= wanted_m;
  });
}

}  // namespace

LocalState taut(const LocalState& state, const std::string& name, std::vector<std::string>& notes) {
  const auto refuse = [&](const char* what, double found, const char* allowed, const char* advice) {
    throw Error({Fault::Kind::kCase, "relief " + name + ", " + what, fmt::format("{:.6g}", found), allowed, advice});
  };
  const auto positive = [&](const char* what, double value) {
    if (!(value > 0.0 && std::isfinite(value))) refuse(what, value, "above 0", "");
  };
  positive("thickness of the sheet in mm", 1e3 * state.thickness_m);
  positive("shear modulus in MPa", 1e-6 * state.shear_modulus_Pa);
  positive("pressure in bar", 1e-5 * state.pressure_Pa);
  positive("stretch along x", state.stretch_x);
  positive("stretch along y", state.stretch_y);
  if (state.has_skin()) {
    if (!(state.skin_thickness_m < state.thickness_m)) {
      refuse("thickness of the skin in mm", 1e3 * state.skin_thickness_m, "less than the sheet's", "");
    }
    positive("shear modulus of the skin in MPa", 1e-6 * state.skin_shear_modulus_Pa);
    if (state.skin_shear_modulus_Pa < state.shear_modulus_Pa) {
      refuse("shear modulus of the skin in MPa", 1e-6 * state.skin_shear_modulus_Pa, "at least that of the core",
             "the side on the mould is the colder, stiffer one");
    }
  }
  // Stress along x is G (lx^2 - 1/(lx ly)^2): none at lx = ly^-1/2, a push below.
  constexpr double kSlack = 0.95;
  LocalState s = state;
  bool slack = false;
  const auto raise = [&](const char* what, double& own, double other) {
    const double least = 1.0 / std::sqrt(other);
    if (own >= least) return;
    if (own < kSlack * least) {
      refuse(what, own, fmt::format("{:.4g} or more with the other one at {:.4g}", least, other).c_str(),
             "a sheet that is compressed wrinkles before any gas presses it");
    }
    own = least;
    slack = true;
  };
  raise("stretch along x", s.stretch_x, s.stretch_y);
  raise("stretch along y", s.stretch_y, s.stretch_x);
  if (slack)
    notes.emplace_back("The sheet is slightly compressed along the patch; it is taken as one without tension.");
  return s;
}

LayerStack stack_of(const LocalState& s) {
  LayerStack stack{{}, s.stretch_x, s.stretch_y};
  if (s.has_skin()) stack.layers.push_back({s.skin_thickness_m, s.skin_shear_modulus_Pa});
  stack.layers.push_back({s.has_skin() ? s.thickness_m - s.skin_thickness_m : s.thickness_m, s.shear_modulus_Pa});
  return stack;
}

Ways ways(const LocalState& s, double run_rad) {
  const double both = s.stretch_x * s.stretch_y;
  if (std::isnan(run_rad)) return {std::sqrt(both), std::sqrt(both)};
  const double across = std::hypot(s.stretch_x * std::sin(run_rad), s.stretch_y * std::cos(run_rad));
  return {across, both / across};
}

PatchPress::PatchPress(const mesh::HeightMap& map, bool periodic, const LocalState& state, const Stop& stop)
    : press_({map.nx, map.ny, map.spacing_m}, stack_of(state), periodic ? Boundary::kPeriodic : Boundary::kPadded),
      mould_m_(map.height_m),
      relief_m_(highest_m(map) - lowest_m(map)),
      pressure_Pa_(state.pressure_Pa),
      stop_(stop) {
  const double top_m = highest_m(map);
  for (double& z : mould_m_) z -= top_m;
}

/// From coarser grids each time: over raised relief a displacement at another load is far from where the sheet rests,
/// and the long waves take hundreds of iterations on the finest grid.
Pressed PatchPress::to_its_depth(double part, const std::vector<double>& back_Pa) {
  constexpr double kOfDepth = 3e-3, kLeast = 1e-6;
  constexpr int kIterations = 5000;
  if (stop_()) throw Stopped{};
  std::vector<double> back = back_Pa;
  for (double& q_Pa : back) q_Pa *= part;
  const auto* below = back.empty() ? nullptr : &back;
  Pressed p = press_.solve(mould_m_, part * pressure_Pa_, {kOfRelief * relief_m_, kIterations}, nullptr, below);
  for (;;) {  // a deep relief that is hardly entered needs more than its own scale
    const double deepest_m = -*std::min_element(p.displacement_m.begin(), p.displacement_m.end());
    const double wanted = kOfDepth * std::max(deepest_m, kLeast * relief_m_);
    if (p.gap_error_m <= wanted) return p;
    p = press_.solve(mould_m_, part * pressure_Pa_, {wanted, kIterations}, &p.outer_displacement_m, below);
  }
}

const std::vector<double>& PatchPress::height_m(const std::vector<double>& back_Pa) {
  full_ = to_its_depth(1.0, back_Pa);
  back_Pa_ = back_Pa;
  return full_.displacement_m;
}

PressedPatch PatchPress::patch(const std::vector<double>& back_Pa) {
  if (full_.gap_m.empty() || back_Pa != back_Pa_) height_m(back_Pa);
  const Pressed eighth = to_its_depth(kEighth, back_Pa);
  PressedPatch out{full_.displacement_m, full_.displacement_m, full_.gap_m, full_.contact_pressure_Pa,
                   full_.gap_error_m};
  const double touch = std::max(full_.gap_error_m, kOfRelief * relief_m_);
  for (std::size_t c = 0; c < mould_m_.size(); ++c) {
    if (full_.gap_m[c] > touch) continue;
    out.free_height_m[c] = std::min(full_.displacement_m[c], eighth.displacement_m[c] / kEighth);
  }
  return out;
}

PressedPatch pressed(const mesh::HeightMap& map, bool periodic, const LocalState& state, const Stop& stop) {
  return PatchPress(map, periodic, state, stop).patch({});
}

double corrected_m(const Span& span, const LocalState& state) {
  return std::min(span.height_m, corrected_depth_m(span.free_m, span.width_m, state.thickness_m));
}

bool in_range(const Span& span, const LocalState& s) {
  constexpr double kDeepest = 0.5, kDeepestWide = 0.25, kWide = 2.0, kWidest = 4.0, kDeepestThin = 0.5;
  constexpr double kLittle = 1.1, kStiff = 1.5, kThinSkin = 0.1;
  const double w = span.width_m, d = std::min(span.free_m, span.height_m), ratio = w / s.thickness_m;
  // Tension over modulus across the stroke grows with r = across^2 along, 1 without stretch: that of 10 % both ways.
  const bool taut = span.stretch.across * span.stretch.across * span.stretch.along > kLittle * kLittle * kLittle;
  if (d > kDeepest * w) return false;
  if (ratio >= kWide && !taut && d > kDeepestWide * w) return false;
  if (ratio > kWidest && d > kDeepestThin * s.thickness_m) return false;
  const bool stiff = s.has_skin() && s.skin_shear_modulus_Pa > kStiff * s.shear_modulus_Pa;
  // Layer theory stretches the skin with the sheet.
  return !(stiff && ((taut && !s.skin_stretched) || s.skin_thickness_m < kThinSkin * w));
}

void settle(const Span& span, const LocalState& state, double wanted_share, StrokeAnswer& stroke) {
  Depths& depth = stroke.depth;
  const double layer = corrected_m(span, state);
  depth.layer_m = span.layer_m;
  if (!std::isnan(depth.stick_m)) {
    depth.model = Model::kSection;
    depth.answer_m = std::min(depth.stick_m, span.height_m);
    depth.valid = true;
  } else {
    depth.valid = in_range(span, state);
    depth.model = depth.valid ? Model::kLayer : Model::kLayerBeyond;
    depth.answer_m = layer;
  }
  const auto share = [&](double d) { return std::isnan(d) ? kNotRun : std::clamp(d / span.height_m, 0.0, 1.0); };
  stroke.share = share(depth.answer_m);
  stroke.share_stick = share(depth.stick_m);
  stroke.share_slip = share(depth.slip_m);
  if (!(layer > 0.0) || !(depth.answer_m > 0.0)) return;
  // Of the depth without a floor: where layer theory fills the stroke and the section does not, more is asked for.
  const Scaled by{depth.answer_m / corrected_depth_m(span.free_m, span.width_m, state.thickness_m), span, state};
  const Ways turned{std::min(state.stretch_x, state.stretch_y), std::max(state.stretch_x, state.stretch_y)};
  if (!span.round) {
    // A stroke that fills is as deep as it is, whichever way it runs.
    stroke.share_along =
        stroke.share >= 1.0 ? 1.0 : share(by.depth_m(span.width_m, state.thickness_m, turned, state.pressure_Pa));
  }
  if (stroke.share < wanted_share) advise(by, wanted_share * span.height_m, stroke);
}

}  // namespace pellicle::imprint
