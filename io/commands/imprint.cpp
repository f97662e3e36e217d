// How are the reliefs of a case answered without forming it? Where every relief says how the sheet over it is.
#include "io/case/parse.h"
#include "io/commands/answers.h"
#include "io/commands/commands.h"
#include "io/commands/inputs.h"
#include "io/commands/spread.h"
#include "io/commands/stop_on_signal.h"
#include "io/results/summary.h"
#include "solver/prepare.h"

#include <fmt/format.h>

#include <cstdio>

namespace pellicle::commands {

int imprint_command(const RunOptions& options) {
  const cases::ParsedCase parsed = cases::parse_case(options.case_path, cases::Purpose::kReliefsAlone);
  if (!parsed.reliefs_alone) return run_command(options);  // the formed sheet says how it is
  Case c = parsed.value;
  if (options.threads) c.numerics.threads = *options.threads;
  const Threads threads(c.numerics.threads);  // for the report too

  results::ResultFolder folder(options.out.value_or(parsed.result_stem + "-results"), options.force,
                               input_files(parsed));
  ProgressLine line(options.quiet);
  Warnings warnings(line);
  const Inputs inputs = read_inputs(parsed, warnings);

  const StopOnSignal stop_on_signal;
  forming::Sinks sinks;
  sinks.stop = [] { return StopOnSignal::asked(); };
  results::Summary summary;
  summary.title = c.title;
  summary.reliefs_alone = true;
  summary.result = cases::telling_lines(parsed, [&] { return run_reliefs(c, inputs.geometry, sinks); });
  if (summary.result.ending == Ending::kStopped) {
    fmt::print(stderr, "stopped; nothing was written\n");
    return kInterrupted;
  }
  const bool is_whole = !options.spread || spread_answers(c, inputs.geometry, line, summary);
  warnings.tell(summary.result.warnings);
  if (options.profile) fmt::print(stderr, "{}", results::profile_text(summary.result.profile));
  summary.warnings = warnings.told();
  const mesh::TriangleMesh* mould = inputs.geometry.mould ? &*inputs.geometry.mould : nullptr;
  const int exit_code = give_answers(options, parsed, summary, {}, mould, folder);
  return is_whole ? exit_code : kInterrupted;
}

}  // namespace pellicle::commands
