// What is the program held against when it proves itself? Cases with an answer that owes nothing to the solver.
#pragma once

#include "mesh/triangle_mesh.h"
#include "solver/forming/frame.h"

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace pellicle::verify {

/// One number against another. Without expected and found it is the error of a field: rms or largest over its nodes.
struct Check {
  std::string name;    ///< "height"
  std::string source;  ///< where the expected value comes from
  std::string unit;    ///< of expected and found
  std::optional<double> expected, found;
  double error;    ///< relative
  double allowed;  ///< largest |error|
  bool passed() const { return error <= allowed && error >= -allowed; }
};

/// What a run leaves for its judge: the last frame and the rows of history, copied.
struct Outcome {
  double clamp_m;
  double pressure_Pa, swept_volume_m3;
  std::vector<mesh::Vec3> points_m;
  std::vector<mesh::Vec2> flat_m;
  std::vector<double> thickness_m, stretch_1;
  std::vector<double> gap_m;
  std::vector<forming::HistoryRow> history;
};

/// A case as a user would write it, and its judge.
struct Problem {
  std::string name;       ///< "sliding-cone-ogden": also the name of its folder
  std::string title;      ///< in words
  bool quick;             ///< one of those of `--quick`
  std::string case_text;  ///< case.toml; its mould, if any, is mould.stl
  std::optional<mesh::TriangleMesh> mould;
  std::function<std::vector<Check>(const Outcome&)> judge;
};

/// All problems, with elements of radius/elements_on_radius.
std::vector<Problem> problems(double elements_on_radius);

}  // namespace pellicle::verify
