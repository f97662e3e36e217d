// What of a run is kept for its report? A few moments of the sheet, and the rows of the history.
#include "io/report/recording.h"

#include "mesh/check.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace pellicle::report {
namespace {

using forming::Frame;

struct Known {
  const char *key, *name, *unit;
  double scale, offset;
  std::span<const double> Frame::*values;
};
// The first two are kept of every moment.
constexpr std::size_t kAlways = 2;
constexpr Known kKnown[] = {
    {"thickness", "wall thickness", "mm", 1e3, 0.0, &Frame::thickness_m},
    {"contact_pressure", "contact pressure", "bar", 1e-5, 0.0, &Frame::contact_pressure_Pa},
    {"finest_radius", "finest radius", "mm", 1e3, 0.0, &Frame::finest_radius_m},
    {"stroke_depth", "depth in a stroke 0.5 mm wide", "mm", 1e3, 0.0, &Frame::capture_depth_500um_m},
    {"gap", "gap to the mould", "mm", 1e3, 0.0, &Frame::gap_m},
    {"layer_line", "layer lines", "µm", 1e6, 0.0, &Frame::layer_line_m},
    {"air_pressure", "pressure of shut-in air", "bar", 1e-5, 0.0, &Frame::pocket_pressure_Pa},
    {"temperature", "temperature", "°C", 1.0, -273.15, &Frame::temperature_K},
};

Field taken(const Known& known, const Frame& frame) {
  Field field{known.key, known.name, known.unit, {}};
  for (const double value : frame.*known.values) field.values.push_back(known.scale * value + known.offset);
  return field;
}

}  // namespace

void Recording::add(const Frame& frame) {
  if (!moments_.empty()) moments_.back().fields.resize(std::min(kAlways, moments_.back().fields.size()));
  Moment moment{frame.time_s,
                frame.stage,
                frame.pressure_Pa,
                frame.swept_volume_m3,
                {frame.points_m.begin(), frame.points_m.end()},
                {frame.triangles.begin(), frame.triangles.end()},
                {}};
  for (const Known& known : kKnown)
    if ((frame.*known.values).size() == frame.points_m.size()) moment.fields.push_back(taken(known, frame));
  moments_.push_back(std::move(moment));
  if (moments_.size() > kMostMoments) leave_out_one(moments_);
}

void leave_out_one(std::vector<Moment>& moments) {
  ensure(moments.size() > 2, "the first and the last moment stay");
  const auto moved = [&](std::size_t i) {
    return std::abs(moments[i].swept_volume_m3 - moments[i - 1].swept_volume_m3) +
           std::abs(moments[i + 1].swept_volume_m3 - moments[i].swept_volume_m3);
  };
  std::size_t least = 1;
  for (std::size_t i = 2; i + 1 < moments.size(); ++i)
    if (moved(i) < moved(least)) least = i;
  moments.erase(moments.begin() + static_cast<std::ptrdiff_t>(least));
}

const Field* find_field(const Moment& moment, const std::string& key) {
  const auto at =
      std::find_if(moment.fields.begin(), moment.fields.end(), [&](const Field& f) { return f.key == key; });
  return at == moment.fields.end() ? nullptr : &*at;
}

}  // namespace pellicle::report
