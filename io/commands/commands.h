// What can the program be asked to do? One plain struct of options and one function a command; main fills and calls.
//
// Results go to stdout, progress and warnings to stderr. A command throws Error for what a user can mend and returns
// the exit code otherwise.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace pellicle::commands {

struct NewOptions {
  std::filesystem::path folder;  ///< to be made
};
/// A case to start from, and its mould.
int new_command(const NewOptions& options);

struct RunOptions {
  std::filesystem::path case_path;           ///< a .toml file or a folder with case.toml
  std::optional<std::filesystem::path> out;  ///< results folder; none: `<name>-results` in the working directory
  bool force = false;                        ///< replace earlier results of pellicle
  std::optional<int> threads;                ///< none: numerics.threads of the case
  bool json = false;                         ///< print exactly summary.json
  bool quiet = false;                        ///< no progress
  bool profile = false;                      ///< print the time of each line of the loop
  bool strict = false;                       ///< a broken limit of the case: exit 5
  bool spread = false;                       ///< every answer as low, likely, high, from side runs
  std::string save_every;                    ///< "30 s": between checkpoints; empty: half a minute
};
int run_command(const RunOptions& options);
/// Goes on with the interrupted run in `out`; case_path and force do not count.
int resume_command(const RunOptions& options);
/// The reliefs of a case. Nothing is formed if each has a state; else it is as run_command.
int imprint_command(const RunOptions& options);

/// Case `index`, from 1, of a case with [[vary]]; options.out is the folder of the sweep, and force does not count.
/// What is done is told and not run again, nor is what failed unless `retry`; what was interrupted is gone on with.
int run_case_of_sweep_command(const RunOptions& options, int index, bool retry);

struct SweepOptions {
  std::filesystem::path case_path;           ///< with [[vary]]; with gather_only the folder of a sweep
  std::optional<std::filesystem::path> out;  ///< none: `<name>-sweep` in the working directory
  int jobs = 0;                              ///< at once; 0: as many as there are free cores
  std::optional<int> threads;                ///< of each case; none: the free cores shared among the jobs
  bool scripts_only = false;                 ///< lay everything out, run nothing
  bool gather_only = false;                  ///< table and page of what there is
  bool retry = false;                        ///< run those again that failed
  bool strict = false;                       ///< a broken limit of a case: exit 5
  bool json = false;
  bool quiet = false;      ///< no progress
  std::string save_every;  ///< as RunOptions
};
/// Every combination of a case with [[vary]]. The exit code is that of the first case that failed; 130 if some are left
/// to do.
int sweep_command(const SweepOptions& options);

struct CheckOptions {
  std::filesystem::path case_path;
  std::optional<std::filesystem::path> out;  ///< folder for the mould's defects; none: not written
  bool force = false;                        ///< replace earlier results of pellicle
  bool json = false;
  bool quiet = false;  ///< no warnings
};
int check_command(const CheckOptions& options);

struct ChartOptions {
  std::filesystem::path case_path;
  std::optional<std::filesystem::path> out;  ///< folder for chart.csv and chart.svg; none: not written
  bool force = false;                        ///< replace earlier results of pellicle
  bool json = false;
  bool quiet = false;     ///< no progress, no warnings
  std::string pressure;   ///< "2 bar, 4 bar"; empty: 1 to 6 bar
  std::string thickness;  ///< gauges as bought; empty: the case's and common ones
  std::string depth;      ///< of the strokes; empty: 0.1 to 0.5 mm
  std::string stretch;    ///< "1.2, 1.0": across the stroke, along it; empty: 1, 1
  double share = 1.0;     ///< of the stroke's depth that the sheet has to reach
};
/// The narrowest stroke for a depth, over pressure, gauge and modulus.
int chart_command(const ChartOptions& options);

struct CalibrateOptions {
  std::filesystem::path case_path;
  std::filesystem::path measured;            ///< table of grooves
  std::optional<std::filesystem::path> out;  ///< folder for card.toml; none: not written
  bool force = false;                        ///< replace earlier results of pellicle
  bool json = false;
  bool quiet = false;  ///< no warnings
};
/// The hot sheet's shear modulus from measured grooves.
int calibrate_command(const CalibrateOptions& options);

struct FitOptions {
  std::filesystem::path measured;            ///< table of a tensile test, or of G' and G''
  std::string like;                          ///< card that lends what was not measured
  std::string name;                          ///< of the new card; empty: `<like>-measured`
  std::string temperature;                   ///< of the tensile test, "130 °C"; empty: the table says
  std::string law;                           ///< neo-hookean, yeoh, ogden; empty: the simplest that serves
  std::optional<std::filesystem::path> out;  ///< folder for card.toml and fit.svg; none: not written
  bool force = false;                        ///< replace earlier results of pellicle
  bool json = false;
  bool quiet = false;  ///< no warnings
};
/// A card from the hot polymer's own measurements.
int fit_command(const FitOptions& options);

struct ExportOptions {
  std::filesystem::path results;             ///< folder of a run that finished
  std::optional<std::filesystem::path> out;  ///< none: `<name of results>-stl` in the working directory
  bool force = false;                        ///< replace earlier results of pellicle
  bool json = false;
  bool quiet = false;  ///< no warnings
};
/// The formed part and the mould with shrinkage, as STL.
int export_command(const ExportOptions& options);

struct CompareOptions {
  std::filesystem::path a;                   ///< results folder of a run that finished
  std::filesystem::path other;               ///< another one, or a table of measured walls
  std::optional<std::filesystem::path> out;  ///< none: nothing is written
  bool force = false;                        ///< replace earlier results of pellicle
  bool json = false;
  bool quiet = false;  ///< no progress, no warnings
  // Of a table alone.
  std::string within;    ///< "2 mm": how far a point may be from the sheet; empty: that
  bool explain = false;  ///< form the case again one step on, to find causes
  int threads = 0;       ///< 0: the free cores
};
/// Two results, or a result and what was measured on the part.
int compare_command(const CompareOptions& options);

struct VerifyOptions {
  std::vector<std::string> names;            ///< of problems; empty: all
  bool quick = false;                        ///< only those that take half a minute together
  int elements = 40;                         ///< on the radius
  std::optional<std::filesystem::path> out;  ///< where the cases stay; none: nowhere
  int threads = 0;                           ///< 0: the free cores
  bool json = false;
  bool quiet = false;  ///< no progress
};
/// Runs the problems with known answers; 4 if one is off by more than it may.
int verify_command(const VerifyOptions& options);

struct SchemaOptions {
  enum class Form { kText, kMarkdown, kJson };
  Form form = Form::kText;
};
int schema_command(const SchemaOptions& options);

}  // namespace pellicle::commands
