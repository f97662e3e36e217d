// What stands round every page: of a run, of a comparison, of a sweep?
#include "io/report/page_frame.h"

#include "io/report/embedded.h"
#include "io/report/html.h"
#include "io/report/parts.h"
#include "io/results/cautions.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>
#include <vector>

namespace pellicle::report {
namespace {

constexpr std::pair<const char*, const char*> kSections[] = {{"answer", "Answer"},
                                                             {"said", "What it says"},
                                                             {"part", "The part"},
                                                             {"shape", "Shape"},
                                                             {"pictures", "Pictures"},
                                                             {"reliefs", "Detail"},
                                                             {"points", "Points"},
                                                             {"changes", "Changes"},
                                                             {"spread", "Low, likely, high"},
                                                             {"history", "History"},
                                                             {"findings", "All findings"},
                                                             {"answers", "Both answers"},
                                                             {"walls", "Both walls"},
                                                             {"differences", "Differences"},
                                                             {"verdicts", "Case by case"},
                                                             {"responses", "Responses"},
                                                             {"numbers", "Numbers"},
                                                             {"care", "Take care"},
                                                             {"accuracy", "Accuracy"},
                                                             {"input", "Input"}};

/// Links to those of the sections that are there, in their order.
std::string links_text(const std::string& body) {
  std::vector<std::pair<std::size_t, std::string>> links;
  for (const auto& [id, words] : kSections)
    if (const std::size_t at = body.find(fmt::format("<section id=\"{}\"", id)); at != std::string::npos)
      links.emplace_back(at, fmt::format("<li><a href=\"#{}\">{}</a></li>\n", id, words));
  std::sort(links.begin(), links.end());
  std::string out;
  for (const auto& [at, link] : links) out += link;
  return out;
}

}  // namespace

std::string framed(const PageText& text) {
  // Where the frame's own sections stand among the others.
  const std::string sections = "<section id=\"answer\"" + text.body + "<section id=\"care\"" + text.after;
  return filled(kPageFrame, {{"may_run", text.scripts.empty() ? "" : "script-src 'unsafe-inline'; "},
                             {"title", escaped(text.title)},
                             {"style", kPageStyle},
                             {"version", PELLICLE_VERSION},
                             {"facts", escaped(text.facts)},
                             {"links", links_text(sections)},
                             {"answer_class", text.answer_style},
                             {"answer", escaped(text.answer)},
                             {"reason", escaped(text.reason)},
                             {"groups", text.groups},
                             {"body", text.body},
                             {"cautions", cautions_text()},
                             {"approval", escaped(results::kNoApproval)},
                             {"after", text.after},
                             {"closing", escaped(text.closing)},
                             {"scripts", text.scripts}});
}

std::string section(const char* id, const char* title, const std::string& body) {
  if (body.empty()) return "";
  return fmt::format(
      "<section id=\"{0}\" aria-labelledby=\"{0}-title\">\n<h2 id=\"{0}-title\">{1}</h2>\n{2}</section>\n", id, title,
      body);
}

}  // namespace pellicle::report
