// How far off is the predicted wall from the measured one, and what would explain it? The case formed again for that.
#include "io/commands/compare_measured.h"

#include "io/case/units.h"
#include "io/commands/progress.h"
#include "io/commands/stop_on_signal.h"
#include "io/compare/points_page.h"
#include "io/results/result_folder.h"
#include "io/results/stored_run.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <cmath>
#include <cstdio>
#include <utility>

namespace pellicle::commands {
namespace {

using compare::MeasuredPart;
using compare::SheetLookup;

/// More than this between the stored sheet and the same case formed again is told, rms over the points.
constexpr double kSameSheet = 0.005;

double within_m(const std::string& text) {
  if (text.empty()) return compare::kWithin_m;
  const auto read = cases::parse_quantity(text, cases::Dimension::kLength);
  if (const auto* no = std::get_if<cases::Refusal>(&read))
    throw Error({Fault::Kind::kCase, "--within", no->found, no->allowed, no->advice});
  const double value_m = std::get<double>(read);
  if (!(value_m > 0.0)) throw Error({Fault::Kind::kCase, "--within", text, "more than 0 mm", ""});
  return value_m;
}

SheetLookup lookup_of(FormedSheet sheet) { return {std::move(sheet.face), sheet.flat_m, std::move(sheet.thickness_m)}; }

/// Forms cases and looks at the points; nothing once it was stopped.
class Forms {
 public:
  Forms(const Geometry& geometry, const CompareOptions& options, const cases::ParsedCase& parsed)
      : geometry_(geometry), options_(options), parsed_(parsed), line_(options.quiet) {
    sinks_.progress = [this](const forming::Progress& progress) { line_.show(progress); };
    sinks_.stop = [] { return StopOnSignal::asked(); };
  }

  std::optional<std::vector<double>> predicted_m(Case c, const std::vector<compare::PointAnswer>& answers) {
    c.numerics.threads = options_.threads;
    auto formed = cases::telling_lines(parsed_, [&] { return form_only(c, geometry_, sinks_); });
    line_.clear();
    if (!formed) return std::nullopt;
    return compare::predicted_on(answers, lookup_of(std::move(*formed)));
  }

 private:
  const Geometry& geometry_;
  const CompareOptions& options_;
  const cases::ParsedCase& parsed_;
  ProgressLine line_;
  forming::Sinks sinks_;
};

double rms_ratio(const std::vector<double>& a, const std::vector<fit::Wall>& b) {
  double sum = 0.0;
  for (std::size_t i = 0; i < a.size(); ++i) sum += std::pow(std::log(a[i] / b[i].predicted_m), 2);
  return std::sqrt(sum / static_cast<double>(a.size()));
}

/// Adds the causes. The case is formed again as it is, too: so steps are told from one program and one mould file.
/// False: it was stopped.
bool explain(const cases::ParsedCase& parsed, const Geometry& geometry, const CompareOptions& options,
             MeasuredPart& part) {
  Forms forms(geometry, options, parsed);
  WhatIfs asked = what_ifs(parsed.value);
  part.notes.insert(part.notes.end(), asked.left_out.begin(), asked.left_out.end());
  const auto base_m = forms.predicted_m(parsed.value, part.answers);
  if (!base_m) return false;
  std::vector<fit::Wall> walls = compare::walls_of(part.answers);
  if (const double off = rms_ratio(*base_m, walls); off > kSameSheet)
    part.notes.push_back(fmt::format(
        "formed again as it is, the walls come out {:.2g} % (rms) off the stored ones: the result may be of "
        "another version; causes go by the new ones",
        100.0 * off));
  for (std::size_t i = 0; i < walls.size(); ++i) walls[i].predicted_m = (*base_m)[i];
  std::vector<fit::Step> steps;
  std::vector<WhatIf> taken;
  for (WhatIf& what : asked.steps) {
    try {
      auto predicted_m = forms.predicted_m(what.changed, part.answers);
      if (!predicted_m) return false;
      steps.push_back({what.name, std::move(*predicted_m), what.most_steps});
      taken.push_back(std::move(what));
    } catch (const Error& error) {
      if (error.fault().kind != Fault::Kind::kSolution) throw;
      part.notes.push_back(fmt::format("{}: one step on the run comes to no end: {}", what.name, error.what()));
    }
  }
  std::vector<fit::Cause> causes = fit::causes_of(walls, steps);
  for (std::size_t i = 0; i < causes.size(); ++i) part.causes.push_back({std::move(taken[i]), std::move(causes[i])});
  part.was_explained = true;
  return true;
}

}  // namespace

int compare_measured(const CompareOptions& options) {
  const double within = within_m(options.within);
  const auto points = measured::load_thickness_table(options.other);
  const results::HeldFolder stored(options.a);
  results::require_finished_run(stored);
  const results::StoredSummary summary = results::read_summary(stored.path());
  const cases::ParsedCase parsed = results::read_case(stored);
  Geometry geometry{results::read_mould(stored, parsed)};
  if (options.explain) geometry.heater_map = results::read_heater_map(stored, parsed);
  results::StoredSheet sheet = results::read_last_sheet(stored);
  const SheetLookup lookup(std::move(sheet.face), sheet.flat_m, std::move(sheet.thickness_m));

  MeasuredPart part;
  part.folder = options.a.string(), part.table = options.other.string(), part.title = summary.title;
  part.gauge_m = parsed.value.sheet.thickness_m;
  part.answers = compare::answers_at(points, lookup, within);
  part.misfit = fit::misfit_of(compare::walls_of(part.answers));
  if (summary.program_version != PELLICLE_VERSION)
    part.notes.push_back(
        fmt::format("the run is of version {} of the program, this is {}", summary.program_version, PELLICLE_VERSION));
  std::optional<results::ResultFolder> folder;
  if (options.out) folder.emplace(*options.out, options.force, std::vector{options.a / "summary.json", options.other});
  const StopOnSignal stop_on_signal;
  if (options.explain && !explain(parsed, geometry, options, part)) return kInterrupted;
  if (folder) {
    folder->write("compare.csv", compare::csv(part));  // first: by it the folder is known as ours
    folder->write("compare.html", compare::page(part, lookup, geometry.mould ? &*geometry.mould : nullptr));
  }
  fmt::print("{}", options.json ? compare::json_text(part) : compare::words(part));
  if (folder && !options.json) fmt::print("\nwritten: {}, compare.html\n", (folder->path() / "compare.csv").string());
  return 0;
}

}  // namespace pellicle::commands
