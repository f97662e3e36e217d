// How is a part that was measured told? For the terminal, as JSON and as a table.
#include "io/compare/points_text.h"

#include "io/report/html.h"
#include "io/report/parts.h"
#include "io/results/json.h"
#include "io/results/result_folder.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace pellicle::compare {
namespace {

using fit::CauseVerdict;
using report::number_text;

constexpr std::size_t kMostLines = 40;  ///< a screen; of more, the worst

double percent(double share) { return 100.0 * share; }

/// "measured.csv:4", without the folders before it.
std::string short_place(const PointAnswer& a) { return a.point.place.substr(a.point.place.rfind('/') + 1); }

/// "0.7 mm (0.69 to 0.71)"; of friction from sticking how far of the way to sliding.
std::string best_text(const WhatIf& what, const fit::Cause& c) {
  if (std::isnan(what.now))
    return fmt::format("{:.2g} ({:.2g} to {:.2g}) of the way from sticking to friction {:.2g}", c.steps, c.low, c.high,
                       what.step);
  const double one = what.value(c.low), other = what.value(c.high);
  return fmt::format("{} ({} to {})", number_text(what.value(c.steps), what.unit), number_text(std::min(one, other)),
                     number_text(std::max(one, other)));
}

std::string step_text(const WhatIf& what) {
  if (std::isnan(what.now)) return fmt::format("{:.2g} in place of sticking", what.step);
  const std::string now = number_text(what.now, what.unit);
  return what.by_factor ? fmt::format("{} times {:.3g}", now, what.step) : fmt::format("{} {:+.3g}", now, what.step);
}

std::string verdict_words(CauseVerdict verdict) {
  switch (verdict) {
    case CauseVerdict::kSilent:
      return "these walls cannot tell";
    case CauseVerdict::kExplains:
      return "leaves no more than the errors do";
    case CauseVerdict::kInPart:
      return "explains a part";
    case CauseVerdict::kDoesNot:
      return "does not explain it";
    case CauseVerdict::kTooFar:
      return "would have to be off by more than it may be";
  }
  return "";
}

const char* verdict_key(CauseVerdict verdict) {
  switch (verdict) {
    case CauseVerdict::kSilent:
      return "cannot tell";
    case CauseVerdict::kExplains:
      return "explains";
    case CauseVerdict::kInPart:
      return "in part";
    case CauseVerdict::kDoesNot:
      return "does not";
    case CauseVerdict::kTooFar:
      return "too far";
  }
  return "";
}

/// `agrees`: there is nothing to explain, so its band is all that is told.
std::string cause_sentence(const Asked& asked, bool agrees) {
  const fit::Cause& c = asked.cause;
  std::string out = fmt::format("{}: one step ({}) changes the walls by {:.2g} % (rms)", c.name, step_text(asked.what),
                                percent(c.response));
  if (c.verdict == CauseVerdict::kSilent)
    return out + fmt::format("; {}: {}.", verdict_words(c.verdict), asked.what.known);
  if (agrees && c.verdict == CauseVerdict::kExplains)
    return out + fmt::format("; the walls go with {}.", best_text(asked.what, c));
  out += fmt::format("; {} fits best, which {}, {:.2g} % rms", best_text(asked.what, c), verdict_words(c.verdict),
                     percent(c.left));
  if (c.verdict == CauseVerdict::kTooFar) out += fmt::format(" ({})", asked.what.known);
  if (!c.looks_like.empty()) out += fmt::format(". Not to be told from {}", fmt::join(c.looks_like, " or "));
  return out + ".";
}

std::string factor_sentence(const MeasuredPart& part) {
  const fit::Misfit& m = part.misfit;
  std::string out = fmt::format("Measured over predicted: {:.3f} ({:.3f} to {:.3f}, two standard deviations). ",
                                m.factor, m.factor_low, m.factor_high);
  if (!m.differs) return out + "No common factor is seen.";
  return out + fmt::format(
                   "A sheet of {:.3g} mm in place of {:.3g} mm has that factor; so has a gauge or calliper that "
                   "reads {:.1f} % too {}.",
                   1e3 * part.gauge_m * m.factor, 1e3 * part.gauge_m, percent(std::abs(m.factor - 1.0)),
                   m.factor > 1.0 ? "much" : "little");
}

std::string pattern_sentence(const MeasuredPart& part) {
  const fit::Misfit& m = part.misfit;
  if (part.misfit.noise == 0.0 || walls_of(part.answers).size() < 3) return "Fewer than three points tell no pattern.";
  const std::string numbers = fmt::format("{:.2g} % rms is left, where errors of measurement and model leave {:.2g} %",
                                          percent(m.left), percent(m.noise));
  if (!m.has_pattern) return fmt::format("Beyond that nothing is seen: {}.", numbers);
  return fmt::format(
      "The walls are spread otherwise than predicted, which no gauge explains: {}.{}", numbers,
      part.was_explained ? "" : " pellicle compare with --explain forms the case again and asks what does.");
}

std::string point_line(const PointAnswer& a) {
  const std::string away = std::isfinite(a.distance_m) ? fmt::format("{:.2f}", 1e3 * a.distance_m) : "-";
  return fmt::format("  {:<18} {:>26} {:>6} {:>9.3f} {:>9.3f}  {}\n", name_text(a), place_mm_text(a), away,
                     1e3 * a.point.thickness_m, 1e3 * a.predicted_m,
                     a.counts() ? error_text(a) : "left out: " + a.left_out);
}

const PointAnswer& worst_of(const MeasuredPart& part) {
  std::size_t n = 0;
  for (const PointAnswer& a : part.answers)
    if (a.counts() && n++ == part.misfit.worst) return a;
  return part.answers.front();
}

std::string size_sentence(const MeasuredPart& part) {
  const fit::Misfit& m = part.misfit;
  const PointAnswer& worst = worst_of(part);
  return fmt::format("Error, predicted less measured: mean {:+.3f} mm, rms {:.3f} mm; largest {} {} ({}).",
                     1e3 * m.mean_m, 1e3 * m.rms_m, error_text(worst), report::place_text(worst.place_m),
                     short_place(worst));
}

void add_point(results::Json& json, const PointAnswer& a) {
  json.open_object().key("point").text(short_place(a)).key("name").text(a.point.name);
  json.key("place_mm").numbers({1e3 * a.place_m.x(), 1e3 * a.place_m.y(), 1e3 * a.place_m.z()});
  json.key("distance_mm").number(1e3 * a.distance_m).key("measured_mm").number(1e3 * a.point.thickness_m);
  json.key("predicted_mm").number(1e3 * a.predicted_m).key("error_mm");
  a.counts() ? json.number(1e3 * a.error_m()) : json.null();
  json.key("left_out").text(a.left_out).close_object();
}

void add_cause(results::Json& json, const Asked& asked) {
  const fit::Cause& c = asked.cause;
  const auto value = [&](double steps) { return std::isnan(asked.what.now) ? steps : asked.what.value(steps); };
  json.open_object().key("name").text(c.name).key("unit").text(asked.what.unit).key("now").number(asked.what.now);
  json.key("step").number(asked.what.step).key("by_factor").flag(asked.what.by_factor);
  json.key("response").number(c.response).key("best").number(value(c.steps)).key("low").number(value(c.low));
  json.key("high").number(value(c.high)).key("left").number(c.left).key("verdict").text(verdict_key(c.verdict));
  json.key("looks_like").open_list();
  for (const std::string& other : c.looks_like) json.text(other);
  json.close_list().close_object();
}

}  // namespace

