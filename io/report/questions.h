// Should this mould be printed? Findings gathered under the engineer's six questions, and the verdict over all.
#pragma once

#include "solver/checks/finding.h"

#include <string>
#include <vector>

namespace pellicle::report {

/// One of the engineer's questions with the findings that answer it.
struct Question {
  std::string key;                    ///< "wall"
  std::string text;                   ///< "Does the sheet form a sound wall?"
  std::string unasked;                ///< what to say where no finding answers it
  std::vector<std::size_t> findings;  ///< numbers in the list of findings, in its order
};

/// The six questions in the order they are asked, and a seventh, "Anything else?", if a finding belongs to none.
/// Findings are sorted by their ids: whole ones first, then by how they begin, so that new ids find their place.
std::vector<Question> questions_of(const std::vector<checks::Finding>& findings);

/// The finding that speaks for a question: the first of the worst. The question has findings.
std::size_t spokesman(const Question& question, const std::vector<checks::Finding>& findings);

enum class Decision { kNoAnswer, kPrint, kPrintWithCare, kChange, kDoNotPrint };

/// Do not print: a failed finding says the part tears, the mould does not bear it, or the part does not come off, so
/// that a print as drawn is lost. Change: another one failed. With care: some are in doubt. No answer: no findings.
Decision decision_of(const std::vector<checks::Finding>& findings);
/// "Print it".
const char* decision_words(Decision decision);

}  // namespace pellicle::report
