// What does the mould do to a node that wants to cross it? It stops, sticks or slides; nothing is pushed by a spring.
//
// docs/theory/contact.md. On the predicted velocity v*: for every plane n, gap >= 0 the node may reach in this step,
//   n.v >= -gap/dt (it lands exactly), n.v >= 0 if the gap is already negative (then it is also put back).
#pragma once

#include "solver/forming/forming_spec.h"
#include "solver/forming/snapshot.h"
#include "solver/mould/rigid_mould.h"

namespace pellicle::forming {

/// The velocity closest to v* that keeps clear of all planes: a projection onto at most three of them, exact.
struct Cleared {
  mesh::Vec3 v_m_s;
  std::array<double, mould::Planes::kMost> push_m_s{};  ///< impulse over mass along each plane's normal, >= 0
  bool pushed = false;
};
Cleared clear_of(const mould::Planes& planes, const mesh::Vec3& wanted_m_s, double dt_s);

/// Lengths that decide what touching means, all fractions of the sheet.
struct ContactScale {
  double touch_m;   ///< a gap below this is touching: a hundredth of the bought thickness
  double landed_m;  ///< a gap below this carries load: a hundred-thousandth of the element
  double near_m;    ///< neighbourhood worth remembering: half the element
};
ContactScale contact_scale(const SheetSpec& sheet);

/// Most of a formed sheet: the node sticks where it stood, on one plane. While it is pressed against that it stays,
/// v = 0, whatever other planes there are.
bool has_come_to_rest(const Friction& friction, const ContactScale& scale, const mould::Planes& planes,
                      const mesh::Vec3& x_m, const Touch& touch);
/// What such a node remembers of it.
void rest(const mould::Planes& planes, Touch& touch);

/// What meeting the mould did to one node in one step.
struct Meeting {
  mesh::Vec3 v_m_s;                                ///< velocity that the node takes
  mesh::Vec3 put_back_m = mesh::Vec3::Zero();      ///< displacement without velocity, out of the mould
  mesh::Vec3 normal_m_s = mesh::Vec3::Zero();      ///< change of velocity by the normal impulses
  mesh::Vec3 tangential_m_s = mesh::Vec3::Zero();  ///< change by friction
  double load_m_s = 0.0;                           ///< normal impulse over mass, landing left out
  bool slid = false;
};
/// x at the start of the step, v* predicted, planes within reach. Updates what the node remembers.
Meeting meet(const Friction& friction, const ContactScale& scale, const mould::Planes& planes, const mesh::Vec3& x_m,
             const mesh::Vec3& wanted_m_s, double dt_s, double time_s, Touch& touch);

}  // namespace pellicle::forming
