// What are the logarithm and the exponential of several numbers at once?
//
// Own, so that the bits do not depend on the library of the machine, and so that they stay in vector code. Coefficients
// by interpolation at Chebyshev nodes, worked out with 60 digits. Errors are those of the polynomial; rounding adds
// about 2e-16. tests/solver/sheet/log_exp_test.cpp measures the sum.
#pragma once

#include "solver/sheet/kernel/lanes.h"

namespace pellicle::sheet::PELLICLE_KERNEL_SET {

// ln 2 in two parts; the first has so few digits that its product with an exponent is exact (Cody and Waite; the split
// from memory).
inline constexpr double kLn2High = 6.93147180369123816490e-01, kLn2Low = 1.90821492927058770002e-10;

/// Natural logarithm of a positive, normal number. With x = 2^k f, f in [1/sqrt 2, sqrt 2), and z = (f-1)/(f+1):
///   log f = 2 z (1 + z^2/3 + z^4/5 + ...), the bracket by a polynomial to a relative error of 5e-18.
inline Lanes log_of(Lanes x) {
  constexpr std::uint64_t kHalfRoot = 0x3fe6a09e667f3bcdULL, kOne = 1023ULL << 52, kTwoTo52 = 0x4330000000000000ULL;
  const Bits k = (bits_of(x) - kHalfRoot + kOne) >> 52;  // exponent + 1023
  const Lanes f = lanes_of(bits_of(x) - (k << 52) + kOne);
  const Lanes exponent = lanes_of(k | kTwoTo52) - (4503599627370496.0 + 1023.0);
  const Lanes z = (f - 1.0) / (f + 1.0), w = z * z, w2 = w * w;
  const Lanes p01 = 0.3333333333333335 + 0.19999999999949722 * w, p23 = 0.14285714313001635 + 0.11111105565129939 * w,
              p45 = 0.09091444727837474 + 0.07665855309105386 * w;
  const Lanes p = p01 + w2 * (p23 + w2 * (p45 + 0.07308292712444311 * w2));
  return exponent * kLn2High + (2.0 * z + (2.0 * z * w * p + exponent * kLn2Low));
}

/// e^d = scale (1 + rest), with scale a power of two.
struct Exponential {
  Lanes scale, rest;
  Lanes value() const { return scale + scale * rest; }
  Lanes less_one() const { return (scale - 1.0) + scale * rest; }  ///< e^d - 1, good to the last digits near d = 0
};

/// With d = k ln 2 + r, |r| <= ln 2 / 2: rest = e^r - 1 = r + r^2 Q(r), relative error of the polynomial 4e-17. Beyond
/// +-708 the value stays what it is there.
inline Exponential exponential(Lanes d) {
  constexpr double kMost = 708.0, kRound = 6755399441055744.0;  // 1.5 x 2^52: what is added to it is rounded
  d = d > kMost ? splat(kMost) : d;
  d = d < -kMost ? splat(-kMost) : d;
  const Lanes shifted = d * 1.4426950408889634 + kRound, k = shifted - kRound;
  const Lanes r = (d - k * kLn2High) - k * kLn2Low;
  const Lanes r2 = r * r, r4 = r2 * r2;
  const Lanes q01 = 0.5000000000000001 + 0.16666666666666669 * r, q23 = 0.04166666666662413 + 0.008333333333330062 * r,
              q45 = 0.0013888888917213717 + 0.00019841269863053618 * r,
              q67 = 2.4801521295954376e-05 + 2.7557268459997064e-06 * r,
              q89 = 2.7620088445409746e-07 + 2.510038549551032e-08 * r;
  const Lanes q = (q01 + q23 * r2) + r4 * ((q45 + q67 * r2) + r4 * q89);
  return {lanes_of((bits_of(shifted) + 1023ULL) << 52), r + r2 * q};
}

}  // namespace pellicle::sheet::PELLICLE_KERNEL_SET
