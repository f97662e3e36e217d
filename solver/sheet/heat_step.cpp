// How does heat move on within one step? Eight nodes at a time, in parts as short as the accuracy asks for.
#include "mesh/check.h"
#include "solver/sheet/heat.h"
#include "solver/sheet/ordered_sum.h"

#include <algorithm>
#include <cmath>
#include <string>

namespace pellicle::sheet {
namespace {

using Lanes = HeatLanes;
constexpr int kMostRows = kMouldCells + kMostHeatCells;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// TR-BDF2 (Bank et al., IEEE Trans. Electron Devices 32 (1985) 1992) as Hosea & Shampine, Appl. Numer. Math. 20 (1996)
// 21, write it (both from memory; order and estimate are tested): trapezoid to gamma dt, then BDF2, one matrix
// I - d dt J for both. L-stable: the jump at first touch dies within a part, where Crank-Nicolson would keep it
// ringing.
const double kRoot2 = std::sqrt(2.0);
const double kGamma = 2.0 - kRoot2;
const double kD = 0.5 * kGamma;   // weight of the end, d
const double kW = 0.25 * kRoot2;  // weight of the start and of the stage; 2 w + d = 1
const double kMixStage = 1.0 / (kGamma * (2.0 - kGamma));
const double kMixStart = kMixStage - 1.0;  // (1 - gamma)^2/(gamma (2 - gamma))

/// What is the same for all nodes: of cells of the sheet and of the mould's chain.
struct Grid {
  int cells;
  double share[kMostHeatCells];  ///< thickness of a cell over that of the sheet
  double link[kMostHeatCells];   ///< 1/(distance of middles) from cell c to c + 1, over the thickness
  MouldChain chain = mould_chain();

