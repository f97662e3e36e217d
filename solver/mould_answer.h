// Does the printed mould of a case bear pressure and heat, part after part?
#pragma once

#include "solver/case.h"
#include "solver/checks/finding.h"
#include "solver/forming/forming_result.h"
#include "solver/forming/frame.h"
#include "solver/mould/rigid_mould.h"
#include "solver/reliefs.h"

#include <functional>
#include <optional>
#include <vector>

namespace pellicle {

/// One value a triangle of the mould; empty or NaN where there is none.
struct MouldBodyField {
  std::vector<double> shift_m;       ///< largest of its places
  std::vector<double> stress_share;  ///< of the strength at temperature, of the shell at and behind it
  std::vector<double> peak_K;        ///< hottest of the cycle in a long series
};

struct MouldAnswer {
  std::vector<checks::Finding> findings;  ///< ids mould_..., docs/result_format.md
  MouldBodyField field;
  std::optional<double> fiftieth_meets_K;  ///< surface of the mould as the fiftieth sheet finds it
  bool stopped = false;                    ///< then nothing else is in it
};

/// Needs c.mould->build and a mould surface. What cannot be cut or solved becomes a finding in doubt, never an Error.
MouldAnswer answer_mould(const Case& c, const mould::RigidMould& mould, const forming::FormingResult& formed,
                         const forming::Sinks& sinks);

/// What the warmer mould does to fine detail: the reliefs once more, on a mould as warm as the fiftieth sheet finds it,
/// told in `answer`'s mould_temperature beside those of the first part, `first`. False if it was stopped.
bool tell_warm_detail(const Case& c, const std::vector<ReliefShape>& shapes, const mould::RigidMould& mould,
                      const forming::FormingResult& formed, const std::function<bool()>& stop,
                      const std::vector<checks::Finding>& first, MouldAnswer& answer);

}  // namespace pellicle
