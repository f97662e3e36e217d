// How is a case run from its file to its results, or an interrupted run gone on with? The solver is given places to
// send to; everything else is here.
#include "solver/run.h"
#include "io/case/cards.h"
#include "io/case/parse.h"
#include "io/case/units.h"
#include "io/commands/answers.h"
#include "io/commands/commands.h"
#include "io/commands/inputs.h"
#include "io/commands/progress.h"
#include "io/commands/spread.h"
#include "io/commands/stop_on_signal.h"
#include "io/moulds/survey.h"
#include "io/results/checkpoint.h"
#include "io/results/frames_beside.h"
#include "io/results/history.h"
#include "io/results/summary.h"
#include "io/results/vent_file.h"
#include "mesh/check.h"
#include "solver/prepare.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <utility>
#include <variant>
#include <vector>

namespace pellicle::commands {
namespace {

/// Everything of a run that goes to the folder.
struct Record {
  const cases::ParsedCase& parsed;
  const Geometry& geometry;
  std::optional<mesh::Vec3> open_at_m;  ///< where the mould is open
  results::ResultFolder& folder;
  results::FrameWriter frames;
  results::History history;
  report::Recording recording{};
  std::string_view heater_file{};  ///< bytes of the heater's map, for the first frame
  results::FramesBeside beside{frames};

