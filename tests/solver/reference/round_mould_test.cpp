// Are the sheets in round moulds right? Virtual work, material, the shape of the mould, no pull from it, and limits.
#include "solver/reference/round_mould.h"
#include "solver/reference/sticking.h"
#include "tests/solver/reference/balance.h"
#include "tests/solver/reference/samples.h"

#include <gtest/gtest.h>

#include <functional>

namespace pellicle::reference {
namespace {

constexpr double kRadius_m = 0.05, kThickness_m = 1e-3;
constexpr double kRight = 0.5 * std::numbers::pi;

struct Kind {
  std::string name;
  double pressure_Pa;
  std::function<Meridian(const ClampedDisc&, double pressure_Pa)> state;
  std::function<double(const MeridianPoint&, const Meridian&)> off_mould_m;  ///< distance of a touching point
  double mould_curvature_m;                                                  ///< k1 on the mould, 1/m
  bool sticks;
};

std::vector<Kind> kinds() {
  const auto cone = [](double b) {
    return [b](const MeridianPoint& p, const Meridian& m) {
      return ((m.height_m - p.z_m) - (kRadius_m - p.r_m) * std::tan(b)) * std::cos(b);
    };
  };
  const auto wall = [](const MeridianPoint& p, const Meridian&) { return p.r_m - kRadius_m; };
  const auto ball = [](const MeridianPoint& p, const Meridian&) {
    return std::hypot(p.r_m, p.z_m + 0.5 * kRadius_m) - 0.5 * kRadius_m;
  };
  return {
      {"sliding cone 45", 3e4, [](const ClampedDisc& d, double p) { return in_sliding_cone_at(d, kRight / 2, p); },
       cone(kRight / 2), 0.0, false},
      {"sliding cone 60", 3e4, [](const ClampedDisc& d, double p) { return in_sliding_cone_at(d, kRight / 1.5, p); },
       cone(kRight / 1.5), 0.0, false},
      {"sliding cup", 3e4, [](const ClampedDisc& d, double p) { return in_sliding_cup(d, kRadius_m, p); },
       [wall](const MeridianPoint& p, const Meridian& m) { return p.z_m == 0.0 ? 0.0 : wall(p, m); }, 0.0, false},
      {"sliding sphere", 6e3, [](const ClampedDisc& d, double p) { return over_sliding_sphere(d, 0.5 * kRadius_m, p); },
       ball, -2.0 / kRadius_m, false},
      {"sticking cone 45", 3e4, [](const ClampedDisc& d, double p) { return in_sticking_cone(d, kRight / 2, p); },
       cone(kRight / 2), 0.0, true},
      {"sticking cone 60", 3e4, [](const ClampedDisc& d, double p) { return in_sticking_cone(d, kRight / 1.5, p); },
       cone(kRight / 1.5), 0.0, true},
      {"sticking cylinder", 2.5e4, [](const ClampedDisc& d, double p) { return in_sticking_cone(d, kRight, p); }, wall,
       0.0, true},
      {"sticking sphere", 6e3,
       [](const ClampedDisc& d, double p) { return over_sticking_sphere(d, 0.5 * kRadius_m, p); }, ball,
       -2.0 / kRadius_m, true}};
}

TEST(RoundMould, EveryStateHoldsTogether) {
  int checked = 0, touching = 0;
  for (const LawSample& s : law_samples())
    for (const Kind& k : kinds()) {
      if (s.name == "neo-Hookean" && k.name == "sticking cylinder") continue;  // it runs away: no limit to its depth
      // Searches over spheres take a second each: two laws will do.
      if (k.mould_curvature_m < 0.0 && s.name != "neo-Hookean" && s.name != "Ogden") continue;
      const std::string what = s.name + ", " + k.name;
      const ClampedDisc disc{s.law, kRadius_m, kThickness_m};
      const Meridian m = k.state(disc, k.pressure_Pa);
      // The state of a march is found by straight lines between two of its steps.
      EXPECT_NEAR(m.pressure_Pa, k.pressure_Pa, 2e-4 * k.pressure_Pa) << what;
      expect_whole(m, disc, what);
      // Trapezoid over 2 % of pressure; marches keep volume and energy by their steps, 0.2 %.
      expect_work(m, k.state(disc, 1.02 * k.pressure_Pa), k.sticks ? 2e-3 : 2e-4, what);
      for (const MeridianPoint& p : m.points) {
        if (!p.touching || p.flat_m == 0.0) continue;
        EXPECT_NEAR(k.off_mould_m(p, m), 0.0, 1e-4 * kRadius_m) << what;
        // What pressure and tension leave over presses on the mould.
        const double k2 = std::sin(p.slope_rad) / p.r_m;
        const double k1 = k.name == "sliding cup" && p.z_m == 0.0 ? 0.0 : k.mould_curvature_m;
        const double t1 = tension_1(disc, p), t2 = tension_2(disc, p);
        EXPECT_GT(m.pressure_Pa - t1 * k1 - t2 * k2, -1e-3 * m.pressure_Pa) << what << " at " << p.flat_m;
        ++touching;
      }
      for (std::size_t i = 1; i < m.points.size(); ++i)
        ASSERT_LT(std::fabs(m.points[i].slope_rad - m.points[i - 1].slope_rad), 0.1) << what << ": a kink";
      EXPECT_FALSE(m.contact_lines_m().empty()) << what;
      ++checked;
    }
  EXPECT_EQ(checked, 27);
  EXPECT_GT(touching, 3000);
}

// Where the free disc first leans on the wall the two are one.
TEST(RoundMould, ConesBeginAsTheFreeDisc) {
  const ClampedDisc disc{yeoh(0.15e6, 0.01e6, 0.002e6), kRadius_m, kThickness_m};
  double l = 1.05;
  while (inflated_disc(disc, l).points.back().slope_rad < kRight / 2) l += 1e-3;
  const Meridian free = inflated_disc(disc, l);
  for (const Meridian& m : {in_sliding_cone_at(disc, kRight / 2, free.pressure_Pa),
                            in_sticking_cone(disc, kRight / 2, 1.001 * free.pressure_Pa)}) {
    EXPECT_NEAR(m.height_m, free.height_m, 2e-3 * free.height_m);
    EXPECT_NEAR(m.points.front().thickness(), free.points.front().thickness(), 5e-3);
  }
}

// Neo-Hookean walls at large stretch thin as the conformal bubble says (sticking.h): in the cone with the exponent
// 2 (sec b - 1) of the radius. The neglected term is (h/h0)^3.
TEST(RoundMould, StickingConeComesToItsExponent) {
  const double b = std::numbers::pi / 3.0;
  const Meridian m = in_sticking_cone({neo_hookean(0.3e6), kRadius_m, kThickness_m}, b, 4e5);
  const MeridianPoint outer = m.at(0.02 * kRadius_m), inner = m.at(0.01 * kRadius_m);
  ASSERT_TRUE(inner.touching);
  const double exponent = std::log(outer.thickness() / inner.thickness()) / std::log(outer.r_m / inner.r_m);
  EXPECT_NEAR(exponent, cone_exponent_neo_hookean(b), 0.01 * cone_exponent_neo_hookean(b));
}

// One tension in the section of a long trench, so one stretch; the free half circle is in balance with it.
TEST(RoundMould, SlidingTrenchIsInBalance) {
  const Law law = yeoh(0.15e6, 0.03e6, 0.0);
  const SlidingTrench t = in_sliding_trench(law, 0.01, kThickness_m, 1e5);
  EXPECT_NEAR(1e5 * 0.01, kThickness_m * law(t.stretch, 1.0).w1_Pa, 1e-6 * 1e3);
  EXPECT_NEAR(t.stretch * 0.01, t.wall_m + 0.5 * std::numbers::pi * 0.01, 1e-12);
  EXPECT_GT(t.wall_m, 0.0);
  EXPECT_THROW(in_sliding_trench(law, 0.01, kThickness_m, 1e3), std::runtime_error);
}

// A state that is not there is said, not made up.
TEST(RoundMould, SaysWhatItCannotFind) {
  const ClampedDisc disc{neo_hookean(0.3e6), kRadius_m, kThickness_m};
  EXPECT_THROW(in_sticking_cone(disc, kRight, 3e4), std::runtime_error) << "runs away";
  EXPECT_THROW(in_sticking_cone(disc, kRight / 2, 100.0), std::runtime_error) << "does not reach the wall";
  EXPECT_THROW(in_sliding_cup(disc, 10.0 * kRadius_m, 1e3), std::runtime_error) << "does not reach the floor";
}

}  // namespace
}  // namespace pellicle::reference
