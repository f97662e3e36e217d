// What becomes of the fine detail of a case?
#include "solver/reliefs.h"

#include "mesh/check.h"
#include "solver/checks/hollow_air.h"
#include "solver/checks/relief.h"
#include "solver/imprint/chill.h"
#include "solver/imprint/mould_relief.h"
#include "solver/sheet/polymer.h"
#include "solver/vents.h"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace pellicle {
namespace {

using imprint::ReliefSpec;
using mesh::HeightMap;
using mesh::Profile;
using mesh::Vec2;

constexpr std::size_t kMostFound = 8;  // more makes a long answer nobody asked for
constexpr double kFoundCells = 5e5;    // of one of them: seconds each
constexpr double kCellsAStroke = 8.0;  // twice what a stroke needs (case_reference.md, relief.grid)
constexpr double kFinestGrid_m = 0.02e-3;
constexpr double kSmooth = 1e-3;  // of the thickness: less than that is round-off of the surface, not relief

constexpr const char* kIsSmooth = "a smooth mould at the scale of three sheet thicknesses";
constexpr const char* kWhereIsIt = "check at and size: they are in the mould's coordinates";

bool is_of_mould(const ReliefSpec& spec) { return std::holds_alternative<imprint::MouldRelief>(spec.source); }

double highest_m(const std::variant<HeightMap, Profile>& shape) {
  if (const auto* map = std::get_if<HeightMap>(&shape)) return mesh::highest_m(*map);
  const auto& z = std::get<Profile>(shape).z_m;
  return *std::max_element(z.begin(), z.end());
}

Vec2 size_of(const HeightMap& map) { return map.spacing_m * Vec2(map.nx, map.ny); }

/// A profile lies in coordinates of its own.
imprint::PatchFrame frame_of(const Profile& profile) {
  imprint::PatchFrame frame;
  frame.corner_m.x() = profile.x_m.front();
  frame.width_m = profile.x_m.back() - profile.x_m.front();
  return frame;
}

/// Thickness that tells relief from shape.
double thickness_m(const Case& c, const ReliefSpec& spec) {
  return spec.state ? spec.state->thickness_m : c.sheet.thickness_m;
}

PlacedRelief place(const Case& c, const ReliefSpec& spec, const ReliefShape& shape, const mould::RigidMould& mould,
                   bool may_overhang) {
  if (is_of_mould(spec)) return relief_of_mould(mould, spec, thickness_m(c, spec), may_overhang);
  ensure(shape.shape.has_value(), "a relief that is not the mould's has a shape of its own");
  if (const auto* profile = std::get_if<Profile>(&*shape.shape)) return {frame_of(*profile), *profile, {}};
  const auto& map = std::get<HeightMap>(*shape.shape);
  return {frame_on_mould(mould, spec, size_of(map)), map, {}};
}

/// One relief for each patch of strokes on the mould, with room for two widths around it.
std::vector<ReliefSpec> found_on(const Case& c, const mesh::Nearest& surface, std::vector<std::string>& warnings) {
  mesh::Vec3 low = surface.mesh().points_m.front(), high = low;
  for (const mesh::Vec3& p : surface.mesh().points_m) low = low.cwiseMin(p), high = high.cwiseMax(p);
  const double element_m = c.sheet.refines() ? c.sheet.fine_element_m : c.sheet.element_m;
  const Vec2 size_m = (high - low).head<2>();
  const std::vector<imprint::Patch> patches =
      imprint::find_relief(surface, imprint::relief_search(c.sheet.thickness_m, element_m, size_m.x() * size_m.y()));
  if (patches.size() > kMostFound)
    warnings.push_back(
        fmt::format("{} patches of relief found on the mould; the {} largest are answered. Name the others in "
                    "[[relief]]",
                    patches.size(), kMostFound));
  std::vector<ReliefSpec> found;
  for (std::size_t k = 0; k < std::min(kMostFound, patches.size()); ++k) {
    const auto& box = patches[k].box_m;
    double widest_m = 0.0, narrowest_m = size_m.maxCoeff();
    for (const imprint::Stroke& s : patches[k].strokes) {
      widest_m = std::max(widest_m, s.width_m);
      narrowest_m = std::min(narrowest_m, s.narrowest_m);
    }
    const Vec2 margin = Vec2::Constant(2.0 * widest_m);
    const Vec2 from = (Vec2(box[0], box[1]) - margin).cwiseMax(low.head<2>());
    const Vec2 to = (Vec2(box[2], box[3]) + margin).cwiseMin(high.head<2>());
    ReliefSpec spec;
    spec.name = fmt::format("relief-{}", k + 1);
    spec.at_m = 0.5 * (from + to);
    spec.size_m = to - from;
    spec.grid_m = std::max({kFinestGrid_m, narrowest_m / kCellsAStroke, std::sqrt((to - from).prod() / kFoundCells)});
    found.push_back(std::move(spec));
  }
  return found;
}

/// Vents of the case and of the surface, and a platform that leaks; of a profile, which lies nowhere, nothing.
imprint::LetsOut lets_out_of(const ReliefSpec& spec, const imprint::PatchFrame& frame, const mould::RigidMould& mould,
                             const std::optional<AirSpec>& air) {
  if (!air || std::holds_alternative<imprint::ProfileRelief>(spec.source))
    return [](double, double, double) { return false; };
  return [&mould, &air, frame](double x_m, double y_m, double within_m) {
    return lets_out(*air, mould, frame.place(x_m, y_m, 0.0).head<2>(), within_m);
  };
}

imprint::CaptureTask task_of(const Case& c, const ReliefSpec& spec, const ReliefShape& shape, PlacedRelief& placed,
                             const imprint::LocalState& state, bool asked, const imprint::Stop& stop) {
  imprint::CaptureTask task;
  task.name = spec.name;
  task.shape = std::move(placed.shape);
  task.periodic = spec.periodic;
  task.labels = shape.labels;
  task.state = state;
  task.wanted_share = checks::wanted_share(c.limits.min_capture);
  task.sections = asked;
  task.stop = stop;
  return task;
}

/// Of a sheet whose heat was followed, as the mould has chilled it since it touched there.
imprint::ReliefAnswer answer_of(const Case& c, const imprint::CaptureTask& task,
                                const std::optional<imprint::FormedState>& state,
                                const forming::FormingResult* formed) {
  if (c.heat && state && formed->heat) {
    HeatSpec here = *c.heat;
    here.start_K = state->start_K;
    if (const auto moments = imprint::moments_after(here, *formed, state->touched_s, task.state.thickness_m))
      return imprint::capture_between(task, *moments);
  }
  return imprint::capture(task);
}

/// Adds the finding of one relief and, where there is one, its result. `asked`: by the case; what was only found gets
/// layer theory alone, for a section of every stroke takes longer than most runs.
void add_answer(const Case& c, const ReliefSpec& spec, const ReliefShape& shape, PlacedRelief placed, bool asked,
                const mould::RigidMould& mould, const std::optional<AirSpec>& air, const forming::FormingResult* formed,
                const imprint::Stop& stop, Reliefs& reliefs) {
  const bool has_place = !std::holds_alternative<imprint::ProfileRelief>(spec.source);
  const double highest = highest_m(placed.shape);
  ReliefResult result{spec, placed.frame, highest, std::move(placed.carrier), {}, {}};
  std::function<mesh::Vec3(double, double)> place_m;
  std::optional<mesh::Vec3> middle_m;
  if (has_place) {
    place_m = [&result](double x_m, double y_m) { return result.place_m(x_m, y_m, 0.0); };
    middle_m = place_m(0.5 * placed.frame.width_m, 0.5 * placed.frame.length_m);
  }
  const std::optional<double> least = c.limits.min_capture;
  if (is_of_mould(spec) &&
      highest - mesh::lowest_m(std::get<HeightMap>(placed.shape)) < kSmooth * thickness_m(c, spec)) {
    if (formed == nullptr)
      throw Error({Fault::Kind::kGeometry, fmt::format("relief '{}', at", spec.name), kIsSmooth,
                   "a place with strokes on it", kWhereIsIt});
    reliefs.findings.push_back(checks::unanswered_relief(spec, middle_m, least, kIsSmooth, kWhereIsIt));
    return;
  }
  if (!spec.state) {
    ensure(formed != nullptr, "a relief without a state has a formed sheet");
    result.formed = imprint::formed_state(*formed, placed.frame, sheet::small_strain_shear_modulus_Pa(c.sheet.law));
    if (!result.formed) {
      reliefs.findings.push_back(checks::untouched_relief(spec, middle_m, least));
      return;
    }
  }
  try {
    imprint::CaptureTask task =
        task_of(c, spec, shape, placed, spec.state ? *spec.state : result.formed->state, asked, stop);
    if (c.numerics.trapped_air) task.lets_out = lets_out_of(spec, placed.frame, mould, air);
    result.answer = answer_of(c, task, result.formed, formed);
  } catch (const Error& error) {
    // What has been formed is an answer too, and is not thrown away with this one.
    if (formed == nullptr) throw;
    reliefs.findings.push_back(checks::unanswered_relief(
        spec, middle_m, least, "no answer: found " + error.fault().found + "; allowed " + error.fault().allowed,
        error.fault().advice));
    return;
  }
  if (!asked)
    result.answer.notes.emplace_back(
        "found on the mould and answered by layer theory alone; named in [[relief]], its strokes get cross-sections");
  reliefs.findings.push_back(checks::relief({spec, result.answer, result.formed, place_m, asked}, least));
  checks::tell_shut_air(result.answer, checks::wanted_share(least), reliefs.findings.back());
  reliefs.results.push_back(std::move(result));
}

}  // namespace

