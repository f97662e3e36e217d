// What do tests of relief files write, when nothing was captured? A made-up answer with a value for every field.
#pragma once

#include "solver/reliefs.h"

#include <cmath>

namespace pellicle::results {

/// nx by ny cells of 0.1 mm on a tilted patch; every value of a field is another one. Two strokes.
inline ReliefResult made_up_relief(int nx, int ny) {
  ReliefResult relief;
  relief.spec.name = "title";
  relief.spec.source = imprint::TextRelief{"BA", "", 6e-3, 0.4e-3};
  relief.frame.corner_m = {10e-3, 20e-3, 4e-3};
  relief.frame.along_x = mesh::Vec3(0.8, 0.0, 0.6);
  relief.frame.along_y = mesh::Vec3::UnitY();
  relief.frame.normal = mesh::Vec3(-0.6, 0.0, 0.8);
  relief.frame.width_m = 0.1e-3 * nx;
  relief.frame.length_m = 0.1e-3 * ny;
  relief.top_m = 0.4e-3;
  imprint::ReliefAnswer& a = relief.answer;
  a.name = "title";
  a.state = {0.5e-3, 1.5, 1.2, 0.2e6, 4e5, 0.05e-3, 6e6};
  a.nx = nx;
  a.ny = ny;
  for (int i = 0; i < nx; ++i) a.x_m.push_back(0.1e-3 * (i + 0.5));
  for (int j = 0; j < ny; ++j) a.y_m.push_back(0.1e-3 * (j + 0.5));
  for (int c = 0; c < nx * ny; ++c) {
    a.mould_height_m.push_back(-1e-6 * c);
    a.gap_m.push_back(2e-7 * c);
    a.sheet_height_m.push_back(a.mould_height_m.back() + a.gap_m.back());
    a.contact_pressure_Pa.push_back(1e3 * c);
  }
  a.own_depth_m = 0.4e-3;
  a.depth = {0.11e-3, 0.18e-3, 0.15e-3, 0.12e-3, imprint::Model::kSection, true};
  a.capture = 0.3;
  a.capture_stick = 0.275;
  a.capture_slip = 0.45;
  a.gap_error_m = 1e-7;
  a.notes = {"the section of 'B' snapped"};
  imprint::StrokeAnswer b;
  b.name = "B";
  b.place_m = {0.25e-3, 0.15e-3};
  b.width_m = 0.31e-3;
  b.narrowest_m = 0.28e-3;
  b.height_m = -0.4e-3;
  b.angle_rad = 0.5;
  b.depth = a.depth;
  b.share = 0.3;
  b.share_stick = 0.275;
  b.share_slip = 0.45;
  b.needed_pressure_Pa = 8e5;
  b.needed_width_m = 0.6e-3;
  imprint::StrokeAnswer other = b;
  other.name = "A";
  other.share = 0.9;
  a.strokes = {other, b};
  return relief;
}

}  // namespace pellicle::results
