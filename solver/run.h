// What does one case answer? Mesh, form, screen the detail, check: from a validated case to findings.
#pragma once

#include "mesh/triangle_mesh.h"
#include "solver/case.h"
#include "solver/checks/demould.h"
#include "solver/checks/finding.h"
#include "solver/forming/forming.h"
#include "solver/forming/frame.h"
#include "solver/forming/snapshot.h"
#include "solver/mould_answer.h"
#include "solver/reliefs.h"
#include "solver/vents.h"

#include <optional>
#include <string>
#include <vector>

namespace pellicle {

/// The mould in its own coordinates, placed and welded, in metres; and what the reliefs of the case look like.
struct Geometry {
  std::optional<mesh::TriangleMesh> mould;               ///< none: free inflation, or the platform alone
  std::vector<ReliefShape> reliefs = {};                 ///< one for each relief of the case
  std::optional<sheet::TemperatureMap> heater_map = {};  ///< what an uneven heater left; counts where heat is followed
};

using forming::StageReport;
using forming::StageTime;

/// How a run ended.
enum class Ending { kDone, kStopped };

struct CaseResult {
  Ending ending = Ending::kDone;
  std::vector<checks::Finding> findings;
  std::vector<ReliefResult> reliefs;
  checks::DemouldField mould_field;  ///< empty without a mould surface
  std::vector<VentPoint> vents;      ///< of the mould, and advised
  MouldBodyField body_field;         ///< empty where the mould's wall and resin are not told
  std::vector<forming::StageReport> stages;
  std::vector<std::string> warnings;
  int elements = 0, nodes = 0;
  int final_elements = 0;            ///< after refinement
  std::int64_t element_updates = 0;  ///< sum of the number of elements over the steps
  std::int64_t steps = 0;
  double seconds = 0;
  forming::Penetration penetration;  ///< worst place of the mould through the sheet at the end
  double worst_balance = 0;          ///< largest |balance| of the ledger
  double min_mesh_quality = 0;
  std::vector<forming::StageTime> profile;  ///< time of each line of the loop, and of the reliefs
  forming::Snapshot snapshot;               ///< the last state; what a checkpoint needs after kStopped
};

/// Checks that a run needs before it starts: does the mould cut the flat sheet, is there anything to form, do the
/// reliefs lie on the mould?
/// Throws Error (geometry) with coordinates. Returns warnings.
std::vector<std::string> check_geometry(const Case& c, const Geometry& geometry);

/// What a run will cost, before it is started.
struct Cost {
  int elements, nodes;
  double min_mesh_quality;
  std::int64_t steps;
  double seconds;                    ///< rough, if nothing were refined
  double most_seconds;               ///< if all of the sheet were, down to its smallest elements
  double heat_share = 0.0;           ///< of these, for heat and what the layers remember
  std::optional<double> sag_m = {};  ///< how deep the sheet hangs before the first stage; none: not asked
};
Cost estimate_cost(const Case& c, const Geometry& geometry);

/// Runs the case. Throws Error: geometry before the first step, solution (exit 4) when the run cannot be trusted.
/// On an Error of kind kSolution the last good frame has been sent to the frame sink. `from`: a snapshot of this very
/// case to go on from, with the same bits as if it had never stopped.
CaseResult run(const Case& c, const Geometry& geometry, const forming::Sinks& sinks,
               const forming::Snapshot* from = nullptr);

/// The reliefs of the case alone, each of which has a state: nothing is formed, and of `sinks` only stop is asked.
/// Throws Error as answer_reliefs does.
CaseResult run_reliefs(const Case& c, const Geometry& geometry, const forming::Sinks& sinks);

}  // namespace pellicle
