// Are the time steps of the heat as accurate as they say, and do they keep heat, order and bits?
#include "mesh/check.h"
#include "solver/sheet/heat.h"
#include "tests/solver/sheet/heat_samples.h"
#include "tests/solver/sheet/sheet_samples.h"
#include "tests/solver/threads.h"

#include <gtest/gtest.h>
#include <Eigen/Eigenvalues>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <numbers>

namespace pellicle::sheet {
namespace {

constexpr int kCells = 12, kRows = kMouldCells + kCells;

/// The same cells as one dense system C dT/dt = -A T + b, solved without time steps by its eigenvectors. Rows from the
/// mould's depth to the free side.
class Twin {
 public:
  Twin(double contact_W_m2K, double effusivity, HeatFilm free_side, HeatFilm open_side)
      : C_(kRows), A_(Eigen::MatrixXd::Zero(kRows, kRows)), b_(Eigen::VectorXd::Zero(kRows)) {
    const MouldChain chain = mould_chain();
    const std::vector<double> edges = heat_cell_edges(kCells);
    const HeatMaterial& m = kPolystyrene;
    const auto width_m = [&](int c) { return kSheet_m * (edges[at(c + 1)] - edges[at(c)]); };
    for (int j = 0; j < kMouldCells; ++j) C_[kMouldCells - 1 - j] = effusivity * chain.capacity[j];
    for (int c = 0; c < kCells; ++c) C_[kMouldCells + c] = m.density_kg_m3 * m.specific_heat_J_kgK * width_m(c);
    for (int j = 0; j + 1 < kMouldCells; ++j) link(kMouldCells - 1 - j, effusivity / chain.resistance[j]);
    for (int c = 0; c + 1 < kCells; ++c)
      link(kMouldCells + c + 1, 2.0 * m.conductivity_W_mK / (width_m(c) + width_m(c + 1)));
    const double half = 0.5 * width_m(0) / m.conductivity_W_mK;
    if (contact_W_m2K > 0.0) link(kMouldCells, 1.0 / (1.0 / contact_W_m2K + half + chain.entry / effusivity));
    film(kMouldCells, contact_W_m2K > 0.0 ? HeatFilm{} : open_side, half);
    film(kRows - 1, free_side, 0.5 * width_m(kCells - 1) / m.conductivity_W_mK);
    const Eigen::VectorXd root = C_.cwiseSqrt();
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(root.cwiseInverse().asDiagonal() * A_ *
                                                                root.cwiseInverse().asDiagonal());
    rate_ = solver.eigenvalues();
    mode_ = root.cwiseInverse().asDiagonal() * solver.eigenvectors();
    back_ = solver.eigenvectors().transpose() * root.asDiagonal();
  }

  Eigen::VectorXd after(const Eigen::VectorXd& T_K, double t_s) const {
    const Eigen::VectorXd load = mode_.transpose() * b_;
    Eigen::VectorXd y = back_ * T_K;
    for (int i = 0; i < kRows; ++i) {
      const double z = rate_[i] * t_s;
      y[i] = y[i] * std::exp(-z) + load[i] * (std::fabs(z) > 1e-12 ? -std::expm1(-z) / rate_[i] : t_s);
    }
    return mode_ * y;
  }
  const Eigen::MatrixXd& modes() const { return mode_; }
  const Eigen::VectorXd& rates() const { return rate_; }

