// What happens around the loop? Stages, books, guards, rows and frames.
#include "solver/forming/forming.h"
#include "solver/forming/free_span.h"
#include "solver/forming/recover.h"
#include "solver/sheet/membrane.h"

#include <fmt/core.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle::forming {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// history.csv has a row at least every 1/200 of each stage.
constexpr double kRowsPerStage = 200.0;
/// The ledger is judged only above this share of mu V0: below it there is nothing but round-off and start-up.
constexpr double kJudgedWork = 1e-4;
/// Motion is judged once the sheet has stored this share of mu V0, strains of about three per cent: what moves before
/// that changes no thickness.
constexpr double kStretched = 1e-3;
/// Mass of a sheet that rides along with the clamp, over what its pace asks for: steps five times as long.
constexpr double kRidingMass = 25.0;
/// No hot sheet stretches thirtyfold; an element that does, or that loses all its area, has gone wrong.
constexpr double kAbsurdStretch = 30.0;

std::string place(const mesh::Vec3& x_m) {
  return fmt::format("({:.2f}, {:.2f}, {:.2f}) mm", 1e3 * x_m.x(), 1e3 * x_m.y(), 1e3 * x_m.z());
}

}  // namespace

double Forming::clamp_at_m(double time_s) const {
  if (!stage().clamp_to_m) return snap_.stage_start_clamp_m;
  const double share = (time_s - schedule_.start_s(snap_.stage)) / stage().duration_s;
  return snap_.stage_start_clamp_m + ramp(share) * (*stage().clamp_to_m - snap_.stage_start_clamp_m);
}

/// What the sheet may sweep: down to mould and platform under it, or where there is nothing below, and upwards, a
/// bubble of half the sheet's width. It sets the speed of travel only, no result.
double Forming::full_volume_m3() const {
  const double R = mesh::half_width_m(spec_.sheet.outline), area = mesh::area_m2(spec_.sheet.outline);
  const double bubble = 2.0 / 3.0 * area * R, least = 0.05 * area * R;
  const auto* pressure = std::get_if<PressureDrive>(&stage().drive);
  if (!mould_.is_there() || (pressure && pressure->pressure_Pa < 0.0)) return bubble;
  const double clamp_m = stage().clamp_to_m.value_or(snap_.clamp_z_m);
  double volume = 0.0;
  for (int i = 0; i < state_.nodes(); ++i) {
    double flat_area = 0.0;
    for (int k = state_.first_corner[at(i)]; k < state_.first_corner[at(i) + 1]; ++k)
      flat_area += state_.rest[at(state_.corners[at(k)] / 3)].volume_m3 / (3.0 * state_.bought_thickness_m);
    const mesh::Vec2& flat = state_.flat_m[at(i)];
    const double top = mould_.top_m(flat.x(), flat.y()).value_or(clamp_m - R);
    volume += flat_area * std::max(clamp_m - top, 0.0);
  }
  return std::max(volume - snap_.volume_m3, least);
}

/// Velocity is kept when the mass changes; what kinetic energy that makes or takes is booked.
void Forming::scale_mass(double factor) {
  snap_.mass_factor *= factor;
  for (std::size_t i = 0; i < true_mass_kg_.size(); ++i) state_.mass_kg[i] = snap_.mass_factor * true_mass_kg_[i];
  snap_.ledger.mass_change_J += tamper_.mass_change * (1.0 - factor) * snap_.ledger.kinetic_J;
  snap_.ledger.kinetic_J *= factor;
}

bool Forming::rides_along() const {
  const auto* pressure = std::get_if<PressureDrive>(&stage().drive);
  return spec_.numerics.pace == Pace::kQuasiStatic && !spec_.sheet.sags && !snap_.ever_touched && pressure &&
         pressure->pressure_Pa == 0.0 && snap_.drive_Pa == 0.0 && snap_.ledger.largest_work_J == 0.0;
}

