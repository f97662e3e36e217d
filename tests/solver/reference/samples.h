// Which laws are the reference answers tried with? The four kinds, and their energies written out once more.
#pragma once

#include "solver/reference/law.h"

#include <cmath>
#include <functional>
#include <string>
#include <vector>

namespace pellicle::reference {

struct LawSample {
  std::string name;
  Law law;
  std::function<double(double, double, double)> energy_Pa;  ///< of the three stretches
  double shear_modulus_Pa;
};

inline std::vector<LawSample> law_samples() {
  const auto i1 = [](double a, double b, double c) { return a * a + b * b + c * c - 3.0; };
  const auto i2 = [](double a, double b, double c) { return a * a * b * b + b * b * c * c + c * c * a * a - 3.0; };
  const auto term = [](double mu, double n, double a, double b, double c) {
    return mu / n * (std::pow(a, n) + std::pow(b, n) + std::pow(c, n) - 3.0);
  };
  return {
      {"neo-Hookean", neo_hookean(0.3e6), [=](double a, double b, double c) { return 0.15e6 * i1(a, b, c); }, 0.3e6},
      {"Mooney-Rivlin", mooney_rivlin(0.12e6, 0.02e6),
       [=](double a, double b, double c) { return 0.12e6 * i1(a, b, c) + 0.02e6 * i2(a, b, c); }, 0.28e6},
      {"Yeoh", yeoh(0.15e6, 0.01e6, 0.002e6),
       [=](double a, double b, double c) {
         const double i = i1(a, b, c);
         return 0.15e6 * i + 0.01e6 * i * i + 0.002e6 * i * i * i;
       },
       0.3e6},
      {"Ogden", ogden({{0.63e6, 1.3}, {0.0012e6, 5.0}, {-0.01e6, -2.0}}),
       [=](double a, double b, double c) {
         return term(0.63e6, 1.3, a, b, c) + term(0.0012e6, 5.0, a, b, c) + term(-0.01e6, -2.0, a, b, c);
       },
       0.5 * (0.63e6 * 1.3 + 0.0012e6 * 5.0 + 0.01e6 * 2.0)}};
}

}  // namespace pellicle::reference
