// What energy does one column of a deformed section hold: its elements, the gas above and the mould below?
#include "solver/imprint/section/section_model.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle::imprint {
namespace {

using Eigen::Matrix2d;
using Eigen::Vector2d;

std::size_t at(int i) { return static_cast<std::size_t>(i); }
constexpr double kInfinite = std::numeric_limits<double>::infinity();
// A Gauss point may not turn inside out while its element keeps its volume, as it would at a sharp edge. Below this
// local volume ratio a barrier stands against it, of a stiffness that is this share of the shear modulus; it vanishes
// with refinement, as then every point keeps its volume.
constexpr double kBarrierBelow = 0.4, kBarrierStiffness = 0.3;
constexpr double kSoft = 0.01;  // of bulk modulus and penalty in soft_energy; 0.1 and 0.001 take as many iterations

}  // namespace

void SectionModel::settle_shapes() {
  const double low = 0.5 - 0.5 / std::sqrt(3.0), high = 1.0 - low;
  const auto share = [&](int far) { return far != 0 ? high : low; };
  for (int k = 0; k < 4; ++k) {
    const double s = share(kElementRight[at(k)]), t = share(kElementUp[at(k)]);
    shape_[at(k)] << (1 - s) * (1 - t), s * (1 - t), s * t, (1 - s) * t;
  }
  by_x_.resize(at(grid_.columns())), by_z_.resize(at(grid_.rows()));
  for (int far = 0; far < 2; ++far) {
    const double t = share(far), s = t;
    for (int i = 0; i < grid_.columns(); ++i) {
      const double a = grid_.x_m[at(i) + 1] - grid_.x_m[at(i)];
      by_x_[at(i)][at(far)] << -(1 - t) / a, (1 - t) / a, t / a, -t / a;
    }
    for (int j = 0; j < grid_.rows(); ++j) {
      const double b = grid_.z_m[at(j) + 1] - grid_.z_m[at(j)];
      by_z_[at(j)][at(far)] << -(1 - s) / b, -s / b, s / b, (1 - s) / b;
    }
  }
  for (int i = 0; i < grid_.columns(); ++i) {
    for (int j = 0; j < grid_.rows(); ++j) {
      const LayerModuli& m = grid_.layer[at(j)];
      FixedParts fixed{Eigen::Matrix4d::Zero(), Eigen::Matrix4d::Zero()};
      for (const GaussPoint& g : gauss(i, j)) {
        for (int a = 0; a < 4; ++a) {
          for (int b = 0; b < 4; ++b) {
            fixed.soft(a, b) += g.weight * (m.ax_Pa * g.nx[a] * g.nx[b] + m.az_Pa * g.nz[a] * g.nz[b]);
            fixed.volume_xz(a, b) += g.weight * (g.nx[a] * g.nz[b] - g.nz[a] * g.nx[b]);
          }
        }
      }
      fixed_.push_back(fixed);
    }
  }
}

std::array<SectionModel::GaussPoint, 4> SectionModel::gauss(int i, int j) const {
  const double x = grid_.x_m[at(i)], a = grid_.x_m[at(i) + 1] - x, b = grid_.z_m[at(j) + 1] - grid_.z_m[at(j)];
  const double low = 0.5 - 0.5 / std::sqrt(3.0), high = 1.0 - low;
  const auto point = [&](std::size_t k) {
    const int right = kElementRight[k];
    const double radius_m = x + (right != 0 ? high : low) * a;
    return GaussPoint{shape_[k], by_x_[at(i)][at(kElementUp[k])], by_z_[at(j)][at(right)], radius_m,
                      0.25 * a * b * (round_ ? radius_m : 1.0)};
  };
  return {point(0), point(1), point(2), point(3)};
}

std::array<SectionModel::Gradient, 4> SectionModel::gradients(int i, int j, const Vector8& u) const {
  const auto sum = [&](const Eigen::Vector4d& weight, int direction) {
    double total = 0.0;
    for (int a = 0; a < 4; ++a) total += u[2 * a + direction] * weight[a];
    return total;
  };
  std::array<double, 2> xx, xz, zx, zz;
  for (std::size_t far = 0; far < 2; ++far) {
    xx[far] = sum(by_x_[at(i)][far], 0), zx[far] = sum(by_x_[at(i)][far], 1);
    xz[far] = sum(by_z_[at(j)][far], 0), zz[far] = sum(by_z_[at(j)][far], 1);
  }
  std::array<Gradient, 4> all;
  for (std::size_t k = 0; k < 4; ++k) {
    const auto right = at(kElementRight[k]), up = at(kElementUp[k]);
    all[k] = {xx[up], xz[right], zx[up], zz[right]};
  }
  if (round_) {
    const auto points = gauss(i, j);
    for (std::size_t k = 0; k < 4; ++k)
      for (int a = 0; a < 4; ++a) all[k].hoop += u[2 * a] * points[k].n[a] / points[k].radius_m;
  }
  return all;
}

