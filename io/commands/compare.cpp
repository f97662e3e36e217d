// What differs: between two results, or between a result and what was measured on the part?
#include "io/commands/commands.h"
#include "io/commands/compare_measured.h"
#include "io/compare/runs_page.h"
#include "io/compare/runs_text.h"
#include "io/results/frames.h"
#include "io/results/result_folder.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <cstdio>

namespace pellicle::commands {
namespace {

namespace fs = std::filesystem;

/// The page, and the fields on A's formed sheet for the viewer.
void write(results::ResultFolder& folder, const compare::Run& a, const compare::Run& b, const compare::Comparison& c) {
  std::vector<results::NodeField> fields;
  for (const compare::FieldPair& field : c.fields) {
    const std::string unit = field.unit == "-" ? "" : "_" + field.unit;
    fields.push_back({field.key + "_a" + unit, field.a});
    fields.push_back({field.key + "_b" + unit, field.b});
    fields.push_back({field.key + "_b_less_a" + unit, field.difference});
  }
  results::write_compared(folder, a.sheet.face.points_m, a.sheet.face.triangles, a.sheet.flat_m, fields);
  folder.write("compare.html", compare::page(a, b, c));
}

int compare_runs(const CompareOptions& options) {
  if (options.explain || !options.within.empty()) {
    throw Error({Fault::Kind::kCase, options.explain ? "--explain" : "--within", "two results",
                 "a result and a table of measured walls", "leave the option out"});
  }
  const compare::Run a = compare::read_run(options.a), b = compare::read_run(options.other);
  const compare::Comparison c = compare::compared(a, b);
  std::optional<results::ResultFolder> folder;
  if (options.out)
    folder.emplace(*options.out, options.force,
                   std::vector{options.a / "summary.json", options.other / "summary.json"});
  if (folder) write(*folder, a, b, c);
  fmt::print("{}", options.json ? compare::json_text(a, b, c) : compare::words(a, b, c));
  if (folder && !options.json)
    fmt::print("\nwritten: {}, compare.xdmf, compare.h5\n", (folder->path() / "compare.html").string());
  return 0;
}

}  // namespace

int compare_command(const CompareOptions& options) {
  std::error_code ignored;
  return fs::is_directory(options.other, ignored) ? compare_runs(options) : compare_measured(options);
}

}  // namespace pellicle::commands
