// How is a case run from its file to its results? The solver is given places to send to; everything else is here.
#include "solver/run.h"
#include "io/case/cards.h"
#include "io/case/parse.h"
#include "io/commands/answers.h"
#include "io/commands/commands.h"
#include "io/commands/inputs.h"
#include "io/commands/progress.h"
#include "io/commands/stop_on_signal.h"
#include "io/moulds/survey.h"
#include "io/results/checkpoint.h"
#include "io/results/frames.h"
#include "io/results/history.h"
#include "io/results/summary.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <cstdio>
#include <utility>
#include <vector>

namespace pellicle::commands {
namespace {

/// Everything of a run that goes to the folder.
struct Record {
  const cases::ParsedCase& parsed;
  const Geometry& geometry;
  std::optional<mesh::Vec3> open_at_m;  ///< where the mould is open
  results::ResultFolder& folder;
  results::FrameWriter frames{folder};
  results::History history{folder};

  void add(const forming::Frame& frame) {
    const bool is_first = frames.written() == 0;
    frames.write(frame);
    if (is_first) {
      folder.write("case.toml", parsed.text);
      if (geometry.mould) results::write_mould(folder, *geometry.mould);
    }
    history.save();
  }

  /// The mould again, with what the formed part says of it.
  void add(const checks::DemouldField& field, const MouldBodyField& body) {
    if (!geometry.mould) return;
    std::vector<results::TriangleField> fields;
    const auto put = [&](const char* name, std::vector<double> values, double factor, double offset) {
      for (double& value : values) value = factor * value + offset;
      if (!values.empty()) fields.push_back({name, std::move(values)});
    };
    put("draft_deg", field.draft_deg, 1.0, 0.0);
    put("undercut_mm", field.undercut_m, 1e3, 0.0);
    put("deflection_mm", body.shift_m, 1e3, 0.0);
    put("stress_share", body.stress_share, 1.0, 0.0);
    put("peak_temperature_C", body.peak_K, 1.0, -273.15);
    if (!fields.empty()) results::write_mould(folder, *geometry.mould, fields);
  }
};

CaseResult run_and_record(const Case& c, Record& record, ProgressLine& line) {
  forming::Sinks sinks;
  sinks.frame = [&](const forming::Frame& frame) { record.add(frame); };
  sinks.history = [&](const forming::HistoryRow& row) { record.history.add(row); };
  sinks.progress = [&](const forming::Progress& progress) { line.show(progress); };
  sinks.stop = [] { return StopOnSignal::asked(); };
  sinks.task = [&](const std::string& task) { line.show(task); };
  try {
    CaseResult result = cases::telling_lines(record.parsed, [&] { return run(c, record.geometry, sinks); });
    line.clear();
    record.history.save();
    return result;
  } catch (const Error& error) {
    line.clear();
    // Of a run that went wrong, the rows up to there are what one wants to see.
    if (error.fault().kind == Fault::Kind::kSolution && record.folder.started()) record.history.save();
    if (error.fault().kind != Fault::Kind::kSolution || !record.open_at_m) throw;
    Fault fault = error.fault();
    fault.advice = fmt::format("The mould is open round {}: the sheet may have come behind it. Close it first; else {}",
                               moulds::place_text(*record.open_at_m), fault.advice);
    throw Error(fault);
  }
}

int keep_checkpoint(const cases::ParsedCase& parsed, const Geometry& geometry, CaseResult result,
                    results::ResultFolder& folder) {
  const forming::Snapshot& snapshot = result.snapshot;
  const double time_s = snapshot.time_s;
  const std::int64_t step = snapshot.step;
  results::write_checkpoint(
      folder, {parsed.text, cases::kPolymerCards, cases::kResinCards, geometry.mould, std::move(result.snapshot)});
  fmt::print(stderr, "stopped at {:.4g} s, step {}; the state is in {}\n", time_s, step,
             (folder.path() / "checkpoint.h5").string());
  return kInterrupted;
}

}  // namespace

int run_command(const RunOptions& options) {
  const cases::ParsedCase parsed = cases::parse_case(options.case_path);
  Case c = parsed.value;
  if (options.threads) c.numerics.threads = *options.threads;

  results::ResultFolder folder(options.out.value_or(parsed.result_stem + "-results"), options.force,
                               input_files(parsed));

  ProgressLine line(options.quiet);
  Warnings warnings(line);
  const Inputs inputs = read_inputs(parsed, warnings);
  const Geometry& geometry = inputs.geometry;
  warnings.tell(cases::telling_lines(parsed, [&] { return check_geometry(c, geometry); }));

  const StopOnSignal stop_on_signal;
  Record record{parsed, geometry, inputs.open_at_m, folder};
  results::Summary summary;
  summary.title = c.title;
  summary.has_mould_file = geometry.mould.has_value();
  summary.result = run_and_record(c, record, line);
  warnings.tell(summary.result.warnings);
  if (options.profile) fmt::print(stderr, "{}", results::profile_text(summary.result.profile));
  if (summary.result.ending == Ending::kStopped) {
    return keep_checkpoint(parsed, geometry, std::move(summary.result), folder);
  }

  record.add(summary.result.mould_field, summary.result.body_field);
  summary.warnings = warnings.told();
  return give_answers(options, parsed, summary, folder);
}

}  // namespace pellicle::commands