void Forming::end_ride() {
  const double growth = snap_.mass_growth;
  change_pace(1.0 / growth);
  snap_.damping_per_s *= std::sqrt(growth);
  snap_.most_damping_per_s *= std::sqrt(growth);
  snap_.mass_growth = 1.0;
  snap_.limit_dt_s = 0.0;
}

/// Once the sheet has travelled, lies on the mould and is quiet, a heavier one settles no differently and takes longer
/// steps: mass grows by a fifth at a time, to nine times at most.
void Forming::grow_mass() {
  constexpr double kStep = 1.2, kQuiet = 0.01;
  const Ledger& l = snap_.ledger;
  const bool held = std::fabs(snap_.pressure_Pa) < std::fabs(snap_.drive_Pa);
  if (spec_.numerics.pace != Pace::kQuasiStatic || std::holds_alternative<VolumeDrive>(stage().drive)) return;
  if (!snap_.ever_touched || held || snap_.drive_Pa == 0.0 || stage().clamp_to_m) return;
  if (!(l.kinetic_J < kQuiet * l.strain_J) || snap_.mass_growth * kStep > kMostGrowth) return;
  if (snap_.time_s - schedule_.start_s(snap_.stage) < kSoftStart * snap_.travel_s) return;
  scale_mass(kStep);
  snap_.mass_growth *= kStep;
  snap_.damping_per_s /= std::sqrt(kStep);
  snap_.most_damping_per_s /= std::sqrt(kStep);
}

/// A sheet that the clamp draws over the mould and that sticks there: what is left free spans less and answers faster,
/// so mass grows with the square of the whole radius over the free one. The pace of what still travels stays, and so
/// does the damping, c/R.
void Forming::grow_mass_with_contact() {
  constexpr std::int64_t kLookBooks = 8;  // looking takes as long as some steps
  constexpr double kMostAtOnce = 1.25;    // a jump would be felt: velocity is kept when mass changes
  constexpr double kQuiet = 0.01;         // kinetic over strain energy: docs/theory/time.md
  if (spec_.numerics.pace != Pace::kQuasiStatic || !spec_.friction.stick || !stage().clamp_to_m) return;
  if (!snap_.ever_touched || snap_.step / kBookSteps % kLookBooks != 0) return;
  if (!(total(last_sums_, sheet::NodeSums::kLoud_J) < kQuiet * snap_.ledger.strain_J)) return;
  const double whole_m = mesh::half_width_m(spec_.sheet.outline);
  const double spans = whole_m / std::min(whole_m, std::max(free_half_width_m(state_, snap_.touch), 0.1 * whole_m));
  const double growth = std::min({kMostAtOnce, spans * spans / snap_.mass_growth, kMostGrowth / snap_.mass_growth});
  if (!(growth > 1.0)) return;
  scale_mass(growth);
  snap_.mass_growth *= growth;
}

/// R of the pace. What sticks stays where it is while gas presses on; what spans less has less to travel and answers
/// faster.
double Forming::travelling_m() const {
  constexpr double kLeast = 0.1;  // of the whole
  const double whole_m = mesh::half_width_m(spec_.sheet.outline);
  const auto* pressure = std::get_if<PressureDrive>(&stage().drive);
  const bool presses_on =
      std::holds_alternative<GasDrive>(stage().drive) || (pressure && pressure->pressure_Pa >= snap_.stage_start_Pa);
  if (!spec_.friction.stick || !snap_.ever_touched || !presses_on || stage().clamp_to_m) return whole_m;
  return std::clamp(free_half_width_m(state_, snap_.touch), kLeast * whole_m, whole_m);
}

