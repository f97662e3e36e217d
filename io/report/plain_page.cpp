// What stands round a page without a view: of a comparison, of a sweep?
#include "io/report/plain_page.h"

#include "io/report/embedded.h"
#include "io/report/html.h"
#include "io/report/parts.h"
#include "io/results/cautions.h"

#include <fmt/format.h>

namespace pellicle::report {

std::string framed(const PageText& text) {
  const std::string links = links_text({{"answer", "Answer"},
                                        {"said", "What it says"},
                                        {"part", "The part"},
                                        {"points", "Points"},
                                        {"changes", "Changes"},
                                        {"answers", "Both answers"},
                                        {"walls", "Both walls"},
                                        {"differences", "Differences"},
                                        {"verdicts", "Case by case"},
                                        {"responses", "Responses"},
                                        {"numbers", "Numbers"},
                                        {"accuracy", "Accuracy"},
                                        {"care", "Take care"}},
                                       std::string(kPlainFrame) + text.body);
  return filled(kPlainFrame, {{"title", escaped(text.title)},
                              {"style", kPageStyle},
                              {"version", PELLICLE_VERSION},
                              {"facts", escaped(text.facts)},
                              {"links", links},
                              {"answer_class", text.answer_style},
                              {"answer", escaped(text.answer)},
                              {"reason", escaped(text.reason)},
                              {"groups", text.groups},
                              {"body", text.body},
                              {"cautions", cautions_text()},
                              {"approval", escaped(results::kNoApproval)},
                              {"closing", escaped(text.closing)}});
}

std::string section(const char* id, const char* title, const std::string& body) {
  if (body.empty()) return "";
  return fmt::format(
      "<section id=\"{0}\" aria-labelledby=\"{0}-title\">\n<h2 id=\"{0}-title\">{1}</h2>\n{2}</section>\n", id, title,
      body);
}

}  // namespace pellicle::report
