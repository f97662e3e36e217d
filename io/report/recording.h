// What of a run is kept for its report? A few moments of the sheet, and the rows of the history.
#pragma once

#include "solver/forming/frame.h"

#include <string>
#include <vector>

namespace pellicle::report {

/// One value a node, in the unit a person reads.
struct Field {
  std::string key;   ///< "thickness"
  std::string name;  ///< "thickness"
  std::string unit;  ///< "mm"
  std::vector<double> values;
};

/// One moment of the sheet. N nodes, M triangles.
struct Moment {
  double time_s = 0.0;
  std::string stage;
  double pressure_Pa = 0.0, swept_volume_m3 = 0.0;
  std::vector<mesh::Vec3> points_m;
  std::vector<mesh::Triangle> triangles;
  std::vector<Field> fields;  ///< of the last moment all; of the others the first two: thickness, contact pressure
};

/// Takes frames and rows as they come. Keeps the first and the last frame, and between them those over which the sheet
/// moved most, so that memory and page stay small however many frames the case asks for.
class Recording {
 public:
  static constexpr std::size_t kMostMoments = 8;
  void add(const forming::Frame& frame);
  void add(const forming::HistoryRow& row) { history_.push_back(row); }
  const std::vector<Moment>& moments() const { return moments_; }
  const std::vector<forming::HistoryRow>& history() const { return history_; }

 private:
  std::vector<Moment> moments_;
  std::vector<forming::HistoryRow> history_;
};

/// Leaves out the moment, neither first nor last, over which the sheet moved least (swept volume; of equals the
/// earliest). At least three moments.
void leave_out_one(std::vector<Moment>& moments);

/// The field of this key, or null.
const Field* find_field(const Moment& moment, const std::string& key);

}  // namespace pellicle::report
