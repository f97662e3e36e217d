// How fast does the stretched polymer forget, how does temperature change that, and what must an element remember?
//
// docs/theory/relaxation.md. A network that never relaxes (polymer.h) and beside it modes of the rubber-like-liquid
// kind: exact under large stretch, blind to rotation. layer_memory.h makes forces of them.
#pragma once

#include "mesh/check.h"
#include "solver/sheet/kernel/kernel.h"
#include "solver/sheet/polymer.h"
#include "solver/sheet/rest.h"

#include <array>
#include <cstddef>
#include <span>
#include <vector>

namespace pellicle::sheet {

/// One mode: after a step in strain its share of the stress falls as exp(-t/time).
struct RelaxationMode {
  double modulus_Pa;
  double time_s;  ///< at the reference temperature of the shift; infinite: never relaxes
};

/// By how much every relaxation time changes with temperature, a_T = time(T)/time(reference):
///   T >= limit: log10 a_T = -c1 (T - reference)/(c2 + T - reference)        Williams, Landel & Ferry 1955
///   T <  limit: ln a_T = ln a_T(limit) + E/R (1/T - 1/limit)                Arrhenius
/// The limit is the glass transition or a little above; below it the WLF line climbs too steeply and has a pole at
/// reference - c2. J. Am. Chem. Soc. 77 (1955) 3701 (citation from memory).
struct TimeShift {
  double reference_K;
  double c1;
  double c2_K;
  double limit_K;           ///< above reference_K - c2_K
  double activation_J_mol;  ///< E, >= 0
  double log10_factor(double temperature_K) const;
  /// 0 or infinite where a double ends; the modes bear both.
  double factor(double temperature_K) const;
};
/// E with which both branches meet without a kink: R ln(10) c1 c2 limit^2 / (c2 + limit - reference)^2 [J/mol].
double smooth_activation_J_mol(double reference_K, double c1, double c2_K, double limit_K);
/// The same shift told from another reference temperature: c2' = c2 + T' - T, c1' = c1 c2/c2'. Both branches keep.
TimeShift with_reference(const TimeShift& shift, double reference_K);
/// No change with temperature.
inline constexpr TimeShift kNoShift{300.0, 0.0, 50.0, 300.0, 0.0};

/// Time at the reference temperature that passes on the material's own clock: the mean of 1/a_T at both ends of the
/// step, times the step [s].
double reduced_step_s(const TimeShift& shift, double from_K, double to_K, double step_s);

/// What the law asks besides the network.
struct Relaxation {
  std::vector<RelaxationMode> modes;  ///< at most kMostModes
  TimeShift shift = kNoShift;
  double network_reference_K = 300.0;   ///< at which the network's numbers hold
  double network_entropic_share = 0.0;  ///< 0: the network's modulus is constant; 1: it grows as T/T_ref; no more
};
inline constexpr int kMostModes = 4;  ///< that an element remembers
/// Throws Error (case) where a number is out of its range.
void check(const Relaxation& relaxation);

/// The network at temperature T: every modulus times 1 + share (T/T_ref - 1).
Polymer network_at(const Polymer& network, const Relaxation& relaxation, double temperature_K);

/// Network and modes of a sheet as one law of temperature and time.
struct HotLaw {
  NeoHookean network;     ///< at relaxation.network_reference_K
  Relaxation relaxation;  ///< the glass is the last mode
};
/// A sheet is formed in about this time: a modulus of a hyperelastic law is what is left after it.
inline constexpr double kFormingTime_s = 1.0;
/// Network and modes so long after a stretch, all of it at one temperature [Pa].
double modulus_after_Pa(const HotLaw& law, double temperature_K, double time_s);
/// Network and modes times a factor; the glass stays.
HotLaw scaled(HotLaw law, double factor);
/// The glass no stiffer than lets all together reach kMostStiffening times what is left after kFormingTime_s at hot_K.
HotLaw capped(HotLaw law, double hot_K);
inline constexpr double kMostStiffening = 20.0;

/// G(t) = sum g exp(-t/tau) [Pa].
double relaxation_modulus_Pa(std::span<const RelaxationMode> modes, double time_s);
/// G' = sum g (w tau)^2/(1 + (w tau)^2), G'' = sum g w tau/(1 + (w tau)^2) [Pa].
struct DynamicModulus {
  double storage_Pa, loss_Pa;
};
DynamicModulus dynamic_modulus(std::span<const RelaxationMode> modes, double angular_frequency_per_s);

/// Weights of the update N <- N + w0 (A0 - N) + w1 (A1 - N), exact for A that runs straight from A0 to A1 in the step;
/// with x = dt/tau: w1 = 1 - (1 - e^-x)/x, w0 = (1 - e^-x)/x - e^-x.
struct StepWeights {
  double w0, w1;
};
StepWeights step_weights(double steps_per_time);

/// Metric of two edges, [di.dj].
struct Metric {
  double g11_m2, g12_m2, g22_m2;
  double det_m4() const { return g11_m2 * g22_m2 - g12_m2 * g12_m2; }
};
/// The inverse of a metric and its b.
struct InverseMetric {
  double a11_per_m2, a12_per_m2, a22_per_m2;
  double b;
};
InverseMetric inverse(const Rest& rest, const Metric& metric);

/// One mode of eight elements: N in the edge basis and n = N33.
template <class Real>
struct alignas(64) ModeLanes {
  Real n11_per_m2[kGroup], n12_per_m2[kGroup], n22_per_m2[kGroup];
  Real n33[kGroup];
};
/// What eight elements looked like at the end of the last step, folds pulled out.
struct alignas(64) LastLanes {
  double a11_per_m2[kGroup], a12_per_m2[kGroup], a22_per_m2[kGroup];
  double b[kGroup];
};

/// What the modes of all elements remember, eight elements side by side. Element e is lane e % kGroup of group
/// e / kGroup; mode k of a group is lanes[group * modes + k].
template <class Real>
struct RelaxationState {
  int elements = 0;
  int modes = 0;
  std::vector<ModeLanes<Real>> lanes;
  std::vector<LastLanes> last;

