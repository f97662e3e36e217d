// What does the mould do to a node that wants to cross it?
#include "solver/forming/contact.h"

#include <Eigen/LU>

#include <cmath>

namespace pellicle::forming {
namespace {

using mesh::Vec3;
using mould::Plane;
using mould::Planes;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Least normal velocity a plane allows.
double floor_m_s(const Plane& plane, double dt_s) { return plane.gap_m > 0.0 ? -plane.gap_m / dt_s : 0.0; }

/// A crease that has come in deeper than is allowed, by up to so many `touch` lengths, is put out over about so many
/// steps. No node that sticks is put back by more than `kPutBack` in all: lifting it against the gas makes energy. One
/// that slides passes one place after another.
constexpr double kCrept = 10.0, kCreepSteps = 20.0, kPutBack = 30.0;

/// Of the landed length: where a node counts as being on its plane.
constexpr double kRoundOff = 1e-6;
/// Facets that turn by no more than 11 degrees bear a node as one.
constexpr double kFacet = 0.98;

/// Round-off against the speed at hand.
double slack_m_s(const Vec3& v) { return 1e-12 * v.norm(); }

bool holds(const Planes& planes, const Vec3& v, double dt_s, double slack) {
  for (int k = 0; k < planes.count; ++k)
    if (planes.at[at(k)].normal.dot(v) < floor_m_s(planes.at[at(k)], dt_s) - slack) return false;
  return true;
}

/// v = v* + lambda n with n.v = floor on one plane; false if it would have to pull, or if another plane is then
/// crossed.
bool try_plane(const Planes& planes, int chosen, const Vec3& wanted, double dt_s, Cleared& out) {
  const double slack = slack_m_s(wanted);
  const Plane& p = planes.at[at(chosen)];
  const double missing = floor_m_s(p, dt_s) - p.normal.dot(wanted);
  if (missing < -slack) return false;
  out.v_m_s = wanted + missing * p.normal;
  if (!holds(planes, out.v_m_s, dt_s, 1e3 * slack)) return false;
  out.push_m_s[at(chosen)] = std::fmax(0.0, missing);
  return true;
}

/// v = v* + sum lambda_k n_k with n_k.v = floor_k on the chosen planes; false likewise, or if they are nearly
/// dependent.
bool try_planes(const Planes& planes, const std::array<int, 3>& chosen, int m, const Vec3& wanted, double dt_s,
                Cleared& out) {
  const double slack = slack_m_s(wanted);
  Eigen::Matrix3d gram = Eigen::Matrix3d::Identity();
  Vec3 missing = Vec3::Zero();
  for (int i = 0; i < m; ++i) {
    const Plane& p = planes.at[at(chosen[at(i)])];
    missing[i] = floor_m_s(p, dt_s) - p.normal.dot(wanted);
    for (int j = 0; j < m; ++j) gram(i, j) = p.normal.dot(planes.at[at(chosen[at(j)])].normal);
  }
  constexpr double kNearlyDependent = 1e-10;  // of the Gram determinant, 1 for right angles
  if (gram.determinant() < kNearlyDependent) return false;
  const Vec3 lambda = gram.inverse() * missing;
  if (lambda.head(m).minCoeff() < -slack) return false;
  out.v_m_s = wanted;
  for (int i = 0; i < m; ++i) out.v_m_s += lambda[i] * planes.at[at(chosen[at(i)])].normal;
  if (!holds(planes, out.v_m_s, dt_s, 1e3 * slack)) return false;
  for (int i = 0; i < m; ++i) out.push_m_s[at(chosen[at(i)])] = std::fmax(0.0, lambda[i]);
  return true;
}

}  // namespace

Cleared clear_of(const Planes& planes, const Vec3& wanted, double dt_s) {
  Cleared out{.v_m_s = wanted};
  if (holds(planes, wanted, dt_s, 0.0)) return out;
  out.pushed = true;
  const int n = planes.count;
  for (int i = 0; i < n; ++i)  // most of all by far
    if (try_plane(planes, i, wanted, dt_s, out)) return out;
  for (int i = 0; i < n; ++i)
    for (int j = i + 1; j < n; ++j)
      if (try_planes(planes, {i, j, 0}, 2, wanted, dt_s, out)) return out;
  for (int i = 0; i < n; ++i)
    for (int j = i + 1; j < n; ++j)
      for (int k = j + 1; k < n; ++k)
        if (try_planes(planes, {i, j, k}, 3, wanted, dt_s, out)) return out;
  // Wedged between planes that no three describe: it stays where it is.
  out.v_m_s.setZero();
  out.push_m_s[0] = wanted.norm();
  return out;
}

ContactScale contact_scale(const SheetSpec& sheet) {
  return {.touch_m = 0.01 * sheet.thickness_m, .landed_m = 1e-5 * sheet.element_m, .near_m = 0.5 * sheet.element_m};
}

bool has_come_to_rest(const Friction& friction, const ContactScale& scale, const Planes& planes, const Vec3& x_m,
                      const Touch& touch) {
  if (!friction.stick || !touch.anchored || planes.count == 0 || touch.anchor_m != x_m) return false;
  const Plane& nearest = planes.at[0];
  // What has landed is off its plane by round-off, to either side.
  if (nearest.gap_m > scale.landed_m || nearest.gap_m < -kRoundOff * scale.landed_m) return false;
  if (nearest.distance_m > nearest.gap_m || nearest.by_crease) return false;
  for (int k = 1; k < planes.count && planes.at[at(k)].gap_m <= scale.landed_m; ++k)
    if (planes.at[at(k)].by_crease || !(planes.at[at(k)].normal.dot(nearest.normal) > kFacet)) return false;
  return true;
}

void rest(const Planes& planes, Touch& touch) {
  touch.touching = touch.pressed = 1;
  touch.normal = planes.at[0].normal;
}

Meeting meet(const Friction& friction, const ContactScale& scale, const Planes& planes, const Vec3& x_m,
             const Vec3& wanted, double dt_s, double time_s, Touch& touch) {
  Meeting m{.v_m_s = wanted};
  touch.pressed = touch.touching = 0;
  if (planes.count == 0 || planes.at[0].gap_m > scale.touch_m) touch.anchored = 0;
  if (planes.count == 0) return m;
  for (int k = 0; k < planes.count; ++k)
    if (!planes.at[at(k)].by_crease && planes.at[at(k)].gap_m <= scale.touch_m) touch.touching = 1;
  const Plane& nearest = planes.at[0];
  if (has_come_to_rest(friction, scale, planes, x_m, touch) && nearest.normal.dot(wanted) < 0.0) {
    const double inward = -nearest.normal.dot(wanted);
    m.v_m_s = Vec3::Zero();
    m.normal_m_s = inward * nearest.normal;
    m.tangential_m_s = -wanted - m.normal_m_s;
    m.load_m_s = inward;
    rest(planes, touch);
    return m;
  }
  const Cleared cleared = clear_of(planes, wanted, dt_s);
  m.v_m_s = cleared.v_m_s;
  m.normal_m_s = cleared.v_m_s - wanted;
  double load = 0.0;
  for (int k = 0; k < planes.count; ++k) {
    if (planes.at[at(k)].gap_m <= scale.landed_m) load += cleared.push_m_s[at(k)];
    const Plane& plane = planes.at[at(k)];
    if (plane.gap_m >= 0.0) continue;
    // Lifting a node to lower a crease tilts the triangle too: only what has crept in is put back, and slowly.
    if (!plane.by_crease) {
      m.put_back_m -= plane.gap_m * plane.normal;
    } else if (plane.gap_m > -kCrept * scale.touch_m &&
               (!friction.stick || touch.put_back_m < kPutBack * scale.touch_m)) {
      m.put_back_m -= plane.gap_m / kCreepSteps * plane.normal;
      touch.put_back_m -= plane.gap_m / kCreepSteps;
    }
  }
  // A node that refinement has made inside the mould is let out little by little: all at once would stretch the sheet
  // around it by a percent or more.
  if (touch.settling > 0 && !m.put_back_m.isZero(0.0)) m.put_back_m /= touch.settling--, touch.anchored = 0;
  // What it lies on is what pushes back most; the nearest plane may be an edge that only stands beside it.
  int bearing = 0;
  for (int k = 1; k < planes.count; ++k)
    if (cleared.push_m_s[at(k)] > cleared.push_m_s[at(bearing)]) bearing = k;
  const Vec3& normal = planes.at[at(bearing)].normal;
  touch.pressed = cleared.pushed ? 1 : 0;
  if (cleared.pushed) touch.normal = normal;
  if (touch.touching && std::isnan(touch.first_s)) touch.first_s = time_s;
  m.load_m_s = load;

  // Along the surface. It carries load, or sticks from before and has hardly lifted.
  if (load <= 0.0 && !(touch.anchored && nearest.gap_m <= scale.touch_m)) return m;
  const Vec3 along = m.v_m_s - normal.dot(m.v_m_s) * normal;
  Vec3 kept = Vec3::Zero();
  if (friction.stick) {
    if (!touch.anchored) touch.anchored = 1, touch.anchor_m = x_m;
    const Vec3 back = touch.anchor_m - x_m;
    kept = (back - normal.dot(back) * normal) / dt_s;
  } else {
    const double speed = along.norm(), limit = friction.coefficient * load;
    if (speed > limit) kept = along * (1.0 - limit / speed), m.slid = true;
  }
  const Cleared after = clear_of(planes, m.v_m_s - along + kept, dt_s);
  const double crawl = 1e-6 * scale.landed_m;  // round-off, not motion: let what sticks stand still to the last bit
  const bool stands = friction.stick && load > 0.0 && after.v_m_s.norm() * dt_s < crawl;
  const Vec3 v = stands ? Vec3(Vec3::Zero()) : after.v_m_s;
  if (stands && m.put_back_m.isZero(0.0)) touch.anchor_m = x_m;  // it may have come down beside it, by round-off
  m.tangential_m_s = v - m.v_m_s;
  m.v_m_s = v;
  return m;
}

}  // namespace pellicle::forming
