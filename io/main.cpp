// Which command is asked for? The only file that includes CLI11, and the only place where errors are caught.
#include "io/case/spelling.h"
#include "io/commands/commands.h"
#include "io/guide/completion.h"
#include "io/guide/manual.h"
#include "io/guide/next_steps.h"
#include "mesh/check.h"

#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <functional>
#include <new>
#include <string>
#include <string_view>
#include <vector>

namespace {

using namespace pellicle;
using namespace pellicle::commands;

constexpr int kInternal = 1, kUsage = 2;
constexpr std::array kCommands{"new",       "run", "resume", "sweep",   "check",  "imprint", "chart",
                               "calibrate", "fit", "export", "compare", "verify", "schema"};

/// One message is one line, whatever a path or a library put into it.
int complain(std::string message, int exit_code) {
  while (!message.empty() && (message.back() == '\n' || message.back() == '\r')) message.pop_back();
  std::replace_if(
      message.begin(), message.end(), [](char c) { return static_cast<unsigned char>(c) < 0x20U || c == 0x7F; }, ' ');
  fmt::print(stderr, "error: {}\n", message);
  return exit_code;
}

/// What is wrong with the first word, if it names no command there is; empty if nothing.
std::string refuse_command(std::string_view word) {
  const std::vector<std::string> known(kCommands.begin(), kCommands.end());
  const auto is_word = [&](std::string_view other) { return other == word; };
  if (word.starts_with('-') || std::any_of(known.begin(), known.end(), is_word)) return {};
  const auto near = cases::nearest_word(word, known);
  return fmt::format("command '{}': found an unknown command; allowed {}{}", word, fmt::join(known, ", "),
                     near ? fmt::format(". Did you mean {}?", *near) : "");
}

/// An option or operand as the manual page and the completion want it.
guide::ArgumentHelp described(const CLI::Option& option) {
  guide::ArgumentHelp out;
  if (option.get_positional()) {
    out.names = {option.get_name(true)};
  } else {
    for (const std::string& name : option.get_snames()) out.names.push_back("-" + name);
    for (const std::string& name : option.get_lnames()) out.names.push_back("--" + name);
  }
  if (option.get_type_size_max() > 0) out.type = option.get_type_name();
  out.means = option.get_description();
  out.is_required = option.get_required();
  out.repeats = option.get_expected_max() > 1;
  return out;
}

guide::CommandHelp described(const CLI::App& app) {
  guide::CommandHelp out{app.get_name(), app.get_description(), {}, {}};
  for (const CLI::Option* option : app.get_options([](const CLI::Option* o) { return !o->get_group().empty(); }))
    (option->get_positional() ? out.operands : out.options).push_back(described(*option));
  return out;
}

/// Options shared by the commands on a case, with the same meaning everywhere.
struct SharedOptions {
  std::string case_path;
  std::string out;
  bool json = false;
  bool quiet = false;
  bool force = false;

  void add_to(CLI::App& command, const char* out_means) {
    command.add_option("CASE", case_path, "a .toml file, or a folder with case.toml")->required();
    command.add_option("--out", out, out_means);
    command.add_flag("--force", force, "replace earlier results of pellicle");
    command.add_flag("--json", json, "print the result as JSON only");
    command.add_flag("--quiet", quiet, "no progress");
  }
  std::optional<std::filesystem::path> out_path() const {
    return out.empty() ? std::nullopt : std::optional<std::filesystem::path>(out);
  }
};

/// Flags of the program and what to do when they have been read.
class CommandLine {
 public:
  CommandLine() {
    app_.set_version_flag("--version", std::string("pellicle ") + PELLICLE_VERSION);
    app_.require_subcommand(0, 1);  // none is told below, in better words than an unknown one would be
    app_.footer(
        "Exit: 0 done, 1 internal, 2 usage or case, 3 geometry, 4 no trustworthy solution, 5 a limit is broken\n"
        "(--strict), 130 interrupted.");
    app_.add_flag("--manual", manual_, "print the manual page, for man -l -");
    app_.add_option("--completion", shell_, "print what the Tab key offers in a shell: bash or fish")
        ->check(CLI::IsMember({"bash", "fish"}));
    add_new();
    add_run();
    add_resume();
    add_sweep();
    add_check();
    add_imprint();
    add_chart();
    add_calibrate();
    add_fit();
    add_export();
    add_compare();
    add_verify();
    add_schema();
  }

