// How is the comparison of two runs told? For the terminal, and as JSON.
#include "io/compare/runs_text.h"

#include "io/report/html.h"
#include "io/report/parts.h"
#include "io/results/json.h"
#include "io/results/summary.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

namespace pellicle::compare {
namespace {

using report::number_text;

std::string either(const std::string& text) { return text.empty() ? "not given" : text; }

std::string verdicts_text(const AnswerPair& pair) {
  const auto word = [](const std::optional<checks::Finding>& f) {
    return f ? std::string(results::verdict_word(f->verdict)) : std::string("-");
  };
  const std::string a = word(pair.a), b = word(pair.b);
  return a == b ? a : fmt::format("{} -> {}", a, b);
}

std::string joined_ids(const std::vector<std::string>& ids) {
  return ids.empty() ? "" : fmt::format(" ({})", fmt::join(ids, ", "));
}

std::string signed_text(double value, const char* unit) {
  if (value == 0.0) return fmt::format("0 {}", unit);
  return fmt::format("{}{} {}", value > 0.0 ? "+" : "", number_text(value), unit);
}

void add_spread(results::Json& json, const char* key, const std::optional<Spread>& s) {
  json.key(key);
  if (!s) {
    json.null();
    return;
  }
  json.open_object().key("mean_mm").number(s->mean).key("rms_mm").number(s->rms).key("worst_mm").number(s->worst);
  json.key("place_mm").numbers({1e3 * s->place_m.x(), 1e3 * s->place_m.y(), 1e3 * s->place_m.z()});
  json.key("area_share").number(s->area_share).close_object();
}

void add_answer(results::Json& json, const char* key, const std::optional<checks::Finding>& f) {
  json.key(key);
  if (!f) {
    json.null();
    return;
  }
  json.open_object().key("value").number(f->value).key("unit").text(f->unit).key("verdict");
  json.text(results::verdict_word(f->verdict)).close_object();
}

void add_run(results::Json& json, const char* key, const Run& run) {
  json.key(key).open_object().key("folder").text(run.folder).key("title").text(run.summary.title);
  json.key("program_version").text(run.summary.program_version).close_object();
}

}  // namespace

std::vector<std::string> fails_unasked_in_a(const Comparison& comparison) {
  std::vector<std::string> ids;
  for (const AnswerPair& pair : comparison.answers)
    if (!pair.a && pair.b && pair.b->verdict == checks::Verdict::kFail) ids.push_back(pair.id);
  return ids;
}

std::string turned_text(const Comparison& comparison) {
  std::vector<std::string> worse, better;
  std::size_t same = 0, alone = 0;
  for (const AnswerPair& pair : comparison.answers) {
    if (pair.turned() > 0) worse.push_back(pair.id);
    if (pair.turned() < 0) better.push_back(pair.id);
    if (!pair.a || !pair.b)
      ++alone;
    else if (pair.turned() == 0)
      ++same;
  }
  std::string out = fmt::format("Worse in B: {}{}. Better: {}{}. Verdict kept: {}.", worse.size(), joined_ids(worse),
                                better.size(), joined_ids(better), same);
  if (alone == 0) return out;
  const auto fails = fails_unasked_in_a(comparison);
  return out + fmt::format(" Asked in one of them alone: {}{}.", alone,
                           fails.empty() ? "" : fmt::format("; of these B fails {}", fmt::join(fails, ", ")));
}

std::string value_text(const std::optional<checks::Finding>& finding) {
  return finding ? number_text(finding->value, finding->unit) : "not asked";
}

std::string change_text(const AnswerPair& pair) {
  const double change = pair.change();
  if (!std::isfinite(change)) return "-";
  const std::string unit = pair.a->unit == "-" ? "" : pair.a->unit;
  std::string out = change == 0.0 ? "0" : fmt::format("{}{}", change > 0.0 ? "+" : "", number_text(change, unit));
  if (change != 0.0 && pair.a->value != 0.0)
    out += fmt::format(" ({:+.3g} %)", 100.0 * change / std::abs(pair.a->value));
  return out;
}

std::vector<std::string> difference_lines(const Comparison& c) {
  std::vector<std::string> lines;
  for (const auto& [where, spread] : {std::pair{"the part", &c.part}, {"the whole sheet", &c.sheet}}) {
    if (!*spread) continue;
    const Spread& s = **spread;
    lines.push_back(fmt::format("Wall over {}, B less A: mean {}, rms {}, largest {} {} of A.", where,
                                signed_text(s.mean, "mm"), number_text(s.rms, "mm"), signed_text(s.worst, "mm"),
                                report::place_text(s.place_m)));
  }
  if (std::isfinite(c.ratio)) lines.push_back(fmt::format("Mean wall of the part, B over A: {:.4g}.", c.ratio));
  lines.push_back(fmt::format("Touched the mould in A alone: {:.3g} % of the sheet; in B alone: {:.3g} %.",
                              100.0 * c.only_a, 100.0 * c.only_b));
  return lines;
}

std::string words(const Run& a, const Run& b, const Comparison& c) {
  std::string out = fmt::format("A  {}: {}\nB  {}: {}\n", a.folder, a.summary.title, b.folder, b.summary.title);
  for (const std::string& note : c.notes) out += fmt::format("note: {}\n", note);
  std::size_t wide = 0;
  for (const KeyChange& change : c.changes) wide = std::max(wide, change.key.size());
  out += c.changes.empty() ? "\nNo key of the case differs.\n" : "\nChanged in the case, A -> B\n";
  for (const KeyChange& change : c.changes)
    out += fmt::format("  {:<{}}  {} -> {}\n", change.key, wide, either(change.in_a), either(change.in_b));
  out += fmt::format("\n{}\n  {:<20}  {:<14}  {:<14}  {:<24}  {}\n", turned_text(c), "answer", "A", "B", "change",
                     "verdict");
  for (const AnswerPair& pair : c.answers)
    out += fmt::format("  {:<20}  {:<14}  {:<14}  {:<24}  {}\n", pair.id, value_text(pair.a), value_text(pair.b),
                       change_text(pair), verdicts_text(pair));
  out += "\n";
  for (const std::string& line : difference_lines(c)) out += line + "\n";
  return out;
}

std::string json_text(const Run& a, const Run& b, const Comparison& c) {
  results::Json json;
  json.open_object();
  add_run(json, "a", a);
  add_run(json, "b", b);
  json.key("changes").open_list();
  for (const KeyChange& change : c.changes) {
    json.open_object().key("key").text(change.key).key("a");
    change.in_a.empty() ? json.null() : json.text(change.in_a);
    json.key("b");
    change.in_b.empty() ? json.null() : json.text(change.in_b);
    json.close_object();
  }
  json.close_list().key("answers").open_list();
  for (const AnswerPair& pair : c.answers) {
    json.open_object().key("id").text(pair.id).key("question").text(pair.question);
    add_answer(json, "a", pair.a);
    add_answer(json, "b", pair.b);
    json.key("change")
        .number(pair.change())
        .key("turned")
        .text(pair.turned() > 0   ? "worse"
              : pair.turned() < 0 ? "better"
                                  : "same");
    json.close_object();
  }
  json.close_list().key("wall").open_object();
  add_spread(json, "part", c.part);
  add_spread(json, "sheet", c.sheet);
  json.key("ratio").number(c.ratio).close_object();
  json.key("touched_in_a_alone").number(c.only_a).key("touched_in_b_alone").number(c.only_b);
  json.key("notes").open_list();
  for (const std::string& note : c.notes) json.text(note);
  return json.close_list().close_object().finish();
}

}  // namespace pellicle::compare