  ModeLanes<Real>& of(int element, int mode) { return lanes[index(element, mode)]; }
  const ModeLanes<Real>& of(int element, int mode) const { return lanes[index(element, mode)]; }

 private:
  std::size_t index(int element, int mode) const {
    ensure(element >= 0 && element < elements && mode >= 0 && mode < modes, "a mode of an element");
    return static_cast<std::size_t>(element / kGroup) * static_cast<std::size_t>(modes) +
           static_cast<std::size_t>(mode);
  }
};
inline std::size_t group_of(int element) { return static_cast<std::size_t>(element / kGroup); }
inline std::size_t lane_of(int element) { return static_cast<std::size_t>(element % kGroup); }

/// The flat sheet at rest: N = M, n = 1 in every mode.
template <class Real>
RelaxationState<Real> rested_state(std::span<const Rest> rest, int modes);

/// Edges of a child from those of its parent, d'_i = sum_j T_ij d_j.
struct EdgeChange {
  double t11, t12, t21, t22;
};
/// Puts the memory of `parent` into `child` of another state: N' = T^-T N T^-1, as every inverse metric; n stays.
template <class Real>
void inherit(const RelaxationState<Real>& from, int parent, const EdgeChange& change, RelaxationState<Real>& to,
             int child);

/// All modes of one element, summed: P = sum g N, p = sum g n. They add 1/2 (tr(P G) + p/b) to W.
struct ModeSum {
  double p11_Pa_m2, p12_Pa_m2, p22_Pa_m2;  ///< Pa per m^2
  double p33_Pa;
};
template <class Real>
ModeSum mode_sum(const Relaxation& relaxation, const RelaxationState<Real>& state, int element);

/// Energy of the modes over unstretched volume, each g/2 (tr(N G) + n/b - 3 - ln(det N det G0 n)) [Pa]. `material` is
/// the metric with folds pulled out.
template <class Real>
double mode_energy_Pa(const Relaxation& relaxation, const RelaxationState<Real>& state, int element, const Rest& rest,
                      const Metric& material);
/// What they turn into heat, each g/(2 tau) (tr B + tr B^-1 - 6) with tr B = tr(N G) + n/b, tr B^-1 =
/// tr((N G)^-1) + b/n [Pa/s].
template <class Real>
double dissipation_Pa_s(const Relaxation& relaxation, const RelaxationState<Real>& state, int element, const Rest& rest,
                        const Metric& material, double temperature_K);

/// Moves the memory of one element over a step that ends at `material`, folds pulled out, in `reduced_step_s` of the
/// material's clock. Returns the energy lost over unstretched volume, -integral of dW/dN : dN by the trapezoidal rule
/// in G [Pa].
template <class Real>
double remember(const Relaxation& relaxation, RelaxationState<Real>& state, int element, const Rest& rest,
                const Metric& material, double reduced_step_s);
/// What the modes bring into the end of that step, sum g (N + w0 (A0 - N) - w1 N): `remember` adds w1 times the inverse
/// of the metric at the end, which pulls with nothing. So folds found with this sum are those of the end of the step,
/// whatever the step.
template <class Real>
ModeSum carried_sum(const Relaxation& relaxation, const RelaxationState<Real>& state, int element,
                    double reduced_step_s);

}  // namespace pellicle::sheet
