// How thick is the wall predicted where a person measured it? Each measured point on the formed sheet, or why not.
#pragma once

#include "io/measured/thickness_table.h"
#include "mesh/locate.h"
#include "solver/fit/thickness_causes.h"

#include <span>
#include <string>
#include <vector>

namespace pellicle::compare {

/// A formed sheet to look things up on. N nodes.
class SheetLookup {
 public:
  SheetLookup(mesh::TriangleMesh face, std::span<const mesh::Vec2> flat_m, std::vector<double> thickness_m);

  const mesh::TriangleMesh& face() const { return formed_.mesh(); }
  const mesh::Nearest& formed() const { return formed_; }
  const mesh::Nearest& flat() const { return flat_; }
  const std::vector<double>& thickness_m() const { return thickness_m_; }

 private:
  mesh::Nearest formed_, flat_;
  std::vector<double> thickness_m_;
};

/// What the sheet says at one measured point.
struct PointAnswer {
  measured::ThicknessPoint point;
  mesh::Vec3 place_m = mesh::Vec3::Zero();  ///< on the formed sheet
  /// From the point to that place: to the face that met the mould, so up to a wall more for points taken on the free
  /// face. Of a mark on the flat sheet: how far it is from where it was found on the part; NaN if that is not told.
  double distance_m = 0.0;
  double predicted_m = 0.0;
  std::string left_out;  ///< why it does not count; empty: it does

  bool counts() const { return left_out.empty(); }
  double error_m() const { return predicted_m - point.thickness_m; }
};

/// Farther from the sheet than this a point is not of this part, or not in the mould's coordinates.
inline constexpr double kWithin_m = 2e-3;

/// By the mark on the flat sheet where the point has one, else by the nearest place within `within_m`.
PointAnswer answer_at(const measured::ThicknessPoint& point, const SheetLookup& sheet, double within_m);

/// All of them. Throws Error (case), at the first one's line, if none counts.
std::vector<PointAnswer> answers_at(std::span<const measured::ThicknessPoint> points, const SheetLookup& sheet,
                                    double within_m);

/// Those that count.
std::vector<fit::Wall> walls_of(std::span<const PointAnswer> answers);
/// The predictions at the same places on the same part formed otherwise: those that count, in their order.
std::vector<double> predicted_on(std::span<const PointAnswer> answers, const SheetLookup& otherwise);

}  // namespace pellicle::compare
