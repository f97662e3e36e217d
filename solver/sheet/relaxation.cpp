// How fast does the stretched polymer forget, how does temperature change that, and what must an element remember?
#include "solver/sheet/relaxation.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace pellicle::sheet {
namespace {

constexpr double kGas_J_mol_K = 8.314462618;  // CODATA 2018

[[noreturn]] void refuse(const char* where, double found, const char* allowed, const char* advice) {
  throw Error({.kind = Fault::Kind::kCase,
               .where = std::string("relaxation of the sheet, ") + where,
               .found = fmt::format("{:g}", found),
               .allowed = allowed,
               .advice = advice});
}

/// N of one mode of one element, in doubles.
struct Memory {
  double n11, n12, n22, n33;
  double det() const { return n11 * n22 - n12 * n12; }
  double product(const Metric& g) const { return n11 * g.g11_m2 + 2.0 * n12 * g.g12_m2 + n22 * g.g22_m2; }  // tr(N G)
};
template <class Real>
Memory memory(const ModeLanes<Real>& mode, std::size_t lane) {
  return {static_cast<double>(mode.n11_per_m2[lane]), static_cast<double>(mode.n12_per_m2[lane]),
          static_cast<double>(mode.n22_per_m2[lane]), static_cast<double>(mode.n33[lane])};
}
template <class Real>
void store(const Memory& n, ModeLanes<Real>& mode, std::size_t lane) {
  mode.n11_per_m2[lane] = static_cast<Real>(n.n11);
  mode.n12_per_m2[lane] = static_cast<Real>(n.n12);
  mode.n22_per_m2[lane] = static_cast<Real>(n.n22);
  mode.n33[lane] = static_cast<Real>(n.n33);
}
InverseMetric last_of(const LastLanes& last, std::size_t lane) {
  return {last.a11_per_m2[lane], last.a12_per_m2[lane], last.a22_per_m2[lane], last.b[lane]};
}
void store(const InverseMetric& a, LastLanes& last, std::size_t lane) {
  last.a11_per_m2[lane] = a.a11_per_m2;
  last.a12_per_m2[lane] = a.a12_per_m2;
  last.a22_per_m2[lane] = a.a22_per_m2;
  last.b[lane] = a.b;
}
Metric metric_of(const InverseMetric& a) {
  const double per = 1.0 / (a.a11_per_m2 * a.a22_per_m2 - a.a12_per_m2 * a.a12_per_m2);
  return {a.a22_per_m2 * per, -a.a12_per_m2 * per, a.a11_per_m2 * per};
}

/// N + w0 (A0 - N) + w1 (A1 - N): written in differences so that a sheet at rest stays so to the last bit.
Memory updated(const Memory& n, StepWeights w, const InverseMetric& from, const InverseMetric& to) {
  const auto mix = [w](double value, double a0, double a1) {
    return value + (w.w0 * (a0 - value) + w.w1 * (a1 - value));
  };
  return {mix(n.n11, from.a11_per_m2, to.a11_per_m2), mix(n.n12, from.a12_per_m2, to.a12_per_m2),
          mix(n.n22, from.a22_per_m2, to.a22_per_m2), mix(n.n33, from.b, to.b)};
}
void add(ModeSum& sum, double modulus_Pa, const Memory& n) {
  sum.p11_Pa_m2 += modulus_Pa * n.n11;
  sum.p12_Pa_m2 += modulus_Pa * n.n12;
  sum.p22_Pa_m2 += modulus_Pa * n.n22;
  sum.p33_Pa += modulus_Pa * n.n33;
}

std::size_t at(int k) { return static_cast<std::size_t>(k); }

NeoHookean times(const NeoHookean& law, double f) { return {f * law.shear_modulus_Pa}; }
MooneyRivlin times(const MooneyRivlin& law, double f) { return {f * law.c10_Pa, f * law.c01_Pa}; }
Yeoh times(const Yeoh& law, double f) { return {f * law.c10_Pa, f * law.c20_Pa, f * law.c30_Pa}; }
Ogden times(Ogden law, double f) {
  for (double& mu : law.mu_Pa) mu *= f;
  return law;
}

}  // namespace

double TimeShift::log10_factor(double temperature_K) const {
  const double above_K = std::fmax(temperature_K, limit_K) - reference_K;
  const double wlf = -c1 * above_K / (c2_K + above_K);
  if (temperature_K >= limit_K) return wlf;
  return wlf + activation_J_mol / (kGas_J_mol_K * std::numbers::ln10) * (1.0 / temperature_K - 1.0 / limit_K);
}

double TimeShift::factor(double temperature_K) const { return std::pow(10.0, log10_factor(temperature_K)); }