std::string error_text(const PointAnswer& a) {
  return fmt::format("{:+.3f} mm ({:+.1f} %)", 1e3 * a.error_m(), percent(a.error_m() / a.point.thickness_m));
}

std::string name_text(const PointAnswer& a) { return a.point.name.empty() ? short_place(a) : a.point.name; }

std::string place_mm_text(const PointAnswer& a) {
  const auto mm = [](double m) { return std::abs(m) < 0.005e-3 ? 0.0 : 1e3 * m; };  // no "-0.00"
  return fmt::format("{:.2f}, {:.2f}, {:.2f}", mm(a.place_m.x()), mm(a.place_m.y()), mm(a.place_m.z()));
}

std::vector<std::string> sentences(const MeasuredPart& part) {
  std::vector<std::string> out{size_sentence(part), factor_sentence(part), pattern_sentence(part)};
  for (const Asked& asked : part.causes) out.push_back(cause_sentence(asked, part.misfit.agrees()));
  return out;
}

std::vector<const PointAnswer*> shown(const std::vector<PointAnswer>& answers) {
  std::vector<const PointAnswer*> some;
  for (const PointAnswer& a : answers) some.push_back(&a);
  if (some.size() <= kMostLines) return some;
  std::stable_sort(some.begin(), some.end(), [](const PointAnswer* a, const PointAnswer* b) {
    const auto size = [](const PointAnswer* p) { return p->counts() ? std::abs(p->error_m()) : -1.0; };
    return size(a) > size(b);
  });
  some.resize(kMostLines);
  return some;
}

