// Where is air shut in under the sheet, and how hard does it push back? Pockets, their air and what leaves by vents.
//
// docs/theory/trapped_air.md. For the loop: `find` every few steps and after every refinement; in every step `gives`,
// `advance`, the force + pressure_Pa x area on the nodes, and `follow` once the sheet has moved.
#pragma once

#include "mesh/triangle_mesh.h"
#include "solver/air/vent.h"
#include "solver/forming/air_columns.h"
#include "solver/forming/forming_spec.h"
#include "solver/forming/gas.h"

#include <span>
#include <vector>

namespace pellicle::forming {

struct AirOptions {
  double roughness_m;  ///< of mould and sheet together: a pocket keeps at least this height over its area
  double film_m;       ///< a closed part no higher than this on average is no pocket: its air leaks along the roughness
  double rim_seal_m;   ///< a rim no higher than this above what is below lets no air out, a higher one does
  bool platform_leaks = true;  ///< it is perforated: air above it is free
  bool adiabatic = false;      ///< false: the air stays at its temperature
  double temperature_K = air::kRoom_K;
  double outside_Pa = air::kAtmosphere_Pa;  ///< absolute
};
/// Film and rim as shares of the bought thickness; roughness 5 um, a little more than the Ra of 0.87-4.44 um of printed
/// moulds (PMC6631072); a film is at least twice that.
AirOptions air_options(double bought_thickness_m);

/// What a node belongs to, where it is not the number of a pocket.
inline constexpr int kTouches = -1, kOpenAir = -2;
/// Likewise of a vent: sheet lies on it; it opens into free air, or no sheet is above it.
inline constexpr int kCovered = kTouches;

struct Pocket {
  int name = 0;           ///< stays with it, whatever its place in the list
  double closed_s = 0.0;  ///< since when
  double mass_kg = 0.0;
  double volume_m3 = 0.0;                   ///< > 0
  double area_m2 = 0.0;                     ///< of the sheet over it
  double pressure_Pa = 0.0;                 ///< above the outside; negative where the sheet draws back
  double isentrope = 0.0;                   ///< p/density^gamma, p absolute; with gamma = 1 it is R T
  double vented_kg_s = 0.0;                 ///< in the last step
  mesh::Vec3 place_m = mesh::Vec3::Zero();  ///< mean of its nodes
};

/// Plain copies, all that the next step depends on: for snapshots. Numbers of nodes stay when a sheet is refined.
struct TrappedAir {
  std::vector<int> pocket_of;  ///< N at the last `find`: pocket, kTouches or kOpenAir
  std::vector<int> nodes;      ///< those in pockets, ascending
  std::vector<Pocket> pockets;
  std::vector<int> vent_of;  ///< one a vent: pocket, kCovered or kOpenAir
  int names = 0;             ///< given so far
  // The books: shut_in = in pockets + vented + freed + squeezed.
  double shut_in_kg = 0.0;   ///< when pockets closed
  double vented_kg = 0.0;    ///< through vents, less what came back
  double freed_kg = 0.0;     ///< when pockets opened
  double squeezed_kg = 0.0;  ///< in pockets that came to touch all over

  double in_pockets_kg() const;
  /// Above the outside; 0 outside pockets and at nodes made since the last `find` [Pa].
  double pressure_Pa(int node) const;
};

/// The sheet as `find` sees it: N nodes, M triangles, gas side up.
struct SheetOverMould {
  std::span<const mesh::Vec3> x_m;
  std::span<const mesh::Triangle> triangles;
  std::span<const char> touching, on_rim;  ///< N
};

/// The motion of one step without the pockets' push: area vectors upwards, velocity, mass, 1 = free to give way. N.
struct SheetMotion {
  std::span<const mesh::Vec3> area_m2, v_m_s;
  std::span<const double> mass_kg;
  std::span<const char> gives;
  double dt_s, push_s;  ///< step; velocity that a force over mass gives
};

/// Everything that does not change: what lies below, vents, options.
class AirUnderSheet {
 public:
  AirUnderSheet(const mould::RigidMould& mould, AirColumns columns, std::vector<PlacedVent> vents, AirOptions options);

  /// Finds the pockets anew, measures them, and hands the air on: by the nodes they share with the old ones, a pocket
  /// that splits by volume. Air of a pocket that touches all over is squeezed out, of one that opens it is freed. The
  /// first call has no past: all air was free. Allocates, as a refinement does; what is called in every step does not.
  void find(const SheetOverMould& sheet, double time_s, TrappedAir& air) const;

  /// How each pocket's volume would grow in this step, and give way to its pressure. One each, into `out`.
  static void gives(const SheetMotion& motion, const TrappedAir& air, std::vector<VolumeResponse>& out);

  /// Pressures at the end of the step, and what leaves through vents by then: backward Euler, so neither a small volume
  /// nor a wide vent limits the step. Throws Error (kSolution) if a response is not a number.
  void advance(std::span<const VolumeResponse> responses, TrappedAir& air) const;

  /// The sheet has moved by v dt: volumes follow, dV = sum A.v dt. Linear in dt; `find` measures anew.
  static void follow(std::span<const mesh::Vec3> area_m2, std::span<const mesh::Vec3> v_m_s, double dt_s,
                     TrappedAir& air);

  const std::vector<PlacedVent>& vents() const { return vents_; }
  const AirOptions& options() const { return options_; }

 private:
  struct Regions;
  struct Inheritance;
  Regions regions_of(const SheetOverMould& sheet) const;
  void measure(const SheetOverMould& sheet, Regions& regions) const;
  void open_by_rim(const SheetOverMould& sheet, Regions& regions) const;
  void decide(Regions& regions) const;
  void inherit(const Regions& regions, const TrappedAir& old, double time_s, TrappedAir& air) const;
  std::vector<int> vents_in(const SheetOverMould& sheet, const std::vector<int>& pocket_of) const;
  double gamma() const { return options_.adiabatic ? air::kHeatRatio : 1.0; }
  double least_volume_m3(const Pocket& p) const { return options_.roughness_m * p.area_m2; }

  const mould::RigidMould* mould_;
  AirColumns columns_;
  std::vector<PlacedVent> vents_;
  AirOptions options_;
};

}  // namespace pellicle::forming
