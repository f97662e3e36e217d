// How is Gmsh used without it leaking into the rest of the process? One guarded session at a time.
#include "mesh/gmsh_session.h"

#include "mesh/check.h"

#include <fmt/format.h>
#include <gmsh.h>
#include <omp.h>

#include <algorithm>
#include <clocale>
#include <cstddef>
#include <cstdlib>
#include <exception>
#include <optional>

namespace pellicle::mesh {
namespace {

constexpr int kFrontalDelaunay = 6;
constexpr int kTriangleType = 2;
constexpr int kThrowOnError = 2;
constexpr int kStopOnError = 1;

// Two threads in Gmsh make empty meshes without a word, so there is one lock a process. Never locked twice by a thread.
std::mutex& gmsh_lock() {
  static std::mutex lock;
  return lock;
}

std::string locale_now() {
  const char* name = std::setlocale(LC_NUMERIC, nullptr);
  return name != nullptr ? name : "C";
}

[[noreturn]] void fail(const std::string& said) {
  throw Error({.kind = Fault::Kind::kGeometry,
               .where = "meshing with Gmsh",
               .found = said.empty() ? "an unknown error" : said,
               .allowed = "a simple closed outline and an edge length that fits it",
               .advice = "Look at the sheet's outline and element"});
}

// Gmsh throws std::string; int and others in some versions. All of them become Error.
template <class Work>
auto guarded(const Work& work) {
  try {
    return work();
  } catch (const Error&) {
    throw;
  } catch (const std::string& said) {
    fail(said);
  } catch (const std::exception& error) {
    fail(error.what());
  } catch (...) {
    fail("");
  }
}

void set_options() {
  gmsh::option::setNumber("General.Terminal", 0);
  gmsh::option::setNumber("General.NumThreads", 1);
  gmsh::option::setNumber("Mesh.Algorithm", kFrontalDelaunay);
  gmsh::option::setNumber("Mesh.ElementOrder", 1);
  gmsh::option::setNumber("Mesh.MeshSizeExtendFromBoundary", 0);  // the size field alone speaks
  gmsh::option::setNumber("Mesh.MeshSizeFromPoints", 0);
  gmsh::option::setNumber("Mesh.MeshSizeFromCurvature", 0);
  gmsh::option::setNumber("Mesh.MeshOnlyEmpty", 0);
}

void add_polygon(std::span<const Vec2> polygon) {
  std::vector<int> lines;
  const int corners = static_cast<int>(polygon.size());
  for (int i = 0; i < corners; ++i) {
    const Vec2& p = polygon[static_cast<std::size_t>(i)];
    gmsh::model::geo::addPoint(p.x(), p.y(), 0.0, 0.0, i + 1);
  }
  for (int i = 0; i < corners; ++i) {
    lines.push_back(gmsh::model::geo::addLine(i + 1, (i + 1) % corners + 1, i + 1));
    gmsh::model::geo::mesh::setTransfiniteCurve(lines.back(), 2);  // one edge: the polygon is the rim as wanted
  }
  gmsh::model::geo::addCurveLoop(lines, 1);
  gmsh::model::geo::addPlaneSurface({1}, 1);
  gmsh::model::geo::synchronize();
}

void set_size_field(const BoxSize& size) {
  const int field = gmsh::model::mesh::field::add("Box");
  const auto set = [field](const char* name, double value) { gmsh::model::mesh::field::setNumber(field, name, value); };
  set("VIn", size.inside);
  set("VOut", size.outside);
  set("XMin", size.low.x());
  set("XMax", size.high.x());
  set("YMin", size.low.y());
  set("YMax", size.high.y());
  set("ZMin", -1.0);
  set("ZMax", 1.0);
  set("Thickness", size.growth);
  gmsh::model::mesh::field::setAsBackgroundMesh(field);
}

// Node tags have gaps and belong to unused nodes too: a table from tag to index, filled in the order of first use.
PlaneMesh collect() {
  std::vector<std::size_t> tags, element_tags, element_nodes;
  std::vector<double> xyz, parametric;
  gmsh::model::mesh::getNodes(tags, xyz, parametric, -1, -1, false, false);
  gmsh::model::mesh::getElementsByType(kTriangleType, element_tags, element_nodes);
  if (element_nodes.empty()) return {};

  std::size_t last_tag = 0;
  for (const std::size_t tag : tags) last_tag = std::max(last_tag, tag);
  std::vector<std::size_t> place(last_tag + 1, tags.size());
  for (std::size_t i = 0; i < tags.size(); ++i) place[tags[i]] = i;

  PlaneMesh mesh;
  std::vector<int> index(last_tag + 1, -1);
  mesh.triangles.resize(element_nodes.size() / 3);
  for (std::size_t i = 0; i < element_nodes.size(); ++i) {
    const std::size_t tag = element_nodes[i];
    ensure(tag <= last_tag && place[tag] < tags.size(), "Gmsh lists every node its triangles use");
    if (index[tag] < 0) {
      index[tag] = static_cast<int>(mesh.points.size());
      mesh.points.emplace_back(xyz[3 * place[tag]], xyz[3 * place[tag] + 1]);
    }
    mesh.triangles[i / 3][i % 3] = index[tag];
  }
  return mesh;
}

/// The last line of the log that begins with `kind`; empty if there is none.
std::string last_logged(const char* kind) {
  std::vector<std::string> log;
  gmsh::logger::get(log);
  const auto line = std::find_if(log.rbegin(), log.rend(), [kind](const auto& s) { return s.rfind(kind, 0) == 0; });
  return line == log.rend() ? "" : *line;
}

/// Gmsh meshes in an OpenMP region, where an exception would end the program: errors are found in the log instead.
void generate() {
  gmsh::option::setNumber("General.AbortOnError", kStopOnError);
  gmsh::model::mesh::generate(2);
  gmsh::option::setNumber("General.AbortOnError", kThrowOnError);
  const std::string error = last_logged("Error");
  if (!error.empty()) fail(error);
}

}  // namespace

// Distance to the box as in Gmsh's Box field, so that the rim, which is divided here, follows the same size.
double BoxSize::at(const Vec2& p) const {
  const double distance = (low - p).cwiseMax(p - high).cwiseMax(0.0).norm();
  if (distance >= growth) return distance > 0.0 ? outside : inside;
  return inside + (outside - inside) * distance / growth;
}

namespace {

/// No home while Gmsh starts: its window toolkit keeps preferences there, even for a program without windows.
class Homeless {
 public:
  Homeless() {
    if (const char* home = std::getenv("HOME")) before_ = home;
    ::setenv("HOME", "/dev/null", 1);
  }
  ~Homeless() {
    if (before_)
      ::setenv("HOME", before_->c_str(), 1);
    else
      ::unsetenv("HOME");
  }
  Homeless(const Homeless&) = delete;
  Homeless& operator=(const Homeless&) = delete;

