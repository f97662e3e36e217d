// What is asked of a forming run? Drives, stages, friction and pace: plain checked values in SI.
#pragma once

#include "solver/air/vent.h"
#include "solver/sheet/heat_spec.h"
#include "solver/sheet/sheet_spec.h"

#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace pellicle {

struct Friction {
  bool stick;          ///< never slides while touching
  double coefficient;  ///< Coulomb number where it does; 0 = free
};

struct PressureDrive {
  double pressure_Pa;  ///< gauge, at the end of the stage
};
struct GasDrive {
  double supply_Pa;        ///< gauge, constant
  double orifice_m;        ///< throat diameter
  double chamber_m3;       ///< dead volume above the flat sheet
  bool adiabatic = false;  ///< false: the gas stays at room temperature
};
struct VolumeDrive {
  double volume_m3;  ///< swept volume at the end of the stage
};

struct StageSpec {
  std::string name;
  double duration_s;
  std::variant<PressureDrive, GasDrive, VolumeDrive> drive;
  std::optional<double> clamp_to_m;
};

/// A hole in the mould, seen from above.
struct PlacedVent {
  mesh::Vec2 at_m;
  air::Hole hole;
};
/// Air that the sheet shuts in is followed, and leaves by these.
struct AirSpec {
  std::vector<PlacedVent> vents;
  bool adiabatic = false;      ///< false: shut-in air stays at its temperature
  bool platform_leaks = true;  ///< it is perforated: air above it is free
};

enum class Pace { kQuasiStatic, kReal };

struct Numerics {
  Pace pace = Pace::kQuasiStatic;
  int threads = 0;  ///< 0: the free cores
  double energy_limit = 0.02;
  int frames = 20;
  bool trapped_air = true;     ///< with a mould surface: air that the sheet shuts in pushes back
  bool adiabatic_air = false;  ///< that air exchanges no heat
  // Not keys of a case: tests show with them that the answer depends on neither (docs/theory/time.md).
  double slowness = 1.0;  ///< travel takes so many times the pace of the rule
  double damping = 1.0;   ///< so many times the damping of the rule
};

/// All that forming takes from a case.
struct FormingSpec {
  SheetSpec sheet;
  Friction friction{.stick = true, .coefficient = 0.0};
  std::vector<StageSpec> stages;
  Numerics numerics;
  std::optional<HeatSpec> heat = {};  ///< none: nothing is said of temperatures
  std::optional<AirSpec> air = {};    ///< none: all air below leaves as the sheet comes down
};

}  // namespace pellicle
