// What does the stretched sheet pull with, how much energy does it hold, and how long a step does it bear?
#include "solver/sheet/membrane.h"

#include "solver/sheet/element_measure.h"
#include "solver/sheet/kernel/choose.h"
#include "solver/sheet/law_numbers.h"
#include "solver/sheet/ordered_sum.h"

#include <omp.h>
#include <Eigen/Geometry>

namespace pellicle::sheet {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// Elements in the order of the sheet, eight by eight.
int groups(const SheetState& s) { return (s.elements() + kGroup - 1) / kGroup; }
int group_size(const SheetState& s, int group) { return std::min(kGroup, s.elements() - group * kGroup); }
ElementsView elements_of(const SheetState& s) {
  return {s.x_m.data()->data(), s.triangles.data()->data(), s.pull.empty() ? s.rest.data() : s.pull.data()};
}

/// Up to this stretch the sheet is about as stiff as flat; folded or slack it is less so.
constexpr double kLittle = 1.05;
bool is_stretched_little(const SheetState& s, int e) {
  const Edges k = edges(s, e);
  return std::fmax(measure(s.rest[at(e)], k).x, measure(s.pulls_from(e), k).x) < kLittle * kLittle;
}

/// How many times stiffer an element is than the law, by what its layers remember.
double stiffening(const SheetState& s, int e) {
  return s.pull.empty() ? 1.0 : s.pull[at(e)].volume_m3 / s.rest[at(e)].volume_m3;
}

/// By how much the law may be stiffer at a little stretch than flat, at most.
double growth_of(const Kernels& kernels, const LawNumbers& law) {
  const double height = std::sqrt(0.75);
  const Triangle corners{0, 1, 2};
  const Rest rest{4.0 / 3.0, -2.0 / 3.0, 4.0 / 3.0, 4.0 / 3.0, 0.5 * height};  // equilateral, of edges 1, 1 thick
  const auto stiffness = [&](double l1, double l2) {
    const Vec3 x[3] = {{0.0, 0.0, 0.0}, {l1, 0.0, 0.0}, {0.5 * l1, height * l2, 0.0}};
    double found[kGroup];
    kernels.stiffnesses_Pa_per_m2(law, {x[0].data(), corners.data(), &rest}, 0, 1, found);
    return found[0];
  };
  const double flat = stiffness(1.0, 1.0), pure = 1.0 / std::sqrt(kLittle);
  return std::max({1.0, stiffness(kLittle, kLittle) / flat, stiffness(kLittle, 1.0) / flat,
                   stiffness(kLittle, pure * (1.0 + 1e-9)) / flat});
}

/// Of a sheet that remembers: what is its natural width depends on what it pulls from.
ElementStretch remembering_stretch(const SheetState& s, int e) {
  const Edges surface = edges(s, e), material = material_edges(s.pull[at(e)], surface);
  const Measure m = measure(s.rest[at(e)], surface), own = measure(s.rest[at(e)], material);
  return {std::sqrt(m.x), std::sqrt(std::fmax(0.0, m.b / m.x)), std::sqrt(own.x), std::sqrt(own.b / own.x),
          std::fmax(0.0, 1.0 - std::sqrt(std::fmax(0.0, m.b) / own.b))};
}

}  // namespace

ElementStretch element_stretch(const SheetState& s, int e) {
  if (!s.pull.empty()) return remembering_stretch(s, e);
  const Measure m = measure(s.rest[at(e)], edges(s, e));
  const double l1 = std::sqrt(m.x), l2 = std::sqrt(std::fmax(0.0, m.b / m.x));
  switch (condition(m)) {
    case Condition::kTaut:
      return {l1, l2, l1, l2, 0.0};
    case Condition::kFolded: {
      const double natural = 1.0 / std::sqrt(l1);
      return {l1, l2, l1, natural, 1.0 - l2 / natural};
    }
    case Condition::kSlack:
      return {l1, l2, 1.0, 1.0, 1.0 - l1 * l2};
  }
  return {};
}

std::array<double, 3> material_metric(const SheetState& s, int e) {
  const Rest& r = s.rest[at(e)];
  Edges k = edges(s, e);
  const Measure m = measure(r, k);
  const Condition now = condition(m);
  if (!s.pull.empty())
    k = material_edges(s.pull[at(e)], k);
  else if (now == Condition::kSlack)
    return {1.0, 0.0, 1.0};
  else if (now == Condition::kFolded)
    unfold(r, m, k);
  // C = B^T G B with B the inverse of the flat edge matrix [D1 D2].
  const Triangle& t = s.triangles[at(e)];
  const Vec2 d1 = s.flat_m[at(t[1])] - s.flat_m[at(t[0])], d2 = s.flat_m[at(t[2])] - s.flat_m[at(t[0])];
  const double det = d1.x() * d2.y() - d1.y() * d2.x();
  const double b11 = d2.y() / det, b12 = -d2.x() / det, b21 = -d1.y() / det, b22 = d1.x() / det;
  return {b11 * b11 * k.g11 + 2.0 * b11 * b21 * k.g12 + b21 * b21 * k.g22,
          b11 * b12 * k.g11 + (b11 * b22 + b21 * b12) * k.g12 + b21 * b22 * k.g22,
          b12 * b12 * k.g11 + 2.0 * b12 * b22 * k.g12 + b22 * b22 * k.g22};
}

