// Which elements does a section get, and how stiff is each layer of them?
#include "solver/imprint/section/section_grid.h"

#include <algorithm>
#include <cmath>
#include <functional>

namespace pellicle::imprint {
namespace {

constexpr double kGrowth = 0.25;              // element size gained per distance from an edge
constexpr double kFinestOfFeature = 0.004;    // columns at an edge that is sharp
constexpr double kMostSmoothColumns = 600.0;  // of a profile without edges, or time runs away on a long one
// Of a section with edges, away from them: a bevel is a feature, but not that of the whole section. Twenty grooves in a
// row get all they want.
constexpr double kMostColumns = 300.0, kColumnsOfFeature = 14.0, kMostRows = 16.0;
constexpr int kSamples = 2000;  // of the size along the section

/// Places from `from` to `to` whose spacing follows size(x), `refinement` times as many.
std::vector<double> graded(double from, double to, const std::function<double(double)>& size, double refinement,
                           int at_least) {
  const double step = (to - from) / kSamples;
  std::vector<double> count(kSamples + 1, 0.0);
  for (std::size_t k = 0; k < kSamples; ++k) {
    count[k + 1] = count[k] + step / size(from + (static_cast<double>(k) + 0.5) * step);
  }
  const int cells = std::max(at_least, static_cast<int>(std::ceil(refinement * count.back())));
  std::vector<double> places{from};
  std::size_t k = 0;
  for (int cell = 1; cell < cells; ++cell) {
    const double wanted = count.back() * cell / cells;
    while (count[k + 1] < wanted) ++k;
    places.push_back(from + step * (static_cast<double>(k) + (wanted - count[k]) / (count[k + 1] - count[k])));
  }
  places.push_back(to);
  return places;
}

LayerModuli moduli(const SectionSheet& sheet, bool in_skin) {
  const double core = sheet.shear_modulus_Pa;
  const double all = in_skin ? sheet.skin->shear_modulus_Pa : core;
  const double stretched = in_skin && sheet.skin->set_stretched ? core : all;  // carries the prestretch
  const double lx = sheet.stretch_x, ly = sheet.stretch_y, lz = 1.0 / (lx * ly);
  const double at_rest = all - stretched;
  return {stretched * lx * lx + at_rest, stretched * lz * lz + at_rest, stretched * ly * ly + at_rest,
          kBulkOverShear * std::max({all, stretched * lx * lx, stretched * ly * ly}), all};
}

}  // namespace

SectionGrid make_grid(const SectionSheet& sheet, const SectionProfile& profile, const MouldCurve& mould,
                      double refinement) {
  SectionGrid grid;
  const double h = sheet.thickness_m;
  const bool smooth = mould.edges().empty();  // then contact ends anywhere
  const double length = profile.points.back().x_m - profile.points.front().x_m;
  const double feature =
      smooth ? mould.feature_m() : std::max(mould.feature_m(), length * kColumnsOfFeature / kMostColumns);
  const double cap = smooth ? std::max(std::min(h / 8.0, feature / 72.0), length / kMostSmoothColumns)
                            : std::min(h / 5.0, feature / kColumnsOfFeature);
  double finest = cap;
  std::vector<MouldCurve::Edge> fine;  // radius_m is the size wanted there
  for (const auto& edge : mould.edges()) {
    const double size = std::clamp(0.4 * edge.radius_m, kFinestOfFeature * std::min(feature, 2.0 * h), cap);
    fine.push_back({edge.x_m, size, edge.slides_m});
    finest = std::min(finest, size);
  }
  grid.finest_m = finest;
  const auto along = [&](double x) {
    double size = cap;
    for (const auto& edge : fine) {
      // What slides over the edge has to be as fine as what is bent over it now, or it is held back.
      const double from = edge.x_m + std::min(0.0, edge.slides_m), to = edge.x_m + std::max(0.0, edge.slides_m);
      const double away = std::max(from - x, x - to);
      size = std::min(size, edge.radius_m + kGrowth * std::max(0.0, away));
    }
    return size;
  };
  grid.x_m = graded(profile.points.front().x_m, profile.points.back().x_m, along, refinement, 2);

  const double top_cap = std::min(h / 6.0, std::max(4.0 * cap, h / kMostRows)),
               bottom = std::min({h / 24.0, 2.0 * finest, top_cap});
  const auto through = [&](double z) { return std::min(top_cap, bottom + kGrowth * z); };
  const double skin = sheet.skin ? sheet.skin->thickness_m : 0.0;
  if (sheet.skin) grid.z_m = graded(0.0, skin, through, refinement, 2);
  grid.layer.assign(sheet.skin ? grid.z_m.size() - 1 : 0, sheet.skin ? moduli(sheet, true) : LayerModuli{});
  if (sheet.skin) grid.z_m.pop_back();
  const auto core = graded(skin, h, through, refinement, 2);
  grid.z_m.insert(grid.z_m.end(), core.begin(), core.end());
  grid.layer.insert(grid.layer.end(), core.size() - 1, moduli(sheet, false));

  // Sheet that may slide over an edge is looked at more often than the edge's radius is long.
  for (int i = 0; i < grid.columns(); ++i) {
    const double a = grid.x_m[static_cast<std::size_t>(i)], b = grid.x_m[static_cast<std::size_t>(i) + 1];
    double spacing = (b - a) / 4.0;
    for (const auto& edge : mould.edges()) {
      if (std::abs(0.5 * (a + b) - edge.x_m) < 0.3 * feature) spacing = std::min(spacing, 0.5 * edge.radius_m);
    }
    grid.places_per_edge.push_back(2 * std::clamp(static_cast<int>(std::ceil(0.5 * (b - a) / spacing)), 2, 12));
  }
  return grid;
}

}  // namespace pellicle::imprint
