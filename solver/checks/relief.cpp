// Does a relief form, and what would make it form deeper?
#include "solver/checks/relief.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <utility>
#include <vector>

namespace pellicle::checks {
namespace {

using imprint::Model;
using imprint::ReliefAnswer;
using imprint::ReliefSpec;
using imprint::StrokeAnswer;

/// What counts of a stroke, or of the whole patch where there are none.
struct Judged {
  double share, stick, slip;
  bool valid;
};

Judged judged(const StrokeAnswer& s) { return {s.share, s.share_stick, s.share_slip, s.depth.valid}; }

Judged judged(const ReliefAnswer& a, const StrokeAnswer* worst) {
  if (worst != nullptr) return judged(*worst);
  return {a.capture, a.capture_stick, a.capture_slip, a.depth.valid};
}

const StrokeAnswer* worst_of(const ReliefAnswer& a) {
  const auto worst = std::min_element(a.strokes.begin(), a.strokes.end(),
                                      [](const auto& one, const auto& other) { return one.share < other.share; });
  return worst == a.strokes.end() ? nullptr : &*worst;
}

Verdict verdict_of(const Judged& j, double limit) {
  double low = j.share, high = j.share;
  for (const double share : {j.stick, j.slip}) {
    if (std::isnan(share)) continue;
    low = std::min(low, share);
    high = std::max(high, share);
  }
  if (std::isnan(j.share) || !j.valid || (low < limit && high >= limit)) return Verdict::kDoubt;
  return low >= limit ? Verdict::kPass : Verdict::kFail;
}

/// One stroke that surely falls short is enough; none may be in doubt to pass.
Verdict verdict_of(const ReliefAnswer& a, double limit) {
  if (a.strokes.empty()) return verdict_of(judged(a, nullptr), limit);
  Verdict all = Verdict::kPass;
  for (const StrokeAnswer& s : a.strokes) {
    const Verdict own = verdict_of(judged(s), limit);
    if (own == Verdict::kFail) return own;
    if (own == Verdict::kDoubt) all = own;
  }
  return all;
}

/// "; 2 other strokes are not to be relied on"
std::string doubted_text(const ReliefAnswer& a, const StrokeAnswer* worst) {
  const auto doubted = std::count_if(a.strokes.begin(), a.strokes.end(),
                                     [&](const StrokeAnswer& s) { return &s != worst && !s.depth.valid; });
  if (doubted == 0) return "";
  return fmt::format("; {} other stroke{} not to be relied on", doubted, doubted == 1 ? " is" : "s are");
}

/// "stroke 'S'", "stroke 3"
std::string named(const StrokeAnswer& s) {
  return s.name.starts_with("stroke ") ? s.name : fmt::format("stroke '{}'", s.name);
}

std::string band_text(const Judged& j) {
  if (std::isnan(j.stick) || std::isnan(j.slip)) return "";
  return fmt::format(", {:.2f} of it sticking to {:.2f} sliding", j.stick, j.slip);
}

const char* model_text(Model model) {
  switch (model) {
    case Model::kLayer:
      return "by layer theory";
    case Model::kSection:
      return "by a cross-section";
    case Model::kLayerBeyond:
      return "by layer theory beyond its range";
  }
  return "";
}

std::string worst_text(const StrokeAnswer& s, const Judged& j) {
  return fmt::format("{} of {:.2g} mm: {:.2g} of {:.2g} mm {}, {}{}", named(s), 1e3 * s.width_m, 1e3 * s.depth.answer_m,
                     1e3 * std::fabs(s.height_m), s.height_m < 0.0 ? "deep" : "beside it", model_text(s.depth.model),
                     band_text(j));
}

/// "2 of 3 strokes fall short, the worst "
std::string count_text(const ReliefAnswer& a, double limit) {
  const auto all = a.strokes.size();
  const auto short_of =
      std::count_if(a.strokes.begin(), a.strokes.end(), [&](const StrokeAnswer& s) { return !(s.share >= limit); });
  if (all == 1) return "";
  if (short_of == 0) return fmt::format("all {} strokes do, the least ", all);
  return fmt::format("{} of {} strokes fall{} short, the worst ", short_of, all, short_of == 1 ? "s" : "");
}

/// How a person reads it from either face of the part.
std::string reading_text(const ReliefSpec& spec) {
  bool raised = true, mirrored = false;
  if (const auto* text = std::get_if<imprint::TextRelief>(&spec.source))
    raised = text->raised, mirrored = text->mirrored;
  else if (const auto* braille = std::get_if<imprint::BrailleRelief>(&spec.source))
    raised = braille->raised, mirrored = braille->mirrored;
  else
    return "";
  return fmt::format("; on the free face it {} and {}, on the face that lay on the mould it {} and {}",
                     mirrored ? "is mirrored" : "reads right", raised ? "stands out" : "is sunk",
                     mirrored ? "reads right" : "is mirrored", raised ? "is sunk" : "stands out");
}

std::string formed_text(const imprint::FormedState& formed) {
  return fmt::format("; sheet there {:.2g} to {:.2g} mm, {:.0f} % of the patch touched", 1e3 * formed.thickness_least_m,
                     1e3 * formed.thickness_most_m, 100.0 * formed.touching_share);
}

/// From what the answer says would be enough, the cheapest change first.
std::string advice_for(const StrokeAnswer& s, const imprint::LocalState& state, double limit) {
  std::vector<std::string> ways;
  constexpr double kWorthTurning = 1.1;
  constexpr double kMost_Pa = 1e6;  // what a case may ask for
  constexpr double kSoftest = 5.0;  // times softer: hotter than that a sheet is no sheet
  if (s.share_along > kWorthTurning * s.share)
    ways.push_back(fmt::format("turned along the larger stretch it would take {:.2f}", s.share_along));
  if (s.height_m < 0.0 && s.needed_width_m > s.width_m)
    ways.push_back(fmt::format("a stroke {:.2g} mm wide", 1e3 * s.needed_width_m));
  const double enough_m = s.depth.answer_m / std::max(limit, s.share);
  if (s.height_m < 0.0 && enough_m < std::fabs(s.height_m))
    ways.push_back(fmt::format("no deeper than {:.2g} mm", 1e3 * enough_m));
  if (s.needed_pressure_Pa <= kMost_Pa)
    ways.push_back(fmt::format("{:.2g} bar instead of {:.2g}", 1e-5 * s.needed_pressure_Pa, 1e-5 * state.pressure_Pa));
  // Both models know pressure over modulus only.
  if (s.needed_pressure_Pa <= kSoftest * state.pressure_Pa)
    ways.push_back(fmt::format("a hotter sheet, of {:.2g} MPa instead of {:.2g}",
                               1e-6 * state.shear_modulus_Pa * state.pressure_Pa / s.needed_pressure_Pa,
                               1e-6 * state.shear_modulus_Pa));
  if (std::isfinite(s.needed_thickness_m))
    ways.push_back(fmt::format("a sheet {:.2g} mm thick there instead of {:.2g}", 1e3 * s.needed_thickness_m,
                               1e3 * state.thickness_m));
  if (ways.empty()) return "a wider or shallower stroke: no pressure or gauge alone was found to do it";
  return fmt::format("one of these for {}: {}", named(s), fmt::join(ways, "; or "));
}

Finding started(const ReliefSpec& spec, double limit) {
  return {.id = "relief_" + spec.name,
          .question = fmt::format("Does {} form?", spec.name),
          .value = 0.0,
          .unit = "-",
          .limit = limit};
}

}  // namespace

double wanted_share(std::optional<double> min_capture) {
  constexpr double kUsual = 0.8;
  return min_capture.value_or(kUsual);
}

Finding relief(const ReliefAsked& asked, std::optional<double> min_capture) {
  const ReliefAnswer& a = asked.answer;
  const double limit = wanted_share(min_capture);
  const StrokeAnswer* worst = worst_of(a);
  const Judged j = judged(a, worst);
  Finding finding = started(asked.spec, limit);
  finding.value = j.share;
  finding.verdict = verdict_of(a, limit);
  if (asked.place_m && worst != nullptr) finding.place_m = asked.place_m(worst->place_m[0], worst->place_m[1]);
  if (worst != nullptr) {
    finding.why = fmt::format("{}{}", count_text(a, limit), worst_text(*worst, j));
  } else {
    finding.why = fmt::format("{:.2g} of {:.2g} mm deep over the whole patch, {}{}", 1e3 * a.depth.answer_m,
                              1e3 * a.own_depth_m, model_text(a.depth.model), band_text(j));
  }
  if (!j.valid) finding.why += ": not to be relied on";
  finding.why += doubted_text(a, worst);
  if (asked.formed) finding.why += formed_text(*asked.formed);
  finding.why += reading_text(asked.spec);
  finding.uncertainty =
      "as good as pressure over hot shear modulus, often no better than a factor of two; the band is friction alone";
  if (finding.verdict == Verdict::kPass) return finding;
  if (!j.valid && !asked.sections)
    finding.advice = "name this patch in [[relief]]: then its strokes are answered by cross-sections";
  else if (!j.valid && !a.notes.empty())
    finding.advice = "see the notes on this relief for what its model could not do";
  else if (worst != nullptr)
    finding.advice = advice_for(*worst, a.state, limit);
  return finding;
}

Finding untouched_relief(const ReliefSpec& spec, std::optional<mesh::Vec3> middle_m,
                         std::optional<double> min_capture) {
  Finding finding = started(spec, wanted_share(min_capture));
  finding.verdict = Verdict::kFail;
  finding.place_m = middle_m;
  finding.why = "the formed sheet never touches the mould there, so nothing presses it on";
  finding.advice = "more pressure, less depth around it, or move the relief to where the sheet lands";
  return finding;
}

Finding unanswered_relief(const ReliefSpec& spec, std::optional<mesh::Vec3> middle_m, std::optional<double> min_capture,
                          std::string why, std::string advice) {
  Finding finding = started(spec, wanted_share(min_capture));
  finding.value = std::numeric_limits<double>::quiet_NaN();
  finding.verdict = Verdict::kDoubt;
  finding.place_m = middle_m;
  finding.why = std::move(why);
  finding.advice = std::move(advice);
  return finding;
}

}  // namespace pellicle::checks