void Forming::begin_stage() {
  const double mu = sheet::small_strain_shear_modulus_Pa(spec_.sheet.law);
  snap_.stage_start_Pa = snap_.drive_Pa;
  snap_.stage_start_m3 = sheet::swept_volume_m3(state_, snap_.clamp_z_m);
  snap_.paced_m3 = snap_.stage_start_m3;
  snap_.stage_start_clamp_m = snap_.clamp_z_m;
  snap_.row_s = snap_.time_s;
  snap_.kinetic_share = 0.0;
  snap_.peak_Pa = snap_.peak_s = snap_.peak_m3 = 0.0;
  snap_.passed_peak = false;
  snap_.fastest_m3_s = 0.0;
  const auto* pressure = std::get_if<PressureDrive>(&stage().drive);
  const bool changes = !pressure || std::fabs(pressure->pressure_Pa - snap_.stage_start_Pa) > 1e-6 * mu;
  const PaceChoice pace = choose_pace(spec_, stage(), changes, travelling_m());
  // A flat sheet that only rides along with the clamp has no inertia to keep small: long steps until it touches.
  snap_.mass_growth = rides_along() ? kRidingMass : 1.0;
  change_pace(snap_.mass_growth * pace.mass_factor / snap_.mass_factor);
  snap_.most_damping_per_s = pace.damping_per_s / std::sqrt(snap_.mass_growth);
  snap_.damping_per_s = snap_.most_damping_per_s;
  snap_.travel_s = pace.travel_s;
  snap_.pace = pace.pace;
  snap_.limit_dt_s = 0.0;
  snap_.full_m3 = full_volume_m3();
  if (const auto* gas = std::get_if<GasDrive>(&stage().drive)) {
    // The gas carries over from a gas stage before; else the chamber holds what the sheet feels now.
    const bool carries = snap_.stage > 0 && std::holds_alternative<GasDrive>(spec_.stages[at(snap_.stage - 1)].drive);
    if (!carries) {
      const Chamber chamber = filled_chamber(*gas, snap_.stage_start_m3, snap_.drive_Pa);
      snap_.gas_kg = chamber.gas_kg, snap_.gas_energy_J = chamber.energy_J, snap_.chamber_m3 = chamber.volume_m3;
    }
  }
}

void Forming::end_stage() {
  const StageSpec& now = stage();
  bool reached = true;
  const double swept_m3 = sheet::swept_volume_m3(state_, snap_.clamp_z_m);
  const auto near = [](double found, double wanted, double scale) { return std::fabs(found - wanted) <= 0.01 * scale; };
  if (const auto* pressure = std::get_if<PressureDrive>(&now.drive))
    reached = near(snap_.mean_pressure_Pa, pressure->pressure_Pa, std::fabs(pressure->pressure_Pa) + 100.0);
  else if (const auto* gas = std::get_if<GasDrive>(&now.drive))
    reached = near(snap_.mean_pressure_Pa, gas->supply_Pa, std::fabs(gas->supply_Pa) + 100.0);
  else if (const auto* volume = std::get_if<VolumeDrive>(&now.drive))
    reached = near(swept_m3, volume->volume_m3,
                   std::max(std::fabs(volume->volume_m3), std::fabs(volume->volume_m3 - snap_.stage_start_m3)));
  const double none = std::numeric_limits<double>::quiet_NaN();
  snap_.reports.push_back({.name = now.name,
                           .start_s = schedule_.start_s(snap_.stage),
                           .end_s = schedule_.end_s(snap_.stage),
                           .steps = snap_.step - snap_.stage_first_step,
                           .pressure_Pa = snap_.mean_pressure_Pa,
                           .swept_volume_m3 = swept_m3,
                           .mass_factor = snap_.mass_factor,
                           .damping_per_s = snap_.damping_per_s,
                           .travel_s = snap_.travel_s,
                           .pace = snap_.pace,
                           .kinetic_share = snap_.kinetic_share,
                           .friction_share_slipped = snap_.slipped_share,
                           .peak_Pa = snap_.passed_peak ? snap_.peak_Pa : none,
                           .peak_s = snap_.passed_peak ? snap_.peak_s : none,
                           .peak_m3 = snap_.passed_peak ? snap_.peak_m3 : none,
                           .fastest_m3_s = snap_.passed_peak ? snap_.fastest_m3_s : none,
                           .reached = reached});
  ++snap_.stage;
  snap_.stage_first_step = snap_.step;
  snap_.still_books = 0;  // what stood may be pressed on by the next
}

