// What pressure does a displaced face of the sheet need, and the reverse, on a regular grid?
#include "solver/imprint/layer_operator.h"

#include "mesh/check.h"

#include <fftw3.h>
#include <omp.h>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <mutex>
#include <new>
#include <numbers>
#include <string>

namespace pellicle::imprint {
namespace {

constexpr std::size_t kTogether = 8;        // columns transformed at a time: two cache lines of every row
constexpr std::size_t kParallel = 1 << 14;  // points from which threads are worth waking
constexpr double kMarginThicknesses = 4.0;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

struct Released {
  void operator()(void* p) const { fftw_free(p); }
};
using Reals = std::unique_ptr<double[], Released>;
using Waves = std::unique_ptr<fftw_complex[], Released>;

template <class T>
std::unique_ptr<T[], Released> aligned(std::size_t n) {
  void* p = fftw_malloc(n * sizeof(T));
  if (!p) throw std::bad_alloc();
  return std::unique_ptr<T[], Released>(static_cast<T*>(p));
}

/// FFTW makes and destroys plans one at a time, whatever thread asks: this lock is the library's, not ours.
std::mutex& planning() {
  static std::mutex mutex;
  return mutex;
}

struct PlanDestroyed {
  void operator()(fftw_plan plan) const {
    const std::lock_guard lock(planning());
    fftw_destroy_plan(plan);
  }
};
using Plan = std::unique_ptr<fftw_plan_s, PlanDestroyed>;

/// The next even number from n on that has no factor above 5, in steps that can be halved a few times.
int smooth_size(int n) {
  const int step = n >= 256 ? 16 : 2;
  for (int m = (n + step - 1) / step * step;; m += step) {
    int rest = m;
    for (const int factor : {2, 3, 5}) {
      while (rest % factor == 0) rest /= factor;
    }
    if (rest == 1) return m;
  }
}

int padded_size(int n, double thickness_points) {
  if (n == 1) return 1;
  const int wide = static_cast<int>(std::min(std::ceil(kMarginThicknesses * thickness_points), 1.0 * n));
  return smooth_size(n + std::max(wide, n / 8));
}

/// Values a to b over the margin with level ends: 3 t^2 - 2 t^3.
double carried_on(double a, double b, int step, int steps) {
  const double t = static_cast<double>(step) / steps;
  return a + (b - a) * t * t * (3.0 - 2.0 * t);
}

}  // namespace

/// Rows of real numbers, then columns of their waves a few at a time, so that a column is multiplied while it is near.
struct LayerOperator::Transform {
  explicit Transform(const Grid& outer);
  void compute(const StiffnessTable& table, double spacing_m);
  template <class Factor>
  void apply(const std::vector<double>& in, std::vector<double>& out, Factor factor);