  int parse(int argc, char** argv) {
    const std::string refusal = argc > 1 ? refuse_command(argv[1]) : "";
    if (!refusal.empty()) return complain(refusal, kUsage);
    try {
      app_.parse(argc, argv);
    } catch (const CLI::ExtrasError&) {
      // CLI11 tells them in reverse.
      return complain(fmt::format("command line: found '{}' left over; allowed what pellicle --help lists",
                                  fmt::join(app_.remaining(true), "', '")),
                      kUsage);
    } catch (const CLI::ParseError& problem) {
      if (problem.get_exit_code() == 0) return app_.exit(problem);  // --help, --version
      return complain(std::string(problem.what()) + ". Run pellicle --help for what is allowed", kUsage);
    }
    if (action_) return action_();
    return manual_ || !shell_.empty() ? print_guide() : point_the_way();
  }

 private:
  int print_guide() const {
    guide::ProgramHelp help{described(app_), {}, app_.get_footer()};
    for (const CLI::App* command : app_.get_subcommands([](const CLI::App*) { return true; }))
      help.commands.push_back(described(*command));
    fmt::print("{}", manual_            ? guide::manual_page(help)
                     : shell_ == "bash" ? guide::bash_completion(help)
                                        : guide::fish_completion(help));
    return 0;
  }

  static int point_the_way() {
    const int exit_code = complain(
        fmt::format("no command: found nothing to do; allowed {}. Run pellicle --help", fmt::join(kCommands, ", ")),
        kUsage);
    fmt::print(stderr, "\n{}", guide::next_steps("."));
    return exit_code;
  }

  void add_new() {
    CLI::App& fresh = *app_.add_subcommand("new", "make a folder with a case to start from and its mould");
    fresh.add_option("NAME", new_folder_, "the folder to make")->required();
    fresh.callback([this] { action_ = [this] { return new_command({new_folder_}); }; });
  }

  void add_run() {
    CLI::App& run = *app_.add_subcommand("run", "form the sheet and write the results");
    add_run_options(run, run_command);
    add_save_every(run);
    add_case_index(run);
  }

  /// One case of a sweep: the folder is the sweep's, and giving the command again does no harm.
  void add_case_index(CLI::App& run) {
    run.add_option("--case-index", case_index_, "which case of one with [[vary]], from 1; --out is the sweep's folder")
        ->check(CLI::Range(1, 1000000));
    run.add_flag("--retry", sweep_.retry, "with --case-index: again, though it failed");
  }

  void add_sweep() {
    CLI::App& sweep = *app_.add_subcommand("sweep", "run every combination that [[vary]] in a case asks for");
    sweep.add_option("CASE", shared_.case_path, "a case with [[vary]]; with --gather the folder of a sweep")
        ->required();
    sweep.add_option("--out", shared_.out, "folder of the sweep; default <name>-sweep here. Again to go on");
    sweep.add_option("--jobs", sweep_.jobs, "cases at once; default the free cores")->check(CLI::Range(1, 1024));
    sweep.add_option("--threads", threads_, "threads of each; default the free cores over the jobs")
        ->check(CLI::Range(1, 1024));
    sweep.add_option("--save-every", sweep_.save_every, "time between checkpoints of a case; default \"30 s\"");
    CLI::Option* scripts =
        sweep.add_flag("--scripts", sweep_.scripts_only, "lay it out, with slurm.sh and parallel.sh, and run nothing");
    sweep.add_flag("--gather", sweep_.gather_only, "make table and page anew from what is done")->excludes(scripts);
    sweep.add_flag("--retry", sweep_.retry, "run those again that failed");
    sweep.add_flag("--strict", sweep_.strict, "exit 5 if a limit of a case is broken");
    sweep.add_flag("--json", sweep_.json, "print the table as JSON only");
    sweep.add_flag("--quiet", sweep_.quiet, "no progress");
    sweep.callback([this, &sweep] {
      sweep_.case_path = shared_.case_path;
      sweep_.out = shared_.out_path();
      if (sweep.count("--threads") > 0) sweep_.threads = threads_;
      action_ = [this] { return sweep_command(sweep_); };
    });
  }

