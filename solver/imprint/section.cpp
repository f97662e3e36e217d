// How deep is a sheet pressed into one groove or over one ridge, when linear layer theory no longer holds?
#include "solver/imprint/section.h"

#include "mesh/check.h"
#include "solver/imprint/section/section_newton.h"
#include "solver/imprint/section/section_shape.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

namespace pellicle::imprint {
namespace {

using Eigen::Vector2d;
using Eigen::VectorXd;

constexpr double kPenalty = 2000.0;            // of contact, over the largest modulus by the finest column
constexpr double kFirstStep = 0.25;            // of the pressure
constexpr double kSmallestStep = 1.0 / 128.0;  // below it an unstable step is a jump
constexpr double kJump = 0.15;                 // of the feature: most an unstable step may move
constexpr int kIterations = 40, kIterationsOfJump = 400, kHoldRounds = 12, kEasyIterations = 8;

[[noreturn]] void refuse(const char* where, const std::string& found, const char* allowed, const char* advice) {
  throw Error({Fault::Kind::kCase, std::string("section, ") + where, found, allowed, advice});
}

void check(const SectionTask& task) {
  const auto positive = [](const char* where, double value, const char* unit) {
    if (!(value > 0.0) || !std::isfinite(value)) refuse(where, fmt::format("{} {}", value, unit), "above zero", "");
  };
  const SectionSheet& sheet = task.sheet;
  positive("thickness", sheet.thickness_m, "m");
  positive("shear modulus", sheet.shear_modulus_Pa, "Pa");
  positive("stretch in the section", sheet.stretch_x, "");
  positive("stretch across", sheet.stretch_y, "");
  positive("pressure", task.pressure_Pa, "Pa");
  positive("refinement", task.refinement, "");
  positive("contact factor", task.contact_factor, "");
  if (sheet.skin) {
    positive("skin thickness", sheet.skin->thickness_m, "m");
    if (sheet.skin->thickness_m >= sheet.thickness_m) {
      refuse("skin thickness", fmt::format("{} m", sheet.skin->thickness_m), "less than the sheet's", "");
    }
    if (!(sheet.skin->shear_modulus_Pa >= sheet.shear_modulus_Pa) || !std::isfinite(sheet.skin->shear_modulus_Pa)) {
      refuse("skin modulus", fmt::format("{} Pa", sheet.skin->shear_modulus_Pa), "at least that of the core", "");
    }
  }
  const auto& points = task.profile.points;
  if (points.size() < 2) refuse("profile", fmt::format("{} points", points.size()), "at least two points", "");
  for (std::size_t k = 0; k < points.size(); ++k) {
    const bool falls = k > 0 && points[k].x_m < points[k - 1].x_m;
    if (!std::isfinite(points[k].x_m) || !std::isfinite(points[k].z_m) || falls) {
      refuse("profile", fmt::format("point {} at x = {} m, z = {} m", k, points[k].x_m, points[k].z_m),
             "finite heights, x never falling", "undercuts cannot be computed");
    }
  }
  positive("profile's length", points.back().x_m - points.front().x_m, "m");
  if (!(task.profile.edge_radius_m >= 0.0) || !(task.profile.foot_radius_m >= 0.0)) {
    refuse("profile's radii", fmt::format("{} m, {} m", task.profile.edge_radius_m, task.profile.foot_radius_m),
           "zero or more", "");
  }
  if (task.ends == SectionEnds::kPeriodic && points.front().z_m != points.back().z_m) {
    refuse("profile", fmt::format("ends {} m apart in height", points.back().z_m - points.front().z_m),
           "equal heights at both ends of a period", "");
  }
  if (task.plane == SectionPlane::kRound) {
    if (points.front().x_m != 0.0 || task.ends != SectionEnds::kSymmetric) {
      refuse("round profile", fmt::format("begins at x = {} m", points.front().x_m), "x = 0 and symmetric ends", "");
    }
    if (sheet.stretch_x != sheet.stretch_y) {
      refuse("round section", fmt::format("stretches {} and {}", sheet.stretch_x, sheet.stretch_y),
             "equal stretches both ways", "compute strips along either stretch instead");
    }
  }
}

/// Walks the pressure up from nothing and settles what sticks.
class Loading {
 public:
  Loading(SectionModel& model, const SectionTask& task, double penalty_Pa_per_m)
      : model_(model), task_(task), newton_(model), penalty_(penalty_Pa_per_m) {
    small_m_ = kJump * model.mould().feature_m();
  }

  VectorXd run(SectionResult& result) {
    const double target = task_.pressure_Pa;
    double reached = 0.0, step = kFirstStep * target;
    VectorXd u = model_.flat_lowered(least_gap_m() + step / penalty_);  // so that there is something to stand on
    begin_held(u);
    while (reached < target) {
      const double next = target - reached < 1.01 * step ? target : reached + step;
      const bool last_resort = next - reached <= kSmallestStep * target * 1.01;
      const auto before = model_.places();
      VectorXd start = VectorXd::Zero(u.size());
      if (reached > 0.0 && !jumped_) start = (next - reached) * rate_;
      if (!std::isfinite(model_.energy(u + start, next))) start.setZero();
      VectorXd moved = u;
      Attempt attempt = try_step(u, moved, start, next, last_resort);
      const double way_m = (moved - u).lpNorm<Eigen::Infinity>();
      const bool jumps = attempt.unstable && reached > 0.0 && way_m > small_m_;
      if (!attempt.converged || (jumps && !last_resort)) {
        if (last_resort) give_up(reached, next);
        model_.places() = before;
        step = std::max(0.5 * (next - reached), kSmallestStep * target);
        continue;
      }
      if (jumps && !result.snapped) {
        result.snapped = true;
        result.snap_pressure_Pa = next;
      }
      jumped_ = jumps;
      rate_ = (moved - u) / (next - reached);
      const bool easy = attempt.residuals.size() <= kEasyIterations;
      result.steps.push_back({next, std::move(attempt.residuals)});
      u = moved;
      reached = next;
      if (easy) step *= 2.0;
    }
    return u;
  }

