// How warm is the sheet through its thickness? Start, transfer to a finer mesh, and what can be asked of a node.
#include "solver/sheet/heat.h"

#include "mesh/check.h"

#include <algorithm>
#include <cmath>
#include <string>

namespace pellicle::sheet {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }
bool positive(double x) { return std::isfinite(x) && x > 0.0; }

[[noreturn]] void refuse(std::string where, std::string found, std::string allowed, std::string advice) {
  throw Error({.kind = Fault::Kind::kCase,
               .where = std::move(where),
               .found = std::move(found),
               .allowed = std::move(allowed),
               .advice = std::move(advice)});
}

void check_start(const HeatMaterial& m, int cells, double thickness_m, double mould_K) {
  if (!positive(m.conductivity_W_mK) || !positive(m.specific_heat_J_kgK) || !positive(m.density_kg_m3)) {
    refuse("heat of the sheet", "conductivity, specific heat or density of zero or less", "above 0",
           "They stand in the card of the polymer");
  }
  if (cells < kFewestHeatCells || cells > kMostHeatCells) {
    refuse("heat of the sheet", std::to_string(cells) + " cells", "8 to 16", "12 do for most sheets");
  }
  if (!positive(thickness_m)) refuse("heat of the sheet", "no thickness", "above 0 mm", "");
  if (!positive(mould_K)) refuse("heat of the mould", std::to_string(mould_K) + " K", "above 0 K", "");
}

double mean_of(const HeatState& state, int node) {
  double sum = 0.0;
  const std::size_t first = at(node / kHeatLanes) * at(state.cells);
  for (int c = 0; c < state.cells; ++c)
    sum += (state.edges[at(c + 1)] - state.edges[at(c)]) * state.sheet_K[first + at(c)][node % kHeatLanes];
  return sum;
}

/// All arrays of lanes that hold one value a node and block.
std::vector<std::vector<HeatLanes>*> node_values(HeatState& s) {
  return {&s.thickness_m,  &s.start_mean_K,  &s.face_K,          &s.free_face_K,
          &s.mould_face_K, &s.to_mould_J_m2, &s.lost_below_J_m2, &s.lost_above_J_m2};
}

/// Gives node `to` the mean of two, in an array of so many rows a block.
void mix(std::vector<HeatLanes>& values, int rows, int to, const std::array<int, 2>& ends) {
  const auto place = [&](int node, int row) -> double& {
    return values[at(node / kHeatLanes) * at(rows) + at(row)][node % kHeatLanes];
  };
  for (int r = 0; r < rows; ++r) place(to, r) = 0.5 * (place(ends[0], r) + place(ends[1], r));
}

}  // namespace

double HeatMaterial::diffusivity_m2_s() const { return conductivity_W_mK / (density_kg_m3 * specific_heat_J_kgK); }
double HeatMaterial::effusivity_Ws05_m2K() const {
  return std::sqrt(conductivity_W_mK * density_kg_m3 * specific_heat_J_kgK);
}

void TemperatureMap::check() const {
  if (columns < 2 || rows < 2 || !positive(spacing_m) || at_K.size() != at(columns) * at(rows)) {
    refuse("temperature map",
           std::to_string(columns) + " x " + std::to_string(rows) + " points with " + std::to_string(at_K.size()) +
               " temperatures",
           "at least 2 x 2 points, a temperature each, a spacing above 0", "");
  }
  for (const double T : at_K)
    if (!positive(T)) refuse("temperature map", std::to_string(T) + " K", "above 0 K", "");
}

FaceTemperatures TemperatureMap::operator()(const Vec2& flat_m) const {
  const Vec2 p = (flat_m - corner_m) / spacing_m;
  const double x = std::clamp(p.x(), 0.0, columns - 1.0), y = std::clamp(p.y(), 0.0, rows - 1.0);
  const int i = std::min(static_cast<int>(x), columns - 2), j = std::min(static_cast<int>(y), rows - 2);
  const double u = x - i, v = y - j;
  const double* corner = at_K.data() + at(j) * at(columns) + at(i);
  const double T =
      (1.0 - v) * ((1.0 - u) * corner[0] + u * corner[1]) + v * ((1.0 - u) * corner[columns] + u * corner[columns + 1]);
  return {T, T};
}

std::vector<double> heat_cell_edges(int cells) {
  const double steep = std::acosh(std::sqrt(kWidestCell)) / kWidestAt;
  const auto law = [&](double xi) { return std::tanh(steep * (xi - kWidestAt)); };
  std::vector<double> edges;
  for (int i = 0; i <= cells; ++i)
    edges.push_back((law(static_cast<double>(i) / cells) - law(0.0)) / (law(1.0) - law(0.0)));
  return edges;
}

MouldChain mould_chain() {
  constexpr double kRatio = 2.4;
  constexpr double kFirst = 0.02;  // sqrt(s): times below 0.4 ms are smoothed, the end is felt after a minute
  MouldChain chain{};
  chain.entry = kFirst / (1.0 + std::sqrt(kRatio));
  double a = kFirst;
  for (int j = 0; j < kMouldCells; ++j, a *= kRatio) chain.capacity[j] = a, chain.resistance[j] = a * std::sqrt(kRatio);
  return chain;
}

