// How fast can the flat sheet shake, place by place?
#include "solver/sheet/flat_frequency.h"

#include "solver/sheet/membrane.h"
#include "solver/sheet/ordered_sum.h"

#include <algorithm>
#include <cmath>
#include <cstdint>

namespace pellicle::sheet {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// How much of the differences in amplitude is kept, as a power: 0 needs three iterations and is up to 25 % high, 0.5
/// needs fifteen and is 10 % high, 1 is the plain power iteration.
constexpr double kKept = 0.2;
constexpr double kLeastAmplitude = 1e-3;
constexpr int kIterations = 3;
/// Stretched by so much that the differences do not fold it.
constexpr double kTaut = 1.001;
/// Of the height of an element: the step of the differences. Error ~ 1e-12, round-off 1e-16 of places / 1e-6 of them.
constexpr double kStep = 1e-6;

/// A direction that has nothing to do with those of the nodes around, the same on every machine.
Vec3 any_way(int node) {
  std::uint64_t z = 0x9e3779b97f4a7c15u * (static_cast<std::uint64_t>(node) + 1);  // splitmix64, Steele et al. 2014
  Vec3 way;
  for (int k = 0; k < 3; ++k) {
    z ^= z >> 30, z *= 0xbf58476d1ce4e5b9u, z ^= z >> 27, z *= 0x94d049bb133111ebu, z ^= z >> 31;
    way[k] = static_cast<double>(z >> 11) * 0x1p-52 - 1.0;
  }
  return way.normalized();
}

}  // namespace

std::vector<double> flat_frequency_per_s(const Polymer& polymer, SheetState& s, const std::vector<double>& mass_kg) {
  const int n = s.nodes(), deal = nodes_dealt(n);
  std::vector<Vec3> way(at(n)), x_m(at(n)), ahead_N(at(n)), behind_N(at(n)), area_m2(at(n));
  std::vector<double> ratio(at(n), 0.0);
  const std::vector<char> moved(at(n), 1);
  std::vector<char> renewed(at(n));
  const double taut = kTaut * (1.0 + s.expansion);
  const double step_m = kStep * s.coarse_height_m;
  const auto forces = [&](double sign, std::vector<Vec3>& force_N) {
#pragma omp parallel for schedule(static, deal)
    for (int i = 0; i < n; ++i) {
      const Vec3 flat{taut * s.flat_m[at(i)].x(), taut * s.flat_m[at(i)].y(), 0.0};
      x_m[at(i)] = flat + sign * step_m * way[at(i)];
    }
    membrane_forces(polymer, s.blocks,
                    {x_m.data()->data(), moved.data(), force_N.data()->data(), area_m2.data()->data(), renewed.data()});
  };
  for (int i = 0; i < n; ++i) way[at(i)] = s.on_rim[at(i)] ? Vec3(Vec3::Zero()) : any_way(i);
  for (int k = 0; k < kIterations; ++k) {
    forces(1.0, ahead_N);
    forces(-1.0, behind_N);
    double most = 0.0;
#pragma omp parallel for schedule(static, deal) reduction(max : most)
    for (int i = 0; i < n; ++i) {
      if (s.on_rim[at(i)]) continue;
      Vec3& answer = ahead_N[at(i)];
      answer = (behind_N[at(i)] - answer) / (2.0 * step_m * mass_kg[at(i)]);
      ratio[at(i)] = answer.norm() / way[at(i)].norm();
      most = std::max(most, answer.norm());
    }
#pragma omp parallel for schedule(static, deal)
    for (int i = 0; i < n; ++i) {
      const double size = s.on_rim[at(i)] ? 0.0 : ahead_N[at(i)].norm();
      if (size > 0.0) way[at(i)] = ahead_N[at(i)] * (std::max(kLeastAmplitude, std::pow(size / most, kKept)) / size);
    }
  }
  std::vector<double> per_s;
  for (const Triangle& t : s.triangles)
    per_s.push_back(std::sqrt(std::max({ratio[at(t[0])], ratio[at(t[1])], ratio[at(t[2])]})));
  return per_s;
}

}  // namespace pellicle::sheet
