// Which modes, network and shift does a table of G' and G'' call for, few enough for a card?
//
// docs/theory/relaxation.md, "From measurements". Moduli that are shifted in time alone; one shift for all modes.
#pragma once

#include "solver/fit/relaxation_modes.h"

#include <span>
#include <string>
#include <vector>

namespace pellicle::fit {

enum class ShiftSource {
  kGiven,      ///< one temperature: nothing to find
  kOneNumber,  ///< two: C1, at the C2 that was given
  kBoth        ///< three or more
};

struct OscillationFit {
  double reference_K;      ///< of modes, network and shift: the temperature measured nearest to the middle of all
  sheet::TimeShift shift;  ///< from there; limit and Arrhenius branch of the one given
  ShiftSource shift_source;
  double network_Pa;                         ///< never relaxes; at least kLeastNetwork of what is left after 1 s
  std::vector<sheet::RelaxationMode> modes;  ///< three at most, fastest first
  double rms_full;                           ///< relative, of all modes on the grid
  double rms_few;                            ///< relative, of the few over the points within their window
  TimeWindow window;                         ///< for which they stand, at reference_K
  std::vector<sheet::DynamicModulus> few;    ///< of the few modes and the network, at the points
  std::vector<char> in_window;               ///< whether 1/frequency at reference_K lies within it
  std::vector<std::string> remarks;
};

/// A network of nothing would let the sheet flow through the mould (and the loop asks for one).
inline constexpr double kLeastNetwork = 0.02;

/// Throws Error (case) for too few points, a range of less than a decade, G' that falls with the frequency, or numbers
/// that are none; what to do is said. `given`: the shift of the card that lends the rest.
OscillationFit fit_oscillation(std::span<const DynamicPoint> points, const sheet::TimeShift& given);

}  // namespace pellicle::fit