double smooth_activation_J_mol(double reference_K, double c1, double c2_K, double limit_K) {
  const double from_pole_K = c2_K + limit_K - reference_K;
  return kGas_J_mol_K * std::numbers::ln10 * c1 * c2_K * limit_K * limit_K / (from_pole_K * from_pole_K);
}

TimeShift with_reference(const TimeShift& shift, double reference_K) {
  const double c2_K = shift.c2_K + reference_K - shift.reference_K;
  if (c2_K <= 0.0 || reference_K < shift.limit_K)
    refuse("reference temperature of the shift, K", reference_K, "at or above the limit of the WLF form",
           "below it the shift follows another law");
  return {reference_K, shift.c1 * shift.c2_K / c2_K, c2_K, shift.limit_K, shift.activation_J_mol};
}

double reduced_step_s(const TimeShift& shift, double from_K, double to_K, double step_s) {
  return 0.5 * step_s * (1.0 / shift.factor(from_K) + 1.0 / shift.factor(to_K));
}

void check(const Relaxation& r) {
  const TimeShift& s = r.shift;
  if (static_cast<int>(r.modes.size()) > kMostModes)
    refuse("number of modes", static_cast<double>(r.modes.size()), "at most 4", "merge them for the time of forming");
  for (const RelaxationMode& mode : r.modes) {
    if (!(mode.modulus_Pa >= 0.0) || !std::isfinite(mode.modulus_Pa))
      refuse("modulus of a mode, Pa", mode.modulus_Pa, "0 or more", "");
    if (!(mode.time_s > 0.0)) refuse("relaxation time of a mode, s", mode.time_s, "above 0", "");
  }
  if (!(s.c1 >= 0.0) || !std::isfinite(s.c1)) refuse("first WLF constant", s.c1, "0 or more", "");
  if (!(s.reference_K > 0.0)) refuse("reference temperature of the shift, K", s.reference_K, "above 0 K", "");
  if (!(s.limit_K > 0.0)) refuse("lower limit of the WLF form, K", s.limit_K, "above 0 K", "");
  if (!(s.c2_K > 0.0)) refuse("second WLF constant, K", s.c2_K, "above 0 K", "");
  if (!(s.limit_K > s.reference_K - s.c2_K))
    refuse("lower limit of the WLF form, K", s.limit_K, "above its reference temperature less its second constant",
           "there the form has a pole; the glass transition is a usual limit");
  if (!(s.activation_J_mol >= 0.0)) refuse("activation energy, J/mol", s.activation_J_mol, "0 or more", "");
  if (!(r.network_reference_K > 0.0)) refuse("temperature of the network, K", r.network_reference_K, "above 0 K", "");
  if (!(r.network_entropic_share >= 0.0 && r.network_entropic_share <= 1.0))
    refuse("entropic share of the network", r.network_entropic_share, "0 to 1",
           "a network that grows faster than T/T_ref, or grows on cooling, would make energy from nothing");
}

Polymer network_at(const Polymer& network, const Relaxation& r, double temperature_K) {
  const double scale = 1.0 + r.network_entropic_share * (temperature_K / r.network_reference_K - 1.0);
  return std::visit([&](const auto& law) -> Polymer { return times(law, scale); }, network);
}

double modulus_after_Pa(const HotLaw& law, double temperature_K, double time_s) {
  const Relaxation& r = law.relaxation;
  return small_strain_shear_modulus_Pa(network_at(law.network, r, temperature_K)) +
         relaxation_modulus_Pa(r.modes, time_s / r.shift.factor(temperature_K));
}

HotLaw scaled(HotLaw law, double factor) {
  law.network.shear_modulus_Pa *= factor;
  for (std::size_t k = 0; k + 1 < law.relaxation.modes.size(); ++k) law.relaxation.modes[k].modulus_Pa *= factor;
  return law;
}

HotLaw capped(HotLaw law, double hot_K) {
  double others_Pa = law.network.shear_modulus_Pa;
  for (std::size_t k = 0; k + 1 < law.relaxation.modes.size(); ++k) others_Pa += law.relaxation.modes[k].modulus_Pa;
  const double most_Pa = kMostStiffening * modulus_after_Pa(law, hot_K, kFormingTime_s) - others_Pa;
  double& glass_Pa = law.relaxation.modes.back().modulus_Pa;
  glass_Pa = std::min(glass_Pa, std::max(most_Pa, 0.0));
  return law;
}

double relaxation_modulus_Pa(std::span<const RelaxationMode> modes, double time_s) {
  double sum = 0.0;
  for (const RelaxationMode& mode : modes) sum += mode.modulus_Pa * std::exp(-time_s / mode.time_s);
  return sum;
}

