// Which modes, which network and which time-temperature shift say what was measured on the hot polymer?
//
// docs/theory/relaxation.md. Each fit reports how far it is off; none invents what the data do not show.
#pragma once

#include "solver/sheet/polymer.h"
#include "solver/sheet/relaxation.h"

#include <span>
#include <vector>

namespace pellicle::fit {

/// Oscillation: G' and G'' at one frequency and temperature.
struct DynamicPoint {
  double angular_frequency_per_s;
  double storage_Pa, loss_Pa;
  double temperature_K;
};
/// Step strain: G at one time after it.
struct ModulusPoint {
  double time_s;
  double modulus_Pa;
  double temperature_K;
};

/// Relaxation times that may take part, equally spaced on a logarithmic axis, ends included.
struct TimeGrid {
  double shortest_s, longest_s;
  double per_decade = 2.0;
  bool with_network = false;  ///< and one that never relaxes
};

struct ModesFit {
  std::vector<sheet::RelaxationMode> modes;  ///< fastest first, at the reference temperature; none of modulus zero
  double network_Pa;                         ///< of a neo-Hookean network beside them; 0 without
  double rms_misfit;                         ///< of model/measured - 1, over all moduli
  int points;
};
/// Moduli >= 0 with the least sum of squared relative errors. Reduced frequency: w a_T. Throws Error (case) where a
/// number is not positive or there are fewer moduli than two.
ModesFit fit_modes(std::span<const DynamicPoint> points, const sheet::TimeShift& shift, const TimeGrid& grid);
/// The same of G(t); reduced time: t/a_T.
ModesFit fit_modes(std::span<const ModulusPoint> points, const sheet::TimeShift& shift, const TimeGrid& grid);

/// The times for which few modes must serve: from the touch to the cold part, at the reference temperature.
struct TimeWindow {
  double from_s, to_s;
};
/// The same G(t) over the window in few modes: neighbours are merged, what has died before the window is dropped, what
/// outlasts it joins the network if there is one, whichever costs least; then moduli and times are fitted together.
/// rms_misfit is against G(t) of `full`, ten points a decade.
ModesFit merged(const ModesFit& full, int modes, const TimeWindow& window);

/// log10 a_T at one temperature, from shifting curves on top of each other.
struct ShiftPoint {
  double temperature_K;
  double log10_factor;
};
struct WlfFit {
  double c1, c2_K;
  double rms_misfit;  ///< in decades
};
/// WLF constants at the reference temperature: c1 is linear, c2 is searched among those whose pole lies below all
/// points. Throws Error (case) with fewer than three points, or two temperatures besides the reference.
WlfFit fit_wlf(std::span<const ShiftPoint> points, double reference_K);

/// How a tensile test was run: the rate is of length over first length, or of its logarithm (Hencky).
enum class TensileRate { kNominal, kHencky };
struct TensilePoint {
  double stretch;  ///< > 1
  double nominal_stress_Pa;
  double rate_per_s;  ///< of the test this point belongs to
};
/// Nominal stress of uniaxial pull from rest, at rising stretches of one test [Pa].
std::vector<double> uniaxial_stress_Pa(const sheet::Polymer& network, std::span<const sheet::RelaxationMode> modes,
                                       std::span<const double> stretches, double rate_per_s, TensileRate kind);

enum class NetworkKind { kNeoHookean, kYeoh };
struct TensileFit {
  sheet::Polymer network;
  std::vector<sheet::RelaxationMode> modes;  ///< fastest first; none of modulus zero
  double rms_misfit;                         ///< over the largest stress measured
  int points;
};
/// Network and, if asked, modes from tests at one temperature and one or several rates, points of a rate in the order
/// of the test. Moduli are linear (c10, c30, g >= 0); times are searched between a tenth of the shortest and ten times
/// the longest time in the data. Tests at one rate hardly tell modes from network. Throws Error (case) where numbers
/// are out of range or too few.
TensileFit fit_tensile(std::span<const TensilePoint> points, TensileRate kind, NetworkKind network, int modes);

}  // namespace pellicle::fit
