// How deep does the hot sheet hang under its own weight before anything is done to it?
//
// docs/theory/heat.md, "Hanging". Explicit steps with lumped mass, damped nearly critically for a pendulum as long as
// the sag: what is folded all round swings like one.
#include "solver/forming/sag.h"

#include "mesh/check.h"
#include "solver/forming/stage.h"
#include "solver/sheet/membrane.h"
#include "solver/sheet/ordered_sum.h"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

namespace pellicle::forming {
namespace {

using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Of the free nodes.
struct Unborne {
  double unborne_N2 = 0.0, weight_N2 = 0.0;
  Unborne& operator+=(const Unborne& o) {
    unborne_N2 += o.unborne_N2, weight_N2 += o.weight_N2;
    return *this;
  }
};

/// Half the smaller side of the box around the flat sheet.
double half_width_m(const sheet::SheetState& s) {
  mesh::Vec2 low = s.flat_m.front(), high = low;
  for (const mesh::Vec2& p : s.flat_m) low = low.cwiseMin(p), high = high.cwiseMax(p);
  return 0.5 * (high - low).minCoeff();
}

/// Of the sheet pulled flat to the size that it has hot: one that is slack sets no limit of its own.
double taut_step_s(const sheet::Polymer& law, double density_kg_m3, sheet::SheetState& s) {
  const std::vector<Vec3> before_m = s.x_m;
  for (Vec3& x : s.x_m) x.head<2>() *= 1.0 + s.expansion;
  const double step_s = sheet::highest_frequency(law, s, density_kg_m3, 0.0).stable_step_s();
  s.x_m = before_m;
  return step_s;
}

double deepest_m(const sheet::SheetState& s) {
  double lowest_m = s.x_m.front().z(), rim_m = 0.0;
  for (int i = 0; i < s.nodes(); ++i) {
    if (s.on_rim[at(i)]) rim_m = s.x_m[at(i)].z();
    lowest_m = std::min(lowest_m, s.x_m[at(i)].z());
  }
  return rim_m - lowest_m;
}

}  // namespace

std::vector<double> weights_N(const sheet::SheetState& s, double density_kg_m3) {
  std::vector<double> weight_N(s.x_m.size(), 0.0);
  for (std::size_t e = 0; e < s.triangles.size(); ++e)
    for (const int i : s.triangles[e]) weight_N[at(i)] += kGravity_m_s2 * density_kg_m3 * s.rest[e].volume_m3 / 3.0;
  return weight_N;
}

sheet::Polymer long_run_law(const FormingSpec& spec) {
  const auto hot = forming_law(spec);
  if (!hot) return spec.sheet.law;
  return sheet::network_at(hot->network, hot->relaxation, spec.heat->start_K);
}

double hang(const sheet::Polymer& law, double density_kg_m3, sheet::SheetState& s) {
  constexpr int kMostSteps = 200'000, kRefresh = 20;
  constexpr double kSag = 0.1;  // of the half width: from 0.05 of a cold sheet to 0.14 of one that has grown
  const std::vector<double> weight_N = weights_N(s, density_kg_m3);
  const double damping_per_s = 2.0 * std::sqrt(kGravity_m_s2 / (kSag * half_width_m(s)));
  sheet::OrderedSum<Unborne> sum;
  const double taut_s = taut_step_s(law, density_kg_m3, s);
  double dt_s = 0.0;
  s.v_m_s.assign(s.x_m.size(), Vec3::Zero());
  s.moved.assign(s.x_m.size(), 1);
  for (int step = 0; step < kMostSteps; ++step) {
    // As the sheet draws taut it grows stiffer within few steps: half the limit.
    if (step % kRefresh == 0)
      dt_s = 0.5 * std::min(taut_s, sheet::highest_frequency(law, s, density_kg_m3, 0.0).stable_step_s());
    const double half = 0.5 * damping_per_s * dt_s;
    sheet::membrane_forces(law, s);
    const Unborne now = sum(s.nodes(), [&](int i) {
      if (s.on_rim[at(i)]) return Unborne{};
      const Vec3 force = s.force_N[at(i)] - Vec3{0.0, 0.0, weight_N[at(i)]};
      Vec3& v = s.v_m_s[at(i)];
      v = ((1.0 - half) * v + dt_s / s.mass_kg[at(i)] * force) / (1.0 + half);
      return Unborne{force.squaredNorm(), weight_N[at(i)] * weight_N[at(i)]};
    });
    if (!std::isfinite(now.unborne_N2)) break;
    if (now.unborne_N2 <= kUnborne * kUnborne * now.weight_N2) {
      s.v_m_s.assign(s.x_m.size(), Vec3::Zero());
      return deepest_m(s);
    }
#pragma omp parallel for schedule(static, sheet::nodes_dealt(s.nodes()))
    for (int i = 0; i < s.nodes(); ++i)
      if (!s.on_rim[at(i)]) s.x_m[at(i)] += dt_s * s.v_m_s[at(i)];
  }
  throw Error({Fault::Kind::kSolution, "sag of the sheet before the first stage",
               fmt::format("no rest within {} steps", kMostSteps), "a sheet that comes to rest under its weight",
               "leave sheet.sag out, or take a coarser sheet.element"});
}

}  // namespace pellicle::forming
