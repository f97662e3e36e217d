// What does one case answer? Mesh, form, screen the detail, check.
#include "solver/run.h"

#include "mesh/check.h"
#include "solver/checks/contraction.h"
#include "solver/checks/cooling.h"
#include "solver/checks/demould.h"
#include "solver/checks/first_findings.h"
#include "solver/checks/gas_supply.h"
#include "solver/checks/hold.h"
#include "solver/checks/layer_lines.h"
#include "solver/checks/webs.h"
#include "solver/imprint/screening.h"
#include "solver/prepare.h"

#include <fmt/core.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <iterator>
#include <utility>

namespace pellicle {
namespace {

/// How the mould was printed, if the case says so.
std::optional<checks::Print> print_of(const Case& c) {
  if (!c.mould || !c.mould->layer_height_m) return std::nullopt;
  return checks::Print{*c.mould->layer_height_m, c.mould->build_direction};
}

/// Contraction of each wall from the moment the part comes off; empty where heat was not followed, or without a card.
std::vector<double> shrinkage_field(const Case& c, const mould::RigidMould& mould, const forming::FormingResult& r) {
  if (!c.heat || !r.heat || !c.sheet.solid || !mould.surface()) return {};
  const imprint::Screening no_detail;
  const std::vector<char> in_part = checks::part_nodes(r, mould, c.trim);
  return checks::contraction(checks::released_K({r, no_detail, mould, c.sheet, in_part}, *c.heat),
                             c.sheet.solid->expansion_1_K.likely);
}

/// The frame at the end of the last stage shows the part as it comes off.
bool ends_run(const Case& c, const forming::FormingResult& r) {
  double end_s = 0.0;
  for (const StageSpec& stage : c.stages) end_s += stage.duration_s;
  constexpr double kRoundOff = 1e-9;
  return r.time_s >= (1.0 - kRoundOff) * end_s;
}

/// Hands a recovered state on as a frame, with the screening fields beside it.
void send_frame(const Case& c, const mould::RigidMould& mould, const forming::Sinks& sinks, int index,
                const forming::FormingResult& r) {
  const bool is_last = ends_run(c, r);
  const imprint::Screening s = imprint::screen(r, sheet::small_strain_shear_modulus_Pa(c.sheet.law), c.heat);
  const std::vector<double> temperature_K =
      r.heat ? r.temperature_mean_K : std::vector<double>(r.points_m.size(), c.sheet.temperature_K);
  const std::vector<double> pocket(r.pocket.begin(), r.pocket.end());
  checks::LayerLineField lines;
  if (const auto print = print_of(c); print && mould.surface())
    lines = checks::layer_line_field(r, mould, *print, sheet::small_strain_shear_modulus_Pa(c.sheet.law), c.heat);
  const std::vector<double> shrinks = is_last ? shrinkage_field(c, mould, r) : std::vector<double>{};
  sinks.frame({.index = index,
               .time_s = r.time_s,
               .stage = r.stage,
               .pressure_Pa = r.pressure_Pa,
               .swept_volume_m3 = r.swept_volume_m3,
               .points_m = r.points_m,
               .triangles = r.triangles,
               .flat_m = r.flat_m,
               .thickness_m = r.thickness_m,
               .stretch_1 = r.stretch_1,
               .stretch_2 = r.stretch_2,
               .gap_m = r.gap_m,
               .contact_pressure_Pa = r.contact_pressure_Pa,
               .touched_s = r.touched_s,
               .temperature_K = temperature_K,
               .finest_radius_m = s.finest_radius_m,
               .capture_depth_200um_m = s.capture_depth_200um_m,
               .capture_depth_500um_m = s.capture_depth_500um_m,
               .capture_depth_1000um_m = s.capture_depth_1000um_m,
               .triangle_thickness_m = r.triangle_thickness_m,
               .triangle_wrinkle = r.triangle_wrinkle,
               .layer_line_m = lines.mould_face_m,
               .layer_line_free_face_m = lines.free_face_m,
               .pocket = pocket,
               .pocket_pressure_Pa = r.pocket_pressure_Pa,
               .temperature_mould_face_K = r.temperature_mould_face_K,
               .shrinkage = shrinks});
}

bool all_reached(const CaseResult& result) {
  return std::all_of(result.stages.begin(), result.stages.end(), [](const StageReport& s) { return s.reached; });
}

void warn_of_stages(const Case& c, CaseResult& result) {
  constexpr double kQuiet = 0.03;  // KE/SE after first contact, docs/theory/time.md
  for (const StageReport& s : result.stages) {
    if (!s.reached)
      result.warnings.push_back(fmt::format("stage '{}' ended at {:.3g} bar and {:.4g} cm^3, short of what it asks for",
                                            s.name, 1e-5 * s.pressure_Pa, 1e6 * s.swept_volume_m3));
    if (!std::isnan(s.peak_Pa))
      result.warnings.push_back(
          fmt::format("stage '{}' passed a limit pressure of {:.3g} bar at {:.3g} s and {:.4g} cm^3: {} {:.3g} cm^3/s; "
                      "several shapes exist for one pressure",
                      s.name, 1e-5 * s.peak_Pa, s.peak_s, 1e6 * s.peak_m3,
                      c.numerics.pace == Pace::kReal ? "the sheet snapped on, at up to"
                                                     : "a real sheet would snap here, in the run the pace held it to",
                      1e6 * s.fastest_m3_s));
    if (c.numerics.pace == Pace::kQuasiStatic && s.kinetic_share > kQuiet)
      result.warnings.push_back(fmt::format(
          "the sheet moved fast in stage '{}': energy of motion up to {:.1f} % of that of stretch, where {:.0f} % "
          "is quiet; thickness may be off by a percent or more",
          s.name, 100.0 * s.kinetic_share, 100.0 * kQuiet));
  }
}

/// A sheet as stiff as glass would ask for steps forty times shorter.
void warn_of_glass(const FormingSpec& spec, std::vector<std::string>& warnings) {
  const auto law = forming::forming_law(spec);
  if (!law) return;
  const double card_Pa = spec.heat->law->relaxation.modes.back().modulus_Pa,
               used_Pa = law->relaxation.modes.back().modulus_Pa;
  if (used_Pa < card_Pa)
    warnings.push_back(fmt::format(
        "frozen sheet counts as {:.0f} times as stiff as hot sheet while it is formed ({:.2g} MPa), not as stiff as "
        "glass ({:.2g} MPa): what has frozen may give a little more than it would",
        sheet::kMostStiffening, 1e-6 * used_Pa, 1e-6 * card_Pa));
}

/// What the sheet's triangles could not follow, in a person's words.
void warn_of_penetration(const Case& c, const CaseResult& result, std::vector<std::string>& warnings) {
  const forming::Penetration& p = result.penetration;
  if (p.of_thickness <= 2.0 * forming::kAllowedDepth) return;
  warnings.push_back(fmt::format(
      "the mould stands {:.2g} mm through the sheet at ({:.1f}, {:.1f}, {:.1f}) mm, {:.0f} % of its thickness there: "
      "elements are too coarse for this edge. Use a smaller {}",
      1e3 * p.depth_m, 1e3 * p.place_m.x(), 1e3 * p.place_m.y(), 1e3 * p.place_m.z(), 100.0 * p.of_thickness,
      c.sheet.refines() ? "sheet.fine_element" : "sheet.element, or a sheet.fine_element"));
}

/// A clamp above the platform leaves a way out sideways, and the gas takes it.
void warn_of_bulge(const Case& c, const forming::FormingResult& r, std::vector<std::string>& warnings) {
  const mesh::Vec2 centre = c.sheet.outline.centre_m;
  double farthest = 0.0;
  const mesh::Vec3* place = nullptr;
  for (std::size_t i = 0; i < r.points_m.size(); ++i) {
    if (r.on_rim[i] || mesh::contains(c.sheet.outline, r.points_m[i].head<2>())) continue;
    const double away = (r.points_m[i].head<2>() - centre).norm();
    if (away > farthest) farthest = away, place = &r.points_m[i];
  }
  if (place == nullptr || farthest < mesh::half_width_m(c.sheet.outline) + 0.5 * c.sheet.element_m) return;
  warnings.push_back(fmt::format(
      "the sheet bulges out under the clamp, farthest at ({:.1f}, {:.1f}, {:.1f}) mm: nothing holds it there. Lower "
      "the clamp to the platform (clamp_to), or the mould needs a wall",
      1e3 * place->x(), 1e3 * place->y(), 1e3 * place->z()));
}

double seconds_since(std::chrono::steady_clock::time_point from) {
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - from).count();
}

struct Answer {
  std::vector<checks::Finding> findings;
  double thinnest_m;
};

Answer answer(const Case& c, const mould::RigidMould& mould, const forming::FormingResult& formed) {
  const imprint::Screening detail = imprint::screen(formed, sheet::small_strain_shear_modulus_Pa(c.sheet.law), c.heat);
  const std::vector<char> in_part = checks::part_nodes(formed, mould, c.trim);
  const checks::Formed f{formed, detail, mould, c.sheet, in_part, c.heat ? c.heat->draws_from_K : 0.0};
  Answer a;
  a.thinnest_m = checks::thinnest_m(f);
  a.findings = {checks::thinnest_wall(f, c.limits.min_thickness_m), checks::mean_wall(f)};
  if (mould.surface()) a.findings.push_back(checks::mould_touched(f));
  if (mould.is_there()) {
    a.findings.push_back(checks::finest_radius(f));
    for (checks::Finding& finding : checks::stroke_captures(f)) a.findings.push_back(std::move(finding));
  }
  a.findings.push_back(checks::tear(f));
  a.findings.push_back(checks::webs(f));
  if (const auto print = print_of(c); (print && mould.surface()) || c.limits.max_layer_line_m)
    a.findings.push_back(checks::layer_lines(f, print, c.limits.max_layer_line_m, c.heat));
  if (c.heat) a.findings.push_back(checks::cooling(f, *c.heat));
  return a;
}

/// The gauge that meets the limit, found by forming again; nothing of these runs is kept but the thinnest wall. False
/// if it was stopped.
bool advise_gauge(const Case& c, const Geometry& geometry, const mould::RigidMould& mould, const forming::Sinks& sinks,
                  double thinnest_m, checks::Finding& finding) {
  constexpr double kStep_m = 0.05e-3, kThickest_m = 10e-3;  // gauges are tried in steps of 0.05 mm
  const double limit_m = *c.limits.min_thickness_m;
  Case trial = c;
  if (!forming::forming_law(forming_spec(c))) trial.heat.reset();  // else it is formed as it was
  double gauge_m = c.sheet.thickness_m;
  for (int attempt = 0; attempt < 3; ++attempt) {
    gauge_m = std::ceil((gauge_m * limit_m / thinnest_m) / kStep_m - 1e-6) * kStep_m;
    if (gauge_m > kThickest_m) break;
    trial.sheet.thickness_m = gauge_m;
    const FormingSpec spec = full_spec(trial, geometry, mould);
    forming::Forming forming(spec, mould, make_sheet(trial, geometry));
    forming::FormingSinks quiet;
    quiet.stop = sinks.stop;
    try {
      if (!forming.run(quiet)) return false;
    } catch (const Error&) {
      break;
    }
    thinnest_m = answer(trial, mould, forming.result()).thinnest_m;
    if (thinnest_m >= limit_m) {
      finding.advice =
          fmt::format("start with {:.2f} mm: formed again with it, the thinnest wall is {:.2f} mm; or draw less here",
                      1e3 * gauge_m, 1e3 * thinnest_m);
      return true;
    }
  }
  finding.advice = fmt::format(
      "no gauge up to {:.2f} mm was confirmed to meet the limit: less draw here, a larger radius or more draft",
      1e3 * std::min(gauge_m, kThickest_m));
  return true;
}

/// Adds how the part comes off; not with the other answers, which are asked for again with every gauge tried.
void add_demoulding(const Case& c, const mould::RigidMould& mould, const forming::FormingResult& formed,
                    CaseResult& result) {
  const auto from = std::chrono::steady_clock::now();
  const imprint::Screening no_detail;
  const std::vector<char> in_part = checks::part_nodes(formed, mould, c.trim);
  const checks::Formed f{formed, no_detail, mould, c.sheet, in_part};
  checks::Demoulding demoulding = checks::demould(f);
  if (c.heat) checks::tell_contraction(f, checks::released_K(f, *c.heat), demoulding.findings.back());
  std::move(demoulding.findings.begin(), demoulding.findings.end(), std::back_inserter(result.findings));
  result.mould_field = std::move(demoulding.field);
  result.profile.push_back({"demoulding", seconds_since(from)});
}

/// Adds what became of the air below, where it was followed.
void add_air(const Case& c, const Geometry& geometry, const mould::RigidMould& mould,
             const forming::FormingResult& formed, const FormingSpec& spec, const forming::Sinks& sinks,
             CaseResult& result) {
  if (!spec.air) return;
  const auto from = std::chrono::steady_clock::now();
  const imprint::Screening no_detail;
  const std::vector<char> in_part = checks::part_nodes(formed, mould, c.trim);
  const auto without_air = [&]() -> std::optional<forming::FormingResult> {
    FormingSpec open = spec;
    open.air.reset(), open.heat.reset();
    forming::Forming again(open, mould, make_sheet(c, geometry));
    forming::FormingSinks quiet;
    quiet.stop = sinks.stop;
    try {
      if (again.run(quiet)) return again.result();
      result.ending = Ending::kStopped;
    } catch (const Error&) {
      // The run itself came to its end: its own history has to do.
    }
    return std::nullopt;
  };
  AirAnswer air =
      answer_air(c, {formed, no_detail, mould, c.sheet, in_part}, *spec.air, result.snapshot.air, without_air);
  std::move(air.findings.begin(), air.findings.end(), std::back_inserter(result.findings));
  result.vents = std::move(air.vents);
  result.profile.push_back({"vents", seconds_since(from)});
}

/// Adds how long the gas must stay on for what the reliefs have taken.
void add_hold(const HeatSpec& heat, const forming::FormingResult& formed, CaseResult& result) {
  std::vector<checks::HeldRelief> held;
  for (const ReliefResult& r : result.reliefs)
    if (r.formed)
      held.push_back(
          {r.spec.name, r.answer, *r.formed, [&r](double x_m, double y_m) { return r.place_m(x_m, y_m, 0.0); }});
  if (auto finding = checks::hold(heat, formed, held)) result.findings.push_back(std::move(*finding));
}

/// Adds whether the gas came through its throats in time.
void add_gas_supply(const Case& c, CaseResult& result) {
  std::vector<checks::GasStage> asked;
  double from_Pa = 0.0, from_m3 = 0.0;
  for (std::size_t k = 0; k < result.stages.size() && k < c.stages.size(); ++k) {
    const StageReport& done = result.stages[k];
    if (const auto* gas = std::get_if<GasDrive>(&c.stages[k].drive); gas && checks::kFull * gas->supply_Pa > from_Pa)
      asked.push_back({done.name,
                       c.stages[k].duration_s,
                       {.supply_Pa = gas->supply_Pa + air::kAtmosphere_Pa,
                        .from_Pa = from_Pa + air::kAtmosphere_Pa,
                        .to_Pa = checks::kFull * gas->supply_Pa + air::kAtmosphere_Pa,
                        .throat_m = gas->orifice_m,
                        .volume_from_m3 = gas->chamber_m3 + from_m3,
                        .volume_to_m3 = gas->chamber_m3 + done.swept_volume_m3,
                        .adiabatic = gas->adiabatic}});
    from_Pa = done.pressure_Pa, from_m3 = done.swept_volume_m3;
  }
  if (auto finding = checks::gas_supply(asked)) result.findings.push_back(std::move(*finding));
}

/// Adds what the reliefs answer; false if it was stopped.
bool add_reliefs(const Case& c, const Geometry& geometry, const mould::RigidMould& mould,
                 const forming::FormingResult* formed, const forming::Sinks& sinks, CaseResult& result) {
  const auto from = std::chrono::steady_clock::now();
  Reliefs reliefs = answer_reliefs(c, geometry.reliefs, mould, formed, sinks.stop);
  std::move(reliefs.findings.begin(), reliefs.findings.end(), std::back_inserter(result.findings));
  std::move(reliefs.warnings.begin(), reliefs.warnings.end(), std::back_inserter(result.warnings));
  result.reliefs = std::move(reliefs.results);
  if (c.heat && formed != nullptr) add_hold(*c.heat, *formed, result);
  result.profile.push_back({"reliefs", seconds_since(from)});
  return !reliefs.stopped;
}

/// Adds whether the printed mould bears it; false if it was stopped.
bool add_mould_body(const Case& c, const Geometry& geometry, const mould::RigidMould& mould,
                    const forming::FormingResult& formed, const forming::Sinks& sinks, CaseResult& result) {
  if (!c.mould || !c.mould->build || !mould.surface()) return true;
  const auto from = std::chrono::steady_clock::now();
  MouldAnswer answer = answer_mould(c, mould, formed, sinks);
  if (!tell_warm_detail(c, geometry.reliefs, mould, formed, sinks.stop, result.findings, answer)) return false;
  std::move(answer.findings.begin(), answer.findings.end(), std::back_inserter(result.findings));
  result.body_field = std::move(answer.field);
  result.profile.push_back({"mould's body", seconds_since(from)});
  return !answer.stopped;
}

}  // namespace

