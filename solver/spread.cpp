// Between which values may each answer lie? Side runs, one number at a time, and their sum.
#include "solver/spread.h"

#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace pellicle {
namespace {

constexpr double kCoarser = 1.5;              // elements of side runs: a third to a half of the work
constexpr double kCoarsestShare = 1.0 / 8.0;  // of the outline's smallest width, as a case may ask for
constexpr double kRough = 0.1;                // a side run that is off by more is told
constexpr double kUseless = 0.5;              // by more than that, its changes say nothing

/// What a band is put on. NaN: no answer.
struct Quantity {
  std::string name;  ///< id, or the relief's name
  double value;
  bool is_share = false;  ///< never above 1 (capture)
  bool is_limit = false;
};

/// The findings in their order, the captures of the reliefs, and the limits of the findings.
std::vector<Quantity> quantities_of(const CaseResult& result) {
  constexpr double kNone = std::numeric_limits<double>::quiet_NaN();
  std::vector<Quantity> all;
  for (const checks::Finding& f : result.findings)
    all.push_back({"finding " + f.id, f.value, f.id.starts_with("relief_")});
  for (const ReliefResult& relief : result.reliefs)
    all.push_back({"capture of relief " + relief.answer.name, relief.answer.capture, true});
  for (const checks::Finding& f : result.findings)
    all.push_back({"limit of finding " + f.id, f.limit.value_or(kNone), false, true});
  return all;
}

const Quantity* find(const std::vector<Quantity>& run, const Quantity& wanted) {
  const auto it = std::find_if(run.begin(), run.end(), [&](const Quantity& q) { return q.name == wanted.name; });
  return it == run.end() ? nullptr : &*it;
}

/// The same quantity of another run; NaN if it has none.
double in_run(const std::vector<Quantity>& run, const Quantity& wanted) {
  const Quantity* found = find(run, wanted);
  return found == nullptr ? std::numeric_limits<double>::quiet_NaN() : found->value;
}

/// Squares of the changes of one quantity, each way, and who changed it how far.
struct Changes {
  double up_sq = 0.0, down_sq = 0.0;
  std::vector<std::pair<double, std::string>> movers;