  /// The first frame is there when this returns, the others when `beside` has been waited for.
  void add(const forming::Frame& frame) {
    beside.wait();
    recording.add(frame);
    if (frames.written() > 0) {
      history.save();
      beside.write(frame);
      return;
    }
    frames.write(frame);
    folder.write("case.toml", parsed.text);
    if (parsed.own_card) folder.write(std::string(cases::kOwnCardCopy), parsed.own_card->text);
    if (!heater_file.empty()) folder.write(std::string(heater::kept_name(*parsed.heater_map)), heater_file);
    if (geometry.mould) results::write_mould(folder, *geometry.mould);
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

/// Checkpoints of a run: now and then, and when it is stopped. Held whole, so that mould and reliefs are there once.
class Keeper {
 public:
  /// `before_s`: how long earlier legs of the run took.
  Keeper(Record& record, const Warnings& warnings, double every_s, double before_s)
      : record_(record), warnings_(warnings), every_s_(every_s), before_s_(before_s) {
    kept_.case_text = record.parsed.text;
    kept_.case_stem = record.parsed.result_stem;
    kept_.polymer_cards = cases::kPolymerCards;
    kept_.resin_cards = cases::kResinCards;
    if (record.parsed.own_card) kept_.own_card = record.parsed.own_card->text;
  }

  /// Writing may cost 2 % of a run.
  bool due() const {
    constexpr double kShare = 0.02;
    return seconds_between(last_, Clock::now()) >= std::max(every_s_, cost_s_ / kShare);
  }

  void keep(forming::Snapshot snapshot) {
    record_.beside.wait();  // what a frame takes is not what keeping takes
    const Clock::time_point start = Clock::now();
    if (kept_.frames == 0) {
      kept_.mould = record_.geometry.mould;
      kept_.reliefs = record_.geometry.reliefs;
      kept_.heater_map = record_.geometry.heater_map;
    }
    kept_.warnings = warnings_.told();
    kept_.frames = record_.frames.written();
    kept_.history_rows = record_.history.rows();
    kept_.seconds = before_s_ + seconds_between(began_, start);
    kept_.snapshot = std::move(snapshot);
    record_.history.save();
    results::write_checkpoint(record_.folder, kept_);
    last_ = Clock::now();
    cost_s_ = seconds_between(start, last_);
  }

 private:
  using Clock = std::chrono::steady_clock;
  static double seconds_between(Clock::time_point from, Clock::time_point to) {
    return std::chrono::duration<double>(to - from).count();
  }

  Record& record_;
  const Warnings& warnings_;
  double every_s_, before_s_, cost_s_ = 0.0;
  Clock::time_point began_ = Clock::now(), last_ = began_;
  results::Checkpoint kept_;
};

CaseResult run_and_record(const Case& c, Record& record, Keeper& keeper, ProgressLine& line,
                          const forming::Snapshot* from) {
  forming::Sinks sinks;
  sinks.frame = [&](const forming::Frame& frame) { record.add(frame); };
  sinks.history = [&](const forming::HistoryRow& row) {
    record.history.add(row);
    record.recording.add(row);
  };
  sinks.progress = [&](const forming::Progress& progress) { line.show(progress); };
  sinks.stop = [] { return StopOnSignal::asked(); };
  sinks.keep_due = [&] { return keeper.due(); };
  sinks.keep = [&](const forming::Snapshot& snapshot) { keeper.keep(snapshot); };
  sinks.task = [&](const std::string& task) { line.show(task); };
  try {
    CaseResult result = cases::telling_lines(record.parsed, [&] { return run(c, record.geometry, sinks, from); });
    line.clear();
    record.beside.wait();
    record.history.save();
    return result;
  } catch (const Error& error) {
    line.clear();
    try {
      record.beside.wait();
    } catch (const Error&) {
      // The first thing that went wrong is what is told.
    }
    // Of a run that went wrong, the rows up to there are what one wants to see.
    if (error.fault().kind == Fault::Kind::kSolution && record.folder.started()) record.history.save();
    if (error.fault().kind != Fault::Kind::kSolution || !record.open_at_m) throw;
    Fault fault = error.fault();
    fault.advice = fmt::format("The mould is open round {}: the sheet may have come behind it. Close it first; else {}",
                               moulds::place_text(*record.open_at_m), fault.advice);
    throw Error(fault);
  }
}

double save_every_s(const std::string& text) {
  constexpr double kUsual_s = 30.0;  // what a kill may cost; shorter runs write none
  if (text.empty()) return kUsual_s;
  const auto read = cases::parse_quantity(text, cases::Dimension::kTime);
  if (const auto* no = std::get_if<cases::Refusal>(&read))
    throw Error({Fault::Kind::kCase, "--save-every", no->found, no->allowed, no->advice});
  const double every_s = std::get<double>(read);
  if (every_s < 0.0) throw Error({Fault::Kind::kCase, "--save-every", text, "0 s or more", ""});
  return every_s;
}

/// From the first step, or from a checkpoint, to the answers.
int finish(const RunOptions& options, Record& record, Warnings& warnings, ProgressLine& line,
           const results::Checkpoint* from) {
  Case c = record.parsed.value;
  if (options.threads) c.numerics.threads = *options.threads;
  const Threads threads(c.numerics.threads);  // for the report too
  Keeper keeper(record, warnings, save_every_s(options.save_every), from != nullptr ? from->seconds : 0.0);
  const StopOnSignal stop_on_signal;
  results::Summary summary;
  summary.title = c.title;
  summary.has_mould_file = record.geometry.mould.has_value();
  summary.result = run_and_record(c, record, keeper, line, from != nullptr ? &from->snapshot : nullptr);
  if (from != nullptr) summary.result.seconds += from->seconds;
  const bool is_done = summary.result.ending == Ending::kDone;
  const bool is_whole = !is_done || !options.spread || spread_answers(c, record.geometry, line, summary);
  warnings.tell(summary.result.warnings);
  if (options.profile) fmt::print(stderr, "{}", results::profile_text(summary.result.profile));
  if (summary.result.ending == Ending::kStopped) {
    const double time_s = summary.result.snapshot.time_s;
    const std::int64_t step = summary.result.snapshot.step;
    keeper.keep(std::move(summary.result.snapshot));
    const std::string folder = record.folder.path().string();
    fmt::print(stderr, "stopped at {:.4g} s, step {}; the state is in {}: pellicle resume {}\n", time_s, step,
               (record.folder.path() / "checkpoint.h5").string(), folder);
    return kInterrupted;
  }
  record.add(summary.result.mould_field, summary.result.body_field);
  results::write_vents(record.folder, summary.result.vents);
  summary.warnings = warnings.told();
  const int exit_code = give_answers(options, record.parsed, summary, record.recording,
                                     record.geometry.mould ? &*record.geometry.mould : nullptr, record.folder);
  return is_whole ? exit_code : kInterrupted;
}

}  // namespace

int run_command(const RunOptions& options) {
  save_every_s(options.save_every);  // refused before anything is read
  const cases::ParsedCase parsed = cases::parse_case(options.case_path);
  results::ResultFolder folder(options.out.value_or(parsed.result_stem + "-results"), options.force,
                               input_files(parsed));
  ProgressLine line(options.quiet);
  Warnings warnings(line);
  const Inputs inputs = read_inputs(parsed, warnings);
  warnings.tell(cases::telling_lines(parsed, [&] { return check_geometry(parsed.value, inputs.geometry); }));
  Record record{
      parsed, inputs.geometry, inputs.open_at_m, folder, results::FrameWriter(folder), results::History(folder)};
  record.heater_file = inputs.heater_file;
  return finish(options, record, warnings, line, nullptr);
}

int resume_command(const RunOptions& options) {
  const std::filesystem::path& out = *options.out;
  results::ResultFolder folder = results::ResultFolder::going_on(out);
  folder.start();
  results::Checkpoint kept = results::read_checkpoint(folder.path() / "checkpoint.h5");
  if (kept.polymer_cards != cases::kPolymerCards || kept.resin_cards != cases::kResinCards) {
    throw Error({Fault::Kind::kCase, (folder.path() / "checkpoint.h5").string(), "a run with other cards",
                 "the cards of this program", "go on with the program that began it, or run the case again"});
  }
  const cases::ParsedCase parsed =
      cases::parse_again(std::move(kept.case_text), folder.path() / "case.toml", std::move(kept.case_stem));
  if (parsed.own_card && parsed.own_card->text != kept.own_card) {
    throw Error({Fault::Kind::kCase, parsed.own_card->file.string(), "another card than the run began with",
                 "the card as it was then", "put the old one back, or run the case again"});
  }
  const Geometry geometry{std::move(kept.mould), std::move(kept.reliefs), std::move(kept.heater_map)};
  ProgressLine line(options.quiet);
  Warnings warnings(line);
  Record record{parsed,
                geometry,
                std::nullopt,
                folder,
                results::FrameWriter(folder, kept.frames),
                results::History(folder, kept.history_rows)};
  record.frames.replay([&](const forming::Frame& frame) { record.recording.add(frame); });
  record.history.replay([&](const forming::HistoryRow& row) { record.recording.add(row); });
  warnings.tell(kept.warnings);
  return finish(options, record, warnings, line, &kept);
}

}  // namespace pellicle::commands
