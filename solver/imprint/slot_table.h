// How deep does a stretched sheet go into a long straight slot?
//
// docs/theory/press.md. A table made once by the press on a strip.
#pragma once

namespace pellicle::imprint {

/// Phi of a slot of this width over the current thickness, in a sheet with these stretches across and along the slot:
/// depth in its middle = Phi p w/(4 G), linear theory, slots at a pitch of 5 w on a flat mould, neo-Hookean.
///
/// Good to 0.8 % for width_over_thickness 1/8 to 16 and across^2 along 1 to 64; narrower counts as 1/8 (a half-space),
/// wider goes on with the last power. A sheet that its stretches would leave compressed across the slot counts as one
/// without tension. The first call makes the table, some tenths of a second. Throws Error (case) for a ratio or
/// stretch that is none or a stretch above that range.
double slot_factor(double width_over_thickness, double stretch_across, double stretch_along);

}  // namespace pellicle::imprint