  void add_save_every(CLI::App& run) {
    run.add_option("--save-every", run_.save_every, "time between checkpoints to go on from; default \"30 s\"");
  }

  void add_resume() {
    CLI::App& resume = *app_.add_subcommand("resume", "go on with an interrupted run; reads nothing outside DIR");
    resume.add_option("DIR", shared_.out, "results folder with the checkpoint.h5 of a run that was stopped or killed")
        ->required();
    resume.add_flag("--json", run_.json, "print the result as JSON only");
    resume.add_flag("--quiet", run_.quiet, "no progress");
    add_how_to_run(resume);
    add_save_every(resume);
    resume.callback([this, &resume] {
      run_.out = shared_.out;
      if (resume.count("--threads") > 0) run_.threads = threads_;
      action_ = [this] { return resume_command(run_); };
    });
  }

  void add_how_to_run(CLI::App& run) {
    run.add_option("--threads", threads_, "threads, 0: the free cores; overrides the case")->check(CLI::Range(0, 1024));
    run.add_flag("--profile", run_.profile, "print the time of each line of the loop and of the reliefs");
    run.add_flag("--strict", run_.strict, "exit 5 if a limit of the case is broken");
    run.add_flag("--spread", run_.spread,
                 "every answer as low, likely, high: the case is asked again for each number "
                 "that is not well known");
  }

  void add_imprint() {
    add_run_options(
        *app_.add_subcommand("imprint", "answer the reliefs; nothing is formed if each has a state of its own"),
        imprint_command);
  }

  void add_run_options(CLI::App& run, int (*command)(const RunOptions&)) {
    shared_.add_to(run, "results folder; default <name>-results here");
    add_how_to_run(run);
    run.callback([this, &run, command] {
      run_.case_path = shared_.case_path;
      run_.out = shared_.out_path();
      run_.force = shared_.force;
      run_.json = shared_.json;
      run_.quiet = shared_.quiet;
      if (run.count("--threads") > 0) run_.threads = threads_;
      action_ = [this, command] {
        return case_index_ > 0 ? run_case_of_sweep_command(run_, case_index_, sweep_.retry) : command(run_);
      };
    });
  }

  void add_check() {
    CLI::App& check =
        *app_.add_subcommand("check", "print every resolved value, the mould as read, what is wrong with it, the cost");
    shared_.add_to(check, "folder for defects.xdmf, the mould with what is wrong with it; default: not written");
    check.callback([this] {
      action_ = [this] {
        return check_command({shared_.case_path, shared_.out_path(), shared_.force, shared_.json, shared_.quiet});
      };
    });
  }

  void add_chart() {
    CLI::App& chart =
        *app_.add_subcommand("chart", "the narrowest stroke that forms to a depth, over pressure, gauge and modulus");
    shared_.add_to(chart, "folder for chart.csv and chart.svg; default: not written");
    chart.add_option("--pressure", chart_.pressure, "gauge pressures, \"2 bar, 4 bar\"; default 1 to 6 bar");
    chart.add_option("--thickness", chart_.thickness,
                     "gauges of the sheet as bought; default the case's, 0.5, 0.75 and 1 mm");
    chart.add_option("--depth", chart_.depth, "depths of the strokes; default 0.1 to 0.5 mm");
    chart.add_option("--stretch", chart_.stretch, "of the sheet, across and along the stroke; default \"1, 1\"");
    chart.add_option("--share", chart_.share, "of the stroke's depth that the sheet has to reach; default 1");
    chart.callback([this] {
      chart_.case_path = shared_.case_path;
      chart_.out = shared_.out_path();
      chart_.force = shared_.force;
      chart_.json = shared_.json;
      chart_.quiet = shared_.quiet;
      action_ = [this] { return chart_command(chart_); };
    });
  }

