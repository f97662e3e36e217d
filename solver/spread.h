// Between which values may each answer lie, as little known as the numbers are that it rests on?
//
// docs/theory/spread.md. One number at a time goes to either end of its band, the rest stays; the case is answered
// again with elements 1.5 times as large, and what changed against an answer of likely numbers at those elements is put
// on the answer of the run. Changes upwards and downwards are kept apart, each side by the root of the sum of their
// squares. A number that the forming does not feel is answered on the sheet that the likely numbers formed.
#pragma once

#include "solver/run.h"
#include "solver/spread_answers.h"

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace pellicle {

/// One number of a case that is not well known, and the case with the number at each end of its band.
struct Unsure {
  std::string name;             ///< "stiffness of the hot sheet"
  std::string low, high;        ///< the ends in words, with unit: "0.2 MPa"
  std::string why;              ///< where the band comes from
  std::optional<Case> at_low;   ///< none: this end is where the case stands
  std::optional<Case> at_high;  ///< likewise
  Anew anew = Anew::kAll;       ///< what it may move
};

/// The numbers that matter for this case and are known only within a band. Never changes a number the case does not
/// use.
std::vector<Unsure> unsure_numbers(const Case& c);
/// Those of them that the cards tell with a band, but for stiffness and shrinkage; added to `numbers`.
void add_card_numbers(const Case& c, std::vector<Unsure>& numbers);

/// What was done for the bands that now stand beside the answers.
struct SpreadReport {
  struct Number {
    std::string name, low, high, why;
  };
  std::vector<Number> numbers;
  std::vector<std::string> failures;  ///< side runs that came to no end, each with its error: their share is missing
  std::vector<std::string> remarks;   ///< answers whose band is rough, and why
  double element_m = 0.0;             ///< of the side runs; 0: nothing was formed
  int side_runs = 0;                  ///< that came to their end, the one of likely numbers included
  int wanted = 0;
  int formed = 0;        ///< of side_runs, those that formed the sheet anew
  bool stopped = false;  ///< before the last side run: then no answer has a band
};

/// How a case is answered again: answer_again. `formed`: the end of the side run of likely numbers, to be read unless
/// all is made anew. May throw Error; `ending` says whether it was stopped.
using AnswerAgain = std::function<CaseResult(const Case&, Anew anew, const forming::Snapshot& formed)>;

/// Puts a band on every finding that has a value, on every limit that moves, and on the capture of every relief of
/// `result`, the answer of `c`. Side runs one after another, in the order of unsure_numbers, each with as many threads
/// as the case says: same bits for any number of them. `task` is told what begins. A side run that throws is told in
/// `failures` and counts for nothing; without the first one, of likely numbers, there are no bands.
SpreadReport add_spread(const Case& c, const AnswerAgain& again, const std::function<void(const std::string&)>& task,
                        CaseResult& result);

}  // namespace pellicle
