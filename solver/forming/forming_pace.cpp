// How does the sheet move from flat to formed? What it carries over when another pace begins.
//
// docs/theory/time.md, "Another pace".
#include "solver/forming/forming.h"

#include <cmath>

namespace pellicle::forming {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

/// Of all nodes but the rim's, which the clamp carries.
double Forming::kinetic_J() const {
  double sum = 0.0;
  for (int i = 0; i < state_.nodes(); ++i)
    if (!state_.on_rim[at(i)]) sum += 0.5 * state_.mass_kg[at(i)] * state_.v_m_s[at(i)].squaredNorm();
  return sum;
}

/// Mass goes with the square of the unit of the sheet's own time. So what is measured in that unit goes with its root:
/// the half step by which velocities stand behind, and velocities relative to what carries a node, the mould or the
/// clamp. Were they left as they are, the half step of a slow stage would kick the lighter sheet of a fast one, and the
/// heavier sheet of a slow one would be thrown with the velocities of a fast one.
void Forming::change_pace(double mass_factor) {
  if (mass_factor == 1.0) return;
  const double unit = std::sqrt(mass_factor), before_J = kinetic_J();
  const mesh::Vec3 frame{0.0, 0.0, spec_.numerics.pace == Pace::kQuasiStatic ? snap_.clamp_m_s : 0.0};
  scale_mass(mass_factor);
  for (int i = 0; i < state_.nodes(); ++i) {
    if (state_.on_rim[at(i)]) continue;
    const mesh::Vec3 carried = snap_.touch[at(i)].pressed ? mesh::Vec3::Zero() : frame;
    state_.v_m_s[at(i)] = carried + (state_.v_m_s[at(i)] - carried) / unit;
  }
  snap_.dt_s *= unit;
  const double after_J = kinetic_J(), kept_J = mass_factor * before_J;  // as scale_mass has booked
  snap_.ledger.mass_change_J += tamper_.mass_change * (kept_J - after_J);
  snap_.ledger.kinetic_J += tamper_.kinetic * (after_J - kept_J);
}

}  // namespace pellicle::forming
