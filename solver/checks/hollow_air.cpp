// How much less of a relief forms if no air leaks out of its closed hollows?
#include "solver/checks/hollow_air.h"

#include "solver/air/throat.h"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle::checks {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Root in 0..1 of f = F (1 - (p0/p) f/(1 - f)): the sheet fills F f'/p of the hollow at the pressure f' that is left
/// of p over the air, p0 f/(1 - f) above the outside. (1 - f)(F - f) = F (p0/p) f, a quadratic in f.
double filled_with_air(double filled, double pressure_Pa) {
  const double b = 1.0 + filled + filled * air::kAtmosphere_Pa / pressure_Pa;
  return 2.0 * filled / (b + std::sqrt(b * b - 4.0 * filled));
}

/// All deep cells that hang together with the first by their sides; marks them as seen. False: they reach the border.
bool gather(const imprint::ReliefAnswer& a, int first, std::vector<char>& deep, std::vector<int>& cells) {
  bool closed = true;
  cells = {first};
  deep[at(first)] = 0;
  for (std::size_t k = 0; k < cells.size(); ++k) {
    const int i = cells[k] % a.nx, j = cells[k] / a.nx;
    if (i == 0 || j == 0 || i == a.nx - 1 || j == a.ny - 1) closed = false;
    const auto take = [&](bool inside, int next) {
      if (inside && deep[at(next)]) deep[at(next)] = 0, cells.push_back(next);
    };
    take(i > 0, cells[k] - 1), take(i < a.nx - 1, cells[k] + 1);
    take(j > 0, cells[k] - a.nx), take(j < a.ny - 1, cells[k] + a.nx);
  }
  return closed;
}

}  // namespace

std::vector<Hollow> hollows(const imprint::ReliefAnswer& a, double pressure_Pa) {
  std::vector<Hollow> all;
  if (a.ny < 2 || a.nx < 2 || !(pressure_Pa > 0.0)) return all;
  std::vector<char> deep;
  for (const double z : a.mould_height_m) deep.push_back(z < -0.5 * a.own_depth_m);
  const double cell_m2 = (a.x_m[1] - a.x_m[0]) * (a.y_m[1] - a.y_m[0]);
  for (int first = 0; first < a.nx * a.ny; ++first) {
    if (!deep[at(first)]) continue;
    Hollow h;
    if (!gather(a, first, deep, h.cells)) continue;
    double left_m3 = 0.0;
    for (const int k : h.cells) h.volume_m3 -= a.mould_height_m[at(k)] * cell_m2, left_m3 += a.gap_m[at(k)] * cell_m2;
    h.filled = std::clamp(1.0 - left_m3 / h.volume_m3, 0.0, 1.0);
    h.filled_least = filled_with_air(h.filled, pressure_Pa);
    // p0 f/(1 - f) = p
    h.filled_most = std::min(h.filled, pressure_Pa / (pressure_Pa + air::kAtmosphere_Pa));
    all.push_back(std::move(h));
  }
  return all;
}

void tell_shut_air(const imprint::ReliefAnswer& a, double pressure_Pa, double limit, Finding& finding) {
  const std::vector<Hollow> all = hollows(a, pressure_Pa);
  const imprint::StrokeAnswer* worst = nullptr;
  double least = std::numeric_limits<double>::infinity(), most = 0.0;
  for (const imprint::StrokeAnswer& s : a.strokes) {
    if (s.height_m > 0.0 && !s.in_counter) continue;
    // The hollow its critical place lies nearest to.
    const Hollow* own = nullptr;
    double nearest = std::numeric_limits<double>::infinity();
    for (const Hollow& h : all)
      for (const int k : h.cells) {
        const double away = std::hypot(a.x_m[at(k % a.nx)] - s.place_m[0], a.y_m[at(k / a.nx)] - s.place_m[1]);
        if (away < nearest) nearest = away, own = &h;
      }
    if (own == nullptr || nearest > s.width_m || !(own->filled > 0.0)) continue;
    const double share = s.share * own->filled_least / own->filled;
    if (share < least) least = share, most = s.share * own->filled_most / own->filled, worst = &s;
  }
  if (worst == nullptr) return;
  finding.why +=
      fmt::format("; {} closed hollow{}: if no air leaks out, {} takes {:.2f} to {:.2f} of its depth instead of {:.2f}",
                  all.size(), all.size() == 1 ? "" : "s", worst->name, least, most, worst->share);
  if (finding.verdict != Verdict::kPass || most >= limit) return;
  finding.verdict = Verdict::kDoubt;
  finding.advice = "a hole or a scratch to the outside in each closed hollow, or a gap in its outline";
}

}  // namespace pellicle::checks
