// Is the verdict the one the findings give, also for findings of rooms to come?
#include "io/report/questions.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <utility>

namespace pellicle::report {
namespace {

using checks::Finding;
using checks::Verdict;

Finding finding(const char* id, Verdict verdict) { return {id, "?", 1.0, "mm", {}, verdict}; }

const Question& named(const std::vector<Question>& questions, const std::string& key) {
  for (const Question& q : questions)
    if (q.key == key) return q;
  throw std::logic_error("no such question");
}

TEST(Questions, EveryDocumentedIdHasItsPlace) {
  // Ids of docs/result_format.md and of the contract, by the question an engineer would look under.
  const std::vector<std::pair<const char*, const char*>> wanted{{"thinnest_wall", "wall"},
                                                                {"mean_wall", "wall"},
                                                                {"mould_touched", "wall"},
                                                                {"tear", "wall"},
                                                                {"webs", "wall"},
                                                                {"finest_radius", "detail"},
                                                                {"capture_0.2mm", "detail"},
                                                                {"capture_1.0mm", "detail"},
                                                                {"relief_name", "detail"},
                                                                {"layer_lines", "layers"},
                                                                {"pockets", "air"},
                                                                {"vents", "air"},
                                                                {"mould_stress", "mould"},
                                                                {"mould_deflection", "mould"},
                                                                {"mould_temperature", "mould"},
                                                                {"mould_creep", "mould"},
                                                                {"mould_shock", "mould"},
                                                                {"mould_slender", "mould"},
                                                                {"mould_buckling", "mould"},
                                                                {"draft", "release"},
                                                                {"undercut", "release"},
                                                                {"release", "release"},
                                                                {"shrinkage", "release"},
                                                                {"cooling", "release"},
                                                                {"hold", "release"},
                                                                {"never_heard_of", "other"}};
  std::vector<Finding> findings;
  for (const auto& [id, key] : wanted) findings.push_back(finding(id, Verdict::kPass));
  const auto questions = questions_of(findings);
  ASSERT_EQ(questions.size(), 7U);
  std::size_t placed = 0;
  for (std::size_t i = 0; i < wanted.size(); ++i) {
    const auto& in = named(questions, wanted[i].second).findings;
    EXPECT_EQ(std::count(in.begin(), in.end(), i), 1) << wanted[i].first;
    ++placed;
  }
  EXPECT_EQ(placed, findings.size());
}

TEST(Questions, TheSixAreAlwaysAskedAndSayWhatWasNot) {
  const auto questions = questions_of({});
  ASSERT_EQ(questions.size(), 6U);
  for (const Question& q : questions) EXPECT_FALSE(q.unasked.empty()) << q.key;
}

TEST(Questions, TheFirstOfTheWorstSpeaks) {
  const std::vector<Finding> findings{finding("mean_wall", Verdict::kPass), finding("tear", Verdict::kDoubt),
                                      finding("webs", Verdict::kFail), finding("thinnest_wall", Verdict::kFail)};
  EXPECT_EQ(spokesman(named(questions_of(findings), "wall"), findings), 2U);
}

TEST(Questions, TheVerdictFollowsTheWorst) {
  using enum Verdict;
  EXPECT_EQ(decision_of({}), Decision::kNoAnswer);
  EXPECT_EQ(decision_of({finding("webs", kPass)}), Decision::kPrint);
  EXPECT_EQ(decision_of({finding("webs", kPass), finding("mould_stress", kDoubt)}), Decision::kPrintWithCare);
  EXPECT_EQ(decision_of({finding("relief_name", kFail), finding("release", kDoubt)}), Decision::kChange);
  EXPECT_EQ(decision_of({finding("never_heard_of", kFail)}), Decision::kChange);
  for (const char* id : {"tear", "undercut", "release", "mould_stress", "mould_temperature"})
    EXPECT_EQ(decision_of({finding("relief_name", kFail), finding(id, kFail)}), Decision::kDoNotPrint) << id;
  EXPECT_EQ(decision_of({finding("mould_touched", kFail)}), Decision::kChange) << "not a question to the print";
}

}  // namespace
}  // namespace pellicle::report
