// What does the engineer read first? The whole answer on one page that opens from disk, offline.
#include "io/report/page.h"

#include "io/report/embedded.h"
#include "io/report/figures.h"
#include "io/report/history_plots.h"
#include "io/report/html.h"
#include "io/report/mould_pictures.h"
#include "io/report/page_frame.h"
#include "io/report/parts.h"
#include "io/report/questions.h"
#include "io/report/spread_section.h"
#include "io/report/view_data.h"
#include "io/results/spread.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <exception>
#include <functional>
#include <optional>
#include <utility>

namespace pellicle::report {
namespace {

using checks::Finding;
using checks::Verdict;

const char* style_of(Decision decision) {
  switch (decision) {
    case Decision::kNoAnswer:
      return "unasked";
    case Decision::kPrint:
      return "fine";
    case Decision::kPrintWithCare:
      return "doubt";
    case Decision::kChange:
    case Decision::kDoNotPrint:
      return "fails";
  }
  return "";
}

/// Number, limit and place on one line.
std::string number_line(const Finding& f) {
  std::string out = fmt::format("<p class=\"number\"><strong>{}</strong>", escaped(value_text(f)));
  if (f.limit) out += fmt::format(" <span>limit {}</span>", escaped(number_text(*f.limit, f.unit)));
  if (f.band) out += fmt::format(" <span>{}</span>", results::band_text(*f.band));
  if (f.place_m) out += fmt::format(" <span>{}</span>", place_text(*f.place_m));
  return out + "</p>";
}

/// What else was asked under a question.
std::string more_text(std::size_t others) {
  if (others == 0) return "";
  return fmt::format(" and {} more, none worse", others == 1 ? "one" : std::to_string(others));
}

std::string question_row(const Question& question, const std::vector<Finding>& findings) {
  if (question.findings.empty())
    return fmt::format("<li>{}<h3>{}</h3><p class=\"advice\">{}</p></li>\n", badge("not asked", "unasked"),
                       escaped(question.text), escaped(question.unasked));
  const std::size_t n = spokesman(question, findings);
  const Finding& f = findings[n];
  const Sign sign = sign_of(f.verdict);
  const std::string said = !f.advice.empty() ? f.advice : f.verdict == Verdict::kPass ? std::string() : f.why;
  return fmt::format("<li>{}<h3>{}</h3><p class=\"asked\"><a href=\"#finding-{}\">{}. {}</a>{}</p>{}{}</li>\n",
                     badge(sign.word, sign.style), escaped(question.text), n + 1, n + 1, escaped(title_of(f)),
                     more_text(question.findings.size() - 1), number_line(f),
                     said.empty() ? "" : fmt::format("<p class=\"advice\">{}</p>", escaped(said)));
}

std::string joined(const std::vector<std::string>& words) {
  std::string out;
  for (std::size_t i = 0; i < words.size(); ++i)
    out += (i == 0 ? "" : i + 1 == words.size() ? " and " : ", ") + words[i];
  return out;
}

/// "1 answer fails, 3 are in doubt, 11 are fine. Not asked: layers, air."
std::string reason_text(const std::vector<Finding>& findings, const std::vector<Question>& questions) {
  const auto number_of = [&](Verdict verdict) {
    return std::count_if(findings.begin(), findings.end(), [&](const Finding& f) { return f.verdict == verdict; });
  };
  const auto counted = [](std::ptrdiff_t n, const char* one, const char* many) {
    return fmt::format("{} {}", n, n == 1 ? one : many);
  };
  std::vector<std::string> parts;
  const auto fails = number_of(Verdict::kFail), doubts = number_of(Verdict::kDoubt), passes = number_of(Verdict::kPass);
  if (fails > 0) parts.push_back(counted(fails, "answer fails", "answers fail"));
  if (doubts > 0) parts.push_back(counted(doubts, "is in doubt", "are in doubt"));
  if (passes > 0) parts.push_back(counted(passes, "is fine", "are fine"));
  std::string out = findings.empty() ? "No questions were asked of this part." : joined(parts) + ".";
  std::vector<std::string> unasked;
  for (const Question& q : questions)
    if (q.findings.empty()) unasked.push_back(q.key == "layers" ? "layer lines" : q.key);
  if (!findings.empty() && !unasked.empty()) out += " Not asked in this run: " + joined(unasked) + ".";
  return out;
}

std::string finding_text(const Finding& f, std::size_t n) {
  const Sign sign = sign_of(f.verdict);
  std::string out = fmt::format("<li id=\"finding-{0}\" value=\"{0}\">{1}<h4>{0}. {2}</h4>{3}<dl>", n + 1,
                                badge(sign.word, sign.style), escaped(title_of(f)), number_line(f));
  for (const auto& [term, text] :
       {std::pair<const char*, const std::string&>{"Why", f.why}, {"How sure", f.uncertainty}, {"Try", f.advice}})
    if (!text.empty()) out += fmt::format("<div><dt>{}</dt><dd>{}</dd></div>", term, escaped(text));
  return out + fmt::format("<div><dt>Id</dt><dd class=\"id\"><code>{}</code></dd></div></dl></li>\n", escaped(f.id));
}

std::string findings_text(const std::vector<Finding>& findings, const std::vector<Question>& questions) {
  std::string out;
  for (const Question& q : questions) {
    out += fmt::format("<h3>{}</h3>\n", escaped(q.text));
    if (q.findings.empty()) out += fmt::format("<p>{}</p>\n", escaped(q.unasked));
    if (!q.findings.empty()) {
      out += "<ol class=\"findings\">\n";
      for (const std::size_t n : q.findings) out += finding_text(findings[n], n);
      out += "</ol>\n";
    }
  }
  return out;
}

/// Places of what is not fine, and of the thinnest wall; findings at one place share a mark.
std::vector<Mark> marks_of(const std::vector<Finding>& findings) {
  constexpr double kSamePlace_m = 0.2e-3;
  std::vector<Mark> marks;
  for (std::size_t n = 0; n < findings.size(); ++n) {
    const Finding& f = findings[n];
    if (!f.place_m || (f.verdict == Verdict::kPass && f.id != "thinnest_wall")) continue;
    const auto same = std::find_if(marks.begin(), marks.end(),
                                   [&](const Mark& m) { return (m.place_m - *f.place_m).norm() < kSamePlace_m; });
    if (same == marks.end())
      marks.push_back({fmt::format("{}", n + 1), *f.place_m});
    else
      same->label += fmt::format(", {}", n + 1);
  }
  return marks;
}

/// Whether the sheet is in the way: by more than the thickness of a line on the picture.
bool lies_behind(const Moment& moment, const Camera& camera, const mesh::Vec3& place_m) {
  constexpr double kLine_px = 6.0;
  return is_hidden(moment.points_m, moment.triangles, camera, place_m, kLine_px / camera.px_per_m);
}

constexpr std::size_t kMostViewBytes = 2'000'000;    // before base64: 2.7 MB of the page
constexpr std::size_t kMostMouldTriangles = 50'000;  // about 0.6 MB of the page

constexpr const char* kMarksText =
    " Numbers stand where the finding of that number is; with a broken rim, on the far side.";
constexpr const char* kSeen =
    "Seen slantwise from above, without perspective; shading dims a colour by a third at most.";

/// The first field of these keys that has something to show.
struct Shown {
  const Field* field = nullptr;
  Range range{0.0, 1.0};
};
Shown first_of(const Moment& moment, std::initializer_list<const char*> keys) {
  for (const char* key : keys) {
    const Field* field = find_field(moment, key);
    if (field == nullptr) continue;
    if (const auto range = range_of(*field)) return {field, *range};
  }
  return {};
}

std::string alt_of(const Shown& shown) {
  return fmt::format("The formed sheet, coloured by {} from {} to {}", shown.field->name, number_text(shown.range.low),
                     number_text(shown.range.high, shown.field->unit));
}

Picture picture_of(const Moment& moment, const Shown& shown, const Camera& camera) {
  return drawn({moment.points_m, moment.triangles, shown.field->values, shown.range.low, shown.range.high}, camera);
}

/// Names of fields begin with a small letter of ASCII.
std::string capitalised(std::string name) {
  name.front() = static_cast<char>(name.front() - 'a' + 'A');
  return name;
}

/// What the view says of a mould that can be shown below the sheet.
std::string mould_text(const Coarsened& mould) {
  const std::string coarse =
      mould.cell_m > 0.0 ? fmt::format(", coarser than it is, in cells of {:.2g} mm", 1e3 * mould.cell_m) : "";
  return fmt::format(" With the mould, the sheet is drawn see-through and the mould grey{}.", coarse);
}

/// The sheet to turn about; as long as no script has run, or none may, a picture of it.
std::string view_text(const Moment& last, const Camera& camera, const std::vector<Mark>& marks,
                      const std::optional<Coarsened>& mould) {
  const Shown shown = first_of(last, {"thickness", "contact_pressure", "gap"});
  if (shown.field == nullptr) return "";
  return fmt::format(
      "<section id=\"shape\" aria-labelledby=\"shape-title\">\n<h2 id=\"shape-title\">The formed sheet</h2>\n"
      "<figure id=\"view\" class=\"wide\">\n<div class=\"controls\" hidden=\"\">\n"
      "<label>Colour <select id=\"view-field\"></select></label>\n"
      "<label>Moment <input id=\"view-moment\" type=\"range\" min=\"0\" max=\"0\" value=\"0\" step=\"1\" /></label>\n"
      "<output id=\"view-time\" for=\"view-moment\"></output>\n{}"
      "<span class=\"buttons\"><button type=\"button\" id=\"view-top\">From above</button>\n"
      "<button type=\"button\" id=\"view-side\">From the side</button>\n"
      "<button type=\"button\" id=\"view-back\">As at first</button></span>\n</div>\n{}{}"
      "<p class=\"readout\" id=\"view-value\" aria-live=\"polite\"></p>\n"
      "<figcaption><span class=\"of-still\">{}: {}</span>{}<span class=\"of-view\" id=\"view-help\"> Drag to turn, "
      "turn "
      "the wheel with Ctrl or pinch to come nearer, point at the sheet to read a value. With the keyboard: arrows "
      "turn, "
      "+ and - come nearer and go back, Home returns; the value is that in the middle.{}</span></figcaption>\n"
      "</figure>\n</section>\n",
      mould ? "<label><input id=\"view-mould\" type=\"checkbox\" /> Show the mould</label>\n" : "",
      stage_html(picture_of(last, shown, camera), camera, alt_of(shown), marks),
      legend_html(shown.range, shown.field->unit, camera), escaped(capitalised(shown.field->name)), kSeen,
      marks.empty() ? "" : kMarksText, mould ? mould_text(*mould) : "");
}

std::string sheet_figure(const Moment& last, const Camera& camera, const Shown& shown, const char* caption,
                         const std::vector<Mark>& marks) {
  if (shown.field == nullptr) return "";
  return figure_html(picture_of(last, shown, camera), camera, shown.range,
                     {shown.field->key, capitalised(shown.field->name), shown.field->unit, alt_of(shown), caption},
                     marks);
}

std::string pictures_text(const Moment& last, const Camera& camera, const std::string& of_the_mould) {
  const Shown finest = first_of(last, {"finest_radius", "stroke_depth"});
  const bool is_radius = finest.field != nullptr && finest.field->key == "finest_radius";
  std::string out =
      sheet_figure(last, camera, finest,
                   is_radius ? "The sharpest inner corner the sheet follows there. Striped: it touches nothing there."
                             : "How deep the sheet goes into a straight stroke. Striped: it touches nothing there.",
                   {});
  out += sheet_figure(last, camera, first_of(last, {"contact_pressure"}), "How hard the sheet lies on the mould.", {});
  out += sheet_figure(last, camera, first_of(last, {"air_pressure"}),
                      "Air shut in under the sheet, above the pressure outside: there the sheet is held off.", {});
  out += sheet_figure(last, camera, first_of(last, {"layer_line"}),
                      "How high the layers of the print show, on the face that met the mould. Striped: it does not lie "
                      "on the printed mould there.",
                      {});
  out += of_the_mould;
  if (out.empty()) return out;
  return fmt::format(
      "<section id=\"pictures\" aria-labelledby=\"pictures-title\">\n<h2 id=\"pictures-title\">{}</h2>\n"
      "<div class=\"two\">\n{}</div>\n</section>\n",
      of_the_mould.empty() ? "What the sheet does" : "What sheet and mould do", out);
}

std::string strokes_table(const ReliefResult& relief) {
  constexpr std::size_t kMost = 8;
  std::vector<const imprint::StrokeAnswer*> strokes;
  for (const imprint::StrokeAnswer& s : relief.answer.strokes) strokes.push_back(&s);
  if (strokes.empty()) return "";
  std::stable_sort(strokes.begin(), strokes.end(),
                   [](const auto* one, const auto* other) { return one->share < other->share; });
  std::string rows;
  for (std::size_t i = 0; i < std::min(kMost, strokes.size()); ++i) {
    const imprint::StrokeAnswer& s = *strokes[i];
    const mesh::Vec3 p_m = relief.place_m(s.place_m[0], s.place_m[1], 0.0);
    rows += fmt::format(
        "<tr><th scope=\"row\">{}</th><td>{:.3g}</td><td>{:.3g}</td><td>{:.3g}</td><td>{:.2f}</td><td>{:.2f}, "
        "{:.2f}</td><td>{}</td></tr>\n",
        escaped(s.name), 1e3 * s.width_m, 1e3 * s.depth.answer_m, 1e3 * s.height_m, s.share, 1e3 * p_m.x(),
        1e3 * p_m.y(), imprint::model_word(s.depth.model));
  }
  const std::string name =
      strokes.size() > kMost
          ? fmt::format("{}: the {} worst of {} strokes, in mm", relief.answer.name, kMost, strokes.size())
          : fmt::format("{}: {} stroke{}, in mm", relief.answer.name, strokes.size(), strokes.size() == 1 ? "" : "s");
  return table(name, {"Stroke", "Wide", "Formed", "Of height", "Share", "At x, y", "Model"}, rows);
}

std::string reliefs_text(const std::vector<ReliefResult>& reliefs) {
  if (reliefs.empty()) return "";
  std::string out =
      "<section id=\"reliefs\" aria-labelledby=\"reliefs-title\">\n<h2 id=\"reliefs-title\">Fine detail</h2>\n<div "
      "class=\"two\">\n";
  for (std::size_t n = 0; n < reliefs.size(); ++n) {
    out += "<div>\n" + relief_figure(reliefs[n], n + 1) + strokes_table(reliefs[n]);
    for (const std::string& note : reliefs[n].answer.notes) out += fmt::format("<p>{}</p>\n", escaped(note));
    out += "</div>\n";
  }
  return out + "</div>\n</section>\n";
}

std::string history_text(const PageInput& input) {
  const std::string plots = history_plots(input.recording.history(), input.summary.result.stages);
  if (plots.empty()) return "";
  return "<section id=\"history\" aria-labelledby=\"history-title\">\n<h2 id=\"history-title\">How the run "
         "went</h2>\n<div class=\"two\">\n" +
         plots + "</div>\n</section>\n";
}

std::string warnings_text(const results::Summary& summary) {
  if (summary.warnings.empty() && summary.not_used_yet.empty()) return "";
  std::string out =
      "<section id=\"warnings\" aria-labelledby=\"warnings-title\">\n<h2 id=\"warnings-title\">Said on the "
      "way</h2>\n<ul>\n";
  for (const std::string& warning : summary.warnings) out += fmt::format("<li>{}</li>\n", escaped(warning));
  if (!summary.not_used_yet.empty())
    out += fmt::format("<li>Given in the case and without effect in this run: {}; {}.</li>\n",
                       escaped(joined(summary.not_used_yet)), results::kMissing);
  return out + "</ul>\n</section>\n";
}

std::string values_table(const std::string& name, const std::vector<cases::ResolvedValue>& values, bool of_cards) {
  std::string rows;
  for (const cases::ResolvedValue& value : values) {
    if ((value.origin == cases::Origin::kCard) != of_cards) continue;
    rows +=
        fmt::format("<tr><th scope=\"row\"><code>{}</code></th><td>{}</td><td>{}</td><td>{}</td></tr>\n",
                    escaped(value.key), escaped(value.value), cases::origin_name(value.origin), escaped(value.note));
  }
  if (rows.empty()) return "";
  return table(name, {"Key", "Value", "From", of_cards ? "Mark and source" : "Note"}, rows);
}

std::string input_text(const PageInput& input) {
  return "<h3>Numbers from cards</h3>\n" +
         values_table("Numbers from the program's cards, with their sources", input.values, true) +
         "<h3>The case as run</h3>\n<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"The case "
         "file\"><pre><code>" +
         escaped(input.case_text) +
         "</code></pre></div>\n<details><summary>Every other value: the case's and defaults</summary>\n" +
         values_table("Values of the case and defaults", input.values, false) + "</details>\n";
}

std::string closing_text(const results::Summary& summary) {
  const CaseResult& result = summary.result;
  if (summary.reliefs_alone)
    return fmt::format("Pellicle {}. Nothing was formed: the states of the reliefs are the case's. {:.1f} s.",
                       PELLICLE_VERSION, result.seconds);
  return fmt::format(
      "Pellicle {}. {} triangles{}, {} steps, {:.1f} s; energy closes to {:.2g} %.", PELLICLE_VERSION, result.elements,
      result.final_elements > result.elements ? fmt::format(" refined to {}", result.final_elements) : "", result.steps,
      result.seconds, 100.0 * result.worst_balance);
}

/// Cards and gauge in one line, as far as the case tells them.
std::string facts_text(const std::vector<cases::ResolvedValue>& values) {
  std::string out;
  for (const char* key : {"sheet.polymer", "sheet.thickness", "sheet.temperature", "mould.surface", "mould.resin"}) {
    const auto at = std::find_if(values.begin(), values.end(), [&](const auto& v) { return v.key == key; });
    if (at != values.end() && !at->value.empty())
      out += fmt::format("{}{} {}", out.empty() ? "" : " · ",
                         std::string_view(key).substr(std::string_view(key).find('.') + 1), at->value);
  }
  return out;
}

/// Does the parts of the page that take time, several at once.
void make(const std::vector<std::function<void()>>& parts) {
  std::vector<std::exception_ptr> broken(parts.size());
#pragma omp parallel for schedule(dynamic, 1)
  for (std::size_t k = 0; k < parts.size(); ++k) {
    try {
      parts[k]();
    } catch (...) {
      broken[k] = std::current_exception();
    }
  }
  for (const std::exception_ptr& what : broken)
    if (what) std::rethrow_exception(what);
}

}  // namespace

std::string page(const PageInput& input) {
  const std::vector<Finding>& findings = input.summary.result.findings;
  const std::vector<Question> questions = questions_of(findings);
  const Decision decision = decision_of(findings);
  const std::string title = input.summary.title.empty() ? "Untitled case" : input.summary.title;
  std::string rows, view, pictures, data, reliefs;
  std::vector<std::function<void()>> parts{[&] { reliefs = reliefs_text(input.summary.result.reliefs); }};
  for (const Question& question : questions) rows += question_row(question, findings);
  const std::vector<Moment>& moments = input.recording.moments();
  if (!moments.empty()) {
    const Camera camera = sheet_camera(moments.back(), input.mould);
    std::vector<Mark> marks = marks_of(findings);
    for (Mark& mark : marks) mark.is_behind = lies_behind(moments.back(), camera, mark.place_m);
    std::optional<Coarsened> mould;
    if (input.mould != nullptr) mould = coarsened(*input.mould, kMostMouldTriangles);
    parts.emplace_back([&, camera, marks, mould] {
      view = view_text(moments.back(), camera, marks, mould);
      if (!view.empty())
        data = "<script type=\"application/json\" id=\"view-data\">\n" +
               inside_script(view_json(moments, camera, kMostViewBytes, mould ? &*mould : nullptr)) + "</script>\n";
    });
    parts.emplace_back([&, camera] {
      pictures =
          pictures_text(moments.back(), camera,
                        input.mould != nullptr ? mould_figures(*input.mould, input.summary.result.body_field) : "");
    });
  }
  make(parts);
  const std::string warnings = warnings_text(input.summary);
  const std::string history = history_text(input), spread = spread_section(input.summary);
  return framed({.title = title,
                 .facts = facts_text(input.values),
                 .answer = decision_words(decision),
                 .answer_style = style_of(decision),
                 .reason = reason_text(findings, questions),
                 .body = warnings + view + pictures + reliefs + spread + history +
                         section("findings", "Everything that was asked", findings_text(findings, questions)),
                 .closing = closing_text(input.summary),
                 .groups = "<ol class=\"questions\">\n" + rows + "</ol>\n",
                 .after = section("accuracy", "How far to trust it", kPageAccuracy) +
                          section("input", "What went in", input_text(input)),
                 .scripts = data + "<script>\n" + kPageScript + "</script>\n"});
}

}  // namespace pellicle::report
