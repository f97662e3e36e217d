// How is a result opened in the viewer? A script for ParaView, with the file names and ranges of this result in it.
#include "io/report/open_script.h"

#include "io/report/colour_map.h"
#include "io/report/embedded.h"
#include "io/report/figures.h"
#include "io/report/html.h"
#include "io/results/json.h"
#include "io/results/relief_files.h"
#include "io/results/result_folder.h"
#include "mesh/check.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <limits>
#include <vector>

namespace pellicle::report {
namespace {

using mesh::Vec3;

/// JSON's texts are Python's too.
std::string name_or_none(bool is_there, const char* name) { return is_there ? results::json_text(name) : "None"; }

/// As exact as the files have it: a run that was gone on with knows its first moments from them.
std::string pair_text(double low, double high) {
  return fmt::format("({}, {})", static_cast<float>(low), static_cast<float>(high));
}

std::string ranges_text(const PageInput& input) {
  std::string out;
  if (!input.recording.moments().empty()) {
    // The flat sheet is the thickest: its own range would hide nothing, the last one's may end below it.
    double low = std::numeric_limits<double>::infinity(), high = 0.0;
    for (const Moment& moment : input.recording.moments())
      for (const double mm : find_field(moment, "thickness")->values) {
        low = std::min(low, mm);
        high = std::max(high, mm);
      }
    out += fmt::format("\"thickness (mm)\": {}", pair_text(low, low < high ? high : low + 1e-3));
  }
  double gap_m = 0.0;
  for (const ReliefResult& relief : input.summary.result.reliefs)
    for (const double gap : relief.answer.gap_m) gap_m = std::max(gap_m, gap);
  if (!input.summary.result.reliefs.empty())
    out += fmt::format("{}\"gap (mm)\": {}", out.empty() ? "" : ", ", pair_text(0.0, gap_m > 0.0 ? 1e3 * gap_m : 1e-3));
  return "{" + out + "}";
}

std::string reliefs_text(const PageInput& input) {
  std::vector<std::string> names;
  for (const ReliefResult& relief : input.summary.result.reliefs) {
    std::string file = results::relief_file(relief.answer.name);
    ensure(file.ends_with(".h5"), "a relief has a file of fields");
    names.push_back(results::json_text(file.replace(file.size() - 3, 3, ".xdmf")));
  }
  return fmt::format("[{}]", fmt::join(names, ", "));
}

/// What the camera looks at: the mould, else the sheet, else the reliefs.
std::string box_text(const PageInput& input) {
  Vec3 low = Vec3::Constant(std::numeric_limits<double>::infinity()), high = -low;
  const auto add = [&](const Vec3& p_m) {
    low = low.cwiseMin(p_m);
    high = high.cwiseMax(p_m);
  };
  if (input.mould != nullptr)
    for (const Vec3& p : input.mould->points_m) add(p);
  else if (!input.recording.moments().empty())
    for (const Vec3& p : input.recording.moments().back().points_m) add(p);
  else
    for (const ReliefResult& relief : input.summary.result.reliefs)
      for (const double x : {relief.answer.x_m.front(), relief.answer.x_m.back()})
        for (const double y : {relief.answer.y_m.front(), relief.answer.y_m.back()}) add(relief.place_m(x, y, 0.0));
  if (!(low.x() <= high.x())) low = high = Vec3::Zero();
  const Vec3 a = 1e3 * low, b = 1e3 * high;
  return fmt::format("(({:.6g}, {:.6g}, {:.6g}), ({:.6g}, {:.6g}, {:.6g}))", a.x(), a.y(), a.z(), b.x(), b.y(), b.z());
}

std::string colours_text() {
  constexpr std::size_t kPoints = 16;
  std::vector<std::string> out;
  for (std::size_t i = 0; i < kPoints; ++i) {
    const Rgb c = colour_map()[i * (kColours - 1) / (kPoints - 1)];
    out.push_back(fmt::format("{:.4g}, {:.4g}, {:.4g}, {:.4g}", static_cast<double>(i) / (kPoints - 1), c.red / 255.0,
                              c.green / 255.0, c.blue / 255.0));
  }
  return fmt::format("[{}]", fmt::join(out, ",\n                       "));
}

}  // namespace

std::string open_script(const PageInput& input) {
  std::string text = filled(kOpenScript, {{"sheet", name_or_none(!input.recording.moments().empty(), "sheet.xdmf")},
                                          {"mould", name_or_none(input.summary.has_mould_file, "mould.xdmf")},
                                          {"reliefs", reliefs_text(input)},
                                          {"ranges", ranges_text(input)},
                                          {"box", box_text(input)},
                                          {"colours", colours_text()}});
  ensure(text.starts_with(results::kOpenScriptStart), "the script opens with our words");
  return text;
}

}  // namespace pellicle::report