  /// Both ends of one number; a number that moves the answer one way at both ends counts once, with its larger change.
  void add(const std::string& name, double low_end, double high_end) {
    const double up = std::max({0.0, low_end, high_end}), down = -std::min({0.0, low_end, high_end});
    up_sq += up * up;
    down_sq += down * down;
    if (std::max(up, down) > 0.0) movers.emplace_back(std::max(up, down), name);
  }
};

/// Who moved it most, and who besides.
void name_movers(const Changes& changes, checks::Band& band) {
  constexpr double kTold = 1.0 / 3.0;  // of the largest: a ninth of what is added up
  constexpr std::size_t kMostTold = 2;
  std::vector<std::pair<double, std::string>> movers = changes.movers;
  std::stable_sort(movers.begin(), movers.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
  for (const auto& [change, name] : movers)
    if (band.moved_by.empty())
      band.moved_by = name;
    else if (change >= kTold * movers.front().first && band.moved_too.size() < kMostTold)
      band.moved_too.push_back(name);
}

/// The case as side runs take it: coarser, one frame a stage, and nothing tried for advice.
Case coarser(Case c) {
  if (c.mould && c.mould->build) c.mould->build->tries = false, c.mould->build->cards.clear();
  if (c.stages.empty()) return c;
  const double coarsest_m = kCoarsestShare * 2.0 * mesh::half_width_m(c.sheet.outline);
  const double factor = std::max(1.0, std::min(kCoarser, coarsest_m / c.sheet.element_m));
  c.sheet.element_m *= factor;
  c.sheet.rim_element_m *= factor;
  c.sheet.fine_element_m *= factor;
  c.limits.min_thickness_m.reset();
  c.numerics.frames = 1;
  return c;
}

class SideRuns {
 public:
  SideRuns(const AnswerAgain& again, const std::function<void(const std::string&)>& task, SpreadReport& report)
      : again_(again), task_(task), report_(report) {}

  /// No quantities: the run failed, which is told, or was stopped. The first one's sheet is that of all that do not
  /// form their own.
  std::optional<std::vector<Quantity>> answer(const Case& c, Anew anew, const std::string& what) {
    task_(fmt::format("spread, side run {} of {}: {}", ++begun_, report_.wanted, what));
    try {
      CaseResult result = again_(c, anew, formed_);
      report_.stopped = result.ending == Ending::kStopped;
      if (report_.stopped) return std::nullopt;
      if (report_.side_runs == 0) formed_ = std::move(result.snapshot);
      ++report_.side_runs;
      if (anew == Anew::kAll && !c.stages.empty()) ++report_.formed;
      return quantities_of(result);
    } catch (const Error& error) {
      report_.failures.push_back(fmt::format("{}: {}", what, error.what()));
      return std::nullopt;
    }
  }

 private:
  const AnswerAgain& again_;
  const std::function<void(const std::string&)>& task_;
  SpreadReport& report_;
  forming::Snapshot formed_;
  int begun_ = 0;
};

/// Ends of a number at which a run has no answer to what it was asked; not all of them ask everything.
void tell_lost(const Unsure& number, const std::optional<std::vector<Quantity>>& low,
               const std::optional<std::vector<Quantity>>& high, const Quantity& wanted, SpreadReport& report) {
  if (wanted.is_limit) return;
  for (const auto& [run, end] : {std::pair{&low, &number.low}, std::pair{&high, &number.high}})
    if (*run && (number.anew == Anew::kAll || find(**run, wanted)) && !std::isfinite(in_run(**run, wanted)))
      report.remarks.push_back(
          fmt::format("{}: no answer with {} {}, which is not in its band", wanted.name, number.name, *end));
}

double change(const std::optional<std::vector<Quantity>>& run, const Quantity& wanted, double from) {
  if (!run) return 0.0;
  const double value = in_run(*run, wanted);
  return std::isfinite(value) ? value - from : 0.0;
}

checks::Band band_of(const Quantity& q, const Changes& changes) {
  checks::Band band{q.value - std::sqrt(changes.down_sq), q.value + std::sqrt(changes.up_sq), ""};
  name_movers(changes, band);
  if (q.value >= 0.0) band.low = std::max(band.low, 0.0);
  if (q.is_share) band.high = std::max(q.value, std::min(band.high, 1.0));
  return band;
}

/// None where larger elements alone make more of a difference than half of the answer, which is told.
std::optional<checks::Band> band_or_remark(const Quantity& q, double from, const Changes& changes,
                                           SpreadReport& report) {
  if (!std::isfinite(q.value)) return std::nullopt;
  const double off = std::abs(from - q.value);
  if (!(off <= kUseless * std::abs(q.value))) {
    report.remarks.push_back(
        std::isfinite(from)
            ? fmt::format("{}: no band, larger elements alone make {:.3g} of {:.3g}", q.name, from, q.value)
            : fmt::format("{}: no band, the side runs have no answer to it", q.name));
    return std::nullopt;
  }
  const checks::Band band = band_of(q, changes);
  if (off > kRough * std::abs(q.value) && off > 0.5 * (band.high - band.low))
    report.remarks.push_back(
        fmt::format("{}: its band is rough, larger elements alone make {:.3g} of {:.3g}", q.name, from, q.value));
  return band;
}

}  // namespace

SpreadReport add_spread(const Case& c, const AnswerAgain& again, const std::function<void(const std::string&)>& task,
                        CaseResult& result) {
  const Case base = coarser(c);
  const std::vector<Unsure> numbers = unsure_numbers(base);
  SpreadReport report;
  report.element_m = c.stages.empty() ? 0.0 : base.sheet.element_m;
  report.wanted = 1;
  for (const Unsure& number : numbers) {
    report.numbers.push_back({number.name, number.low, number.high, number.why});
    report.wanted += (number.at_low ? 1 : 0) + (number.at_high ? 1 : 0);
  }
  for (const std::string& name : base.bands.no_laws) report.remarks.push_back("not varied: " + name);
  SideRuns side(again, task, report);
  const auto likely = side.answer(base, Anew::kAll, "likely numbers");
  if (!likely) return report;
  const std::vector<Quantity> wanted = quantities_of(result);
  std::vector<Changes> changes(wanted.size());
  for (const Unsure& number : numbers) {
    std::optional<std::vector<Quantity>> low, high;
    if (number.at_low) low = side.answer(*number.at_low, number.anew, fmt::format("{} {}", number.name, number.low));
    if (report.stopped) return report;
    if (number.at_high)
      high = side.answer(*number.at_high, number.anew, fmt::format("{} {}", number.name, number.high));
    if (report.stopped) return report;
    for (std::size_t i = 0; i < wanted.size(); ++i) {
      const double from = in_run(*likely, wanted[i]);
      if (!std::isfinite(from) || !std::isfinite(wanted[i].value)) continue;
      tell_lost(number, low, high, wanted[i], report);
      changes[i].add(number.name, change(low, wanted[i], from), change(high, wanted[i], from));
    }
  }
  const std::size_t findings = result.findings.size(), answers = findings + result.reliefs.size();
  for (std::size_t i = 0; i < answers; ++i) {
    auto& place = i < findings ? result.findings[i].band : result.reliefs[i - findings].capture_band;
    place = band_or_remark(wanted[i], in_run(*likely, wanted[i]), changes[i], report);
  }
  for (std::size_t i = 0; i < findings; ++i) {
    const Changes& moved = changes[answers + i];
    const Quantity& limit = wanted[answers + i];
    if (!moved.movers.empty())
      result.findings[i].limit_band = band_or_remark(limit, in_run(*likely, limit), moved, report);
  }
  return report;
}

}  // namespace pellicle