void check_places(const Case& c, const std::vector<ReliefShape>& shapes, const mould::RigidMould& mould) {
  ensure(shapes.size() == c.reliefs.size(), "every relief of the case has been read");
  for (std::size_t i = 0; i < shapes.size(); ++i) {
    const ReliefSpec& spec = c.reliefs[i];
    if (is_of_mould(spec))
      check_on_mould(mould, spec, thickness_m(c, spec));
    else
      place(c, spec, shapes[i], mould, false);
  }
}

Reliefs answer_reliefs(const Case& c, const std::vector<ReliefShape>& shapes, const mould::RigidMould& mould,
                       const forming::FormingResult* formed, const std::function<bool()>& stop) {
  ensure(shapes.size() == c.reliefs.size(), "every relief of the case has been read");
  Reliefs reliefs;
  const bool search = c.reliefs.empty() && formed != nullptr && mould.surface().has_value();
  const std::vector<ReliefSpec> specs = search ? found_on(c, *mould.surface(), reliefs.warnings) : c.reliefs;
  const std::optional<AirSpec> air = air_spec(c, mould);
  for (std::size_t i = 0; i < specs.size() && !reliefs.stopped; ++i) {
    const ReliefShape shape = search ? ReliefShape{} : shapes[i];
    try {
      add_answer(c, specs[i], shape, place(c, specs[i], shape, mould, search), !search, mould, air, formed, stop,
                 reliefs);
    } catch (const imprint::Stopped&) {
      reliefs.stopped = true;
    }
  }
  return reliefs;
}

}  // namespace pellicle