  std::size_t nx, ny, waves, stride;
  std::vector<double> stiffness;  // column by column: wave i along x, then j along y; 0 for the mean
  Reals row_room;                 // a row for each thread
  Waves column_room, spectrum;    // kTogether columns for each thread; all rows
  int threads;                    // that there is room for
  Plan row_forward, row_back, column_forward, column_back;
};

LayerOperator::Transform::Transform(const Grid& outer)
    : nx(at(outer.nx)), ny(at(outer.ny)), waves(nx / 2 + 1), stride((waves / 4 + 1) * 4), threads(0) {
  spectrum = aligned<fftw_complex>(stride * ny);
  const Reals row = aligned<double>(nx);
  const Waves column = aligned<fftw_complex>(ny);
  const std::lock_guard lock(planning());
  // ESTIMATE: a plan that was timed may be another one the next day, and so may the last bits.
  row_forward.reset(fftw_plan_dft_r2c_1d(outer.nx, row.get(), spectrum.get(), FFTW_ESTIMATE));
  row_back.reset(fftw_plan_dft_c2r_1d(outer.nx, spectrum.get(), row.get(), FFTW_ESTIMATE));
  column_forward.reset(fftw_plan_dft_1d(outer.ny, column.get(), column.get(), FFTW_FORWARD, FFTW_ESTIMATE));
  column_back.reset(fftw_plan_dft_1d(outer.ny, column.get(), column.get(), FFTW_BACKWARD, FFTW_ESTIMATE));
  ensure(row_forward && row_back && column_forward && column_back, "a transform of any length has a plan");
}

void LayerOperator::Transform::compute(const StiffnessTable& table, double spacing_m) {
  stiffness.assign(waves * ny, 0.0);
  const double unit_x = 2.0 * std::numbers::pi / (static_cast<double>(nx) * spacing_m);
  const double unit_y = 2.0 * std::numbers::pi / (static_cast<double>(ny) * spacing_m);
#pragma omp parallel for schedule(static) if (waves * ny > kParallel)
  for (std::size_t i = 0; i < waves; ++i) {
    for (std::size_t j = 0; j <= ny / 2; ++j) {
      if (i == 0 && j == 0) continue;
      const double s = table.stiffness_Pa_per_m(unit_x * static_cast<double>(i), unit_y * static_cast<double>(j));
      stiffness[i * ny + j] = s;
      stiffness[i * ny + (ny - j) % ny] = s;
    }
  }
}

template <class Factor>
void LayerOperator::Transform::apply(const std::vector<double>& in, std::vector<double>& out, Factor factor) {
  ensure(in.size() == nx * ny, "a field has one value for each point of the grid");
  out.resize(nx * ny);
  const int wanted = omp_get_max_threads();
  if (threads < wanted) {
    threads = wanted;
    row_room = aligned<double>((nx + 8) * at(threads));
    column_room = aligned<fftw_complex>((kTogether * (ny + 4)) * at(threads));
  }
  const double scale = 1.0 / static_cast<double>(nx * ny);
  const std::size_t row_stride = (nx + 7) / 8 * 8, column_stride = (ny + 3) / 4 * 4;
#pragma omp parallel num_threads(wanted) if (nx * ny > kParallel)
  {
    const std::size_t me = at(omp_get_thread_num());
    double* row = row_room.get() + me * row_stride;
    fftw_complex* columns = column_room.get() + me * kTogether * column_stride;
#pragma omp for schedule(static)
    for (std::size_t j = 0; j < ny; ++j) {
      std::memcpy(row, &in[j * nx], nx * sizeof(double));
      fftw_execute_dft_r2c(row_forward.get(), row, spectrum.get() + j * stride);
    }
#pragma omp for schedule(static)
    for (std::size_t first = 0; first < waves; first += kTogether) {
      const std::size_t many = std::min(kTogether, waves - first);
      for (std::size_t j = 0; j < ny; ++j) {
        const fftw_complex* from = spectrum.get() + j * stride + first;
        for (std::size_t c = 0; c < many; ++c) {
          columns[c * column_stride + j][0] = from[c][0];
          columns[c * column_stride + j][1] = from[c][1];
        }
      }
      for (std::size_t c = 0; c < many; ++c) {
        fftw_complex* column = columns + c * column_stride;
        const double* s = &stiffness[(first + c) * ny];
        if (ny > 1) fftw_execute_dft(column_forward.get(), column, column);
        for (std::size_t j = 0; j < ny; ++j) {
          const double f = factor(s[j]) * scale;
          column[j][0] *= f;
          column[j][1] *= f;
        }
        if (ny > 1) fftw_execute_dft(column_back.get(), column, column);
      }
      for (std::size_t j = 0; j < ny; ++j) {
        fftw_complex* to = spectrum.get() + j * stride + first;
        for (std::size_t c = 0; c < many; ++c) {
          to[c][0] = columns[c * column_stride + j][0];
          to[c][1] = columns[c * column_stride + j][1];
        }
      }
    }
#pragma omp for schedule(static)
    for (std::size_t j = 0; j < ny; ++j) {
      fftw_execute_dft_c2r(row_back.get(), spectrum.get() + j * stride, row);
      std::memcpy(&out[j * nx], row, nx * sizeof(double));
    }
  }
}

LayerOperator::LayerOperator(const Grid& patch, const LayerStack& stack, Boundary boundary)
    : patch_(patch), outer_(patch) {
  check(stack);
  if (patch.nx < 4 || patch.ny < 1 || !(patch.spacing_m > 0.0)) {
    throw Error({Fault::Kind::kCase, "relief, its grid",
                 std::to_string(patch.nx) + " x " + std::to_string(patch.ny) + " points, " +
                     std::to_string(patch.spacing_m) + " m apart",
                 "4 or more along x, 1 or more along y, at a distance above 0", ""});
  }
  if (boundary == Boundary::kPadded) {
    outer_.nx = padded_size(patch.nx, stack.thickness_m() / patch.spacing_m);
    outer_.ny = padded_size(patch.ny, stack.thickness_m() / patch.spacing_m);
  }
  const double extent_m = std::max(outer_.nx, outer_.ny) * outer_.spacing_m;
  const double largest_1_m = std::numbers::sqrt2 * std::numbers::pi / outer_.spacing_m;
  const StiffnessTable table(stack, 2.0 * std::numbers::pi / extent_m, largest_1_m);
  transform_ = std::make_unique<Transform>(outer_);
  transform_->compute(table, outer_.spacing_m);
  const auto& s = transform_->stiffness;
  least_Pa_per_m_ = *std::min_element(s.begin() + 1, s.end());
}

LayerOperator::~LayerOperator() = default;
LayerOperator::LayerOperator(LayerOperator&&) noexcept = default;
LayerOperator& LayerOperator::operator=(LayerOperator&&) noexcept = default;

std::vector<double> LayerOperator::padded(const std::vector<double>& on_patch) const {
  ensure(on_patch.size() == patch_.points(), "a field of a patch has one value for each of its points");
  const std::size_t nx = at(patch_.nx), ny = at(patch_.ny), wide = at(outer_.nx), high = at(outer_.ny);
  std::vector<double> all(outer_.points());
  const int margin_x = outer_.nx - patch_.nx, margin_y = outer_.ny - patch_.ny;
  for (std::size_t j = 0; j < ny; ++j) {
    std::copy_n(&on_patch[j * nx], nx, &all[j * wide]);
    for (int m = 0; m < margin_x; ++m) {
      all[j * wide + nx + at(m)] = carried_on(all[j * wide + nx - 1], all[j * wide], m + 1, margin_x + 1);
    }
  }
  for (std::size_t j = ny; j < high; ++j) {
    for (std::size_t i = 0; i < wide; ++i) {
      const int m = static_cast<int>(j - ny);
      all[j * wide + i] = carried_on(all[(ny - 1) * wide + i], all[i], m + 1, margin_y + 1);
    }
  }
  return all;
}

std::vector<double> LayerOperator::cropped(const std::vector<double>& on_outer) const {
  ensure(on_outer.size() == outer_.points(), "a field of a patch and its margin has one value for each point");
  std::vector<double> patch(patch_.points());
  for (std::size_t j = 0; j < at(patch_.ny); ++j) {
    std::copy_n(&on_outer[j * at(outer_.nx)], at(patch_.nx), &patch[j * at(patch_.nx)]);
  }
  return patch;
}

void LayerOperator::stiffness(const std::vector<double>& u_m, std::vector<double>& traction_Pa) {
  transform_->apply(u_m, traction_Pa, [](double s) { return s; });
}

void LayerOperator::compliance(const std::vector<double>& traction_Pa, double bedding_Pa_per_m,
                               std::vector<double>& u_m) {
  transform_->apply(traction_Pa, u_m, [=](double s) {
    const double all = s + bedding_Pa_per_m;
    return all > 0.0 ? 1.0 / all : 0.0;
  });
}

}  // namespace pellicle::imprint
