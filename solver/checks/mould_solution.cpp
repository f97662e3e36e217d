// What does the load do to the cells of a printed mould: how far do they give way, and where are they pulled most?
#include "solver/checks/mould_solution.h"

#include "solver/checks/mould_cells.h"
#include "solver/mould/body.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

namespace pellicle::checks {
namespace {

using mesh::Inside;
using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

constexpr double kWorkingShare = 0.95;  // of the shell's nodes are stressed less than what it works at
/// Cast plaster, dry (from memory). Its own cracks are not looked for.
constexpr mould::Elastic kPlaster{4e9, 0.22};
constexpr double kUpright = 0.999;  // cosine: layers lie level

std::optional<double> platform_of(const Formed& f) {
  return f.mould.has_platform() ? std::optional(0.0) : std::nullopt;
}

mould::BodyOptions body_options(const MouldCase& c, bool slides) {
  mould::BodyOptions o;
  o.shell = {modulus_Pa(c.build.resin, shell_K(c)), c.build.resin.poisson.likely};
  o.fill = kPlaster;
  o.base_slides = slides;
  o.across = c.build_direction;
  o.solve.tolerance = 1e-6;  // of the load; stresses are good to a percent at best
  o.solve.stop = c.stop;
  return o;
}

/// Tension that counts: what pulls layers apart counts as more.
double counting_Pa(double principal_Pa, double across_Pa, const ResinSpec& resin) {
  return std::max({0.0, principal_Pa, across_Pa / resin.across_layers.likely});
}

void find_at_nodes(const MouldCase& c, const mould::SolidCells& solid, const mould::BodyResult& r, double above_m,
                   MouldSolution& s) {
  const int nodes = solid.grid.nodes();
  std::vector<double> share(at(nodes), 0.0);
  std::vector<int> triangle(at(nodes), -1);
  const mesh::Nearest& surface = *c.formed.mould.surface();
  const double reach_m = c.build.inside == Inside::kSolid ? solid.cell_m : c.build.wall_m + solid.cell_m;
#pragma omp parallel for schedule(dynamic, 256)
  for (int n = 0; n < nodes; ++n) {
    const Vec3 x = solid.node_m(n);
    const double tension_Pa = counting_Pa(r.node_principal_Pa[at(n)], r.node_across_Pa[at(n)], c.build.resin);
    if (x.z() < above_m || tension_Pa == 0.0) continue;
    share[at(n)] = tension_Pa / strength_Pa(c.build.resin, peak_K(c, x));
    triangle[at(n)] = surface.closest(x, reach_m).triangle;
  }
  std::vector<double> stresses_Pa;
  for (int n = 0; n < nodes; ++n) {
    const double shift_m = r.node_shift_m[at(n)].norm();
    if (shift_m > s.shift_m) s.shift_m = shift_m, s.shift_place_m = solid.node_m(n);
    if (solid.node_m(n).z() >= above_m && r.node_von_mises_Pa[at(n)] > 0.0)
      stresses_Pa.push_back(r.node_von_mises_Pa[at(n)]);
    if (triangle[at(n)] >= 0) {
      double& of_triangle = s.triangle_share[at(triangle[at(n)])];
      of_triangle = std::fmax(of_triangle, share[at(n)]);
    }
    if (share[at(n)] <= s.share) continue;
    s.share = share[at(n)];
    s.share_place_m = solid.node_m(n);
    s.tension_Pa = counting_Pa(r.node_principal_Pa[at(n)], r.node_across_Pa[at(n)], c.build.resin);
  }
  if (stresses_Pa.empty()) return;
  // A mould gives way as a whole: a corner does not count, where stresses grow as cells shrink.
  const auto most =
      stresses_Pa.begin() + static_cast<std::ptrdiff_t>(kWorkingShare * static_cast<double>(stresses_Pa.size() - 1));
  std::nth_element(stresses_Pa.begin(), most, stresses_Pa.end());
  s.working_Pa = *most;
}

/// The surface's own triangles, which the cells' steps blur less than the nodes.
void find_at_triangles(const MouldCase& c, const mould::BodyResult& r, double above_m, MouldSolution& s) {
  const mesh::TriangleMesh& m = c.formed.mould.surface()->mesh();
  s.triangle_share.assign(m.triangles.size(), kNaN);
  for (std::size_t k = 0; k < m.triangles.size(); ++k) {
    const mesh::Triangle& t = m.triangles[k];
    // The largest of its places is told, wherever on it that is: one that reaches down to the foot says nothing.
    if (std::min({m.points_m[at(t[0])].z(), m.points_m[at(t[1])].z(), m.points_m[at(t[2])].z()}) < above_m) continue;
    s.triangle_share[k] = 0.0;
    const auto count = [&](double tension_Pa, const Vec3& place_m) {
      const double share = tension_Pa / strength_Pa(c.build.resin, peak_K(c, place_m));
      s.triangle_share[k] = std::max(s.triangle_share[k], share);
      if (share > s.share) s.share = share, s.share_place_m = place_m, s.tension_Pa = tension_Pa;
    };
    count(counting_Pa(r.principal_Pa[k], 0.0, c.build.resin), r.principal_place_m[k]);
    count(counting_Pa(0.0, r.across_Pa[k], c.build.resin), r.across_place_m[k]);
  }
}

/// Beside holes that are narrower than the cells, by what the cells say of the wall without them.
void find_at_vents(const MouldCase& c, const std::vector<NarrowPlace>& places, const mould::BodyResult& r,
                   double above_m, MouldSolution& s) {
  for (std::size_t k = 0; k < places.size(); ++k) {
    const Vec3& x = places[k].at_m;
    if (!r.asked_Pa[k] || x.z() < above_m) continue;
    // The rim is pulled round the hole, within the layers of an upright print; of others across them at worst.
    const bool is_within = std::abs(c.build_direction.z()) > kUpright;
    const double rim_Pa = rim_stress_Pa(*r.asked_Pa[k], Vec3::UnitZ(), places[k].long_by_wide);
    const double tension_Pa = counting_Pa(rim_Pa, is_within ? 0.0 : rim_Pa, c.build.resin);
    if (tension_Pa > s.vent_tension_Pa) s.vent_tension_Pa = tension_Pa, s.vent_place_m = x;
    const double share = tension_Pa / strength_Pa(c.build.resin, peak_K(c, x));
    if (share > s.share) s.share = share, s.share_place_m = x, s.tension_Pa = tension_Pa;
  }
}

}  // namespace

double shell_K(const MouldCase& c) { return c.warmth != nullptr ? c.warmth->shell_K() : c.build.start_K; }
double peak_K(const MouldCase& c, const Vec3& place_m) {
  return c.warmth != nullptr ? c.warmth->peak_K(place_m) : c.build.start_K;
}

MouldSolution solve_mould(const MouldCase& c, const MouldLoad& load, double cell_m, double foot_m, bool slides) {
  const mesh::Nearest& surface = *c.formed.mould.surface();
  const mesh::Voxels cells = mould_cells(surface, c.build, cell_m, platform_of(c.formed), bored(c.vents, cell_m));
  const std::vector<NarrowPlace> narrow = narrow_vents(c.vents, surface, c.build, cell_m);
  mould::BodyOptions options = body_options(c, slides);
  for (const NarrowPlace& place : narrow) options.asked_m.push_back(place.at_m);
  mould::Body body(surface.mesh(), cells, options);
  const mould::BodyResult r = body.solve(load.forces);
  MouldSolution s;
  s.cell_m = cell_m;
  s.load_N = r.load_N;
  const double above_m = body.solid().low_m.z() + foot_m;
  find_at_triangles(c, r, above_m, s);
  find_at_nodes(c, body.solid(), r, above_m, s);
  find_at_vents(c, narrow, r, above_m, s);
  s.strength_Pa = strength_Pa(c.build.resin, peak_K(c, s.share_place_m));
  s.triangle_shift_m = r.triangle_shift_m;
  return s;
}

}  // namespace pellicle::checks
