// What is a finding? One question of the engineer, answered with a number, a place and what to do.
#pragma once

#include "mesh/triangle_mesh.h"

#include <optional>
#include <string>
#include <vector>

namespace pellicle::checks {

enum class Verdict { kPass, kDoubt, kFail };

/// Between which values an answer may lie, the numbers it rests on being as little known as they are (solver/spread.h).
struct Band {
  double low, high;      ///< in the unit of the answer; low <= answer <= high
  std::string moved_by;  ///< the number that moves it most; empty: none moves it
  std::vector<std::string> moved_too =
      {};  ///< at most two more, that move it a third as far or farther; farthest first
};

struct Finding {
  std::string id;        ///< fixed word, see docs/result_format.md
  std::string question;  ///< in the engineer's words
  double value;          ///< in `unit`; NaN if there is no answer, then `why` says so
  std::string unit;      ///< "mm", "-", ...
  std::optional<double> limit = {};
  Verdict verdict = Verdict::kPass;
  std::optional<mesh::Vec3> place_m = {};
  std::string why = {};
  std::string uncertainty = {};
  std::string advice = {};
  std::optional<Band> band = {};        ///< none: not asked for, or not found
  std::optional<Band> limit_band = {};  ///< of the limit, where it rests on such numbers too
};

/// What stands in the place of a number that is not there.
inline const char* without_number(const Finding& finding) {
  return finding.verdict == Verdict::kPass ? "nothing found" : "no answer";
}

}  // namespace pellicle::checks
