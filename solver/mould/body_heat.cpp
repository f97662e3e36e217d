// How warm does a printed mould get, part after part?
#include "solver/mould/body_heat.h"

#include "mesh/check.h"
#include "solver/mould/brick.h"

#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <utility>

namespace pellicle::mould {
namespace {

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// What lies against a triangle, seen from the mould over a step of dt: a film to a temperature, with what the other
/// side loses to the mould and to its surroundings in the same step counted. From its heat balance, at the step's end,
///   store (To' - To)/dt = film (T - To') + loss (far - To'):
/// film (To' - T) = film S/(S + film) (So - T) with S = store/dt + loss, So = (store/dt To + loss far)/S.
struct Seen {
  double film_W_m2K, other_K;
  double after_K(double mould_K, const Exchange& e, double dt_s) const {
    return other_K - film_W_m2K * (other_K - mould_K) / (e.store_J_m2K / dt_s + e.loss_W_m2K);
  }
};
Seen seen(const Exchange& e, double dt_s) {
  if (std::isinf(e.store_J_m2K)) return {e.film_W_m2K, e.other_K};
  const double s = e.store_J_m2K / dt_s + e.loss_W_m2K;
  return {e.film_W_m2K * s / (s + e.film_W_m2K), (e.store_J_m2K / dt_s * e.other_K + e.loss_W_m2K * e.far_K) / s};
}

/// The same over a whole phase with the mould at one temperature T: heat into it = heat_J_m2 - film_J_m2K T. With
/// k = (film + loss)/store and g = (1 - exp(-k t))/k the solution of the balance above gives
///   film g (To - T_end) + film (T_end - T) t,  T_end = (film T + loss far)/(film + loss).
struct SeenMean {
  double film_J_m2K, heat_J_m2;
};
SeenMean seen_mean(const Exchange& e, double time_s) {
  const double film = e.film_W_m2K, both = film + e.loss_W_m2K;
  if (film == 0.0) return {0.0, 0.0};
  if (std::isinf(e.store_J_m2K)) return {film * time_s, film * time_s * e.other_K};
  const double k = both / e.store_J_m2K, g = -std::expm1(-k * time_s) / k, lost = e.loss_W_m2K / both;
  return {film * (g * film / both + lost * time_s),
          film * (g * (e.other_K - lost * e.far_K) + lost * time_s * e.far_K)};
}

}  // namespace

BodyHeat::BodyHeat(const mesh::TriangleMesh& surface, const mesh::Voxels& voxels, const HeatOptions& options)
    : options_(options), solid_(solid_cells(voxels)) {
  for (const Conductor& c : {options.shell, options.fill})
    ensure(c.conductivity_W_mK > 0.0 && c.capacity_J_m3K > 0.0, "a conductor has a conductivity and a heat capacity");
  find_nodes();
  share_out_surface(surface);
}

void BodyHeat::find_nodes() {
  const CellGrid& grid = solid_.grid;
  capacity_J_K_.assign(at(grid.nodes()), 0.0);
  base_film_W_K_.assign(at(grid.nodes()), 0.0);
  const double a = solid_.cell_m;
  for (int p = 0; p < static_cast<int>(grid.share.size()); ++p) {
    if (!grid.is_solid(p)) continue;
    const double shell = static_cast<double>(grid.share[at(p)][0]), fill = static_cast<double>(grid.share[at(p)][1]);
    const double capacity = a * a * a * (shell * options_.shell.capacity_J_m3K + fill * options_.fill.capacity_J_m3K);
    for (int c = 0; c < 8; ++c) {
      const int n = grid.number[at(p + grid.to_corner(c))];
      capacity_J_K_[at(n)] += capacity / 8.0;
      if (c < 4 && grid.where(p)[2] == 0)
        base_film_W_K_[at(n)] += options_.base_film_W_m2K * a * a * std::min(1.0, shell + fill) / 4.0;
    }
  }
}

/// The area of each triangle goes to the corners of the cells below it; none gets less than nothing.
void BodyHeat::share_out_surface(const mesh::TriangleMesh& surface) {
  first_.assign(1, 0);
  for (const mesh::Triangle& corners : surface.triangles) {
    const Vec3 &a = surface.points_m[at(corners[0])], &b = surface.points_m[at(corners[1])],
               &c = surface.points_m[at(corners[2])];
    const Vec3 n = (b - a).cross(c - a);
    const double floor_m = solid_.low_m.z() + mesh::kOnFloor * solid_.cell_m;
    std::map<int, double> areas;
    if (n.squaredNorm() > 0.0 && std::max({a.z(), b.z(), c.z()}) > floor_m)
      cut_by_cells(solid_, {a, b, c}, [&](const Vec3& x, double area_m2) {
        if (x.z() < solid_.low_m.z()) return;
        const Spot spot = spot_of(solid_, x, n.normalized());
        if (spot.cell < 0) return;
        const Vec3 place = spot.at.cwiseMax(-1.0).cwiseMin(1.0);
        for (int k = 0; k < 8; ++k)
          if (const double w = corner_weight(k, place); w > 1e-12)
            areas[solid_.grid.number[at(spot.cell + solid_.grid.to_corner(k))]] += w * area_m2;
      });
    for (const auto& [node, area_m2] : areas) shares_.push_back({node, area_m2});
    first_.push_back(shares_.size());
  }
}

CellSolver<1> BodyHeat::solver() const {
  const double a = solid_.cell_m;
  return {solid_.grid,
          {a * conductance_W_K(options_.shell.conductivity_W_mK), a * conductance_W_K(options_.fill.conductivity_W_mK)},
          {},
          capacity_J_K_};
}

void BodyHeat::run_phase(CellSolver<1>& solver, const HeatPhase& phase, Field& t, HeatResult& result,
                         Field& integral) const {
  const std::size_t triangles = first_.size() - 1, nodes = capacity_J_K_.size();
  std::vector<Exchange> exchange(triangles);
  for (std::size_t k = 0; k < triangles; ++k) {
    exchange[k] = phase.exchange(static_cast<int>(k));
    exchange[k].other_K -= options_.start_K;
    exchange[k].far_K -= options_.start_K;
  }
  double heat_J = 0.0;
  std::vector<double> diagonal(nodes);
  Field right(nodes + 1, 0.0);
  for (int step = 0; step < phase.steps; ++step) {
    const double n = phase.steps, dt = phase.duration_s * (2.0 * step + 1.0) / (n * n);
    // C (T - T_before)/dt + K T = film (other - T) + flux
    std::vector<Seen> against(triangles);
    for (std::size_t k = 0; k < triangles; ++k) against[k] = seen(exchange[k], dt);
    for (std::size_t i = 0; i < nodes; ++i) {
      diagonal[i] = capacity_J_K_[i] / dt + base_film_W_K_[i];
      right[i] = capacity_J_K_[i] / dt * t[i] + base_film_W_K_[i] * (options_.base_K - options_.start_K);
    }
    for (std::size_t k = 0; k < triangles; ++k)
      for (std::size_t s = first_[k]; s < first_[k + 1]; ++s) {
        const auto i = at(shares_[s].node);
        diagonal[i] += against[k].film_W_m2K * shares_[s].area_m2;
        right[i] += (against[k].film_W_m2K * against[k].other_K + exchange[k].flux_W_m2) * shares_[s].area_m2;
      }
    solver.set_diagonal(diagonal);
    solver.solve(right, t, options_.solve);
    for (std::size_t k = 0; k < triangles; ++k) {
      double exchanged_W = 0.0, area_m2 = 0.0;
      for (std::size_t s = first_[k]; s < first_[k + 1]; ++s) {
        const double here_K = t[at(shares_[s].node)];
        exchanged_W += against[k].film_W_m2K * (against[k].other_K - here_K) * shares_[s].area_m2;
        area_m2 += shares_[s].area_m2;
        result.peak_K[k] = std::fmax(result.peak_K[k], options_.start_K + here_K);  // of a NaN and a number: the number
      }
      heat_J += dt * (exchanged_W + exchange[k].flux_W_m2 * area_m2);
      if (area_m2 == 0.0 || against[k].film_W_m2K == 0.0 || std::isinf(exchange[k].store_J_m2K)) continue;
      const double mean_K = against[k].other_K - exchanged_W / (against[k].film_W_m2K * area_m2);
      exchange[k].other_K = against[k].after_K(mean_K, exchange[k], dt);
    }
    for (std::size_t i = 0; i < nodes; ++i) {
      result.base_heat_J += dt * base_film_W_K_[i] * (options_.base_K - options_.start_K - t[i]);
      integral[i] += dt * t[i];
      result.node_peak_K[i] = std::max(result.node_peak_K[i], options_.start_K + t[i]);
    }
  }
  result.phase_heat_J.push_back(heat_J);
}

HeatResult BodyHeat::run_cycle(CellSolver<1>& solver, const std::vector<HeatPhase>& phases, Field& t) const {
  HeatResult result;
  const Field before = t;
  const std::size_t nodes = capacity_J_K_.size();
  Field integral(nodes, 0.0);
  result.peak_K.assign(first_.size() - 1, kNaN);
  result.end_K = result.peak_K;
  for (std::size_t i = 0; i < nodes; ++i) result.node_peak_K.push_back(options_.start_K + t[i]);
  double cycle_s = 0.0, capacity_J_K = 0.0;
  for (const HeatPhase& phase : phases) {
    ensure(phase.duration_s > 0.0 && phase.steps > 0 && phase.exchange, "a phase lasts, has steps and an exchange");
    cycle_s += phase.duration_s;
    run_phase(solver, phase, t, result, integral);
  }
  for (std::size_t k = 0; k + 1 < first_.size(); ++k)
    for (std::size_t s = first_[k]; s < first_[k + 1]; ++s)
      result.end_K[k] = std::fmax(result.end_K[k], options_.start_K + t[at(shares_[s].node)]);
  for (std::size_t i = 0; i < nodes; ++i) {
    result.node_K.push_back(options_.start_K + t[i]);
    result.node_mean_K.push_back(options_.start_K + integral[i] / cycle_s);
    result.stored_J += capacity_J_K_[i] * (t[i] - before[i]);
    result.change_K = std::max(result.change_K, std::abs(t[i] - before[i]));
    result.mean_K += capacity_J_K_[i] * result.node_mean_K.back();
    capacity_J_K += capacity_J_K_[i];
  }
  result.mean_K /= capacity_J_K;
  return result;
}

HeatResult BodyHeat::after(const std::vector<HeatPhase>& phases, int cycles) const {
  ensure(cycles > 0 && !phases.empty(), "at least one cycle of at least one phase");
  CellSolver<1> conduction = solver();
  Field t(capacity_J_K_.size() + 1, 0.0);
  HeatResult result;
  std::vector<CycleHeat> history;
  for (int c = 1; c <= cycles; ++c) {
    result = run_cycle(conduction, phases, t);
    result.cycles = c;
    double hottest_K = options_.start_K;
    for (const double peak_K : result.peak_K) hottest_K = std::fmax(hottest_K, peak_K);
    history.push_back({result.mean_K, hottest_K});
  }
  result.history = std::move(history);
  return result;
}

double BodyHeat::steady_mean_K(const std::vector<HeatPhase>& phases) const {
  const Average mean = average(phases);
  require_cooling(mean);
  CellSolver<1> conduction = solver();
  Field t(capacity_J_K_.size() + 1, 0.0), load = t;
  std::copy(mean.heat_W.begin(), mean.heat_W.end(), load.begin());
  conduction.set_diagonal(mean.film_W_K);
  conduction.solve(load, t, options_.solve);
  double sum = 0.0, capacity_J_K = 0.0;
  for (std::size_t i = 0; i < capacity_J_K_.size(); ++i) {
    sum += capacity_J_K_[i] * t[i];
    capacity_J_K += capacity_J_K_[i];
  }
  return options_.start_K + sum / capacity_J_K;
}

void BodyHeat::require_cooling(const Average& mean) {
  if (*std::max_element(mean.film_W_K.begin(), mean.film_W_K.end()) <= 0.0)
    throw Error({Fault::Kind::kCase, "heat of the mould", "nothing that cools it", "a film to air, sheet or platform",
                 "give a film coefficient for the open press"});
}

BodyHeat::Average BodyHeat::average(const std::vector<HeatPhase>& phases) const {
  Average mean{base_film_W_K_, {}, 0.0};
  for (const double film : base_film_W_K_) mean.heat_W.push_back(film * (options_.base_K - options_.start_K));
  for (const HeatPhase& phase : phases) mean.cycle_s += phase.duration_s;
  for (const HeatPhase& phase : phases)
    for (std::size_t k = 0; k + 1 < first_.size(); ++k) {
      Exchange e = phase.exchange(static_cast<int>(k));
      e.other_K -= options_.start_K;
      e.far_K -= options_.start_K;
      const SeenMean whole = seen_mean(e, phase.duration_s);
      for (std::size_t s = first_[k]; s < first_[k + 1]; ++s) {
        mean.film_W_K[at(shares_[s].node)] += whole.film_J_m2K / mean.cycle_s * shares_[s].area_m2;
        mean.heat_W[at(shares_[s].node)] +=
            (whole.heat_J_m2 + e.flux_W_m2 * phase.duration_s) / mean.cycle_s * shares_[s].area_m2;
      }
    }
  return mean;
}

/// With A = K + mean film, a cycle of length c damps a slow pattern of A v = lambda C v by exp(-x), x = lambda c. From
/// its change d over the cycle it ends d/(e^x - 1) farther on; z below is d/(x (1 + x/2)), within 10 % of d of that for
/// any x.
HeatResult BodyHeat::periodic(const std::vector<HeatPhase>& phases) const {
  ensure(!phases.empty(), "a cycle has phases");
  const Average mean = average(phases);
  require_cooling(mean);
  CellSolver<1> conduction = solver();
  const std::size_t nodes = capacity_J_K_.size();
  Field t(nodes + 1, 0.0), load(nodes + 1, 0.0), y(nodes + 1, 0.0), z(nodes + 1, 0.0);
  std::vector<double> damped = mean.film_W_K;
  for (std::size_t i = 0; i < nodes; ++i) damped[i] += 2.0 * capacity_J_K_[i] / mean.cycle_s;
  std::copy(mean.heat_W.begin(), mean.heat_W.end(), load.begin());
  conduction.set_diagonal(mean.film_W_K);
  conduction.solve(load, t, options_.solve);
  double change_K = 0.0;
  for (int c = 1; c <= options_.most_cycles; ++c) {
    const Field before = t;
    HeatResult result = run_cycle(conduction, phases, t);
    result.cycles = c;
    change_K = result.change_K;
    for (std::size_t i = 0; i < nodes; ++i) load[i] = capacity_J_K_[i] * (t[i] - before[i]) / mean.cycle_s;
    conduction.set_diagonal(mean.film_W_K);
    conduction.solve(load, y, options_.solve);
    // Not the change alone but all that is left to come: a slow mould changes little a cycle, for long.
    double ahead_K = 0.0;
    for (const double d : y) ahead_K = std::max(ahead_K, std::abs(d));
    if (std::max(change_K, ahead_K) <= options_.settled_K) return result;
    for (std::size_t i = 0; i < nodes; ++i) load[i] = 2.0 * capacity_J_K_[i] * y[i] / mean.cycle_s;
    conduction.set_diagonal(damped);
    conduction.solve(load, z, options_.solve);
    for (std::size_t i = 0; i < nodes; ++i) t[i] += z[i];
  }
  throw Error({Fault::Kind::kSolution, "heat of the mould",
               fmt::format("a change of {:.2g} K in cycle {}", change_K, options_.most_cycles),
               fmt::format("at most {:.2g} K", options_.settled_K),
               "allow more cycles, or ask what the mould is like after a given number of parts"});
}

}  // namespace pellicle::mould
