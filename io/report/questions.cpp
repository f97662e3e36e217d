// Should this mould be printed? Findings gathered under the engineer's six questions, and the verdict over all.
#include "io/report/questions.h"

#include "mesh/check.h"

#include <algorithm>
#include <array>
#include <string_view>

namespace pellicle::report {
namespace {

using checks::Finding;
using checks::Verdict;

enum Place : std::size_t { kWall, kDetail, kLayers, kAir, kMould, kRelease, kOther };

struct Text {
  const char *key, *question, *unasked;
};
constexpr std::array<Text, 7> kTexts{{
    {"wall", "Does the sheet form a sound wall?", "This run did not ask about the wall."},
    {"detail", "Does the detail come out?", "This run did not ask about detail."},
    {"layers", "Do the layer lines of the print show?",
     "Not asked: give mould.layer_height in the case to learn how high they show."},
    {"air", "Does the air get out?",
     "This run did not ask where air stays shut in. Vent every place that closes late."},
    {"mould", "Does the mould bear it?",
     "Not asked: give mould.resin and mould.wall in the case to learn whether the print bears pressure and heat."},
    {"release", "Does the part come off, and to size?", "This run did not ask how the part comes off."},
    {"other", "Anything else?", ""},
}};

struct Id {
  std::string_view id;
  Place place;
  bool print_is_lost = false;  ///< if it fails, a mould printed as drawn is of no use
};
constexpr Id kWhole[] = {{"thinnest_wall", kWall},
                         {"mean_wall", kWall},
                         {"mould_touched", kWall},
                         {"tear", kWall, true},
                         {"webs", kWall},
                         {"finest_radius", kDetail},
                         {"pockets", kAir},
                         {"vents", kAir},
                         {"gas_supply", kAir},
                         {"draft", kRelease},
                         {"undercut", kRelease, true},
                         {"release", kRelease, true},
                         {"shrinkage", kRelease},
                         {"cooling", kRelease},
                         {"hold", kRelease}};
constexpr Id kBegins[] = {
    {"capture_", kDetail}, {"relief_", kDetail}, {"layer_line", kLayers}, {"mould_", kMould, true}};

Id row_of(std::string_view id) {
  for (const Id& row : kWhole)
    if (row.id == id) return row;
  for (const Id& row : kBegins)
    if (id.starts_with(row.id)) return row;
  return {id, kOther};
}

}  // namespace

std::vector<Question> questions_of(const std::vector<Finding>& findings) {
  std::vector<Question> questions;
  for (const Text& text : kTexts) questions.push_back({text.key, text.question, text.unasked, {}});
  for (std::size_t i = 0; i < findings.size(); ++i) questions[row_of(findings[i].id).place].findings.push_back(i);
  if (questions.back().findings.empty()) questions.pop_back();
  return questions;
}

std::size_t spokesman(const Question& question, const std::vector<Finding>& findings) {
  ensure(!question.findings.empty(), "a question that is answered has a finding");
  return *std::max_element(question.findings.begin(), question.findings.end(),
                           [&](std::size_t a, std::size_t b) { return findings[a].verdict < findings[b].verdict; });
}

Decision decision_of(const std::vector<Finding>& findings) {
  if (findings.empty()) return Decision::kNoAnswer;
  const auto is = [](Verdict verdict) { return [verdict](const Finding& f) { return f.verdict == verdict; }; };
  if (std::any_of(findings.begin(), findings.end(),
                  [&](const Finding& f) { return f.verdict == Verdict::kFail && row_of(f.id).print_is_lost; }))
    return Decision::kDoNotPrint;
  if (std::any_of(findings.begin(), findings.end(), is(Verdict::kFail))) return Decision::kChange;
  if (std::any_of(findings.begin(), findings.end(), is(Verdict::kDoubt))) return Decision::kPrintWithCare;
  return Decision::kPrint;
}

const char* decision_words(Decision decision) {
  switch (decision) {
    case Decision::kNoAnswer:
      return "No answer";
    case Decision::kPrint:
      return "Print it";
    case Decision::kPrintWithCare:
      return "Print it, with care";
    case Decision::kChange:
      return "Change it first";
    case Decision::kDoNotPrint:
      return "Do not print it";
  }
  return "";
}

}  // namespace pellicle::report
