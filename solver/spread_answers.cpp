// How is a case answered again when one of its numbers has changed, with no more made anew than that number moves?
#include "solver/spread_answers.h"

#include "solver/checks/demould.h"
#include "solver/checks/first_findings.h"
#include "solver/prepare.h"

#include <iterator>
#include <utility>

namespace pellicle {
namespace {

void add_part(const Case& c, const mould::RigidMould& mould, const forming::FormingResult& formed, CaseResult& result) {
  const imprint::Screening no_detail;
  const std::vector<char> in_part = checks::part_nodes(formed, mould, c.trim);
  const checks::Formed f{formed, no_detail, mould, c.sheet, in_part, c.heat ? c.heat->draws_from_K : 0.0};
  result.findings.push_back(checks::tear(f));
  if (!mould.surface()) return;
  checks::Demoulding demoulding = checks::demould(f);
  std::move(demoulding.findings.begin(), demoulding.findings.end(), std::back_inserter(result.findings));
}

void add_mould(const Case& c, const mould::RigidMould& mould, const forming::FormingResult& formed,
               const forming::Sinks& sinks, CaseResult& result) {
  if (!c.mould || !c.mould->build || !mould.surface()) return;
  MouldAnswer answer = answer_mould(c, mould, formed, sinks);
  if (answer.stopped) result.ending = Ending::kStopped;
  result.findings = std::move(answer.findings);
}

}  // namespace

CaseResult answer_again(const Case& c, const Geometry& geometry, Anew anew, const forming::Snapshot& formed,
                        const forming::Sinks& sinks) {
  if (anew == Anew::kAll) return run(c, geometry, sinks);
  if (anew == Anew::kAnswers) return run(c, geometry, sinks, &formed);  // gone on with from its end: nothing is formed
  const Threads threads(c.numerics.threads);
  const mould::RigidMould mould = make_mould(c, geometry);
  const FormingSpec spec = full_spec(c, geometry, mould);
  const forming::FormingResult sheet = forming::Forming(spec, mould, formed).result();
  CaseResult result;
  if (anew == Anew::kPart)
    add_part(c, mould, sheet, result);
  else
    add_mould(c, mould, sheet, sinks, result);
  return result;
}

}  // namespace pellicle
