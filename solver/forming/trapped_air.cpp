// Where is air shut in under the sheet, and how hard does it push back?
#include "solver/forming/trapped_air.h"

#include "mesh/check.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <string>
#include <utility>

namespace pellicle::forming {
namespace {

using mesh::Vec2;
using mesh::Vec3;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Disjoint sets of nodes; the lowest number stands for each set, so the answer does not depend on the order of joins.
class Sets {
 public:
  explicit Sets(std::size_t n) : above_(n) {
    for (std::size_t i = 0; i < n; ++i) above_[i] = static_cast<int>(i);
  }
  int root(int i) {
    while (above_[at(i)] != i) i = above_[at(i)] = above_[at(above_[at(i)])];
    return i;
  }
  void join(int i, int j) {
    i = root(i), j = root(j);
    above_[at(std::max(i, j))] = std::min(i, j);
  }

 private:
  std::vector<int> above_;
};

/// Is p under the triangle, seen from above? On its border counts.
bool covers(const Vec3& a, const Vec3& b, const Vec3& c, const Vec2& p) {
  const auto left = [&](const Vec3& from, const Vec3& to) {
    return (to.x() - from.x()) * (p.y() - from.y()) - (to.y() - from.y()) * (p.x() - from.x());
  };
  const double u = left(a, b), v = left(b, c), w = left(c, a);
  return (u >= 0.0 && v >= 0.0 && w >= 0.0) || (u <= 0.0 && v <= 0.0 && w <= 0.0);
}

/// Root of a rising function with f(low) <= 0 <= f(high): false position with the Illinois rule, a halving every third
/// time, so the bracket shrinks whatever f is.
template <class F>
double root_of(const F& f, double low, double high) {
  constexpr double kShare = 1e-13;  // of the root: what round-off leaves
  double f_low = f(low), f_high = f(high);
  int side = 0;
  for (int k = 1; k < 300 && high - low > kShare * high; ++k) {
    double p = k % 3 == 0 ? 0.5 * (low + high) : (low * f_high - high * f_low) / (f_high - f_low);
    if (!(p > low && p < high)) p = 0.5 * (low + high);
    const double f_p = f(p);
    if (f_p == 0.0) return p;
    if (f_p < 0.0) {
      low = p, f_low = f_p;
      if (side == -1) f_high *= 0.5;
      side = -1;
    } else {
      high = p, f_high = f_p;
      if (side == 1) f_low *= 0.5;
      side = 1;
    }
  }
  return 0.5 * (low + high);
}

}  // namespace

/// Parts of the sheet that do not touch and hang together, before it is known which of them are pockets.
struct AirUnderSheet::Regions {
  enum class Kind { kPocket, kOpen, kFilm };
  std::vector<int> of_node;      ///< N, -1 touches
  std::vector<double> share_m3;  ///< N, of the volume, > 0 in a region
  std::vector<int> nodes;        ///< how many, one a region
  std::vector<AirBelow> below;   ///< one a region
  std::vector<double> area_m2;   ///< of the sheet
  std::vector<Vec3> middle_m;    ///< mean of the nodes
  std::vector<Kind> kind;
  std::vector<char> had_pocket;  ///< one a region: some of its nodes were over a pocket
  std::vector<int> pocket;       ///< its number, -1 if it is none
  int count() const { return static_cast<int>(kind.size()); }
};

/// What one region gets.
struct AirUnderSheet::Inheritance {
  double mass_kg = 0.0, volume_m3 = 0.0, energy_J = 0.0;  ///< energy: sum of p V
  int from = -1;                                          ///< pocket that gave most
  double most_kg = 0.0;
  void take(double kg, double m3, double p_Pa) { mass_kg += kg, volume_m3 += m3, energy_J += p_Pa * m3; }
};

AirOptions air_options(double bought_thickness_m) {
  constexpr double kFilm = 0.02;  // twice the gap that counts as touching
  constexpr double kRoughness_m = 5e-6;
  return {.roughness_m = kRoughness_m,
          .film_m = std::max(kFilm * bought_thickness_m, 2.0 * kRoughness_m),
          .rim_seal_m = bought_thickness_m};
}

double TrappedAir::in_pockets_kg() const {
  double sum = 0.0;
  for (const Pocket& p : pockets) sum += p.mass_kg;
  return sum;
}

double TrappedAir::pressure_Pa(int node) const {
  if (node >= static_cast<int>(pocket_of.size()) || pocket_of[at(node)] < 0) return 0.0;
  return pockets[at(pocket_of[at(node)])].pressure_Pa;
}

AirUnderSheet::AirUnderSheet(const mould::RigidMould& mould, AirColumns columns, std::vector<PlacedVent> vents,
                             AirOptions options)
    : mould_(&mould), columns_(std::move(columns)), vents_(std::move(vents)), options_(options) {
  ensure(options.roughness_m > 0.0 && options.film_m >= options.roughness_m && options.outside_Pa > 0.0,
         "a pocket keeps some height, and there is air outside");
  for (const PlacedVent& v : vents_) ensure(v.hole.diameter_m > 0.0, "a vent has a diameter");
}

AirUnderSheet::Regions AirUnderSheet::regions_of(const SheetOverMould& s) const {
  const int n = static_cast<int>(s.x_m.size());
  Sets sets(at(n));
  for (const mesh::Triangle& t : s.triangles) {
    const std::array<bool, 3> free{!s.touching[at(t[0])], !s.touching[at(t[1])], !s.touching[at(t[2])]};
    if (free[0] && free[1]) sets.join(t[0], t[1]);
    if (free[1] && free[2]) sets.join(t[1], t[2]);
    if (free[2] && free[0] && !free[1]) sets.join(t[2], t[0]);
  }
  Regions r;
  r.of_node.assign(at(n), -1);
  for (int i = 0; i < n; ++i) {
    if (s.touching[at(i)]) continue;
    // The root is the lowest number of its set, so it has been numbered already.
    if (const int root = sets.root(i); root != i) {
      r.of_node[at(i)] = r.of_node[at(root)];
    } else {
      r.of_node[at(i)] = r.count();
      r.kind.push_back(Regions::Kind::kPocket);
      r.nodes.push_back(0);
      r.middle_m.emplace_back(Vec3::Zero());
    }
    ++r.nodes[at(r.of_node[at(i)])];
    r.middle_m[at(r.of_node[at(i)])] += s.x_m[at(i)];
  }
  for (int k = 0; k < r.count(); ++k) r.middle_m[at(k)] /= r.nodes[at(k)];
  return r;
}

void AirUnderSheet::open_by_rim(const SheetOverMould& s, Regions& r) const {
  for (std::size_t i = 0; i < s.x_m.size(); ++i) {
    if (!s.on_rim[i] || r.of_node[i] < 0 || r.kind[at(r.of_node[i])] == Regions::Kind::kOpen) continue;
    const auto top = mould_->top_m(s.x_m[i].x(), s.x_m[i].y());
    if (!top || s.x_m[i].z() > *top + options_.rim_seal_m) r.kind[at(r.of_node[i])] = Regions::Kind::kOpen;
  }
}

/// A triangle belongs to the region of those of its nodes that do not touch: they hang together by its own edges. What
/// is open by its rim and took no pocket in, most of a sheet on its way down, is nobody's to measure.
void AirUnderSheet::measure(const SheetOverMould& s, Regions& r) const {
  const int m = static_cast<int>(s.triangles.size());
  std::vector<AirBelow> below(at(m));
  const auto region_of = [&](const mesh::Triangle& t) {
    const int k = std::max({r.of_node[at(t[0])], r.of_node[at(t[1])], r.of_node[at(t[2])]});
    return k >= 0 && (r.kind[at(k)] != Regions::Kind::kOpen || r.had_pocket[at(k)]) ? k : -1;
  };
#pragma omp parallel for schedule(static, 256)
  for (int e = 0; e < m; ++e)
    if (const mesh::Triangle& t = s.triangles[at(e)]; region_of(t) >= 0)
      below[at(e)] = columns_.under(s.x_m[at(t[0])], s.x_m[at(t[1])], s.x_m[at(t[2])]);
  r.below.assign(at(r.count()), {});
  r.area_m2.assign(at(r.count()), 0.0);
  // Air is never quite nothing, so that every node has a say in who inherits.
  r.share_m3.assign(s.x_m.size(), std::numeric_limits<double>::min());
  for (int e = 0; e < m; ++e) {
    const mesh::Triangle& t = s.triangles[at(e)];
    const int k = region_of(t);
    if (k < 0) continue;
    const Vec3 &a = s.x_m[at(t[0])], &b = s.x_m[at(t[1])], &c = s.x_m[at(t[2])];
    const double area = 0.5 * (b - a).cross(c - a).norm();
    r.below[at(k)] += below[at(e)];
    r.area_m2[at(k)] += area;
    const auto free = std::count_if(t.begin(), t.end(), [&](int i) { return r.of_node[at(i)] >= 0; });
    const double part = std::max(below[at(e)].volume_m3, options_.roughness_m * area) / static_cast<double>(free);
    for (const int i : t)
      if (r.of_node[at(i)] >= 0) r.share_m3[at(i)] += part;
  }
}

void AirUnderSheet::decide(Regions& r) const {
  for (int k = 0; k < r.count(); ++k) {
    if (r.kind[at(k)] == Regions::Kind::kOpen) continue;
    const AirBelow& b = r.below[at(k)];
    if (b.nothing || (b.platform && options_.platform_leaks))
      r.kind[at(k)] = Regions::Kind::kOpen;
    else if (!(b.volume_m3 > options_.film_m * r.area_m2[at(k)]))
      r.kind[at(k)] = Regions::Kind::kFilm;
  }
  int pockets = 0;
  r.pocket.assign(at(r.count()), -1);
  for (int k = 0; k < r.count(); ++k)
    if (r.kind[at(k)] == Regions::Kind::kPocket) r.pocket[at(k)] = pockets++;
}

void AirUnderSheet::inherit(const Regions& r, const TrappedAir& old, double time_s, TrappedAir& air) const {
  const double RT = air::kGasConstant_J_kgK * options_.temperature_K;
  // Volume now over the nodes that were in pocket k and are in region j; what was free air before, by region.
  std::map<std::pair<int, int>, double> common_m3;
  auto common = common_m3.end();
  std::vector<double> of_old_m3(old.pockets.size(), 0.0), was_open_m3(at(r.count()), 0.0),
      was_air_m3(at(r.count()), 0.0);
  for (std::size_t i = 0; i < r.of_node.size(); ++i) {
    const int j = r.of_node[i];
    if (j < 0) continue;
    // With no past at all, all was free air; a node made by refinement has no past and no say.
    const int k = old.pocket_of.empty() ? kOpenAir : i < old.pocket_of.size() ? old.pocket_of[i] : kTouches;
    if (k == kTouches) continue;
    was_air_m3[at(j)] += r.share_m3[i];
    if (k == kOpenAir) was_open_m3[at(j)] += r.share_m3[i];
    if (k < 0) continue;
    if (common == common_m3.end() || common->first != std::pair(k, j))
      common = common_m3.try_emplace({k, j}, 0.0).first;  // neighbours in the list share their pockets, mostly
    common->second += r.share_m3[i];
    of_old_m3[at(k)] += r.share_m3[i];
  }
  std::vector<Inheritance> gets(at(r.count()));
  std::vector<std::pair<double, int>> heir(old.pockets.size(), {0.0, -1});
  for (const auto& [pair, m3] : common_m3) {
    const auto [k, j] = pair;
    const Pocket& p = old.pockets[at(k)];
    const double share = m3 / of_old_m3[at(k)], kg = share * p.mass_kg;
    switch (r.kind[at(j)]) {
      case Regions::Kind::kOpen:
        air.freed_kg += kg;
        continue;
      case Regions::Kind::kFilm:
        air.squeezed_kg += kg;
        continue;
      case Regions::Kind::kPocket:
        break;
    }
    Inheritance& g = gets[at(j)];
    const double v = std::max(p.volume_m3, least_volume_m3(p));
    g.take(kg, share * v, p.isentrope * std::pow(p.mass_kg / v, gamma()));
    if (g.from < 0 || kg > g.most_kg) g.from = k, g.most_kg = kg;
    if (heir[at(k)].second < 0 || kg > heir[at(k)].first) heir[at(k)] = {kg, j};
  }
  for (std::size_t k = 0; k < old.pockets.size(); ++k)
    if (of_old_m3[k] == 0.0) air.squeezed_kg += old.pockets[k].mass_kg;
  for (int j = 0; j < r.count(); ++j) {
    if (r.kind[at(j)] != Regions::Kind::kPocket) continue;
    Inheritance& g = gets[at(j)];
    Pocket p{.name = 0, .closed_s = time_s, .area_m2 = r.area_m2[at(j)], .place_m = r.middle_m[at(j)]};
    p.volume_m3 = std::max(r.below[at(j)].volume_m3, least_volume_m3(p));
    // What was free air is shut in at the pressure outside; so is all of a part that has lifted off just now.
    const double open = g.from < 0 ? 1.0 : was_open_m3[at(j)] / was_air_m3[at(j)];
    const double shut_in_kg = options_.outside_Pa * open * p.volume_m3 / RT;
    g.take(shut_in_kg, open * p.volume_m3, options_.outside_Pa);
    air.shut_in_kg += shut_in_kg;
    p.mass_kg = g.mass_kg;
    p.isentrope =
        options_.adiabatic ? g.energy_J / g.volume_m3 * std::pow(g.volume_m3 / g.mass_kg, air::kHeatRatio) : RT;
    p.pressure_Pa = p.isentrope * std::pow(p.mass_kg / p.volume_m3, gamma()) - options_.outside_Pa;
    const bool keeps = g.from >= 0 && heir[at(g.from)].second == j;
    p.name = keeps ? old.pockets[at(g.from)].name : air.names++;
    if (g.from >= 0) p.closed_s = old.pockets[at(g.from)].closed_s;
    air.pockets.push_back(p);
  }
}

std::vector<int> AirUnderSheet::vents_in(const SheetOverMould& s, const std::vector<int>& pocket_of) const {
  // A vent under several layers of sheet counts for the one with a pocket.
  constexpr int kNoSheet = -3;
  std::vector<int> found(vents_.size(), kNoSheet);
  for (const mesh::Triangle& t : s.triangles) {
    const Vec3 &a = s.x_m[at(t[0])], &b = s.x_m[at(t[1])], &c = s.x_m[at(t[2])];
    const double low_x = std::min({a.x(), b.x(), c.x()}), high_x = std::max({a.x(), b.x(), c.x()});
    for (std::size_t v = 0; v < vents_.size(); ++v) {
      const Vec2& p = vents_[v].at_m;
      if (p.x() < low_x || p.x() > high_x || !covers(a, b, c, p)) continue;
      int here = kTouches;
      for (const int i : t)
        if (pocket_of[at(i)] != kTouches) here = pocket_of[at(i)];
      // pocket before free air before touching
      const bool better = here >= 0 ? found[v] < 0 || here < found[v] : found[v] == kNoSheet || found[v] == kTouches;
      if (better) found[v] = here;
    }
  }
  for (int& v : found)
    if (v == kNoSheet) v = kOpenAir;
  return found;
}

void AirUnderSheet::find(const SheetOverMould& s, double time_s, TrappedAir& air) const {
  ensure(s.touching.size() == s.x_m.size() && s.on_rim.size() == s.x_m.size(), "one flag a node");
  Regions r = regions_of(s);
  r.had_pocket.assign(at(r.count()), 0);
  for (const int i : air.nodes)
    if (r.of_node[at(i)] >= 0) r.had_pocket[at(r.of_node[at(i)])] = 1;
  open_by_rim(s, r);
  measure(s, r);
  decide(r);
  const TrappedAir old = air;
  air.nodes.clear();
  air.pockets.clear();
  inherit(r, old, time_s, air);
  air.pocket_of.assign(s.x_m.size(), kTouches);
  for (std::size_t i = 0; i < s.x_m.size(); ++i) {
    const int j = r.of_node[i];
    if (j < 0 || r.kind[at(j)] == Regions::Kind::kFilm) continue;
    air.pocket_of[i] = r.kind[at(j)] == Regions::Kind::kOpen ? kOpenAir : r.pocket[at(j)];
    if (air.pocket_of[i] >= 0) air.nodes.push_back(static_cast<int>(i));
  }
  air.vent_of = vents_in(s, air.pocket_of);
}

void AirUnderSheet::gives(const SheetMotion& m, const TrappedAir& air, std::vector<VolumeResponse>& out) {
  out.resize(air.pockets.size());
  for (std::size_t k = 0; k < out.size(); ++k)
    out[k] = {.volume_m3 = air.pockets[k].volume_m3, .rate_m3_s = 0.0, .softness_m3_sPa = 0.0, .dt_s = m.dt_s};
  // V grows as the sheet rises, dV/dx = A; in the order of the nodes, so the bits are the same for any threads.
  for (const int i : air.nodes) {
    VolumeResponse& r = out[at(air.pocket_of[at(i)])];
    const Vec3& area = m.area_m2[at(i)];
    r.rate_m3_s += area.dot(m.v_m_s[at(i)]);
    if (m.gives[at(i)]) r.softness_m3_sPa += m.push_s * area.squaredNorm() / m.mass_kg[at(i)];
  }
}

void AirUnderSheet::advance(std::span<const VolumeResponse> responses, TrappedAir& air) const {
  ensure(responses.size() == air.pockets.size(), "one response a pocket");
  const double outside = options_.outside_Pa, R = air::kGasConstant_J_kgK, g = gamma();
  for (std::size_t k = 0; k < air.pockets.size(); ++k) {
    Pocket& p = air.pockets[k];
    const VolumeResponse& give = responses[k];
    const double least = least_volume_m3(p), soft = give.dt_s * give.softness_m3_sPa;
    const double v0 = p.volume_m3 + give.dt_s * give.rate_m3_s - soft * outside;
    if (!std::isfinite(v0) || !std::isfinite(soft))
      throw Error({Fault::Kind::kSolution, "pocket " + std::to_string(p.name) + " under the sheet",
                   "a volume that is not a number", "a finite one", "the sheet has run away"});
    const auto volume = [&](double abs_Pa) { return std::max(v0 + soft * abs_Pa, least); };
    const auto density = [&](double abs_Pa) {
      return g == 1.0 ? abs_Pa / p.isentrope : std::pow(abs_Pa / p.isentrope, 1.0 / g);
    };
    const auto outflow_kg_s = [&](double abs_Pa) {
      double sum = 0.0;
      for (std::size_t v = 0; v < vents_.size(); ++v) {
        if (air.vent_of[v] != static_cast<int>(k)) continue;
        const air::Hole& hole = vents_[v].hole;
        sum += abs_Pa >= outside ? air::hole_flow_kg_s(hole, abs_Pa, outside, abs_Pa / (density(abs_Pa) * R))
                                 : -air::hole_flow_kg_s(hole, outside, abs_Pa, options_.temperature_K);
      }
      return sum;
    };
    // rho(p) V(p) + dt m'(p) = m: what stays and what leaves is what was there. Every term rises with p.
    const auto surplus = [&](double abs_Pa) {
      return density(abs_Pa) * volume(abs_Pa) + give.dt_s * outflow_kg_s(abs_Pa) - p.mass_kg;
    };
    const double crushed = p.isentrope * std::pow(p.mass_kg / least, g);  // at the least volume, nothing left
    double low = std::max(0.5 * (p.pressure_Pa + outside), 1e-6 * outside), high = std::max(crushed, outside);
    low = std::min(low, high);
    while (surplus(low) > 0.0) high = low, low *= 0.25;
    for (double next = 2.0 * low; next < high; next *= 2.0) {
      if (surplus(next) >= 0.0) {
        high = next;
        break;
      }
      low = next;
    }
    const double abs_Pa = root_of(surplus, low, high);
    p.pressure_Pa = abs_Pa - outside;
    p.vented_kg_s = outflow_kg_s(abs_Pa);
    p.mass_kg -= give.dt_s * p.vented_kg_s;
    air.vented_kg += give.dt_s * p.vented_kg_s;
  }
}

void AirUnderSheet::follow(std::span<const Vec3> area_m2, std::span<const Vec3> v_m_s, double dt_s, TrappedAir& air) {
  for (const int i : air.nodes)
    air.pockets[at(air.pocket_of[at(i)])].volume_m3 += dt_s * area_m2[at(i)].dot(v_m_s[at(i)]);
}

}  // namespace pellicle::forming
