// How does a round clamped sheet lie in a round mould?
#include "solver/reference/round_mould.h"
#include "solver/reference/meridian_walk.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <stdexcept>

namespace pellicle::reference {
namespace {

constexpr double kNever = 1.0;
constexpr double kLongest = 1.0 / 500;
const WalkEvent kNoEvent = [](double, const Row&) { return kNever; };

/// Where f(x) crosses zero between low and high; f(low) and f(high) differ in sign.
double bisect(const std::function<double(double)>& f, double low, double high) {
  const bool rising = f(low) < 0.0;
  for (int i = 0; i < 200 && high - low > 1e-13 * std::fabs(high); ++i) {
    const double middle = 0.5 * (low + high);
    ((f(middle) < 0.0) == rising ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

/// Scales a walk whose unit is the disc's radius.
Meridian finish(const ClampedDisc& disc, double load_Pa, const Row& end, double pole_stretch,
                std::vector<MeridianPoint> points) {
  const double a = disc.radius_m;
  return {.pressure_Pa = load_Pa * disc.thickness_m / a,
          .height_m = end[kZ] * a,
          .volume_m3 = end[kVolume] * a * a * a,
          .strain_energy_J = end[kEnergy] * a * a * disc.thickness_m,
          .pole_stretch = pole_stretch,
          .points = std::move(points)};
}

double unit_load(const Law& law, double pole_stretch) { return law(pole_stretch, pole_stretch).w1_Pa / pole_stretch; }

}  // namespace

Meridian in_sliding_cone(const ClampedDisc& disc, double wall_angle_rad, double pole_stretch) {
  const Law law = tension_field(disc.law);
  const WalkEvent to_wall = [&](double x, const Row& y) {
    return std::fmin(wall_angle_rad - y[kPhi], y[kR] / x - 1.0);
  };
  const WalkEvent to_clamp = [](double x, const Row& y) { return y[kR] / x - 1.0; };
  const double unit = unit_load(law, pole_stretch);
  const PoleStart far = leave_pole(law, {unit, {}}, pole_stretch);
  const Walk edge = walk(law, {unit, {}}, far.x, far.y, 1e3, to_wall);
  if (!edge.stopped) throw std::runtime_error("a sheet that reaches neither the cone nor its clamp");
  if (edge.l2() - 1.0 < 1e-9) return inflated_disc(disc, pole_stretch);
  const Walk rim = walk(law, {unit, 0.0}, edge.x, edge.y, 1e3, to_clamp);
  if (!rim.stopped) throw std::runtime_error("a cone without a clamp radius");

  const double load = unit * rim.x, contact = edge.x / rim.x;
  const PoleStart start = leave_pole(law, {load, {}}, pole_stretch);
  std::vector<MeridianPoint> points{{0.0, 0.0, 0.0, 0.0, pole_stretch, pole_stretch, false}};
  const Walk free =
      walk(law, {load, {}}, start.x, start.y, contact, kNoEvent, kLongest * contact, &points, disc.radius_m);
  const Walk end = walk(law, {load, 0.0}, contact, free.y, 1.0, kNoEvent, kLongest, &points, disc.radius_m);
  return finish(disc, load, end.y, pole_stretch, std::move(points));
}

Meridian in_sliding_cone_at(const ClampedDisc& disc, double wall_angle_rad, double pressure_Pa) {
  const auto excess = [&](double l) { return in_sliding_cone(disc, wall_angle_rad, l).pressure_Pa - pressure_Pa; };
  double high = 1.1;
  while (excess(high) < 0.0) {
    high = 1.0 + 1.2 * (high - 1.0);
    if (high > 50.0) throw std::runtime_error("no state in the cone at this pressure");
  }
  return in_sliding_cone(disc, wall_angle_rad, bisect(excess, 1.0 + (high - 1.0) / 1.2, high));
}

namespace {

/// Sheet in a cup that presses a disc of the floor of flat radius `floor` (in units in which the load is `unit`).
struct CupShot {
  double floor_x, edge_x, clamp_x;  ///< flat radii: floor contact, wall contact, clamp
  double depth_over_radius;
  double load_over_radius;  ///< p a/h0
};
CupShot shoot_cup(const Law& law, double pole_stretch, double floor_x) {
  const double unit = unit_load(law, pole_stretch);
  const WalkEvent to_wall = [](double, const Row& y) { return 0.5 * std::numbers::pi - y[kPhi]; };
  const WalkEvent to_clamp = [](double x, const Row& y) { return y[kR] / x - 1.0; };
  double x = floor_x;
  Row y{pole_stretch * floor_x, 0.0, 0.0, pole_stretch, 0.0, 0.0};
  if (!(floor_x > 0.0)) {
    const PoleStart start = leave_pole(law, {unit, {}}, pole_stretch);
    x = start.x, y = start.y;
  }
  const Walk edge = walk(law, {unit, {}}, x, y, x + 1e3, to_wall);
  if (!edge.stopped) throw std::runtime_error("a sheet that does not reach the wall of the cup");
  const Walk rim = walk(law, {unit, 0.0}, edge.x, edge.y, 1e3, to_clamp);
  if (!rim.stopped) throw std::runtime_error("a cup without a clamp radius");
  return {floor_x, edge.x, rim.x, rim.y[kZ] / rim.x, unit * rim.x};
}

}  // namespace

Meridian in_sliding_cup(const ClampedDisc& disc, double depth_m, double pressure_Pa) {
  const Law law = tension_field(disc.law);
  const double depth = depth_m / disc.radius_m, wanted = pressure_Pa * disc.radius_m / disc.thickness_m;
  // For each share of floor one stretch gives the depth; more floor takes more pressure.
  const auto stretch_for = [&](double floor_x) {
    double high = 1.3;
    const auto missing = [&](double l) { return shoot_cup(law, l, floor_x).depth_over_radius - depth; };
    while (missing(high) < 0.0) {
      high = 1.0 + 1.3 * (high - 1.0);
      if (high > 50.0) throw std::runtime_error("no state in a cup of this depth");
    }
    double low = 1.0 + (high - 1.0) / 1.3;
    while (missing(low) > 0.0) low = 1.0 + (low - 1.0) / 1.3;
    return bisect(missing, low, high);
  };
  const auto excess = [&](double floor_x) {
    return shoot_cup(law, stretch_for(floor_x), floor_x).load_over_radius - wanted;
  };
  double high = 0.1;
  if (excess(0.0) > 0.0) throw std::runtime_error("this pressure does not press the sheet on the floor");
  while (excess(high) < 0.0) high *= 1.5;
  const double floor_x = bisect(excess, 0.0, high), l = stretch_for(floor_x);
  const CupShot shot = shoot_cup(law, l, floor_x);

  const double load = shot.load_over_radius, floor = shot.floor_x / shot.clamp_x, edge = shot.edge_x / shot.clamp_x;
  std::vector<MeridianPoint> points{{0.0, 0.0, 0.0, 0.0, l, l, true},
                                    {floor * disc.radius_m, l * floor * disc.radius_m, 0.0, 0.0, l, l, true}};
  const Row start{l * floor, 0.0, 0.0, l, 0.0, std::numbers::pi * floor * floor * law(l, l).w_Pa};
  const Walk free = walk(law, {load, {}}, floor, start, edge, kNoEvent, kLongest, &points, disc.radius_m);
  const Walk end = walk(law, {load, 0.0}, edge, free.y, 1.0, kNoEvent, kLongest, &points, disc.radius_m);
  return finish(disc, load, end.y, l, std::move(points));
}

namespace {

using Two = std::array<double, 2>;

/// A stretch above one and a load above zero for which two things are right: Newton's method in the logarithms of
/// strain and load, with differences and halved steps. Throws std::runtime_error if it does not arrive.
Two solve_two(const std::function<Two(const Two&)>& misses, const Two& guess) {
  const auto f = [&](const Two& logs) { return misses({1.0 + std::exp(logs[0]), std::exp(logs[1])}); };
  const auto size = [](const Two& r) { return std::hypot(r[0], r[1]); };
  Two x{std::log(guess[0] - 1.0), std::log(guess[1])}, r = f(x);
  for (int i = 0; i < 60 && size(r) > 1e-10; ++i) {
    constexpr double kShift = 1e-6;
    const Two f0 = f({x[0] + kShift, x[1]}), f1 = f({x[0], x[1] + kShift});
    const double a = (f0[0] - r[0]) / kShift, b = (f1[0] - r[0]) / kShift;
    const double c = (f0[1] - r[1]) / kShift, d = (f1[1] - r[1]) / kShift;
    const double det = a * d - b * c;
    const Two step{-(d * r[0] - b * r[1]) / det, -(a * r[1] - c * r[0]) / det};
    double share = 1.0;
    Two next{}, there{};
    for (; share > 1e-6; share *= 0.5) {
      next = {x[0] + share * step[0], x[1] + share * step[1]};
      there = f(next);
      if (std::isfinite(size(there)) && size(there) < size(r)) break;
    }
    if (share <= 1e-6) break;
    x = next, r = there;
  }
  if (!(size(r) < 1e-7)) throw std::runtime_error("the sheet over a sphere: no state found");
  return {1.0 + std::exp(x[0]), std::exp(x[1])};
}

/// The free ring from the sphere's contact line to the clamp: what is wrong at x = 1 (radius, height), if its inner
/// edge is stretched to l1 and the load is this. Unit: the disc's radius.
Two ring_misses(const Law& law, double sphere, double angle, double contact_x, double l1, double load) {
  const Row y{sphere * std::sin(angle), -sphere * (1.0 - std::cos(angle)), -angle, l1, 0.0, 0.0};
  try {
    const Walk end = walk(law, {load, {}}, contact_x, y, 1.0, kNoEvent);
    return {end.y[kR] - 1.0, end.y[kZ]};
  } catch (const std::runtime_error&) {
    return {NAN, NAN};
  }
}

/// Sphere contact from the pole out to the angle, without friction.
Walk slide_on_sphere(const Law& law, double sphere, double angle, double pole_stretch,
                     std::vector<MeridianPoint>* points, double unit_m) {
  const Span on{0.0, -1.0 / sphere};
  const PoleStart start = leave_pole(law, on, pole_stretch);
  return walk(
      law, on, start.x, start.y, 1e3, [&](double, const Row& y) { return angle + y[kPhi]; },
      points ? kLongest : std::numeric_limits<double>::infinity(), points, unit_m);
}

constexpr double kFirstAngle = 0.05;

/// A first state, without a guess: for each stretch the smallest load that brings the ring up to the height of the
/// clamp, and of these the stretch with which it ends at the clamp's radius.
Two first_state(const Law& law, const std::function<Two(const Two&)>& misses) {
  const double mu = law(1.0 + 1e-6, 1.0 + 1e-6).w1_Pa / 6e-6;  // equibiaxial slope: 6 mu
  const auto load_for = [&](double l) {
    const auto low = [&](double load) { return misses({l, load})[1]; };
    double load = 1e-8 * mu;
    while (low(load) < 0.0) load *= 1.3;
    return bisect(low, load / 1.3, load);
  };
  const auto radius = [&](double log_strain) {
    const double l = 1.0 + std::exp(log_strain);
    return misses({l, load_for(l)})[0];
  };
  double high = std::log(1e-4);
  while (radius(high) < 0.0) high += 0.5;
  const double l = 1.0 + std::exp(bisect(radius, high - 0.5, high));
  return {l, load_for(l)};
}

}  // namespace

Meridian over_sliding_sphere(const ClampedDisc& disc, double sphere_radius_m, double pressure_Pa) {
  const Law law = tension_field(disc.law);
  const double sphere = sphere_radius_m / disc.radius_m, wanted = pressure_Pa * disc.radius_m / disc.thickness_m;
  const auto misses_at = [&](double angle) {
    return [&, angle](const Two& x) {
      const Walk edge = slide_on_sphere(law, sphere, angle, x[0], nullptr, 1.0);
      return ring_misses(law, sphere, angle, edge.x, edge.y[kL1], x[1]);
    };
  };
  const auto state_at = [&](double angle, const Two& guess) { return solve_two(misses_at(angle), guess); };
  // The angle of contact grows with the load. From a small one on by a share at a time, each state guessed from the two
  // before it: strain and load grow nearly as powers of the angle, at first about the second and the third.
  constexpr double kGrowth = 1.06;
  double angle = kFirstAngle;
  Two now = first_state(law, misses_at(angle));
  Two guess{1.0 + (now[0] - 1.0) * std::pow(kGrowth, 2.0), now[1] * std::pow(kGrowth, 3.0)};
  while (now[1] < wanted) {
    angle *= kGrowth;
    if (angle > 0.5 * std::numbers::pi) throw std::runtime_error("the sheet over a sphere: it covers the sphere");
    const Two next = state_at(angle, guess);
    guess = {1.0 + (next[0] - 1.0) * (next[0] - 1.0) / (now[0] - 1.0), next[1] * next[1] / now[1]};
    now = next;
  }
  const double theta = bisect([&](double t) { return state_at(t, now)[1] - wanted; }, angle / kGrowth, angle);
  const Two x = state_at(theta, now);

  std::vector<MeridianPoint> points{{0.0, 0.0, 0.0, 0.0, x[0], x[0], true}};
  const Walk edge = slide_on_sphere(law, sphere, theta, x[0], &points, disc.radius_m);
  const Walk end = walk(law, {x[1], {}}, edge.x, edge.y, 1.0, kNoEvent, kLongest, &points, disc.radius_m);
  return finish(disc, x[1], end.y, x[0], std::move(points));
}

namespace {

/// A free cap whose edge has the slope of the wall: its edge stretches and its pole stretch, in any unit.
struct Cap {
  double pole_stretch, l1, l2, load_x;  ///< load_x = p x_edge/h0
};
Cap cap_at_slope(const Law& law, double pole_stretch, double slope) {
  const double unit = unit_load(law, pole_stretch);
  const PoleStart start = leave_pole(law, {unit, {}}, pole_stretch);
  const Walk edge = walk(law, {unit, {}}, start.x, start.y, 1e3, [&](double, const Row& y) { return slope - y[kPhi]; });
  if (!edge.stopped) throw std::runtime_error("a free cap that does not reach the slope of the wall");
  return {pole_stretch, edge.y[kL1], edge.l2(), unit * edge.x};
}

/// Takes what has landed between the last point and this one into volume and energy, by the trapezoid; unit a.
void add_landed(const Law& law, double a, const MeridianPoint& p, std::vector<MeridianPoint>& points, Row& y) {
  const MeridianPoint& inner = points.back();
  const double dz = (p.z_m - inner.z_m) / a, r = 0.5 * (p.r_m + inner.r_m) / a;
  y[kVolume] += std::numbers::pi * r * r * dz;
  const auto energy = [&](const MeridianPoint& m) {
    return 2.0 * std::numbers::pi * m.flat_m / a * law(m.l1, m.l2).w_Pa;
  };
  y[kEnergy] += 0.5 * (energy(p) + energy(inner)) * (p.flat_m - inner.flat_m) / a;
  points.push_back(p);
}

}  // namespace

Meridian in_sticking_cone(const ClampedDisc& disc, double wall_angle_rad, double pressure_Pa) {
  const Law& law = disc.law;
  const double cosine = std::cos(wall_angle_rad), sine = std::sin(wall_angle_rad), a = disc.radius_m;
  const double wanted = pressure_Pa * a / disc.thickness_m;
  // First touch: the cap whose edge has the slope of the wall at the clamp, l2 = 1.
  double high = 1.05;
  const auto over = [&](double l) { return cap_at_slope(law, l, wall_angle_rad).l2 - 1.0; };
  while (over(high) < 0.0) high = 1.0 + 1.2 * (high - 1.0);
  const double touch = bisect(over, 1.0 + (high - 1.0) / 1.2, high);

  // Landing: dr = -cos b ds, ds = -l1 drho, r = rho l2 give d ln(rho) = dl2/(l1 cos b - l2); rho is the flat radius of
  // the cap. Trapezoid over small steps of the pole stretch, its error checked against a halved step in the tests.
  constexpr double kStep = 0.002;
  Cap cap = cap_at_slope(law, touch, wall_angle_rad), before = cap;
  double ln_rho = 0.0, s = 0.0;
  struct Landed {
    double rho, s;
    Cap cap;
  };
  std::vector<Landed> landed{{1.0, 0.0, cap}};
  const auto load_of = [](const Landed& l) { return l.cap.load_x / l.rho; };
  if (load_of(landed.back()) > wanted) throw std::runtime_error("this pressure does not press the sheet on the wall");
  for (double l = touch; load_of(landed.back()) < wanted;) {
    l *= 1.0 + kStep;
    if (l > 100.0) throw std::runtime_error("the sheet runs away in a mould as deep as it likes");
    before = cap;
    cap = cap_at_slope(law, l, wall_angle_rad);
    const auto rate = [cosine](const Cap& c) { return 1.0 / (c.l1 * cosine - c.l2); };
    const double rho_before = std::exp(ln_rho);
    ln_rho += 0.5 * (rate(before) + rate(cap)) * (cap.l2 - before.l2);
    const double rho = std::exp(ln_rho);
    s += 0.5 * (before.l1 + cap.l1) * (rho_before - rho);
    landed.push_back({rho, s, cap});
  }
  // The last state by straight line between the two around the wanted load.
  const Landed l0 = landed[landed.size() - 2], l1 = landed.back();
  const double share = (wanted - load_of(l0)) / (load_of(l1) - load_of(l0));
  const double l_end = l0.cap.pole_stretch + share * (l1.cap.pole_stretch - l0.cap.pole_stretch);
  const double rho_end = l0.rho + share * (l1.rho - l0.rho);
  landed.back() = {rho_end, l0.s + share * (l1.s - l0.s), cap_at_slope(law, l_end, wall_angle_rad)};

  std::vector<MeridianPoint> points{{0.0, 0.0, 0.0, 0.0, l_end, l_end, false}};
  const double load = landed.back().cap.load_x / rho_end;
  const PoleStart start = leave_pole(law, {load, {}}, l_end);
  const Walk free = walk(law, {load, {}}, start.x, start.y, rho_end, kNoEvent, kLongest * rho_end, &points, a);
  Row y = free.y;
  const double s_end = landed.back().s, z_edge = y[kZ];
  for (auto at = landed.rbegin(); at != landed.rend(); ++at) {
    const MeridianPoint p{at->rho * a,
                          at->rho * at->cap.l2 * a,
                          (z_edge + (s_end - at->s) * sine) * a,
                          wall_angle_rad,
                          at->cap.l1,
                          at->cap.l2,
                          true};
    add_landed(law, a, p, points, y);
  }
  y[kZ] = points.back().z_m / a;
  return finish(disc, load, y, l_end, std::move(points));
}

Meridian over_sticking_sphere(const ClampedDisc& disc, double sphere_radius_m, double pressure_Pa) {
  const Law law = tension_field(disc.law);
  const double sphere = sphere_radius_m / disc.radius_m, wanted = pressure_Pa * disc.radius_m / disc.thickness_m;
  // What lies below the first angle is as good as flat: its stretch there is that of the first free ring.
  const auto misses_at = [&](double angle, double contact_x) {
    return [&, angle, contact_x](const Two& x) { return ring_misses(law, sphere, angle, contact_x, x[0], x[1]); };
  };
  const auto edge_at = [&](double angle, double contact_x, const Two& guess) {
    return solve_two(misses_at(angle, contact_x), guess);
  };
  struct Landed {
    double angle, x;
    Two edge;  ///< l1, load
  };
  const double first_x = sphere * std::sin(kFirstAngle);
  const Two edge = first_state(law, misses_at(kFirstAngle, first_x));
  std::vector<Landed> landed{{kFirstAngle, first_x, edge}};
  while (landed.back().edge[1] < wanted) {
    // ds = sphere dtheta = l1 dx, by the midpoint rule.
    const Landed l = landed.back();
    const double step = std::fmin(0.005, 0.02 * l.angle), half_x = l.x + 0.5 * step * sphere / l.edge[0];
    const Two half = edge_at(l.angle + 0.5 * step, half_x, l.edge);
    const double x = l.x + step * sphere / half[0];
    if (l.angle + step > 0.5 * std::numbers::pi)
      throw std::runtime_error("the sheet over a sphere: it covers the sphere");
    landed.push_back({l.angle + step, x, edge_at(l.angle + step, x, half)});
  }
  const Landed l0 = landed[landed.size() - 2], l1 = landed.back();
  const double share = (wanted - l0.edge[1]) / (l1.edge[1] - l0.edge[1]);
  const double angle = l0.angle + share * (l1.angle - l0.angle), x = l0.x + share * (l1.x - l0.x);
  landed.back() = {angle, x, edge_at(angle, x, l0.edge)};

  const double a = disc.radius_m;
  std::vector<MeridianPoint> points{{0.0, 0.0, 0.0, 0.0, landed.front().edge[0], landed.front().edge[0], true}};
  Row y{};
  for (const Landed& l : landed) {
    const MeridianPoint p{l.x * a,
                          sphere * std::sin(l.angle) * a,
                          -sphere * (1.0 - std::cos(l.angle)) * a,
                          -l.angle,
                          l.edge[0],
                          sphere * std::sin(l.angle) / l.x,
                          true};
    add_landed(law, a, p, points, y);
  }
  y[kR] = points.back().r_m / a, y[kZ] = points.back().z_m / a, y[kPhi] = -angle, y[kL1] = landed.back().edge[0];
  const double load = landed.back().edge[1], pole_stretch = points.front().l1;
  const Walk end = walk(law, {load, {}}, x, y, 1.0, kNoEvent, kLongest, &points, a);
  return finish(disc, load, end.y, pole_stretch, std::move(points));
}

SlidingTrench in_sliding_trench(const Law& law, double half_width_m, double thickness_m, double pressure_Pa) {
  const double wanted = pressure_Pa * half_width_m / thickness_m, touch = 0.5 * std::numbers::pi;
  const auto excess = [&](double l) { return law(l, 1.0).w1_Pa - wanted; };
  if (excess(touch) > 0.0) throw std::runtime_error("this pressure does not press the sheet on the wall");
  double high = 2.0 * touch;
  while (excess(high) < 0.0) high *= 1.5;
  const double l = bisect(excess, touch, high);
  return {l, (l - touch) * half_width_m};
}

}  // namespace pellicle::reference
