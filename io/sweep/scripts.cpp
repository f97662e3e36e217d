// How is a sweep handed to many machines, or to a tool that starts jobs?
#include "io/sweep/scripts.h"

#include <fmt/format.h>

#include <algorithm>

namespace pellicle::sweep {
namespace {

/// One case, whose number is in the shell variable or placeholder `index`.
std::string run_line(const ScriptInput& input, const char* index, const char* threads) {
  return fmt::format("run {} --case-index {} --out {} --threads {} --quiet", shell_word(input.manifest.case_file),
                     index, shell_word(input.folder), threads);
}

/// A name that is safe in any script: letters, digits, dot, dash, underline.
std::string plain_name(std::string name) {
  std::replace_if(
      name.begin(), name.end(),
      [](char c) {
        const bool is_plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
        return !is_plain && c != '.' && c != '-' && c != '_';
      },
      '_');
  return name;
}

}  // namespace

std::string shell_word(const std::string& text) {
  std::string out = "'";
  for (const char c : text) out += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return out + "'";
}

std::string slurm_script(const ScriptInput& input) {
  // %% in a directive is Slurm's own; %4a is the number of the task.
  return fmt::format(R"(#!/bin/bash
# Which node runs which case of this sweep? Slurm's choice, one task of a job array a case:
#   sbatch slurm.sh
# Give it again after a breakdown: cases that are done end at once, others go on from their last checkpoint. Options of
# sbatch on the command line win over those below. The program, the case and this folder must be seen from every node.
#SBATCH --job-name={name}
#SBATCH --array=1-{count}%{jobs}
#SBATCH --cpus-per-task={threads}
#SBATCH --signal=B:USR1@90
#SBATCH --requeue
#SBATCH --open-mode=append
#SBATCH --output=slurm-%a.log

export OMP_NUM_THREADS="${{SLURM_CPUS_PER_TASK:-{threads}}}"
program="${{PELLICLE:-}}"
[ -n "$program" ] || program={program}

# USR1: the time limit is 90 s away. TERM: the task is cancelled, or has to make room. One of them asks the program for
# a checkpoint; more of them do no harm.
signals=0
out_of_time=no
pass_on() {{
  signals=$((signals + 1))
  kill -TERM "$child" 2>/dev/null
}}
trap 'out_of_time=yes; pass_on' USR1
trap pass_on TERM

"$program" {run} &
child=$!
# A signal ends a wait early, while the program is still writing.
while :; do
  seen=$signals
  wait "$child"
  code=$?
  [ "$seen" -eq "$signals" ] && break
done

# Stopped by the time limit: back into the queue, to go on from the checkpoint.
if [ "$out_of_time" = yes ] && [ "$code" -eq 130 ]; then
  scontrol requeue "${{SLURM_ARRAY_JOB_ID}}_${{SLURM_ARRAY_TASK_ID}}"
fi
exit "$code"
)",
                     fmt::arg("name", "pellicle-" + plain_name(input.manifest.result_stem)),
                     fmt::arg("count", input.manifest.entries.size()), fmt::arg("jobs", input.jobs),
                     fmt::arg("threads", input.threads), fmt::arg("program", shell_word(input.program)),
                     fmt::arg("run", run_line(input, "\"$SLURM_ARRAY_TASK_ID\"", "\"$OMP_NUM_THREADS\"")));
}

std::string parallel_script(const ScriptInput& input) {
  return fmt::format(R"(#!/bin/sh
# How do the cases of this sweep run under GNU parallel? sh parallel.sh; again to run those that failed or were cut off.
program="${{PELLICLE:-}}"
[ -n "$program" ] || program={program}
export program
cd {folder} || exit 2
seq 1 {count} | parallel --jobs {jobs} --joblog parallel.log --resume-failed --quote "$program" {run}
)",
                     fmt::arg("program", shell_word(input.program)), fmt::arg("folder", shell_word(input.folder)),
                     fmt::arg("count", input.manifest.entries.size()), fmt::arg("jobs", input.jobs),
                     fmt::arg("run", run_line(input, "{}", std::to_string(input.threads).c_str())));
}

}  // namespace pellicle::sweep
