// Which closed loop does the path of a drawing describe? Commands become lines and cubic curves, curves become chords.
#include "io/case/svg_path.h"

#include "io/case/document.h"
#include "mesh/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <numbers>
#include <system_error>

namespace pellicle::cases {
namespace {

using mesh::Vec2;

constexpr double kSamePoint = 1e-9;  // of the box: what a sum of relative steps may miss the start by
constexpr double kMostArc = std::numbers::pi / 6.0;
constexpr int kLeastChords = 3;  // of a cubic, so that an arc turns by no more than 10 degrees a chord

struct Cubic {
  Vec2 from, out, in, to;  ///< ends and control points
  bool straight;
};

/// The ellipse through two points, SVG 1.1, appendix F.6.5 and F.6.6.
void add_arc(std::vector<Cubic>& curves, const Vec2& from, Vec2 radii, double turn, bool large, bool sweep,
             const Vec2& to) {
  radii = radii.cwiseAbs();
  if (from == to) return;
  if (radii.minCoeff() == 0.0) {
    curves.push_back({from, from, to, to, true});
    return;
  }
  Eigen::Matrix2d axes;
  axes << std::cos(turn), -std::sin(turn), std::sin(turn), std::cos(turn);
  // In the ellipse's own axes, divided by its radii, it is the unit circle through p and -p shifted to the centre c.
  Vec2 p = (axes.transpose() * (0.5 * (from - to))).cwiseQuotient(radii);
  if (p.norm() > 1.0) {  // too small to reach: made just large enough
    radii *= p.norm();
    p.normalize();
  }
  const double away = std::sqrt(std::max(0.0, 1.0 / p.squaredNorm() - 1.0)) * (large == sweep ? -1.0 : 1.0);
  const Vec2 c(away * p.y(), -away * p.x());
  const Vec2 first = p - c, last = -p - c;
  const double start = std::atan2(first.y(), first.x());
  double angle = std::atan2(last.y(), last.x()) - start;
  if (sweep && angle < 0.0) angle += 2.0 * std::numbers::pi;
  if (!sweep && angle > 0.0) angle -= 2.0 * std::numbers::pi;
  const Vec2 centre = 0.5 * (from + to) + axes * radii.cwiseProduct(c);
  const auto at = [&](const Vec2& unit) -> Vec2 { return centre + axes * radii.cwiseProduct(unit); };
  const int count = std::max(1, static_cast<int>(std::ceil(std::abs(angle) / kMostArc - 1e-9)));
  // The cubic whose middle lies on the circle: off it by 4e-7 of the radius for 30 degrees.
  const double reach = 4.0 / 3.0 * std::tan(angle / count / 4.0);
  for (int k = 0; k < count; ++k) {
    const double a = start + angle * k / count, b = start + angle * (k + 1) / count;
    const Vec2 u(std::cos(a), std::sin(a)), v(std::cos(b), std::sin(b));
    curves.push_back({k == 0 ? from : curves.back().to, at(u + reach * Vec2(-u.y(), u.x())),
                      at(v - reach * Vec2(-v.y(), v.x())), k + 1 == count ? to : at(v), false});
  }
}

class PathReader {
 public:
  PathReader(std::string_view path, const std::string& where) : path_(path), where_(where) {}

  std::vector<Cubic> read() {
    skip_blanks();
    if (is_at_end() || (path_[at_] != 'M' && path_[at_] != 'm'))
      refuse("no M at the start", "a path that starts with M");
    while (!is_at_end()) {
      if (closed_) refuse("more after Z", "one closed subpath", "Give the outline alone, without holes or marks");
      const std::size_t from = at_;
      command_ = path_[at_++];
      if (std::string_view("MmLlHhVvCcSsQqTtAaZz").find(command_) == std::string_view::npos) {
        at_ = from;
        refuse(in_quotes(path_.substr(at_, 1)), "a command: M L H V C S Q T A Z, small letters for relative places");
      }
      if ((command_ == 'M' || command_ == 'm') && started_) {
        at_ = from;
        refuse("a second subpath", "one closed subpath", "Give the outline alone, without holes or marks");
      }
      skip_blanks();
      if (command_ == 'Z' || command_ == 'z') {
        closed_ = true;
        continue;
      }
      do step();
      while (next_is_number());
    }
    return close();
  }