/// Where the shortest time step comes from: the first place to look at when a run goes wrong.
std::string Forming::stiffest_place() const {
  const double density = spec_.sheet.density_kg_m3 * snap_.mass_factor;
  const int e = sheet::highest_frequency(spec_.sheet.law, state_, density, snap_.mean_pressure_Pa).element;
  const mesh::Triangle& t = state_.triangles[at(e)];
  return fmt::format(", stiffest element at {}",
                     place((state_.x_m[at(t[0])] + state_.x_m[at(t[1])] + state_.x_m[at(t[2])]) / 3.0));
}

/// What the free sheet resists with is its pressure while the pace holds it back; else, of a sheet that is thrown, what
/// its strain energy grows by for the volume it sweeps. When that falls by a few percent as the sheet grows on, it has
/// passed a limit: for one pressure there is more than one shape. Near the flat sheet, which rings as it starts, there
/// is none: a bubble must have swept kBubble of area x half width. Once it touches the mould bears part of the
/// pressure.
void Forming::watch_peak() {
  constexpr double kFallen = 0.99, kBubble = 0.15, kLeastGrowth = 1e-5;
  const double bubble_m3 = mesh::area_m2(spec_.sheet.outline) * mesh::half_width_m(spec_.sheet.outline);
  const double grown_m3 = snap_.volume_m3 - snap_.book_m3, since_s = snap_.time_s - snap_.book_s;
  const bool paced =
      std::holds_alternative<VolumeDrive>(stage().drive) || std::fabs(snap_.pressure_Pa) < std::fabs(snap_.drive_Pa);
  const bool thrown = !paced && spec_.numerics.pace == Pace::kReal && !snap_.ever_touched;
  if (thrown && std::fabs(grown_m3) < kLeastGrowth * bubble_m3) return;  // not enough to tell a slope from
  // Both where the step began: the volume is the last gas update's.
  const double resists_Pa = thrown ? (strain_before_J_ - snap_.book_strain_J) / grown_m3 : snap_.pressure_Pa;
  snap_.book_strain_J = strain_before_J_, snap_.book_m3 = snap_.volume_m3, snap_.book_s = snap_.time_s;
  if (snap_.passed_peak && since_s > 0.0)
    snap_.fastest_m3_s = std::max(snap_.fastest_m3_s, std::fabs(grown_m3) / since_s);
  if (!paced && !thrown) return;
  // A thrown sheet is through within a few books; the pressure of a paced one is noisy.
  snap_.slow_Pa += (thrown ? 0.5 : 0.125) * (resists_Pa - snap_.slow_Pa);
  const bool could_bear =
      std::holds_alternative<VolumeDrive>(stage().drive) || std::fabs(snap_.drive_Pa) > std::fabs(snap_.peak_Pa);
  if (snap_.passed_peak || std::fabs(snap_.volume_m3) < kBubble * bubble_m3) return;
  if (std::fabs(snap_.slow_Pa) > std::fabs(snap_.peak_Pa))
    snap_.peak_Pa = snap_.slow_Pa, snap_.peak_s = snap_.time_s, snap_.peak_m3 = snap_.volume_m3;
  else if (std::fabs(snap_.slow_Pa) < kFallen * std::fabs(snap_.peak_Pa) && could_bear)
    snap_.passed_peak = std::fabs(snap_.volume_m3) > std::fabs(snap_.peak_m3);
}

/// mu V0: what strains of order one store.
double Forming::sheet_J() const {
  return sheet::small_strain_shear_modulus_Pa(spec_.sheet.law) * mesh::area_m2(spec_.sheet.outline) *
         spec_.sheet.thickness_m;
}

