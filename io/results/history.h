// How did the run go, step by step? history.csv, one row as often as the solver says.
#pragma once

#include "io/results/result_folder.h"
#include "solver/forming/frame.h"

#include <functional>
#include <string>

namespace pellicle::results {

/// Rows are kept (some hundred a run, 200 bytes each) and the file is written whole and renamed at each save: an
/// appended file could be cut in the middle of a row by a kill.
class History {
 public:
  /// `there`: rows of this run that are in the folder's file already, of those it has the first. Throws Error (case) if
  /// there are fewer.
  explicit History(ResultFolder& folder, int there = 0);
  void add(const forming::HistoryRow& row);
  int rows() const { return rows_; }
  /// All rows so far, as the file has them (nine digits), in order.
  void replay(const std::function<void(const forming::HistoryRow&)>& sink) const;
  /// Writes the file if rows came since the last time.
  void save();

 private:
  ResultFolder& folder_;
  std::string text_;
  int rows_ = 0;
  bool changed_ = true;
};

}  // namespace pellicle::results
