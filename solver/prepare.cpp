// How does a case become a sheet, a mould and a forming run? Can it be formed at all, and what will it cost?
#include "solver/prepare.h"

#include "mesh/check.h"
#include "mesh/edges.h"
#include "solver/forming/sag.h"
#include "solver/forming/stage.h"
#include "solver/sheet/flat_frequency.h"
#include "solver/sheet/membrane.h"
#include "solver/vents.h"

#include <fmt/core.h>
#include <omp.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle {
namespace {

using mesh::Vec3;

/// A sheet that starts in touch may overlap by so much of its thickness; more is an error (docs/case_reference.md).
constexpr double kStartOverlap = 0.01;
/// Element updates a second of one thread with the shipped defaults, contact included (docs/performance.md); for a
/// rough time only.
constexpr double kUpdatesPerSecond = 12e6;
/// Once the sheet has travelled its mass grows and the steps with it: a pressed stage takes about this share of the
/// steps that its travel alone would (measured on the shipped cases).
constexpr double kPressedSteps = 0.5;

std::string place(const Vec3& p) {
  return fmt::format("({:.2f}, {:.2f}, {:.2f}) mm", 1e3 * p.x(), 1e3 * p.y(), 1e3 * p.z());
}

[[noreturn]] void refuse(std::string where, std::string found, std::string allowed, std::string advice) {
  throw Error({Fault::Kind::kGeometry, std::move(where), std::move(found), std::move(allowed), std::move(advice)});
}

Eigen::AlignedBox3d box_of(const mesh::TriangleMesh& mould) {
  Eigen::AlignedBox3d box;
  for (const Vec3& p : mould.points_m) box.extend(p);
  return box;
}

std::string box_text(const Eigen::AlignedBox3d& box) {
  const Vec3 s = 1e3 * box.sizes();
  return fmt::format("{:.3g} x {:.3g} x {:.3g} mm, from {} to {}", s.x(), s.y(), s.z(), place(box.min()),
                     place(box.max()));
}

/// Every edge has two triangles that run opposite ways.
bool is_closed(const mesh::TriangleMesh& mould) {
  bool closed = true;
  mesh::Edges(mould).for_each([&](int, std::span<const mesh::EdgeUse> uses) {
    closed = closed && uses.size() == 2 && uses[0].up != uses[1].up;
  });
  return closed;
}

/// An open surface has no inside: its front is the side the flat sheet starts on, by most of a grid of places on it.
bool faces_away(const Case& c, const mesh::TriangleMesh& mould) {
  if (is_closed(mould)) return false;
  const mesh::Nearest nearest(mould);
  constexpr int kGrid = 9;
  const Eigen::AlignedBox3d box = box_of(mould);
  int front = 0, back = 0;
  for (int i = 0; i < kGrid; ++i)
    for (int j = 0; j < kGrid; ++j) {
      const Vec3 p = box.min() + box.sizes().cwiseProduct(Vec3{(i + 0.5) / kGrid, (j + 0.5) / kGrid, 0.0});
      ++(nearest.signed_distance_m({p.x(), p.y(), c.sheet.height_m}) >= 0.0 ? front : back);
    }
  return back > front;
}

void check_clamp(const Case& c, const mesh::TriangleMesh* mould) {
  double clamp_m = c.sheet.height_m;
  for (const StageSpec& stage : c.stages) {
    if (!stage.clamp_to_m) continue;
    clamp_m = *stage.clamp_to_m;
    const std::string where = fmt::format("stage '{}', clamp_to", stage.name);
    if (c.mould && c.mould->platform && clamp_m < 0.0)
      refuse(where, fmt::format("{:.3g} mm", 1e3 * clamp_m), "0 mm or more",
             "the platform is the plane z = 0 and the clamp cannot pass through it");
    if (mould == nullptr) continue;
    for (const Vec3& p : mould->points_m)
      if (p.z() > clamp_m + kStartOverlap * c.sheet.thickness_m && !mesh::contains(c.sheet.outline, p.head<2>()))
        refuse(where, fmt::format("the mould at {} above the clamp at z = {:.3g} mm", place(p), 1e3 * clamp_m),
               "a mould that passes through the opening of the clamp",
               "use a larger sheet.outline, a smaller mould, or a higher clamp_to");
  }
}

void check_start(const Case& c, const mesh::TriangleMesh& mould) {
  const auto highest = std::max_element(mould.points_m.begin(), mould.points_m.end(),
                                        [](const Vec3& a, const Vec3& b) { return a.z() < b.z(); });
  if (highest->z() > c.sheet.height_m + kStartOverlap * c.sheet.thickness_m)
    refuse("sheet.height",
           fmt::format("the flat sheet at z = {:.4g} mm cut by the mould, which reaches {}", 1e3 * c.sheet.height_m,
                       place(*highest)),
           fmt::format("a height of at least {:.4g} mm", 1e3 * highest->z()),
           "raise sheet.height above the mould and let a stage lower the clamp (clamp_to), or lower the mould "
           "(mould.move)");
}

/// On a coarse mesh: to a few percent of a number that rests on an estimate.
double rough_sag_m(const Case& c, const FormingSpec& spec) {
  const double element_m = std::max(c.sheet.element_m, mesh::half_width_m(c.sheet.outline) / 8.0);
  sheet::SheetState s = sheet::flat_sheet(mesh::mesh_sheet(c.sheet.outline, {element_m, element_m, {}}),
                                          c.sheet.thickness_m, c.sheet.density_kg_m3, 0.0);
  sheet::expand(s, c.sheet.expansion);
  return forming::hang(forming::long_run_law(spec), c.sheet.density_kg_m3, s);
}

}  // namespace

