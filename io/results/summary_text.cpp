// What came out, for a person at a terminal? First the verdicts, each with its number, then what to mind.
#include "io/results/cautions.h"
#include "io/results/spread.h"
#include "io/results/summary.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace pellicle::results {
namespace {

using checks::Finding;
using checks::Verdict;

/// Columns of a text: code points, near enough for the scripts our users write in.
std::size_t columns(std::string_view text) {
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) { return (c & 0xC0) != 0x80; }));
}

std::string padded(std::string text, std::size_t width) {
  const std::size_t used = columns(text);
  return used < width ? text.append(width - used, ' ') : text;
}

/// Three digits are more than the sheet's stiffness deserves.
std::string in_words(double value) {
  return std::abs(value) < 1000.0 ? fmt::format("{:.3g}", value) : fmt::format("{:.0f}", value);
}
std::string in_words(double value, const std::string& unit) {
  return unit.empty() || unit == "-" ? in_words(value) : fmt::format("{} {}", in_words(value), unit);
}

struct Look {
  const char* word;
  const char* colour;
};
Look look_of(Verdict verdict) {
  switch (verdict) {
    case Verdict::kPass:
      return {"ok", "\x1b[32m"};
    case Verdict::kDoubt:
      return {"doubt", "\x1b[33m"};
    case Verdict::kFail:
      return {"FAIL", "\x1b[1;31m"};
  }
  return {"?", ""};
}

