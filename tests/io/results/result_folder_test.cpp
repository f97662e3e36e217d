// Whose files may be replaced? Only those of an earlier run, only when asked, never through a link.
#include "io/results/result_folder.h"

#include "mesh/check.h"
#include "tests/io/results/made_up.h"

#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <csignal>

namespace pellicle::results {
namespace {

namespace fs = std::filesystem;

class Folder : public Scratch {
 protected:
  void SetUp() override {
    Scratch::SetUp();
    out_ = root_ / "out";
  }
  void earlier_run() {
    fs::create_directory(out_);
    for (const char* name :
         {"sheet.xdmf", "sheet_0000.h5", "sheet_0001.h5", "mould.xdmf", "mould.h5", "history.csv", "summary.json",
          "report.html", "case.toml", "checkpoint.h5", "relief_title.xdmf", "relief_title.h5", "sheet_0002.h5.tmp"}) {
      put(out_ / name, "old");
    }
  }
  /// The message of the refusal; empty if there was none.
  std::string refusal(bool force, const std::vector<fs::path>& inputs = {}) {
    try {
      ResultFolder folder(out_, force, inputs);
      folder.write("sheet_0000.h5", "new");
    } catch (const Error& error) {
      EXPECT_EQ(error.exit_code(), 2);
      return error.what();
    }
    return "";
  }
  std::size_t entries() {
    return static_cast<std::size_t>(std::distance(fs::directory_iterator(out_), fs::directory_iterator()));
  }
  fs::path out_;
};

TEST_F(Folder, IsMadeByTheFirstFileAndNotBefore) {
  ResultFolder folder(root_ / "deep" / "out", false, {});
  EXPECT_FALSE(fs::exists(root_ / "deep"));
  folder.write("sheet_0000.h5", "frame");
  EXPECT_EQ(text_of(root_ / "deep" / "out" / "sheet_0000.h5"), "frame");
  folder.write("sheet_0000.h5", "frame again");
  EXPECT_EQ(text_of(root_ / "deep" / "out" / "sheet_0000.h5"), "frame again");
}

TEST_F(Folder, AMapOfTheHeaterIsOursBesideAResultOnly) {
  fs::create_directory(out_);
  for (const char* name : {"sheet_temperature_map.csv", "sheet_temperature_map.png"}) {
    put(out_ / name, "mine");
    EXPECT_NE(refusal(true).find(name), std::string::npos);
    put(out_ / "sheet.xdmf", "old");
    EXPECT_EQ(refusal(true), "");
    EXPECT_FALSE(fs::exists(out_ / name));
    fs::remove_all(out_);
    fs::create_directory(out_);
  }
}

TEST_F(Folder, AnEmptyOneIsUsed) {
  fs::create_directory(out_);
  EXPECT_EQ(refusal(false), "");
}

TEST_F(Folder, EarlierResultsStayWithoutForce) {
  earlier_run();
  EXPECT_NE(refusal(false).find("--force"), std::string::npos);
  EXPECT_EQ(entries(), 13U);
  EXPECT_EQ(text_of(out_ / "sheet_0000.h5"), "old");
}

TEST_F(Folder, ForceReplacesAllOfThem) {
  earlier_run();
  EXPECT_EQ(refusal(true), "");
  EXPECT_EQ(entries(), 1U);
  EXPECT_EQ(text_of(out_ / "sheet_0000.h5"), "new");
}

TEST_F(Folder, ForceDeletesNothingUntilTheFirstFile) {
  earlier_run();
  const ResultFolder folder(out_, true, {});
  EXPECT_EQ(entries(), 13U);
}

TEST_F(Folder, HeldForReadingNoRunBeginsAndOneThatWritesIsNotRead) {
  ResultFolder folder(out_, false, {});
  folder.write("sheet_0009.h5", "frame");
  EXPECT_THROW(HeldFolder{out_}, Error);
  {
    ResultFolder other(root_ / "other", false, {});
    other.write("sheet_0000.h5", "frame");
    other.write("sheet_9999.h5", "frame");
    other.write("sheet_10000.h5", "frame");
    put(root_ / "other" / "sheet_10001.h5.tmp", "cut short");
  }
  const HeldFolder held(root_ / "other");
  EXPECT_EQ(held.last_frame(), "sheet_10000.h5");
  EXPECT_TRUE(held.holds("sheet_0000.h5"));
  EXPECT_FALSE(held.holds("sheet_0001.h5"));
  ResultFolder late(root_ / "other", true, {});
  EXPECT_THROW(late.write("sheet_0000.h5", "new"), Error);
  const HeldFolder also(root_ / "other");  // two may read
  EXPECT_THROW(HeldFolder(root_ / "none"), Error);
}

TEST_F(Folder, AFileOfAnotherKindIsRefusedByName) {
  earlier_run();
  put(out_ / "notes.txt", "mine");
  EXPECT_NE(refusal(true).find("notes.txt"), std::string::npos);
  EXPECT_EQ(entries(), 14U);
}

TEST_F(Folder, NamesThatOthersUseTooAreNotOursAlone) {
  for (const char* name : {"case.toml", "summary.json", "history.csv", "report.html", "mould.h5", "sheet_card.toml"}) {
    fs::remove_all(out_);
    fs::create_directory(out_);
    put(out_ / name, "mine");
    EXPECT_NE(refusal(true).find(name), std::string::npos);
    EXPECT_EQ(text_of(out_ / name), "mine");
  }
}

TEST_F(Folder, ChartsAndCardsAreOursByTheirFirstWords) {
  for (const auto& [name, words] : {std::pair{"chart.csv", kChartTable},
                                    {"card.toml", kMeasuredCard},
                                    {"part.stl", kPartStl},
                                    {"mould_scaled.stl", kScaledMouldStl}}) {
    fs::remove_all(out_);
    fs::create_directory(out_);
    put(out_ / name, "mine");
    EXPECT_NE(refusal(true).find(name), std::string::npos);
    EXPECT_EQ(text_of(out_ / name), "mine");
    put(out_ / name, std::string(words) + " and more");
    put(out_ / "chart.svg", "picture");
    EXPECT_NE(refusal(false).find("earlier run (2 files)"), std::string::npos);
    ResultFolder folder(out_, true, {});
    folder.write(name, "new");
    EXPECT_EQ(text_of(out_ / name), "new");
    EXPECT_EQ(entries(), 1U);
  }
}

TEST_F(Folder, ForeignChartsAndCardsStayBesideOurs) {
  for (const char* name : {"chart.csv", "card.toml", "card.toml.tmp"}) {
    fs::remove_all(out_);
    fs::create_directory(out_);
    earlier_run();
    const std::size_t before = entries();
    put(out_ / name, "mine");
    EXPECT_NE(refusal(true).find(name), std::string::npos);
    EXPECT_EQ(entries(), before + 1);
    EXPECT_EQ(text_of(out_ / name), "mine");
  }
  // A crash of ours may cut its words short: beside ours it goes with them, alone it stays.
  fs::remove(out_ / "card.toml.tmp");
  put(out_ / "chart.csv.tmp", std::string(kChartTable.substr(0, 9)));
  EXPECT_EQ(refusal(true), "");
  fs::remove_all(out_);
  fs::create_directory(out_);
  put(out_ / "chart.csv.tmp", std::string(kChartTable.substr(0, 9)));
  EXPECT_NE(refusal(true).find("chart.csv.tmp"), std::string::npos);
}

TEST_F(Folder, AFileAppearingLaterStopsTheDeletion) {
  earlier_run();
  ResultFolder folder(out_, true, {});
  put(out_ / "notes.txt", "mine");
  EXPECT_THROW(folder.write("sheet_0000.h5", "new"), Error);
  EXPECT_EQ(entries(), 14U);
}

TEST_F(Folder, LinksAndFoldersUnderOurNamesAreNotOurs) {
  put(root_ / "precious", "mine");
  earlier_run();
  fs::remove(out_ / "summary.json");
  fs::create_symlink(root_ / "precious", out_ / "summary.json");
  EXPECT_NE(refusal(true).find("summary.json"), std::string::npos);
  fs::remove(out_ / "summary.json");
  fs::create_directory(out_ / "summary.json");
  EXPECT_NE(refusal(true).find("summary.json"), std::string::npos);
  EXPECT_EQ(text_of(root_ / "precious"), "mine");
}

TEST_F(Folder, NothingIsWrittenThroughALink) {
  put(root_ / "precious", "mine");
  ResultFolder folder(out_, false, {});
  folder.write("sheet_0000.h5", "frame");
  fs::create_symlink(root_ / "precious", out_ / "sheet.xdmf");         // replaced, not followed
  fs::create_symlink(root_ / "precious", out_ / "sheet_0001.h5.tmp");  // refused
  fs::create_hard_link(root_ / "precious", out_ / "summary.json");     // unlinked, not overwritten
  folder.write("sheet.xdmf", "index");
  folder.write("summary.json", "summary");
  EXPECT_THROW(folder.write("sheet_0001.h5", "frame"), Error);
  EXPECT_EQ(text_of(root_ / "precious"), "mine");
  EXPECT_EQ(text_of(out_ / "sheet.xdmf"), "index");
}

TEST_F(Folder, ALinkedFolderIsTheUsersChoice) {
  fs::create_directory(root_ / "disk");
  fs::create_symlink(root_ / "disk", out_);
  EXPECT_EQ(refusal(false), "");
  EXPECT_EQ(text_of(root_ / "disk" / "sheet_0000.h5"), "new");
}

TEST_F(Folder, ADanglingLinkOrAFileInItsPlaceIsRefused) {
  fs::create_symlink(root_ / "nowhere", out_);
  EXPECT_NE(refusal(true), "");
  fs::remove(out_);
  put(out_, "a file");
  EXPECT_NE(refusal(true), "");
  EXPECT_EQ(text_of(out_), "a file");
}

TEST_F(Folder, TheCaseOrItsMouldInsideIsRefused) {
  earlier_run();
  EXPECT_NE(refusal(true, {out_ / "case.toml"}).find("case.toml"), std::string::npos);
  put(root_ / "elsewhere.toml", "");
  EXPECT_EQ(refusal(true, {root_ / "elsewhere.toml"}), "");
  // Also when the case is reached through a link from elsewhere.
  fs::create_symlink(out_ / "sheet_0000.h5", root_ / "linked");
  EXPECT_NE(refusal(true, {root_ / "linked"}), "");
}

TEST_F(Folder, TwoRunsDoNotShareOne) {
  ResultFolder first(out_, false, {});
  first.write("sheet_0000.h5", "first");
  ResultFolder second(out_, true, {});
  EXPECT_THROW(second.write("sheet_0000.h5", "second"), Error);
  EXPECT_EQ(text_of(out_ / "sheet_0000.h5"), "first");
}

TEST_F(Folder, AFullDiskIsOneErrorAndWhatWasThereStays) {
  ResultFolder folder(out_, false, {});
  folder.write("sheet_0000.h5", "first");
  folder.write("sheet.xdmf", "index");
  // A limit on the size of files stands in for the full disk.
  rlimit before{};
  getrlimit(RLIMIT_FSIZE, &before);
  const rlimit small{4096, before.rlim_max};
  const auto handler = std::signal(SIGXFSZ, SIG_IGN);
  setrlimit(RLIMIT_FSIZE, &small);
  std::string message;
  try {
    folder.write("sheet.xdmf", std::string(100000, 'x'));
  } catch (const Error& error) {
    message = error.what();
  }
  setrlimit(RLIMIT_FSIZE, &before);
  std::signal(SIGXFSZ, handler);
  EXPECT_NE(message.find("sheet.xdmf"), std::string::npos);
  EXPECT_EQ(message.find('\n'), std::string::npos);
  EXPECT_EQ(text_of(out_ / "sheet.xdmf"), "index");
  EXPECT_FALSE(fs::exists(out_ / "sheet.xdmf.tmp"));
}

TEST_F(Folder, APlaceWithoutPermissionIsToldBeforeAnythingIsComputed) {
  fs::permissions(root_, fs::perms::all & ~(fs::perms::owner_write | fs::perms::group_write | fs::perms::others_write));
  constexpr uid_t kNobody = 65534;
  const bool was_root = ::geteuid() == 0 && ::seteuid(kNobody) == 0;  // root may write anywhere
  std::string message;
  try {
    const ResultFolder folder(out_, false, {});
  } catch (const Error& error) {
    message = error.what();
  }
  if (was_root) {
    ASSERT_EQ(::seteuid(0), 0);
  }
  fs::permissions(root_, fs::perms::owner_all);
  EXPECT_NE(message.find(root_.string()), std::string::npos) << message;
}

TEST_F(Folder, APlaceWhereNothingCanBeMadeIsAnError) {
  ResultFolder folder("/proc/pellicle-test", false, {});
  EXPECT_THROW(folder.write("sheet_0000.h5", "frame"), Error);
}

TEST_F(Folder, KnowsItsNames) {
  for (const char* name : {"sheet_0000.h5", "sheet_12345.h5", "sheet_0001.h5.tmp", "relief_a b.h5", "case.toml.tmp",
                           "chart.csv", "chart.svg", "card.toml"}) {
    EXPECT_TRUE(is_result_name(name)) << name;
  }
  for (const char* name : {"sheet_1.h5", "sheet_00x0.h5", "sheet.h5", "relief.h5", "sheet_0000.h5~", "a", ".tmp", ""}) {
    EXPECT_FALSE(is_result_name(name)) << name;
  }
}

}  // namespace
}  // namespace pellicle::results
