// What can be seen of the sheet at one moment? Views into the running state, valid only during the call they are given
// to.
#pragma once

#include "mesh/triangle_mesh.h"

#include <cstdint>
#include <functional>
#include <span>
#include <string>

namespace pellicle::forming {

/// One moment of the sheet. N nodes, M triangles. Spans point into the running state: copy what is to be kept.
struct Frame {
  int index;  ///< 0, 1, 2, ... without gaps
  double time_s;
  std::string stage;   ///< name of the stage; empty for the flat sheet at t = 0
  double pressure_Pa;  ///< gauge, on the sheet
  double swept_volume_m3;
  std::span<const mesh::Vec3> points_m;            ///< N, the mould-side face
  std::span<const mesh::Triangle> triangles;       ///< M
  std::span<const mesh::Vec2> flat_m;              ///< N, where the node was in the flat sheet
  std::span<const double> thickness_m;             ///< N, sum V0 / sum A over the node's triangles
  std::span<const double> stretch_1;               ///< N, larger principal stretch
  std::span<const double> stretch_2;               ///< N, smaller
  std::span<const double> gap_m;                   ///< N, signed; NaN with neither mould nor platform
  std::span<const double> contact_pressure_Pa;     ///< N, >= 0
  std::span<const double> touched_s;               ///< N, NaN = never
  std::span<const double> temperature_K;           ///< N, mean through the thickness; without heat the case's
  std::span<const double> finest_radius_m;         ///< N, NaN where nothing is touched
  std::span<const double> capture_depth_200um_m;   ///< N, depth reached in a stroke 0.2 mm wide; NaN likewise
  std::span<const double> capture_depth_500um_m;   ///< N, 0.5 mm
  std::span<const double> capture_depth_1000um_m;  ///< N, 1.0 mm
  std::span<const double> triangle_thickness_m;    ///< M
  std::span<const double> triangle_wrinkle;        ///< M, 1 - l2/l2* where positive
  std::span<const double> layer_line_m = {};       ///< N, of the face that met the mould; empty: no layer height told
  std::span<const double> layer_line_free_face_m = {};  ///< N, of the other face; likewise
  std::span<const double> pocket = {};  ///< N, name of the pocket of air below, -1 none; empty: not followed
  std::span<const double> pocket_pressure_Pa = {};        ///< N, above the outside, 0 where there is none; likewise
  std::span<const double> temperature_mould_face_K = {};  ///< N, the sheet's face on the mould's side; empty: no heat
  std::span<const double> shrinkage =
      {};  ///< N, share of a length, from coming off to 20 °C; empty: not the last frame
};

/// One row of history.csv; every energy in J, each integrated from its own force and velocity.
struct HistoryRow {
  std::int64_t step;
  double time_s;
  std::string stage;
  double pressure_Pa, swept_volume_m3;
  double apex_m;  ///< greatest distance below the clamp plane
  double min_thickness_m;
  double contact_share;  ///< share of the sheet's area in contact
  double kinetic_J, strain_J, gas_work_J, friction_J, damping_J, contact_J, clamp_work_J, gravity_J, air_J, viscous_J,
      thermal_J, mass_change_J;
  double balance;  ///< NaN before any work
};

/// Said now and then while the sheet moves, for a person who waits.
struct Progress {
  std::int64_t step;
  double time_s, end_s;
  std::string stage;
  double pressure_Pa, min_thickness_m, contact_share;
  double share_done;  ///< 0..1
};

struct Snapshot;

/// Where a run sends what it makes. The solver itself opens no file and prints nothing.
struct Sinks {
  std::function<void(const Frame&)> frame = [](const Frame&) {};
  std::function<void(const HistoryRow&)> history = [](const HistoryRow&) {};
  std::function<void(const Progress&)> progress = [](const Progress&) {};
  std::function<bool()> stop = [] { return false; };      ///< asked every few steps; true = leave with a Snapshot
  std::function<bool()> keep_due = [] { return false; };  ///< asked as often; true = hand out a Snapshot and go on
  std::function<void(const Snapshot&)> keep = [](const Snapshot&) {};
  std::function<void(const std::string&)> task = [](const std::string&) {};  ///< what else takes a while, as it begins
};

}  // namespace pellicle::forming