 private:
  [[noreturn]] void refuse(std::string found, std::string allowed, std::string advice = {}) const {
    throw Error({.kind = Fault::Kind::kCase,
                 .where = where_,
                 .found = fmt::format("{} at character {} of the path", found, at_ + 1),
                 .allowed = std::move(allowed),
                 .advice = std::move(advice)});
  }
  bool is_at_end() const { return at_ >= path_.size(); }
  bool is_digit() const { return !is_at_end() && path_[at_] >= '0' && path_[at_] <= '9'; }
  void skip_blanks() {
    while (!is_at_end() && std::string_view(" \t\r\n\f").find(path_[at_]) != std::string_view::npos) ++at_;
  }
  /// Between two numbers: blanks with at most one comma among them.
  void skip_comma() {
    skip_blanks();
    if (is_at_end() || path_[at_] != ',') return;
    ++at_;
    skip_blanks();
    if (!starts_number()) refuse("no number after the comma", "a number");
  }
  bool starts_number() const {
    return !is_at_end() && std::string_view("+-.0123456789").find(path_[at_]) != std::string_view::npos;
  }
  bool next_is_number() {
    skip_comma();
    return starts_number();
  }

  double number() {
    skip_comma();
    const std::size_t from = at_;
    const bool minus = !is_at_end() && path_[at_] == '-';
    if (minus || (!is_at_end() && path_[at_] == '+')) ++at_;
    const bool sound = is_digit() || (!is_at_end() && path_[at_] == '.');  // from_chars would take "inf" as well
    double value = 0.0;
    const char* const end = path_.data() + path_.size();
    const auto read = sound ? std::from_chars(path_.data() + at_, end, value) : std::from_chars_result{};
    if (!sound || read.ec != std::errc() || !std::isfinite(value)) {
      at_ = from;
      refuse(is_at_end() ? "the end" : in_quotes(path_.substr(at_, 12)), fmt::format("a number for {}", command_));
    }
    at_ = static_cast<std::size_t>(read.ptr - path_.data());
    return minus ? -value : value;
  }
  /// 0 or 1; the next number may follow without a blank.
  bool flag() {
    skip_comma();
    if (is_at_end() || (path_[at_] != '0' && path_[at_] != '1'))
      refuse(is_at_end() ? "the end" : in_quotes(path_.substr(at_, 12)), "0 or 1 for a flag of A");
    return path_[at_++] == '1';
  }
  bool is_relative() const { return command_ >= 'a'; }
  Vec2 point() {
    const double x = number(), y = number();
    return (is_relative() ? now_ : Vec2(0.0, 0.0)) + Vec2(x, y);
  }

