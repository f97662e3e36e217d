// How are the fields a person looks at recovered from the running state?
#include "solver/forming/recover.h"

#include "solver/sheet/membrane.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

namespace pellicle::forming {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

/// Principal stretches, square roots of the eigenvalues of C, larger first.
std::array<double, 2> stretches(const std::array<double, 3>& c) {
  const double mean = 0.5 * (c[0] + c[2]), half = std::hypot(0.5 * (c[0] - c[2]), c[1]);
  const double larger = mean + half, det = c[0] * c[2] - c[1] * c[1];
  return {std::sqrt(larger), std::sqrt(std::fmax(0.0, det / larger))};
}

void recover_node(const sheet::SheetState& s, const std::vector<std::array<double, 3>>& metric, int i,
                  FormingResult& r) {
  double volume = 0.0, length = 0.0;
  std::array<double, 3> c{0.0, 0.0, 0.0};
  const int first = s.first_corner[at(i)], last = s.first_corner[at(i) + 1];
  for (int k = first; k < last; ++k) {
    const int corner = s.corners[at(k)], e = corner / 3, own = corner % 3;
    const double v = s.rest[at(e)].volume_m3;
    volume += v;
    for (std::size_t j = 0; j < 3; ++j) c[j] += v * metric[at(e)][j];
    for (const int other : {(own + 1) % 3, (own + 2) % 3})
      length += (s.x_m[at(s.triangles[at(e)][at(other)])] - s.x_m[at(i)]).norm();
  }
  for (double& x : c) x /= volume;
  r.thickness_m[at(i)] = node_thickness_m(s, r.triangle_thickness_m, i);
  const auto l = stretches(c);
  r.stretch_1[at(i)] = l[0];
  r.stretch_2[at(i)] = l[1];
  r.element_m[at(i)] = length / (2.0 * (last - first));
}

/// A least-squares plane through values at places, evaluated at the origin: patch recovery at a boundary, as in
/// Zienkiewicz and Zhu, Int. J. Numer. Meth. Engng 33 (1992) 1331 (citation from memory).
class PlaneFit {
 public:
  void add(const mesh::Vec2& place, double weight, const Eigen::Vector3d& values) {
    const Eigen::Vector3d row{1.0, place.x(), place.y()};
    gram_ += weight * row * row.transpose();
    moments_ += weight * row * values.transpose();
    low_ = low_.cwiseMin(values), high_ = high_.cwiseMax(values);
  }
  /// Kept within the range of the values, widened by itself on both sides.
  Eigen::Vector3d at_origin() const {
    const Eigen::Vector3d fit = gram_.ldlt().solve(moments_).row(0).transpose(), span = high_ - low_;
    return fit.cwiseMax(low_ - span).cwiseMin(high_ + span);
  }

 private:
  Eigen::Matrix3d gram_ = Eigen::Matrix3d::Zero(), moments_ = Eigen::Matrix3d::Zero();
  Eigen::Vector3d low_ = Eigen::Vector3d::Constant(std::numeric_limits<double>::max()), high_ = -low_;
};

/// At the rim the mean over the triangles around stands for a place inside: it is carried out to the node by a plane
/// through the logarithms of thickness and stretches of the triangles around and of those around their corners.
void carry_to_rim(const sheet::SheetState& s, const std::vector<std::array<double, 3>>& metric, int i,
                  FormingResult& r) {
  std::vector<int> patch;
  for (int k = s.first_corner[at(i)]; k < s.first_corner[at(i) + 1]; ++k)
    for (const int near : s.triangles[at(s.corners[at(k)] / 3)])
      for (int j = s.first_corner[at(near)]; j < s.first_corner[at(near) + 1]; ++j)
        patch.push_back(s.corners[at(j)] / 3);
  std::sort(patch.begin(), patch.end());
  patch.erase(std::unique(patch.begin(), patch.end()), patch.end());
  if (patch.size() < 4) return;  // three values are no patch
  PlaneFit fit;
  for (const int e : patch) {
    const mesh::Triangle& t = s.triangles[at(e)];
    const mesh::Vec2 middle = (s.flat_m[at(t[0])] + s.flat_m[at(t[1])] + s.flat_m[at(t[2])]) / 3.0;
    const auto l = stretches(metric[at(e)]);
    fit.add((middle - s.flat_m[at(i)]) / r.element_m[at(i)], s.rest[at(e)].volume_m3 / s.rest[at(patch[0])].volume_m3,
            {std::log(r.triangle_thickness_m[at(e)]), std::log(l[0]), std::log(l[1])});
  }
  const Eigen::Vector3d value = fit.at_origin();
  r.thickness_m[at(i)] = std::exp(value[0]);
  r.stretch_1[at(i)] = std::exp(value[1]);
  r.stretch_2[at(i)] = std::exp(std::min(value[1], value[2]));
}

}  // namespace

double node_thickness_m(const sheet::SheetState& s, const std::vector<double>& triangle_thickness_m, int i) {
  double volume = 0.0, covered = 0.0;
  for (int k = s.first_corner[at(i)]; k < s.first_corner[at(i) + 1]; ++k) {
    const int e = s.corners[at(k)] / 3;
    volume += s.rest[at(e)].volume_m3;
    covered += s.rest[at(e)].volume_m3 / triangle_thickness_m[at(e)];
  }
  return volume / covered;
}

FormingResult recover(const sheet::SheetState& s, const std::vector<Touch>& touch, const mould::RigidMould& mould) {
  FormingResult r;
  const std::size_t n = at(s.nodes()), m = at(s.elements());
  r.bought_thickness_m = s.bought_thickness_m;
  r.triangles = s.triangles;
  r.flat_m = s.flat_m;
  r.on_rim = s.on_rim;
  r.points_m = s.x_m;
  for (auto* field : {&r.thickness_m, &r.stretch_1, &r.stretch_2, &r.gap_m, &r.contact_pressure_Pa, &r.touched_s,
                      &r.pressure_since_Pa, &r.element_m})
    field->resize(n);
  r.touching.resize(n);
  r.triangle_thickness_m.resize(m);
  r.triangle_wrinkle.resize(m);
  std::vector<std::array<double, 3>> metric(m);
#pragma omp parallel for schedule(static)
  for (int e = 0; e < s.elements(); ++e) {
    const sheet::ElementStretch l = sheet::element_stretch(s, e);
    metric[at(e)] = sheet::material_metric(s, e);
    r.triangle_thickness_m[at(e)] = l.thickness(s.bought_thickness_m);
    r.triangle_wrinkle[at(e)] = l.wrinkle;
  }
#pragma omp parallel for schedule(static)
  for (int i = 0; i < s.nodes(); ++i) {
    recover_node(s, metric, i, r);
    if (s.on_rim[at(i)]) carry_to_rim(s, metric, i, r);
    r.gap_m[at(i)] = mould.gap_m(s.x_m[at(i)]);
    const Touch& t = touch[at(i)];
    r.contact_pressure_Pa[at(i)] = t.touching ? t.contact_Pa : 0.0;
    r.touched_s[at(i)] = t.first_s;
    r.pressure_since_Pa[at(i)] = t.pressure_since_Pa;
    r.touching[at(i)] = static_cast<char>(t.touching);
  }
  return r;
}

}  // namespace pellicle::forming