 private:
  struct Attempt {
    bool converged = false, unstable = false;
    std::vector<double> residuals;
  };

  /// Of the flat sheet to the mould: more than nothing if its crest lies between two contact places.
  double least_gap_m() const {
    const VectorXd flat = model_.flat_lowered(0.0);
    double least = std::numeric_limits<double>::infinity();
    for (const ContactPlace& place : model_.places()) {
      least = std::min(least, model_.mould().nearest(model_.underside(flat, place)).gap_m);
    }
    return least;
  }

  void begin_held(const VectorXd& u) {
    if (task_.touch == SectionTouch::kSlip) return;
    for (ContactPlace& place : model_.places()) {
      const auto near = model_.mould().nearest(model_.underside(u, place));
      if (near.gap_m < 0.0) hold(place, near.place);
    }
  }

  static void hold(ContactPlace& place, const Vector2d& anchor) {
    place.held = true;
    place.anchor = anchor;
  }

  /// Newton, and for sticking sheet: let go what would pull, hold what came to touch, until neither happens. A place
  /// let go is not held again in the same step, so this ends.
  Attempt try_step(const VectorXd& before, VectorXd& u, const VectorXd& start, double pressure_Pa, bool last_resort) {
    Attempt attempt;
    for (ContactPlace& place : model_.places()) place.dropped = false;
    for (int round = 0; round < kHoldRounds; ++round) {
      auto report = newton_.rest(u, round == 0 ? start : VectorXd::Zero(u.size()), pressure_Pa,
                                 last_resort ? kIterationsOfJump : kIterations);
      attempt.unstable = attempt.unstable || report.unstable;
      attempt.residuals.insert(attempt.residuals.end(), report.residuals.begin(), report.residuals.end());
      attempt.converged = report.converged;
      if (!report.converged || task_.touch == SectionTouch::kSlip || !change_held(before, u)) return attempt;
    }
    attempt.converged = false;
    return attempt;
  }

  bool change_held(const VectorXd& before, const VectorXd& u) {
    bool changed = false;
    for (ContactPlace& place : model_.places()) {
      const Vector2d q = model_.underside(u, place);
      if (place.held) {
        const Vector2d normal = model_.mould().nearest(place.anchor).normal;
        if ((q - place.anchor).dot(normal) > 0.0) {
          place.held = false;
          place.dropped = changed = true;
        }
      } else if (!place.dropped) {
        const double gap = model_.mould().nearest(q).gap_m;
        if (gap >= 0.0) continue;
        // Where it came through the surface on its straight way of this step.
        const Vector2d from = model_.underside(before, place);
        const double open = std::max(0.0, model_.mould().nearest(from).gap_m);
        hold(place, model_.mould().nearest(from + open / (open - gap) * (q - from)).place);
        changed = true;
      }
    }
    return changed;
  }

  [[noreturn]] void give_up(double reached_Pa, double next_Pa) const {
    throw Error({Fault::Kind::kSolution, "section of the mould under pressure",
                 fmt::format("no balance between {:.6g} and {:.6g} Pa", reached_Pa, next_Pa), "a sheet at rest",
                 "the sheet may be past its limit pressure over a gap without a floor in reach, or an element too "
                 "distorted at a sharp edge: give the edge its true radius, or a lower pressure"});
  }

  SectionModel& model_;
  const SectionTask& task_;
  SectionNewton newton_;
  double penalty_, small_m_;
  VectorXd rate_;
  bool jumped_ = false;
};

SectionResult solve_once(const SectionTask& task, double refinement) {
  const MouldCurve mould(task.profile, task.ends, task.touch);
  const SectionGrid grid = make_grid(task.sheet, task.profile, mould, refinement);
  const double stiffest_Pa = grid.layer.front().bulk_Pa / kBulkOverShear;
  const double penalty = task.contact_factor * kPenalty * stiffest_Pa / grid.finest_m;
  SectionModel model(grid, mould, task.plane, task.ends, penalty);
  SectionResult result;
  const VectorXd u = Loading(model, task, penalty).run(result);
  describe_section(model, task.sheet, u, result);
  return result;
}

}  // namespace

SectionProfile half_slot(double width_m, double depth_m, double pitch_m, double edge_radius_m) {
  const double edge = 0.5 * width_m;
  return {{{0.0, -depth_m}, {edge, -depth_m}, {edge, 0.0}, {0.5 * pitch_m, 0.0}}, edge_radius_m, 0.0};
}

SectionProfile sampled_profile(const std::function<double(double)>& z_m, double from_m, double to_m, int count) {
  SectionProfile profile;
  for (int k = 0; k < count; ++k) {
    const double x = from_m + (to_m - from_m) * k / (count - 1);
    profile.points.push_back({x, z_m(x)});
  }
  return profile;
}

SectionResult solve_section(const SectionTask& task) {
  check(task);
  SectionResult result = solve_once(task, task.refinement);
  if (task.estimate_error) {
    result.depth_error_m = std::abs(result.depth_m - solve_once(task, 0.5 * task.refinement).depth_m);
  }
  return result;
}

}  // namespace pellicle::imprint