/// Adds words in lines of at most `width` columns, all lines indented.
void add_wrapped(std::string& out, std::string_view text, std::size_t indent, std::size_t width) {
  std::string line(indent, ' ');
  std::size_t used = indent;
  const auto end_line = [&] {
    out.append(line).append(1, '\n');
    line.assign(indent, ' ');
    used = indent;
  };
  while (!text.empty()) {
    const std::size_t end = std::min(text.find_first_of(" \n"), text.size());
    const std::string_view word = text.substr(0, end);
    if (used > indent && used + 1 + columns(word) > width) end_line();
    if (!word.empty()) {
      if (used > indent) line.append(1, ' ');
      used += columns(word) + (used > indent ? 1 : 0);
      line.append(word);
    }
    if (end < text.size() && text[end] == '\n') end_line();
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  if (used > indent) end_line();
}

struct Row {
  std::string question, value, limit, place;
};

Row row_of(const Finding& finding) {
  Row row;
  row.question = finding.question.empty() ? finding.id : finding.question;
  row.value = std::isfinite(finding.value) ? in_words(finding.value, finding.unit) : without_number(finding);
  if (finding.limit) row.limit = "limit " + in_words(*finding.limit, finding.unit);
  if (finding.place_m) {
    row.place = fmt::format("at ({:.1f}, {:.1f}, {:.1f}) mm", 1e3 * finding.place_m->x(), 1e3 * finding.place_m->y(),
                            1e3 * finding.place_m->z());
  }
  return row;
}

/// "1 fails, 2 are in doubt, 5 are fine"
std::string verdict_line(const std::vector<Finding>& findings) {
  const auto number_of = [&](Verdict verdict) {
    return std::count_if(findings.begin(), findings.end(), [&](const Finding& f) { return f.verdict == verdict; });
  };
  const auto fails = number_of(Verdict::kFail), doubts = number_of(Verdict::kDoubt), passes = number_of(Verdict::kPass);
  if (findings.empty()) return "No questions were asked of this part.";
  if (fails + doubts == 0) return fmt::format("Nothing found against it ({} questions).", passes);
  std::string line;
  if (fails > 0) line += fmt::format("{} failed", fails);
  if (doubts > 0) line += fmt::format("{}{} in doubt", line.empty() ? "" : ", ", doubts);
  return line + fmt::format(", {} fine.", passes);
}

/// What failed without a limit of the case, so that nobody wonders why --strict lets it pass; empty: nothing did.
std::string not_counted_text(const Summary& summary) {
  std::vector<std::string> questions;
  for (const Finding& f : summary.result.findings)
    if (f.verdict == Verdict::kFail && f.limit && !has_limit_of_case(f, summary.limits))
      questions.push_back(f.question.empty() ? f.id : f.question);
  if (questions.empty()) return "";
  return fmt::format("Failed by a limit that is ours or the trade's, not the case's, so --strict does not count it: {}",
                     fmt::join(questions, " "));
}

/// What a case of a printed mould leaves out that decides whether it is worth printing; empty: it was asked.
std::string unasked_text(const Summary& summary) {
  const std::vector<Finding>& all = summary.result.findings;
  const auto is = [&](std::string_view id) { return [id](const Finding& f) { return f.id == id; }; };
  if (std::none_of(all.begin(), all.end(), is("draft")) || std::any_of(all.begin(), all.end(), is("mould_stress")))
    return "";
  return "\nNot asked: whether the mould bears pressure and heat, part after part. Give mould.resin and mould.wall (or "
         "mould.fill = \"solid\") in the case.";
}

std::string place_text(const ReliefResult& relief, const imprint::StrokeAnswer& stroke) {
  const mesh::Vec3 p_m = relief.place_m(stroke.place_m[0], stroke.place_m[1], 0.0);
  return fmt::format("{:.2f}, {:.2f}", 1e3 * p_m.x(), 1e3 * p_m.y());
}

/// A row for each of the worst strokes. Formed is the answer, of the height that follows it.
void add_relief(std::string& out, const ReliefResult& relief, std::size_t width) {
  constexpr std::size_t kMostStrokes = 8, kName = 14, kWidthOfModel = 84;
  const imprint::ReliefAnswer& a = relief.answer;
  if (a.strokes.empty()) return;
  std::vector<const imprint::StrokeAnswer*> strokes;
  for (const imprint::StrokeAnswer& s : a.strokes) strokes.push_back(&s);
  std::stable_sort(strokes.begin(), strokes.end(),
                   [](const auto* one, const auto* other) { return one->share < other->share; });
  const bool with_model = width >= kWidthOfModel;
  out += fmt::format("Relief {}: {} stroke{}{}\n", a.name, strokes.size(), strokes.size() == 1 ? "" : "s",
                     strokes.size() > kMostStrokes ? fmt::format(", the worst {}", kMostStrokes) : "");
  out += fmt::format("  {} {:>6} {:>7} {:>6}  {:>5}{}\n", padded("mm", kName), "wide", "formed", "of", "share",
                     with_model ? "  at x, y           model" : "");
  for (std::size_t i = 0; i < std::min(kMostStrokes, strokes.size()); ++i) {
    const imprint::StrokeAnswer& s = *strokes[i];
    out += fmt::format("  {} {:>6.3g} {:>7.3g} {:>6.3g}  {:>5.2f}{}\n", padded(s.name, kName), 1e3 * s.width_m,
                       1e3 * s.depth.answer_m, 1e3 * s.height_m, s.share,
                       with_model ? "  " + padded(place_text(relief, s), 18) + imprint::model_word(s.depth.model) : "");
  }
  if (!a.hollows.empty())
    add_wrapped(out,
                fmt::format("Air shut in: {} closed hollow{}, depth lost to air up to {:.2g} mm.", a.hollows.size(),
                            a.hollows.size() == 1 ? "" : "s", 1e3 * a.depth_lost_to_air_m),
                2, width);
  for (const std::string& note : a.notes) add_wrapped(out, note, 2, width);
  out += "\n";
}

/// What to open in a viewer.
std::string files_text(const Summary& summary) {
  std::vector<std::string> files;
  if (!summary.reliefs_alone) files.emplace_back("sheet.xdmf");
  if (summary.has_mould_file) files.emplace_back("mould.xdmf");
  if (!summary.result.vents.empty()) files.emplace_back("vents.xdmf");
  if (!summary.result.reliefs.empty()) files.emplace_back("relief_*.xdmf");
  if (files.empty()) return "";
  std::string text = files.front();
  for (std::size_t i = 1; i < files.size(); ++i) text += (i + 1 == files.size() ? " and " : ", ") + files[i];
  return fmt::format(" (read report.html; open {}{})", text, summary.has_mould_file ? " over your own STL" : "");
}

}  // namespace

bool has_limit_of_case(const Finding& finding, const Limits& limits) {
  return finding.limit && ((limits.min_thickness_m && finding.id == "thinnest_wall") ||
                           (limits.max_layer_line_m && finding.id == "layer_lines") ||
                           (limits.min_capture && finding.id.starts_with("relief_")));
}

const char* verdict_word(Verdict verdict) {
  switch (verdict) {
    case Verdict::kPass:
      return "pass";
    case Verdict::kDoubt:
      return "doubt";
    case Verdict::kFail:
      return "fail";
  }
  return "doubt";
}