std::string words(const MeasuredPart& part) {
  std::string out =
      fmt::format("{}\n{} against {}\n\n  {:<18} {:>26} {:>6} {:>9} {:>9}  error\n", part.title, part.folder,
                  part.table, "point", "on the sheet at x, y, z", "away", "measured", "predicted");
  for (const PointAnswer* a : shown(part.answers)) out += point_line(*a);
  if (part.answers.size() > kMostLines)
    out += fmt::format("  the {} worst of {} points; --out or --json for all\n", kMostLines, part.answers.size());
  out += "\n";
  for (const std::string& line : sentences(part)) out += line + "\n";
  for (const std::string& note : part.notes) out += fmt::format("note: {}\n", note);
  return out;
}

std::string json_text(const MeasuredPart& part) {
  const fit::Misfit& m = part.misfit;
  results::Json json;
  json.open_object().key("folder").text(part.folder).key("table").text(part.table).key("title").text(part.title);
  json.key("points").open_list();
  for (const PointAnswer& a : part.answers) add_point(json, a);
  json.close_list().key("counted").whole(static_cast<std::int64_t>(walls_of(part.answers).size()));
  json.key("mean_mm").number(1e3 * m.mean_m).key("rms_mm").number(1e3 * m.rms_m);
  json.key("worst").text(short_place(worst_of(part))).key("worst_mm").number(1e3 * worst_of(part).error_m());
  json.key("factor").number(m.factor).key("factor_low").number(m.factor_low).key("factor_high").number(m.factor_high);
  json.key("factor_seen").flag(m.differs).key("left").number(m.left).key("noise").number(m.noise);
  json.key("pattern_seen").flag(m.has_pattern).key("gauge_mm").number(1e3 * part.gauge_m).key("causes").open_list();
  for (const Asked& asked : part.causes) add_cause(json, asked);
  json.close_list().key("notes").open_list();
  for (const std::string& note : part.notes) json.text(note);
  return json.close_list().close_object().finish();
}

std::string csv(const MeasuredPart& part) {
  const auto quoted = [](const std::string& text) {
    std::string out;
    for (const char c : text) out += c == '"' ? "\"\"" : std::string(1, c);
    return text.find_first_of(",\"") == std::string::npos ? text : '"' + out + '"';
  };
  const auto number = [](double value) { return std::isfinite(value) ? fmt::format("{:.6g}", value) : std::string(); };
  std::string out = std::string(results::kMeasuredTable) + ",error_mm,error_percent,left_out\n";
  for (const PointAnswer& a : part.answers) {
    out += fmt::format("{},{},{},{},{},{},{},{},", quoted(short_place(a)), quoted(a.point.name),
                       number(1e3 * a.place_m.x()), number(1e3 * a.place_m.y()), number(1e3 * a.place_m.z()),
                       number(1e3 * a.distance_m), number(1e3 * a.point.thickness_m), number(1e3 * a.predicted_m));
    out += a.counts()
               ? fmt::format("{},{},\n", number(1e3 * a.error_m()), number(percent(a.error_m() / a.point.thickness_m)))
               : fmt::format(",,{}\n", quoted(a.left_out));
  }
  return out;
}

}  // namespace pellicle::compare
