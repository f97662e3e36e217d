// Where do results go, and whose files may be replaced? POSIX calls, as std::filesystem cannot sync or open
// exclusively.
#include "io/results/result_folder.h"

#include "io/heater/map_file.h"
#include "mesh/check.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <fstream>
#include <sstream>
#include <system_error>
#include <utility>

namespace pellicle::results {
namespace {

namespace fs = std::filesystem;

/// Names no other program is likely to use.
constexpr std::array<std::string_view, 6> kOwnNames{"sheet.xdmf", "checkpoint.h5", "defects.xdmf",
                                                    "defects.h5", "compare.xdmf",  "compare.h5"};
/// Names others use too: ours only beside one of our own.
constexpr std::array<std::string_view, 15> kCommonNames{
    "mould.xdmf",   "mould.h5",    "vents.xdmf",      "vents.h5",         "history.csv",
    "summary.json", "report.html", "case.toml",       "chart.svg",        "open.png",
    "compare.html", "fit.svg",     "sheet_card.toml", heater::kKeptTable, heater::kKeptPicture};
/// Names others use as well: ours if they open with our words.
constexpr std::array<std::pair<std::string_view, std::string_view>, 6> kSignedNames{
    {{"chart.csv", kChartTable},
     {"compare.csv", kMeasuredTable},
     {"card.toml", kMeasuredCard},
     {"open.py", kOpenScriptStart},
     {"part.stl", kPartStl},
     {"mould_scaled.stl", kScaledMouldStl}}};

std::string_view without_tmp(std::string_view name) {
  if (name.ends_with(".tmp")) name.remove_suffix(4);
  return name;
}

bool is_frame_name(std::string_view name) {
  constexpr std::string_view kStart = "sheet_", kEnd = ".h5";
  if (!name.starts_with(kStart) || !name.ends_with(kEnd) || name.size() < kStart.size() + 4 + kEnd.size()) return false;
  const std::string_view number = name.substr(kStart.size(), name.size() - kStart.size() - kEnd.size());
  return std::all_of(number.begin(), number.end(), [](char c) { return c >= '0' && c <= '9'; });
}

bool is_relief_name(std::string_view name) {
  return name.starts_with("relief_") && (name.ends_with(".xdmf") || name.ends_with(".h5"));
}

bool is_own_name(std::string_view name) {
  name = without_tmp(name);
  return is_frame_name(name) || is_relief_name(name) ||
         std::find(kOwnNames.begin(), kOwnNames.end(), name) != kOwnNames.end();
}

bool is_signed_name(std::string_view name) {
  return std::any_of(kSignedNames.begin(), kSignedNames.end(), [&](const auto& s) { return s.first == name; });
}

enum class Signature { kOurs, kCutShort, kMissing };

/// Whether the file opens with the words its name has when we wrote it. A .tmp may be cut short within them.
Signature signature(const fs::path& file) {
  const std::string full = file.filename().string(), name(without_tmp(full));
  const auto ours =
      std::find_if(kSignedNames.begin(), kSignedNames.end(), [&](const auto& s) { return s.first == name; });
  if (ours == kSignedNames.end()) return Signature::kMissing;
  std::string start(ours->second.size(), '\0');
  std::ifstream in(file, std::ios::binary);
  in.read(start.data(), static_cast<std::streamsize>(start.size()));
  start.resize(static_cast<std::size_t>(in.gcount()));
  if (start == ours->second) return Signature::kOurs;
  return full != name && ours->second.starts_with(start) ? Signature::kCutShort : Signature::kMissing;
}

struct Contents {
  std::vector<std::string> ours;    ///< the tell-tale ones last, so that a broken-off deletion can be repeated
  std::vector<std::string> others;  ///< sorted
};

Contents look(const fs::path& folder) {
  std::vector<std::string> own, common;
  Contents contents;
  for (const fs::directory_entry& entry : fs::directory_iterator(folder)) {
    std::string name = entry.path().filename().string();
    const bool wants_signature = is_signed_name(without_tmp(name));
    const bool is_plain = !entry.is_symlink() && entry.is_regular_file();
    const Signature found = wants_signature && is_plain ? signature(entry.path()) : Signature::kMissing;
    if (!is_plain || !is_result_name(name) || (wants_signature && found == Signature::kMissing)) {
      contents.others.push_back(std::move(name));
    } else {
      (is_own_name(name) || found == Signature::kOurs ? own : common).push_back(std::move(name));
    }
  }
  (own.empty() ? contents.others : contents.ours)
      .insert(own.empty() ? contents.others.end() : contents.ours.end(), common.begin(), common.end());
  contents.ours.insert(contents.ours.end(), own.begin(), own.end());
  std::sort(contents.others.begin(), contents.others.end());
  return contents;
}

std::string reason(int error_number) { return std::generic_category().message(error_number); }

[[noreturn]] void say_no(const fs::path& folder, std::string found, std::string allowed, std::string advice) {
  throw Error({Fault::Kind::kCase, fmt::format("result folder '{}'", folder.string()), std::move(found),
               std::move(allowed), std::move(advice)});
}

void refuse_inputs_inside(const fs::path& folder, const std::vector<fs::path>& inputs) {
  for (const fs::path& input : inputs) {
    std::error_code ignored;
    const fs::path named = fs::absolute(input).parent_path(), real = fs::canonical(input, ignored).parent_path();
    if (fs::equivalent(named, folder, ignored) || (!real.empty() && fs::equivalent(real, folder, ignored))) {
      say_no(folder, fmt::format("'{}', which this run reads", input.filename().string()),
             "a folder of its own for the results", "choose another --out");
    }
  }
}

/// Throws if the folder's contents are in the way.
void require_free(const fs::path& folder, bool force) {
  const Contents contents = look(folder);
  if (!contents.others.empty()) {
    say_no(folder,
           fmt::format("'{}'{}", contents.others.front(),
                       contents.others.size() == 1 ? "" : fmt::format(" and {} more", contents.others.size() - 1)),
           "a new folder, an empty one, or one that holds nothing but results",
           "choose another --out, or move those files away; --force deletes only files written by pellicle");
  }
  if (!contents.ours.empty() && !force) {
    std::error_code ignored;
    const bool unfinished = fs::exists(folder / "checkpoint.h5", ignored);
    say_no(
        folder,
        fmt::format("results of {} run ({} files)", unfinished ? "an unfinished" : "an earlier", contents.ours.size()),
        "a new or empty folder",
        fmt::format("{}add --force to replace them, or choose another --out",
                    unfinished ? fmt::format("go on with it: pellicle resume {}; or ", folder.string()) : ""));
  }
}

void require_writable(const fs::path& folder) {
  fs::path place = fs::absolute(folder);
  while (!fs::exists(place) && place.has_relative_path()) place = place.parent_path();
  if (!fs::is_directory(place)) {
    say_no(folder, fmt::format("'{}', which is no folder", place.string()), "a folder", "choose another --out");
  }
  if (::faccessat(AT_FDCWD, place.c_str(), W_OK | X_OK, AT_EACCESS) != 0) {
    say_no(folder, fmt::format("'{}': {}", place.string(), reason(errno)), "a place where you may write",
           "choose another --out");
  }
}

}  // namespace

bool is_result_name(std::string_view name) {
  const std::string_view plain = without_tmp(name);
  return is_own_name(plain) || is_signed_name(plain) ||
         std::find(kCommonNames.begin(), kCommonNames.end(), plain) != kCommonNames.end();
}

ResultFolder::ResultFolder(fs::path folder, bool force, const std::vector<fs::path>& inputs)
    : folder_(std::move(folder)), force_(force) {
  if (!folder_.has_filename()) folder_ = folder_.parent_path();
  if (folder_.empty()) folder_ = ".";
  try {
    if (fs::exists(folder_)) {
      if (!fs::is_directory(folder_)) say_no(folder_, "a file of this name", "a folder", "choose another --out");
      refuse_inputs_inside(folder_, inputs);
      require_free(folder_, force_);
    } else if (fs::is_symlink(folder_)) {
      say_no(folder_, "a link that leads nowhere", "a folder", "choose another --out");
    }
    require_writable(folder_);
  } catch (const fs::filesystem_error& error) {
    say_no(folder_, error.code().message(), "a folder that may be read and written", "choose another --out");
  }
}

ResultFolder::ResultFolder(fs::path folder, GoingOn) : folder_(std::move(folder)), force_(true), keeps_(true) {
  if (!folder_.has_filename()) folder_ = folder_.parent_path();
  std::error_code ignored;
  if (!fs::is_directory(folder_, ignored)) {
    say_no(folder_, fs::exists(folder_, ignored) ? "no folder" : "no such folder", "the results folder of a run", "");
  }
  if (!fs::is_regular_file(folder_ / "checkpoint.h5", ignored)) {
    const bool done = fs::exists(folder_ / "summary.json", ignored);
    say_no(folder_, "no checkpoint.h5", "the results folder of a run that was interrupted",
           done ? "the run there is finished" : "run the case again, with --force");
  }
  require_writable(folder_);
}

ResultFolder ResultFolder::going_on(fs::path folder) { return ResultFolder(std::move(folder), GoingOn{}); }

ResultFolder::~ResultFolder() {
  if (handle_ >= 0) ::close(handle_);
}

void ResultFolder::start() {
  std::error_code error;
  fs::create_directories(folder_, error);
  if (error) refuse("", error.value());
  handle_ = ::open(folder_.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (handle_ < 0) refuse("", errno);
  // Where the file system has no locks, we go on without.
  if (::flock(handle_, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK) {
    ::close(std::exchange(handle_, -1));
    say_no(folder_, "a run that is writing here now", "one run a folder", "wait for it, or choose another --out");
  }
  try {
    if (!keeps_) require_free(folder_, force_);  // time has passed since the first look
    for (const std::string& name : look(folder_).ours)
      if (!keeps_ || name.ends_with(".tmp")) remove(name);  // cut short by a kill
  } catch (...) {
    ::close(std::exchange(handle_, -1));
    throw;
  }
}

void ResultFolder::write(const std::string& name, std::string_view bytes) {
  ensure(is_result_name(name) && name == without_tmp(name), "a result file has a known name");
  if (handle_ < 0) start();
  const std::string tmp = name + ".tmp";
  const int file = ::openat(handle_, tmp.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666);
  if (file < 0) refuse(name, errno);
  int failed = 0;
  while (!bytes.empty() && failed == 0) {
    const ssize_t written = ::write(file, bytes.data(), bytes.size());
    if (written >= 0) {
      bytes.remove_prefix(static_cast<std::size_t>(written));
    } else if (errno != EINTR) {
      failed = errno;
    }
  }
  // Some file systems tell of a full disk only here.
  if (failed == 0 && ::fsync(file) != 0 && errno != EINVAL) failed = errno;
  if (::close(file) != 0 && failed == 0) failed = errno;
  if (failed == 0 && ::renameat(handle_, tmp.c_str(), handle_, name.c_str()) != 0) failed = errno;
  if (failed != 0) {
    ::unlinkat(handle_, tmp.c_str(), 0);
    refuse(name, failed);
  }
  ::fsync(handle_);  // the new name itself; without it only a power cut could lose it
}

void ResultFolder::remove(const std::string& name) {
  if (handle_ >= 0 && ::unlinkat(handle_, name.c_str(), 0) != 0 && errno != ENOENT) refuse(name, errno);
}

void ResultFolder::refuse(const std::string& name, int error_number) const {
  const bool is_full = error_number == ENOSPC || error_number == EDQUOT || error_number == EFBIG;
  // Before the first file it is a wrong --out; later the machine has let the run down.
  throw Error({handle_ < 0 ? Fault::Kind::kCase : Fault::Kind::kMachine, (folder_ / name).string(),
               reason(error_number), is_full ? "enough free space" : "a folder where files may be written",
               is_full ? "free some space and run again with --force, or choose another --out; what was written before "
                         "this file is whole"
                       : "choose another --out; what was written before this file is whole"});
}

HeldFolder::HeldFolder(fs::path folder) : folder_(std::move(folder)) {
  const auto refuse = [this](std::string found, std::string allowed, std::string advice) {
    if (handle_ >= 0) ::close(handle_);
    say_no(folder_, std::move(found), std::move(allowed), std::move(advice));
  };
  handle_ = ::open(folder_.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (handle_ < 0) refuse(reason(errno), "the results folder of a run", "");
  // Where the file system has no locks, we go on without.
  if (::flock(handle_, LOCK_SH | LOCK_NB) != 0 && errno == EWOULDBLOCK)
    refuse("a run that is writing here now", "the results of a run that is finished", "wait for it");
}

HeldFolder::~HeldFolder() { ::close(handle_); }

bool HeldFolder::holds(const std::string& name) const {
  std::error_code ignored;
  const fs::file_status status = fs::symlink_status(folder_ / name, ignored);
  return fs::is_regular_file(status);
}

std::string HeldFolder::last_frame() const {
  std::string last;
  std::error_code error;
  for (const fs::directory_entry& entry : fs::directory_iterator(folder_, error)) {
    std::string name = entry.path().filename().string();
    // Numbers have no leading zeros beyond four digits: a longer name is a later frame.
    if (is_frame_name(name) && holds(name) && std::pair(name.size(), name) > std::pair(last.size(), last))
      last = std::move(name);
  }
  return last;
}

std::string read_file(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::ostringstream content;
  if (in && in.peek() != std::ifstream::traits_type::eof()) content << in.rdbuf();
  if (!in.is_open() || in.bad()) {
    throw Error({Fault::Kind::kCase, file.string(), "no file that can be read", "a file written by pellicle", ""});
  }
  return std::move(content).str();
}

}  // namespace pellicle::results
