// How deep does the hot sheet hang under its own weight before anything is done to it?
#pragma once

#include "solver/forming/forming_spec.h"
#include "solver/sheet/sheet_state.h"

namespace pellicle::forming {

inline constexpr double kGravity_m_s2 = 9.80665;  // standard gravity, ISO 80000-3 (from memory)

/// Weight of each node, a third of that of the triangles around as bought, without the mass added for the step [N].
std::vector<double> weights_N(const sheet::SheetState& s, double density_kg_m3);

/// Static equilibrium of the clamped sheet under its weight: moves s.x_m there from where it is, v_m_s is zero after.
/// `law` is what resists in the long run. Stops where what is not borne is below kUnborne of the
/// weight, root mean square over the free nodes. Returns how deep the lowest node hangs below the rim [m]. Throws Error
/// (solution) where the sheet does not come to rest.
double hang(const sheet::Polymer& law, double density_kg_m3, sheet::SheetState& s);
inline constexpr double kUnborne = 1e-3;

/// What resists sagging: network alone of a sheet whose layers relax, all the law of another.
sheet::Polymer long_run_law(const FormingSpec& spec);

}  // namespace pellicle::forming