  explicit Grid(const std::vector<double>& edges) : cells(static_cast<int>(edges.size()) - 1) {
    const int n = cells;
    for (int c = 0; c < n; ++c) share[c] = edges[at(c + 1)] - edges[at(c)];
    for (int c = 0; c < n; ++c) link[c] = c + 1 < n ? 2.0 / (share[c] + share[c + 1]) : 0.0;
  }
};

/// Row r of dT/dt = below (T_{r-1} - T_r) + above (T_{r+1} - T_r) + film (gas - T_r) [1/s]. Rows go from the depth of
/// the mould to its surface, then through the sheet to its free side. A block that has met no mould has no such rows.
struct Rates {
  int rows, face, last;  ///< how many, the sheet's first, the sheet's last
  Lanes below[kMostRows], above[kMostRows];
  Lanes open_film, free_film;         ///< of rows `face` and `last`
  double open_K, free_K;              ///< gas at the two
  Lanes contact, open, free;          ///< conductances from cell middle to mould chain, to gas [W/m2K]
  Lanes face_half, free_half, entry;  ///< resistances from cell middle to face, from chain to mould's face [m2K/W]
  Lanes flat_share;                   ///< flux by area of the flat sheet over that by area now
};

/// Conductances in series; nothing passes where the first is 0.
Lanes in_series(const Lanes& film_W_m2K, const Lanes& resistance_m2K_W) {
  return film_W_m2K / (1.0 + film_W_m2K * resistance_m2K_W);
}

/// Means of 1/h^2 and 1/h over a step in which ln h changes evenly: Simpson's rule in ln h, relative errors x^4/180 and
/// x^4/2880 for x = ln(h end/h start), 1e-6 for a tenth.
Lanes mean_inverse_square(const Lanes& a, const Lanes& b) {
  return (1.0 / a.square() + 4.0 / (a * b) + 1.0 / b.square()) / 6.0;
}
Lanes mean_inverse(const Lanes& a, const Lanes& b) { return (1.0 / a + 4.0 / (a * b).sqrt() + 1.0 / b) / 6.0; }

struct BlockStep {
  Lanes thickness_m, contact_s, effusivity;  ///< at the end of the step
};

BlockStep load(const HeatStep& step, int count, int block) {
  BlockStep b;
  for (int l = 0; l < kHeatLanes; ++l) {
    const bool idle = block * kHeatLanes + l >= count;
    const std::size_t i = at(std::min(block * kHeatLanes + l, count - 1));
    const double contact_s = idle ? 0.0 : std::min(step.contact_s[i], step.dt_s);
    b.thickness_m[l] = step.thickness_m[i];
    b.contact_s[l] = std::max(contact_s, 0.0);
    b.effusivity[l] = contact_s > 0.0 ? step.mould_effusivity_Ws05_m2K[i] : 1.0;
  }
  return b;
}

/// Rates with `touching` (1 or 0) as given; all else as the mean over the step.
Rates rates_of(const HeatState& s, const Grid& grid, const HeatStep& step, const BlockStep& b, const Lanes& start_m,
               const Lanes& touching, bool with_mould) {
  const HeatMaterial& m = s.material;
  const double rho_cp = m.density_kg_m3 * m.specific_heat_J_kgK;
  const Lanes inverse_per_m = mean_inverse(start_m, b.thickness_m);
  const Lanes diffuse_per_s = m.diffusivity_m2_s() * mean_inverse_square(start_m, b.thickness_m);
  const int n = grid.cells;
  Rates r;
  r.face = with_mould ? kMouldCells : 0;
  r.last = r.face + n - 1, r.rows = r.face + n;
  r.open_K = step.open_side.gas_K, r.free_K = step.free_side.gas_K;
  r.flat_share = s.flat_thickness_m * inverse_per_m;
  r.face_half = 0.5 * grid.share[0] / (m.conductivity_W_mK * inverse_per_m);
  r.free_half = 0.5 * grid.share[n - 1] / (m.conductivity_W_mK * inverse_per_m);
  r.entry = grid.chain.entry / b.effusivity;
  r.contact = in_series(step.contact_W_m2K * touching, r.face_half + r.entry);
  r.open = in_series(step.open_side.film_W_m2K * (1.0 - touching), r.face_half);
  r.free = in_series(Lanes::Constant(step.free_side.film_W_m2K), r.free_half);

  for (int c = 0; c < n; ++c) {
    r.above[r.face + c] = diffuse_per_s * (grid.link[c] / grid.share[c]);
    if (c > 0) r.below[r.face + c] = diffuse_per_s * (grid.link[c - 1] / grid.share[c]);
  }
  r.below[0].setZero();
  r.below[r.face] = with_mould ? Lanes(r.contact * inverse_per_m / (rho_cp * grid.share[0])) : Lanes(Lanes::Zero());
  r.open_film = r.open * inverse_per_m / (rho_cp * grid.share[0]);
  r.free_film = r.free * inverse_per_m / (rho_cp * grid.share[n - 1]);
  for (int j = 0; with_mould && j < kMouldCells; ++j) {  // effusivity cancels inside the mould
    const int row = kMouldCells - 1 - j;
    if (j + 1 < kMouldCells) r.below[row].setConstant(1.0 / (grid.chain.resistance[j] * grid.chain.capacity[j]));
    r.above[row] = j == 0 ? Lanes(r.contact / (b.effusivity * grid.chain.capacity[0]))
                          : Lanes(Lanes::Constant(1.0 / (grid.chain.resistance[j - 1] * grid.chain.capacity[j])));
  }
  return r;
}

/// I - x J, factored: Gauss without pivoting, safe since the diagonal outweighs each row.
struct Factored {
  Lanes inverse[kMostRows], upper[kMostRows];

  Factored(const Rates& r, const Lanes& x) {
    for (int i = 0; i < r.rows; ++i) {
      Lanes diagonal = 1.0 + x * (r.below[i] + r.above[i]);
      if (i == r.face) diagonal += x * r.open_film;
      if (i == r.last) diagonal += x * r.free_film;
      if (i > 0) diagonal -= x * r.below[i] * upper[i - 1];
      inverse[i] = 1.0 / diagonal;
      upper[i] = x * r.above[i] * inverse[i];
    }
  }
  void solve(const Rates& r, const Lanes& x, const Lanes* right, Lanes* T) const {
    T[0] = right[0] * inverse[0];
    for (int i = 1; i < r.rows; ++i) T[i] = (right[i] + x * r.below[i] * T[i - 1]) * inverse[i];
    for (int i = r.rows - 2; i >= 0; --i) T[i] += upper[i] * T[i + 1];
  }
};

/// One part of a step for eight nodes, each with its own length dt.
struct Part {
  Lanes end[kMostRows];
  Lanes mould_s, face_s,
      last_s;      ///< temperatures over time, as the scheme counts them: of rows face - 1, face, last [K s]
  double error_K;  ///< largest estimate of any row and lane