Threads::Threads(int wanted) : before_(omp_get_max_threads()) {
  // The free cores: those this process may use, less any limit of the environment.
  omp_set_num_threads(wanted > 0 ? wanted : std::min(before_, omp_get_num_procs()));
}
Threads::~Threads() { omp_set_num_threads(before_); }

mesh::SheetMesh make_sheet(const Case& c, const Geometry& geometry) {
  mesh::SheetSize size{c.sheet.element_m, c.sheet.rim_element_m, {}};
  if (c.sheet.rim_element_m > c.sheet.element_m && geometry.mould) {
    const Eigen::AlignedBox3d box = box_of(*geometry.mould);
    const mesh::Vec2 margin = mesh::Vec2::Constant(2.0 * c.sheet.element_m);
    size.fine_box = mesh::SheetSize::Box{box.min().head<2>() - margin, box.max().head<2>() + margin};
  }
  return mesh::mesh_sheet(c.sheet.outline, size);
}

mould::RigidMould make_mould(const Case& c, const Geometry& geometry) {
  std::optional<mesh::TriangleMesh> mould = geometry.mould;
  if (mould && faces_away(c, *mould))
    for (mesh::Triangle& t : mould->triangles) std::swap(t[1], t[2]);
  return mould::RigidMould(std::move(mould), c.mould && c.mould->platform);
}

FormingSpec forming_spec(const Case& c) {
  FormingSpec spec{.sheet = c.sheet,
                   .friction = {.stick = true, .coefficient = 0.0},
                   .stages = c.stages,
                   .numerics = c.numerics,
                   .heat = c.heat};
  if (c.mould) spec.friction = c.mould->friction;
  return spec;
}

FormingSpec full_spec(const Case& c, const Geometry& geometry, const mould::RigidMould& mould) {
  FormingSpec spec = forming_spec(c);
  if (spec.heat) spec.heat->heater.map = geometry.heater_map;
  spec.air = air_spec(c, mould);
  return spec;
}

