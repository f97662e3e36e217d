// How is the comparison of two runs told? For the terminal, and as JSON.
#pragma once

#include "io/compare/runs.h"

#include <optional>
#include <string>
#include <vector>

namespace pellicle::compare {

/// "2 answers are worse in B (tear, webs), 1 is better (draft), 11 keep their verdict." For page and terminal.
std::string turned_text(const Comparison& comparison);
/// Answers that B fails and A was not asked: no verdict turned, and yet B is not to be printed as it is.
std::vector<std::string> fails_unasked_in_a(const Comparison& comparison);
/// "+0.031 mm (+9.2 %)", "0"; "-" where there is no change to tell.
std::string change_text(const AnswerPair& pair);
/// "0.312 mm"; "not asked" for one that is missing.
std::string value_text(const std::optional<checks::Finding>& finding);
/// Wall and touched area in sentences, one a line; without what was not compared.
std::vector<std::string> difference_lines(const Comparison& comparison);

std::string words(const Run& a, const Run& b, const Comparison& comparison);
std::string json_text(const Run& a, const Run& b, const Comparison& comparison);

}  // namespace pellicle::compare
