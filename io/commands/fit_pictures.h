// How do measured points lie about what was fitted to them? As SVG.
#pragma once

#include "solver/fit/oscillation.h"
#include "solver/fit/uniaxial_law.h"

#include <span>
#include <string>

namespace pellicle::commands {

/// One measured number and its fit.
struct PointMisfit {
  std::string what;  ///< "stretch", "G' 130 °C 1/s": what `at` counts
  double at;
  double measured_MPa, fitted_MPa;
  double off;  ///< of the largest stress (tensile), or relative (oscillation)
  std::string note = {};
};

/// Nominal stress over stretch, the points and every law that was tried.
std::string tensile_picture(const fit::LawFits& laws, const fit::LawFit& taken, const std::string& temperature);
/// G' and G'' over the frequency at the reference temperature, points and fit, a panel each.
std::string sweeps_picture(std::span<const fit::DynamicPoint> points, const fit::OscillationFit& found);

}  // namespace pellicle::commands
