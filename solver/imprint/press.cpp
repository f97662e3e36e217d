// How far does gas press a sheet into a relief, and what gap is left?
#include "solver/imprint/press.h"

#include "mesh/check.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <utility>

namespace pellicle::imprint {
namespace {

using Field = std::vector<double>;

constexpr int kCoarsest = 32;           // points along a side at which halving stops
constexpr int kCoarseIterations = 200;  // on a coarser grid, which only gives a start
constexpr int kSettled = 5;             // iterations after which the softest shape is known well enough to act on
constexpr double kBedding = 0.3;        // bed of the preconditioner over the stiffness of the softest free shape
constexpr double kSafety = 4.0;         // of the estimated error: up to 2.7 short while contact still changes (tested)
constexpr double kLeastPart = 1.0 / 256;  // of a step that is looked at for less energy
constexpr std::size_t kChunk = 4096;      // points of a partial sum: fixed, so that threads do not change it

std::size_t at(int i) { return static_cast<std::size_t>(i); }

struct Sums {
  double a = 0.0, b = 0.0;
  double most = 0.0;
};

/// Calls body(i, sums) for all points and adds the sums up in a fixed order: chunk by chunk, then the chunks.
template <class Body>
Sums for_points(std::size_t n, Body body) {
  const std::size_t chunks = (n + kChunk - 1) / kChunk;
  std::vector<Sums> partial(chunks);
#pragma omp parallel for schedule(static) if (chunks > 4)
  for (std::size_t c = 0; c < chunks; ++c) {
    Sums sums;
    for (std::size_t i = c * kChunk; i < std::min(n, (c + 1) * kChunk); ++i) body(i, sums);
    partial[c] = sums;
  }
  Sums all;
  for (const Sums& p : partial) all = {all.a + p.a, all.b + p.b, std::max(all.most, p.most)};
  return all;
}

/// The search on one grid. The pressure out of balance, g = S u + load, is the contact pressure where the sheet
/// touches.
class Search {
 public:
  /// bedding_Pa_per_m: of the preconditioner, to begin with.
  Search(LayerOperator& layer, const Field& mould_m, const Field& load_Pa, Field start_m, double bedding_Pa_per_m);

  /// Until the estimated error is below error_m; false when the iterations run out before.
  bool run(double error_m, int max_iterations);

  Field u_m, g_Pa;
  double error_m = 0.0, residual_Pa = 0.0;  // of the last look
  double bedding_Pa_per_m;
  int iterations = 0;

 private:
  void balance();
  void look();
  void turn();
  void advance();
  void settle_bedding();

