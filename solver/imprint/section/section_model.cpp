// What energy does a deformed section hold, with its slope and curvature: sheet, gas and contact?
#include "solver/imprint/section/section_model.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle::imprint {
namespace {

using Eigen::Vector2d;
using Eigen::VectorXd;

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr double kInfinite = std::numeric_limits<double>::infinity();

}  // namespace

SectionModel::SectionModel(const SectionGrid& grid, const MouldCurve& mould, SectionPlane plane, SectionEnds ends,
                           double penalty_Pa_per_m)
    : grid_(grid), mould_(mould), round_(plane == SectionPlane::kRound), penalty_(penalty_Pa_per_m) {
  settle_shapes();
  number_unknowns(ends);
  place_contacts();
  const auto lower = pattern();
  slots_.resize(at(grid_.columns() * grid_.rows()));
  for (int i = 0; i < grid_.columns(); ++i) {
    for (int j = 0; j < grid_.rows(); ++j) {
      auto& slot = slots_[at(i * grid_.rows() + j)];
      slot.fill(-1);
      for (int a = 0; a < 8; ++a) {
        for (int b = 0; b < 8; ++b) {
          const int row = unknown(node(i + kElementRight[at(a / 2)], j + kElementUp[at(a / 2)]), a % 2);
          const int column = unknown(node(i + kElementRight[at(b / 2)], j + kElementUp[at(b / 2)]), b % 2);
          if (row < 0 || column < 0 || row < column) continue;
          const int* begin = lower.innerIndexPtr() + lower.outerIndexPtr()[column];
          const int* end = lower.innerIndexPtr() + lower.outerIndexPtr()[column + 1];
          slot[at(8 * a + b)] = static_cast<int>(std::lower_bound(begin, end, row) - lower.innerIndexPtr());
        }
      }
    }
  }
}

void SectionModel::number_unknowns(SectionEnds ends) {
  const int rows = grid_.rows(), columns = grid_.columns();
  const bool periodic = ends == SectionEnds::kPeriodic;
  unknown_.assign(at(2 * (columns + 1) * (rows + 1)), -1);
  for (int i = 0; i <= columns; ++i) {
    for (int j = 0; j <= rows; ++j) {
      for (int d = 0; d < 2; ++d) {
        auto& mine = unknown_[at(2 * node(i, j) + d)];
        const bool end = i == 0 || i == columns;
        if (periodic && i == columns) {
          mine = unknown(node(0, j), d);
        } else if (d == 0 && end && (!periodic || j == rows)) {
          continue;  // held: both ends, or of a periodic section its upper corner, so that it does not drift
        } else {
          mine = unknowns_++;
        }
      }
    }
  }
}

void SectionModel::place_contacts() {
  for (int i = 0; i < grid_.columns(); ++i) {
    first_place_.push_back(places_.size());
    const int count = grid_.places_per_edge[at(i)];
    const double length = grid_.x_m[at(i) + 1] - grid_.x_m[at(i)];
    for (int k = 0; k <= count; ++k) {  // Simpson's rule: the nodes are among the places, and an even pressure is exact
      ContactPlace place{};
      place.column = i;
      place.share = static_cast<double>(k) / count;
      place.weight_m = length / (3 * count) * (k == 0 || k == count ? 1.0 : k % 2 == 1 ? 4.0 : 2.0);
      if (round_) place.weight_m *= grid_.x_m[at(i)] + place.share * length;
      if (place.weight_m > 0.0) places_.push_back(place);
    }
  }
  first_place_.push_back(places_.size());
}

Vector2d SectionModel::move(const VectorXd& u, int i, int j) const {
  const int a = unknown(node(i, j), 0), b = unknown(node(i, j), 1);
  return {a < 0 ? 0.0 : u[a], b < 0 ? 0.0 : u[b]};
}

Vector2d SectionModel::underside(const VectorXd& u, const ContactPlace& place) const {
  const int i = place.column;
  const Vector2d a = Vector2d(grid_.x_m[at(i)], 0.0) + move(u, i, 0);
  const Vector2d b = Vector2d(grid_.x_m[at(i) + 1], 0.0) + move(u, i + 1, 0);
  return (1.0 - place.share) * a + place.share * b;
}

Vector2d SectionModel::moved(const VectorXd& u, const ContactPlace& place) const {
  return (1.0 - place.share) * move(u, place.column, 0) + place.share * move(u, place.column + 1, 0);
}

VectorXd SectionModel::flat_lowered(double by_m) const {
  VectorXd u = VectorXd::Zero(unknowns_);
  for (std::size_t k = 1; k < unknown_.size(); k += 2) {
    if (unknown_[k] >= 0) u[unknown_[k]] = -by_m;
  }
  return u;
}

