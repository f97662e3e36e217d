// What is the finite-strain section across one place of a relief, and what does it say?
//
// docs/theory/capture.md.
#pragma once

#include "mesh/height_map.h"
#include "solver/imprint/capture_layer.h"
#include "solver/imprint/map_strokes.h"
#include "solver/imprint/section.h"

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace pellicle::imprint {

/// A section without its touch: both are solved.
struct CrossSection {
  SectionProfile profile;  ///< round: from the middle out; else about it
  SectionPlane plane = SectionPlane::kStrip;
  SectionEnds ends = SectionEnds::kSymmetric;
  Ways stretch{1.0, 1.0};
};

/// What came of it; an empty result failed, with the reason.
struct BothTouches {
  std::optional<SectionResult> stick, slip;
  std::string stick_failed, slip_failed;
};

SectionSheet section_sheet(const LocalState& state, const Ways& stretch);

/// One touch; nothing where no rest is found, by a coarser mesh neither, with the reason. Throws what a state that is
/// none makes solve_section throw.
std::optional<SectionResult> solve_touch(const CrossSection& section, const LocalState& state, SectionTouch touch,
                                         std::string& failed);

/// All of them, several at a time; the same bits for any number of threads.
std::vector<BothTouches> solve_sections(const std::vector<CrossSection>& sections, const LocalState& state,
                                        const Stop& stop);

/// Pressure at which a depth read off the sticking section is the wanted one: secants in logarithms from the section at
/// the state's own pressure, with `depth_m`, and a first guess; two more sections at most, done within 2 % of the
/// wanted depth. The best guess where a section finds no rest.
double pressure_for_Pa(const CrossSection& section, const LocalState& state, double depth_m, double guess_Pa,
                       double wanted_m, const std::function<double(const SectionResult&)>& read_m);

/// Heights across a place of a map, about the middle of the crossing: out to the middle of the next stroke on either
/// side, or `land_m` of what lies between; mirrored there. Only one half where both are alike. Round: the mean of all
/// ways out.
CrossSection across(const mesh::HeightMap& map, const Crossing& place, double level_m, double land_m,
                    const Ways& stretch);

/// Alike to 3 %: length, heights, where they cross their middle, mean height, stretches.
bool alike(const CrossSection& a, const CrossSection& b);

/// Heights of the underside at places along the section, straight between its nodes; mirrored below its first node if
/// that is where the section is.
double underside_m(const SectionResult& result, double x_m);
double contact_pressure_Pa(const SectionResult& result, double x_m);

/// Heights between points, x never falling; the ends go on. At an upright wall, its foot.
double height_on(const std::vector<ProfilePoint>& points, double x_m);

/// A profile of heights sampled off a map: a wall that rises within two and a half cells stands upright, as steep as a
/// map can show it; heights within a hundredth of the outermost, and where there are walls of top or floor, are level
/// with it; points that a straight line comes
/// near enough to are left out. Edges are as sharp as a quarter of a cell.
SectionProfile profile_off_map(std::vector<ProfilePoint> points, double spacing_m);

}  // namespace pellicle::imprint
