// How is a case run from its file to its results? The solver is given places to send to; everything else is here.
#include "solver/run.h"
#include "io/case/cards.h"
#include "io/case/parse.h"
#include "io/commands/commands.h"
#include "io/commands/progress.h"
#include "io/commands/stop_on_signal.h"
#include "io/moulds/survey.h"
#include "io/results/checkpoint.h"
#include "io/results/frames.h"
#include "io/results/history.h"
#include "io/results/summary.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>

namespace pellicle::commands {
namespace {

constexpr int kDone = 0, kLimitBroken = 5;

/// Warnings are told once, as they come.
class Warnings {
 public:
  explicit Warnings(ProgressLine& line) : line_(line) {}
  void tell(const std::vector<std::string>& warnings) {
    for (const std::string& warning : warnings) {
      if (std::find(told_.begin(), told_.end(), warning) != told_.end()) continue;
      line_.clear();
      fmt::print(stderr, "warning: {}\n", warning);
      told_.push_back(warning);
    }
  }
  const std::vector<std::string>& told() const { return told_; }

 private:
  ProgressLine& line_;
  std::vector<std::string> told_;
};

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
};

CaseResult run_and_record(const Case& c, Record& record, ProgressLine& line) {
  forming::Sinks sinks;
  sinks.frame = [&](const forming::Frame& frame) { record.add(frame); };
  sinks.history = [&](const forming::HistoryRow& row) { record.history.add(row); };
  sinks.progress = [&](const forming::Progress& progress) { line.show(progress); };
  sinks.stop = [] { return StopOnSignal::asked(); };
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

/// The limits a case can give, and the findings that answer them.
bool breaks_limit_of_case(const checks::Finding& finding, const Limits& limits) {
  const bool has_limit = (limits.min_thickness_m && finding.id == "thinnest_wall") ||
                         (limits.max_layer_line_m && finding.id == "layer_lines");
  return has_limit && finding.limit && finding.verdict == checks::Verdict::kFail;
}

void print_result(std::string_view text) {
  std::fwrite(text.data(), 1, text.size(), stdout);
  if (std::fflush(stdout) != 0 || std::ferror(stdout) != 0) {
    throw Error({Fault::Kind::kCase, "standard output", "a place that takes no more", "an open file or terminal",
                 "the results are whole in their folder"});
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

  std::vector<std::filesystem::path> inputs{parsed.file};
  if (parsed.mould) inputs.push_back(parsed.mould->path);
  results::ResultFolder folder(options.out.value_or(parsed.result_stem + "-results"), options.force, inputs);

  ProgressLine line(options.quiet);
  Warnings warnings(line);
  warnings.tell(parsed.warnings);
  Geometry geometry;
  std::optional<mesh::Vec3> open_at_m;
  if (parsed.mould) {
    moulds::Surface surface = moulds::load_surface(*parsed.mould);
    warnings.tell(surface.notes.notes);
    if (const auto doubt = moulds::unit_doubt(*parsed.mould, surface.notes, c.sheet.outline)) warnings.tell({*doubt});
    moulds::Survey survey = moulds::survey(surface.mesh, c.mould && c.mould->platform, moulds::Depth::kForARun);
    cases::telling_lines(parsed, [&] { survey.refuse_what_hinders(); });
    warnings.tell(survey.warnings(*parsed.mould));
    open_at_m = survey.open_at_m;
    geometry.mould = survey.mended ? std::move(*survey.mended) : std::move(surface.mesh);
  }
  warnings.tell(cases::telling_lines(parsed, [&] { return check_geometry(c, geometry); }));

  const StopOnSignal stop_on_signal;
  Record record{parsed, geometry, open_at_m, folder};
  results::Summary summary{c.title, run_and_record(c, record, line), {}, {}, geometry.mould.has_value()};
  warnings.tell(summary.result.warnings);
  if (options.profile) fmt::print(stderr, "{}", results::profile_text(summary.result.profile));
  if (summary.result.ending == Ending::kStopped) {
    return keep_checkpoint(parsed, geometry, std::move(summary.result), folder);
  }

  summary.warnings = warnings.told();
  for (const cases::ResolvedValue& value : parsed.not_used_yet) summary.not_used_yet.push_back(value.key);
  const std::string json = results::summary_json(summary);
  folder.write("summary.json", json);
  folder.remove("checkpoint.h5");
  if (options.json) {
    print_result(json);
  } else {
    const Terminal terminal = look_at(1);
    print_result(results::summary_text(summary, folder.path().string(), {terminal.colour, terminal.width}));
  }
  const bool is_broken = std::any_of(summary.result.findings.begin(), summary.result.findings.end(),
                                     [&](const auto& finding) { return breaks_limit_of_case(finding, c.limits); });
  return options.strict && is_broken ? kLimitBroken : kDone;
}

}  // namespace pellicle::commands
