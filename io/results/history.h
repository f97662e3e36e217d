// How did the run go, step by step? history.csv, one row as often as the solver says.
#pragma once

#include "io/results/result_folder.h"
#include "solver/forming/frame.h"

#include <string>

namespace pellicle::results {

/// Rows are kept (some hundred a run, 200 bytes each) and the file is written whole and renamed at each save: an
/// appended file could be cut in the middle of a row by a kill.
class History {
 public:
  explicit History(ResultFolder& folder) : folder_(folder) {}
  void add(const forming::HistoryRow& row);
  /// Writes the file if rows came since the last time.
  void save();

 private:
  ResultFolder& folder_;
  std::string text_;
  bool changed_ = true;
};

}  // namespace pellicle::results
