// How deep is a sheet pressed into one groove or over one ridge, when linear layer theory no longer holds?
//
// docs/theory/section.md. Plane strain or round about x = 0, finite strain, neo-Hookean, nearly incompressible.
// x runs along the section, z up, out of the mould. Depths count from the highest point of the mould.
#pragma once

#include <functional>
#include <limits>
#include <optional>
#include <vector>

namespace pellicle::imprint {

struct ProfilePoint {
  double x_m, z_m;
};

/// Surface of the mould as a chain of points with x never falling (two points at one x are an upright wall). Bends of
/// less than 25 degrees stand for a smooth curve and are rounded from mid-segment to mid-segment; sharper ones get the
/// radii below. A radius of 0 is "sharp": 0.2 % of the narrowest feature at an edge, 1 % if the sheet slides over it;
/// 1 % of the relief at a foot.
struct SectionProfile {
  std::vector<ProfilePoint> points;
  double edge_radius_m = 0.0;  ///< of edges that stand out towards the sheet
  double foot_radius_m = 0.0;  ///< of corners that the sheet has to be pressed into
};

/// Slot of this width and depth about x = 0 in flat land, up to half a pitch: its half. Half a ridge if depth < 0.
SectionProfile half_slot(double width_m, double depth_m, double pitch_m, double edge_radius_m = 0.0);
/// Height z(x) at `count` evenly spaced places from `from_m` to `to_m`.
SectionProfile sampled_profile(const std::function<double(double)>& z_m, double from_m, double to_m, int count);

/// Stiffer skin on the side of the mould.
struct SectionSkin {
  double thickness_m;       ///< part of the sheet's thickness
  double shear_modulus_Pa;  ///< at least that of the core
  bool set_stretched =
      true;  ///< it stiffened after stretching: what it has above the core's modulus is at rest when flat
};

/// The sheet as it lies flat on the mould, already stretched.
struct SectionSheet {
  double thickness_m;       ///< present one
  double shear_modulus_Pa;  ///< of the core
  double stretch_x = 1.0;   ///< in the section
  double stretch_y = 1.0;   ///< across it; fixed. Round: must be equal to stretch_x
  std::optional<SectionSkin> skin;
};

enum class SectionPlane { kStrip, kRound };        ///< kRound: about x = 0, where the profile has to begin
enum class SectionEnds { kSymmetric, kPeriodic };  ///< kRound takes kSymmetric only
enum class SectionTouch { kStick, kSlip };         ///< kStick holds what touches at the place it first touched

struct SectionTask {
  SectionSheet sheet;
  SectionProfile profile;
  SectionPlane plane = SectionPlane::kStrip;
  SectionEnds ends = SectionEnds::kSymmetric;
  SectionTouch touch = SectionTouch::kStick;
  double pressure_Pa = 0.0;     ///< gas over the sheet, above what is under it
  double refinement = 1.0;      ///< number of elements in either direction, as a multiple of the automatic choice
  double contact_factor = 1.0;  ///< multiple of the penalty's stiffness; its bias falls with it
  bool estimate_error = false;  ///< solve once more with half the refinement
};

struct SectionLoadStep {
  double pressure_Pa;
  std::vector<double> residuals;  ///< Newton, from first to last, as a share of the load; rounds of sticking in a row
};

struct SectionResult {
  double depth_m = 0.0;                     ///< deepest point of the sheet's face below the highest of the mould
  double relief_depth_m = 0.0;              ///< deepest point of the mould below its highest
  double share = 0.0;                       ///< depth_m / relief_depth_m; 0 on a flat mould
  std::vector<ProfilePoint> underside;      ///< nodes of the sheet's face, from left to right
  std::vector<double> contact_pressure_Pa;  ///< per node of the underside: force over its length now; 0 where free
  double corner_radius_m =
      std::numeric_limits<double>::quiet_NaN();  ///< largest free arc beside touched floor; NaN: no floor
                                                 ///< touched, or no arc of three nodes left
  double largest_stretch = 1.0;                  ///< over the bought sheet; at a sharp edge it grows with refinement
  double largest_penetration_m = 0.0;            ///< of the face into the mould: the bias of the penalty
  double volume_change = 0.0;                    ///< of the whole sheet, as a share
  bool snapped = false;                          ///< went through a state that was not stable to one far away
  double snap_pressure_Pa = std::numeric_limits<double>::quiet_NaN();
  bool floor_touched = false;  ///< touches the lowest tenth of the relief
  std::vector<SectionLoadStep> steps;
  int elements = 0;
  double depth_error_m = std::numeric_limits<double>::quiet_NaN();  ///< |difference to the coarser mesh|, if asked for
};

/// Errors: kCase on values out of range; kSolution if no balance is found, with the pressure it got to.
SectionResult solve_section(const SectionTask& task);

}  // namespace pellicle::imprint
