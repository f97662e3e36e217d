// What pressure does a displaced face of the sheet need, and the reverse, on a regular grid?
//
// docs/theory/press.md. Products with S = 1/C(k) and with C in Fourier space.
#pragma once

#include "solver/imprint/compliance.h"

#include <cstddef>
#include <memory>
#include <vector>

namespace pellicle::imprint {

/// Points at equal distances; x runs fastest, so point (i, j) is number j nx + i. ny = 1: a strip, nothing varies
/// along y. Extents are nx and ny times the spacing.
struct Grid {
  int nx, ny;
  double spacing_m;

  std::size_t points() const { return static_cast<std::size_t>(nx) * static_cast<std::size_t>(ny); }
};

/// What lies around a patch. Periodic: copies of itself. Padded: a margin that carries each edge on to the opposite one
/// without a step, at least four thicknesses or a whole patch, and an eighth of a patch, wide; the mould goes on flat.
enum class Boundary { kPeriodic, kPadded };

/// S and C on the grid of a patch and its margin. Same bits for any number of threads. Products use a workspace of the
/// object: one product at a time on one object.
class LayerOperator {
 public:
  /// Throws Error where the sheet is none (check) or unstable (StiffnessTable), or the grid has fewer than 4 points
  /// along x.
  LayerOperator(const Grid& patch, const LayerStack& stack, Boundary boundary);
  ~LayerOperator();
  LayerOperator(LayerOperator&&) noexcept;
  LayerOperator& operator=(LayerOperator&&) noexcept;

  const Grid& patch() const { return patch_; }
  const Grid& outer() const { return outer_; }  ///< patch and margin: the grid of the products

  /// A field of the patch carried on over the margin; the reverse.
  std::vector<double> padded(const std::vector<double>& on_patch) const;
  std::vector<double> cropped(const std::vector<double>& on_outer) const;

  /// traction = S u; the mean of u needs none.
  void stiffness(const std::vector<double>& u_m, std::vector<double>& traction_Pa);
  /// traction = (S + bedding) u solved for u: C with a bed of springs under it; without one the mean of u is 0.
  void compliance(const std::vector<double>& traction_Pa, double bedding_Pa_per_m, std::vector<double>& u_m);

  double least_stiffness_Pa_per_m() const { return least_Pa_per_m_; }  ///< of all waves but the mean

 private:
  struct Transform;

  Grid patch_, outer_;
  double least_Pa_per_m_ = 0.0;
  std::unique_ptr<Transform> transform_;
};

}  // namespace pellicle::imprint
