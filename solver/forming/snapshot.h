// What does the next step depend on? Everything a checkpoint must hold so that going on gives the same bits.
#pragma once

#include "mesh/triangle_mesh.h"
#include "solver/forming/trapped_air.h"
#include "solver/sheet/heat.h"
#include "solver/sheet/layer_memory.h"

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace pellicle::forming {

/// Work and energy so far, J. Signs as in history.csv: stored and lost count positive when they take from the sheet.
struct Ledger {
  double gas_J = 0, clamp_J = 0, gravity_J = 0;                                                          ///< work in
  double friction_J = 0, damping_J = 0, contact_J = 0, viscous_J = 0, thermal_J = 0, mass_change_J = 0;  ///< lost
  double kinetic_J = 0, strain_J = 0, air_J = 0;  ///< stored, state functions
  double largest_work_J = 0;                      ///< largest |work in| so far
};

/// What one node remembers of touching.
struct Touch {
  mesh::Vec3 anchor_m = mesh::Vec3::Zero();  ///< where it sticks; meaningful while `anchored`
  mesh::Vec3 normal = mesh::Vec3::Zero();    ///< of the plane that pushed back last, outwards
  double first_s;                            ///< NaN = never
  double pressure_since_Pa = 0.0;            ///< largest gas pressure from first touch on
  double contact_Pa = 0.0;                   ///< smoothed contact pressure, landing steps left out
  double put_back_m = 0.0;                   ///< sum of what creases have put it back so far
  std::int8_t anchored = 0;
  std::int8_t touching = 0;  ///< gap below a hundredth of the bought thickness
  std::int8_t pressed = 0;   ///< the mould pushed back in the last step
  std::int8_t settling = 0;  ///< steps that a node made by refinement may still take to leave the mould
};

/// A place on the mould's edges or corners that may stand through a triangle of the sheet, the nearest one, before
/// pairs are found anew.
struct Poke {
  int crease;        ///< number in the mould's Creases
  int triangle;      ///< of the sheet
  double allowed_m;  ///< so deep it may stand through the triangle
};

/// What one stage did, for the summary.
struct StageReport {
  std::string name;
  double start_s, end_s;
  std::int64_t steps;
  double pressure_Pa;      ///< at its end
  double swept_volume_m3;  ///< at its end
  double mass_factor;      ///< scaled over true density, at its end
  double damping_per_s;
  double travel_s;                  ///< time given to the travel of the sheet
  double pace;                      ///< travel in units of R/c (the rule asks for 85)
  double kinetic_share;             ///< largest KE over largest SE so far, after 30 % of the stage;
                                    ///< motion along with the clamp does not count
  double friction_share_slipped;    ///< share of loaded nodes that slid in its last step
  double peak_Pa, peak_s, peak_m3;  ///< where the travelling sheet passed its limit pressure; NaN if it did not
  double fastest_m3_s;              ///< volume swept a second after that, at the most; NaN likewise
  bool reached;                     ///< the stage's pressure or volume was reached
};

/// Plain copies, no pointers. Given by Forming::snapshot(), taken by Forming's second constructor.
struct Snapshot {
  std::int64_t step = 0;
  std::int64_t element_updates = 0;  ///< sum of the number of elements over the steps
  double time_s = 0;
  double dt_s = 0;        ///< of the last step
  double limit_dt_s = 0;  ///< what the next step may be at most
  int stage = 0;
  std::int64_t stage_first_step = 0;
  bool begun = false;  ///< the flat sheet has been sent
  int frames_sent = 0;
  double row_s = 0;  ///< time of the last row of this stage, or its start
  double mass_factor = 1, mass_growth = 1, damping_per_s = 0, travel_s = 0, pace = 0;
  double most_damping_per_s = 0;  ///< what the rule allows; damping_per_s follows the lowest frequency below it
  double pressure_Pa = 0;         ///< on the sheet in the last step, gauge
  double drive_Pa = 0;            ///< what the drive asked for; more than pressure_Pa while the sheet travels
  double mean_pressure_Pa = 0;    ///< running mean over some steps
  double volume_m3 = 0;           ///< swept, at the last gas update
  double stage_start_Pa = 0, stage_start_m3 = 0, full_m3 = 0, paced_m3 = 0;
  double gas_kg = 0, gas_energy_J = 0, chamber_m3 = 0;
  double clamp_z_m = 0, stage_start_clamp_m = 0, clamp_m_s = 0;
  double kinetic_share = 0, largest_strain_J = 0, worst_balance = 0;
  double book_strain_J = 0, book_m3 = 0, book_s = 0;         ///< at the last closing of the books
  double slow_Pa = 0, peak_Pa = 0, peak_s = 0, peak_m3 = 0;  ///< most the travelling sheet resisted in this stage
  bool passed_peak = false;                                  ///< it fell from there while the sheet grew
  double fastest_m3_s = 0;                                   ///< swept since then, at the most
  bool ever_touched = false;
  double half_gas_J = 0;     ///< gas work of the half step by which velocities stand behind, at the last closing
  double slipped_share = 0;  ///< of the loaded nodes, in the last step
  int still_books = 0;       ///< books closed without any motion to speak of, less those with some since
  std::vector<mesh::Vec3> x_m, v_m_s;   ///< N
  std::vector<Touch> touch;             ///< N
  std::vector<Poke> pokes;              ///< by crease
  std::vector<mesh::Vec3> paired_at_m;  ///< N, where the nodes were when they were found; NaN or none: not yet
  std::vector<mesh::Vec3> looked_at_m;  ///< N, likewise, where it was last looked at whether they are to be refined
  Ledger ledger;
  std::vector<StageReport> reports;  ///< of the stages that have ended
  // The sheet they belong to.
  std::vector<mesh::Vec2> flat_m;
  std::vector<mesh::Triangle> triangles;
  std::vector<char> on_rim;
  std::vector<double> local_mass;            ///< one a triangle
  double coarse_height_m = 0;                ///< height of a triangle before any refinement that needs no local mass
  std::optional<sheet::HeatState> heat;      ///< none: the case says too little
  double heat_s = 0;                         ///< time that it has come to
  std::optional<sheet::LayerMemory> memory;  ///< none: temperature changes no force
  double memory_s = 0;                       ///< time that it has come to
  std::int64_t memory_step = 0;
  double unseen_strain_J = 0;                 ///< stored energy less that of the elements as they pull, since memory_s
  double hung_J = 0;                          ///< gravity_J while all of the sheet is at z = 0
  std::vector<double> pressed_s, pressed_Pa;  ///< gas pressure at the rows so far, where heat is followed
  TrappedAir air;                             ///< empty where it is not followed
};

}  // namespace pellicle::forming
