// How does a sweep lie on disk, and how far is each of its cases?
#include "io/sweep/sweep_folder.h"

#include "io/results/json.h"
#include "io/results/json_value.h"
#include "io/results/result_folder.h"
#include "io/sweep/manifest.h"
#include "mesh/check.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <cstdlib>
#include <system_error>
#include <thread>
#include <utility>

namespace pellicle::sweep {
namespace {

namespace fs = std::filesystem;
using results::JsonValue;

std::string reason(int error_number) { return std::generic_category().message(error_number); }

[[noreturn]] void refuse_disk(const fs::path& file, int error_number) {
  throw Error({Fault::Kind::kMachine, file.string(), reason(error_number), "a place where files may be written",
               "free some space or mend the permissions, and give the same command again: what is done stays done"});
}

[[noreturn]] void refuse_folder(const fs::path& folder, std::string found, std::string allowed, std::string advice) {
  throw Error({Fault::Kind::kCase, fmt::format("sweep folder '{}'", folder.string()), std::move(found),
               std::move(allowed), std::move(advice)});
}

void make_folder(const fs::path& folder) {
  std::error_code problem;
  fs::create_directories(folder, problem);
  if (!fs::is_directory(folder))
    refuse_folder(folder, problem ? problem.message() : "a file of this name", "a folder", "choose another --out");
}

/// What may lie in a folder before its manifest does: a sweep that was killed at its very beginning.
bool is_fresh(const fs::path& folder) {
  return std::all_of(fs::directory_iterator(folder), fs::directory_iterator(), [](const fs::directory_entry& entry) {
    const std::string name = entry.path().filename().string();
    return name == "lock" || name == "sweep.toml" || name.ends_with(".tmp");
  });
}

/// The whole of a small file; nothing if there is none.
std::optional<std::string> text_of(const fs::path& file) {
  std::error_code ignored;
  if (!fs::is_regular_file(file, ignored)) return std::nullopt;
  return results::read_file(file);
}

std::optional<CaseState> read_state(const fs::path& file) {
  const auto text = text_of(file);
  const auto json = text ? results::read_json(*text) : std::nullopt;
  if (!json) return std::nullopt;
  const JsonValue* word = json->find("state", JsonValue::Kind::kText);
  const JsonValue* exit_code = json->find("exit_code", JsonValue::Kind::kNumber);
  const JsonValue* error = json->find("error", JsonValue::Kind::kText);
  if (word == nullptr || exit_code == nullptr || error == nullptr) return std::nullopt;
  for (const State state : {State::kStopped, State::kFailed, State::kDone})
    if (word->text == state_word(state)) return CaseState{state, static_cast<int>(exit_code->number), error->text};
  return std::nullopt;
}

}  // namespace

const char* state_word(State state) {
  switch (state) {
    case State::kWaiting:
      return "waiting";
    case State::kBegun:
      return "begun";
    case State::kStopped:
      return "stopped";
    case State::kFailed:
      return "failed";
    case State::kDone:
      return "done";
  }
  return "";
}

void write_whole(const fs::path& file, std::string_view bytes) {
  std::string tmp = (file.parent_path() / (file.filename().string() + ".XXXXXX.tmp")).string();
  const int out = ::mkostemps(tmp.data(), 4, O_CLOEXEC);
  if (out < 0) refuse_disk(file, errno);
  int failed = ::fchmod(out, 0644) != 0 ? errno : 0;
  while (!bytes.empty() && failed == 0) {
    const ssize_t written = ::write(out, bytes.data(), bytes.size());
    if (written >= 0)
      bytes.remove_prefix(static_cast<std::size_t>(written));
    else if (errno != EINTR)
      failed = errno;
  }
  if (failed == 0 && ::fsync(out) != 0 && errno != EINVAL) failed = errno;
  if (::close(out) != 0 && failed == 0) failed = errno;
  if (failed == 0 && ::rename(tmp.c_str(), file.c_str()) != 0) failed = errno;
  if (failed == 0) return;
  ::unlink(tmp.c_str());
  refuse_disk(file, failed);
}

Lock::Lock(const fs::path& file, double wait_s) {
  constexpr auto kLook = std::chrono::milliseconds(50);
  file_ = ::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0644);
  if (file_ < 0) refuse_disk(file, errno);
  const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(wait_s);
  while (true) {
    held_ = ::flock(file_, LOCK_EX | LOCK_NB) == 0 || (errno != EWOULDBLOCK && errno != EINTR);
    if (held_ || std::chrono::steady_clock::now() >= end) return;
    std::this_thread::sleep_for(kLook);
  }
}

