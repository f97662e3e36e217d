// By how much does each wall shrink from the moment the part comes off the mould?
#include "solver/checks/contraction.h"

#include "mesh/check.h"
#include "solver/checks/place.h"

#include <fmt/core.h>

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>

namespace pellicle::checks {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr double kRoom_K = 293.15, kIceMelts_K = 273.15;

/// Over the part by its formed area; extremes with their nodes.
struct Spread {
  double area_m2 = 0.0, mean = 0.0;
  int least = -1, most = -1;
};
Spread spread_over(const Formed& f, const std::vector<double>& field) {
  Spread s;
  for (const mesh::Triangle& t : f.sheet.triangles) {
    if (!f.in_part[at(t[0])] || !f.in_part[at(t[1])] || !f.in_part[at(t[2])]) continue;
    const mesh::Vec3 &a = f.sheet.points_m[at(t[0])], &b = f.sheet.points_m[at(t[1])], &c = f.sheet.points_m[at(t[2])];
    const double area_m2 = 0.5 * (b - a).cross(c - a).norm();
    s.area_m2 += area_m2;
    for (const int i : t) {
      s.mean += area_m2 * field[at(i)] / 3.0;
      if (s.least < 0 || field[at(i)] < field[at(s.least)]) s.least = i;
      if (s.most < 0 || field[at(i)] > field[at(s.most)]) s.most = i;
    }
  }
  if (s.area_m2 > 0.0) s.mean /= s.area_m2;
  return s;
}

}  // namespace

std::vector<double> contraction(std::span<const double> released_K, double expansion_1_K) {
  std::vector<double> share;
  for (const double T_K : released_K) share.push_back(expansion_1_K * (T_K - kRoom_K));
  return share;
}

void tell_contraction(const Formed& f, std::span<const double> released_K, Finding& finding) {
  ensure(released_K.size() == f.sheet.points_m.size(), "a temperature for every node");
  if (!f.spec.solid || std::isnan(finding.value)) return;
  const SolidPolymer& solid = *f.spec.solid;
  const std::vector<double> share = contraction(released_K, solid.expansion_1_K.likely);
  const Spread s = spread_over(f, share);
  if (!(s.area_m2 > 0.0)) return;
  const double from_set = solid.expansion_1_K.likely * std::max(0.0, solid.set_temperature_K - kRoom_K);
  finding.why += fmt::format(
      "; by the card's expansion the walls shrink by {:.2g} to {:.2g} %, on average {:.2g} %, from {:.0f} to {:.0f} "
      "°C, "
      "when all of them have set and the part comes off; most at {}",
      100.0 * share[at(s.least)], 100.0 * share[at(s.most)], 100.0 * s.mean, released_K[at(s.least)] - kIceMelts_K,
      released_K[at(s.most)] - kIceMelts_K, place_text(f.sheet.points_m[at(s.most)]));
  finding.uncertainty += fmt::format(
      "; by expansion alone {:.4f} if the polymer forgets what the mould held back until then, {:.4f} if all of it "
      "comes back; walls that shrink differently warp the part",
      1.0 / (1.0 - s.mean), 1.0 / (1.0 - std::max(s.mean, from_set)));
}

}  // namespace pellicle::checks