void Forming::check_balance() {
  const Ledger l = booked();
  snap_.ledger.largest_work_J = std::max(snap_.ledger.largest_work_J, std::fabs(work_in_J(l)));
  const double off = balance(booked());
  const std::string where = "stage '" + stage().name + "' at " + fmt::format("{:.4g} s", snap_.time_s);
  if (!std::isfinite(l.kinetic_J) || !std::isfinite(l.strain_J))
    throw Error({Fault::Kind::kSolution, where, "a number that is not finite", "finite positions and velocities",
                 "the run became unstable; the frames before are good. Try a smaller element or a longer stage"});
  // Early in a stage the sheet is near flat and the share says nothing.
  snap_.largest_strain_J = std::max(snap_.largest_strain_J, l.strain_J);
  watch_peak();
  if (snap_.time_s - schedule_.start_s(snap_.stage) > 0.3 * stage().duration_s &&
      snap_.largest_strain_J > kStretched * sheet_J())
    snap_.kinetic_share =
        std::max(snap_.kinetic_share, total(last_sums_, sheet::NodeSums::kLoud_J) / snap_.largest_strain_J);
  if (snap_.ledger.largest_work_J < kJudgedWork * sheet_J()) return;
  snap_.worst_balance = std::max(snap_.worst_balance, std::fabs(off));
  if (std::fabs(off) > spec_.numerics.energy_limit)
    throw Error(
        {Fault::Kind::kSolution, where,
         fmt::format("an energy ledger that is off by {:.3g} of {:.3g} J work", off, snap_.ledger.largest_work_J),
         fmt::format("at most {:.3g} (numerics.energy_limit)", spec_.numerics.energy_limit),
         "the frames before are good. Try a longer stage or a smaller element"});
}

Trouble Forming::trouble_with(int e) const {
  if (sheet::element_stretch(state_, e).l1 > kAbsurdStretch) return Trouble::kRunsAway;
  // First a cheap look at the neighbours, then at the mould.
  const mesh::Triangle& t = state_.triangles[at(e)];
  const mesh::Vec3 &a = state_.x_m[at(t[0])], &b = state_.x_m[at(t[1])], &c = state_.x_m[at(t[2])];
  const mesh::Vec3 normal = (b - a).cross(c - a);
  bool suspect = true, turned = false;
  for (const int i : t) {
    suspect = suspect && snap_.touch[at(i)].touching != 0;
    turned = turned || normal.dot(state_.area_m2[at(i)]) < 0.0;
  }
  const bool over = suspect && turned && mould_.outward((a + b + c) / 3.0).dot(normal.normalized()) < -0.5;
  return over ? Trouble::kTurnedOver : Trouble::kNone;
}

void Forming::check_elements() const {
  if (snap_.ledger.largest_work_J < kJudgedWork * sheet_J()) return;
  int first = state_.elements();
#pragma omp parallel for schedule(static) reduction(min : first)
  for (int e = 0; e < state_.elements(); ++e)
    if (trouble_with(e) != Trouble::kNone) first = std::min(first, e);
  if (first == state_.elements()) return;
  const mesh::Triangle& t = state_.triangles[at(first)];
  const mesh::Vec3 middle = (state_.x_m[at(t[0])] + state_.x_m[at(t[1])] + state_.x_m[at(t[2])]) / 3.0;
  const std::string where = fmt::format("stage '{}', sheet at {}", stage().name, place(middle));
  if (trouble_with(first) == Trouble::kRunsAway)
    throw Error({Fault::Kind::kSolution, where,
                 fmt::format("a stretch of {:.3g}", sheet::element_stretch(state_, first).l1),
                 fmt::format("less than {:.3g}", kAbsurdStretch),
                 "the sheet runs away here: lower the pressure, or use a law that stiffens (yeoh, ogden)"});
  throw Error({Fault::Kind::kSolution, where, "the sheet folded over itself", "one layer of sheet everywhere",
               "excess sheet folds into a web here, or an edge sharper than the element cuts it; what the gas then "
               "does is not modelled: a smaller element, rounder edges, more draft, or friction = \"stick\""});
}

Ledger Forming::booked() const {
  Ledger l = snap_.ledger;
  l.gas_J += snap_.half_gas_J;
  return l;
}

