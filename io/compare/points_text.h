// How is a part that was measured told? For the terminal, as JSON and as a table.
#pragma once

#include "io/compare/points.h"
#include "solver/what_if.h"

#include <string>
#include <vector>

namespace pellicle::compare {

/// One cause that was asked for by forming the case again.
struct Asked {
  WhatIf what;
  fit::Cause cause;
};

/// A result held against measured walls.
struct MeasuredPart {
  std::string folder, table, title;
  double gauge_m;  ///< of the sheet, as the case has it
  std::vector<PointAnswer> answers;
  fit::Misfit misfit;
  bool was_explained = false;
  std::vector<Asked> causes;
  std::vector<std::string> notes;  ///< what else a reader has to know
};

/// What the walls say, in sentences: the factor, what is left, the causes. For page and terminal.
std::vector<std::string> sentences(const MeasuredPart& part);
/// "-0.012 mm (-3.1 %)".
std::string error_text(const PointAnswer& answer);

/// The person's own name for it, or its line: "measured.csv:4".
std::string name_text(const PointAnswer& answer);
/// "1.00, -2.50, 4.00": the place on the formed sheet.
std::string place_mm_text(const PointAnswer& answer);

/// All points where they fit on a screen, else the worst, those that count first.
std::vector<const PointAnswer*> shown(const std::vector<PointAnswer>& answers);

std::string words(const MeasuredPart& part);
std::string json_text(const MeasuredPart& part);
/// compare.csv; opens with results::kMeasuredTable.
std::string csv(const MeasuredPart& part);

}  // namespace pellicle::compare
