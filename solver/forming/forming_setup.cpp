// What does a run begin with, from a case or where another has stopped?
#include "mesh/check.h"
#include "solver/forming/forming.h"
#include "solver/sheet/kernel/choose.h"

#include <algorithm>
#include <limits>

namespace pellicle::forming {
namespace {

/// Edges so round that the sheet's triangles follow them anyway are left out: an element L on a radius r stands off by
/// L^2 / 8r.
mould::CreaseScale crease_scale(const SheetSpec& sheet) {
  const double element_m = sheet.element_m, fine_m = sheet.refines() ? sheet.fine_element_m : element_m;
  const double followed_m = element_m * element_m / (8.0 * kAllowedDepth * sheet.thickness_m);
  return {.spacing_m = 0.5 * fine_m,
          .largest_radius_m = std::max(3.0 * element_m, 2.0 * followed_m),
          .merge_m = 0.1 * sheet.thickness_m,
          .sag_m = 0.03 * sheet.thickness_m};
}

std::optional<mould::Creases> creases_of(const mould::RigidMould& mould, const SheetSpec& sheet) {
  if (!mould.surface()) return std::nullopt;
  return mould::Creases(*mould.surface(), crease_scale(sheet));
}

}  // namespace

Forming::Forming(const FormingSpec& spec, const mould::RigidMould& mould, const mesh::SheetMesh& sheet,
                 LedgerTamper tamper)
    : spec_(spec),
      mould_(mould),
      schedule_(spec),
      scale_(contact_scale(spec.sheet)),
      tamper_(tamper),
      creases_(creases_of(mould, spec.sheet)),
      corners_(creases_ ? &*creases_ : nullptr, spec.friction.stick),
      kernels_(sheet::best_kernels()) {
  state_ = sheet::flat_sheet(sheet, spec.sheet.thickness_m, spec.sheet.density_kg_m3, spec.sheet.height_m);
  if (spec.sheet.expansion > 0.0) sheet::expand(state_, spec.sheet.expansion);
  if (spec.numerics.pace == Pace::kQuasiStatic) sheet::even_out_mass(state_);
  state_.mass_kg = sheet::lumped_mass_kg(state_, spec.sheet.density_kg_m3);
  snap_.clamp_z_m = spec.sheet.height_m;
  snap_.touch.assign(state_.x_m.size(), Touch{.first_s = std::numeric_limits<double>::quiet_NaN()});
  leave_heater();
  hang();
  begin_memory();
  set_up();
}

Forming::Forming(const FormingSpec& spec, const mould::RigidMould& mould, const Snapshot& from)
    : spec_(spec),
      mould_(mould),
      schedule_(spec),
      scale_(contact_scale(spec.sheet)),
      snap_(from),
      creases_(creases_of(mould, spec.sheet)),
      corners_(creases_ ? &*creases_ : nullptr, spec.friction.stick),
      kernels_(sheet::best_kernels()) {
  ensure(spec.heat.has_value() == from.heat.has_value(), "a run goes on with heat as it began");
  ensure(snap_.reports.size() <= spec.stages.size(), "a run goes on with the stages it began");
  for (std::size_t i = 0; i < snap_.reports.size(); ++i) snap_.reports[i].name = spec.stages[i].name;
  hot_law_ = forming_law(spec);
  ensure(hot_law_.has_value() == from.memory.has_value(), "a run goes on with its memory as it began");
  const mesh::SheetMesh sheet{from.flat_m, from.triangles, from.on_rim, 0.0, 0.0};
  state_ = sheet::flat_sheet(sheet, spec.sheet.thickness_m, spec.sheet.density_kg_m3, spec.sheet.height_m);
  if (spec.sheet.expansion > 0.0) sheet::expand(state_, spec.sheet.expansion);
  state_.x_m = from.x_m;
  state_.v_m_s = from.v_m_s;
  state_.local_mass = from.local_mass;
  state_.coarse_height_m = from.coarse_height_m;
  state_.mass_kg = sheet::lumped_mass_kg(state_, spec.sheet.density_kg_m3);
  set_up();
}

void Forming::set_up() {
  true_mass_kg_ = state_.mass_kg;
  for (double& mass : state_.mass_kg) mass *= snap_.mass_factor;
  const std::size_t n = state_.x_m.size();
  predicted_m_s_.assign(n, mesh::Vec3::Zero());
  put_back_m_.assign(n, mesh::Vec3::Zero());
  carried_m2_.assign(n, mesh::Vec3::Zero());
  near_.assign(n, {});
  rests_.assign(n, 0);
  free_.assign(n / sheet::kLot, {});
  still_.resize(n);
  corners_.group(snap_.pokes, state_.elements());
  weigh();
  set_up_air();
  if (snap_.memory) sheet::set_pull(*hot_law_, *snap_.memory, reference_Pa(), state_);
  for (const char* line : {"next step", "membrane", "gas", "air", "edges", "mould", "heat", "ledger", "memory",
                           "refine", "frames and rows"})
    profile_.push_back({line, 0.0});
}

Snapshot Forming::snapshot() const {
  Snapshot s = snap_;
  s.x_m = state_.x_m, s.v_m_s = state_.v_m_s;
  s.flat_m = state_.flat_m, s.triangles = state_.triangles, s.on_rim = state_.on_rim;
  s.local_mass = state_.local_mass, s.coarse_height_m = state_.coarse_height_m;
  return s;
}

Penetration Forming::deepest_penetration() const {
  if (!mould_.surface()) return {};
  // Every place, those too that one beside them stands for while the sheet moves.
  mould::CreaseScale all = crease_scale(spec_.sheet);
  all.merge_m *= 0.1, all.sag_m = 0.0;
  return deepest(state_, mould::Creases(*mould_.surface(), all));
}

}  // namespace pellicle::forming
