// How warm does the mould get, part after part, and how fast may it be used?
//
// docs/theory/mould_strength.md.
#pragma once

#include "solver/checks/first_findings.h"
#include "solver/checks/mould_load.h"
#include "solver/checks/mould_spec.h"
#include "solver/mould/body_heat.h"

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace pellicle::checks {

/// Asked between and within solutions of equations; true: throws mould::Stopped.
using MouldStop = std::function<bool()>;

/// Of the face at which a sheet first meets a mould: that of two half-spaces in perfect contact, (e1 T1 + e2 T2)/(e1 +
/// e2) (Carslaw & Jaeger, Conduction of Heat in Solids, 2.7).
double touch_K(const sheet::HeatMaterial& polymer, double sheet_K, const ResinSpec& resin, double mould_K);

/// The mould in its periodic state, and on the way there.
class MouldWarmth {
 public:
  /// Error as mesh::voxels_of and mould::BodyHeat::periodic; needs build.polymer.
  MouldWarmth(const Formed& formed, const MouldBuild& build, const MouldStop& stop);

  double cell_m() const { return heat_.solid().cell_m; }
  /// Mean over cycle and shell.
  double shell_K() const { return shell_K_; }
  /// Mean over the shell of each place's hottest moment: the peak of its bulk.
  double shell_peak_K() const { return shell_peak_K_; }
  /// Per triangle of the mould: the hottest of the cycle, the first moment of touch counted; NaN on the platform.
  const std::vector<double>& surface_K() const { return surface_K_; }
  /// Hottest of the cycle at a place in the mould.
  double peak_K(const mesh::Vec3& place_m) const;

  struct Part {
    double mean_K, hottest_K;  ///< of the mould, weighted with heat capacity; of its surface's cells
  };
  Part first() const;
  Part fiftieth() const;
  /// Any part with every one before it: what fiftieth() is held against; slow.
  Part followed(int number) const;

  /// Mean under the sheet of the surface as the next sheet finds it: with the first part build.start_K, later as far
  /// towards the long series as the mould's mean is.
  double met_K(std::size_t part) const;

  /// Shortest time open that keeps the same mould of another resin below limit_K, by the averaged exchange alone, off
  /// as much as it was for this one. None: not even an hour is foretold to do [s].
  std::optional<double> foretold_open_s(const ResinSpec& resin, double limit_K) const;

  /// shell_K() if the press is open for another time: by the averaged exchange, led from the state that was followed.
  double shell_K_with(double open_s) const;
  /// The same, followed through.
  double followed_shell_K(double open_s) const;
  double cycle_s(double open_s) const { return stages_s_ + build_.hold_s + open_s; }

 private:
  std::vector<mould::HeatPhase> phases(double open_s) const;
  double shell_mean_K(const std::vector<double>& node_K) const;
  void find_surface(const Formed& formed);
  Part part(std::size_t number) const;

  MouldBuild build_;
  double stages_s_, sheet_K_;
  bool is_followed_;  ///< the forming result knows temperatures
  mesh::TriangleMesh surface_;
  std::vector<Cover> cover_;
  mesh::Voxels cells_;
  mould::BodyHeat heat_;
  mould::HeatResult settled_;
  std::vector<mould::CycleHeat> history_;  ///< of the first parts
  double shell_K_ = 0.0, shell_peak_K_ = 0.0, steady_K_ = 0.0;
  std::vector<double> surface_K_;
};

/// Shortest time open, no shorter than a second, with which the shell's mean stays below the limit. `foretold_K` falls
/// with the time open and is quick; `followed_K` is asked of what is found, whose difference to the foretold corrects
/// the next try, four times. None: not even an hour is foretold to do. What is kept has to be asked of shell_K.
struct Pace {
  double open_s, shell_K;  ///< followed
  bool keeps(double limit_K) const;
};
std::optional<Pace> quickest_pace(const std::function<double(double open_s)>& foretold_K,
                                  const std::function<double(double open_s)>& followed_K, double limit_K);

/// id mould_temperature. Value: mean of the shell over the cycle in a long series, in degrees C; limit: where the resin
/// gives way under working_Pa. Passes if that and the surface's peak stay below it at the card's low end.
/// A working_Pa of 0 is one that is not known: never a pass. Beyond the 1.80 MPa of cards a miss of the limit fails
/// only where the card's temperature at 1.80 MPa is passed too.
Finding mould_temperature(const MouldWarmth& warmth, const Formed& formed, const MouldBuild& build, double working_Pa);
/// What plaster behind a hollow mould makes of its temperatures: followed once more. `filled` is the same mould with
/// it.
std::string plaster_heat_text(const MouldWarmth& hollow, const MouldWarmth& filled);
/// The same without an answer.
Finding no_mould_temperature(std::string why, std::string advice);

}  // namespace pellicle::checks