DynamicModulus dynamic_modulus(std::span<const RelaxationMode> modes, double angular_frequency_per_s) {
  DynamicModulus sum{0.0, 0.0};
  for (const RelaxationMode& mode : modes) {
    const double per = 1.0 / (angular_frequency_per_s * mode.time_s), share = 1.0 / (1.0 + per * per);
    sum.storage_Pa += mode.modulus_Pa * share;
    sum.loss_Pa += mode.modulus_Pa * share * per;
  }
  return sum;
}

StepWeights step_weights(double x) {
  // Below 0.1: w1 = sum (-1)^(k+1) x^k/(k+1)!, w0 the same with k/(k+1)!; cut after x^10, below 1e-18 of either. Above,
  // cancellation costs at most 20 roundings.
  constexpr double kSeries = 0.1;
  constexpr int kTerms = 10;
  if (x < kSeries) {
    StepWeights w{0.0, 0.0};
    double term = -1.0;
    for (int k = 1; k <= kTerms; ++k) {
      term *= -x / (k + 1);
      w.w1 += term;
      w.w0 += k * term;
    }
    return w;
  }
  const double gone = -std::expm1(-x), mean = gone / x;
  return {mean - std::exp(-x), 1.0 - mean};
}

InverseMetric inverse(const Rest& rest, const Metric& g) {
  const double det = g.det_m4();
  return {g.g22_m2 / det, -g.g12_m2 / det, g.g11_m2 / det, det * rest.inverse_det_per_m4};
}

template <class Real>
RelaxationState<Real> rested_state(std::span<const Rest> rest, int modes) {
  ensure(modes >= 0 && modes <= kMostModes, "at most kMostModes modes");
  RelaxationState<Real> state;
  state.elements = static_cast<int>(rest.size());
  state.modes = modes;
  const std::size_t groups = (rest.size() + kGroup - 1) / kGroup;
  state.lanes.resize(groups * at(modes));
  state.last.resize(groups);
  for (std::size_t e = 0; e < groups * kGroup; ++e) {  // what fills the last group repeats its last element
    const Rest& r = rest[std::min(e, rest.size() - 1)];
    const std::size_t group = e / kGroup, lane = e % kGroup;
    for (std::size_t k = 0; k < at(modes); ++k)
      store({r.m11_per_m2, r.m12_per_m2, r.m22_per_m2, 1.0}, state.lanes[group * at(modes) + k], lane);
    store({r.m11_per_m2, r.m12_per_m2, r.m22_per_m2, 1.0}, state.last[group], lane);
  }
  return state;
}

template <class Real>
void inherit(const RelaxationState<Real>& from, int parent, const EdgeChange& t, RelaxationState<Real>& to, int child) {
  ensure(from.modes == to.modes, "as many modes as before");
  const double det = t.t11 * t.t22 - t.t12 * t.t21;
  // U = T^-1, N' = U^T N U.
  const double u11 = t.t22 / det, u12 = -t.t12 / det, u21 = -t.t21 / det, u22 = t.t11 / det;
  const auto turned = [&](double n11, double n12, double n22) -> std::array<double, 3> {
    return {u11 * u11 * n11 + 2.0 * u11 * u21 * n12 + u21 * u21 * n22,
            u11 * u12 * n11 + (u11 * u22 + u21 * u12) * n12 + u21 * u22 * n22,
            u12 * u12 * n11 + 2.0 * u12 * u22 * n12 + u22 * u22 * n22};
  };
  for (int k = 0; k < from.modes; ++k) {
    const Memory n = memory(from.of(parent, k), lane_of(parent));
    const auto [n11, n12, n22] = turned(n.n11, n.n12, n.n22);
    store(Memory{n11, n12, n22, n.n33}, to.of(child, k), lane_of(child));
  }
  const InverseMetric a = last_of(from.last[group_of(parent)], lane_of(parent));
  const auto [a11, a12, a22] = turned(a.a11_per_m2, a.a12_per_m2, a.a22_per_m2);
  store(InverseMetric{a11, a12, a22, a.b}, to.last[group_of(child)], lane_of(child));
}

template <class Real>
ModeSum mode_sum(const Relaxation& r, const RelaxationState<Real>& state, int e) {
  ModeSum sum{0.0, 0.0, 0.0, 0.0};
  for (int k = 0; k < state.modes; ++k) add(sum, r.modes[at(k)].modulus_Pa, memory(state.of(e, k), lane_of(e)));
  return sum;
}

