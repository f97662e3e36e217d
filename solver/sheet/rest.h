// What does an element keep of the flat sheet?
#pragma once

namespace pellicle::sheet {

/// M = G0^-1 with G0 = [Di.Dj] of the flat edges D1, D2.
struct Rest {
  double m11_per_m2, m12_per_m2, m22_per_m2;
  double inverse_det_per_m4;  ///< 1 / det G0
  double volume_m3;           ///< V0 = h0 A0
};

}  // namespace pellicle::sheet
