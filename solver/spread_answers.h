// How is a case answered again when one of its numbers has changed, with no more made anew than that number moves?
#pragma once

#include "solver/run.h"

namespace pellicle {

/// What a number may move. Everything after the first is asked on a sheet that is formed already.
enum class Anew {
  kAll,      ///< the forming, and every answer
  kAnswers,  ///< every answer
  kPart,     ///< whether the part tears, and how it comes off: tear, draft, undercut, release, shrinkage
  kMould     ///< whether the printed mould bears it: mould_...
};

/// `formed` is the end of a run of the same case but for numbers that the forming does not feel; kAll does not read it.
/// The findings are those of `run`, in its order; of kPart and kMould no others are there. Throws Error as `run` does.
CaseResult answer_again(const Case& c, const Geometry& geometry, Anew anew, const forming::Snapshot& formed,
                        const forming::Sinks& sinks);

}  // namespace pellicle
