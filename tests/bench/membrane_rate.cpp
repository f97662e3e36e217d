// How fast is the membrane pass against a plain loop, and against what the memory could give?
#include "tests/bench/membrane_rate.h"

#include "mesh/check.h"
#include "mesh/sheet_mesher.h"
#include "solver/sheet/membrane.h"
#include "solver/sheet/ordered_sum.h"
#include "tests/bench/clock.h"

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace pellicle {
namespace {

using mesh::Vec3;
using sheet::Rest;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

constexpr double kDisc_m = 0.1, kBought_m = 1e-3, kDensity_kg_m3 = 1200.0;
constexpr double kStep_s = 1e-30;  // so short that every place stays what it is to the last bit

/// A dome as deep as half its radius, pulled outwards by a tenth: taut everywhere, both stretches alike only at its
/// top. (An unstretched top is taut or folded by round-off alone, and forces there are known to 1e-8 of the modulus.)
sheet::SheetState dome(int elements) {
  const double area = 0.25 * std::numbers::pi * kDisc_m * kDisc_m;
  const double element_m = std::sqrt(area / elements * 4.0 / std::numbers::sqrt3);
  const mesh::Outline outline{mesh::Disc{kDisc_m}, mesh::Vec2::Zero()};
  sheet::SheetState s =
      sheet::flat_sheet(mesh::mesh_sheet(outline, {element_m, element_m, {}}), kBought_m, kDensity_kg_m3, 0.0);
  const double R = 0.5 * kDisc_m;
  for (Vec3& x : s.x_m) x = {1.1 * x.x(), 1.1 * x.y(), -0.5 * R * (1.0 - (x.x() * x.x() + x.y() * x.y()) / (R * R))};
  return s;
}

// ---- The plain loop: what one writes first, and writes well. Nodes as structs, elements with all they need, forces
// added to the nodes as they come. The law's own scalar functions; folds and slack as in the solver.

struct PlainNode {
  Vec3 x_m, v_m_s, force_N;
  double push_s_kg;  ///< time step over mass
};
struct PlainElement {
  sheet::Triangle nodes;
  Rest rest;
};
struct PlainSheet {
  std::vector<PlainNode> nodes;
  std::vector<PlainElement> elements;
};

PlainSheet plain_copy(const sheet::SheetState& s) {
  PlainSheet p;
  for (std::size_t i = 0; i < s.x_m.size(); ++i)
    p.nodes.push_back({s.x_m[i], Vec3::Zero(), Vec3::Zero(), kStep_s / s.mass_kg[i]});
  for (std::size_t e = 0; e < s.triangles.size(); ++e) p.elements.push_back({s.triangles[e], s.rest[e]});
  return p;
}

template <class Law>
sheet::EnergySlope plain_slope(const Law& law, double a, double b) {
  const double half = 0.5 * a, x = half + std::sqrt(std::fmax(0.0, half * half - b));
  if (b > 0.0 && b * b >= x) return law.slope({a, b});
  if (x <= 1.0) return {0.0, 0.0};
  const double l1 = std::sqrt(x), per = law.principal(l1, 1.0 / std::sqrt(l1)).w1_Pa / (2.0 * l1 * (x - b / x));
  return {per * x, -per};
}

template <class Law>
void plain_forces(const Law& law, PlainSheet& s) {
  for (PlainNode& n : s.nodes) n.force_N.setZero();
  for (const PlainElement& e : s.elements) {
    PlainNode &o = s.nodes[at(e.nodes[0])], &p = s.nodes[at(e.nodes[1])], &q = s.nodes[at(e.nodes[2])];
    const Vec3 d1 = p.x_m - o.x_m, d2 = q.x_m - o.x_m;
    const double g11 = d1.squaredNorm(), g12 = d1.dot(d2), g22 = d2.squaredNorm();
    const Rest& r = e.rest;
    const double a = r.m11_per_m2 * g11 + 2.0 * r.m12_per_m2 * g12 + r.m22_per_m2 * g22;
    const double b = (g11 * g22 - g12 * g12) * r.inverse_det_per_m4;
    const sheet::EnergySlope w = plain_slope(law, a, b);
    const double v = 2.0 * r.volume_m3, wb = w.wb_Pa * r.inverse_det_per_m4;
    const double k11 = v * (w.wa_Pa * r.m11_per_m2 + wb * g22), k12 = v * (w.wa_Pa * r.m12_per_m2 - wb * g12),
                 k22 = v * (w.wa_Pa * r.m22_per_m2 + wb * g11);
    const Vec3 f1 = k11 * d1 + k12 * d2, f2 = k12 * d1 + k22 * d2;
    p.force_N -= f1;
    q.force_N -= f2;
    o.force_N += f1 + f2;
  }
}

void plain_step(const sheet::Polymer& polymer, PlainSheet& s) {
  std::visit([&](const auto& law) { plain_forces(law, s); }, polymer);
  for (PlainNode& n : s.nodes) {
    n.v_m_s += n.push_s_kg * n.force_N;
    n.x_m += kStep_s * n.v_m_s;
  }
}

// ---- Ours.

/// Time step over mass, three times a node, so that nodes are moved number by number.
std::vector<double> pushes_s_kg(const sheet::SheetState& s) {
  std::vector<double> push_s_kg;
  for (const double mass_kg : s.mass_kg) push_s_kg.insert(push_s_kg.end(), 3, kStep_s / mass_kg);
  return push_s_kg;
}

void own_step(const sheet::Polymer& polymer, sheet::SheetState& s, const std::vector<double>& push_s_kg) {
  sheet::membrane_forces(polymer, s);
  double* const __restrict v = s.v_m_s.data()->data(), * const __restrict x = s.x_m.data()->data();
  const double* const __restrict f = s.force_N.data()->data(), * const __restrict push = push_s_kg.data();
#pragma omp parallel for schedule(static, 3 * sheet::nodes_dealt(s.nodes()))
  for (int k = 0; k < 3 * s.nodes(); ++k) {
    v[k] += push[k] * f[k];
    x[k] += kStep_s * v[k];
  }
}

/// Round-off: sums of about six parts, each of the size of the largest force on a corner.
void check_alike(const sheet::Polymer& polymer, sheet::SheetState& s, PlainSheet& plain) {
  sheet::membrane_forces(polymer, s);
  std::visit([&](const auto& law) { plain_forces(law, plain); }, polymer);
  double largest_N = 0.0, off_N = 0.0;
  for (std::size_t i = 0; i < s.x_m.size(); ++i) {
    largest_N = std::max(largest_N, s.force_N[i].norm());
    off_N = std::max(off_N, (s.force_N[i] - plain.nodes[i].force_N).norm());
  }
  ensure(largest_N > 0.0 && off_N <= 1e-12 * largest_N, "the plain loop of the bench makes the same forces");
}

// ---- Taking turns.

/// A step among steps is what counts: who had the turn before has left other things in the caches, which takes three
/// passes to mend (docs/performance.md).
template <class Step>
void repeat(RateRun& run, const Step& step) {
  constexpr double kUpdates = 1e6;  // some hundredths of a second
  constexpr int kColdPasses = 3;
  use_threads(run.threads);
  for (int k = 0; k < kColdPasses; ++k) step();
  const int passes = static_cast<int>(kUpdates / run.elements) + 1;
  double sum_s = 0.0;
  for (int k = 0; k < passes; ++k) {
    const double from = now_s();
    step();
    const double took = now_s() - from;
    sum_s += took;
    run.best_per_s = std::max(run.best_per_s, run.elements / took);
  }
  run.updates_per_s.push_back(static_cast<double>(run.elements) * passes / sum_s);
}

/// a = b + q c over three arrays of 64 MB. Bytes as counted for the pass: what is written is not counted as read too.
double triad_byte_s(int repetitions) {
  const std::size_t n = 8'000'000;
  std::vector<double> a(n, 0.0), b(n, 1.0), c(n, 2.0);
  double best_s = 1e9;
  for (int k = 0; k < repetitions; ++k) {
    const double from = now_s(), q = 1e-3 * k;
    for (std::size_t i = 0; i < n; ++i) a[i] = b[i] + q * c[i];
    best_s = std::min(best_s, now_s() - from);
    ensure(a[n / 2] == 1.0 + q * 2.0, "the triad of the bench is worked out");
  }
  return 3.0 * sizeof(double) * static_cast<double>(n) / best_s;
}

/// What the pass has to bring in and take out: the groups of the blocks, numbers and flags of their nodes, places of
/// all of them, and force and area of their own. What is written is not counted as read too.
double bytes_of_pass(const sheet::SheetState& s) {
  double bytes = 0.0;
  for (int k = 0; k < s.blocks.count(); ++k) {
    const sheet::BlockView b = s.blocks.view(k);
    bytes += static_cast<double>(sizeof(sheet::Group)) * b.group_count;
    bytes += static_cast<double>(sizeof(int) + sizeof(char) + sizeof(Vec3)) * b.local;
    bytes += 2.0 * static_cast<double>(sizeof(Vec3)) * b.own;
  }
  return bytes;
}

}  // namespace

MembraneRates time_membrane_rates(int repetitions) {
  // Three terms fitted to rubber, Ogden, Proc. R. Soc. A 326 (1972) 565 (numbers from memory).
  const sheet::Polymer neo = sheet::NeoHookean{0.4e6};
  const sheet::Polymer ogden = sheet::Ogden{3, {0.63e6, 0.0012e6, -0.01e6}, {1.3, 5.0, -2.0}};
  MembraneRates rates{};
  for (const int wanted : {100'000, 1'000'000}) {
    sheet::SheetState s = dome(wanted);
    PlainSheet plain = plain_copy(s);
    const std::vector<double> push_s_kg = pushes_s_kg(s);
    for (const char* law : {"neo-hookean", "ogden"}) {
      const sheet::Polymer& polymer = law == std::string("ogden") ? ogden : neo;
      use_threads(1);
      check_alike(polymer, s, plain);
      std::vector<RateRun> runs{{s.elements(), law, 1, true, {}, 0.0},
                                {s.elements(), law, 1, false, {}, 0.0},
                                {s.elements(), law, 2, false, {}, 0.0}};
      for (int k = 0; k < repetitions; ++k)
        for (RateRun& run : runs)
          repeat(run, [&] { run.plain ? plain_step(polymer, plain) : own_step(polymer, s, push_s_kg); });
      rates.runs.insert(rates.runs.end(), runs.begin(), runs.end());
    }
    rates.bytes_per_element = bytes_of_pass(s) / s.elements();
    RateRun pass{s.elements(), "neo-hookean", 1, false, {}, 0.0};
    for (int k = 0; k < repetitions; ++k) repeat(pass, [&] { sheet::membrane_forces(neo, s); });
    rates.pass_per_s = pass.best_per_s;
  }
  rates.memory_byte_s = triad_byte_s(repetitions);
  return rates;
}

}  // namespace pellicle