std::string summary_text(const Summary& summary, const std::string& folder, TextStyle style) {
  const CaseResult& result = summary.result;
  const auto width = static_cast<std::size_t>(std::clamp(style.width, 40, 120));
  const auto painted = [&](const char* colour, std::string_view text) {
    return style.colour ? fmt::format("{}{}\x1b[0m", colour, text) : std::string(text);
  };
  constexpr std::size_t kIndent = 7;  // "doubt" and two blanks

  std::vector<Row> rows;
  std::size_t question = 0, value = 0, limit = 0, place = 0;
  for (const Finding& finding : result.findings) {
    rows.push_back(row_of(finding));
    question = std::max(question, columns(rows.back().question));
    value = std::max(value, columns(rows.back().value));
    limit = std::max(limit, columns(rows.back().limit));
    place = std::max(place, columns(rows.back().place));
  }
  const bool is_wide = kIndent + question + value + limit + place + 6 <= width;

  std::string out = painted("\x1b[1m", summary.title.empty() ? "Result" : summary.title) + "\n";
  out += verdict_line(result.findings) + "\n\n";
  std::string said;  // the uncertainty told last
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const Finding& finding = result.findings[i];
    const Row& row = rows[i];
    const Look look = look_of(finding.verdict);
    out += painted(look.colour, padded(look.word, kIndent));
    std::string line = is_wide ? padded(row.question, question) + "  " + padded(row.value, value) + "  " +
                                     padded(row.limit, limit) + "  " + row.place
                               : row.question;
    line.erase(line.find_last_not_of(' ') + 1);
    out.append(line).append(1, '\n');
    if (!is_wide) {
      add_wrapped(out,
                  fmt::format("{}{}{}", row.value, row.limit.empty() ? "" : ", " + row.limit,
                              row.place.empty() ? "" : ", " + row.place),
                  kIndent, width);
    }
    if (finding.verdict == Verdict::kPass && std::isfinite(finding.value)) continue;
    add_wrapped(out, finding.why, kIndent, width);
    if (!finding.uncertainty.empty()) {
      const bool is_said = said == finding.uncertainty;
      add_wrapped(out, "Uncertainty: " + (is_said ? "as above" : finding.uncertainty), kIndent, width);
      said = finding.uncertainty;
    }
    if (!finding.advice.empty()) add_wrapped(out, "Try: " + finding.advice, kIndent, width);
  }

  add_wrapped(out, unasked_text(summary), 0, width);
  const std::string not_counted = not_counted_text(summary);
  if (!not_counted.empty()) add_wrapped(out.append(1, '\n'), not_counted, 0, width);
  out += rows.empty() ? "" : "\n";
  for (const ReliefResult& relief : result.reliefs) add_relief(out, relief, width);
  if (summary.spread) out += spread_text(result, *summary.spread, static_cast<int>(width)) + "\n";
  if (!summary.not_used_yet.empty()) {
    add_wrapped(out,
                fmt::format("Without effect in this run: {}; {}.", fmt::join(summary.not_used_yet, ", "), kMissing), 0,
                width);
  }
  if (summary.reliefs_alone)
    add_wrapped(out, fmt::format("Nothing was formed: the states are the case's. {:.1f} s.", result.seconds), 0, width);
  else
    add_wrapped(
        out,
        fmt::format("{} triangles{}, {} steps, {:.1f} s; energy closes to {:.2g} %.", result.elements,
                    result.final_elements > result.elements ? fmt::format(" refined to {}", result.final_elements) : "",
                    result.steps, result.seconds, 100.0 * result.worst_balance),
        0, width);
  add_wrapped(out, fmt::format("Results: {}{}", folder, files_text(summary)), 0, width);
  out += "\n";
  std::string care = "Take care.";
  for (const Caution& caution : kCautions) care.append(1, ' ').append(caution.brief);
  add_wrapped(out, care.append(1, ' ').append(kNoApproval), 0, width);
  return out;
}

std::string profile_text(const std::vector<StageTime>& profile) {
  double total_s = 0.0;
  std::size_t width = 5;
  for (const StageTime& line : profile) {
    total_s += line.seconds;
    width = std::max(width, columns(line.name));
  }
  std::string out = fmt::format("{}  {:>9}  {:>6}\n", padded("stage", width), "seconds", "share");
  for (const StageTime& line : profile) {
    const double share = total_s > 0.0 ? 100.0 * line.seconds / total_s : 0.0;
    out += fmt::format("{}  {:>9.3f}  {:>4.1f} %\n", padded(line.name, width), line.seconds, share);
  }
  return out + fmt::format("{}  {:>9.3f}\n", padded("total", width), total_s);
}

}  // namespace pellicle::results
