// How long does the sheet over fine detail take to compute, and how much memory?
#include "tests/bench/imprint_time.h"

#include "solver/imprint/press.h"
#include "solver/imprint/section.h"
#include "tests/bench/clock.h"

#include <fmt/core.h>
#include <sys/resource.h>

#include <algorithm>
#include <cmath>

namespace pellicle {
namespace {

constexpr double kModulus_Pa = 0.3e6;

double peak_MB() {
  rusage usage{};
  ::getrusage(RUSAGE_SELF, &usage);
  return 1e-3 * static_cast<double>(usage.ru_maxrss);
}

/// Bars of 0.3 mm, 0.4 mm high or deep, in rows like lines of text: broken, of many lengths, some turned.
std::vector<double> lettering(int n, double spacing_m, double height_m) {
  std::vector<double> z(static_cast<std::size_t>(n) * static_cast<std::size_t>(n), 0.0);
  constexpr double kLine_m = 4e-3, kStroke_m = 0.3e-3;
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < n; ++i) {
      const double x = i * spacing_m, y = j * spacing_m;
      const double in_line = std::fmod(y, kLine_m),
                   letter = std::fmod(x + 0.37 * std::floor(y / kLine_m) * kLine_m, 2.2e-3);
      const bool upright = in_line > 0.7e-3 && in_line < 3.3e-3 && letter < kStroke_m;
      const bool bar = std::fabs(in_line - 2.0e-3) < 0.5 * kStroke_m && letter < 1.4e-3;
      const bool slant =
          in_line > 0.7e-3 && in_line < 3.3e-3 && std::fabs(letter - 0.4 * in_line - 0.4e-3) < 0.5 * kStroke_m;
      if (upright || bar || slant)
        z[static_cast<std::size_t>(j) * static_cast<std::size_t>(n) + static_cast<std::size_t>(i)] = height_m;
    }
  return z;
}

ImprintRun press(const char* what, int n, double height_m, double stretch, double wanted_s) {
  constexpr double kSpacing_m = 0.02e-3, kGap_m = 1e-6;
  const std::vector<double> mould_m = lettering(n, kSpacing_m, height_m);
  const double before_MB = peak_MB(), from_s = now_s();
  imprint::Press press({n, n, kSpacing_m}, {{{0.5e-3, kModulus_Pa}}, stretch, stretch}, imprint::Boundary::kPadded);
  const imprint::Pressed pressed = press.solve(mould_m, 1.3 * kModulus_Pa, {.gap_error_m = kGap_m});
  const double seconds = now_s() - from_s;
  return {fmt::format("press, {0} x {0} cells, {1}, {2} iterations, gap to {3:.2f} um", n, what, pressed.iterations,
                      1e6 * pressed.gap_error_m),
          2, seconds, wanted_s, peak_MB() - before_MB};
}

ImprintRun section(const char* what, double width_m, double depth_m, double pressure, imprint::SectionTouch touch) {
  imprint::SectionTask task;
  task.sheet = {0.5e-3, kModulus_Pa, 1.2, 1.0, {}};
  task.profile = imprint::half_slot(width_m, depth_m, 5.0 * width_m);
  task.pressure_Pa = pressure * kModulus_Pa;
  task.touch = touch;
  const double before_MB = peak_MB(), from_s = now_s();
  const imprint::SectionResult done = imprint::solve_section(task);
  const double seconds = now_s() - from_s;
  return {fmt::format("section, {}, {} elements, {:.3f} mm deep", what, done.elements, 1e3 * done.depth_m), 1, seconds,
          3.0, peak_MB() - before_MB};
}

}  // namespace

std::vector<ImprintRun> time_imprint() {
  constexpr double kStroke_m = 0.4e-3;
  std::vector<ImprintRun> runs;
  use_threads(1);
  runs.push_back(
      section("sharp slot as wide as the sheet, p = G, sticking", 0.5e-3, 0.5e-3, 1.0, imprint::SectionTouch::kStick));
  runs.push_back(section("the same, sliding", 0.5e-3, 0.5e-3, 1.0, imprint::SectionTouch::kSlip));
  runs.push_back(
      section("twice as wide and filled, p = 2 G, sliding", 1e-3, 0.3e-3, 2.0, imprint::SectionTouch::kSlip));
  use_threads(2);
  runs.push_back(press("sunk lettering, stretched 1.3 both ways", 1024, -kStroke_m, 1.3, 1.5));
  runs.push_back(press("raised lettering, not stretched", 1024, kStroke_m, 1.0, 5.0));
  runs.push_back(press("raised lettering, not stretched", 2048, kStroke_m, 1.0, 8.0));
  return runs;
}

}  // namespace pellicle
