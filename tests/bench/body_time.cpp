// How long does a million cells of a printed mould take, pressed and warmed, and how much memory?
#include "tests/bench/body_time.h"

#include "mesh/check.h"
#include "mesh/shapes.h"
#include "mesh/voxels.h"
#include "solver/mould/body.h"
#include "solver/mould/body_heat.h"
#include "tests/bench/clock.h"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

namespace pellicle {
namespace {

constexpr double kWanted_s = 60.0;  // on two threads, for each of both questions
constexpr double kCell_m = 0.47e-3, kWall_m = 5e-3;

/// Under sheet of 0.75 mm at 140 degrees C for 30 s, open for 60 s, in air of 20; as solver/checks asks it.
std::vector<mould::HeatPhase> cycle() {
  const mould::Exchange sheet{.film_W_m2K = 1000.0,
                              .other_K = 413.15,
                              .store_J_m2K = 1270.0 * 1800.0 * 0.75e-3,
                              .loss_W_m2K = 60.0,
                              .far_K = 293.15};
  return {{30.0, 8, [sheet](int) { return sheet; }}, {60.0, 8, [](int) { return mould::Exchange{10.0, 293.15}; }}};
}

template <class Work>
BodyRun timed(const Work& work) {
  const Taken from = taken();
  const std::string what = work();
  const Taken to = taken();
  return {what, 2, to.clock_s - from.clock_s, to.processor_s - from.processor_s, kWanted_s, to.most_memory_MB};
}

}  // namespace

std::vector<BodyRun> time_body() {
  use_threads(2);
  const mesh::TriangleMesh box = mesh::box({0, 0, 0}, {0.100, 0.080, 0.050});
  const mesh::Nearest surface(box);
  mesh::VoxelOptions o;
  o.cell_m = kCell_m;
  o.wall_m = kWall_m;
  o.inside = mesh::Inside::kHollow;
  o.base_open = true;
  o.floor_m = 0.0;
  mesh::Voxels cells;
  std::vector<BodyRun> runs;
  runs.push_back(timed([&] {
    cells = mesh::voxels_of(surface, o);
    return fmt::format("hollow box cut into {:.2f} million cells with material",
                       1e-6 * cells.shell_m3() / std::pow(kCell_m, 3));
  }));
  runs.push_back(timed([&] {
    mould::BodyOptions options;
    options.shell = {2.4e9, 0.37};
    options.solve.tolerance = 1e-6;  // as solver/checks asks it
    const mould::BodyResult r =
        mould::Body(box, cells, options).solve(mould::pressing(box, std::vector<double>(box.triangles.size(), 4e5)));
    double most_m = 0.0;
    for (const mesh::Vec3& shift : r.node_shift_m) most_m = std::max(most_m, shift.norm());
    return fmt::format("pressed: {} iterations, gives way by {:.3f} mm", r.solve.iterations, 1e3 * most_m);
  }));
  runs.push_back(timed([&] {
    mould::HeatOptions options;
    options.shell = {0.27, 1180.0 * 1400.0};
    options.base_film_W_m2K = 130.0;
    options.settled_K = 0.1;  // both as solver/checks asks it
    options.solve.tolerance = 1e-6;
    const mould::HeatResult r = mould::BodyHeat(box, cells, options).periodic(cycle());
    ensure(r.mean_K > 300.0, "the mould of the bench gets warm");
    return fmt::format("heat to the periodic state: {} cycles of 16 steps, {:.1f} degrees C in the mean", r.cycles,
                       r.mean_K - 273.15);
  }));
  return runs;
}

}  // namespace pellicle