 private:
  void link(int row, double conductance) {  // from row - 1 to row
    A_(row, row) += conductance, A_(row - 1, row - 1) += conductance;
    A_(row, row - 1) -= conductance, A_(row - 1, row) -= conductance;
  }
  void film(int row, HeatFilm f, double half) {
    const double conductance = f.film_W_m2K / (1.0 + f.film_W_m2K * half);
    A_(row, row) += conductance, b_[row] += conductance * f.gas_K;
  }
  Eigen::VectorXd C_;
  Eigen::MatrixXd A_;
  Eigen::VectorXd b_, rate_;
  Eigen::MatrixXd mode_, back_;
};

Eigen::VectorXd rows_of(const Place& place) {
  Eigen::VectorXd T(kRows);
  for (int j = 0; j < kMouldCells; ++j) T[kMouldCells - 1 - j] = place.state.mould_K[at(j)][0];
  for (int c = 0; c < kCells; ++c) T[kMouldCells + c] = place.cell_K(c);
  return T;
}

void set_rows(Place& place, const Eigen::VectorXd& T) {
  for (int j = 0; j < kMouldCells; ++j) place.state.mould_K[at(j)].setConstant(T[kMouldCells - 1 - j]);
  for (int c = 0; c < kCells; ++c) place.state.sheet_K[at(c)].setConstant(T[kMouldCells + c]);
}

constexpr HeatFilm kFan{60.0, 300.0}, kBelow{15.0, 310.0};

struct Span {
  double length_s;
  bool touches;
};

// Open, touch within a step, lift off, touch again: what the steps are off by stays below the sum of their estimates,
// and that below half a kelvin, whatever the length of the steps.
TEST(HeatStep, TimeErrorStaysBelowItsBound) {
  int checked = 0;
  double largest_bound_K = 0.0;
  for (const double effusivity : {kResin, kAluminium}) {
    for (const double conductance : {500.0, 3000.0}) {
      for (const double dt_s : {1e-3, 4e-3, 0.032}) {
        const Twin on(conductance, effusivity, kFan, kBelow), off(0.0, effusivity, kFan, kBelow);
        Place place;
        place.effusivity[0] = effusivity, place.contact_W_m2K = conductance;
        place.free_side = kFan, place.open_side = kBelow;
        Eigen::VectorXd exact = rows_of(place);
        // The first touch falls inside a step: 0.3 of it open.
        const std::vector<Span> spans{
            {0.064 + 0.3 * dt_s, false}, {0.128 + 0.7 * dt_s, true}, {0.032, false}, {0.32, true}};
        double t_s = 0.0, begin_s = 0.0, worst = 0.0;
        for (const Span& span : spans) {
          const double end_s = begin_s + span.length_s;
          while (t_s + dt_s < end_s + 1e-9) {
            t_s += dt_s;
            place.contact_s[0] = span.touches ? t_s - begin_s : 0.0;
            place.step(dt_s);
            const Eigen::VectorXd here = (span.touches ? on : off).after(exact, t_s - begin_s);
            worst = std::max(worst, (rows_of(place) - here).cwiseAbs().maxCoeff());
            ++checked;
          }
          exact = (span.touches ? on : off).after(exact, span.length_s);
          begin_s = end_s;
        }
        EXPECT_GT(worst, 1e-4) << "the steps are no exact solution";
        EXPECT_LT(worst, place.state.time_error_K[0]) << effusivity << ' ' << conductance << ' ' << dt_s;
        largest_bound_K = std::max(largest_bound_K, place.state.time_error_K[0]);
        EXPECT_LT(place.state.time_error_K[0], 0.5) << effusivity << ' ' << conductance << ' ' << dt_s;
      }
    }
  }
  RecordProperty("largest_bound_K", std::to_string(largest_bound_K));
  EXPECT_GT(checked, 2000);
}

// A landing inside a step is what two steps with the landing between them are. Films as strong as contact, so that the
// time before it counts: without it the sheet would be 4 K warmer.
TEST(HeatStep, LandingInsideAStepIsTwoSteps) {
  Place one, two;
  for (Place* place : {&one, &two}) {
    place->free_side = {1000.0, 300.0}, place->open_side = {1000.0, 300.0};
    place->contact_W_m2K = 1000.0;
  }
  one.contact_s[0] = 0.03, one.step(0.05);
  two.step(0.02);
  two.contact_s[0] = kAlways_s, two.step(0.03);
  const double steps_K = one.state.time_error_K[0] + two.state.time_error_K[0];
  EXPECT_LT(steps_K, 0.4);
  EXPECT_LT((rows_of(one) - rows_of(two)).cwiseAbs().maxCoeff(), steps_K);
  EXPECT_NEAR(mean_K(one.state, 0), mean_K(two.state, 0), 0.02);
}

// Mode by mode of the real system, from 0.01 to 2500 in dt times rate: the error of one part is below its estimate, so
// it is for any sum of modes in the norm in which they are orthogonal. Amplitudes are so small that the part is not
// cut.
TEST(HeatStep, EstimateCoversEveryMode) {
  const HeatFilm gas{60.0, 300.0};
  const Twin twin(2000.0, kResin, gas, {});
  int checked = 0;
  double fastest = 0.0;
  for (const double dt_s : {1e-4, 1e-3, 1e-2, 0.1, 1.0}) {
    for (int mode = 0; mode < kRows; ++mode) {
      const double z = twin.rates()[mode] * dt_s;
      if (z < 0.01) continue;
      fastest = std::max(fastest, z);
      Eigen::VectorXd T = twin.modes().col(mode);
      T *= 5e-3 / ((1.0 + z) * T.cwiseAbs().maxCoeff());
      Place place;
      place.touch(2000.0, kResin);
      place.free_side = gas;
      place.state.part_step_s[0] = 10.0;
      set_rows(place, Eigen::VectorXd::Constant(kRows, 300.0) + T);
      place.step(dt_s);
      const Eigen::VectorXd exact = Eigen::VectorXd::Constant(kRows, 300.0) + T * std::exp(-z);
      const double error = (rows_of(place) - exact).cwiseAbs().maxCoeff();
      EXPECT_LT(error, place.state.time_error_K[0] + 2e-12) << z;  // round-off of 300 K, a few bits
      ++checked;
    }
  }
  EXPECT_GT(checked, 50);
  EXPECT_GT(fastest, 2500.0);
}

TEST(HeatStep, IsOfSecondOrderInTime) {
  // A gentle film, one part a step once the corner at the start has gone; the dense twin is exact.
  const HeatFilm gas{40.0, 300.0};
  const Twin twin(0.0, kResin, gas, {});
  std::vector<double> errors;
  Place begin;
  begin.free_side = gas;
  begin.steps(200, 5e-3);
  const Eigen::VectorXd start = rows_of(begin);
  for (const int n : {4, 8, 16}) {
    Place place = begin;
    place.state.part_step_s[0] = 100.0;
    place.steps(n, 1.0 / n);
    errors.push_back((rows_of(place) - twin.after(start, 1.0)).cwiseAbs().maxCoeff());
  }
  // The part that is cubic in dt still shows; a first-order scheme would give 2, a wrong weight too.
  EXPECT_GT(errors[1], 1e-6);
  EXPECT_NEAR(errors[0] / errors[1], 4.0, 0.5) << errors[0] << ' ' << errors[1] << ' ' << errors[2];
  EXPECT_NEAR(errors[1] / errors[2], 4.0, 0.3) << errors[0] << ' ' << errors[1] << ' ' << errors[2];
}

// At first touch nothing rings: no cell warms again, the profile rises from the mould to the free side, and all lies
// between the mould and the hot sheet. L-stable parts, short at the jump whatever the step asked for. (In perfect
// contact the two faces may rise by the ripple of the mould's chain, 0.4 %.)
TEST(HeatStep, TouchCoolsEveryCellAllTheTime) {
  int checked = 0;
  for (const double effusivity : {kResin, kAluminium}) {
    for (const double conductance : {500.0, 1000.0, 3000.0}) {
      for (const double dt_s : {1e-4, 2e-3, 0.05}) {
        Place place;
        place.touch(conductance, effusivity);
        std::vector<HeatLanes> before = place.state.sheet_K;
        double face_K = kHot_K;
        for (int k = 0; k < 100; ++k) {
          place.step(dt_s);
          const double limit = 1e-10;  // round-off of 400 K over 20 rows
          EXPECT_LE(place.face_K(), face_K + limit) << conductance << ' ' << dt_s << ' ' << k;
          EXPECT_LT(place.mould_face_K(), place.face_K());
          EXPECT_GT(place.mould_face_K(), kMould_K);
          EXPECT_LT(place.face_K(), place.cell_K(0));
          for (int c = 0; c < kCells; ++c) {
            EXPECT_LE(place.cell_K(c), before[at(c)][0] + limit) << conductance << ' ' << dt_s << ' ' << k << ' ' << c;
            if (c > 0) {
              EXPECT_LE(place.cell_K(c - 1), place.cell_K(c) + limit) << k << ' ' << c;
            }
          }
          face_K = place.face_K();
          before = place.state.sheet_K;
          ++checked;
        }
      }
    }
  }
  EXPECT_EQ(checked, 1800);
}

/// A sheet whose nodes stretch, land at times of their own, some lift off and land again.
Place busy_sheet(int nodes, int steps) {
  Place place(
      kCells,
      [](const Vec2&) {
        return FaceTemperatures{410.0, 400.0};
      },
      nodes);
  place.free_side = kFan, place.open_side = kBelow;
  const double dt_s = 2e-3;
  for (int k = 1; k <= steps; ++k) {
    for (int i = 0; i < nodes; ++i) {
      const double lands_s = dt_s * (0.37 * (i % 97) + 1.3), t_s = dt_s * k;
      const bool away = i % 5 == 0 && k > 30 && k < 40;
      place.contact_s[at(i)] = away ? 0.0 : i % 5 == 0 && k >= 40 ? t_s - 39.4 * dt_s : t_s - lands_s;
      place.effusivity[at(i)] = i % 2 == 0 ? kResin : kAluminium;
      if (place.contact_s[at(i)] <= 0.0) place.thickness_m[at(i)] *= 1.0 - 0.01 * (i % 3);
    }
    place.step(dt_s);
  }
  return place;
}

TEST(HeatStep, KeepsTheAccountOfEveryNode) {
  const int nodes = 101;
  const Place place = busy_sheet(nodes, 60);
  // Heat in the sheet: 1.4 kJ/m2K times 400 K; each of 500 parts rounds at 1e-16 of it.
  const double held_J_m2 = kPolystyrene.density_kg_m3 * kPolystyrene.specific_heat_J_kgK * kSheet_m * 400.0;
  const MouldChain chain = mould_chain();
  double most_lost = 0.0;
  int on_mould = 0;
  for (int i = 0; i < nodes; ++i) {
    const auto value = [&](const std::vector<HeatLanes>& v) { return v[at(i / kHeatLanes)][i % kHeatLanes]; };
    EXPECT_LT(std::fabs(heat_imbalance_J_m2(place.state, i)), 1e-12 * held_J_m2) << i;
    most_lost = std::max(most_lost, value(place.state.lost_below_J_m2));
    // What the mould took is what its chain holds.
    double held = 0.0;
    for (int j = 0; j < kMouldCells; ++j)
      held += chain.capacity[j] *
              (place.state.mould_K[at(i / kHeatLanes) * kMouldCells + at(j)][i % kHeatLanes] - kMould_K);
    held *= place.effusivity[at(i)];
    EXPECT_NEAR(held, value(place.state.to_mould_J_m2), 1e-11 * held_J_m2) << i;
    if (held > 0.0) ++on_mould;
  }
  EXPECT_GT(most_lost, 0.01 * held_J_m2);
  EXPECT_EQ(on_mould, nodes);
}

bool same_bits(const std::vector<HeatLanes>& a, const std::vector<HeatLanes>& b) {
  return a.size() == b.size() && std::memcmp(a.data(), b.data(), a.size() * sizeof(HeatLanes)) == 0;
}

TEST(HeatStep, HasTheSameBitsForAnyNumberOfThreads) {
  const auto run = [](int threads) {
    const Threads use(threads);
    return busy_sheet(3001, 12).state;
  };
  const HeatState one = run(1);
  int checked = 0;
  for (const int threads : {2, 3}) {
    const HeatState many = run(threads);
    EXPECT_TRUE(same_bits(one.sheet_K, many.sheet_K));
    EXPECT_TRUE(same_bits(one.mould_K, many.mould_K));
    EXPECT_TRUE(same_bits(one.face_K, many.face_K));
    EXPECT_TRUE(same_bits(one.to_mould_J_m2, many.to_mould_J_m2));
    EXPECT_TRUE(same_bits(one.lost_above_J_m2, many.lost_above_J_m2));
    EXPECT_EQ(one.part_step_s, many.part_step_s);
    EXPECT_EQ(one.time_error_K, many.time_error_K);
    ++checked;
  }
  EXPECT_EQ(checked, 2);
  EXPECT_GT(one.to_mould_J_m2[0][0], 0.0) << "some have landed";
}

// Eight nodes share their parts of a step, so a node may differ by the neighbours it has; not by more than the bound.
TEST(HeatStep, NeighboursInABlockChangeANodeLittle) {
  Place alone(kCells, evenly(kHot_K), 1), together(kCells, evenly(kHot_K), 8);
  for (int k = 1; k <= 50; ++k) {
    alone.contact_s[0] = 2e-3 * k - 0.01;
    for (int i = 0; i < 8; ++i) together.contact_s[at(i)] = 2e-3 * k - 0.01 * (1 + i);
    alone.step(2e-3), together.step(2e-3);
    for (int c = 0; c < kCells; ++c)
      ASSERT_NEAR(alone.cell_K(c), together.cell_K(c), alone.state.time_error_K[0] + together.state.time_error_K[0]);
  }
  EXPECT_LT(alone.face_K(), 380.0);
}

TEST(HeatStep, ANewNodeHasTheMeanOfItsEnds) {
  Place place = busy_sheet(15, 20);
  const HeatState before = place.state;
  const mesh::Refined cut{{}, {}, {{0, 9}, {3, 4}}};
  refine(place.state, cut);
  ASSERT_EQ(place.state.count, 17);
  ASSERT_EQ(place.state.thickness_m.size(), 3U);
  EXPECT_NEAR(mean_K(place.state, 15), 0.5 * (mean_K(before, 0) + mean_K(before, 9)), 1e-10);
  EXPECT_NEAR(mean_K(place.state, 16), 0.5 * (mean_K(before, 3) + mean_K(before, 4)), 1e-10);
  for (int i = 0; i < 15; ++i) EXPECT_EQ(mean_K(place.state, i), mean_K(before, i));
  for (std::vector<double>* v : {&place.thickness_m, &place.contact_s, &place.effusivity})
    v->push_back(v->at(3)), v->push_back(v->at(4));
  place.steps(10, 2e-3);
  for (int i = 0; i < 17; ++i) EXPECT_LT(std::fabs(heat_imbalance_J_m2(place.state, i)), 1e-6) << i;
}

// The chain alone, fed with 1 W/m2: 2 sqrt(t/pi) at unit effusivity (Carslaw & Jaeger 1959, 2.9, from memory).
TEST(HeatStep, MouldChainIsAHalfSpace) {
  const MouldChain chain = mould_chain();
  Eigen::MatrixXd A = Eigen::MatrixXd::Zero(kMouldCells, kMouldCells);
  Eigen::VectorXd root(kMouldCells);
  for (int j = 0; j < kMouldCells; ++j) root[j] = std::sqrt(chain.capacity[j]);
  for (int j = 0; j + 1 < kMouldCells; ++j) {
    const double g = 1.0 / chain.resistance[j];
    A(j, j) += g, A(j + 1, j + 1) += g, A(j, j + 1) -= g, A(j + 1, j) -= g;
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(root.cwiseInverse().asDiagonal() * A *
                                                              root.cwiseInverse().asDiagonal());
  int checked = 0;
  for (double t_s = 1e-3; t_s < 61.0; t_s *= 1.1) {
    double T = chain.entry;
    for (int i = 0; i < kMouldCells; ++i) {
      const double rate = solver.eigenvalues()[i], first = solver.eigenvectors()(0, i) / root[0];
      T += first * first * (rate * t_s > 1e-9 ? -std::expm1(-rate * t_s) / rate : t_s);
    }
    // Ripple of the ratio 2.4; before 2 ms the first cell shows, after 40 s the end.
    const double allowed = t_s < 2e-3 ? 0.02 : t_s < 40.0 ? 0.004 : 0.01;
    EXPECT_NEAR(T / (2.0 * std::sqrt(t_s / std::numbers::pi)), 1.0, allowed) << t_s;
    ++checked;
  }
  EXPECT_GT(checked, 100);
}

}  // namespace
}  // namespace pellicle::sheet
