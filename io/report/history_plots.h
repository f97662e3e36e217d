// How did the run go? Its history as line plots for the page.
#pragma once

#include "solver/forming/forming.h"
#include "solver/forming/frame.h"

#include <span>
#include <string>

namespace pellicle::report {

/// Pressure, thinnest wall, share in contact and energy over time, each a `figure` with an SVG. Empty for fewer than
/// two rows at different times.
std::string history_plots(std::span<const forming::HistoryRow> rows, std::span<const forming::StageReport> stages);

}  // namespace pellicle::report