Lock::~Lock() { ::close(file_); }

SweepFolder::SweepFolder(fs::path folder, const cases::ParsedSweep& sweep) : folder_(std::move(folder)) {
  manifest_ = manifest_of(sweep);
  make_folder(folder_);
  const fs::path file = folder_ / "manifest.json";
  auto there = text_of(file);
  // Looked for once more: another one may have laid the sweep out meanwhile, manifest first.
  if (!there && !is_fresh(folder_) && !(there = text_of(file)))
    refuse_folder(folder_, "files of others", "a new folder, an empty one, or that of this sweep",
                  "choose another --out");
  if (there) {
    const auto before = read_manifest(*there);
    if (!before) refuse_folder(folder_, "a manifest.json that is none", "that of a sweep", "choose another --out");
    if (before->fingerprint != manifest_.fingerprint)
      refuse_folder(folder_,
                    fmt::format("a sweep of another case, of other values, of a mould that was another, or by another "
                                "version, begun from '{}'",
                                before->case_file),
                    "the sweep as it was begun",
                    "choose another --out; to have this one anew, delete the folder first");
  } else {
    write_whole(folder_ / "sweep.toml", sweep.text);
    write_whole(file, manifest_json(manifest_));
  }
  for (std::size_t i = 0; i < manifest_.entries.size(); ++i) {
    const fs::path at = of(manifest_.entries[i]);
    make_folder(at);
    if (text_of(at / "case.toml") != sweep.cases[i].text) write_whole(at / "case.toml", sweep.cases[i].text);
  }
}

SweepFolder::SweepFolder(fs::path folder) : folder_(std::move(folder)) {
  const auto text = text_of(folder_ / "manifest.json");
  auto manifest = text ? read_manifest(*text) : std::nullopt;
  if (!manifest)
    refuse_folder(folder_, text ? "a manifest.json that is none" : "no manifest.json", "the folder of a sweep",
                  "pellicle sweep CASE --out DIR makes one");
  manifest_ = *std::move(manifest);
}

CaseState SweepFolder::state_of(const Entry& entry) const {
  const fs::path results = results_of(entry);
  if (const auto told = read_state(of(entry) / "state.json")) return *told;
  std::error_code ignored;
  // A run writes report.html last and then takes its checkpoint away: with both so, only state.json was still to come.
  const bool is_whole = fs::exists(results / "report.html", ignored) && fs::exists(results / "summary.json", ignored) &&
                        !fs::exists(results / "checkpoint.h5", ignored);
  if (is_whole) return {State::kDone, 0, ""};
  const bool has_begun = fs::exists(results, ignored);
  return {has_begun ? State::kBegun : State::kWaiting, 0, ""};
}

void SweepFolder::record(const Entry& entry, const CaseState& state) const {
  results::Json json;
  json.open_object();
  json.key("state").text(state_word(state.state));
  json.key("exit_code").whole(state.exit_code);
  json.key("error").text(state.error).close_object();
  write_whole(of(entry) / "state.json", json.finish());
}

void SweepFolder::forget(const Entry& entry) const {
  std::error_code problem;
  fs::remove(of(entry) / "state.json", problem);
  if (problem) refuse_disk(of(entry) / "state.json", problem.value());
}

void SweepFolder::write_table() const {
  std::string table = "index,folder,state,exit_code";
  for (const ManifestKey& key : manifest_.keys) table += fmt::format(",{}", csv_field(key.path));
  table += ",error\n";
  for (const Entry& entry : manifest_.entries) {
    const CaseState state = state_of(entry);
    table += fmt::format("{},{},{},{}", entry.index, entry.folder, state_word(state.state), state.exit_code);
    for (const std::string& value : entry.values) table += fmt::format(",{}", csv_field(value));
    table += fmt::format(",{}\n", csv_field(state.error));
  }
  write_whole(folder_ / "manifest.csv", table);
}

std::string csv_field(std::string_view text) {
  if (text.find_first_of(",\"\r\n") == std::string_view::npos) return std::string(text);
  std::string out = "\"";
  for (const char c : text) out += c == '"' ? std::string("\"\"") : std::string(1, c);
  return out + '"';
}

}  // namespace pellicle::sweep
