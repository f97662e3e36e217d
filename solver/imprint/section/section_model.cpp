// What energy does a deformed section hold, with its slope and curvature: sheet, gas and contact?
#include "solver/imprint/section/section_model.h"

#include <Eigen/Eigenvalues>

#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle::imprint {
namespace {

using Eigen::Matrix2d;
using Eigen::Vector2d;
using Eigen::VectorXd;

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr double kInfinite = std::numeric_limits<double>::infinity();
// A Gauss point may not turn inside out while its element keeps its volume, as it would at a sharp edge. Below this
// local volume ratio a barrier stands against it, of a stiffness that is this share of the shear modulus; it vanishes
// with refinement, as then every point keeps its volume.
constexpr double kBarrierBelow = 0.4, kBarrierStiffness = 0.3;
// Corners of an element: (i, j), (i+1, j), (i+1, j+1), (i, j+1).
constexpr std::array<int, 4> kRight{0, 1, 1, 0}, kUp{0, 0, 1, 1};

}  // namespace

SectionModel::SectionModel(const SectionGrid& grid, const MouldCurve& mould, SectionPlane plane, SectionEnds ends,
                           double penalty_Pa_per_m)
    : grid_(grid), mould_(mould), round_(plane == SectionPlane::kRound), penalty_(penalty_Pa_per_m) {
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
          const int row = unknown(node(i + kRight[at(a / 2)], j + kUp[at(a / 2)]), a % 2);
          const int column = unknown(node(i + kRight[at(b / 2)], j + kUp[at(b / 2)]), b % 2);
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

VectorXd SectionModel::flat_lowered(double by_m) const {
  VectorXd u = VectorXd::Zero(unknowns_);
  for (std::size_t k = 1; k < unknown_.size(); k += 2) {
    if (unknown_[k] >= 0) u[unknown_[k]] = -by_m;
  }
  return u;
}

std::array<SectionModel::GaussPoint, 4> SectionModel::gauss(int i, int j) const {
  const double x = grid_.x_m[at(i)], a = grid_.x_m[at(i) + 1] - x, b = grid_.z_m[at(j) + 1] - grid_.z_m[at(j)];
  const double low = 0.5 - 0.5 / std::sqrt(3.0), high = 1.0 - low;
  std::array<GaussPoint, 4> points;
  for (int k = 0; k < 4; ++k) {
    const double s = kRight[at(k)] != 0 ? high : low, t = kUp[at(k)] != 0 ? high : low;
    auto& g = points[at(k)];
    g.n << (1 - s) * (1 - t), s * (1 - t), s * t, (1 - s) * t;
    g.nx << -(1 - t) / a, (1 - t) / a, t / a, -t / a;
    g.nz << -(1 - s) / b, -s / b, s / b, (1 - s) / b;
    g.radius_m = x + s * a;
    g.weight = 0.25 * a * b * (round_ ? g.radius_m : 1.0);
  }
  return points;
}

SectionModel::Vector8 SectionModel::element_moves(const VectorXd& u, int i, int j) const {
  Vector8 moves;
  for (int a = 0; a < 4; ++a) moves.segment<2>(2 * a) = move(u, i + kRight[at(a)], j + kUp[at(a)]);
  return moves;
}

// Q1 with the mean volume ratio of the element (one pressure each). theta = mean J - 1, s = x/X round, else 1, b(J) the
// barrier,
//   E = sum w (a_x |x,X|^2 + a_z |x,Z|^2 + a_y s^2 - flat)/2 + V (bulk/2 theta^2 - a_z theta) + b.
template <bool kSlopes>
double SectionModel::sheet_energy(int i, int j, const Vector8& u, Vector8& slope, Matrix8& curvature) const {
  const LayerModuli& m = grid_.layer[at(j)];
  double energy = 0.0, volume = 0.0, gained = 0.0;
  Vector8 volume_slope = Vector8::Zero();
  Matrix8 volume_curvature = Matrix8::Zero();
  Eigen::Matrix4d soft = Eigen::Matrix4d::Zero();
  for (const GaussPoint& g : gauss(i, j)) {
    double xx = 0, xz = 0, zx = 0, zz = 0, ur = 0;  // displacement gradient, radial displacement
    for (int a = 0; a < 4; ++a) {
      xx += u[2 * a] * g.nx[a];
      xz += u[2 * a] * g.nz[a];
      zx += u[2 * a + 1] * g.nx[a];
      zz += u[2 * a + 1] * g.nz[a];
      ur += u[2 * a] * g.n[a];
    }
    const double hoop = round_ ? ur / g.radius_m : 0.0, s = 1.0 + hoop;
    const double area_gained = xx + zz + xx * zz - xz * zx;
    const double area = 1.0 + area_gained, local = s * area;
    if (!(area > 0.0) || !(s > 0.0)) return kInfinite;
    const double low = std::max(0.0, kBarrierBelow - local), flat = low / local;
    const double barrier = g.weight * kBarrierStiffness * m.shear_Pa;
    energy += barrier * low * low * flat;
    energy += 0.5 * g.weight *
              (m.ax_Pa * (2 * xx + xx * xx + zx * zx) + m.az_Pa * (2 * zz + zz * zz + xz * xz) +
               m.ay_Pa * (2 * hoop + hoop * hoop));
    volume += g.weight;
    gained += g.weight * (area_gained + hoop + area_gained * hoop);
    if constexpr (kSlopes) {
      const Eigen::Vector4d cx = (1 + zz) * g.nx - zx * g.nz, cz = (1 + xx) * g.nz - xz * g.nx;
      const Eigen::Vector4d nr = round_ ? Eigen::Vector4d(g.n / g.radius_m) : Eigen::Vector4d::Zero();
      Vector8 local_slope;
      Matrix8 local_curvature = Matrix8::Zero();
      for (int a = 0; a < 4; ++a) {
        slope[2 * a] += g.weight * (m.ax_Pa * (1 + xx) * g.nx[a] + m.az_Pa * xz * g.nz[a] + m.ay_Pa * s * nr[a]);
        slope[2 * a + 1] += g.weight * (m.ax_Pa * zx * g.nx[a] + m.az_Pa * (1 + zz) * g.nz[a]);
        local_slope[2 * a] = s * cx[a] + area * nr[a];
        local_slope[2 * a + 1] = s * cz[a];
        for (int b = 0; b < 4; ++b) {
          soft(a, b) += g.weight * (m.ax_Pa * g.nx[a] * g.nx[b] + m.az_Pa * g.nz[a] * g.nz[b]);
          curvature(2 * a, 2 * b) += g.weight * m.ay_Pa * nr[a] * nr[b];
          local_curvature(2 * a, 2 * b) = nr[a] * cx[b] + cx[a] * nr[b];
          const double mixed = s * (g.nx[a] * g.nz[b] - g.nz[a] * g.nx[b]) + nr[a] * cz[b];
          local_curvature(2 * a, 2 * b + 1) = mixed;
          local_curvature(2 * b + 1, 2 * a) = mixed;
        }
      }
      volume_slope += g.weight * local_slope;
      volume_curvature += g.weight * local_curvature;
      if (low > 0.0) {
        const double first = -barrier * (3.0 * low + low * flat) * flat;
        const double second = barrier * (6.0 + 6.0 * flat + 2.0 * flat * flat) * flat;
        slope += first * local_slope;
        curvature += first * local_curvature + second * local_slope * local_slope.transpose();
      }
    }
  }
  const double theta = gained / volume, pressure = m.bulk_Pa * theta - m.az_Pa;
  if constexpr (kSlopes) {
    slope += pressure * volume_slope;
    curvature += pressure * volume_curvature + m.bulk_Pa / volume * volume_slope * volume_slope.transpose();
    for (int a = 0; a < 4; ++a) {
      for (int b = 0; b < 4; ++b) {
        curvature(2 * a, 2 * b) += soft(a, b);
        curvature(2 * a + 1, 2 * b + 1) += soft(a, b);
      }
    }
  }
  return energy + volume * (0.5 * m.bulk_Pa * theta * theta - m.az_Pa * theta);
}

// Gas: pressure times the volume under the upper face, integral of y dx (round: of y r dr, exact on straight edges).
template <bool kSlopes>
double SectionModel::gas_energy(int i, const Vector8& u, double p, Vector8& slope, Matrix8& curvature) const {
  const double xa = grid_.x_m[at(i)] + u[6], xb = grid_.x_m[at(i) + 1] + u[4], ya = u[7], yb = u[5];
  const std::array<int, 4> at_local{6, 4, 7, 5};  // xa, xb, ya, yb
  Eigen::Vector4d s;
  Eigen::Matrix4d c = Eigen::Matrix4d::Zero();
  double energy = 0.0;
  if (round_) {
    const double wa = (xb - xa) * (2 * xa + xb) / 6, wb = (xb - xa) * (xa + 2 * xb) / 6;
    energy = wa * ya + wb * yb;
    s << ((xb - 4 * xa) * ya - (xb + 2 * xa) * yb) / 6, ((2 * xb + xa) * ya + (4 * xb - xa) * yb) / 6, wa, wb;
    c(0, 0) = (-4 * ya - 2 * yb) / 6;
    c(0, 1) = c(1, 0) = (ya - yb) / 6;
    c(1, 1) = (2 * ya + 4 * yb) / 6;
    c(0, 2) = c(2, 0) = (xb - 4 * xa) / 6;
    c(0, 3) = c(3, 0) = (-xb - 2 * xa) / 6;
    c(1, 2) = c(2, 1) = (2 * xb + xa) / 6;
    c(1, 3) = c(3, 1) = (4 * xb - xa) / 6;
  } else {
    energy = 0.5 * (xb - xa) * (ya + yb);
    s << -0.5 * (ya + yb), 0.5 * (ya + yb), 0.5 * (xb - xa), 0.5 * (xb - xa);
    c(0, 2) = c(2, 0) = c(0, 3) = c(3, 0) = -0.5;
    c(1, 2) = c(2, 1) = c(1, 3) = c(3, 1) = 0.5;
  }
  if constexpr (kSlopes) {
    for (int a = 0; a < 4; ++a) {
      slope[at_local[at(a)]] += p * s[a];
      for (int b = 0; b < 4; ++b) curvature(at_local[at(a)], at_local[at(b)]) += p * c(a, b);
    }
  }
  return p * energy;
}

// Contact: penalty/2 gap^2 where the gap is closed; a held place is tied to its anchor both ways.
template <bool kSlopes>
double SectionModel::contact_energy(int i, const Vector8& u, Vector8& slope, Matrix8& curvature) const {
  const Vector2d a = Vector2d(grid_.x_m[at(i)], 0.0) + u.segment<2>(0);
  const Vector2d b = Vector2d(grid_.x_m[at(i) + 1], 0.0) + u.segment<2>(2);
  double energy = 0.0;
  for (std::size_t k = first_place_[at(i)]; k < first_place_[at(i) + 1]; ++k) {
    const ContactPlace& place = places_[k];
    const std::array<double, 2> n{1.0 - place.share, place.share};
    const Vector2d q = n[0] * a + n[1] * b;
    const double stiff = penalty_ * place.weight_m;
    Vector2d force;
    Matrix2d tangent;
    if (place.held) {
      energy += 0.5 * stiff * (q - place.anchor).squaredNorm();
      force = stiff * (q - place.anchor);
      tangent = stiff * Matrix2d::Identity();
    } else {
      const auto near = mould_.nearest(q);
      if (near.gap_m >= 0.0) continue;
      energy += 0.5 * stiff * near.gap_m * near.gap_m;
      const Vector2d t(-near.normal.y(), near.normal.x());
      force = stiff * near.gap_m * near.normal;
      tangent = stiff * (near.normal * near.normal.transpose() + near.gap_m * near.curvature_per_m * t * t.transpose());
    }
    if constexpr (kSlopes) {
      for (int c = 0; c < 2; ++c) {
        slope.segment<2>(2 * c) += n[at(c)] * force;
        for (int d = 0; d < 2; ++d) curvature.block<2, 2>(2 * c, 2 * d) += n[at(c)] * n[at(d)] * tangent;
      }
    }
  }
  return energy;
}

template <bool kSlopes>
double SectionModel::total(const VectorXd& u, double pressure_Pa, VectorXd* slope,
                           Eigen::SparseMatrix<double>* curvature) const {
  double energy = 0.0;
  for (int i = 0; i < grid_.columns(); ++i) {
    for (int j = 0; j < grid_.rows(); ++j) {
      const Vector8 moves = element_moves(u, i, j);
      Vector8 f = Vector8::Zero();
      Matrix8 k = Matrix8::Zero();
      energy += sheet_energy<kSlopes>(i, j, moves, f, k);
      if (j == grid_.rows() - 1) energy += gas_energy<kSlopes>(i, moves, pressure_Pa, f, k);
      if (j == 0) energy += contact_energy<kSlopes>(i, moves, f, k);
      if (!std::isfinite(energy)) return kInfinite;
      if constexpr (kSlopes) {
        const auto& slot = slots_[at(i * grid_.rows() + j)];
        for (int a = 0; a < 8; ++a) {
          const int row = unknown(node(i + kRight[at(a / 2)], j + kUp[at(a / 2)]), a % 2);
          if (row >= 0) (*slope)[row] += f[a];
          for (int b = 0; b < 8; ++b) {
            if (slot[at(8 * a + b)] >= 0) curvature->valuePtr()[slot[at(8 * a + b)]] += k(a, b);
          }
        }
      }
    }
  }
  return energy;
}

double SectionModel::energy(const VectorXd& u, double pressure_Pa) const {
  return total<false>(u, pressure_Pa, nullptr, nullptr);
}

double SectionModel::assemble(const VectorXd& u, double pressure_Pa, VectorXd& slope,
                              Eigen::SparseMatrix<double>& curvature) const {
  slope.setZero(unknowns_);
  std::fill_n(curvature.valuePtr(), curvature.nonZeros(), 0.0);
  return total<true>(u, pressure_Pa, &slope, &curvature);
}

Eigen::SparseMatrix<double> SectionModel::pattern() const {
  std::vector<Eigen::Triplet<double>> entries;
  for (int i = 0; i < grid_.columns(); ++i) {
    for (int j = 0; j < grid_.rows(); ++j) {
      for (int a = 0; a < 8; ++a) {
        for (int b = 0; b < 8; ++b) {
          const int row = unknown(node(i + kRight[at(a / 2)], j + kUp[at(a / 2)]), a % 2);
          const int column = unknown(node(i + kRight[at(b / 2)], j + kUp[at(b / 2)]), b % 2);
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

double SectionModel::largest_stretch(const VectorXd& u, double lx, double ly) const {
  double largest_sq = 0.0;
  for (int i = 0; i < grid_.columns(); ++i) {
    for (int j = 0; j < grid_.rows(); ++j) {
      const Vector8 moves = element_moves(u, i, j);
      for (const GaussPoint& g : gauss(i, j)) {
        Matrix2d f = Matrix2d::Identity();
        double s = 1.0;
        for (int a = 0; a < 4; ++a) {
          f.col(0) += moves.segment<2>(2 * a) * g.nx[a];
          f.col(1) += moves.segment<2>(2 * a) * g.nz[a];
          if (round_) s += moves[2 * a] * g.n[a] / g.radius_m;
        }
        f.col(0) *= lx;
        f.col(1) /= lx * ly;
        const Matrix2d b = f * f.transpose();
        const double middle = 0.5 * b.trace();
        const double apart = std::hypot(0.5 * (b(0, 0) - b(1, 1)), b(0, 1));
        largest_sq = std::max({largest_sq, middle + apart, s * s * ly * ly});
      }
    }
  }
  return std::sqrt(largest_sq);
}

double SectionModel::volume_change(const VectorXd& u) const {
  double gained = 0.0, volume = 0.0;
  for (int i = 0; i < grid_.columns(); ++i) {
    for (int j = 0; j < grid_.rows(); ++j) {
      const Vector8 moves = element_moves(u, i, j);
      for (const GaussPoint& g : gauss(i, j)) {
        Matrix2d f = Matrix2d::Identity();
        double s = 1.0;
        for (int a = 0; a < 4; ++a) {
          f.col(0) += moves.segment<2>(2 * a) * g.nx[a];
          f.col(1) += moves.segment<2>(2 * a) * g.nz[a];
          if (round_) s += moves[2 * a] * g.n[a] / g.radius_m;
        }
        gained += g.weight * (s * f.determinant() - 1.0);
        volume += g.weight;
      }
    }
  }
  return gained / volume;
}

}  // namespace pellicle::imprint
