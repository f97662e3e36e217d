// What does an element pull with when its modes remember other shapes? One element at a time, to be read.
//
// docs/theory/relaxation.md. Network and modes together in the edge basis of the membrane, folds and slack included:
// the twin that tests hold the modes and layer_memory.h against. No run calls it.
#pragma once

#include "solver/sheet/element_measure.h"
#include "solver/sheet/relaxation.h"

namespace pellicle::sheet::scalar {

/// One element between two states.
struct ElementResponse {
  Condition condition;
  Metric material;  ///< G', the metric with folds pulled out; slack: free of stress
  double k11_N_m;   ///< f2 = -(K11 d1 + K12 d2), f3 = -(K12 d1 + K22 d2), f1 = -(f2 + f3)
  double k12_N_m, k22_N_m;
  double wrinkle;  ///< 1 - sqrt(det G / det G'): the excess width that shows as folds
};

/// The response with `modes` as they are. The material metric minimises the energy among all that are longer than or as
/// long as `now` in every direction: relaxed energy of a membrane without compression (Pipkin, IMA J. Appl. Math. 36
/// (1986) 85, citation from memory). Closed form for a neo-Hookean network; else by Newton's method: throws Error
/// (solution) where that fails. A network whose energy is convex in the metric has one minimum.
template <class Law>
ElementResponse respond(const Law& network, const ModeSum& modes, const Rest& rest, const Metric& now);
ElementResponse respond(const Polymer& network, const ModeSum& modes, const Rest& rest, const Metric& now);

/// A step of one element that ends at `now`: finds the folds and moves the memory. Returns the energy lost [J].
template <class Real>
double step(const Polymer& network, const Relaxation& relaxation, RelaxationState<Real>& state, int element,
            const Rest& rest, const Metric& now, double reduced_step_s);

/// Stored energy of network and modes [J], at a response's material metric.
template <class Real>
double element_energy_J(const Polymer& network, const Relaxation& relaxation, const RelaxationState<Real>& state,
                        int element, const Rest& rest, const Metric& material);

/// Bound on w^2 x density of one element, w the highest frequency with all modes frozen [Pa/m^2]; with the carried sum
/// of a step, what that step feels:
/// 3 (kappa of the network + kappa of the modes) lam, all at the material metric (docs/theory/relaxation.md, eq. 12).
/// 0 where slack, but for sheet that is so by round-off alone; not a number where the place is none.
double element_stiffness_Pa_per_m2(const Polymer& network, const ModeSum& modes, const Rest& rest, const Metric& now);

}  // namespace pellicle::sheet::scalar
