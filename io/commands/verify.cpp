// Can the program be trusted on this machine? Runs the problems with known answers and prints how far off it is.
#include "io/verify/verify.h"
#include "io/commands/commands.h"
#include "io/commands/progress.h"
#include "io/commands/stop_on_signal.h"
#include "io/results/json.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <system_error>

namespace pellicle::commands {
namespace {

namespace fs = std::filesystem;

constexpr int kOff = 4;

/// A folder that is gone when it is no longer needed.
class ShortLivedFolder {
 public:
  ShortLivedFolder() {
    std::string name = (fs::temp_directory_path() / "pellicle-verify-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr)
      throw Error({Fault::Kind::kCase, fs::temp_directory_path().string(), "a folder in which no folder can be made",
                   "a folder one may write in", "set TMPDIR, or give a folder with --out"});
    path_ = name;
  }
  ShortLivedFolder(const ShortLivedFolder&) = delete;
  ShortLivedFolder& operator=(const ShortLivedFolder&) = delete;
  ~ShortLivedFolder() {
    std::error_code ignored;
    fs::remove_all(path_, ignored);
  }
  const fs::path& path() const { return path_; }

 private:
  fs::path path_;
};

void refuse_used_folder(const fs::path& folder) {
  std::error_code ignored;
  if (fs::exists(folder, ignored) && !(fs::is_directory(folder, ignored) && fs::is_empty(folder, ignored)))
    throw Error({Fault::Kind::kCase, "--out " + folder.string(), "something that is there already",
                 "a new or an empty folder", "nothing is overwritten"});
}

std::vector<verify::Problem> chosen(const VerifyOptions& options) {
  std::vector<verify::Problem> all = verify::problems(options.elements), some;
  for (const std::string& name : options.names) {
    const auto found = std::find_if(all.begin(), all.end(), [&](const verify::Problem& p) { return p.name == name; });
    if (found == all.end()) {
      std::vector<std::string> names;
      for (const verify::Problem& p : all) names.push_back(p.name);
      throw Error({Fault::Kind::kCase,
                   "verify",
                   fmt::format("the unknown problem '{}'", name),
                   fmt::format("{}", fmt::join(names, ", ")),
                   {}});
    }
    some.push_back(*found);
  }
  for (const verify::Problem& p : all)
    if (options.names.empty() && (p.quick || !options.quick)) some.push_back(p);
  return some;
}

/// A table: quantity, expected, found, error, allowed, verdict; above its rows what they are held against.
std::string verdict_text(const verify::Verdict& v) {
  std::string out =
      fmt::format("{}: {} ({} triangles, {} steps, {:.1f} s)\n", v.problem, v.title, v.elements, v.steps, v.seconds);
  std::string source;
  for (const verify::Check& c : v.checks) {
    if (c.source != source) out += fmt::format("  against the {}\n", source = c.source);
    const std::string numbers = c.expected && c.found
                                    ? fmt::format("expected {:.5g} {}, found {:.5g}", *c.expected, c.unit, *c.found)
                                    : "over the nodes";
    const std::string error =
        c.expected ? fmt::format("{:+.3f} %", 100.0 * c.error) : fmt::format("{:.3f} %", 100.0 * c.error);
    out += fmt::format("  {:<20}  {:<40}  error {:>9}, allowed {:>5} %  {}\n", c.name, numbers, error,
                       fmt::format("{:.3g}", 100.0 * c.allowed), c.passed() ? "ok" : "OFF");
  }
  return out;
}

void add_json(results::Json& json, const verify::Verdict& v) {
  json.open_object().key("problem").text(v.problem).key("title").text(v.title).key("elements").whole(v.elements);
  json.key("steps").whole(v.steps).key("seconds").number(v.seconds).key("checks").open_list();
  for (const verify::Check& c : v.checks) {
    json.open_object().key("name").text(c.name).key("source").text(c.source).key("unit").text(c.unit);
    const auto add = [&json](const char* key, const std::optional<double>& value) {
      json.key(key);
      if (value) {
        json.number(*value);
      } else {
        json.null();
      }
    };
    add("expected", c.expected);
    add("found", c.found);
    json.key("error").number(c.error).key("allowed").number(c.allowed);
    json.key("verdict").text(c.passed() ? "ok" : "off").close_object();
  }
  json.close_list().close_object();
}

/// A problem whose run was given up has one check that is off, and the reason in its name.
verify::Verdict given_up(const verify::Problem& problem, const Error& error) {
  verify::Check check{std::string("run given up: ") + error.what(), "-", "-", {}, {}, 1.0, 0.0};
  return {problem.name, problem.title, 0, 0, 0.0, {check}};
}

}  // namespace

int verify_command(const VerifyOptions& options) {
  const std::vector<verify::Problem> problems = chosen(options);
  std::optional<ShortLivedFolder> gone_after;
  if (options.out)
    refuse_used_folder(*options.out);
  else
    gone_after.emplace();
  const fs::path folder = options.out ? *options.out : gone_after->path();

  const StopOnSignal stop_on_signal;
  ProgressLine line(options.quiet);
  forming::Sinks sinks;
  sinks.progress = [&](const forming::Progress& progress) { line.show(progress); };
  sinks.stop = [] { return StopOnSignal::asked(); };
  results::Json json;
  json.open_object().key("elements_on_radius").whole(options.elements).key("problems").open_list();
  int checks = 0, off = 0;
  double seconds = 0.0;
  for (const verify::Problem& problem : problems) {
    verify::Verdict v;
    try {
      v = verify::run_problem(problem, folder / problem.name, options.threads, sinks);
    } catch (const Error& error) {
      if (error.fault().kind != Fault::Kind::kSolution) throw;
      v = given_up(problem, error);
    }
    line.clear();
    if (StopOnSignal::asked()) return kInterrupted;
    seconds += v.seconds;
    checks += static_cast<int>(v.checks.size());
    off += static_cast<int>(std::count_if(v.checks.begin(), v.checks.end(), [](const auto& c) { return !c.passed(); }));
    add_json(json, v);
    if (!options.json) {
      fmt::print("{}", verdict_text(v));
      std::fflush(stdout);
    }
  }
  json.close_list().key("checks").whole(checks).key("off").whole(off).close_object();
  if (options.json)
    fmt::print("{}", json.finish());
  else
    fmt::print("{} of {} checks ok, {}\n", checks - off, checks, duration_in_words(seconds));
  return off > 0 ? kOff : 0;
}

}  // namespace pellicle::commands
