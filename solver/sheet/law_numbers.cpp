// What are the numbers of a law?
#include "solver/sheet/law_numbers.h"

#include <algorithm>
#include <cmath>

namespace pellicle::sheet {
namespace {

static_assert(LawNumbers::kMostTerms == Ogden::kMostTerms);

LawNumbers numbers(const NeoHookean& law) { return {LawNumbers::kNeoHookean, 0, {law.shear_modulus_Pa}, {}, {}}; }
LawNumbers numbers(const MooneyRivlin& law) { return {LawNumbers::kMooneyRivlin, 0, {law.c10_Pa, law.c01_Pa}, {}, {}}; }
LawNumbers numbers(const Yeoh& law) { return {LawNumbers::kYeoh, 0, {law.c10_Pa, law.c20_Pa, law.c30_Pa}, {}, {}}; }
LawNumbers numbers(const Ogden& law) {
  LawNumbers n{LawNumbers::kOgden, law.terms, {}, {}, {}};
  std::copy(law.mu_Pa.begin(), law.mu_Pa.end(), n.modulus_Pa);
  std::copy(law.alpha.begin(), law.alpha.end(), n.alpha);
  // Beyond the sixth power products take longer than an exponential.
  constexpr double kMostWhole = 6.0;
  for (int k = 0; k < law.terms; ++k) {
    const double half = 0.5 * n.alpha[k];
    if (std::fabs(half) <= kMostWhole && half == std::floor(half)) n.whole[k] = static_cast<int>(half);
  }
  return n;
}

}  // namespace

LawNumbers numbers_of(const Polymer& polymer) {
  return std::visit([](const auto& law) { return numbers(law); }, polymer);
}

}  // namespace pellicle::sheet