std::vector<std::string> check_geometry(const Case& c, const Geometry& geometry) {
  std::vector<std::string> warnings;
  if (c.mould && c.mould->platform && c.sheet.height_m < -kStartOverlap * c.sheet.thickness_m)
    refuse("sheet.height", fmt::format("{:.4g} mm", 1e3 * c.sheet.height_m), "0 mm or more",
           "the platform is the plane z = 0");
  check_clamp(c, geometry.mould ? &*geometry.mould : nullptr);
  const auto check_reliefs = [&] {
    if (!c.reliefs.empty()) check_places(c, geometry.reliefs, make_mould(c, geometry));
  };
  if (!geometry.mould) {
    check_reliefs();
    return warnings;
  }
  const mesh::TriangleMesh& mould = *geometry.mould;
  const Eigen::AlignedBox3d box = box_of(mould);
  const double width_m = 2.0 * mesh::half_width_m(c.sheet.outline);
  const bool meets = std::any_of(mould.points_m.begin(), mould.points_m.end(),
                                 [&](const Vec3& p) { return mesh::contains(c.sheet.outline, p.head<2>()); });
  const Vec3 centre{c.sheet.outline.centre_m.x(), c.sheet.outline.centre_m.y(), 0.0};
  const bool covers =
      Eigen::AlignedBox2d(box.min().head<2>(), box.max().head<2>()).contains(mesh::Vec2(centre.head<2>()));
  if (!meets && !covers)
    refuse("mould.surface", "a mould beside the sheet: " + box_text(box), "a mould under the sheet's outline",
           fmt::format("the sheet's centre is at {}: check mould.move, mould.unit and sheet.centre", place(centre)));
  if (c.mould->platform && box.max().z() <= 0.0)
    refuse("mould.surface", "a mould below the platform: " + box_text(box), "a mould that rises above z = 0",
           "the mould stands on the plane z = 0: check mould.move and mould.turn");
  check_start(c, mould);
  check_reliefs();
  const double span = box.sizes().head<2>().maxCoeff();
  if (span > 10.0 * width_m || span < width_m / 50.0)
    warnings.push_back(
        fmt::format("the mould measures {} under a sheet of {:.3g} mm: is mould.unit right? 1 in = 25.4 mm",
                    box_text(box), 1e3 * width_m));
  return warnings;
}

Cost estimate_cost(const Case& c, const Geometry& geometry) {
  const mesh::SheetMesh mesh = make_sheet(c, geometry);
  sheet::SheetState flat = sheet::flat_sheet(mesh, c.sheet.thickness_m, c.sheet.density_kg_m3, c.sheet.height_m);
  if (c.numerics.pace == Pace::kQuasiStatic) sheet::even_out_mass(flat);
  const std::vector<double> flat_per_s =
      sheet::flat_frequency_per_s(c.sheet.law, flat, sheet::lumped_mass_kg(flat, c.sheet.density_kg_m3));
  const FormingSpec spec = forming_spec(c);
  const std::optional<double> sag_m = c.sheet.sags ? std::optional(rough_sag_m(c, spec)) : std::nullopt;
  Cost cost{.elements = flat.elements(),
            .nodes = flat.nodes(),
            .min_mesh_quality = mesh.min_quality,
            .steps = 0,
            .seconds = 0.0,
            .most_seconds = 0.0,
            .sag_m = sag_m};
  double before_Pa = 0.0;
  for (const StageSpec& stage : c.stages) {
    const auto* pressure = std::get_if<PressureDrive>(&stage.drive);
    const forming::PaceChoice pace = forming::choose_pace(spec, stage, !pressure || pressure->pressure_Pa != before_Pa,
                                                          mesh::half_width_m(c.sheet.outline));
    const double to_Pa = pressure                                        ? pressure->pressure_Pa
                         : std::holds_alternative<GasDrive>(stage.drive) ? std::get<GasDrive>(stage.drive).supply_Pa
                                                                         : 0.0;
    // While it travels the pace holds the pressure back.
    const bool grows = to_Pa != 0.0 && c.mould && c.numerics.pace == Pace::kQuasiStatic;
    const sheet::FlatFrequency known{flat_per_s, 1.0 / std::sqrt(pace.mass_factor)};
    const auto w = sheet::highest_frequency(c.sheet.law, flat, c.sheet.density_kg_m3 * pace.mass_factor,
                                            grows ? 0.0 : std::max(before_Pa, to_Pa), &known);
    cost.steps += static_cast<std::int64_t>(
        std::ceil((grows ? kPressedSteps : 1.0) * stage.duration_s / (0.9 * w.stable_step_s())));
    before_Pa = to_Pa;
  }
  const int threads =
      c.numerics.threads > 0 ? c.numerics.threads : std::min(omp_get_max_threads(), omp_get_num_procs());
  // docs/theory/heat.md, "Cost".
  constexpr double kWithHeat = 1.16, kWithMemory = 2.0;
  const double times = forming::forming_law(spec) ? kWithMemory : spec.heat ? kWithHeat : 1.0;
  cost.heat_share = 1.0 - 1.0 / times;
  cost.seconds = static_cast<double>(cost.steps) * cost.elements / (kUpdatesPerSecond * threads) * times;
  // Small elements are made heavier and bear nearly the steps of large ones.
  const double finer = c.sheet.refines() ? c.sheet.element_m / c.sheet.fine_element_m : 1.0;
  cost.most_seconds = cost.seconds * finer * finer;
  return cost;
}

}  // namespace pellicle