 private:
  std::optional<std::string> before_;
};

}  // namespace

GmshSession::GmshSession() : only_(gmsh_lock()), threads_before_(omp_get_max_threads()), locale_before_(locale_now()) {
  open();
}

GmshSession::~GmshSession() { close(); }

void GmshSession::open() {
  try {
    guarded([] {
      const Homeless homeless;
      constexpr bool kReadConfigFiles = false;  // or results would depend on the user's home
      gmsh::initialize(0, nullptr, kReadConfigFiles);
      set_options();
    });
  } catch (...) {
    close();
    throw;
  }
}

void GmshSession::close() noexcept {
  try {
    gmsh::finalize();
  } catch (...) {  // nobody left to tell; the next session initialises afresh
  }
  omp_set_num_threads(threads_before_);  // Gmsh leaves it at 1
  std::setlocale(LC_NUMERIC, locale_before_.c_str());
}

void GmshSession::work(const std::function<void()>& calls) {
  try {
    guarded(calls);
  } catch (...) {  // an error leaves the library locked: later calls would quietly do nothing
    close();
    open();
    throw;
  }
}

PlaneMesh GmshSession::mesh_polygon(std::span<const Vec2> polygon, const BoxSize& size) {
  for (const Vec2& p : polygon) {
    if (!p.allFinite()) fail("a point that is not a number");  // Gmsh would never return
  }
  PlaneMesh mesh;
  work([&] {
    gmsh::clear();
    gmsh::logger::stop();  // forgets what was logged before
    gmsh::logger::start();
    add_polygon(polygon);
    set_size_field(size);
    generate();
    mesh = collect();
    if (mesh.triangles.empty()) fail("no triangles and no error. " + last_logged("Warning"));
  });
  return mesh;
}

}  // namespace pellicle::mesh