CaseResult run_reliefs(const Case& c, const Geometry& geometry, const forming::Sinks& sinks) {
  const Threads threads(c.numerics.threads);
  const auto from = std::chrono::steady_clock::now();
  const mould::RigidMould mould(geometry.mould, c.mould && c.mould->platform);
  CaseResult result;
  if (!add_reliefs(c, geometry, mould, nullptr, sinks, result)) result.ending = Ending::kStopped;
  result.seconds = seconds_since(from);
  return result;
}

CaseResult run(const Case& c, const Geometry& geometry, const forming::Sinks& sinks, const forming::Snapshot* from) {
  const Threads threads(c.numerics.threads);
  const auto start = std::chrono::steady_clock::now();
  CaseResult result;
  result.warnings = check_geometry(c, geometry);
  const mesh::SheetMesh sheet = make_sheet(c, geometry);
  const mould::RigidMould mould = make_mould(c, geometry);
  result.elements = static_cast<int>(sheet.triangles.size());
  result.nodes = static_cast<int>(sheet.flat_m.size());
  result.min_mesh_quality = sheet.min_quality;

  const FormingSpec spec = full_spec(c, geometry, mould);
  warn_of_vents(c, mould, result.warnings);
  forming::Forming forming =
      from != nullptr ? forming::Forming(spec, mould, *from) : forming::Forming(spec, mould, sheet);
  const forming::FormingSinks inner{
      .frame = [&](int index, const forming::FormingResult& r) { send_frame(c, mould, sinks, index, r); },
      .history = sinks.history,
      .progress = sinks.progress,
      .stop = sinks.stop,
      .keep_due = sinks.keep_due,
      .keep = sinks.keep};
  try {
    result.ending = forming.run(inner) ? Ending::kDone : Ending::kStopped;
  } catch (const Error& error) {
    if (error.fault().kind != Fault::Kind::kSolution) throw;
    // What there is when the run stops is worth a look, as long as it is numbers.
    const forming::FormingResult last = forming.result();
    if (std::all_of(last.points_m.begin(), last.points_m.end(), [](const mesh::Vec3& p) { return p.allFinite(); }))
      send_frame(c, mould, sinks, forming.snapshot().frames_sent + 1, last);
    throw;
  }
  result.snapshot = forming.snapshot();
  result.stages = forming.stages();
  result.steps = result.snapshot.step;
  result.final_elements = static_cast<int>(result.snapshot.triangles.size());
  result.element_updates = result.snapshot.element_updates;
  result.penetration = forming.deepest_penetration();
  result.worst_balance = forming.worst_balance();
  result.profile = forming.profile();
  if (result.ending == Ending::kDone) {
    warn_of_stages(c, result);
    warn_of_glass(spec, result.warnings);
    warn_of_penetration(c, result, result.warnings);
    const forming::FormingResult formed = forming.result();
    if (mould.is_there()) warn_of_bulge(c, formed, result.warnings);
    Answer a = answer(c, mould, formed);
    result.findings = std::move(a.findings);
    if (mould.surface()) add_demoulding(c, mould, formed, result);
    add_gas_supply(c, result);
    add_air(c, geometry, mould, formed, spec, sinks, result);
    checks::Finding& wall = result.findings.front();
    if (!all_reached(result)) {
      if (wall.verdict == checks::Verdict::kPass) wall.verdict = checks::Verdict::kDoubt;
      wall.why += "; not every stage reached what it asks for, see the warnings";
    } else if (result.ending == Ending::kDone && wall.verdict == checks::Verdict::kFail && c.limits.min_thickness_m) {
      if (!advise_gauge(c, geometry, mould, sinks, a.thinnest_m, wall)) result.ending = Ending::kStopped;
    }
    if (result.ending == Ending::kDone && !add_reliefs(c, geometry, mould, &formed, sinks, result))
      result.ending = Ending::kStopped;
    if (result.ending == Ending::kDone && !add_mould_body(c, geometry, mould, formed, sinks, result))
      result.ending = Ending::kStopped;
  }
  result.seconds = seconds_since(start);
  return result;
}

}  // namespace pellicle
