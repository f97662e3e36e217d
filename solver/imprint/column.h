// What do the cells of one place of the sheet oppose to detail, from its touch on?
//
// docs/theory/heat.md, "Into the detail".
#pragma once

#include "solver/forming/forming_result.h"
#include "solver/sheet/heat_place.h"

#include <vector>

namespace pellicle::imprint {

/// Times after the touch are kFirst_s, then each kRatio times the one before; p and the skin change little in between.
inline constexpr double kFirst_s = 1e-3, kRatio = 1.3;

/// One column of the sheet on its way, and what its cells remember of the pressure. Where detail goes deeper in
/// proportion to the pressure, a mode bears g times h/p of it, dh = dp - h dxi/tau with xi the material's clock:
/// pressure on hot sheet is forgotten soon, pressure that comes when a cell is glass is not. `heat` has a law and must
/// outlive it. A copy goes its own way.
class Column {
 public:
  Column(const HeatSpec& heat, double bought_m, double touched_s, double thickness_m);

  /// At once, as it stands at the touch.
  void press(double pressure_Pa);
  /// Under a gas pressure that has come to this at the end of the step; a fall takes nothing back.
  void go_on(double step_s, bool on_mould, double pressure_Pa, const sheet::HeatFilm& free_side);

  double thickness_m() const { return place_.thickness_m(); }
  const HeatSpec& heat() const { return place_.heat(); }
  const sheet::HeatProfile& profile() const { return now_; }
  /// Secant modulus of each cell against detail in proportion to the pressure: network and what its modes still bear.
  std::vector<double> cell_Pa() const;
  /// Time on each cell's own clock since the column was made [s].
  const std::vector<double>& reduced_s() const { return reduced_s_; }

 private:
  sheet::HeatPlace place_;
  sheet::HeatProfile now_;
  std::vector<double> kept_Pa_;  ///< h, cells x modes
  std::vector<double> reduced_s_;
  double pressure_Pa_ = 0.0;  ///< the largest so far
};

/// Gas pressure of a run so far, linear between its rows; after the last as there. Needs pressed_s [Pa].
double pressure_at_Pa(const forming::FormingResult& formed, double time_s);
/// When the gas first stood within 1 % of its most [s]. Needs pressed_s.
double full_pressure_s(const forming::FormingResult& formed);
/// When it did so last; the end of the run where the gas is on until then [s]. Needs pressed_s.
double full_pressure_until_s(const forming::FormingResult& formed);

}  // namespace pellicle::imprint
