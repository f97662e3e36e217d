// Does the program give the known answers on this machine?
#include "io/verify/verify.h"
#include "io/case/parse.h"
#include "io/moulds/load.h"
#include "io/moulds/stl.h"
#include "mesh/check.h"
#include "solver/run.h"

#include <fstream>
#include <system_error>

namespace pellicle::verify {
namespace {

namespace fs = std::filesystem;

void write_file(const fs::path& path, const std::string& bytes) {
  std::ofstream file(path, std::ios::binary | std::ios::trunc);
  file.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  file.close();
  if (!file)
    throw Error({Fault::Kind::kCase, path.string(), "a file that cannot be written", "a folder with room in it",
                 "give another folder with --out"});
}

}  // namespace

Verdict run_problem(const Problem& problem, const fs::path& folder, int threads, const forming::Sinks& sinks) {
  std::error_code problem_of_folder;
  fs::create_directories(folder, problem_of_folder);
  if (problem_of_folder)
    throw Error({Fault::Kind::kCase, folder.string(), "a folder that cannot be made", "a folder one may write in",
                 "give another folder with --out"});
  write_file(folder / "case.toml", problem.case_text);
  if (problem.mould) write_file(folder / "mould.stl", moulds::stl_bytes(*problem.mould));

  const cases::ParsedCase parsed = cases::parse_case(folder);
  Case c = parsed.value;
  c.numerics.threads = threads;
  Geometry geometry;
  if (parsed.mould) geometry.mould = moulds::load_surface(*parsed.mould).mesh;
  Outcome outcome{};
  outcome.clamp_m = c.sheet.height_m;
  forming::Sinks inner = sinks;
  inner.frame = [&](const forming::Frame& frame) {
    outcome.pressure_Pa = frame.pressure_Pa;
    outcome.swept_volume_m3 = frame.swept_volume_m3;
    outcome.points_m.assign(frame.points_m.begin(), frame.points_m.end());
    outcome.flat_m.assign(frame.flat_m.begin(), frame.flat_m.end());
    outcome.thickness_m.assign(frame.thickness_m.begin(), frame.thickness_m.end());
    outcome.stretch_1.assign(frame.stretch_1.begin(), frame.stretch_1.end());
    outcome.gap_m.assign(frame.gap_m.begin(), frame.gap_m.end());
  };
  inner.history = [&](const forming::HistoryRow& row) { outcome.history.push_back(row); };
  const CaseResult result = run(c, geometry, inner);
  return {problem.name, problem.title,  result.elements,
          result.steps, result.seconds, result.ending == Ending::kDone ? problem.judge(outcome) : std::vector<Check>{}};
}

}  // namespace pellicle::verify
