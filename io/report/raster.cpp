// How does a surface become a picture? Seen straight (no perspective, so one scale holds all over), nearest wins.
#include "io/report/raster.h"

#include "mesh/check.h"

#include <Eigen/Geometry>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace pellicle::report {
namespace {

using mesh::Vec3;

constexpr double kMargin = 0.04;      ///< of the picture, on each side
constexpr double kLeastLight = 0.62;  ///< of a face turned away from the light: colours stay readable
constexpr int kStripe_px = 5;         ///< of where there is no value
constexpr std::uint8_t kStripeDark = 150, kStripeLight = 205;

std::size_t index(int i) { return static_cast<std::size_t>(i); }

/// Sums of light and the nearest depth, `samples` times finer than the picture.
class Samples {
 public:
  Samples(const Camera& camera, int samples)
      : n_(samples),
        width_(camera.width_px * samples),
        height_(camera.height_px * samples),
        depth_m_(index(width_) * index(height_), -std::numeric_limits<double>::infinity()),
        rgb_(depth_m_.size(), Rgb{0, 0, 0}) {}

  int width() const { return width_; }
  int height() const { return height_; }
  int samples() const { return n_; }
  void put(int x, int y, double depth_m, Rgb colour) {
    const std::size_t at = index(y) * index(width_) + index(x);
    depth_m_[at] = depth_m;
    rgb_[at] = colour;
  }
  bool hides(int x, int y, double depth_m) const { return depth_m_[index(y) * index(width_) + index(x)] >= depth_m; }

  Picture picture() const {
    Picture out{width_ / n_, height_ / n_, {}};
    out.rgba.reserve(4 * index(out.width) * index(out.height));
    for (int y = 0; y < out.height; ++y)
      for (int x = 0; x < out.width; ++x) add_pixel(out, x, y);
    return out;
  }

 private:
  void add_pixel(Picture& out, int x, int y) const {
    int red = 0, green = 0, blue = 0, covered = 0;
    for (int j = y * n_; j < (y + 1) * n_; ++j)
      for (int i = x * n_; i < (x + 1) * n_; ++i) {
        const std::size_t at = index(j) * index(width_) + index(i);
        if (std::isinf(depth_m_[at])) continue;
        red += rgb_[at].red;
        green += rgb_[at].green;
        blue += rgb_[at].blue;
        ++covered;
      }
    const auto mean = [&](int sum) {
      return static_cast<std::uint8_t>(covered == 0 ? 0 : (sum + covered / 2) / covered);
    };
    out.rgba.insert(out.rgba.end(),
                    {mean(red), mean(green), mean(blue), static_cast<std::uint8_t>(255 * covered / (n_ * n_))});
  }

  int n_, width_, height_;
  std::vector<double> depth_m_;
  std::vector<Rgb> rgb_;
};

/// What a corner brings to the picture.
struct Corner {
  double x, y, depth_m, value, light;
};

double light_on(const Vec3& normal, const Camera& camera) {
  if (normal.isZero()) return kLeastLight;
  static const Vec3 kLamp = Vec3(-0.45, 0.55, 0.7).normalized();  // right, up, towards the eye
  const Vec3 to_lamp = kLamp.x() * camera.right + kLamp.y() * camera.up + kLamp.z() * camera.towards;
  const double side = normal.dot(camera.towards) < 0.0 ? -1.0 : 1.0;
  return kLeastLight + (1.0 - kLeastLight) * std::max(0.0, side * normal.dot(to_lamp));
}

std::uint8_t dimmed(std::uint8_t part, double light) {
  return static_cast<std::uint8_t>(std::lround(light * static_cast<double>(part)));
}

Rgb shown(double share, double light, int x, int y, int samples, Colours colours) {
  if (std::isnan(share)) {
    const bool dark = (x + y) / (kStripe_px * samples) % 2 == 0;
    const std::uint8_t grey = dimmed(dark ? kStripeDark : kStripeLight, light);
    return {grey, grey, grey};
  }
  const Rgb colour = colour_of(share, colours);
  return {dimmed(colour.red, light), dimmed(colour.green, light), dimmed(colour.blue, light)};
}

/// Twice the signed area of a, b and (x, y), in px.
double side_of(const Corner& a, const Corner& b, double x, double y) {
  return (b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x);
}

/// The part of a triangle in the rows from `from` to before `to`.
void fill(Samples& samples, const std::array<Corner, 3>& c, Colours colours, int from, int to) {
  const auto [top, bottom] = std::minmax({c[0].y, c[1].y, c[2].y});
  if (bottom < from || top > to) return;
  const double area = side_of(c[0], c[1], c[2].x, c[2].y);
  if (area == 0.0 || !std::isfinite(area)) return;
  const auto [left, right] = std::minmax({c[0].x, c[1].x, c[2].x});
  if (right < 0.0 || left > samples.width()) return;
  const int x0 = std::max(0, static_cast<int>(std::floor(left)));
  const int y0 = std::max(from, static_cast<int>(std::floor(top)));
  const int x1 = std::min(samples.width(), static_cast<int>(std::ceil(right)));
  const int y1 = std::min(to, static_cast<int>(std::ceil(bottom)));
  for (int y = y0; y < y1; ++y)
    for (int x = x0; x < x1; ++x) {
      const double u = side_of(c[1], c[2], x + 0.5, y + 0.5) / area, v = side_of(c[2], c[0], x + 0.5, y + 0.5) / area;
      const double w = 1.0 - u - v;
      if (u < 0.0 || v < 0.0 || w < 0.0) continue;
      const auto mixed = [&](double Corner::*part) { return u * c[0].*part + v * c[1].*part + w * c[2].*part; };
      const double depth_m = mixed(&Corner::depth_m);
      if (samples.hides(x, y, depth_m)) continue;
      samples.put(x, y, depth_m, shown(mixed(&Corner::value), mixed(&Corner::light), x, y, samples.samples(), colours));
    }
}

}  // namespace

