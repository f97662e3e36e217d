// How is a sweep handed to many machines, or to a tool that starts jobs? Scripts that need no change to run.
#pragma once

#include "io/sweep/sweep_folder.h"

#include <string>

namespace pellicle::sweep {

/// What the scripts call.
struct ScriptInput {
  const Manifest& manifest;
  std::string program;  ///< path of pellicle
  std::string folder;   ///< DIR, absolute
  int jobs = 1;         ///< at once
  int threads = 1;      ///< of each
};

/// slurm.sh: a job array, one task a case. Tasks that are told to end save their state; those that ran into their time
/// limit put themselves back into the queue.
std::string slurm_script(const ScriptInput& input);

/// parallel.sh: one line for GNU parallel, with a log of what ended how.
std::string parallel_script(const ScriptInput& input);

/// As one word of a shell, whatever is in it.
std::string shell_word(const std::string& text);

}  // namespace pellicle::sweep
