// What stands round every page of a comparison? Head, first answer, links, cautions and foot.
#include "io/compare/page_frame.h"

#include "io/report/embedded.h"
#include "io/report/html.h"
#include "io/report/parts.h"
#include "io/results/cautions.h"

#include <fmt/format.h>

namespace pellicle::compare {

std::string framed(const PageText& text) {
  using report::escaped;
  const std::string links = report::links_text({{"answer", "Answer"},
                                                {"said", "What it says"},
                                                {"part", "The part"},
                                                {"points", "Points"},
                                                {"changes", "Changes"},
                                                {"answers", "Both answers"},
                                                {"walls", "Both walls"},
                                                {"differences", "Differences"},
                                                {"care", "Take care"}},
                                               std::string(report::kCompareFrame) + text.body);
  return report::filled(report::kCompareFrame, {{"title", escaped(text.title)},
                                                {"style", report::kPageStyle},
                                                {"version", PELLICLE_VERSION},
                                                {"facts", escaped(text.facts)},
                                                {"links", links},
                                                {"answer_class", text.answer_style},
                                                {"answer", escaped(text.answer)},
                                                {"reason", escaped(text.reason)},
                                                {"body", text.body},
                                                {"cautions", report::cautions_text()},
                                                {"approval", escaped(results::kNoApproval)},
                                                {"closing", escaped(text.closing)}});
}

std::string section(const char* id, const char* title, const std::string& body) {
  return fmt::format(
      "<section id=\"{0}\" aria-labelledby=\"{0}-title\">\n<h2 id=\"{0}-title\">{1}</h2>\n{2}</section>\n", id, title,
      body);
}

}  // namespace pellicle::compare