// Q1 with the mean volume ratio of the element (one pressure each). theta = mean J - 1, s = x/X round, else 1, b(J) the
// barrier,
//   E = sum w (a_x |x,X|^2 + a_z |x,Z|^2 + a_y s^2 - flat)/2 + V (bulk/2 theta^2 - a_z theta) + b.
// Slope and curvature are made in parts, x and z apart.
template <bool kSlopes>
double SectionModel::sheet_energy(int i, int j, const Vector8& u, const double* mean_Pa, Vector8& slope,
                                  Matrix8& curvature) const {
  using Eigen::Matrix4d;
  using Eigen::Vector4d;
  const LayerModuli& m = grid_.layer[at(j)];
  const FixedParts& fixed = fixed_[at(i * grid_.rows() + j)];
  double energy = 0.0, volume = 0.0, gained = 0.0;
  Vector4d slope_x = Vector4d::Zero(), slope_z = slope_x, volume_x = slope_x, volume_z = slope_x;
  Matrix4d xx_part = Matrix4d::Zero(), xz_part = xx_part, zz_part = xx_part, volume_xx = xx_part,
           volume_xz = round_ ? xx_part : fixed.volume_xz;
  const auto points = gauss(i, j);
  const auto all = gradients(i, j, u);
  for (std::size_t k = 0; k < 4; ++k) {
    const GaussPoint& g = points[k];
    const Gradient& d = all[k];
    const double xx = d.xx, xz = d.xz, zx = d.zx, zz = d.zz, hoop = d.hoop, s = 1.0 + hoop;
    const double area_gained = d.area_gained();
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
      const Vector4d cx = (1 + zz) * g.nx - zx * g.nz, cz = (1 + xx) * g.nz - xz * g.nx;
      const Vector4d nr = round_ ? Vector4d(g.n / g.radius_m) : Vector4d::Zero();
      slope_x += g.weight * (m.ax_Pa * (1 + xx) * g.nx + m.az_Pa * xz * g.nz + m.ay_Pa * s * nr);
      slope_z += g.weight * (m.ax_Pa * zx * g.nx + m.az_Pa * (1 + zz) * g.nz);
      const Vector4d local_x = s * cx + area * nr, local_z = s * cz;
      volume_x += g.weight * local_x;
      volume_z += g.weight * local_z;
      if (!round_ && !(low > 0.0)) continue;
      const Matrix4d local_xx = nr * cx.transpose() + cx * nr.transpose();
      const Matrix4d local_xz = s * (g.nx * g.nz.transpose() - g.nz * g.nx.transpose()) + nr * cz.transpose();
      if (round_) {
        xx_part += g.weight * m.ay_Pa * nr * nr.transpose();
        volume_xx += g.weight * local_xx;
        volume_xz += g.weight * local_xz;
      }
      if (low > 0.0) {
        const double first = -barrier * (3.0 * low + low * flat) * flat;
        const double second = barrier * (6.0 + 6.0 * flat + 2.0 * flat * flat) * flat;
        slope_x += first * local_x;
        slope_z += first * local_z;
        xx_part += first * local_xx + second * local_x * local_x.transpose();
        xz_part += first * local_xz + second * local_x * local_z.transpose();
        zz_part += second * local_z * local_z.transpose();
      }
    }
  }
  const double theta = gained / volume, pressure = m.bulk_Pa * theta - m.az_Pa;
  if constexpr (kSlopes) {
    slope_x += pressure * volume_x;
    slope_z += pressure * volume_z;
    const double mean = mean_Pa != nullptr ? *mean_Pa : pressure, stiff = m.bulk_Pa / volume;
    for (int b = 0; b < 4; ++b) {
      xx_part.col(b) = xx_part.col(b) + mean * volume_xx.col(b) + volume_x[b] * (stiff * volume_x) + fixed.soft.col(b);
      xz_part.col(b) = xz_part.col(b) + mean * volume_xz.col(b) + volume_z[b] * (stiff * volume_x);
      zz_part.col(b) = zz_part.col(b) + volume_z[b] * (stiff * volume_z) + fixed.soft.col(b);
    }
    for (int a = 0; a < 4; ++a) {
      slope[2 * a] += slope_x[a];
      slope[2 * a + 1] += slope_z[a];
      for (int b = 0; b < 4; ++b) {
        curvature(2 * a, 2 * b) += xx_part(a, b);
        curvature(2 * a, 2 * b + 1) += xz_part(a, b);
        curvature(2 * b + 1, 2 * a) += xz_part(a, b);
        curvature(2 * a + 1, 2 * b + 1) += zz_part(a, b);
      }
    }
  }
  if (!kSlopes && mean_Pa != nullptr) {
    const double off = theta - (*mean_Pa + m.az_Pa) / m.bulk_Pa;
    return energy + volume * (*mean_Pa * theta + 0.5 * kSoft * m.bulk_Pa * off * off);
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

// Contact: penalty/2 gap^2 where the gap is closed; a held place is tied to its anchor both ways. Near a state where q
// is pushed the soft energy is s/2 min(0, gap + (1/c - 1/s) q)^2, s = kSoft c: at gap = -q/c its slope is -q as well.
template <bool kSlopes>
double SectionModel::contact_energy(int i, const Vector8& u, const double* push_Pa, MouldCurve::Near* near,
                                    Vector8& slope, Matrix8& curvature) const {
  const Vector2d a = Vector2d(grid_.x_m[at(i)], 0.0) + u.segment<2>(0);
  const Vector2d b = Vector2d(grid_.x_m[at(i) + 1], 0.0) + u.segment<2>(2);
  double energy = 0.0;
  for (std::size_t k = first_place_[at(i)]; k < first_place_[at(i) + 1]; ++k) {
    const ContactPlace& place = places_[k];
    const std::array<double, 2> n{1.0 - place.share, place.share};
    const Vector2d q = n[0] * a + n[1] * b;
    const double stiff = penalty_ * place.weight_m;
    Vector2d force = Vector2d::Zero();
    Matrix2d tangent;
    if (place.held) {
      energy += 0.5 * stiff * (q - place.anchor).squaredNorm();
      force = stiff * (q - place.anchor);
      tangent = stiff * Matrix2d::Identity();
    } else {
      const auto here = mould_.nearest(q);
      const Vector2d t(-here.normal.y(), here.normal.x());
      if (near != nullptr) {
        near[k] = here;
        if (push_Pa[k] == 0.0) continue;
        tangent = -place.weight_m * push_Pa[k] * here.curvature_per_m * t * t.transpose();
      } else if (push_Pa != nullptr) {
        const double off = std::min(0.0, here.gap_m + (1.0 - 1.0 / kSoft) / penalty_ * push_Pa[k]);
        energy += 0.5 * kSoft * stiff * off * off;
        continue;
      } else {
        if (here.gap_m >= 0.0) continue;
        energy += 0.5 * stiff * here.gap_m * here.gap_m;
        force = stiff * here.gap_m * here.normal;
        tangent =
            stiff * (here.normal * here.normal.transpose() + here.gap_m * here.curvature_per_m * t * t.transpose());
      }
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

void SectionModel::add_pushes(const std::vector<MouldCurve::Near>& near, const std::vector<char>& closed,
                              Eigen::VectorXd& slope, Eigen::SparseMatrix<double>* curvature) const {
  for (int i = 0; i < grid_.columns(); ++i) {
    Vector8 f = Vector8::Zero();
    Matrix8 k = Matrix8::Zero();
    for (std::size_t at_place = first_place_[at(i)]; at_place < first_place_[at(i) + 1]; ++at_place) {
      const ContactPlace& place = places_[at_place];
      if (place.held || closed[at_place] == 0) continue;
      Eigen::Vector4d way;  // of the gap by the two nodes
      way << (1.0 - place.share) * near[at_place].normal, place.share * near[at_place].normal;
      const double stiff = penalty_ * place.weight_m;
      f.head<4>() += stiff * near[at_place].gap_m * way;
      k.topLeftCorner<4, 4>() += stiff * way * way.transpose();
    }
    add(i, 0, f, k, slope, curvature);
  }
}

Eigen::VectorXd SectionModel::gas_slope(const Eigen::VectorXd& u, double pressure_Pa) const {
  Eigen::VectorXd slope = Eigen::VectorXd::Zero(unknowns_);
  for (int i = 0; i < grid_.columns(); ++i) {
    Vector8 f = Vector8::Zero();
    Matrix8 k = Matrix8::Zero();
    gas_energy<true>(i, element_moves(u, i, grid_.rows() - 1), pressure_Pa, f, k);
    add(i, grid_.rows() - 1, f, k, slope, nullptr);
  }
  return slope;
}

void SectionModel::look(const Eigen::VectorXd& u, std::vector<MouldCurve::Near>& near) const {
  near.resize(places_.size());
  for (std::size_t k = 0; k < places_.size(); ++k)
    if (!places_[k].held) near[k] = mould_.nearest(underside(u, places_[k]));
}

Bearing SectionModel::bearing(const Eigen::VectorXd& u, const Eigen::VectorXd& way,
                              const std::vector<MouldCurve::Near>& near) const {
  Bearing found{Eigen::VectorXd(grid_.columns() * grid_.rows()),
                Eigen::VectorXd::Zero(static_cast<Eigen::Index>(places_.size()))};
  for (int i = 0; i < grid_.columns(); ++i) {
    for (int j = 0; j < grid_.rows(); ++j) {
      const auto points = gauss(i, j);
      const auto here = gradients(i, j, element_moves(u, i, j)), further = gradients(i, j, element_moves(way, i, j));
      double gained = 0.0, volume = 0.0;
      for (std::size_t k = 0; k < 4; ++k) {
        const GaussPoint& g = points[k];
        const Gradient &d = here[k], &e = further[k];
        const double area = d.area_gained();
        const double rate = e.xx + e.zz + e.xx * d.zz + d.xx * e.zz - e.xz * d.zx - d.xz * e.zx;
        gained += g.weight * (area + d.hoop + area * d.hoop + rate * (1.0 + d.hoop) + (1.0 + area) * e.hoop);
        volume += g.weight;
      }
      const LayerModuli& m = grid_.layer[at(j)];
      found.mean_Pa[i * grid_.rows() + j] = m.bulk_Pa * gained / volume - m.az_Pa;
    }
  }
  for (std::size_t k = 0; k < places_.size(); ++k) {
    if (places_[k].held) continue;
    const double gap = near[k].gap_m + near[k].normal.dot(moved(way, places_[k]));
    found.push_Pa[static_cast<Eigen::Index>(k)] = penalty_ * std::max(0.0, -gap);
  }
  return found;
}

template double SectionModel::sheet_energy<false>(int, int, const Vector8&, const double*, Vector8&, Matrix8&) const;
template double SectionModel::sheet_energy<true>(int, int, const Vector8&, const double*, Vector8&, Matrix8&) const;
template double SectionModel::gas_energy<false>(int, const Vector8&, double, Vector8&, Matrix8&) const;
template double SectionModel::gas_energy<true>(int, const Vector8&, double, Vector8&, Matrix8&) const;
template double SectionModel::contact_energy<false>(int, const Vector8&, const double*, MouldCurve::Near*, Vector8&,
                                                    Matrix8&) const;
template double SectionModel::contact_energy<true>(int, const Vector8&, const double*, MouldCurve::Near*, Vector8&,
                                                   Matrix8&) const;

double SectionModel::largest_gradient(const Eigen::VectorXd& way) const {
  double largest_sq = 0.0;
  for (int i = 0; i < grid_.columns(); ++i) {
    for (int j = 0; j < grid_.rows(); ++j) {
      for (const Gradient& d : gradients(i, j, element_moves(way, i, j)))
        largest_sq = std::max(largest_sq, d.xx * d.xx + d.xz * d.xz + d.zx * d.zx + d.zz * d.zz + d.hoop * d.hoop);
    }
  }
  return std::sqrt(largest_sq);
}

double SectionModel::largest_stretch(const Eigen::VectorXd& u, double lx, double ly) const {
  double largest_sq = 0.0;
  for (int i = 0; i < grid_.columns(); ++i) {
    for (int j = 0; j < grid_.rows(); ++j) {
      for (const Gradient& d : gradients(i, j, element_moves(u, i, j))) {
        Matrix2d f;  // F = f F0 in the plane
        f << (1 + d.xx) * lx, d.xz / (lx * ly), d.zx * lx, (1 + d.zz) / (lx * ly);
        const Matrix2d b = f * f.transpose();
        const double apart = std::hypot(0.5 * (b(0, 0) - b(1, 1)), b(0, 1));
        largest_sq = std::max({largest_sq, 0.5 * b.trace() + apart, std::pow((1 + d.hoop) * ly, 2)});
      }
    }
  }
  return std::sqrt(largest_sq);
}

double SectionModel::volume_change(const Eigen::VectorXd& u) const {
  double gained = 0.0, volume = 0.0;
  for (int i = 0; i < grid_.columns(); ++i) {
    for (int j = 0; j < grid_.rows(); ++j) {
      const auto points = gauss(i, j);
      const auto all = gradients(i, j, element_moves(u, i, j));
      for (std::size_t k = 0; k < 4; ++k) {
        const GaussPoint& g = points[k];
        const Gradient& d = all[k];
        const double area = d.area_gained();
        gained += g.weight * (area + d.hoop + area * d.hoop);
        volume += g.weight;
      }
    }
  }
  return gained / volume;
}

}  // namespace pellicle::imprint
