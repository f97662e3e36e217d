// What does the engineer read first? The whole answer on one page that opens from disk, offline.
#pragma once

#include "io/case/parse.h"
#include "io/report/recording.h"
#include "io/results/summary.h"

#include <string>
#include <vector>

namespace pellicle::report {

/// What the page tells of. Where nothing was formed, the recording is empty.
struct PageInput {
  const results::Summary& summary;
  const Recording& recording;
  const mesh::TriangleMesh* mould;                  ///< null: none
  const std::string& case_text;                     ///< as run
  const std::vector<cases::ResolvedValue>& values;  ///< with the sources of what comes from cards
};

/// The HTML document. It asks for nothing from outside, and says so to the browser. Same bytes for same input, but for
/// the seconds the run took.
std::string page(const PageInput& input);

}  // namespace pellicle::report
