// Which pieces do several pages share? Badges, tables, places and cautions as HTML.
#include "io/report/parts.h"

#include "io/report/html.h"
#include "io/results/cautions.h"

#include <fmt/format.h>

namespace pellicle::report {

Sign sign_of(checks::Verdict verdict) {
  switch (verdict) {
    case checks::Verdict::kPass:
      return {"fine", "fine"};
    case checks::Verdict::kDoubt:
      return {"in doubt", "doubt"};
    case checks::Verdict::kFail:
      return {"fails", "fails"};
  }
  return {"", ""};
}

std::string badge(const char* word, const char* style) {
  return fmt::format("<p class=\"badge {}\"><span class=\"sign\" aria-hidden=\"true\"></span>{}</p>", style, word);
}

std::string place_text(const mesh::Vec3& p_m) {
  return fmt::format("at ({:.1f}, {:.1f}, {:.1f}) mm", 1e3 * p_m.x(), 1e3 * p_m.y(), 1e3 * p_m.z());
}

const std::string& title_of(const checks::Finding& f) { return f.question.empty() ? f.id : f.question; }

std::string table(const std::string& name, const std::vector<const char*>& heads, const std::string& rows) {
  std::string out = fmt::format(
      "<div class=\"scroll\" tabindex=\"0\" role=\"region\" "
      "aria-label=\"{0}\">\n<table><caption>{0}</caption>\n<thead><tr>",
      escaped(name));
  for (const char* head : heads) out += fmt::format("<th scope=\"col\">{}</th>", head);
  return out + "</tr></thead>\n<tbody>\n" + rows + "</tbody></table>\n</div>\n";
}

std::string cautions_text() {
  std::string out;
  for (const results::Caution& caution : results::kCautions) out += fmt::format("<li>{}</li>\n", escaped(caution.full));
  return out;
}

}  // namespace pellicle::report