/// The drive does not change any more, and nothing moves: energy of motion falls with the square of what is left to go,
/// so shapes and walls are what they will be to 1e-4. One book could catch a sheet as it turns round; a node that
/// chatters on an edge may now and then be louder.
void Forming::note_rest() {
  constexpr double kStill = 1e-8, kSettled = 1e-6;
  const auto alike = [](double a_Pa, double b_Pa) { return std::fabs(a_Pa - b_Pa) <= kSettled * std::fabs(b_Pa); };
  bool settled = false;
  if (const auto* pressure = std::get_if<PressureDrive>(&stage().drive))
    settled = alike(snap_.stage_start_Pa, pressure->pressure_Pa) && alike(snap_.pressure_Pa, pressure->pressure_Pa);
  else if (const auto* gas = std::get_if<GasDrive>(&stage().drive))
    settled = alike(snap_.pressure_Pa, gas->supply_Pa);
  const bool still = spec_.numerics.pace == Pace::kQuasiStatic && !stage().clamp_to_m && settled &&
                     snap_.ledger.kinetic_J <= kStill * snap_.ledger.strain_J && !air_leaves();
  snap_.still_books = still ? snap_.still_books + 1 : std::max(0, snap_.still_books - 1);
}

bool Forming::stands() const {
  constexpr int kBooks = 4;
  return !snap_.memory && snap_.still_books >= kBooks;  // a sheet that relaxes goes on creeping
}

/// Nothing changes but the clock. Areas and forces are first brought to where the last step has left the sheet, so that
/// a run that goes on from here has the same.
void Forming::stand_until_row_or_frame() {
  if (!stood_) {
    sheet::membrane_forces(spec_.sheet.law, state_);
    rests_.assign(rests_.size(), 0);
    last_row_.reset();
    stood_ = true;
  }
  double event_s = schedule_.end_s(snap_.stage);
  if (snap_.frames_sent < static_cast<int>(schedule_.frames_s().size()))
    event_s = std::min(event_s, schedule_.frames_s()[at(snap_.frames_sent)]);
  // A row that is due at a frame but for the last bits is that frame's.
  const double row_s = next_row_s(), close_s = 1e-6 * stage().duration_s / kRowsPerStage;
  snap_.time_s = std::max(snap_.time_s, row_s < event_s - close_s ? row_s : event_s);
}

bool Forming::frame_due(double time_s) const {
  return snap_.frames_sent < static_cast<int>(schedule_.frames_s().size()) &&
         time_s >= schedule_.frames_s()[at(snap_.frames_sent)];
}

/// The step after this one would end too late for it. A stage's end has one, with a frame or without.
bool Forming::row_due(double time_s) const {
  return time_s + kMostStepGrowth * snap_.limit_dt_s > next_row_s() || time_s >= schedule_.end_s(snap_.stage);
}

double Forming::next_row_s() const { return snap_.row_s + stage().duration_s / kRowsPerStage; }

namespace {

/// Of the triangles, for a row.
struct Areas {
  double all_m2 = 0.0, touched_m2 = 0.0;
  Areas& operator+=(const Areas& o) {
    all_m2 += o.all_m2, touched_m2 += o.touched_m2;
    return *this;
  }
};

/// Of the nodes, likewise.
struct Extremes {
  double lowest_m = -std::numeric_limits<double>::infinity(), thinnest_m = std::numeric_limits<double>::infinity();
  Extremes& operator+=(const Extremes& o) {
    lowest_m = std::max(lowest_m, o.lowest_m), thinnest_m = std::min(thinnest_m, o.thinnest_m);
    return *this;
  }
};

}  // namespace

