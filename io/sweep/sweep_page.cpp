// Which case is the one to print?
#include "io/sweep/sweep_page.h"

#include "io/report/embedded.h"
#include "io/report/html.h"
#include "io/report/page_frame.h"
#include "io/report/parts.h"
#include "io/report/questions.h"
#include "io/sweep/response.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

namespace pellicle::sweep {
namespace {

using checks::Finding;
using checks::Verdict;
using report::Decision;
using report::escaped;
using report::number_text;
using report::section;

bool is_done(const Row& row) { return row.state.state == State::kDone; }

Decision decision_of(const Row& row) { return report::decision_of(row.findings); }

/// The colour and sign of a decision are those of the worst that may stand behind it.
report::Sign sign_of(Decision decision) {
  if (decision == Decision::kPrint) return report::sign_of(Verdict::kPass);
  if (decision == Decision::kPrintWithCare) return report::sign_of(Verdict::kDoubt);
  return decision == Decision::kNoAnswer ? report::Sign{"not asked", "unasked"} : report::sign_of(Verdict::kFail);
}

/// Folder names and what is in them are ours: nothing to escape.
std::string link_to(const Row& row) {
  if (!is_done(row)) return row.entry.folder;
  return fmt::format("<a href=\"{0}/results/report.html\">{0}</a>", row.entry.folder);
}

std::string values_text(const Gathered& gathered, const Row& row) {
  std::string text;
  for (std::size_t k = 0; k < row.entry.values.size(); ++k)
    text += fmt::format("{}{} {}", k == 0 ? "" : ", ", gathered.manifest.keys[k].path, row.entry.values[k]);
  return text;
}

std::vector<const Row*> rows_that(const Gathered& gathered, const auto& holds) {
  std::vector<const Row*> rows;
  for (const Row& row : gathered.rows)
    if (holds(row)) rows.push_back(&row);
  return rows;
}

/// Cases of one kind with links to their pages; beyond a handful the table below says which.
std::string group_row(const Gathered& gathered, const std::vector<const Row*>& rows, const std::string& title,
                      report::Sign sign) {
  constexpr std::size_t kMost = 12;
  if (rows.empty()) return "";
  std::string list;
  for (std::size_t i = 0; i < std::min(kMost, rows.size()); ++i) {
    const Row& row = *rows[i];
    list += fmt::format("{}{}: {}{}", i == 0 ? "" : "<br />", link_to(row), escaped(values_text(gathered, row)),
                        row.state.error.empty() ? "" : ". " + escaped(row.state.error));
  }
  if (rows.size() > kMost) list += fmt::format("<br />and {} more", rows.size() - kMost);
  return fmt::format("<li>{}<h3>{}: {} case{}</h3><p class=\"number\">{}</p></li>\n",
                     report::badge(sign.word, sign.style), title, rows.size(), rows.size() == 1 ? "" : "s", list);
}

std::string groups_text(const Gathered& gathered) {
  std::string out;
  for (const Decision decision :
       {Decision::kPrint, Decision::kPrintWithCare, Decision::kChange, Decision::kDoNotPrint, Decision::kNoAnswer})
    out += group_row(gathered,
                     rows_that(gathered, [&](const Row& row) { return is_done(row) && decision_of(row) == decision; }),
                     report::decision_words(decision), sign_of(decision));
  out += group_row(gathered, rows_that(gathered, [](const Row& row) { return row.state.state == State::kFailed; }),
                   "Could not be computed", {"no answer", "unasked"});
  return out + group_row(gathered,
                         rows_that(gathered,
                                   [](const Row& row) { return !is_done(row) && row.state.state != State::kFailed; }),
                         "Not computed yet", {"to do", "unasked"});
}

/// The best decision any case has.
Decision best_of(const Gathered& gathered) {
  Decision best = Decision::kNoAnswer;
  for (const Decision decision : {Decision::kDoNotPrint, Decision::kChange, Decision::kPrintWithCare, Decision::kPrint})
    for (const Row& row : gathered.rows)
      if (is_done(row) && decision_of(row) == decision) best = decision;
  return best;
}

std::string headline(const Gathered& gathered, Decision best) {
  const std::size_t all = gathered.rows.size();
  const auto count =
      rows_that(gathered, [&](const Row& row) { return is_done(row) && decision_of(row) == best; }).size();
  switch (best) {
    case Decision::kPrint:
      return fmt::format("{} of {} can be printed", count, all);
    case Decision::kPrintWithCare:
      return fmt::format("{} of {} can be printed, with care", count, all);
    case Decision::kChange:
    case Decision::kDoNotPrint:
      return fmt::format("None of {} as it is", all);
    case Decision::kNoAnswer:
      return "No answer yet";
  }
  return "";
}

/// Counts, and what the fails have in common.
std::string reason_text(const Gathered& gathered) {
  std::vector<std::pair<int, std::string>> fails;
  for (const std::string& id : finding_ids(gathered)) {
    const auto rows = rows_that(gathered, [&](const Row& row) {
      const Finding* finding = find_finding(row, id);
      return finding != nullptr && finding->verdict == Verdict::kFail;
    });
    if (!rows.empty()) fails.emplace_back(static_cast<int>(rows.size()), report::title_of(*find_finding(*rows[0], id)));
  }
  std::stable_sort(fails.begin(), fails.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
  const auto done = rows_that(gathered, is_done).size();
  std::string text = fmt::format("{} of {} cases are computed.", done, gathered.rows.size());
  constexpr std::size_t kMost = 3;
  for (std::size_t i = 0; i < std::min(kMost, fails.size()); ++i)
    text += fmt::format(" {} fails in {}.", fails[i].second, fails[i].first);
  return text;
}

/// Heads of the columns that every table has; the texts live as long as the result.
struct Heads {
  std::vector<std::string> texts;
  std::vector<const char*> pointers() const {
    std::vector<const char*> out;
    for (const std::string& text : texts) out.push_back(text.c_str());
    return out;
  }
};

Heads first_heads(const Gathered& gathered) {
  Heads heads{{"Case"}};
  for (const ManifestKey& key : gathered.manifest.keys) heads.texts.push_back(escaped(key.path));
  return heads;
}

std::string first_cells(const Row& row) {
  std::string out = fmt::format("<tr><th scope=\"row\">{}</th>", link_to(row));
  for (const std::string& value : row.entry.values) out += fmt::format("<td>{}</td>", escaped(value));
  return out;
}

std::string capitalised(std::string word) {
  word.front() = static_cast<char>(word.front() - 'a' + 'A');  // keys of questions begin with a small letter of ASCII
  return word;
}

/// Six questions and the decision of each case.
std::string verdict_table(const Gathered& gathered) {
  Heads heads = first_heads(gathered);
  heads.texts.emplace_back("Answer");
  const std::vector<report::Question> asked = report::questions_of({});
  for (const report::Question& question : asked) heads.texts.push_back(escaped(capitalised(question.key)));
  std::string rows;
  for (const Row& row : gathered.rows) {
    rows += first_cells(row);
    const report::Sign sign = is_done(row) ? sign_of(decision_of(row)) : report::Sign{"", "unasked"};
    const char* words = is_done(row) ? report::decision_words(decision_of(row)) : state_word(row.state.state);
    rows += fmt::format("<td>{}</td>", report::badge(words, sign.style));
    const std::vector<report::Question> questions = report::questions_of(row.findings);
    for (std::size_t q = 0; q < asked.size(); ++q) {
      const bool is_answered = !questions[q].findings.empty();
      const report::Sign said =
          is_answered ? report::sign_of(row.findings[report::spokesman(questions[q], row.findings)].verdict)
                      : report::Sign{"not asked", "unasked"};
      rows += fmt::format("<td>{}</td>", report::badge(said.word, said.style));
    }
    rows += "</tr>\n";
  }
  return report::table("The six questions in every case; the number leads to its report", heads.pointers(), rows);
}

/// Every number in every case.
std::string number_table(const Gathered& gathered) {
  Heads heads = first_heads(gathered);
  const std::vector<std::string> ids = finding_ids(gathered);
  for (const std::string& id : ids) heads.texts.push_back(escaped(id));
  heads.texts.emplace_back("seconds");
  std::string rows;
  for (const Row& row : gathered.rows) {
    rows += first_cells(row);
    for (const std::string& id : ids) {
      const Finding* finding = find_finding(row, id);
      rows += fmt::format("<td>{}</td>", finding == nullptr ? "" : escaped(report::value_text(*finding)));
    }
    rows += fmt::format("<td>{}</td></tr>\n", std::isfinite(row.seconds) ? number_text(row.seconds) : "");
  }
  return report::table("Every number in every case", heads.pointers(), rows);
}

/// The finding as it is asked in the first case that has it.
const Finding* first_of(const Gathered& gathered, const std::string& id) {
  for (const Row& row : gathered.rows)
    if (const Finding* finding = find_finding(row, id)) return finding;
  return nullptr;
}

/// Whether a finding reads the same wherever it is answered.
bool stays(const Gathered& gathered, const std::string& id) {
  std::set<std::string> texts;
  for (const Row& row : gathered.rows)
    if (const Finding* finding = find_finding(row, id)) texts.insert(report::value_text(*finding));
  return texts.size() < 2;
}

std::string responses_text(const Gathered& gathered) {
  std::string out, unchanged;
  int number = 0;
  for (const std::string& id : finding_ids(gathered)) {
    const Finding& finding = *first_of(gathered, id);
    if (stays(gathered, id)) {
      unchanged +=
          fmt::format("<li>{} {}</li>\n", escaped(report::title_of(finding)), escaped(report::value_text(finding)));
      continue;
    }
    std::string figures;
    for (std::size_t key = 0; key < gathered.manifest.keys.size(); ++key)
      figures += response_figure(gathered, id, key, number++);
    if (!figures.empty())
      out += fmt::format("<h3>{}</h3>\n<div class=\"two\">\n{}</div>\n", escaped(report::title_of(finding)), figures);
  }
  if (!unchanged.empty()) out += "<h3>The same to three digits in every case</h3>\n<ul>\n" + unchanged + "</ul>\n";
  return out;
}

std::string facts_text(const Gathered& gathered) {
  std::string text = fmt::format("Sweep of {} cases", gathered.rows.size());
  for (const ManifestKey& key : gathered.manifest.keys) text += " · " + key.path;
  return text;
}

std::string closing_text(const Gathered& gathered) {
  double seconds = 0.0;
  for (const Row& row : gathered.rows) seconds += std::isfinite(row.seconds) ? row.seconds : 0.0;
  return fmt::format("Pellicle {}. {:.1f} s of computing. The same table for programs: sweep.csv.", PELLICLE_VERSION,
                     seconds);
}

}  // namespace

std::string sweep_page(const Gathered& gathered) {
  const Decision best = best_of(gathered);
  return report::framed({gathered.manifest.title, facts_text(gathered), headline(gathered, best), sign_of(best).style,
                         reason_text(gathered),
                         section("verdicts", "Case by case", verdict_table(gathered)) +
                             section("responses", "What follows what was varied", responses_text(gathered)) +
                             section("numbers", "All numbers", number_table(gathered)) +
                             section("accuracy", "How far to trust it", report::kPageAccuracy),
                         closing_text(gathered), groups_text(gathered)});
}

}  // namespace pellicle::sweep
