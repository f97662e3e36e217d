// How does a sweep lie on disk, and how far is each of its cases? The folder of each case knows; nothing else does.
//
// DIR/manifest.json says what belongs to the sweep and is written once. DIR/007/ has case.toml, the results in
// results/, and state.json once it was finished, failed or was stopped: written last and whole, so a kill at any moment
// loses nothing. Files are written under another name, synced and renamed.
#pragma once

#include "io/case/vary.h"

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace pellicle::sweep {

/// One case of the sweep.
struct Entry {
  int index = 0;                    ///< from 1
  std::string folder;               ///< "007", inside DIR
  std::vector<std::string> values;  ///< one a key, as written
  std::vector<double> numbers;      ///< in the unit of the key; NaN where it is none
};

struct ManifestKey {
  std::string path;  ///< "sheet.temperature"
  std::string unit;  ///< of the numbers; empty: none
};

struct Manifest {
  std::string title;
  std::string case_file;    ///< where it stood when the sweep began
  std::string result_stem;  ///< name of the case
  std::string fingerprint;  ///< of every case, of the files they read and of the version
  std::vector<ManifestKey> keys;
  std::vector<Entry> entries;
};

enum class State { kWaiting, kBegun, kStopped, kFailed, kDone };
/// "waiting", "begun" (at work, or cut off by a kill), "stopped" (with a checkpoint), "failed", "done".
const char* state_word(State state);

struct CaseState {
  State state = State::kWaiting;
  int exit_code = 0;  ///< of kFailed and kDone (5: done, a limit is broken and --strict asked)
  std::string error;  ///< of kFailed: its one message
};

/// Replaces a file as a whole. Throws Error (machine) if the disk will not have it.
void write_whole(const std::filesystem::path& file, std::string_view bytes);

/// A lock that one process holds until it ends, however it ends. The file stays; it is empty.
class Lock {
 public:
  /// Waits up to `wait_s` for another one to let go; held() says whether it did. Throws Error (machine) if there is no
  /// writing there. Where the file system knows no locks we go on without.
  Lock(const std::filesystem::path& file, double wait_s);
  Lock(const Lock&) = delete;
  Lock& operator=(const Lock&) = delete;
  ~Lock();
  bool held() const { return held_; }

 private:
  int file_ = -1;
  bool held_ = false;
};

/// The folder of a sweep.
class SweepFolder {
 public:
  /// Makes DIR, or finds it made by the same sweep; may be done by many at once. Throws Error (case) if DIR holds other
  /// files or another sweep, or if a file the cases read has changed since.
  SweepFolder(std::filesystem::path folder, const cases::ParsedSweep& sweep);
  /// One that is there. Throws Error (case) if it is none.
  explicit SweepFolder(std::filesystem::path folder);

  const std::filesystem::path& path() const { return folder_; }
  const Manifest& manifest() const { return manifest_; }
  std::filesystem::path of(const Entry& entry) const { return folder_ / entry.folder; }
  /// Of the results of a case.
  std::filesystem::path results_of(const Entry& entry) const { return of(entry) / "results"; }

  CaseState state_of(const Entry& entry) const;
  void record(const Entry& entry, const CaseState& state) const;
  /// As if the case had never been run; its results are replaced when it is.
  void forget(const Entry& entry) const;

  /// manifest.csv: what state.json and results say now, a row a case.
  void write_table() const;

 private:
  std::filesystem::path folder_;
  Manifest manifest_;
};

/// A field of a CSV file: quoted where it must be (RFC 4180).
std::string csv_field(std::string_view text);

}  // namespace pellicle::sweep
