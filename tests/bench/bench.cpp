// How fast are the membrane, the contact, the whole loop and a look at a mould, and what is each worth against the
// others?
//
// docs/performance.md. Ratios within one run are the result: what is compared takes turns, so that whatever else the
// machine does meets both alike. Absolute numbers stand beside them. Not a test: nothing here passes or fails by speed.
#include "mesh/check.h"
#include "mesh/shapes.h"
#include "solver/forming/forming.h"
#include "solver/sheet/membrane.h"
#include "tests/bench/body_time.h"
#include "tests/bench/clock.h"
#include "tests/bench/heat_cost.h"
#include "tests/bench/imprint_time.h"
#include "tests/bench/membrane_rate.h"
#include "tests/bench/mould_look.h"

#include <fmt/core.h>
#include <omp.h>
#include <Eigen/Geometry>

#include <stdlib.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <exception>
#include <limits>
#include <numbers>
#include <string>
#include <string_view>
#include <vector>

namespace pellicle {
namespace {

using mesh::Vec3;

constexpr int kRepetitions = 9;  // odd: the median is one of them
constexpr double kDisc_m = 0.1, kBought_m = 1e-3, kDensity_kg_m3 = 1200.0;

double median(std::vector<double> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

/// Every repetition compared with the one of the other beside it, the median of that.
double median_ratio(const std::vector<double>& over, const std::vector<double>& under) {
  std::vector<double> ratios;
  for (std::size_t k = 0; k < over.size(); ++k) ratios.push_back(over[k] / under[k]);
  return median(ratios);
}

/// A disc of about so many elements.
SheetSpec disc(int elements) {
  const double area = 0.25 * std::numbers::pi * kDisc_m * kDisc_m;
  SheetSpec sheet{};
  sheet.law = sheet::NeoHookean{0.3e6};
  sheet.density_kg_m3 = kDensity_kg_m3;
  sheet.thickness_m = kBought_m;
  sheet.outline = {mesh::Disc{kDisc_m}, mesh::Vec2::Zero()};
  sheet.element_m = sheet.rim_element_m = std::sqrt(area / elements * 4.0 / std::numbers::sqrt3);
  sheet.temperature_K = 420.0;
  return sheet;
}
mesh::SheetMesh mesh_of(const SheetSpec& sheet) {
  return mesh::mesh_sheet(sheet.outline, {sheet.element_m, sheet.rim_element_m, {}});
}

// ---- The membrane pass alone.

struct MembraneRun {
  int elements;
  std::string law;
  int threads;
  std::vector<double> updates_per_s;  ///< a repetition each
  double best_per_s;                  ///< of the fastest pass: what a busy machine disturbs least
};

/// A dome as deep as half its radius, everything moved: taut everywhere, both stretches alike only at its top.
sheet::SheetState dome(const SheetSpec& spec) {
  sheet::SheetState s = sheet::flat_sheet(mesh_of(spec), kBought_m, kDensity_kg_m3, 0.0);
  const double R = 0.5 * kDisc_m;
  for (Vec3& x : s.x_m) x.z() = -0.5 * R * (1.0 - (x.x() * x.x() + x.y() * x.y()) / (R * R));
  std::fill(s.moved.begin(), s.moved.end(), char{1});
  return s;
}

/// One repetition: some passes, each timed.
void repeat(const sheet::Polymer& law, sheet::SheetState& s, MembraneRun& run) {
  constexpr double kUpdates = 1e6;  // some hundredths of a second
  const int passes = static_cast<int>(kUpdates / s.elements()) + 1;
  double sum_s = 0.0;
  for (int k = 0; k < passes; ++k) {
    const double from = now_s();
    sheet::membrane_forces(law, s);
    const double took = now_s() - from;
    sum_s += took;
    run.best_per_s = std::max(run.best_per_s, s.elements() / took);
  }
  run.updates_per_s.push_back(static_cast<double>(s.elements()) * passes / sum_s);
}

std::vector<MembraneRun> time_membrane() {
  // Three terms fitted to rubber, Ogden, Proc. R. Soc. A 326 (1972) 565 (numbers from memory).
  const sheet::Polymer neo = sheet::NeoHookean{0.4e6};
  const sheet::Polymer ogden = sheet::Ogden{3, {0.63e6, 0.0012e6, -0.01e6}, {1.3, 5.0, -2.0}};
  std::vector<MembraneRun> runs;
  for (const int wanted : {20'000, 100'000}) {
    sheet::SheetState s = dome(disc(wanted));
    const std::size_t first = runs.size();
    for (const int threads : {1, 2})
      for (const char* law : {"neo-hookean", "ogden"}) runs.push_back({s.elements(), law, threads, {}, 0.0});
    sheet::membrane_forces(ogden, s);  // warms up
    for (int k = 0; k < kRepetitions; ++k)
      for (std::size_t r = first; r < runs.size(); ++r) {
        use_threads(runs[r].threads);
        repeat(runs[r].law == "ogden" ? ogden : neo, s, runs[r]);
      }
    for (const Vec3& f : s.force_N) ensure(f.allFinite(), "the forces of the bench are finite");
  }
  return runs;
}

// ---- Contact alone.

struct ContactRun {
  std::string nodes;
  std::vector<double> ns_per_node;  ///< a repetition each
};

/// Points evenly spread over a sphere (golden-angle spiral).
std::vector<Vec3> spread_points(int count, double radius_m) {
  std::vector<Vec3> points;
  const double turn = std::numbers::pi * (3.0 - std::sqrt(5.0));
  for (int i = 0; i < count; ++i) {
    const double z = 1.0 - (2.0 * i + 1.0) / count, r = std::sqrt(1.0 - z * z);
    points.push_back(radius_m * Vec3{r * std::cos(turn * i), r * std::sin(turn * i), z});
  }
  return points;
}

/// Nodes of a sheet of 1 mm elements above a ball of 20 mm, with a thousandth of an element a step.
class Contact {
 public:
  std::vector<ContactRun> time() {
    std::vector<ContactRun> runs{{"stands still on the mould", {}},
                                 {"far away, comes nearer", {}},
                                 {"slides along the mould", {}},
                                 {"asks for the first time", {}}};
    for (int k = 0; k <= kRepetitions; ++k) {
      const std::array<double, 4> ns{stands(), comes(), slides(), asks()};
      for (std::size_t r = 0; r < runs.size() && k > 0; ++r) runs[r].ns_per_node.push_back(ns[r]);
    }
    return runs;
  }
  int triangles() const { return static_cast<int>(mould_.surface()->mesh().triangles.size()); }

 private:
  static constexpr int kNodes = 10'000, kSteps = 100;
  static constexpr double kBall_m = 20e-3, kElement_m = 1e-3, kTouch_m = 0.01 * kBought_m, kNear_m = 0.5 * kElement_m;
  static constexpr double kStep_m = 1e-3 * kElement_m;

  /// ns a node and step. `move` gives the next place of a node.
  template <class Move>
  double walk(std::vector<Vec3> x, std::vector<mould::Neighbourhood>& near, int steps, bool meets, Move&& move) {
    long found = 0;
    const double from = now_s();
    for (int step = 0; step < steps; ++step)
      for (std::size_t i = 0; i < x.size(); ++i) {
        x[i] = move(x[i]);
        found += mould_.planes(x[i], kTouch_m, kNear_m, near[i]).count;
      }
    const double ns = 1e9 * (now_s() - from) / (static_cast<double>(x.size()) * steps);
    const long asked = static_cast<long>(x.size()) * steps;
    ensure(meets ? found >= asked : found == 0, "the nodes of the bench meet the mould where they should");
    return ns;
  }
  static std::vector<mould::Neighbourhood> nothing_known() { return std::vector<mould::Neighbourhood>(kNodes); }

  double stands() {
    auto near = nothing_known();
    const auto stay = [](const Vec3& x) { return x; };
    walk(on_, near, 1, true, stay);
    return walk(on_, near, kSteps, true, stay);
  }
  double comes() {
    auto near = nothing_known();
    const std::vector<Vec3> far = spread_points(kNodes, kBall_m + 5e-3);
    return walk(far, near, kSteps, false, [](const Vec3& x) -> Vec3 { return x * (1.0 - kStep_m / x.norm()); });
  }
  double slides() {
    auto near = nothing_known();
    walk(on_, near, 1, true, [](const Vec3& x) { return x; });
    const double angle = kStep_m / kBall_m, c = std::cos(angle), s = std::sin(angle);  // at most a step, about z
    return walk(on_, near, kSteps, true, [&](const Vec3& x) {
      return Vec3{c * x.x() - s * x.y(), s * x.x() + c * x.y(), x.z()};
    });
  }
  double asks() {
    auto near = nothing_known();
    return walk(on_, near, 1, true, [](const Vec3& x) { return x; });
  }

  mould::RigidMould mould_{mesh::sphere(Vec3::Zero(), kBall_m, 6), false};  // 20 x 4^6 triangles
  /// On the ball, so above its facets by a fifth of a touch at most.
  std::vector<Vec3> on_ = spread_points(kNodes, kBall_m);
};

// ---- The whole loop.

struct LoopRun {
  int threads;
  int elements;
  std::int64_t steps;
  double seconds;
  bool ended;  ///< not cut short
  double contact_share;
  std::vector<forming::StageTime> lines;
  std::vector<double> marks_s;  ///< when step 0, 25, 50, ... began
};

/// Lowered on a box of 40 x 24 x 8 mm and pressed with half a bar.
LoopRun time_loop(int threads) {
  constexpr double kMost_s = 8.0;
  use_threads(threads);
  FormingSpec spec{};
  spec.sheet = disc(5'000);
  spec.sheet.height_m = 11e-3;
  spec.stages = {{"lower", 1.0, PressureDrive{0.0}, 1e-3}, {"press", 1.0, PressureDrive{0.5e5}, {}}};
  spec.numerics.frames = 4;
  const mould::RigidMould mould(mesh::box({-0.02, -0.012, 0.0}, {0.02, 0.012, 0.008}), true);
  const mesh::SheetMesh sheet = mesh_of(spec.sheet);
  forming::Forming forming(spec, mould, sheet);
  forming::FormingSinks sinks;
  double share = 0.0;
  sinks.history = [&](const forming::HistoryRow& row) { share = row.contact_share; };
  const double from = now_s();
  std::vector<double> marks_s;
  sinks.stop = [&] {  // asked every 25 steps
    marks_s.push_back(now_s() - from);
    return marks_s.back() > kMost_s;
  };
  const bool ended = forming.run(sinks);
  const double seconds = now_s() - from;
  ensure(!ended || share > 0.3, "the sheet of the bench lies on the mould in the end");
  return {threads,
          static_cast<int>(sheet.triangles.size()),
          forming.snapshot().step,
          seconds,
          ended,
          share,
          forming.profile(),
          marks_s};
}

// ---- What is told.

constexpr double kNone = std::numeric_limits<double>::quiet_NaN();

/// One line of the answer: a ratio, or a share, and the absolute number it comes from.
struct Row {
  std::string part, what, compared_with;
  double ratio, absolute;
  std::string unit;
  double best_ratio, best;  ///< of the fastest alone; none where there was one run only
};

std::string threads_text(int threads) { return fmt::format("{} thread{}", threads, threads == 1 ? "" : "s"); }

Row membrane_row(const MembraneRun& own, const MembraneRun& other) {
  return {.part = "membrane",
          .what = fmt::format("{} elements, {}, {}", own.elements, own.law, threads_text(own.threads)),
          .compared_with = fmt::format("{}, {}", other.law, threads_text(other.threads)),
          .ratio = median_ratio(own.updates_per_s, other.updates_per_s),
          .absolute = 1e-6 * median(own.updates_per_s),
          .unit = "million updates/s",
          .best_ratio = own.best_per_s / other.best_per_s,
          .best = 1e-6 * own.best_per_s};
}

std::vector<Row> membrane_rows(const std::vector<MembraneRun>& runs) {
  std::vector<Row> rows;
  for (std::size_t r = 0; r < runs.size(); r += 4) {  // a mesh: neo-hookean and ogden on one thread, then on two
    for (std::size_t k = r; k < r + 4; ++k) rows.push_back(membrane_row(runs[k], runs[r]));
    rows.push_back(membrane_row(runs[r + 3], runs[r + 1]));
  }
  return rows;
}

/// Our pass against the plain loop, and two threads against one; a node update belongs to each.
std::vector<Row> rate_rows(const MembraneRates& rates) {
  std::vector<Row> rows;
  const auto row = [&](const RateRun& own, const RateRun& other, const std::string& compared_with) {
    rows.push_back({"membrane",
                    fmt::format("{} elements, {}, {}, {}with node update", own.elements, own.law,
                                threads_text(own.threads), own.plain ? "plain loop, " : ""),
                    compared_with, median_ratio(own.updates_per_s, other.updates_per_s),
                    1e-6 * median(own.updates_per_s), "million updates/s", own.best_per_s / other.best_per_s,
                    1e-6 * own.best_per_s});
  };
  for (std::size_t k = 0; k < rates.runs.size(); k += 3) {
    const RateRun &plain = rates.runs[k], &one = rates.runs[k + 1], &two = rates.runs[k + 2];
    row(plain, plain, "plain loop, 1 thread");
    row(one, plain, "plain loop, 1 thread");
    row(two, plain, "plain loop, 1 thread");
    row(two, one, "ours, 1 thread");
  }
  const double byte_s = rates.pass_per_s * rates.bytes_per_element;
  rows.push_back({"membrane",
                  fmt::format("{} elements, neo-hookean, pass alone, {:.0f} bytes an element",
                              rates.runs.back().elements, rates.bytes_per_element),
                  fmt::format("triad, {:.1f} GB/s", 1e-9 * rates.memory_byte_s), kNone, kNone, "GB/s",
                  byte_s / rates.memory_byte_s, 1e-9 * byte_s});
  return rows;
}

std::vector<Row> contact_rows(const std::vector<ContactRun>& runs, int triangles) {
  std::vector<Row> rows;
  const auto best = [](const ContactRun& run) { return *std::ranges::min_element(run.ns_per_node); };
  for (const ContactRun& run : runs)
    rows.push_back({"contact", fmt::format("{} triangles, node {}", triangles, run.nodes), "one that stands still",
                    median_ratio(run.ns_per_node, runs.front().ns_per_node), median(run.ns_per_node), "ns a node",
                    best(run) / best(runs.front()), best(run)});
  return rows;
}

std::vector<Row> loop_rows(const std::vector<LoopRun>& runs) {
  std::vector<Row> rows;
  for (const LoopRun& run : runs) {
    const std::string who = fmt::format("{} elements, {}", run.elements, threads_text(run.threads));
    const double steps = static_cast<double>(run.steps);
    for (const forming::StageTime& line : run.lines)
      rows.push_back({"loop", fmt::format("{}, {}", who, line.name), "whole loop", line.seconds / run.seconds,
                      1e6 * line.seconds / steps, "us a step", kNone, kNone});
    const std::string how = fmt::format("{}, {} steps in {:.2f} s{}, {:.0f} % touches at the end", who, run.steps,
                                        run.seconds, run.ended ? "" : " (cut short)", 100.0 * run.contact_share);
    // Over the steps that both did, should one have been cut short.
    const std::size_t both = std::min(run.marks_s.size(), runs.front().marks_s.size()) - 1;
    const double ratio = runs.front().marks_s[both] / run.marks_s[both];
    rows.push_back({"loop", how, "speed on 1 thread", ratio, 1e6 * run.seconds / steps, "us a step", kNone, kNone});
  }
  return rows;
}

/// Compared by the time of the processor.
std::vector<Row> mould_rows(const MouldLook& look) {
  std::vector<Row> rows;
  const double first_s = look.runs.front().processor_s;
  for (const MouldRun& run : look.runs)
    rows.push_back({"mould",
                    fmt::format("{} triangles, {}, {}, {:.2f} s by the clock, {:.0f} MB more", look.triangles, run.what,
                                threads_text(run.threads), run.seconds, run.memory_MB),
                    look.runs.front().what, run.processor_s / first_s, run.processor_s, "s of processor", kNone,
                    kNone});
  const auto contact_over = [&](const std::string& what, const std::string& of, const std::vector<double>& of_s) {
    double best = std::numeric_limits<double>::infinity();
    for (std::size_t k = 0; k < of_s.size(); ++k) best = std::min(best, look.contact_s[k] / of_s[k]);
    rows.push_back({"mould", what, of, median_ratio(look.contact_s, of_s), median(look.contact_s), "s", best,
                    *std::min_element(look.contact_s.begin(), look.contact_s.end())});
  };
  contact_over(
      fmt::format("contact of a sheet drawn and pressed over it, {} steps{}, deepest {:.1f} % of the thickness",
                  look.steps, look.ended ? "" : ", cut short", 100.0 * look.penetration),
      "whole loop", look.loop_s);
  contact_over("the same", "membrane", look.membrane_s);
  return rows;
}

/// Against the time that was wanted.
std::vector<Row> imprint_rows(const std::vector<ImprintRun>& runs) {
  std::vector<Row> rows;
  for (const ImprintRun& run : runs)
    rows.push_back(
        {"imprint", fmt::format("{}, {}, {:.0f} MB more", run.what, threads_text(run.threads), run.memory_MB),
         fmt::format("{:.3g} s wanted", run.wanted_s), run.seconds / run.wanted_s, run.seconds, "s", kNone, kNone});
  return rows;
}

/// Against the pass alone; what is wanted stands in the text.
std::vector<Row> heat_rows(const std::vector<HeatCost>& runs) {
  std::vector<Row> rows;
  const auto best = [](const HeatCost& run) { return *std::ranges::min_element(run.ns_per_step); };
  for (const HeatCost& run : runs)
    rows.push_back({"heat", fmt::format("{} elements, {}, {:.3g} wanted", run.elements, run.what, run.wanted_ratio),
                    runs.front().what, median_ratio(run.ns_per_step, runs.front().ns_per_step), median(run.ns_per_step),
                    "ns an element and step", best(run) / best(runs.front()), best(run)});
  return rows;
}

/// Against the time that was wanted; the quiet machine's clock counts, seconds of processor stand beside it.
std::vector<Row> body_rows(const std::vector<BodyRun>& runs) {
  std::vector<Row> rows;
  for (const BodyRun& run : runs)
    rows.push_back({"body",
                    fmt::format("{}, {}, {:.1f} s of processor, {:.0f} MB in all", run.what, threads_text(run.threads),
                                run.processor_s, run.memory_MB),
                    fmt::format("{:.3g} s wanted", run.wanted_s), run.seconds / run.wanted_s, run.seconds, "s", kNone,
                    kNone});
  return rows;
}

std::string number_text(double value, const char* none) {
  return std::isfinite(value) ? fmt::format("{:.4g}", value) : none;
}

void print_text(const std::vector<Row>& rows, double load) {
  fmt::print("{} cores, load {:.2f} before. Ratios are the result. Median of {} repetitions, and the best.\n",
             omp_get_num_procs(), load, kRepetitions);
  const auto line = [](const auto&... cells) {
    fmt::print("{:<9} {:<78} {:>7} {:>7}  {:<24} {:>8} {:>8}  {}\n", cells...);
  };
  line("part", "what", "ratio", "best", "to", "median", "best", "unit");
  for (const Row& row : rows)
    line(row.part, row.what, number_text(row.ratio, "-"), number_text(row.best_ratio, "-"), row.compared_with,
         number_text(row.absolute, "-"), number_text(row.best, "-"), row.unit);
}

/// All texts here are our own, without quotes.
void print_json(const std::vector<Row>& rows, double load) {
  fmt::print("{{\"cores\": {}, \"load_before\": {}, \"repetitions\": {}, \"rows\": [", omp_get_num_procs(),
             number_text(load, "null"), kRepetitions);
  const char* comma = "";
  for (const Row& row : rows) {
    fmt::print("{}\n  {{\"part\": \"{}\", \"what\": \"{}\", \"compared_with\": \"{}\", \"unit\": \"{}\", ", comma,
               row.part, row.what, row.compared_with, row.unit);
    fmt::print("\"ratio\": {}, \"median\": {}, \"best_ratio\": {}, \"best\": {}}}", number_text(row.ratio, "null"),
               number_text(row.absolute, "null"), number_text(row.best_ratio, "null"), number_text(row.best, "null"));
    comma = ",";
  }
  fmt::print("\n]}}\n");
}

/// Waits as the program does (io/main.cpp): what is measured otherwise is another program.
void wait_briefly(char** argv) {
  if (::getenv("OMP_WAIT_POLICY") != nullptr || ::getenv("GOMP_SPINCOUNT") != nullptr) return;
  ::setenv("OMP_WAIT_POLICY", "passive", 1);
  ::setenv("GOMP_SPINCOUNT", "2000", 1);
  ::execv("/proc/self/exe", argv);  // returns only if it failed
}

/// One part, or all of them.
std::vector<Row> all_rows(std::string_view part) {
  if (part == "imprint") return imprint_rows(time_imprint());
  if (part == "heat") return heat_rows(time_heat(kRepetitions));
  if (part == "body") return body_rows(time_body());
  const MouldLook look = time_mould_look();  // first: it tells by how much the process grows
  std::vector<Row> rows = membrane_rows(time_membrane());
  for (const Row& row : rate_rows(time_membrane_rates(kRepetitions))) rows.push_back(row);
  for (const Row& row : heat_rows(time_heat(kRepetitions))) rows.push_back(row);
  use_threads(1);
  Contact contact;
  for (const Row& row : contact_rows(contact.time(), contact.triangles())) rows.push_back(row);
  for (const Row& row : loop_rows({time_loop(1), time_loop(2)})) rows.push_back(row);
  for (const Row& row : mould_rows(look)) rows.push_back(row);
  for (const Row& row : imprint_rows(time_imprint())) rows.push_back(row);
  return rows;
}

void bench(bool json, std::string_view part) {
  double load = 0.0;
  if (::getloadavg(&load, 1) != 1) load = kNone;
  const std::vector<Row> rows = all_rows(part);
  json ? print_json(rows, load) : print_text(rows, load);
}

}  // namespace
}  // namespace pellicle

int main(int argc, char** argv) {
  pellicle::wait_briefly(argv);
  const std::vector<std::string_view> words(argv + 1, argv + argc);
  const bool json = !words.empty() && words.front() == "--json";
  const std::string_view part = words.size() > (json ? 1U : 0U) ? words.back() : "all";
  if (words.size() > (json ? 2U : 1U) || (part != "all" && part != "imprint" && part != "heat" && part != "body")) {
    std::fputs("usage: bench [--json] [imprint|heat|body]: how fast is the solver? See docs/performance.md\n", stderr);
    return 2;
  }
  try {
    pellicle::bench(json, part);
  } catch (const std::exception& problem) {
    fmt::print(stderr, "error: {}\n", problem.what());
    return 1;
  }
  return 0;
}