Vec3 Camera::seen(const Vec3& p_m) const {
  const Vec3 from = p_m - middle_m;
  return {0.5 * width_px + px_per_m * from.dot(right), 0.5 * height_px - px_per_m * from.dot(up), from.dot(towards)};
}

Camera camera_on(const Vec3& low_m, const Vec3& high_m, double azimuth_rad, double height_rad, int width_px,
                 int height_px) {
  const double c = std::cos(azimuth_rad), s = std::sin(azimuth_rad);
  const double flat = std::cos(height_rad), steep = std::sin(height_rad);
  Camera camera{
      {-s, c, 0.0}, {-c * steep, -s * steep, flat}, {c * flat, s * flat, steep}, 0.5 * (low_m + high_m), 1.0, width_px,
      height_px};
  const Vec3 half_m = 0.5 * (high_m - low_m);
  const double across_m = half_m.dot(camera.right.cwiseAbs()), along_m = half_m.dot(camera.up.cwiseAbs());
  ensure(across_m > 0.0 || along_m > 0.0, "a view is of something");
  const auto fitting = [](int px, double m) {
    return m > 0.0 ? (0.5 - kMargin) * px / m : std::numeric_limits<double>::infinity();
  };
  camera.px_per_m = std::min(fitting(width_px, across_m), fitting(height_px, along_m));
  return camera;
}

std::vector<Vec3> node_normals(std::span<const Vec3> points_m, std::span<const mesh::Triangle> triangles) {
  std::vector<Vec3> normals(points_m.size(), Vec3::Zero());
  for (const mesh::Triangle& t : triangles) {
    const Vec3 &a = points_m[index(t[0])], &b = points_m[index(t[1])], &c = points_m[index(t[2])];
    const Vec3 twice_area = (b - a).cross(c - a);
    for (const int corner : t) normals[index(corner)] += twice_area;
  }
  for (Vec3& normal : normals) {
    const double length = normal.norm();
    if (length > 0.0) normal /= length;
  }
  return normals;
}

Picture drawn(const Coloured& surface, const Camera& camera, int samples) {
  ensure(surface.values.size() == surface.points_m.size() && surface.low < surface.high && samples > 0,
         "a picture shows a value for each node in a range");
  const std::vector<Vec3> normals = node_normals(surface.points_m, surface.triangles);
  std::vector<Corner> corners;
  corners.reserve(surface.points_m.size());
  for (std::size_t i = 0; i < surface.points_m.size(); ++i) {
    const Vec3 p = camera.seen(surface.points_m[i]);
    corners.push_back({samples * p.x(), samples * p.y(), p.z(),
                       (surface.values[i] - surface.low) / (surface.high - surface.low), light_on(normals[i], camera)});
  }
  Samples taken(camera, samples);
  // Several bands a thread, for the surface is in the middle of the picture. The triangles come in one order in each.
  constexpr int kBands = 16;
#pragma omp parallel for schedule(dynamic, 1)
  for (int band = 0; band < kBands; ++band) {
    const int from = taken.height() * band / kBands, to = taken.height() * (band + 1) / kBands;
    for (const mesh::Triangle& t : surface.triangles)
      fill(taken, {corners[index(t[0])], corners[index(t[1])], corners[index(t[2])]}, surface.colours, from, to);
  }
  return taken.picture();
}

bool is_hidden(std::span<const Vec3> points_m, std::span<const mesh::Triangle> triangles, const Camera& camera,
               const Vec3& place_m, double by_m) {
  const Vec3 place = camera.seen(place_m);
  for (const mesh::Triangle& t : triangles) {
    std::array<Corner, 3> c{};
    for (std::size_t k = 0; k < 3; ++k) {
      const Vec3 p = camera.seen(points_m[index(t[k])]);
      c[k] = {p.x(), p.y(), p.z(), 0.0, 0.0};
    }
    const double area = side_of(c[0], c[1], c[2].x, c[2].y);
    if (area == 0.0) continue;
    const double u = side_of(c[1], c[2], place.x(), place.y()) / area;
    const double v = side_of(c[2], c[0], place.x(), place.y()) / area, w = 1.0 - u - v;
    if (u < 0.0 || v < 0.0 || w < 0.0) continue;
    if (u * c[0].depth_m + v * c[1].depth_m + w * c[2].depth_m > place.z() + by_m) return true;
  }
  return false;
}

Picture colour_bar(int width_px, int height_px, Colours colours) {
  ensure(width_px > 1 && height_px > 0, "a colour bar has two ends");
  Picture bar{width_px, height_px, {}};
  for (int y = 0; y < height_px; ++y)
    for (int x = 0; x < width_px; ++x) {
      const Rgb c = colour_of(static_cast<double>(x) / (width_px - 1), colours);
      bar.rgba.insert(bar.rgba.end(), {c.red, c.green, c.blue, 255});
    }
  return bar;
}

}  // namespace pellicle::report
