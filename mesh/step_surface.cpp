// What triangles do the surfaces of a STEP file become? Edge lengths follow the curvature; the mesh is then measured
// against the surfaces and made again, finer, while it is further away than asked.
#include "mesh/step_surface.h"

#include "mesh/apart.h"
#include "mesh/check.h"
#include "mesh/gmsh_session.h"
#include "mesh/quiet_stdout.h"

#include <fmt/format.h>
#include <gmsh.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <limits>
#include <map>
#include <optional>
#include <set>
#include <utility>

namespace pellicle::mesh {
namespace {

constexpr int kTriangleType = 2, kLineType = 1;
constexpr int kSamplesAcross = 24;     // of a surface, each way; nearest one gives the curvature of a place
constexpr int kSamplesAlong = 48;      // of a curve
constexpr int kRimSamples = 16;        // of a curve, for the faces beside it
constexpr double kGrowth = 0.3;        // of the edge length, per length
constexpr double kLongestShare = 0.1;  // longest edge, of the diagonal
constexpr double kMargin = 0.6;        // edges come out up to half as long again as asked for
constexpr int kMostRounds = 8;
constexpr double kSafety = 0.85;        // shorter than the measured sag alone asks for
constexpr int kMostOwnSamples = 500;    // places of a face too far away; more, and the whole face is made finer
constexpr double kMostTriangles = 3e6;  // some 3 GB with Gmsh's own data
constexpr Allowance kAllowance{8'000'000'000, 600};  // the largest mesh takes about a minute
constexpr std::size_t kMostFaces = 50'000;

/// A place and how long an edge may be there.
struct Sample {
  Vec3 at;
  double edge;
};

using Samples = std::vector<Sample>;

[[noreturn]] void refuse(const std::string& path, std::string found, std::string allowed, std::string advice) {
  throw Error({Fault::Kind::kGeometry, path, std::move(found), std::move(allowed), std::move(advice)});
}

/// Sag of an edge of length s on a curve of curvature k: k s^2 / 8; of an equilateral triangle of side s on a sphere:
/// k s^2 / 6 in its middle, from the radius s / sqrt(3) of the circle round it.
double edge_for(double curvature, double chord, double longest) {
  if (!std::isfinite(curvature) || curvature <= 0.0) return longest;
  return std::clamp(kMargin * std::sqrt(6.0 * chord / curvature), std::min(chord, longest), longest);
}

class StepMesher {
 public:
  StepMesher(const std::string& path) : path_(path) {}

  StepSurface read() {
    import();
    take_samples();
    for (int round = 0;; ++round) {
      generate();
      out_.chord_mm = std::max(measure(2, surface_), measure(1, curve_));
      if (out_.chord_mm <= out_.chord_wanted_mm || round + 1 == kMostRounds) break;
    }
    collect();
    return std::move(out_);
  }

 private:
  void import() {
    gmsh::clear();
    gmsh::option::setString("Geometry.OCCTargetUnit", "MM");
    gmsh::vectorpair shapes;
    gmsh::model::occ::importShapes(path_, shapes, false, "step");
    gmsh::model::occ::synchronize();
    gmsh::model::getEntities(solids_, 3);
    gmsh::model::getEntities(faces_, 2);
    if (faces_.empty()) {
      refuse(path_, fmt::format("{} shapes and no surface", shapes.size()), "at least one surface",
             "Is the mould empty in the drawing? Curves and points alone are no mould");
    }
    if (faces_.size() > kMostFaces) {
      refuse(path_, fmt::format("{} faces", faces_.size()), fmt::format("up to {} faces", kMostFaces),
             "Export it as STL");
    }
    std::array<double, 6> box{};
    gmsh::model::getBoundingBox(-1, -1, box[0], box[1], box[2], box[3], box[4], box[5]);
    const double diagonal = Vec3(box[3] - box[0], box[4] - box[1], box[5] - box[2]).norm();
    if (!(diagonal > 0.0) || !std::isfinite(diagonal)) {
      refuse(path_, fmt::format("a shape of diagonal {} mm", diagonal), "a shape of finite size", "");
    }
    out_.chord_wanted_mm = std::clamp(kChord_mm, kSmallestChordShare * diagonal, kLargestChordShare * diagonal);
    longest_ = kLongestShare * diagonal;
    out_.solids = static_cast<int>(solids_.size());
    out_.faces = static_cast<int>(faces_.size());
  }

  void take_samples() {
    double triangles = 0.0;
    for (const auto& [dim, tag] : faces_) {
      Samples samples = samples_of_face(tag);
      double area = 0.0, per_area = 0.0;
      gmsh::model::occ::getMass(2, tag, area);
      for (const Sample& s : samples) per_area += 1.0 / (s.edge * s.edge) / static_cast<double>(samples.size());
      triangles += 4.0 / std::sqrt(3.0) * area * std::max(per_area, 1.0 / (longest_ * longest_));
      surface_[tag] = std::move(samples);
    }
    if (!(triangles <= kMostTriangles)) {
      refuse(path_,
             fmt::format("curved surfaces that take about {:.2g} triangles at a chord error of {:.3g} mm", triangles,
                         out_.chord_wanted_mm),
             fmt::format("up to {:.0e} triangles", kMostTriangles), "Export it as STL, as coarse as will do");
    }
    gmsh::vectorpair curves;
    gmsh::model::getEntities(curves, 1);
    for (const auto& [dim, tag] : curves) {
      curve_[tag] = samples_of_curve(tag);
      std::vector<int> up, down;
      gmsh::model::getAdjacencies(1, tag, up, down);
      curve_faces_[tag] = up;
      for (const int point : down) point_curves_[point].push_back(tag);
    }
    for (const auto& [dim, tag] : curves) add_to_rims(tag);
  }

  /// Faces grow coarser away from a curve that is finely cut for the face on its other side.
  void add_to_rims(int tag) {
    std::vector<double> low, high, t, xyz;
    gmsh::model::getParametrizationBounds(1, tag, low, high);
    if (low.size() != 1 || high.size() != 1) return;
    for (int i = 0; i <= kRimSamples; ++i) {
      t.push_back(low[0] + static_cast<double>(i) / kRimSamples * (high[0] - low[0]));
    }
    gmsh::model::getValue(1, tag, t, xyz);
    for (std::size_t i = 0; i + 2 < xyz.size(); i += 3) {
      const Vec3 at(xyz[i], xyz[i + 1], xyz[i + 2]);
      for (const int face : curve_faces_[tag]) rim_[face].push_back({at, edge_on(1, tag, at)});
    }
  }

  Samples samples_of_face(int tag) const {
    std::string type;
    gmsh::model::getType(2, tag, type);
    if (type == "Plane") return {};
    std::vector<double> low, high, uv, xyz, largest, least, ignored1, ignored2;
    gmsh::model::getParametrizationBounds(2, tag, low, high);
    if (low.size() != 2 || high.size() != 2) return {};
    for (int i = 0; i < kSamplesAcross; ++i) {
      for (int j = 0; j < kSamplesAcross; ++j) {  // middles of cells: tips and seams lie on the rim
        uv.push_back(low[0] + (i + 0.5) / kSamplesAcross * (high[0] - low[0]));
        uv.push_back(low[1] + (j + 0.5) / kSamplesAcross * (high[1] - low[1]));
      }
    }
    gmsh::model::getValue(2, tag, uv, xyz);
    gmsh::model::getPrincipalCurvatures(tag, uv, largest, least, ignored1, ignored2);
    return samples_from(xyz, largest, least);
  }

  Samples samples_of_curve(int tag) const {
    std::string type;
    gmsh::model::getType(1, tag, type);
    if (type == "Line") return {};
    std::vector<double> low, high, t, xyz, curvature;
    gmsh::model::getParametrizationBounds(1, tag, low, high);
    if (low.size() != 1 || high.size() != 1) return {};
    for (int i = 0; i < kSamplesAlong; ++i) t.push_back(low[0] + (i + 0.5) / kSamplesAlong * (high[0] - low[0]));
    gmsh::model::getValue(1, tag, t, xyz);
    gmsh::model::getCurvature(1, tag, t, curvature);
    return samples_from(xyz, curvature, curvature);
  }

  Samples samples_from(const std::vector<double>& xyz, const std::vector<double>& largest,
                       const std::vector<double>& least) const {
    Samples samples;
    for (std::size_t i = 0; i < std::min(largest.size(), xyz.size() / 3); ++i) {
      const double curvature = std::max(std::fabs(largest[i]), std::fabs(least[i]));
      const Vec3 at(xyz[3 * i], xyz[3 * i + 1], xyz[3 * i + 2]);
      if (at.allFinite()) samples.push_back({at, edge_for(curvature, out_.chord_wanted_mm, longest_)});
    }
    return samples;
  }

  double edge_at(const std::map<int, Samples>& known, int tag, const Vec3& p) const {
    const auto it = known.find(tag);
    double edge = longest_, best_sq = std::numeric_limits<double>::infinity();
    if (it == known.end()) return edge;
    for (const Sample& s : it->second) {
      const double distance_sq = (s.at - p).squaredNorm();
      if (distance_sq >= best_sq) continue;
      best_sq = distance_sq;
      edge = s.edge;
    }
    return edge;
  }

  /// A curve is cut for itself and for the faces it bounds, a point for its curves.
  double edge_on(int dim, int tag, const Vec3& p) const {
    double edge = longest_;
    if (dim == 2) {
      edge = edge_at(surface_, tag, p);
      const auto rim = rim_.find(tag);
      if (rim == rim_.end()) return edge;
      for (const Sample& s : rim->second) {
        if (s.edge < edge) edge = std::min(edge, s.edge + kGrowth * (s.at - p).norm());
      }
      return edge;
    }
    if (dim == 1) {
      edge = edge_at(curve_, tag, p);
      const auto faces = curve_faces_.find(tag);
      if (faces == curve_faces_.end()) return edge;
      for (const int face : faces->second) edge = std::min(edge, edge_at(surface_, face, p));
    } else if (const auto curves = point_curves_.find(tag); dim == 0 && curves != point_curves_.end()) {
      for (const int curve : curves->second) edge = std::min(edge, edge_on(1, curve, p));
    }
    return edge;
  }

  /// Gmsh meshes in an OpenMP region, where an exception would end the program: errors are found in the log instead.
  void generate() {
    clear_what_is_too_far();
    gmsh::logger::stop();
    gmsh::logger::start();
    gmsh::model::mesh::setSizeCallback(
        [this](int dim, int tag, double x, double y, double z) { return edge_on(dim, tag, Vec3(x, y, z)); });
    gmsh::option::setNumber("General.AbortOnError", kStopOnError);
    gmsh::model::mesh::generate(2);
    gmsh::option::setNumber("General.AbortOnError", kThrowOnError);
    gmsh::model::mesh::removeSizeCallback();
    std::vector<std::string> log;
    gmsh::logger::get(log);
    for (const std::string& line : log) {
      if (line.starts_with("Error"))
        refuse(path_, "what Gmsh cannot mesh: " + line, "sound surfaces", "Export it as STL");
    }
    read_nodes();
  }

  /// Faces that came out too far from the surface are meshed anew between the same curves, the others stay. Where that
  /// has not helped, or a curve itself is too coarse, everything is meshed anew: Gmsh does not mesh single curves well
  /// that were cleared.
  void clear_what_is_too_far() {
    gmsh::vectorpair gone;
    bool is_partly = far_curves_.empty() && !far_faces_.empty();
    for (const int face : far_faces_) {
      gone.emplace_back(2, face);
      is_partly = is_partly && !was_far_.contains(face);
    }
    if (!is_partly) gone.clear();
    gmsh::option::setNumber("Mesh.MeshOnlyEmpty", is_partly ? 1 : 0);
    gmsh::model::mesh::clear(gone);  // nothing named: all of it
    was_far_ = is_partly ? far_faces_ : std::set<int>{};
    far_faces_.clear();
    far_curves_.clear();
  }

  void read_nodes() {
    std::vector<std::size_t> tags;
    std::vector<double> xyz, ignored;
    gmsh::model::mesh::getNodes(tags, xyz, ignored, -1, -1, false, false);
    std::size_t last = 0;
    for (const std::size_t tag : tags) last = std::max(last, tag);
    node_.assign(last + 1, Vec3::Constant(std::numeric_limits<double>::quiet_NaN()));
    for (std::size_t i = 0; i < tags.size(); ++i) {
      node_[tags[i]] = Vec3(xyz[3 * i], xyz[3 * i + 1], xyz[3 * i + 2]);
    }
  }

  std::vector<std::size_t> elements(int type, int tag) const {
    std::vector<std::size_t> ignored, nodes;
    gmsh::model::mesh::getElementsByType(type, ignored, nodes, tag);
    return nodes;
  }

  /// Largest distance of the middles of edges and triangles from the curves or surfaces they stand for. Where it is too
  /// large, the samples ask for shorter edges from now on.
  double measure(int dim, std::map<int, Samples>& known) {
    double worst = 0.0;
    for (auto& [tag, samples] : known) {
      if (samples.empty()) continue;  // flat, or straight
      const std::vector<Vec3> middles = middles_of(dim, tag);
      const std::vector<double> far = distances(dim, tag, middles);
      const double here = far.empty() ? 0.0 : *std::max_element(far.begin(), far.end());
      worst = std::max(worst, here);
      if (here <= out_.chord_wanted_mm) continue;
      (dim == 2 ? far_faces_ : far_curves_).insert(tag);
      sharpen(known, tag, middles, far, here);
    }
    return worst;
  }

  std::vector<Vec3> middles_of(int dim, int tag) const {
    const std::vector<std::size_t> nodes = elements(dim == 2 ? kTriangleType : kLineType, tag);
    std::vector<Vec3> middles;
    if (dim == 1) {
      for (std::size_t i = 0; i + 1 < nodes.size(); i += 2) {
        middles.push_back(0.5 * (node_[nodes[i]] + node_[nodes[i + 1]]));
      }
      return middles;
    }
    for (std::size_t i = 0; i + 2 < nodes.size(); i += 3) {
      const Vec3 &a = node_[nodes[i]], &b = node_[nodes[i + 1]], &c = node_[nodes[i + 2]];
      middles.insert(middles.end(), {0.5 * (a + b), 0.5 * (b + c), 0.5 * (c + a), (a + b + c) / 3.0});
    }
    return middles;
  }

  static std::vector<double> distances(int dim, int tag, const std::vector<Vec3>& points) {
    std::vector<double> xyz, closest, ignored, far;
    for (const Vec3& p : points) xyz.insert(xyz.end(), {p.x(), p.y(), p.z()});
    if (!points.empty()) gmsh::model::getClosestPoint(dim, tag, xyz, closest, ignored);
    for (std::size_t i = 0; i < std::min(points.size(), closest.size() / 3); ++i) {
      far.push_back((points[i] - Vec3(closest[3 * i], closest[3 * i + 1], closest[3 * i + 2])).norm());
    }
    return far;
  }

  /// Sag goes with the square of the edge. A few places too far away get samples of their own, as at the tip of a cone;
  /// where they are many, all of the face is made finer.
  void sharpen(std::map<int, Samples>& known, int tag, const std::vector<Vec3>& middles, const std::vector<double>& far,
               double worst) const {
    const double wanted = out_.chord_wanted_mm;
    const auto too_far = std::count_if(far.begin(), far.end(), [&](double d) { return d > wanted; });
    const auto shorter = [&](double d) { return std::clamp(kSafety * std::sqrt(wanted / d), 0.3, kSafety); };
    if (too_far > kMostOwnSamples) {
      for (Sample& s : known[tag]) s.edge *= shorter(worst);
      return;
    }
    Samples more;
    for (std::size_t i = 0; i < far.size(); ++i) {
      if (far[i] > wanted) more.push_back({middles[i], edge_at(known, tag, middles[i]) * shorter(far[i])});
    }
    known[tag].insert(known[tag].end(), more.begin(), more.end());
  }

  /// Solids in their order, each with its faces turned outward; then the faces of no solid.
  void collect() {
    std::vector<int> index(node_.size(), -1);
    std::map<int, bool> is_used;
    for (const auto& solid : solids_) {
      gmsh::vectorpair boundary;
      gmsh::model::getBoundary({solid}, boundary, false, true);
      const std::size_t first = out_.triangles.size();
      double volume = 0.0;
      for (const auto& [dim, signed_tag] : boundary) {
        volume += add_face(std::abs(signed_tag), signed_tag < 0, index);
        is_used[std::abs(signed_tag)] = true;
      }
      if (volume >= 0.0) continue;
      for (std::size_t t = first; t < out_.triangles.size(); ++t) std::swap(out_.triangles[t][1], out_.triangles[t][2]);
    }
    std::vector<int> loose;
    for (const auto& [dim, tag] : faces_) {
      if (is_used[tag]) continue;
      add_face(tag, false, index);
      loose.push_back(tag);
    }
    out_.loose_faces = static_cast<int>(loose.size());
    out_.loose_shells = count_shells(loose);
    if (out_.triangles.empty()) refuse(path_, "surfaces that give no triangles", "sound surfaces", "Export it as STL");
  }

  /// Six times the volume between the face and the origin.
  double add_face(int tag, bool is_turned, std::vector<int>& index) {
    const std::vector<std::size_t> nodes = elements(kTriangleType, tag);
    double volume = 0.0;
    for (std::size_t i = 0; i + 2 < nodes.size(); i += 3) {
      Triangle t{};
      for (std::size_t k = 0; k < 3; ++k) {
        const std::size_t node = nodes[i + (is_turned ? 2 - k : k)];
        ensure(node < node_.size() && node_[node].allFinite(), "Gmsh lists every node its triangles use");
        if (index[node] < 0) {
          index[node] = static_cast<int>(out_.points_mm.size());
          out_.points_mm.push_back(node_[node]);
        }
        t[k] = index[node];
      }
      const auto at = [&](std::size_t k) { return out_.points_mm[static_cast<std::size_t>(t[k])]; };
      Eigen::Matrix3d corners;
      corners << at(0), at(1), at(2);
      volume += corners(0, 0) * (corners(1, 1) * corners(2, 2) - corners(1, 2) * corners(2, 1)) -
                corners(0, 1) * (corners(1, 0) * corners(2, 2) - corners(1, 2) * corners(2, 0)) +
                corners(0, 2) * (corners(1, 0) * corners(2, 1) - corners(1, 1) * corners(2, 0));
      out_.triangles.push_back(t);
    }
    return volume;
  }

  /// Faces that share a curve are one shell.
  int count_shells(const std::vector<int>& faces) const {
    std::map<int, int> group;
    for (const int face : faces) group[face] = face;
    const auto root = [&](int face) {
      while (group[face] != face) face = group[face] = group[group[face]];
      return face;
    };
    for (const auto& [curve, around] : curve_faces_) {
      int first = 0;
      for (const int face : around) {
        if (!group.contains(face)) continue;
        if (first != 0) group[root(face)] = root(first);
        first = face;
      }
    }
    return static_cast<int>(std::count_if(faces.begin(), faces.end(), [&](int face) { return root(face) == face; }));
  }

  const std::string& path_;
  gmsh::vectorpair solids_, faces_;
  double longest_ = 0.0;
  std::map<int, Samples> surface_, curve_;  ///< by tag; empty: flat, straight
  std::set<int> was_far_;                   ///< faces meshed anew for it already
  std::set<int> far_faces_, far_curves_;    ///< whose triangles or edges were too far away in the last round
  std::map<int, Samples> rim_;              ///< of each face: how finely the curves round it are cut
  std::map<int, std::vector<int>> curve_faces_, point_curves_;
  std::vector<Vec3> node_;  ///< by tag
  StepSurface out_;

  static constexpr int kThrowOnError = 2, kStopOnError = 1;
};

/// What the reader complained of.
struct Complaint {
  int line = 0;  ///< 0: it names none
  std::string text;
};

/// "**** ERR StepFile : Undefined Parsing: Line 4: Incorrect syntax: ..." without its colours and stars. Open CASCADE
/// goes on after such a line and may hand over a part of the shape.
std::optional<Complaint> complaint_in(const std::string& printed) {
  const std::size_t start = printed.find("ERR Step");
  if (start == std::string::npos) return std::nullopt;
  const std::size_t end = std::min({printed.find('\n', start), printed.find("  ", start), printed.find(" ***", start)});
  Complaint complaint{0, printed.substr(start + 4, std::min<std::size_t>(end - start - 4, 200))};
  const std::size_t line = complaint.text.find("Line ");
  if (line == std::string::npos) return complaint;
  complaint.line = std::atoi(complaint.text.c_str() + line + 5);
  const std::size_t colon = complaint.text.find(": ", line);
  if (colon != std::string::npos) complaint.text.erase(0, colon + 2);
  return complaint;
}

[[noreturn]] void refuse_for(const std::string& path, const Complaint& complaint) {
  refuse(complaint.line > 0 ? fmt::format("{}:{}", path, complaint.line) : path, complaint.text,
         "a whole STEP file with sound surfaces", "Export the mould again, or as STL");
}

StepSurface read_here(const std::string& path) {
  const QuietStdout quiet;
  StepSurface surface;
  std::optional<std::string> fault;
  try {
    GmshSession session;
    session.work([&] { surface = StepMesher(path).read(); });
  } catch (const Error& error) {
    if (error.fault().where == path) throw;
    fault = error.fault().found;
  }
  if (const auto complaint = complaint_in(quiet.printed())) refuse_for(path, *complaint);
  if (fault) refuse_for(path, {0, *fault});
  return surface;
}

template <class Value>
void put(std::string& bytes, const Value* values, std::size_t count) {
  bytes.append(reinterpret_cast<const char*>(values), count * sizeof(Value));
}

template <class Value>
std::size_t take(const std::string& bytes, std::size_t at, Value* values, std::size_t count) {
  ensure(at + count * sizeof(Value) <= bytes.size(), "the other process writes all of its answer");
  if (count > 0) std::memcpy(values, bytes.data() + at, count * sizeof(Value));
  return at + count * sizeof(Value);
}

std::string packed(const StepSurface& s) {
  const std::array<double, 2> chords{s.chord_wanted_mm, s.chord_mm};
  const std::array<std::size_t, 6> counts{s.points_mm.size(),
                                          s.triangles.size(),
                                          static_cast<std::size_t>(s.solids),
                                          static_cast<std::size_t>(s.faces),
                                          static_cast<std::size_t>(s.loose_faces),
                                          static_cast<std::size_t>(s.loose_shells)};
  std::string bytes;
  put(bytes, chords.data(), chords.size());
  put(bytes, counts.data(), counts.size());
  for (const Vec3& p : s.points_mm) put(bytes, p.data(), 3);
  put(bytes, s.triangles.data(), s.triangles.size());
  return bytes;
}

StepSurface unpacked(const std::string& bytes) {
  std::array<double, 2> chords{};
  std::array<std::size_t, 6> counts{};
  std::size_t at = take(bytes, 0, chords.data(), chords.size());
  at = take(bytes, at, counts.data(), counts.size());
  StepSurface s;
  s.chord_wanted_mm = chords[0];
  s.chord_mm = chords[1];
  s.points_mm.resize(counts[0]);
  s.triangles.resize(counts[1]);
  s.solids = static_cast<int>(counts[2]);
  s.faces = static_cast<int>(counts[3]);
  s.loose_faces = static_cast<int>(counts[4]);
  s.loose_shells = static_cast<int>(counts[5]);
  for (Vec3& p : s.points_mm) at = take(bytes, at, p.data(), 3);
  take(bytes, at, s.triangles.data(), s.triangles.size());
  return s;
}

}  // namespace

StepSurface read_step_surface(const std::string& path) {
  return unpacked(run_apart(path, kAllowance, [&] { return packed(read_here(path)); }));
}

}  // namespace pellicle::mesh