HistoryRow Forming::history_row() const {
  HistoryRow row{};
  const Ledger l = booked();
  row.step = snap_.step, row.time_s = snap_.time_s, row.stage = stage().name;
  row.pressure_Pa = snap_.mean_pressure_Pa;
  row.swept_volume_m3 = sheet::swept_volume_m3(state_, snap_.clamp_z_m);
  std::vector<double> thickness_m(at(state_.elements()));
#pragma omp parallel for schedule(static)
  for (int e = 0; e < state_.elements(); ++e)
    thickness_m[at(e)] = sheet::element_stretch(state_, e).thickness(state_.bought_thickness_m);
  sheet::OrderedSum<Extremes> sum;
  const Extremes all = sum(state_.nodes(), [&](int i) {
    return Extremes{snap_.clamp_z_m - state_.x_m[at(i)].z(), node_thickness_m(state_, thickness_m, i)};
  });
  row.apex_m = std::max(0.0, all.lowest_m), row.min_thickness_m = all.thinnest_m;
  // By triangles, a third for each corner: the nodes' own areas are not known between a cut and the next forces.
  sheet::OrderedSum<Areas> sum_of_areas;
  const Areas areas = sum_of_areas(state_.elements(), [&](int e) {
    const mesh::Triangle& t = state_.triangles[at(e)];
    const mesh::Vec3& a = state_.x_m[at(t[0])];
    const double own = 0.5 * (state_.x_m[at(t[1])] - a).cross(state_.x_m[at(t[2])] - a).norm();
    int touching = 0;
    for (const int i : t) touching += snap_.touch[at(i)].touching ? 1 : 0;
    return Areas{own, own * touching / 3.0};
  });
  row.contact_share = areas.all_m2 > 0.0 ? areas.touched_m2 / areas.all_m2 : 0.0;
  row.kinetic_J = l.kinetic_J, row.strain_J = l.strain_J, row.gas_work_J = l.gas_J, row.friction_J = l.friction_J;
  row.damping_J = l.damping_J, row.contact_J = l.contact_J, row.clamp_work_J = l.clamp_J, row.gravity_J = l.gravity_J;
  row.air_J = l.air_J, row.viscous_J = l.viscous_J, row.thermal_J = l.thermal_J, row.mass_change_J = l.mass_change_J;
  const bool judged = snap_.ledger.largest_work_J >= kJudgedWork * sheet_J();
  row.balance = judged ? balance(l) : std::numeric_limits<double>::quiet_NaN();
  return row;
}

void Forming::send(const FormingSinks& sinks) {
  const bool frame = frame_due(snap_.time_s), row = row_due(snap_.time_s);
  if (!frame && !row) return;
  // A sheet that stands has the same to tell each time.
  HistoryRow now = stands() && last_row_ && last_row_->step == snap_.step && last_row_->stage == stage().name
                       ? *last_row_
                       : history_row();
  now.time_s = snap_.time_s;
  last_row_ = now;
  sinks.history(now);
  if (snap_.heat) snap_.pressed_s.push_back(now.time_s), snap_.pressed_Pa.push_back(now.pressure_Pa);
  snap_.row_s = snap_.time_s;
  if (frame) sinks.frame(++snap_.frames_sent, result());
  sinks.progress({now.step, now.time_s, schedule_.end_s(), now.stage, now.pressure_Pa, now.min_thickness_m,
                  now.contact_share, share_done()});
}

/// Every stage costs about the same number of steps for its pace, whatever its length in seconds.
double Forming::share_done() const {
  const double into = (snap_.time_s - schedule_.start_s(snap_.stage)) / stage().duration_s;
  return (snap_.stage + into) / schedule_.stages();
}

FormingResult Forming::result() const {
  FormingResult r = recover(state_, snap_.touch, mould_);
  r.time_s = snap_.time_s;
  if (snap_.step > 0) r.stage = spec_.stages[at(std::min(snap_.stage, schedule_.stages() - 1))].name;
  r.pressure_Pa = snap_.mean_pressure_Pa;
  r.clamp_z_m = snap_.clamp_z_m;
  r.swept_volume_m3 = sheet::swept_volume_m3(state_, snap_.clamp_z_m);
  tell_temperatures(r);
  tell_air(r);
  return r;
}

}  // namespace pellicle::forming