template <class Real>
ModeSum carried_sum(const Relaxation& r, const RelaxationState<Real>& state, int e, double reduced_step_s) {
  ModeSum sum{0.0, 0.0, 0.0, 0.0};
  const InverseMetric last = last_of(state.last[group_of(e)], lane_of(e));
  for (int k = 0; k < state.modes; ++k) {
    const StepWeights w = step_weights(reduced_step_s / r.modes[at(k)].time_s);
    add(sum, r.modes[at(k)].modulus_Pa, updated(memory(state.of(e, k), lane_of(e)), w, last, {0.0, 0.0, 0.0, 0.0}));
  }
  return sum;
}

template <class Real>
double mode_energy_Pa(const Relaxation& r, const RelaxationState<Real>& state, int e, const Rest& rest,
                      const Metric& material) {
  const double b = material.det_m4() * rest.inverse_det_per_m4;
  double sum = 0.0;
  for (int k = 0; k < state.modes; ++k) {
    const Memory n = memory(state.of(e, k), lane_of(e));
    sum += 0.5 * r.modes[at(k)].modulus_Pa *
           (n.product(material) + n.n33 / b - 3.0 - std::log(n.det() / rest.inverse_det_per_m4 * n.n33));
  }
  return sum;
}

template <class Real>
double dissipation_Pa_s(const Relaxation& r, const RelaxationState<Real>& state, int e, const Rest& rest,
                        const Metric& material, double temperature_K) {
  const double b = material.det_m4() * rest.inverse_det_per_m4, shift = r.shift.factor(temperature_K);
  double sum = 0.0;
  for (int k = 0; k < state.modes; ++k) {
    const Memory n = memory(state.of(e, k), lane_of(e));
    const double trace = n.product(material);  // tr X of X = N G; tr X^-1 = tr X / det X
    const double inverse_trace = trace / (n.det() * material.det_m4());
    sum += r.modes[at(k)].modulus_Pa / (2.0 * r.modes[at(k)].time_s * shift) *
           (trace + n.n33 / b + inverse_trace + b / n.n33 - 6.0);
  }
  return sum;
}

template <class Real>
double remember(const Relaxation& r, RelaxationState<Real>& state, int e, const Rest& rest, const Metric& material,
                double reduced_step_s) {
  const std::size_t lane = lane_of(e);
  const InverseMetric from = last_of(state.last[group_of(e)], lane), to = inverse(rest, material);
  const Metric before = metric_of(from);
  const Metric mean{0.5 * (before.g11_m2 + material.g11_m2), 0.5 * (before.g12_m2 + material.g12_m2),
                    0.5 * (before.g22_m2 + material.g22_m2)};
  const double mean_per_b = 0.5 * (1.0 / from.b + 1.0 / to.b);
  double lost_Pa = 0.0;
  for (int k = 0; k < state.modes; ++k) {
    const RelaxationMode& mode = r.modes[at(k)];
    ModeLanes<Real>& lanes = state.of(e, k);
    const Memory old = memory(lanes, lane);
    store(updated(old, step_weights(reduced_step_s / mode.time_s), from, to), lanes, lane);
    const Memory n = memory(lanes, lane);  // as stored, so that the books hold for floats too
    const Memory change{n.n11 - old.n11, n.n12 - old.n12, n.n22 - old.n22, n.n33 - old.n33};
    // det N - det N_old without cancellation, for the logarithm of a ratio near one.
    const double of_det = change.n11 * n.n22 + old.n11 * change.n22 - change.n12 * (n.n12 + old.n12);
    lost_Pa -= 0.5 * mode.modulus_Pa *
               (change.product(mean) + change.n33 * mean_per_b - std::log1p(of_det / old.det()) -
                std::log1p(change.n33 / old.n33));
  }
  store(to, state.last[group_of(e)], lane);
  return lost_Pa;
}

#define PELLICLE_STATE_OF(Real)                                                                                      \
  template RelaxationState<Real> rested_state(std::span<const Rest>, int);                                           \
  template void inherit(const RelaxationState<Real>&, int, const EdgeChange&, RelaxationState<Real>&, int);          \
  template ModeSum mode_sum(const Relaxation&, const RelaxationState<Real>&, int);                                   \
  template ModeSum carried_sum(const Relaxation&, const RelaxationState<Real>&, int, double);                        \
  template double mode_energy_Pa(const Relaxation&, const RelaxationState<Real>&, int, const Rest&, const Metric&);  \
  template double dissipation_Pa_s(const Relaxation&, const RelaxationState<Real>&, int, const Rest&, const Metric&, \
                                   double);                                                                          \
  template double remember(const Relaxation&, RelaxationState<Real>&, int, const Rest&, const Metric&, double);
PELLICLE_STATE_OF(double)
PELLICLE_STATE_OF(float)
#undef PELLICLE_STATE_OF

}  // namespace pellicle::sheet
