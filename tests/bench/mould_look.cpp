// How long does it take to look at a mould, and how much memory?
#include "tests/bench/mould_look.h"

#include "mesh/inspect.h"
#include "mesh/nearest.h"
#include "mesh/sheet_mesher.h"
#include "mesh/visibility.h"
#include "solver/forming/forming.h"
#include "tests/bench/clock.h"

#include <sys/resource.h>

#include <cmath>
#include <optional>
#include <stdexcept>
#include <string_view>
#include <utility>

namespace pellicle {
namespace {

using mesh::Vec3;

/// Block of 100 mm with a wavy top of n x n squares, cut in two each, and a flat base. Walls are two triangles wide
/// slices from top to base.
mesh::TriangleMesh wavy_block(int n) {
  mesh::TriangleMesh block;
  const double square_m = 0.1 / n;
  const auto point = [n](int i, int j) { return j * (n + 1) + i; };
  for (int j = 0; j <= n; ++j)
    for (int i = 0; i <= n; ++i) {
      const double x = square_m * i, y = square_m * j;
      block.points_m.emplace_back(x, y, 0.02 + 0.002 * std::sin(300.0 * x) * std::cos(200.0 * y));
    }
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < n; ++i) {
      block.triangles.push_back({point(i, j), point(i + 1, j), point(i + 1, j + 1)});
      block.triangles.push_back({point(i, j), point(i + 1, j + 1), point(i, j + 1)});
    }
  std::vector<int> rim;  // counter-clockwise from above
  for (int i = 0; i < n; ++i) rim.push_back(point(i, 0));
  for (int i = 0; i < n; ++i) rim.push_back(point(n, i));
  for (int i = n; i > 0; --i) rim.push_back(point(i, n));
  for (int i = n; i > 0; --i) rim.push_back(point(0, i));
  const int below = static_cast<int>(block.points_m.size()), count = static_cast<int>(rim.size());
  for (const int top : rim) {
    const Vec3& p = block.points_m[static_cast<std::size_t>(top)];
    block.points_m.emplace_back(p.x(), p.y(), 0.0);
  }
  block.points_m.emplace_back(0.05, 0.05, 0.0);
  for (int k = 0; k < count; ++k) {
    const int next = (k + 1) % count;
    const auto top = [&rim](int at) { return rim[static_cast<std::size_t>(at)]; };
    block.triangles.push_back({below + k, below + next, top(next)});
    block.triangles.push_back({below + k, top(next), top(k)});
    block.triangles.push_back({below + count, below + next, below + k});
  }
  return block;
}

/// A sheet that sticks; where it lies between the waves it is near the mould long before it lands.
FormingSpec press_spec() {
  FormingSpec spec{};
  spec.sheet.law = sheet::Yeoh{0.15e6, 0.01e6, 0.0005e6};
  spec.sheet.density_kg_m3 = 1200.0;
  spec.sheet.thickness_m = 1e-3;
  spec.sheet.outline = {mesh::RoundedRectangle{0.12, 0.12, 0.01}, {0.05, 0.05}};
  spec.sheet.height_m = 0.0225;
  spec.sheet.element_m = spec.sheet.rim_element_m = 2e-3;
  spec.sheet.fine_element_m = 1e-3;
  spec.numerics.frames = 2;
  spec.stages = {{"lower", 0.1, PressureDrive{0.0}, 0.01}, {"press", 0.2, PressureDrive{1e5}, {}}};
  return spec;
}

double seconds_of(const forming::Forming& forming, std::string_view wanted) {
  for (const forming::StageTime& line : forming.profile())
    if (line.name == wanted) return line.seconds;
  throw std::logic_error("the loop has no such line");
}

/// What the line of the loop that meets the mould costs a node where there is none: it moves nodes and keeps the books.
double books_s_per_node() {
  FormingSpec spec = press_spec();
  spec.stages = {{"press", 0.2, PressureDrive{2e3}, {}}};
  const mould::RigidMould none(std::nullopt, false);
  forming::Forming forming(spec, none, mesh::mesh_sheet(spec.sheet.outline, {2e-3, 2e-3, {}}));
  forming::FormingSinks sinks;
  int asked = 0;
  sinks.stop = [&asked] { return ++asked > 40; };  // every 25 steps
  forming.run(sinks);
  return seconds_of(forming, "mould") / (static_cast<double>(forming.snapshot().step) * forming.state().nodes());
}

void press_over(mesh::TriangleMesh block, MouldLook& look) {
  constexpr double kMost_s = 20.0;
  constexpr int kRepetitions = 3;
  use_threads(1);
  const FormingSpec spec = press_spec();
  const mould::RigidMould mould(std::move(block), true);
  for (int k = 0; k < kRepetitions; ++k) {
    forming::Forming forming(spec, mould, mesh::mesh_sheet(spec.sheet.outline, {2e-3, 2e-3, {}}));
    forming::FormingSinks sinks;
    const double from = now_s();
    sinks.stop = [&] { return now_s() - from > kMost_s; };
    look.ended = forming.run(sinks) && (k == 0 || look.ended);
    look.steps = forming.snapshot().step;
    double loop_s = 0.0;
    for (const forming::StageTime& line : forming.profile()) loop_s += line.seconds;
    // Nodes go with elements while the sheet is refined.
    const double node_steps = static_cast<double>(forming.element_updates()) * forming.state().nodes() /
                              static_cast<double>(forming.state().elements());
    look.loop_s.push_back(loop_s);
    look.contact_s.push_back(seconds_of(forming, "edges") + seconds_of(forming, "mould") -
                             books_s_per_node() * node_steps);
    look.membrane_s.push_back(seconds_of(forming, "membrane"));
    ensure(look.contact_s.back() > 0.0 && look.membrane_s.back() > 0.0, "the loop tells the time of its lines");
    if (k + 1 == kRepetitions) look.penetration = forming.deepest_penetration().of_thickness;
  }
}

}  // namespace

MouldLook time_mould_look() {
  MouldLook look;
  const auto time = [&look](const char* what, int threads, const auto& work) {
    use_threads(threads);
    const Taken from = taken();
    work();
    const Taken to = taken();
    look.runs.push_back({what, threads, to.clock_s - from.clock_s, to.processor_s - from.processor_s,
                         to.most_memory_MB - from.most_memory_MB});
  };
  std::optional<mesh::Nearest> mould;
  mesh::TriangleMesh block = wavy_block(1000);
  look.triangles = static_cast<int>(block.triangles.size());
  time("tree built", 1, [&] { mould.emplace(std::move(block)); });
  const auto inspect = [&mould](bool crossings, bool narrow) {
    const mesh::Inspection all = mesh::inspect(*mould, {.crossings = crossings, .narrow = narrow});
    for (const mesh::Found& found : all.found) ensure(found.count == 0, "the mould of the bench is sound");
  };
  for (const int threads : {1, 2}) {
    time("holes, bodies, sides", threads, [&] { inspect(false, false); });
    time("and crossings", threads, [&] { inspect(true, false); });
    time("and walls and slots", threads, [&] { inspect(true, true); });
    time("look from above", threads, [&] {
      ensure(mesh::look_from_above(*mould, 0.0).undercut_area_m2 == 0.0, "the mould of the bench has no undercut");
    });
  }
  press_over(mesh::TriangleMesh(mould->mesh()), look);
  return look;
}

}  // namespace pellicle