HeatState hot_sheet(const HeatMaterial& material, int cells, std::span<const Vec2> flat_m, double thickness_m,
                    const StartTemperature& start, double mould_K) {
  check_start(material, cells, thickness_m, mould_K);
  ensure(!flat_m.empty(), "a sheet has nodes");
  HeatState s;
  s.material = material, s.count = static_cast<int>(flat_m.size()), s.cells = cells, s.flat_thickness_m = thickness_m;
  s.edges = heat_cell_edges(cells);
  const int blocks = (s.count + kHeatLanes - 1) / kHeatLanes;
  s.sheet_K.resize(at(blocks) * at(cells));
  s.mould_K.assign(at(blocks) * at(kMouldCells), HeatLanes::Constant(mould_K));
  for (std::vector<HeatLanes>* values : node_values(s)) values->assign(at(blocks), HeatLanes::Zero());
  for (HeatLanes& h : s.thickness_m) h.setConstant(thickness_m);
  for (HeatLanes& T : s.mould_face_K) T.setConstant(mould_K);
  s.met_mould.assign(at(blocks), 0);
  s.part_step_s.assign(at(blocks), 1.0);
  s.time_error_K.assign(at(blocks), 0.0);

  for (int i = 0; i < blocks * kHeatLanes; ++i) {  // idle lanes are like the last node
    const FaceTemperatures T = start(flat_m[at(std::min(i, s.count - 1))]);
    if (!positive(T.mould_side_K) || !positive(T.free_side_K)) {
      refuse("temperature of the sheet at the start", std::to_string(std::min(T.mould_side_K, T.free_side_K)) + " K",
             "above 0 K", "");
    }
    const std::size_t block = at(i / kHeatLanes);
    const int lane = i % kHeatLanes;
    for (int c = 0; c < cells; ++c) {
      const double middle = 0.5 * (s.edges[at(c)] + s.edges[at(c + 1)]);
      s.sheet_K[block * at(cells) + at(c)][lane] = T.mould_side_K + middle * (T.free_side_K - T.mould_side_K);
    }
    s.face_K[block][lane] = T.mould_side_K, s.free_face_K[block][lane] = T.free_side_K;
    s.start_mean_K[block][lane] = mean_of(s, i);
  }
  return s;
}

void refine(HeatState& s, const mesh::Refined& refined) {
  const int before = s.count, blocks_before = static_cast<int>(s.thickness_m.size());
  s.count += static_cast<int>(refined.ends.size());
  const int blocks = (s.count + kHeatLanes - 1) / kHeatLanes;
  const auto grow = [&](std::vector<HeatLanes>& values, int rows) {  // idle lanes of new blocks: like the last block's
    for (int b = blocks_before; b < blocks; ++b)
      for (int r = 0; r < rows; ++r) values.push_back(values[at(blocks_before - 1) * at(rows) + at(r)]);
    for (int k = before; k < s.count; ++k) mix(values, rows, k, refined.ends[at(k - before)]);
  };
  grow(s.sheet_K, s.cells);
  grow(s.mould_K, kMouldCells);
  for (std::vector<HeatLanes>* values : node_values(s)) grow(*values, 1);
  s.met_mould.resize(at(blocks), 0);
  s.part_step_s.resize(at(blocks), 1.0);
  s.time_error_K.resize(at(blocks), 0.0);
  for (int k = before; k < s.count; ++k) {  // a block is as careful as any that it has from
    const std::size_t to = at(k / kHeatLanes);
    for (const int end : refined.ends[at(k - before)]) {
      const std::size_t from = at(end / kHeatLanes);
      s.met_mould[to] = std::max(s.met_mould[to], s.met_mould[from]);
      s.part_step_s[to] = std::min(s.part_step_s[to], s.part_step_s[from]);
      s.time_error_K[to] = std::max(s.time_error_K[to], s.time_error_K[from]);
    }
  }
}

double HeatProfile::mean_K() const {
  double sum = 0.0;
  for (std::size_t c = 0; c < cell_K.size(); ++c) sum += (edges[c + 1] - edges[c]) * cell_K[c];
  return sum;
}

HeatProfile heat_profile(const HeatState& s, int node) {
  const std::size_t block = at(node / kHeatLanes);
  const int lane = node % kHeatLanes;
  HeatProfile profile{s.thickness_m[block][lane], s.edges, {}, s.face_K[block][lane], s.free_face_K[block][lane]};
  for (int c = 0; c < s.cells; ++c) profile.cell_K.push_back(s.sheet_K[block * at(s.cells) + at(c)][lane]);
  return profile;
}

double mean_K(const HeatState& s, int node) { return mean_of(s, node); }

double heat_imbalance_J_m2(const HeatState& s, int node) {
  const std::size_t block = at(node / kHeatLanes);
  const int lane = node % kHeatLanes;
  const double fell_by = s.material.density_kg_m3 * s.material.specific_heat_J_kgK * s.flat_thickness_m *
                         (s.start_mean_K[block][lane] - mean_K(s, node));
  return fell_by - s.lost_below_J_m2[block][lane] - s.lost_above_J_m2[block][lane];
}

}  // namespace pellicle::sheet
