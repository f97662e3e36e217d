// What has become of the sheet? Per node and triangle, recovered from the running state for eyes and for later rooms.
#pragma once

#include "mesh/triangle_mesh.h"
#include "solver/sheet/heat.h"

#include <optional>
#include <string>
#include <vector>

namespace pellicle::forming {

/// Not a pocket of air: the sheet touches here, or the air below is free.
inline constexpr int kNoPocket = -1;

/// N nodes, M triangles. Where the sheet is folded, thickness and stretches are the material's, not the surface's.
struct FormingResult {
  double time_s = 0.0;
  std::string stage;
  double pressure_Pa = 0.0;  ///< gauge
  double swept_volume_m3 = 0.0;
  double clamp_z_m = 0.0;
  double bought_thickness_m = 0.0;
  std::vector<mesh::Triangle> triangles;     ///< M
  std::vector<mesh::Vec2> flat_m;            ///< N
  std::vector<char> on_rim;                  ///< N
  std::vector<mesh::Vec3> points_m;          ///< N
  std::vector<double> thickness_m;           ///< N, sum V0 / sum A
  std::vector<double> stretch_1, stretch_2;  ///< N, of the volume mean of C over the node's triangles
  std::vector<double> gap_m;                 ///< N, NaN with neither mould nor platform
  std::vector<double> contact_pressure_Pa;   ///< N
  std::vector<double> touched_s;             ///< N, NaN = never
  std::vector<double> pressure_since_Pa;     ///< N, largest gas pressure from first touch on
  std::vector<double> element_m;             ///< N, mean current edge length around
  std::vector<char> touching;                ///< N
  std::vector<double> triangle_thickness_m;  ///< M
  std::vector<double> triangle_wrinkle;      ///< M
  // Empty where trapped air was not followed.
  std::vector<int> pocket = {};                 ///< N, name of the pocket below, kNoPocket
  std::vector<double> pocket_pressure_Pa = {};  ///< N, of its air above the outside; 0 where there is none
  // Empty where heat was not followed.
  std::vector<double> temperature_mean_K = {};          ///< N, through the thickness
  std::vector<double> temperature_mould_face_K = {};    ///< N, the sheet's own face on the mould's side
  std::vector<double> temperature_free_face_K = {};     ///< N
  std::vector<double> pressed_s = {}, pressed_Pa = {};  ///< gas pressure at times so far, rising
  std::optional<sheet::HeatState> heat = {};            ///< sheet::heat_profile gives a node's profile
};

}  // namespace pellicle::forming
