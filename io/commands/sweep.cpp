// How are all cases of a sweep run, or one of them? Each by itself, so that none waits for another and a breakdown
// costs what one was at.
#include "io/commands/commands.h"
#include "io/commands/stop_on_signal.h"
#include "io/results/result_folder.h"
#include "io/sweep/gather.h"
#include "io/sweep/pool.h"
#include "io/sweep/scripts.h"
#include "io/sweep/sweep_folder.h"
#include "io/sweep/sweep_page.h"
#include "mesh/check.h"

#include <fmt/format.h>
#include <omp.h>

#include <algorithm>
#include <cstdio>
#include <exception>
#include <system_error>
#include <utility>

namespace pellicle::commands {
namespace {

namespace fs = std::filesystem;
using sweep::CaseState;
using sweep::Entry;
using sweep::State;
using sweep::SweepFolder;

constexpr int kDone = 0, kInternal = 1, kLimitBroken = 5;
/// A run that was told to stop is at most this long at its last checkpoint.
constexpr double kLetGo_s = 60.0;

fs::path folder_of(const std::optional<fs::path>& out, const cases::ParsedSweep& sweep) {
  return out.value_or(sweep.result_stem + "-sweep");
}

/// From its checkpoint if it has one that this program can go on from, else from the start.
int run_or_resume(const RunOptions& options, const SweepFolder& folder, const Entry& entry) {
  RunOptions run = options;
  run.case_path = folder.of(entry) / "case.toml";
  run.out = folder.results_of(entry);
  run.force = true;
  std::error_code ignored;
  if (fs::exists(*run.out / "checkpoint.h5", ignored)) {
    try {
      return resume_command(run);
    } catch (const Error& error) {
      if (error.fault().kind != Fault::Kind::kCase) throw;
      fmt::print(stderr, "warning: {}: begun anew\n", error.what());
    }
  }
  return run_command(run);
}

/// Runs one case and writes down how it went, also when it goes wrong: the error goes on to whoever called.
int run_and_record(const RunOptions& options, const SweepFolder& folder, const Entry& entry) {
  folder.forget(entry);  // until it is over the results alone tell how far it is
  try {
    const int exit_code = run_or_resume(options, folder, entry);
    folder.record(entry, {exit_code == kInterrupted ? State::kStopped : State::kDone, exit_code, ""});
    return exit_code;
  } catch (const Error& error) {
    folder.record(entry, {State::kFailed, error.exit_code(), error.what()});
    throw;
  } catch (const std::exception& error) {
    folder.record(entry, {State::kFailed, kInternal, error.what()});
    throw;
  }
}

std::string name_of(const SweepFolder& folder, const Entry& entry) {
  std::string text = fmt::format("case {}", entry.folder);
  for (std::size_t k = 0; k < entry.values.size(); ++k)
    text += fmt::format("{}{} {}", k == 0 ? ": " : ", ", folder.manifest().keys[k].path, entry.values[k]);
  return text;
}

bool is_over(const CaseState& state) { return state.state == State::kDone || state.state == State::kFailed; }

/// Of what is done or failed before: nothing is run.
int tell_again(const SweepFolder& folder, const Entry& entry, const CaseState& state, const RunOptions& options) {
  if (state.state == State::kFailed)
    throw Error({static_cast<Fault::Kind>(std::clamp(state.exit_code, 1, 4)), name_of(folder, entry),
                 fmt::format("a run that failed before, exit {} ({})", state.exit_code, state.error), "one run of each",
                 "mend what it says, or run it again as it is with --retry"});
  if (options.json)
    fmt::print("{}", results::read_file(folder.results_of(entry) / "summary.json"));
  else
    fmt::print("{} is done: {}\n", name_of(folder, entry), folder.results_of(entry).string());
  return state.exit_code;
}

/// Threads and jobs of a pool: together the free cores, unless told otherwise.
struct Share {
  int jobs, threads;
};
Share share_of(const SweepOptions& options, std::size_t cases) {
  const int cores = std::max(1, std::min(omp_get_max_threads(), omp_get_num_procs()));
  const int threads = options.threads.value_or(0);
  const int most = std::max<int>(1, static_cast<int>(std::min<std::size_t>(cases, 1024)));
  const int jobs = std::clamp(options.jobs > 0 ? options.jobs : threads > 0 ? cores / threads : cores, 1, most);
  return {jobs, threads > 0 ? threads : std::max(1, cores / jobs)};
}

void write_scripts(const SweepFolder& folder, const Share& share) {
  std::error_code ignored;
  const sweep::ScriptInput input{folder.manifest(), fs::canonical("/proc/self/exe", ignored).string(),
                                 fs::absolute(folder.path()).lexically_normal().string(), share.jobs, share.threads};
  sweep::write_whole(folder.path() / "slurm.sh", sweep::slurm_script(input));
  sweep::write_whole(folder.path() / "parallel.sh", sweep::parallel_script(input));
}

/// How many cases are how far.
struct Tally {
  int done = 0, failed = 0, left = 0, worst = kDone;
};
Tally tally_of(const SweepFolder& folder) {
  Tally tally;
  bool is_broken = false;
  for (const Entry& entry : folder.manifest().entries) {
    const CaseState state = folder.state_of(entry);
    if (state.state == State::kDone) ++tally.done;
    if (state.state == State::kFailed && ++tally.failed == 1) tally.worst = state.exit_code;
    if (!is_over(state)) ++tally.left;
    is_broken = is_broken || (state.state == State::kDone && state.exit_code == kLimitBroken);
  }
  if (tally.failed == 0 && is_broken) tally.worst = kLimitBroken;
  return tally;
}

/// Table, page and what is said at the end.
void write_gathered(const SweepFolder& folder, bool json) {
  folder.write_table();
  const sweep::Gathered gathered = sweep::gather(folder);
  sweep::write_whole(folder.path() / "sweep.csv", sweep::gathered_csv(gathered));
  sweep::write_whole(folder.path() / "sweep.html", sweep::sweep_page(gathered));
  if (json) {
    fmt::print("{}", sweep::gathered_json(gathered));
    return;
  }
  const Tally tally = tally_of(folder);
  fmt::print("{} of {} cases done, {} failed, {} to do\n", tally.done, gathered.rows.size(), tally.failed, tally.left);
  for (const sweep::Row& row : gathered.rows)
    if (row.state.state == State::kFailed)
      fmt::print("  {} failed, exit {}: {}\n", name_of(folder, row.entry), row.state.exit_code, row.state.error);
  fmt::print("side by side: {}, {}\n", (folder.path() / "sweep.html").string(), (folder.path() / "sweep.csv").string());
}

sweep::Job job_of(const SweepOptions& options, const SweepFolder& folder, const Entry& entry, int threads) {
  sweep::Job job{{"run", options.case_path.string(), "--case-index", std::to_string(entry.index), "--out",
                  folder.path().string(), "--threads", std::to_string(threads), "--quiet"},
                 folder.of(entry) / "log.txt"};
  if (options.strict) job.arguments.emplace_back("--strict");
  if (!options.save_every.empty()) job.arguments.insert(job.arguments.end(), {"--save-every", options.save_every});
  return job;
}

/// What a child could not write down itself.
void record_ending(const SweepFolder& folder, const Entry& entry, sweep::Ending ending) {
  if (is_over(folder.state_of(entry))) return;
  // A signal that was sent to it says nothing about the case; one it raised itself would come again.
  const bool was_sent = ending.signal == SIGKILL || ending.signal == SIGTERM || ending.signal == SIGINT;
  if (ending.signal != 0 && !was_sent)
    folder.record(entry, {State::kFailed, kInternal, fmt::format("internal: ended by signal {}", ending.signal)});
}

/// All that is not over yet. Returns whether someone asked to stop.
bool run_cases(const SweepOptions& options, const SweepFolder& folder, const Share& share) {
  std::vector<sweep::Job> jobs;
  std::vector<const Entry*> entries;
  for (const Entry& entry : folder.manifest().entries) {
    if (options.retry && folder.state_of(entry).state == State::kFailed) folder.forget(entry);
    if (is_over(folder.state_of(entry))) continue;
    jobs.push_back(job_of(options, folder, entry, share.threads));
    entries.push_back(&entry);
  }
  const std::size_t before = folder.manifest().entries.size() - jobs.size();
  if (!options.quiet && !jobs.empty())
    fmt::print(stderr, "{} cases to run, {} at once with {} thread{} each{}\n", jobs.size(), share.jobs, share.threads,
               share.threads == 1 ? "" : "s", before > 0 ? fmt::format("; {} were done before", before) : "");
  const StopOnSignal stop_on_signal;
  std::size_t over = before;
  sweep::PoolSinks sinks;
  sinks.stop = [] { return StopOnSignal::asked(); };
  sinks.ended = [&](std::size_t n, sweep::Ending ending) {
    record_ending(folder, *entries[n], ending);
    folder.write_table();
    const CaseState state = folder.state_of(*entries[n]);
    if (is_over(state)) ++over;
    if (!options.quiet)
      fmt::print(stderr, "{} {} ({} of {}){}\n", name_of(folder, *entries[n]), sweep::state_word(state.state), over,
                 folder.manifest().entries.size(), state.error.empty() ? "" : ": " + state.error);
  };
  sweep::run_pool(jobs, share.jobs, sinks);
  return StopOnSignal::asked();
}

}  // namespace

int run_case_of_sweep_command(const RunOptions& options, int index, bool retry) {
  const cases::ParsedSweep parsed = cases::parse_sweep(options.case_path);
  const int count = static_cast<int>(parsed.cases.size());
  if (index < 1 || index > count)
    throw Error({Fault::Kind::kCase, "--case-index", std::to_string(index),
                 fmt::format("1 to {}, the cases of this sweep", count), ""});
  const SweepFolder folder(folder_of(options.out, parsed), parsed);
  const Entry& entry = folder.manifest().entries[static_cast<std::size_t>(index - 1)];
  const sweep::Lock lock(folder.of(entry) / "lock", kLetGo_s);
  if (!lock.held())
    throw Error({Fault::Kind::kCase, name_of(folder, entry), "another run of it that is at work", "one at a time",
                 "wait for it"});
  if (retry && folder.state_of(entry).state == State::kFailed) folder.forget(entry);
  const CaseState state = folder.state_of(entry);
  return is_over(state) ? tell_again(folder, entry, state, options) : run_and_record(options, folder, entry);
}

int sweep_command(const SweepOptions& options) {
  if (options.gather_only) {
    write_gathered(SweepFolder(options.case_path), options.json);
    return kDone;
  }
  const cases::ParsedSweep parsed = cases::parse_sweep(options.case_path);
  const SweepFolder folder(folder_of(options.out, parsed), parsed);
  const sweep::Lock lock(folder.path() / "lock", 0.0);
  if (!lock.held())
    throw Error({Fault::Kind::kCase, fmt::format("sweep folder '{}'", folder.path().string()),
                 "another sweep that is at work there", "one at a time",
                 "wait for it, or give it more at once with --jobs"});
  const Share share = share_of(options, parsed.cases.size());
  write_scripts(folder, share);
  folder.write_table();
  if (options.scripts_only) {
    fmt::print(
        "{} cases are laid out in {}. Nothing was run.\n  sbatch {}\n  sh {}\nand when they are done\n"
        "  pellicle sweep {} --gather\n",
        parsed.cases.size(), folder.path().string(), (folder.path() / "slurm.sh").string(),
        (folder.path() / "parallel.sh").string(), folder.path().string());
    return kDone;
  }
  const bool stopped = run_cases(options, folder, share);
  write_gathered(folder, options.json);
  const Tally tally = tally_of(folder);
  if (tally.left == 0) return tally.worst;
  fmt::print(stderr, "{}; what is done stays done. To go on give the same command again\n",
             stopped ? "stopped" : "some cases were cut off");
  return kInterrupted;
}

}  // namespace pellicle::commands