  void add_calibrate() {
    CLI::App& calibrate = *app_.add_subcommand("calibrate", "the hot sheet's shear modulus from measured grooves");
    shared_.add_to(calibrate, "folder for card.toml; default: not written");
    calibrate.add_option("MEASURED", measured_, "table of grooves, .csv: width_mm, depth_mm, ...")->required();
    calibrate.callback([this] {
      action_ = [this] {
        return calibrate_command(
            {shared_.case_path, measured_, shared_.out_path(), shared_.force, shared_.json, shared_.quiet});
      };
    });
  }

  void add_fit() {
    CLI::App& fit = *app_.add_subcommand("fit", "a card from a hot tensile curve, or from a table of G' and G''");
    fit.add_option("MEASURED", measured_, "table, .csv: stretch,stress_MPa or frequency_Hz,storage_MPa,loss_MPa,...")
        ->required();
    fit.add_option("--like", fit_.like, "card of the nearest polymer: it lends what was not measured")->required();
    fit.add_option("--name", fit_.name, "of the new card; default <like>-measured");
    fit.add_option("--temperature", fit_.temperature, "of a tensile test whose table does not say, \"130 °C\"");
    fit.add_option("--law", fit_.law, "for a tensile test; default the simplest that serves")
        ->check(CLI::IsMember({"neo-hookean", "yeoh", "ogden"}));
    fit.add_option("--out", shared_.out, "folder for card.toml and fit.svg; default: not written");
    fit.add_flag("--force", shared_.force, "replace earlier results of pellicle");
    fit.add_flag("--json", shared_.json, "print the result as JSON only");
    fit.add_flag("--quiet", shared_.quiet, "no warnings");
    fit.callback([this] {
      fit_.measured = measured_;
      fit_.out = shared_.out_path();
      fit_.force = shared_.force, fit_.json = shared_.json, fit_.quiet = shared_.quiet;
      action_ = [this] { return fit_command(fit_); };
    });
  }

  void add_export() {
    CLI::App& out = *app_.add_subcommand("export", "the formed part, and the mould with shrinkage, as STL in mm");
    out.add_option("DIR", results_, "results folder of a run that finished; nothing outside it is read")->required();
    out.add_option("--out", shared_.out, "folder for the STL files; default <name of DIR>-stl here");
    out.add_flag("--force", shared_.force, "replace earlier results of pellicle");
    out.add_flag("--json", shared_.json, "print the result as JSON only");
    out.add_flag("--quiet", shared_.quiet, "no warnings");
    out.callback([this] {
      action_ = [this] {
        return export_command({results_, shared_.out_path(), shared_.force, shared_.json, shared_.quiet});
      };
    });
  }

  void add_compare() {
    CLI::App& compare = *app_.add_subcommand("compare", "two results; or a result and the walls measured on the part");
    compare.add_option("DIR", results_, "results folder of a run that finished")->required();
    compare.add_option("OTHER", measured_, "another one, or a table .csv: x_mm, y_mm, z_mm, thickness_mm")->required();
    compare.add_option("--out", shared_.out, "folder for the page and the data; default: not written");
    compare.add_flag("--force", shared_.force, "replace earlier results of pellicle");
    compare.add_flag("--json", shared_.json, "print the result as JSON only");
    compare.add_flag("--quiet", shared_.quiet, "no progress, no warnings");
    compare.add_option("--within", compare_.within,
                       "of a table: how far a point may be from the sheet; default \"2 mm\"");
    compare.add_flag("--explain", compare_.explain, "of a table: form the case again one step on, to find causes");
    compare.add_option("--threads", compare_.threads, "threads, 0: the free cores")->check(CLI::Range(0, 1024));
    compare.callback([this] {
      compare_.a = results_, compare_.other = measured_, compare_.out = shared_.out_path();
      compare_.force = shared_.force, compare_.json = shared_.json, compare_.quiet = shared_.quiet;
      action_ = [this] { return compare_command(compare_); };
    });
  }