  /// One set of arguments of the command.
  void step() {
    const char kind = static_cast<char>(is_relative() ? command_ - 'a' + 'A' : command_);
    // S and T mirror the control point of the curve before, if that was one of their own kind.
    const Vec2 mirrored = 2.0 * now_ - control_;
    const bool after_cubic = before_ == 'C' || before_ == 'S', after_quadratic = before_ == 'Q' || before_ == 'T';
    before_ = kind;
    switch (kind) {
      case 'M':
        start_ = now_ = point();
        started_ = true;
        command_ = is_relative() ? 'l' : 'L';  // further points are lines
        return;
      case 'L':
        return line_to(point());
      case 'H':
        return line_to({number() + (is_relative() ? now_.x() : 0.0), now_.y()});
      case 'V':
        return line_to({now_.x(), number() + (is_relative() ? now_.y() : 0.0)});
      case 'C':
      case 'S': {
        const Vec2 out = kind == 'C' ? point() : after_cubic ? mirrored : now_;
        control_ = point();
        const Vec2 to = point();
        return curve_to(out, control_, to);
      }
      case 'Q':
      case 'T': {
        control_ = kind == 'Q' ? point() : after_quadratic ? mirrored : now_;
        const Vec2 to = point();
        return curve_to(now_ + 2.0 / 3.0 * (control_ - now_), to + 2.0 / 3.0 * (control_ - to), to);
      }
      default: {
        const double x = number(), y = number(), turn = number() * std::numbers::pi / 180.0;
        const bool large = flag(), sweep = flag();
        const Vec2 to = point();
        add_arc(curves_, now_, {x, y}, turn, large, sweep, to);
        now_ = to;
      }
    }
  }
  void line_to(const Vec2& to) {
    curves_.push_back({now_, now_, to, to, true});
    now_ = to;
  }
  void curve_to(const Vec2& out, const Vec2& in, const Vec2& to) {
    curves_.push_back({now_, out, in, to, false});
    now_ = to;
  }

  std::vector<Cubic> close() {
    Vec2 low = start_, high = start_;
    for (const Cubic& c : curves_) low = low.cwiseMin(c.to), high = high.cwiseMax(c.to);
    const double miss = (now_ - start_).norm();
    if (!closed_ && miss > kSamePoint * (high - low).norm())
      refuse("an open path", "a path that ends where it starts, or with Z", "Write Z at its end");
    curves_.push_back({now_, now_, start_, start_, true});
    return std::move(curves_);
  }

  std::string_view path_;
  const std::string& where_;
  std::size_t at_ = 0;
  char command_ = 0, before_ = 0;
  bool started_ = false, closed_ = false;
  Vec2 start_ = Vec2::Zero(), now_ = Vec2::Zero(), control_ = Vec2::Zero();
  std::vector<Cubic> curves_;
};

/// A chord of a curve with second derivative at most M over a step t of its parameter is off by at most M t^2/8.
int chords(const Cubic& c, double error) {
  if (c.straight) return 1;
  const double M = 6.0 * std::max((c.from - 2.0 * c.out + c.in).norm(), (c.out - 2.0 * c.in + c.to).norm());
  constexpr double kMost = 1000.0;
  return std::max(kLeastChords, static_cast<int>(std::ceil(std::min(kMost, std::sqrt(M / (8.0 * error))))));
}

Vec2 point_of(const Cubic& c, double t) {
  const double u = 1.0 - t;
  return u * u * u * c.from + 3.0 * u * u * t * c.out + 3.0 * u * t * t * c.in + t * t * t * c.to;
}

std::vector<Vec2> flattened(const std::vector<Cubic>& curves) {
  Vec2 low = curves.front().from, high = low;
  for (const Cubic& c : curves) {
    for (const double t : {0.25, 0.5, 0.75, 1.0})
      low = low.cwiseMin(point_of(c, t)), high = high.cwiseMax(point_of(c, t));
  }
  const double size = (high - low).maxCoeff();
  std::vector<Vec2> points{curves.front().from};
  const auto add = [&](const Vec2& p) {
    if ((p - points.back()).norm() > kSamePoint * size) points.push_back(p);
  };
  for (const Cubic& c : curves) {
    const int count = size > 0.0 ? chords(c, kPathChordError * size) : 1;
    for (int k = 1; k < count; ++k) add(point_of(c, static_cast<double>(k) / count));
    add(c.to);
  }
  while (points.size() > 1 && (points.back() - points.front()).norm() <= kSamePoint * size) points.pop_back();
  return points;
}

}  // namespace

std::vector<Vec2> read_svg_path(std::string_view path, const std::string& where) {
  return flattened(PathReader(path, where).read());
}

}  // namespace pellicle::cases
