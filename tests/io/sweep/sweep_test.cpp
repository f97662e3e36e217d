// Are the pieces of a sweep sound on their own? Scripts, manifest, states, locks, table and pictures, without a run.
#include "io/sweep/gather.h"
#include "io/sweep/manifest.h"
#include "io/sweep/response.h"
#include "io/sweep/scripts.h"
#include "io/sweep/sweep_page.h"

#include "mesh/check.h"
#include "tests/io/results/made_up.h"

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <limits>

namespace pellicle::sweep {
namespace {

namespace fs = std::filesystem;
using checks::Verdict;

constexpr double kNone = std::numeric_limits<double>::quiet_NaN();

bool holds(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

int count(const std::string& text, const std::string& part) {
  int n = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++n;
  return n;
}

/// Two keys, the first with `gauges` values, the second with two words; a wall that is gauge/10 + word.
Gathered made_up(int gauges) {
  Gathered gathered;
  gathered.manifest.title = "Basil <& \"mint\">";
  gathered.manifest.result_stem = "basil & co";
  gathered.manifest.case_file = "/tmp/it's here/case.toml";
  gathered.manifest.fingerprint = "0123456789abcdef";
  gathered.manifest.keys = {{"sheet.thickness", "mm"}, {"mould.friction", ""}};
  for (int g = 1; g <= gauges; ++g)
    for (int w = 0; w < 2; ++w) {
      const int index = 2 * (g - 1) + w + 1;
      Entry entry{index,
                  "00" + std::to_string(index),
                  {std::to_string(g) + " mm", w == 0 ? "stick, hard" : "0.3"},
                  {1.0 * g, w == 0 ? kNone : 0.3}};
      Row row{entry, {State::kDone, 0, ""}, 1.5};
      row.findings = {{"thinnest_wall", "How thin?", 0.1 * g + w, "mm", 0.2, g > 1 ? Verdict::kPass : Verdict::kFail},
                      {"cooling", "How long?", 12.0, "s"}};
      row.reliefs = {{"word", 0.25 * w}};
      gathered.manifest.entries.push_back(entry);
      gathered.rows.push_back(std::move(row));
    }
  return gathered;
}

TEST(SweepScripts, AWordOfTheShellIsOneWordWhateverIsInIt) {
  EXPECT_EQ(shell_word("plain"), "'plain'");
  EXPECT_EQ(shell_word("it's $HOME"), "'it'\\''s $HOME'");
}

TEST(SweepScripts, SlurmAsksForOneTaskACaseAndNoMoreAtOnceThanJobs) {
  const Gathered gathered = made_up(3);
  const std::string script = slurm_script({gathered.manifest, "bin/pellicle", "/data/my sweep", 4, 2});
  for (const char* line :
       {"#SBATCH --array=1-6%4\n", "#SBATCH --cpus-per-task=2\n", "#SBATCH --requeue\n", "#SBATCH --signal=B:USR1@90\n",
        "#SBATCH --job-name=pellicle-basil___co\n", "export OMP_NUM_THREADS=\"${SLURM_CPUS_PER_TASK:-2}\"\n",
        "run '/tmp/it'\\''s here/case.toml' --case-index \"$SLURM_ARRAY_TASK_ID\" --out '/data/my sweep'"})
    EXPECT_TRUE(holds(script, line)) << line << script;
}

TEST(SweepManifest, ReadsBackTheSame) {
  const Manifest manifest = made_up(2).manifest;
  const std::string text = manifest_json(manifest);
  const auto again = read_manifest(text);
  ASSERT_TRUE(again.has_value());
  EXPECT_EQ(manifest_json(*again), text);
  EXPECT_EQ(again->entries.size(), 4U);
  EXPECT_TRUE(std::isnan(again->entries[0].numbers[1]));
  EXPECT_EQ(again->entries[1].values[1], "0.3");
  for (const char* broken : {"", "{}", "[]", "{\"format\": \"pellicle-sweep\", \"format_version\": 2}"})
    EXPECT_FALSE(read_manifest(broken).has_value()) << broken;
  EXPECT_FALSE(read_manifest(text.substr(0, text.size() / 2)).has_value());
}

class SweepOnDisk : public results::Scratch {
 protected:
  void SetUp() override {
    results::Scratch::SetUp();
    const Manifest manifest = made_up(2).manifest;
    write_whole(root_ / "manifest.json", manifest_json(manifest));
    for (const Entry& entry : manifest.entries) fs::create_directories(root_ / entry.folder);
  }
  void touch(const std::string& name) const {
    fs::create_directories((root_ / name).parent_path());
    put(root_ / name, "x");
  }
};

TEST_F(SweepOnDisk, TheFolderOfACaseTellsHowFarItIs) {
  const SweepFolder folder(root_);
  const Entry& entry = folder.manifest().entries[0];
  const auto state = [&] { return folder.state_of(entry).state; };
  EXPECT_EQ(state(), State::kWaiting);
  touch("001/results/sheet_0000.h5");
  EXPECT_EQ(state(), State::kBegun);
  touch("001/results/summary.json");
  touch("001/results/checkpoint.h5");
  touch("001/results/report.html");
  EXPECT_EQ(state(), State::kBegun) << "the checkpoint goes last";
  fs::remove(root_ / "001/results/checkpoint.h5");
  EXPECT_EQ(state(), State::kDone) << "killed between the last result and state.json";
  folder.record(entry, {State::kFailed, 4, "no \"trust\"\nin it"});
  EXPECT_EQ(state(), State::kFailed);
  EXPECT_EQ(folder.state_of(entry).exit_code, 4);
  EXPECT_EQ(folder.state_of(entry).error, "no \"trust\"\nin it");
  folder.forget(entry);
  EXPECT_EQ(state(), State::kDone);
  touch("002/state.json");  // cut short by a power cut: as if it were not there
  EXPECT_EQ(folder.state_of(folder.manifest().entries[1]).state, State::kWaiting);
}

TEST_F(SweepOnDisk, ALockIsHeldByOneAtATime) {
  const fs::path file = root_ / "lock";
  {
    const Lock first(file, 0.0), second(file, 0.0);
    EXPECT_TRUE(first.held());
    EXPECT_FALSE(second.held());
  }
  EXPECT_TRUE(Lock(file, 0.0).held()) << "let go with its holder";
}

TEST_F(SweepOnDisk, ASummaryThatIsNoneIsTold) {
  const SweepFolder folder(root_);
  touch("001/results/summary.json");
  folder.record(folder.manifest().entries[0], {State::kDone, 0, ""});
  EXPECT_THROW(gather(folder), Error);
}

TEST(SweepTable, ARowACaseAndAColumnAnAnswer) {
  const std::string table = gathered_csv(made_up(2));
  EXPECT_TRUE(table.starts_with(
      "index,folder,state,exit_code,seconds,sheet.thickness_mm,mould.friction,thinnest_wall_mm,thinnest_wall_verdict,"
      "cooling_s,cooling_verdict,relief_word_capture,error\n"
      "1,001,done,0,1.5,1,\"stick, hard\",0.1,fail,12,pass,0,\n"
      "2,002,done,0,1.5,1,0.3,1.1,fail,12,pass,0.25,\n"))
      << table;
  EXPECT_EQ(count(table, "\n"), 5);
}

TEST(SweepResponse, ACurveForEachOfTheOtherKeysAndTheLimit) {
  const std::string picture = response_figure(made_up(3), "thinnest_wall", 0, 0);
  for (const char* name : {">stick, hard<", ">0.3<", ">limit<", ">sheet.thickness (mm)<", ">thinnest wall (mm)<"})
    EXPECT_EQ(count(picture, name), 1) << name;
  EXPECT_EQ(count(picture, "stroke-linejoin"), 3);  // of curves alone
  EXPECT_TRUE(holds(picture, "A curve for each mould.friction."));
}

TEST(SweepResponse, WordsStandInTheirOrder) {
  const std::string picture = response_figure(made_up(3), "thinnest_wall", 1, 0);
  EXPECT_TRUE(holds(picture, "mould.friction: 1 stick, hard, 2 0.3.")) << picture;
}

TEST(SweepResponse, MoreThanCanBeToldApartAreLeastMiddleAndLargest) {
  const std::string picture = response_figure(made_up(6), "thinnest_wall", 1, 0);
  for (const char* name : {">largest<", ">middle<", ">least<"}) EXPECT_EQ(count(picture, name), 1) << name;
  EXPECT_EQ(count(picture, "stroke-linejoin"), 4) << "with the limit";
}

TEST(SweepResponse, OneValueOrNoAnswerIsNoPicture) {
  Gathered one = made_up(1);
  EXPECT_EQ(response_figure(one, "thinnest_wall", 0, 0), "");
  EXPECT_NE(response_figure(one, "thinnest_wall", 1, 0), "");
  Gathered none = made_up(3);
  for (Row& row : none.rows) row.findings[0].value = kNone;
  EXPECT_EQ(response_figure(none, "thinnest_wall", 0, 0), "");
}

TEST(SweepPage, SaysWhatCanBePrintedAndEscapesWhatOthersWrote) {
  Gathered gathered = made_up(2);
  gathered.rows[3].state = {State::kFailed, 3, "the <mould> & more"};
  gathered.rows[3].findings.clear();
  const std::string page = sweep_page(gathered);
  EXPECT_TRUE(holds(page, "1 of 4 can be printed")) << "two fail, one could not be computed";
  EXPECT_TRUE(holds(page, "How thin? fails in 2."));
  EXPECT_TRUE(holds(page, "the &lt;mould&gt; &amp; more"));
  EXPECT_TRUE(holds(page, "Basil &lt;&amp; &quot;mint&quot;&gt;"));
  EXPECT_FALSE(holds(page, "<mould>"));
  EXPECT_EQ(count(page, "href=\"003/results/report.html\""), 3);  // groups and both tables
  EXPECT_EQ(count(page, "href=\"004/"), 0) << "there is no report of it";
  EXPECT_TRUE(holds(page, "How long? 12 s")) << "the same in every case: no picture";
  EXPECT_FALSE(holds(page, "<script"));
}

TEST(SweepPage, WithoutResultsItSaysSo) {
  Gathered gathered = made_up(2);
  for (Row& row : gathered.rows) {
    row.state = {};
    row.findings.clear();
    row.reliefs.clear();
  }
  EXPECT_TRUE(holds(sweep_page(gathered), "No answer yet"));
}

}  // namespace
}  // namespace pellicle::sweep