void membrane_forces(const Polymer& polymer, SheetBlocks& blocks, const NodesView& nodes) {
  const Kernels& kernels = best_kernels();
  const LawNumbers law = numbers_of(polymer);
  blocks.make_room(omp_get_max_threads());
#pragma omp parallel
  {
    const ScratchView room = blocks.room(omp_get_thread_num());
#pragma omp for schedule(static, 1)  // as the nodes are dealt out (ordered_sum.h)
    for (int k = 0; k < blocks.count(); ++k) kernels.forces(law, nodes, blocks.view(k), room);
  }
}

void membrane_forces(const Polymer& polymer, SheetState& s) {
  membrane_forces(
      polymer, s.blocks,
      {s.x_m.data()->data(), s.moved.data(), s.force_N.data()->data(), s.area_m2.data()->data(), s.renewed.data()});
}

double strain_energy_J(const Polymer& polymer, const SheetState& s) {
  const Kernels& kernels = best_kernels();
  const LawNumbers law = numbers_of(polymer);
  OrderedSum<double> sum;
  return sum(groups(s), [&](int g) {
    double energy_J[kGroup], total_J = 0.0;
    const int count = group_size(s, g);
    kernels.energies_J(law, elements_of(s), g * kGroup, count, energy_J);
    for (int k = 0; k < count; ++k) total_J += energy_J[k];
    return total_J;
  });
}

double swept_volume_m3(const SheetState& s, double clamp_z_m) {
  OrderedSum<double> sum;
  const Vec3 origin{0.0, 0.0, clamp_z_m};
  return sum(s.elements(), [&](int e) {
    const Triangle& t = s.triangles[at(e)];
    const Vec3 p = s.x_m[at(t[0])] - origin, q = s.x_m[at(t[1])] - origin, r = s.x_m[at(t[2])] - origin;
    return -p.dot(q.cross(r)) / 6.0;
  });
}

double HighestFrequency::stable_step_s() const {
  const double w = std::hypot(element_per_s, pressure_per_s);
  return 2.0 / w;  // infinite for w = 0, not a number where a place is none
}

HighestFrequency highest_frequency(const Polymer& polymer, const SheetState& s, double scaled_density_kg_m3,
                                   double pressure_Pa, const FlatFrequency* flat) {
  const Kernels& kernels = best_kernels();
  const LawNumbers law = numbers_of(polymer);
  const double flat_scale_sq = flat != nullptr ? growth_of(kernels, law) * flat->scale * flat->scale : 0.0;
  double most = 1.0;  // flat, all of it as stiff as its stiffest
  for (int e = 0; flat != nullptr && e < static_cast<int>(s.pull.size()); ++e) most = std::fmax(most, stiffening(s, e));
  double element_sq = 0.0;
  int stiffest = 0;
#pragma omp parallel
  {
    double own_sq = 0.0;
    int own = 0;
#pragma omp for schedule(static) nowait
    for (int g = 0; g < groups(s); ++g) {
      double stiffness[kGroup];
      const int count = group_size(s, g);
      kernels.stiffnesses_Pa_per_m2(law, elements_of(s), g * kGroup, count, stiffness);
      for (int k = 0; k < count; ++k) {
        const int e = g * kGroup + k;
        double w_sq = stiffening(s, e) * stiffness[k] / (scaled_density_kg_m3 * s.local_mass[at(e)]);
        if (flat != nullptr && w_sq > own_sq) {
          const double flat_sq = most * flat_scale_sq * flat->per_s[at(e)] * flat->per_s[at(e)];
          if (w_sq > flat_sq && is_stretched_little(s, e)) w_sq = flat_sq;
        }
        // A NaN wins and stays, and is caught by the guard.
        if (!std::isnan(own_sq) && !(w_sq <= own_sq)) own_sq = w_sq, own = e;
      }
    }
#pragma omp critical(pellicle_stiffest)
    if (!std::isnan(element_sq) && !(own_sq < element_sq) && !(own_sq == element_sq && own > stiffest))
      element_sq = own_sq, stiffest = own;
  }
  // w_p^2 = max over free nodes of (p/m) sum over its edges |x_k - x_l|/6.
  double pressure_sq = 0.0;
  const double p = std::fabs(pressure_Pa);
#pragma omp parallel for schedule(static, nodes_dealt(s.nodes())) reduction(max : pressure_sq)
  for (int i = 0; i < s.nodes(); ++i) {
    if (s.on_rim[at(i)]) continue;
    double length = 0.0;
    for (int k = s.first_pair[at(i)]; k < s.first_pair[at(i) + 1]; ++k)
      length += (s.x_m[at(s.opposite[at(k)][0])] - s.x_m[at(s.opposite[at(k)][1])]).norm();
    pressure_sq = std::fmax(pressure_sq, p / s.mass_kg[at(i)] * length / 6.0);
  }
  return {std::sqrt(element_sq), std::sqrt(pressure_sq), stiffest};
}

}  // namespace pellicle::sheet
