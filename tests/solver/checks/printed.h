// A printed box under a sheet that lies on its lid and sides, all under one pressure: for tests of the mould's body.
#pragma once

#include "mesh/shapes.h"
#include "solver/checks/mould_strength.h"
#include "tests/solver/checks/draped.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <utility>

namespace pellicle::checks {

/// The card of a standard resin, as it was when this was written; layers and Poisson's ratio without a band.
inline ResinSpec standard_resin() {
  const auto celsius = [](double likely, double low, double high) {
    return Estimate{likely + 273.15, low + 273.15, high + 273.15};
  };
  return {.name = "standard",
          .deflects_at_045_K = celsius(66, 58, 75),
          .deflects_at_180_K = celsius(55, 50, 60),
          .modulus_Pa = {2.4e9, 2.0e9, 2.8e9},
          .poisson = {0.37, 0.37, 0.37},
          .strength_Pa = {95e6, 80e6, 110e6},
          .across_layers = {1.0, 1.0, 1.0},
          .conductivity_W_mK = {0.27, 0.2, 0.366},
          .specific_heat_J_kgK = {1400, 1400, 1400},
          .density_kg_m3 = {1180, 1180, 1180},
          .expansion_1_K = {100e-6, 80e-6, 120e-6}};
}

/// Box with its foot on z = 0; the sheet of 0.75 mm covers lid and sides.
inline Draped printed_box(double x_m, double y_m, double z_m, double pressure_Pa) {
  const mesh::TriangleMesh box = mesh::box({0, 0, 0}, {x_m, y_m, z_m});
  mesh::TriangleMesh sheet{box.points_m, {}};
  for (const mesh::Triangle& t : box.triangles) {
    const auto z = [&](int k) { return box.points_m[static_cast<std::size_t>(t[static_cast<std::size_t>(k)])].z(); };
    if (std::max({z(0), z(1), z(2)}) > 0.0) sheet.triangles.push_back(t);
  }
  Draped d(box, sheet, 0.75e-3);
  const std::size_t n = d.sheet.points_m.size();
  d.sheet.contact_pressure_Pa.assign(n, pressure_Pa);
  d.sheet.pressure_since_Pa.assign(n, 0.0);
  d.sheet.thickness_m.assign(n, 0.75e-3);
  d.sheet.time_s = 1.0;
  d.spec.temperature_K = 273.15 + 140.0;
  return d;
}

/// Hollow, open below, cold; PETG on it.
inline MouldBuild printed(double wall_m) {
  return {.wall_m = wall_m,
          .inside = mesh::Inside::kHollow,
          .base_open = true,
          .resin = standard_resin(),
          .start_K = 296.15,
          .hold_s = 30.0,
          .open_s = 60.0,
          .polymer = sheet::HeatMaterial{0.22, 1800.0, 1270.0}};
}

}  // namespace pellicle::checks