SectionModel::Vector8 SectionModel::element_moves(const VectorXd& u, int i, int j) const {
  Vector8 moves;
  for (int a = 0; a < 4; ++a) moves.segment<2>(2 * a) = move(u, i + kElementRight[at(a)], j + kElementUp[at(a)]);
  return moves;
}

void SectionModel::add(int i, int j, const Vector8& f, const Matrix8& k, VectorXd& slope,
                       Eigen::SparseMatrix<double>* curvature) const {
  const auto& slot = slots_[at(i * grid_.rows() + j)];
  for (int a = 0; a < 8; ++a) {
    const int row = unknown(node(i + kElementRight[at(a / 2)], j + kElementUp[at(a / 2)]), a % 2);
    if (row < 0) continue;
    slope[row] += f[a];
    for (int b = 0; curvature != nullptr && b < 8; ++b) {
      if (slot[at(8 * a + b)] >= 0) curvature->valuePtr()[slot[at(8 * a + b)]] += k(a, b);
    }
  }
}

template <bool kSlopes>
double SectionModel::total(const VectorXd& u, double pressure_Pa, const Bearing* bearing, VectorXd* slope,
                           Eigen::SparseMatrix<double>* curvature, std::vector<MouldCurve::Near>* near) const {
  if constexpr (kSlopes) {
    slope->setZero(unknowns_);
    std::fill_n(curvature->valuePtr(), curvature->nonZeros(), 0.0);
  }
  const double* push = bearing != nullptr ? bearing->push_Pa.data() : nullptr;
  double energy = 0.0;
  for (int i = 0; i < grid_.columns(); ++i) {
    for (int j = 0; j < grid_.rows(); ++j) {
      const Vector8 moves = element_moves(u, i, j);
      Vector8 f = Vector8::Zero();
      Matrix8 k = Matrix8::Zero();
      const double* mean = bearing != nullptr ? bearing->mean_Pa.data() + i * grid_.rows() + j : nullptr;
      energy += sheet_energy<kSlopes>(i, j, moves, mean, f, k);
      if (j == grid_.rows() - 1) energy += gas_energy<kSlopes>(i, moves, pressure_Pa, f, k);
      if (j == 0) energy += contact_energy<kSlopes>(i, moves, push, near != nullptr ? near->data() : nullptr, f, k);
      if (!std::isfinite(energy)) return kInfinite;
      if constexpr (kSlopes) add(i, j, f, k, *slope, curvature);
    }
  }
  return energy;
}

double SectionModel::energy(const VectorXd& u, double pressure_Pa) const {
  return total<false>(u, pressure_Pa, nullptr, nullptr, nullptr, nullptr);
}

double SectionModel::soft_energy(const VectorXd& u, double pressure_Pa, const Bearing& aim) const {
  return total<false>(u, pressure_Pa, &aim, nullptr, nullptr, nullptr);
}

double SectionModel::assemble(const VectorXd& u, double pressure_Pa, VectorXd& slope,
                              Eigen::SparseMatrix<double>& curvature) const {
  return total<true>(u, pressure_Pa, nullptr, &slope, &curvature, nullptr);
}

void SectionModel::assemble_apart(const VectorXd& u, double pressure_Pa, const Bearing& bearing, VectorXd& slope,
                                  Eigen::SparseMatrix<double>& curvature, std::vector<MouldCurve::Near>& near) const {
  near.resize(places_.size());
  total<true>(u, pressure_Pa, &bearing, &slope, &curvature, &near);
}

Eigen::SparseMatrix<double> SectionModel::pattern() const {
  std::vector<Eigen::Triplet<double>> entries;
  for (int i = 0; i < grid_.columns(); ++i) {
    for (int j = 0; j < grid_.rows(); ++j) {
      for (int a = 0; a < 8; ++a) {
        for (int b = 0; b < 8; ++b) {
          const int row = unknown(node(i + kElementRight[at(a / 2)], j + kElementUp[at(a / 2)]), a % 2);
          const int column = unknown(node(i + kElementRight[at(b / 2)], j + kElementUp[at(b / 2)]), b % 2);
          if (column >= 0 && row >= column) entries.emplace_back(row, column, 0.0);
        }
      }
    }
  }
  Eigen::SparseMatrix<double> lower(unknowns_, unknowns_);
  lower.setFromTriplets(entries.begin(), entries.end());
  return lower;
}

Vector2d SectionModel::traction_Pa(const VectorXd& u, const ContactPlace& place) const {
  const Vector2d q = underside(u, place);
  if (place.held) return -penalty_ * (q - place.anchor);
  const auto near = mould_.nearest(q);
  return near.gap_m < 0.0 ? Vector2d(-penalty_ * near.gap_m * near.normal) : Vector2d(Vector2d::Zero());
}

}  // namespace pellicle::imprint
