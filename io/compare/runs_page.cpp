// What does a colleague see of two runs? compare.html: what changed, both answers side by side, and where they differ.
#include "io/compare/runs_page.h"

#include "io/compare/runs_text.h"
#include "io/report/figures.h"
#include "io/report/html.h"
#include "io/report/page_frame.h"
#include "io/report/parts.h"
#include "mesh/locate.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace pellicle::compare {
namespace {

using report::Camera;
using report::escaped;
using report::Range;
using report::section;

struct Heading {
  std::string words;
  const char* style;
};

/// What is said first: which way the verdicts went.
Heading heading_of(const Comparison& c) {
  const auto turned = [&](int way) {
    return std::count_if(c.answers.begin(), c.answers.end(), [way](const AnswerPair& p) { return p.turned() == way; });
  };
  const auto worse = turned(1), better = turned(-1);
  const auto counted = [](std::ptrdiff_t n, const char* what) {
    return fmt::format("{} answer{} {} {}", n, n == 1 ? "" : "s", n == 1 ? "is" : "are", what);
  };
  const std::size_t unasked = fails_unasked_in_a(c).size();
  if (worse == 0 && unasked > 0)
    return {fmt::format("B fails {} answer{} that A did not ask", unasked, unasked == 1 ? "" : "s"), "fails"};
  if (worse == 0 && better == 0) return {"No verdict changed", "unasked"};
  if (worse == 0) return {counted(better, "better in B"), "fine"};
  const bool fails = std::any_of(c.answers.begin(), c.answers.end(), [](const AnswerPair& p) {
    return p.turned() > 0 && p.b->verdict == checks::Verdict::kFail;
  });
  return {counted(worse, "worse in B") + (better > 0 ? fmt::format(", {} better", better) : ""),
          fails ? "fails" : "doubt"};
}

std::string changes_text(const Comparison& c) {
  std::string notes, rows;
  for (const std::string& note : c.notes) notes += fmt::format("<li>{}</li>\n", escaped(note));
  if (!notes.empty()) notes = "<ul>\n" + notes + "</ul>\n";
  const auto cell = [](const std::string& text) { return text.empty() ? "<em>not given</em>" : escaped(text); };
  for (const KeyChange& change : c.changes)
    rows += fmt::format("<tr><th scope=\"row\"><code>{}</code></th><td>{}</td><td>{}</td></tr>\n", escaped(change.key),
                        cell(change.in_a), cell(change.in_b));
  return notes + (rows.empty() ? "<p>No key of the case differs.</p>\n"
                               : report::table("Keys of the case whose value differs", {"Key", "A", "B"}, rows));
}

std::string badge_of(const std::optional<checks::Finding>& f) {
  const report::Sign sign = f ? report::sign_of(f->verdict) : report::Sign{"not asked", "unasked"};
  return report::badge(sign.word, sign.style);
}

std::string answers_text(const Comparison& c) {
  std::string rows;
  for (const AnswerPair& pair : c.answers) {
    const checks::Finding& any = pair.a ? *pair.a : *pair.b;
    rows += fmt::format(
        "<tr><th scope=\"row\" class=\"asked\">{} "
        "<code>{}</code></th><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td></tr>\n",
        escaped(report::title_of(any)), escaped(pair.id), escaped(value_text(pair.a)), badge_of(pair.a),
        escaped(value_text(pair.b)), badge_of(pair.b), escaped(change_text(pair)));
  }
  return report::table("Every answer of the two runs",
                       {"Question", "A", "Verdict of A", "B", "Verdict of B", "B less A"}, rows);
}

std::vector<double> in_mm(const std::vector<double>& values_m) {
  std::vector<double> values = values_m;
  for (double& value : values) value *= 1e3;
  return values;
}

std::string wall_figure(const char* id, const char* name, const results::StoredSheet& sheet, const Camera& camera,
                        const Range& range) {
  const std::vector<double> wall_mm = in_mm(sheet.thickness_m);
  const std::string title = fmt::format("Wall thickness of {}", name);
  return report::figure_html(
      report::drawn({sheet.face.points_m, sheet.face.triangles, wall_mm, range.low, range.high}, camera), camera, range,
      {id, title, "mm", title + ", the formed sheet seen slantwise from above",
       "Both walls have the same colours and the same view."});
}

/// Both formed sheets in the colours of one range.
std::string walls_text(const Run& a, const Run& b) {
  std::vector<double> all_mm = in_mm(a.sheet.thickness_m);
  const std::vector<double> b_mm = in_mm(b.sheet.thickness_m);
  all_mm.insert(all_mm.end(), b_mm.begin(), b_mm.end());
  const auto range = report::range_of(all_mm, false);
  if (!range) return "";
  const report::Moment moment{0.0, "", 0.0, 0.0, a.sheet.face.points_m, a.sheet.face.triangles, {}};
  const Camera camera = report::sheet_camera(moment, a.mould ? &*a.mould : nullptr);
  return wall_figure("wall-a", "A", a.sheet, camera, *range) + wall_figure("wall-b", "B", b.sheet, camera, *range);
}

/// The difference in the flat sheet, or a line that there is none.
std::string flat_figure(const Run& a, const FieldPair& field, const char* caption,
                        const std::vector<report::Mark>& marks) {
  const std::string title = fmt::format("{}: B less A, in the flat sheet", field.name);
  auto range = report::difference_range(field.difference);
  if (!range) return fmt::format("<figure><h3>{}</h3><p>No difference anywhere.</p></figure>\n", escaped(title));
  if (field.unit == "-") range = Range{-1.0, 1.0, false, false, report::Colours::kDifference};
  const mesh::TriangleMesh flat = mesh::flat_surface(a.sheet.flat_m, a.sheet.face.triangles);
  const Camera camera = report::flat_camera(flat.points_m);
  return report::figure_html(
      report::drawn({flat.points_m, flat.triangles, field.difference, range->low, range->high, range->colours}, camera),
      camera, *range,
      {"flat-" + field.key, title, field.unit, title + ", from blue (less in B) to orange (more)", caption}, marks);
}

/// The wall's difference where it lies on the part.
std::string formed_figure(const Run& a, const FieldPair& wall, const std::optional<Spread>& part) {
  const auto range = report::difference_range(wall.difference);
  if (!range) return "";
  const report::Moment moment{0.0, "", 0.0, 0.0, a.sheet.face.points_m, a.sheet.face.triangles, {}};
  const Camera camera = report::sheet_camera(moment, a.mould ? &*a.mould : nullptr);
  std::vector<report::Mark> marks;
  if (part) marks.push_back({"largest", part->place_m});
  const std::string title = "Wall thickness: B less A, on A's formed sheet";
  return report::figure_html(report::drawn({a.sheet.face.points_m, a.sheet.face.triangles, wall.difference, range->low,
                                            range->high, range->colours},
                                           camera),
                             camera, *range,
                             {"formed-thickness", title, "mm", title + ", seen slantwise from above",
                              "Of the same bit of sheet, wherever it came to lie in B."},
                             marks);
}

std::string differences_text(const Run& a, const Comparison& c) {
  std::string lines, figures;
  for (const std::string& line : difference_lines(c)) lines += fmt::format("<li>{}</li>\n", escaped(line));
  std::vector<report::Mark> marks;
  if (c.part) marks.push_back({"largest", {c.part->flat_m.x(), c.part->flat_m.y(), 0.0}});
  constexpr const char* kCaption =
      "Blue: less in B; grey: the same; orange: more. Striped: one of the two has no value there.";
  constexpr const char* kWallCaption =
      "The flat sheet as it is clamped, y up. Blue: less in B; grey: the same; orange: more. Striped: one of the two "
      "has "
      "no value there. The mark: largest on the part.";
  for (const FieldPair& field : c.fields) {
    const bool is_touched = field.key == "touched", is_wall = field.key == "thickness";
    figures +=
        flat_figure(a, field,
                    is_wall      ? kWallCaption
                    : is_touched ? "Blue: touched the mould in A alone; orange: in B alone; grey: in both or neither."
                                 : kCaption,
                    is_wall ? marks : std::vector<report::Mark>{});
    if (is_wall) figures += formed_figure(a, field, c.part);
  }
  return "<ul>\n" + lines + "</ul>\n<div class=\"two\">\n" + figures + "</div>\n";
}

}  // namespace

std::string page(const Run& a, const Run& b, const Comparison& c) {
  const Heading heading = heading_of(c);
  const std::string body = section("changes", "What changed", changes_text(c)) +
                           section("answers", "Both answers", answers_text(c)) +
                           section("walls", "Both walls", "<div class=\"two\">\n" + walls_text(a, b) + "</div>\n") +
                           section("differences", "Where they differ", differences_text(a, c));
  const std::string title = a.summary.title == b.summary.title
                                ? fmt::format("{}: two runs compared", a.summary.title)
                                : fmt::format("{} and {} compared", a.summary.title, b.summary.title);
  return report::framed({title,
                         fmt::format("A: {} ({}) · B: {} ({})", a.summary.title, results::name_of(a.folder),
                                     b.summary.title, results::name_of(b.folder)),
                         heading.words, heading.style, turned_text(c), body,
                         fmt::format("Pellicle {}; A was run with {}, B with {}.", PELLICLE_VERSION,
                                     a.summary.program_version, b.summary.program_version)});
}

}  // namespace pellicle::compare