  void add_verify() {
    CLI::App& verify = *app_.add_subcommand("verify", "hold the solver against known answers on this machine");
    verify.add_option("NAME", verify_.names, "problems to run; default all");
    verify.add_flag("--quick", verify_.quick, "a few of them, half a minute");
    verify.add_option("--elements", verify_.elements, "on the radius; the allowed errors are for 40")
        ->check(CLI::Range(8, 160))
        ->capture_default_str();
    verify.add_option("--threads", verify_.threads, "threads, 0: the free cores")->check(CLI::Range(0, 1024));
    verify.add_option("--out", shared_.out, "keep the cases in this folder, each to be run by hand");
    verify.add_flag("--json", verify_.json, "print the result as JSON only");
    verify.add_flag("--quiet", verify_.quiet, "no progress");
    verify.callback([this] {
      verify_.out = shared_.out_path();
      action_ = [this] { return verify_command(verify_); };
    });
  }

  void add_schema() {
    CLI::App& schema = *app_.add_subcommand("schema", "print what may stand in a case file");
    CLI::Option* markdown = schema.add_flag("--markdown", markdown_, "as docs/case_reference.md");
    schema.add_flag("--json", schema_json_, "as JSON")->excludes(markdown);
    schema.callback([this] {
      using Form = SchemaOptions::Form;
      const Form form = markdown_ ? Form::kMarkdown : schema_json_ ? Form::kJson : Form::kText;
      action_ = [form] { return schema_command({form}); };
    });
  }

  CLI::App app_{"Simulates how a heated plastic sheet stretches over a printed mould.", "pellicle"};
  SharedOptions shared_;
  RunOptions run_;
  SweepOptions sweep_;
  ChartOptions chart_;
  CompareOptions compare_;
  FitOptions fit_;
  VerifyOptions verify_;
  std::string measured_;
  std::string new_folder_, results_;
  int threads_ = 0;
  int case_index_ = 0;
  bool markdown_ = false;
  bool schema_json_ = false;
  bool manual_ = false;
  std::string shell_;
  std::function<int()> action_;
};

}  // namespace

/// Threads that spin for each other bring a busy machine to its knees (measured: 20 times slower), threads that sleep
/// at once wake too slowly for steps of a millisecond (half as fast): they spin a little, then sleep. The OpenMP
/// library reads its environment before main, so the program starts itself once more with it set; not for what answers
/// at once or has few loops to wait for: there starting takes longest.
static void wait_briefly(int argc, char** argv) {
  constexpr std::array<std::string_view, 4> kAtOnce{"check", "new", "schema", "export"};
  const std::string_view word = argc > 1 ? argv[1] : "-";
  if (word.starts_with('-') || std::find(kAtOnce.begin(), kAtOnce.end(), word) != kAtOnce.end()) return;
  if (::getenv("OMP_WAIT_POLICY") != nullptr || ::getenv("GOMP_SPINCOUNT") != nullptr) return;
  ::setenv("OMP_WAIT_POLICY", "passive", 1);
  ::setenv("GOMP_SPINCOUNT", "2000", 1);  // some 50 us
  ::execv("/proc/self/exe", argv);        // returns only if it failed: then it goes on as it is
}

int main(int argc, char** argv) {
  wait_briefly(argc, argv);
  try {
    const int exit_code = CommandLine().parse(argc, argv);
    if (std::fflush(stdout) != 0 || std::ferror(stdout) != 0) {
      return complain("standard output: found a place that takes no more; allowed an open file or terminal", kUsage);
    }
    return exit_code;
  } catch (const Error& error) {
    return complain(error.what(), error.exit_code());
  } catch (const std::bad_alloc&) {
    return complain("out of memory: a larger element or a coarser mould needs less", kInternal);
  } catch (const std::exception& error) {
    return complain(std::string("internal: ") + error.what(), kInternal);
  } catch (...) {
    return complain("internal: something unknown was thrown", kInternal);
  }
}
