// Which small runs do the tests of forming share? Coarse discs of soft rubber over moulds one can write down.
#pragma once

#include "mesh/shapes.h"
#include "solver/forming/forming.h"

#include <string>
#include <utility>
#include <vector>

namespace pellicle::forming {

inline constexpr double kShear_Pa = 0.3e6;
inline constexpr double kBought_m = 1e-3;

/// A disc of neo-Hookean rubber, 1 mm thick, clamped at `height`.
inline FormingSpec disc_spec(double diameter_m, double height_m, double element_m) {
  FormingSpec spec{};
  spec.sheet.law = sheet::NeoHookean{kShear_Pa};
  spec.sheet.density_kg_m3 = 1200.0;
  spec.sheet.thickness_m = kBought_m;
  spec.sheet.outline = {mesh::Disc{diameter_m}, mesh::Vec2::Zero()};
  spec.sheet.height_m = height_m;
  spec.sheet.element_m = spec.sheet.rim_element_m = element_m;
  spec.sheet.temperature_K = 420.0;
  spec.numerics.frames = 4;
  return spec;
}

inline mesh::SheetMesh mesh_of(const FormingSpec& spec) {
  return mesh::mesh_sheet(spec.sheet.outline, {spec.sheet.element_m, spec.sheet.rim_element_m, {}});
}

inline StageSpec press(double pressure_Pa, double duration_s = 0.5) {
  return {"press", duration_s, PressureDrive{pressure_Pa}, {}};
}
/// The clamp goes down, without gas.
inline StageSpec lower_to(double height_m, double duration_s = 0.5) {
  return {"lower", duration_s, PressureDrive{0.0}, height_m};
}

/// What a run sent.
struct Sent {
  std::vector<HistoryRow> rows;
  std::vector<FormingResult> frames;
  FormingSinks sinks() {
    FormingSinks s;
    s.frame = [this](int, const FormingResult& r) { frames.push_back(r); };
    s.history = [this](const HistoryRow& row) { rows.push_back(row); };
    return s;
  }
};

/// Runs to the end and returns the last state.
struct Ended {
  Snapshot snap;
  FormingResult result;
  std::vector<StageReport> stages;
  Sent sent;
};
inline Ended run_to_end(const FormingSpec& spec, const mould::RigidMould& mould, LedgerTamper tamper = {}) {
  Ended e;
  Forming forming(spec, mould, mesh_of(spec), tamper);
  forming.run(e.sent.sinks());
  e.snap = forming.snapshot();
  e.result = forming.result();
  e.stages = forming.stages();
  return e;
}

}  // namespace pellicle::forming