  Part(const Rates& r, const Lanes* T, const Lanes& dt) {
    const Lanes x = kD * dt;
    const Factored matrix(r, x);
    Lanes slope[kMostRows], right[kMostRows], stage[kMostRows];  // slope: x dT/dt at the start
    for (int i = 0; i < r.rows; ++i) {
      slope[i].setZero();
      if (i > 0) slope[i] += r.below[i] * (T[i - 1] - T[i]);
      if (i < r.last) slope[i] += r.above[i] * (T[i + 1] - T[i]);
    }
    slope[r.face] += r.open_film * (r.open_K - T[r.face]);
    slope[r.last] += r.free_film * (r.free_K - T[r.last]);
    const auto add_gas = [&] {
      right[r.face] += x * r.open_film * r.open_K;
      right[r.last] += x * r.free_film * r.free_K;
    };
    for (int i = 0; i < r.rows; ++i) slope[i] *= x, right[i] = T[i] + slope[i];
    add_gas();
    matrix.solve(r, x, right, stage);
    for (int i = 0; i < r.rows; ++i) right[i] = kMixStage * stage[i] - kMixStart * T[i];
    add_gas();
    matrix.solve(r, x, right, end);

    // Weights of the third-order rule in the same slopes less those of the scheme (Hosea & Shampine).
    Lanes worst = Lanes::Zero();
    for (int i = 0; i < r.rows; ++i) {
      const Lanes middle = stage[i] - T[i] - slope[i];
      const Lanes last = end[i] - kMixStage * stage[i] + kMixStart * T[i];
      const Lanes e = ((1.0 - 4.0 * kW) * slope[i] + middle - 2.0 * kD * last) / (3.0 * kD);
      worst = worst.max(e.abs());
    }
    // The comparison may lose what is not a number; elimination carries it into every row, the first too.
    error_K = end[0].isFinite().all() ? worst.maxCoeff() : HUGE_VAL;
    const auto over_time = [&](int row) { return Lanes(dt * (kW * (T[row] + stage[row]) + kD * end[row])); };
    mould_s = r.face > 0 ? over_time(r.face - 1) : Lanes(Lanes::Zero());
    face_s = over_time(r.face);
    last_s = over_time(r.last);
  }
};

constexpr int kMostParts = 10000;

/// Moves a block on by the given time of each lane. False: no part is short enough.
bool advance(HeatState& s, std::size_t block, const Rates& r, const Lanes& duration_s, Lanes* T) {
  const double longest_s = duration_s.maxCoeff();
  double done = 0.0;
  double& part_s = s.part_step_s[block];
  for (int tries = 0; done < 1.0; ++tries) {
    if (tries == kMostParts) return false;
    const bool rest = part_s >= (1.0 - done) * longest_s;
    const double share = rest ? 1.0 - done : part_s / longest_s;
    const Lanes dt = share * duration_s;
    const Part part(r, T, dt);
    // The estimate goes with dt^3; 0.9 keeps most parts from being done twice (common practice).
    const double change = std::clamp(0.9 * std::cbrt(kPartError_K / std::max(part.error_K, 1e-12)), 0.2, 3.0);
    const double next_s = change * share * longest_s;
    part_s = rest && change >= 1.0 ? std::max(part_s, next_s) : next_s;
    if (!(part.error_K <= kPartError_K)) continue;
    done = rest ? 1.0 : done + share;
    s.time_error_K[block] += part.error_K;
    std::copy(part.end, part.end + r.rows, T);
    const Lanes to_mould = r.contact * (part.face_s - part.mould_s);
    s.to_mould_J_m2[block] += to_mould;
    s.lost_below_J_m2[block] += r.flat_share * (to_mould + r.open * (part.face_s - dt * r.open_K));
    s.lost_above_J_m2[block] += r.flat_share * r.free * (part.last_s - dt * r.free_K);
  }
  return true;
}

/// From the middles of the outer cells to the faces, with the fluxes of this moment.
void set_faces(HeatState& s, std::size_t block, const Rates& r, const Lanes* T) {
  const Lanes to_mould = r.face > 0 ? Lanes(r.contact * (T[r.face] - T[r.face - 1])) : Lanes(Lanes::Zero());
  s.face_K[block] = T[r.face] - (to_mould + r.open * (T[r.face] - r.open_K)) * r.face_half;
  s.free_face_K[block] = T[r.last] - r.free * (T[r.last] - r.free_K) * r.free_half;
  if (r.face > 0) s.mould_face_K[block] = T[r.face - 1] + to_mould * r.entry;
}

bool exchange_block(HeatState& s, const Grid& grid, const HeatStep& step, int index) {
  const std::size_t block = at(index);
  const BlockStep b = load(step, s.count, index);
  const Lanes touching = (b.contact_s > 0.0).select(Lanes::Ones(), Lanes::Zero());
  const Lanes start_m = s.thickness_m[block];
  if (touching.any()) s.met_mould[block] = 1;
  const bool with_mould = s.met_mould[block] != 0;

  Lanes T[kMostRows];
  const int face = with_mould ? kMouldCells : 0;
  for (int j = 0; j < face; ++j) T[face - 1 - j] = s.mould_K[block * kMouldCells + at(j)];
  for (int c = 0; c < grid.cells; ++c) T[face + c] = s.sheet_K[block * at(grid.cells) + at(c)];

  // Nodes that landed within the step are open for the first of two spans.
  const Lanes before_s = (touching > 0.0).select(step.dt_s - b.contact_s, 0.0);
  bool good = true;
  if (before_s.maxCoeff() > 0.0)
    good = advance(s, block, rates_of(s, grid, step, b, start_m, Lanes::Zero(), with_mould), before_s, T);
  const Rates rates = rates_of(s, grid, step, b, start_m, touching, with_mould);
  good = good && advance(s, block, rates, (touching > 0.0).select(b.contact_s, step.dt_s), T);

  for (int j = 0; j < face; ++j) s.mould_K[block * kMouldCells + at(j)] = T[face - 1 - j];
  for (int c = 0; c < grid.cells; ++c) s.sheet_K[block * at(grid.cells) + at(c)] = T[face + c];
  set_faces(s, block, rates, T);
  s.thickness_m[block] = b.thickness_m;
  return good;
}

void refuse(const char* what, double found, const char* allowed) {
  throw Error({.kind = Fault::Kind::kCase,
               .where = std::string("heat step, ") + what,
               .found = std::to_string(found),
               .allowed = allowed,
               .advice = ""});
}

void check(const HeatState& s, const HeatStep& step) {
  const auto n = at(s.count);
  ensure(step.thickness_m.size() == n && step.contact_s.size() == n && step.mould_effusivity_Ws05_m2K.size() == n,
         "a heat step has one value a node");
  const auto positive = [](double x) { return std::isfinite(x) && x > 0.0; };
  const auto not_negative = [](double x) { return std::isfinite(x) && x >= 0.0; };
  if (!positive(step.dt_s)) refuse("time [s]", step.dt_s, "above 0");
  if (!positive(step.contact_W_m2K)) refuse("contact conductance [W/m2K]", step.contact_W_m2K, "above 0");
  for (const HeatFilm& film : {step.free_side, step.open_side}) {
    if (!not_negative(film.film_W_m2K)) refuse("film coefficient [W/m2K]", film.film_W_m2K, "0 or more");
    if (!positive(film.gas_K)) refuse("gas [K]", film.gas_K, "above 0");
  }
  for (std::size_t i = 0; i < n; ++i) {
    if (!positive(step.thickness_m[i])) refuse("thickness [m]", step.thickness_m[i], "above 0");
    if (std::isnan(step.contact_s[i])) refuse("time in contact [s]", step.contact_s[i], "a time");
    if (step.contact_s[i] > 0.0 && !positive(step.mould_effusivity_Ws05_m2K[i]))
      refuse("effusivity of the mould [W s^0.5/m2K]", step.mould_effusivity_Ws05_m2K[i], "above 0");
  }
}

}  // namespace

void exchange_heat(HeatState& s, const HeatStep& step) {
  check(s, step);
  const Grid grid(s.edges);
  const int blocks = static_cast<int>(s.thickness_m.size()), deal = nodes_dealt(s.count) / kHeatLanes;
  int first_bad = blocks;
#pragma omp parallel for schedule(static, deal) reduction(min : first_bad)
  for (int b = 0; b < blocks; ++b)
    if (!exchange_block(s, grid, step, b)) first_bad = std::min(first_bad, b);
  if (first_bad < blocks) {
    throw Error({.kind = Fault::Kind::kSolution,
                 .where = "heat of the sheet, around node " + std::to_string(first_bad * kHeatLanes),
                 .found = "no time step short enough to be accurate",
                 .allowed = "temperatures that change within reason",
                 .advice = "Thickness, film coefficients and contact conductance there are worth a look"});
  }
}

}  // namespace pellicle::sheet
