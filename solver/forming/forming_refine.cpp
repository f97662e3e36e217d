// How does the sheet move from flat to formed? Finer where it must be: what a refinement does to the running state.
#include "mesh/refine.h"
#include "solver/forming/adapt.h"
#include "solver/forming/forming.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle::forming {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// The sheet is looked at this often: it moves by a fraction of an element in between.
constexpr std::int64_t kAdaptSteps = 25;
/// A new node that comes to lie inside the mould is let out over so many steps.
constexpr std::int8_t kSettlingSteps = 20;

/// What a new node remembers: that it touched if both ends of its edge did, and no anchor yet.
Touch between(const Touch& a, const Touch& b) {
  Touch t{.first_s =
              a.touching && b.touching ? std::max(a.first_s, b.first_s) : std::numeric_limits<double>::quiet_NaN()};
  t.pressure_since_Pa = std::isnan(t.first_s) ? 0.0 : std::min(a.pressure_since_Pa, b.pressure_since_Pa);
  t.contact_Pa = std::isnan(t.first_s) ? 0.0 : 0.5 * (a.contact_Pa + b.contact_Pa);
  t.settling = kSettlingSteps;
  return t;
}

}  // namespace

void Forming::refine_where_needed(const StepContext& step) {
  if (!spec_.sheet.refines() || (step.step + 1) % kAdaptSteps != 0) return;
  const std::vector<char> moved = moved_since(state_, snap_.looked_at_m, kStands * spec_.sheet.thickness_m);
  snap_.looked_at_m.resize(moved.size());
  for (std::size_t i = 0; i < moved.size(); ++i)
    if (moved[i]) snap_.looked_at_m[i] = state_.x_m[i];
  refine(elements_to_cut(spec_.sheet, state_, snap_.touch, mould_, creases_ ? &*creases_ : nullptr, near_, moved));
}

int Forming::refine(const std::vector<char>& wanted) {
  const mesh::Refined cut =
      mesh::refine(state_.flat_m, state_.triangles, wanted, spec_.sheet.refines() ? spec_.sheet.fine_element_m : 0.0);
  if (cut.ends.empty()) return 0;
  const double before_J = kinetic_J();
  std::vector<char> changed(state_.x_m.size() + cut.ends.size(), 0);
  std::vector<int> now(state_.triangles.size(), -1);  // number of a triangle that stays as it is
  for (std::size_t e = 0; e < cut.triangles.size(); ++e) {
    const std::size_t parent = at(cut.parent[e]);
    if (cut.triangles[e] == state_.triangles[parent]) {
      now[parent] = static_cast<int>(e);
    } else {
      for (const int i : cut.triangles[e]) changed[at(i)] = 1;
    }
  }
  const std::vector<mesh::Triangle> before = snap_.memory ? state_.triangles : std::vector<mesh::Triangle>{};
  sheet::refine(state_, cut);
  if (snap_.memory) {
    sheet::refine(*snap_.memory, before, state_, cut);
    sheet::set_pull(*hot_law_, *snap_.memory, reference_Pa(), state_);
  }
  if (snap_.heat) sheet::refine(*snap_.heat, cut);
  for (const auto& ends : cut.ends) snap_.touch.push_back(between(snap_.touch[at(ends[0])], snap_.touch[at(ends[1])]));
  true_mass_kg_ = sheet::lumped_mass_kg(state_, spec_.sheet.density_kg_m3);
  state_.mass_kg.resize(true_mass_kg_.size());
  weigh();
  for (std::size_t i = 0; i < true_mass_kg_.size(); ++i) state_.mass_kg[i] = snap_.mass_factor * true_mass_kg_[i];
  const std::size_t n = state_.x_m.size();
  predicted_m_s_.resize(n, mesh::Vec3::Zero());
  put_back_m_.resize(n, mesh::Vec3::Zero());
  carried_m2_.resize(n, mesh::Vec3::Zero());
  for (const auto& ends : cut.ends) near_.push_back(mould::Neighbourhood(near_[at(ends[0])]));  // the mould around it
  rests_.resize(n, 0);
  free_.resize(n / sheet::kLot);  // old nodes stay where they are
  still_.resize(n);
  back_Pa_.resize(n, 0.0);  // until pockets are looked for anew
  force_before_N_.clear();
  // Pairs with triangles that are no more are found anew, as around nodes that have moved: in the next step, when it is
  // due anyway.
  std::erase_if(snap_.pokes, [&](const Poke& poke) { return now[at(poke.triangle)] < 0; });
  for (Poke& poke : snap_.pokes) poke.triangle = now[at(poke.triangle)];
  const mesh::Vec3 never = mesh::Vec3::Constant(std::numeric_limits<double>::quiet_NaN());
  for (std::vector<mesh::Vec3>* was : {&snap_.paired_at_m, &snap_.looked_at_m})
    for (std::size_t i = 0; i < was->size(); ++i)
      if (changed[i]) (*was)[i] = never;
  corners_.follow(cut.parent);
  corners_.group(snap_.pokes, state_.elements());
  // The middle of an edge moves with the mean of its ends, which takes energy of motion; heavier small elements bring
  // some.
  const double after_J = kinetic_J();
  snap_.ledger.mass_change_J += tamper_.mass_change * (before_J - after_J);
  snap_.ledger.kinetic_J += tamper_.kinetic * (after_J - before_J);
  snap_.limit_dt_s = std::min(snap_.limit_dt_s, stable_limit_s());
  return static_cast<int>(cut.ends.size());
}

}  // namespace pellicle::forming
