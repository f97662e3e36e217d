// How does the sheet move from flat to formed? How it hangs before, and what its weight does.
//
// docs/theory/heat.md, "Hanging".
#include "mesh/check.h"
#include "solver/forming/forming.h"
#include "solver/forming/sag.h"
#include "solver/sheet/membrane.h"
#include "solver/sheet/ordered_sum.h"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

namespace pellicle::forming {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

}  // namespace

void Forming::weigh() {
  weight_N_.assign(state_.x_m.size(), 0.0);
  if (spec_.sheet.sags) weight_N_ = weights_N(state_, spec_.sheet.density_kg_m3);
}

/// Work of the weight from z = 0 to where the sheet is, the rim's too: the clamp carries that.
double Forming::weighed_J() const {
  if (!spec_.sheet.sags) return 0.0;
  sheet::OrderedSum<double> sum;
  return sum(state_.nodes(), [&](int i) { return -weight_N_[at(i)] * state_.x_m[at(i)].z(); });
}

/// It sags slowly: the weight gave what the sheet stores, and the rest was lost in the heater.
void Forming::book_hang(double stored_J) {
  snap_.hung_J = stored_J - weighed_J();
  snap_.ledger.gravity_J = tamper_.gravity * (weighed_J() + snap_.hung_J);
}

void Forming::hang() {
  if (!spec_.sheet.sags) return;
  const sheet::Polymer law = long_run_law(spec_);
  const double deep_m = forming::hang(law, spec_.sheet.density_kg_m3, state_);
  weigh();
  book_hang(sheet::strain_energy_J(law, state_));
  if (!mould_.is_there()) return;
  for (int i = 0; i < state_.nodes(); ++i) {
    const mesh::Vec3& x = state_.x_m[at(i)];
    if (!(mould_.gap_m(x) < 0.0)) continue;
    throw Error({Fault::Kind::kGeometry, "sheet.height",
                 fmt::format("a sheet that sags by {:.3g} mm onto the mould, first at ({:.2f}, {:.2f}, {:.2f}) mm",
                             1e3 * deep_m, 1e3 * x.x(), 1e3 * x.y(), 1e3 * x.z()),
                 "a sheet that hangs free before the first stage",
                 "raise sheet.height and let a stage lower the clamp (clamp_to)"});
  }
}

}  // namespace pellicle::forming