  LayerOperator& layer_;
  const Field &z_, &load_;
  std::size_t n_;
  Field r_, r_before_, w_, d_, s_of_d_, u_before_, g_before_;
  double wr_ = 0.0, wr_before_ = 0.0, cross_ = 0.0;
  double softest_Pa_per_m_ = std::numeric_limits<double>::infinity();  // least d.S d/d.d of all directions
  bool fresh_ = true;                                                  // g is a product, not a sum of products
};

Search::Search(LayerOperator& layer, const Field& mould_m, const Field& load_Pa, Field start_m, double bedding)
    : u_m(std::move(start_m)),
      bedding_Pa_per_m(bedding),
      layer_(layer),
      z_(mould_m),
      load_(load_Pa),
      n_(mould_m.size()),
      r_(n_),
      r_before_(n_),
      d_(n_),
      u_before_(n_),
      g_before_(n_) {
  ensure(u_m.size() == n_ && load_.size() == n_ && layer.outer().points() == n_,
         "mould, start and operator share one grid");
  for_points(n_, [&](std::size_t i, Sums&) { u_m[i] = std::max(u_m[i], z_[i]); });
  balance();
}

void Search::balance() {
  layer_.stiffness(u_m, g_Pa);
  for_points(n_, [&](std::size_t i, Sums&) { g_Pa[i] += load_[i]; });
  fresh_ = true;
}

/// What is out of balance, r: all of g where there is a gap, a pull where there is contact; and the preconditioned
/// residual w, (S + bedding)^-1 r held on these points. A bed far below the stiffness of the softest shape that contact
/// leaves free would let w be led by long waves that contact forbids; hence settle_bedding. (S + bedding)^-1 cut to
/// some points is no smaller than the inverse of S + bedding cut to them, and that no smaller than S^-1 over
/// 1 + bedding/softest: times this, w is the error from above in energy, with the contact as it is. kSafety is for the
/// largest of it and for contact that still changes.
void Search::look() {
  std::swap(r_, r_before_);
  const Sums force = for_points(n_, [&](std::size_t i, Sums& sums) {
    r_[i] = u_m[i] > z_[i] || g_Pa[i] < 0.0 ? g_Pa[i] : 0.0;
    sums.a += r_[i] * r_[i];
  });
  layer_.compliance(r_, bedding_Pa_per_m, w_);
  const Sums sums = for_points(n_, [&](std::size_t i, Sums& s) {
    if (r_[i] == 0.0) w_[i] = 0.0;
    s.a += w_[i] * r_[i];
    s.b += w_[i] * r_before_[i];
    s.most = std::max(s.most, std::fabs(w_[i]));
  });
  wr_before_ = wr_;
  wr_ = sums.a;
  cross_ = sums.b;
  error_m = kSafety * sums.most * (1.0 + bedding_Pa_per_m / softest_Pa_per_m_);
  residual_Pa = std::sqrt(force.a / static_cast<double>(n_));
}

/// Next direction: conjugate after Polak and Ribiere, so that it forgets by itself when the contact has changed. Points
/// that touch do not go down: without this the direction need not be one of less energy. Where that leaves nothing of
/// it, as near full contact with only a round-off pulled, the way is straight against what is out of balance.
void Search::turn() {
  const double beta = wr_before_ > 0.0 ? std::max(0.0, (wr_ - cross_) / wr_before_) : 0.0;
  const Sums sums = for_points(n_, [&](std::size_t i, Sums& s) {
    d_[i] = r_[i] == 0.0 ? 0.0 : beta * d_[i] - w_[i];
    if (u_m[i] <= z_[i]) d_[i] = std::max(d_[i], 0.0);
    s.most = std::max(s.most, std::fabs(d_[i]));
  });
  if (sums.most > 0.0) return;
  for_points(n_, [&](std::size_t i, Sums&) { d_[i] = -r_[i]; });
}

/// The bed follows the softest direction seen: down at once, up when enough have been seen.
void Search::settle_bedding() {
  const double fit = kBedding * softest_Pa_per_m_;
  if (bedding_Pa_per_m <= softest_Pa_per_m_ && !(iterations == kSettled && bedding_Pa_per_m < 0.3 * fit)) return;
  bedding_Pa_per_m = fit;
  wr_ = 0.0;  // the next direction starts anew
}

/// To the least energy along the direction; on to the mould where that is below it, and back along the way when the
/// projection raises the energy.
void Search::advance() {
  layer_.stiffness(d_, s_of_d_);
  const double slope = for_points(n_, [&](std::size_t i, Sums& s) { s.a += d_[i] * g_Pa[i]; }).a;
  const Sums along = for_points(n_, [&](std::size_t i, Sums& s) {
    s.a += d_[i] * d_[i];
    s.b += d_[i] * s_of_d_[i];
  });
  softest_Pa_per_m_ = std::min(softest_Pa_per_m_, along.b / along.a);
  const double step = -slope / along.b;
  const double below = for_points(n_, [&](std::size_t i, Sums& s) {
                         u_before_[i] = u_m[i];
                         u_m[i] += step * d_[i];
                         s.most = std::max(s.most, z_[i] - u_m[i]);
                       }).most;
  if (!(below > 0.0)) {
    for_points(n_, [&](std::size_t i, Sums&) { g_Pa[i] += step * s_of_d_[i]; });
    fresh_ = false;
    return;
  }
  std::swap(g_Pa, g_before_);
  for (double part = 1.0;; part *= 0.25) {
    for_points(n_, [&](std::size_t i, Sums&) { u_m[i] = std::max(u_before_[i] + part * step * d_[i], z_[i]); });
    balance();
    // The energy is quadratic: its change is the way times the mean of g, without the cancellation of two energies.
    const double change =
        for_points(n_, [&](std::size_t i, Sums& s) { s.a += (u_m[i] - u_before_[i]) * (g_Pa[i] + g_before_[i]); }).a;
    if (change <= 0.0 || part < kLeastPart) return;
    wr_ = 0.0;  // the next direction starts anew
  }
}

bool Search::run(double error_limit_m, int max_iterations) {
  for (iterations = 0;; ++iterations) {
    look();
    const auto done = [&] { return residual_Pa == 0.0 || (iterations >= kSettled && error_m <= error_limit_m); };
    if (done() && !fresh_) {  // sums of products drift: look once more at the product itself
      balance();
      wr_ = 0.0;
      look();
    }
    if (done()) return true;
    if (iterations == max_iterations) return false;
    turn();
    advance();
    settle_bedding();
  }
}

/// Every other point.
Field coarser(const Field& fine, const Grid& grid) {
  const std::size_t nx = at(grid.nx) / 2, ny = grid.ny > 1 ? at(grid.ny) / 2 : 1;
  Field coarse(nx * ny);
  for (std::size_t j = 0; j < ny; ++j) {
    for (std::size_t i = 0; i < nx; ++i) coarse[j * nx + i] = fine[2 * j * at(grid.nx) + 2 * i];
  }
  return coarse;
}

/// Linear between the points of a grid with half the points along each side of this one.
Field finer(const Field& coarse, const Grid& grid) {
  const std::size_t nx = at(grid.nx), ny = at(grid.ny), coarse_nx = nx / 2, coarse_ny = ny > 1 ? ny / 2 : 1;
  Field fine(nx * ny);
  for (std::size_t j = 0; j < ny; ++j) {
    const double* low = &coarse[j / 2 * coarse_nx];
    const double* high = &coarse[(j + 1) / 2 % coarse_ny * coarse_nx];
    for (std::size_t i = 0; i < nx; ++i) {
      const std::size_t left = i / 2, right = (i + 1) / 2 % coarse_nx;
      fine[j * nx + i] = 0.25 * (low[left] + low[right] + high[left] + high[right]);
    }
  }
  return fine;
}

bool can_halve(const Grid& g) {
  const auto side = [](int n) { return n % 2 == 0 && n / 2 >= kCoarsest; };
  return side(g.nx) && (g.ny == 1 || side(g.ny));
}

void check_task(const Field& mould_m, double pressure_Pa, const PressOptions& options) {
  const auto refuse = [](const char* what, double found, const char* allowed, const char* advice) {
    throw Error({Fault::Kind::kCase, std::string("relief, ") + what, std::to_string(found), allowed, advice});
  };
  if (!(pressure_Pa > 0.0 && std::isfinite(pressure_Pa))) {
    refuse("gas pressure in Pa", pressure_Pa, "above 0", "without pressure nothing holds the sheet on the mould");
  }
  if (!(options.gap_error_m > 0.0)) refuse("allowed error of the gap in m", options.gap_error_m, "above 0", "");
  for (const double z : mould_m) {
    if (!std::isfinite(z)) refuse("height in m", z, "a finite height at every point", "");
  }
}

}  // namespace

Press::Press(const Grid& patch, const LayerStack& stack, Boundary boundary) {
  levels_.emplace_back(patch, stack, boundary);
  while (can_halve(levels_.back().outer())) {
    const Grid& g = levels_.back().outer();
    levels_.emplace_back(Grid{g.nx / 2, g.ny > 1 ? g.ny / 2 : 1, 2.0 * g.spacing_m}, stack, Boundary::kPeriodic);
  }
}

Pressed Press::solve(const std::vector<double>& mould_m, double pressure_Pa, const PressOptions& options,
                     const std::vector<double>* start, const std::vector<double>* back_Pa) {
  check_task(mould_m, pressure_Pa, options);
  std::vector<Field> mould{levels_[0].padded(mould_m)}, load{Field(mould[0].size(), pressure_Pa)};
  if (back_Pa) {
    const Field back = levels_[0].padded(*back_Pa);
    for (std::size_t i = 0; i < back.size(); ++i) load[0][i] -= back[i];
  }
  Field u;
  double bedding = levels_.back().least_stiffness_Pa_per_m();
  if (start) {
    u = *start;
  } else {
    for (std::size_t l = 1; l < levels_.size(); ++l) {
      mould.push_back(coarser(mould[l - 1], levels_[l - 1].outer()));
      load.push_back(coarser(load[l - 1], levels_[l - 1].outer()));
    }
    u.assign(mould.back().size(), *std::max_element(mould.back().begin(), mould.back().end()));
    for (std::size_t l = levels_.size() - 1; l > 0; --l) {
      Search search(levels_[l], mould[l], load[l], std::move(u), bedding);
      search.run(options.gap_error_m * std::exp2(static_cast<double>(l)), kCoarseIterations);
      bedding = search.bedding_Pa_per_m;
      u = finer(search.u_m, levels_[l - 1].outer());
    }
  }

  Search search(levels_[0], mould[0], load[0], std::move(u), bedding);
  if (!search.run(options.gap_error_m, options.max_iterations)) {
    throw Error({Fault::Kind::kSolution, "relief, sheet pressed on it",
                 "gap known to " + std::to_string(search.error_m * 1e6) + " um after " +
                     std::to_string(search.iterations) + " iterations",
                 std::to_string(options.gap_error_m * 1e6) + " um",
                 "a smaller patch, a coarser grid or a larger allowed error of the gap"});
  }
  Pressed out;
  out.gap_error_m = search.error_m;
  out.relative_residual = search.residual_Pa / pressure_Pa;
  out.iterations = search.iterations;
  for (std::size_t i = 0; i < mould[0].size(); ++i) {
    const bool touches = search.u_m[i] <= mould[0][i];
    search.g_Pa[i] = touches ? std::max(search.g_Pa[i], 0.0) : 0.0;
  }
  out.displacement_m = levels_[0].cropped(search.u_m);
  out.contact_pressure_Pa = levels_[0].cropped(search.g_Pa);
  out.gap_m = out.displacement_m;
  for (std::size_t i = 0; i < mould_m.size(); ++i) out.gap_m[i] -= mould_m[i];
  out.outer_displacement_m = std::move(search.u_m);
  return out;
}

}  // namespace pellicle::imprint
