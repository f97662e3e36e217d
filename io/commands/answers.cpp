// How does a command on a case end? Relief files, summary.json, the words on the terminal, the exit code.
#include "io/commands/answers.h"

#include "io/commands/progress.h"
#include "io/report/open_script.h"
#include "io/report/page.h"
#include "io/results/relief_files.h"
#include "mesh/check.h"

#include <algorithm>
#include <cstdio>
#include <string>
#include <string_view>

namespace pellicle::commands {
namespace {

constexpr int kDone = 0, kLimitBroken = 5;

void print_result(std::string_view text) {
  std::fwrite(text.data(), 1, text.size(), stdout);
  if (std::fflush(stdout) != 0 || std::ferror(stdout) != 0) {
    throw Error({Fault::Kind::kCase, "standard output", "a place that takes no more", "an open file or terminal",
                 "the results are whole in their folder"});
  }
}

}  // namespace

int give_answers(const RunOptions& options, const cases::ParsedCase& parsed, results::Summary& summary,
                 const report::Recording& recording, const mesh::TriangleMesh* mould, results::ResultFolder& folder) {
  for (const ReliefResult& relief : summary.result.reliefs) results::write_relief(folder, relief);
  if (summary.reliefs_alone) {  // else the first frame has brought them
    folder.write("case.toml", parsed.text);
    if (parsed.own_card) folder.write(std::string(cases::kOwnCardCopy), parsed.own_card->text);
  }
  for (const cases::ResolvedValue& value : parsed.not_used_yet) summary.not_used_yet.push_back(value.key);
  summary.limits = parsed.value.limits;
  const std::string json = results::summary_json(summary);
  folder.write("summary.json", json);
  const report::PageInput page{summary, recording, mould, parsed.text, parsed.values};
  folder.write("open.py", report::open_script(page));
  folder.write("report.html", report::page(page));
  folder.remove("checkpoint.h5");
  if (options.json) {
    print_result(json);
  } else {
    const Terminal terminal = look_at(1);
    print_result(results::summary_text(summary, folder.path().string(), {terminal.colour, terminal.width}));
  }
  const auto& findings = summary.result.findings;
  const bool is_broken = std::any_of(findings.begin(), findings.end(), [&](const checks::Finding& finding) {
    return finding.verdict == checks::Verdict::kFail && results::has_limit_of_case(finding, summary.limits);
  });
  return options.strict && is_broken ? kLimitBroken : kDone;
}

}  // namespace pellicle::commands
