// Is the sheet meshed whole, on its outline, in the sizes asked for, and the same every time, whatever surrounds it?
#include "mesh/sheet_mesher.h"

#include "mesh/check.h"
#include "mesh/gmsh_session.h"

#include <fcntl.h>
#include <gtest/gtest.h>
#include <omp.h>
#include <unistd.h>

#include <algorithm>
#include <clocale>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <limits>
#include <numbers>
#include <set>
#include <string>
#include <thread>

namespace pellicle::mesh {
namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kEps = std::numeric_limits<double>::epsilon();

SheetSize uniform(double element_m) { return {element_m, element_m, std::nullopt}; }

double edge_m(const SheetMesh& m, const Triangle& t, std::size_t k) {
  return (m.flat_m[static_cast<std::size_t>(t[k])] - m.flat_m[static_cast<std::size_t>(t[(k + 1) % 3])]).norm();
}
double triangle_area_m2(const SheetMesh& m, const Triangle& t) {
  const Vec2& a = m.flat_m[static_cast<std::size_t>(t[0])];
  const Vec2 u = m.flat_m[static_cast<std::size_t>(t[1])] - a, v = m.flat_m[static_cast<std::size_t>(t[2])] - a;
  return 0.5 * (u.x() * v.y() - u.y() * v.x());
}
double mesh_area_m2(const SheetMesh& m) {
  double sum = 0.0;
  for (const Triangle& t : m.triangles) sum += triangle_area_m2(m, t);
  return sum;
}

/// Distance from the rim: independent of the mesher's own parametrisation.
double off_rim_m(const Outline& outline, const Vec2& p_m) {
  const Vec2 p = p_m - outline.centre_m;
  if (const auto* disc = std::get_if<Disc>(&outline.shape)) return std::abs(p.norm() - 0.5 * disc->diameter_m);
  if (const auto* loop = std::get_if<Loop>(&outline.shape)) {
    double nearest = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < loop->points_m.size(); ++i) {
      const Vec2 a = loop->points_m[i], side = loop->points_m[(i + 1) % loop->points_m.size()] - a;
      const double t = std::clamp((p - a).dot(side) / side.squaredNorm(), 0.0, 1.0);
      nearest = std::min(nearest, (p - a - t * side).norm());
    }
    return nearest;
  }
  const auto& r = std::get<RoundedRectangle>(outline.shape);
  const Vec2 q = p.cwiseAbs() - Vec2(0.5 * r.width_m - r.corner_m, 0.5 * r.depth_m - r.corner_m);
  return std::abs(q.cwiseMax(0.0).norm() + std::min(q.maxCoeff(), 0.0) - r.corner_m);
}

Loop many_sided(double radius_m, int sides) {
  std::vector<Vec2> points;
  for (int i = 0; i < sides; ++i)
    points.push_back(radius_m * Vec2(std::cos(2 * kPi * i / sides), std::sin(2 * kPi * i / sides)));
  return make_loop(points);
}

struct Shape {
  std::string name;
  Outline outline;
};
const std::vector<Shape>& shapes() {
  static const std::vector<Shape> all{
      {"disc", {Disc{0.1}}},
      {"disc aside", {Disc{0.1}, Vec2(0.0123, -0.0456)}},
      {"sharp", {RoundedRectangle{0.12, 0.08, 0.0}}},
      {"rounded", {RoundedRectangle{0.12, 0.08, 0.005}, Vec2(0.01, 0.02)}},
      {"tiny corner", {RoundedRectangle{0.12, 0.08, 1e-6}}},
      {"slot", {RoundedRectangle{0.12, 0.08, 0.04}}},
      {"upright slot", {RoundedRectangle{0.08, 0.12, 0.04}}},
      {"disc as rectangle", {RoundedRectangle{0.08, 0.08, 0.04}}},
      {"all but a disc", {RoundedRectangle{0.08, 0.08, std::nextafter(0.04, 0.0)}}},
      {"nearly a disc", {RoundedRectangle{0.08, 0.08, 0.0399}}},
      {"strip", {RoundedRectangle{0.1, 0.02, 0.002}}},
      {"triangle", {make_loop({{0.0, 0.0}, {0.02, 0.09}, {0.12, 0.0}})}},
      {"angle",
       {make_loop({{0.0, 0.0}, {0.09, 0.0}, {0.09, 0.03}, {0.03, 0.03}, {0.03, 0.09}, {0.0, 0.09}}), Vec2(0.02, -0.3)}},
      {"sharp tip", {make_loop({{0.0, 0.0}, {0.1, -0.0222}, {0.1, 0.0222}})}},  // 25 degrees
      {"square loop", {make_loop({{-0.04, -0.04}, {0.04, -0.04}, {0.04, 0.04}, {-0.04, 0.04}})}},
      {"many-sided loop", {many_sided(0.04, 720)}},
      {"micrometres", {RoundedRectangle{12e-6, 8e-6, 0.5e-6}}},
      {"kilometres", {Disc{1e3}}}};
  return all;
}

TEST(SheetMesher, EveryOutlineIsWholeSoundAndOnItsCurve) {
  for (const auto& [name, outline] : shapes()) {
    const double h = half_width_m(outline) / 12.0;
    const SheetMesh m = mesh_sheet(outline, uniform(h));
    ASSERT_GT(m.triangles.size(), 100U) << name;
    ASSERT_EQ(m.on_rim.size(), m.flat_m.size()) << name;

    std::vector<char> used(m.flat_m.size(), 0);
    double worst = 1.0, sum = 0.0;
    for (const Triangle& t : m.triangles) {
      EXPECT_GT(triangle_area_m2(m, t), 0.0) << name;  // counter-clockwise
      double sides_sq = 0.0;
      for (std::size_t k = 0; k < 3; ++k) {
        used[static_cast<std::size_t>(t[k])] = 1;
        sides_sq += edge_m(m, t, k) * edge_m(m, t, k);
      }
      const double quality = 4.0 * std::sqrt(3.0) * triangle_area_m2(m, t) / sides_sq;
      worst = std::min(worst, quality);
      sum += quality;
    }
    EXPECT_EQ(std::count(used.begin(), used.end(), 0), 0) << name;
    EXPECT_GT(m.min_quality, 0.5) << name;
    EXPECT_NEAR(m.min_quality, worst, 1e-9) << name;  // coordinates here carry the centre's rounding
    EXPECT_NEAR(m.mean_quality, sum / static_cast<double>(m.triangles.size()), 1e-9) << name;

    const double far = outline.centre_m.norm() + 2.0 * half_width_m(outline) + std::sqrt(area_m2(outline));
    long rim = 0, inside = 0;
    for (std::size_t i = 0; i < m.flat_m.size(); ++i) {
      const double off = off_rim_m(outline, m.flat_m[i]);
      if (m.on_rim[i] != 0) {
        EXPECT_LE(off, 4.0 * kEps * far) << name;  // sine, cosine and two sums
        ++rim;
      } else {
        EXPECT_GT(off, 0.2 * h) << name;  // clear of the rim
        ++inside;
      }
    }
    EXPECT_GT(rim, 30) << name;
    EXPECT_GT(inside, 30) << name;
    // Euler: nodes - edges + triangles = 1 for a disc without holes, edges = (3 triangles + rim) / 2.
    EXPECT_EQ(2 * static_cast<long>(m.flat_m.size()) - static_cast<long>(m.triangles.size()) - rim, 2) << name;
  }
}

// A chord of length h cuts h^3/(12 r) off a circle of radius r; 2 pi r/h of them: pi h^2/6, whatever r. Steps are h to
// within half a step in a quarter of the rim, and the next term is (h/r)^2/20 of it. A sharp outline loses nothing. A
// corner too small for a step has one node, in its middle, (1 - 1/sqrt 2) r inside both sides: half of that times h is
// lost on either side.
TEST(SheetMesher, AreaFallsShortByTheChordsAndNoMore) {
  for (const auto& [name, outline] : shapes()) {
    const double exact = area_m2(outline);
    double short_before = 0.0, rim_before = 0.0;
    for (const double across : {8.0, 16.0, 32.0}) {
      const double h = half_width_m(outline) / across;
      const SheetMesh m = mesh_sheet(outline, uniform(h));
      const double lack = exact - mesh_area_m2(m);
      const auto rim = static_cast<double>(std::count(m.on_rim.begin(), m.on_rim.end(), 1));
      EXPECT_GE(lack, -1e-13 * exact) << name;  // some thousand terms, summed
      EXPECT_LE(lack, 1.15 * kPi * h * h / 6.0 + 1e-13 * exact) << name;
      if (name == "sharp") {
        EXPECT_LE(lack, 1e-13 * exact);
      }
      if (name == "tiny corner") {
        EXPECT_LE(lack, 1.1 * 4.0 * (1.0 - std::sqrt(0.5)) * 1e-6 * h);
      }
      if (std::holds_alternative<Disc>(outline.shape)) {
        EXPECT_GE(lack, 0.85 * kPi * h * h / 6.0) << name;
        if (short_before > 0.0) {
          EXPECT_NEAR(short_before / lack, std::pow(rim / rim_before, 2), 0.01) << name;  // second order
        }
      }
      short_before = lack;
      rim_before = rim;
    }
  }
}

TEST(SheetMesher, OutlinesHaveTheirAreaAndHalfWidth) {
  EXPECT_DOUBLE_EQ(area_m2({Disc{0.1}}), kPi * 0.05 * 0.05);
  EXPECT_DOUBLE_EQ(half_width_m({Disc{0.1}}), 0.05);
  EXPECT_DOUBLE_EQ(area_m2({RoundedRectangle{0.12, 0.08, 0.0}}), 0.12 * 0.08);
  EXPECT_DOUBLE_EQ(area_m2({RoundedRectangle{0.12, 0.08, 0.01}}), 0.12 * 0.08 - (4.0 - kPi) * 1e-4);
  EXPECT_DOUBLE_EQ(half_width_m({RoundedRectangle{0.12, 0.08, 0.01}}), 0.04);
}

void expect_refused(const Outline& outline, const SheetSize& size, const std::string& where) {
  try {
    mesh_sheet(outline, size);
    ADD_FAILURE() << where << " was accepted";
  } catch (const Error& error) {
    EXPECT_EQ(error.fault().kind, Fault::Kind::kCase) << where;
    EXPECT_NE(error.fault().where.find(where), std::string::npos) << error.what();
    EXPECT_NE(error.fault().allowed, "") << where;
  }
}

// One shape, two ways to say it: the same rim, so the same mesh but for where its numbering starts.
TEST(SheetMesher, ASquareIsMeshedAlikeAsLoopAndAsRectangle) {
  const Outline loop{make_loop({{-0.04, -0.04}, {0.04, -0.04}, {0.04, 0.04}, {-0.04, 0.04}})};
  const Outline rectangle{RoundedRectangle{0.08, 0.08, 0.0}};
  EXPECT_DOUBLE_EQ(half_width_m(loop), half_width_m(rectangle));
  EXPECT_DOUBLE_EQ(area_m2(loop), area_m2(rectangle));
  EXPECT_EQ(longer_side_m(loop), longer_side_m(rectangle));
  const SheetMesh a = mesh_sheet(loop, uniform(2e-3)), b = mesh_sheet(rectangle, uniform(2e-3));
  EXPECT_EQ(std::count(a.on_rim.begin(), a.on_rim.end(), 1), std::count(b.on_rim.begin(), b.on_rim.end(), 1));
  EXPECT_NEAR(static_cast<double>(a.triangles.size()), static_cast<double>(b.triangles.size()), 20.0);
}

TEST(SheetMesher, ALoopIsRefusedWhereItIsTooNarrowForItsEdges) {
  const auto with_slit = [](double width_m) {
    return Outline{make_loop({{0.0, 0.0},
                              {0.08, 0.0},
                              {0.08, 0.06},
                              {0.04 + 0.5 * width_m, 0.06},
                              {0.04 + 0.5 * width_m, 0.03},
                              {0.04 - 0.5 * width_m, 0.03},
                              {0.04 - 0.5 * width_m, 0.06},
                              {0.0, 0.06}})};
  };
  EXPECT_TRUE(fault_of_outline(with_slit(0.4e-3), 2e-3));
  EXPECT_FALSE(fault_of_outline(with_slit(0.4e-3), 1e-3));
  EXPECT_FALSE(fault_of_outline({Disc{0.1}}, 2e-3));
  expect_refused(with_slit(0.4e-3), uniform(2e-3), "outline");
  EXPECT_GT(mesh_sheet(with_slit(0.4e-3), uniform(1e-3)).min_quality, 0.2);  // a slit of 0.4 edges
  EXPECT_GT(mesh_sheet(with_slit(2e-3), uniform(2e-3)).min_quality, 0.5);
}

TEST(SheetMesher, DiscOf100mmAt1mmIsEven) {
  const SheetMesh m = mesh_sheet({Disc{0.1}}, uniform(1e-3));
  // pi R^2 over sqrt(3)/4 h^2 = 18,138; the mesh is not a perfect lattice.
  EXPECT_NEAR(static_cast<double>(m.triangles.size()), 18138.0, 0.05 * 18138.0);
  EXPECT_GT(m.min_quality, 0.75);
  EXPECT_GT(m.mean_quality, 0.99);
  double shortest = 1.0, longest = 0.0;
  for (const Triangle& t : m.triangles) {
    for (std::size_t k = 0; k < 3; ++k) {
      shortest = std::min(shortest, edge_m(m, t, k));
      longest = std::max(longest, edge_m(m, t, k));
    }
  }
  EXPECT_GT(shortest, 0.6e-3);  // sets the time step
  EXPECT_LT(longest, 1.6e-3);
}

// The nodes of a triangle lie near each other in memory: on a curve that fills the plane the mean distance goes with
// the square root of the number of nodes, in the order of meshing with the number itself.
TEST(SheetMesher, NodesOfATriangleAreNearInMemory) {
  const SheetMesh m = mesh_sheet({Disc{0.1}}, uniform(1e-3));
  EXPECT_TRUE(std::is_sorted(m.triangles.begin(), m.triangles.end()));
  double spread = 0.0;
  for (const Triangle& t : m.triangles) {
    ASSERT_EQ(t[0], *std::min_element(t.begin(), t.end()));
    spread += *std::max_element(t.begin(), t.end()) - t[0];
  }
  EXPECT_LT(spread / static_cast<double>(m.triangles.size()), 2.0 * std::sqrt(static_cast<double>(m.flat_m.size())));
}

TEST(SheetMesher, SizeGrowsFromTheBoxToTheRimAsAsked) {
  const Outline outline{Disc{0.1}, Vec2(0.01, -0.02)};
  const SheetSize size{0.5e-3, 2e-3, SheetSize::Box{Vec2(0.0, -0.025), Vec2(0.02, -0.015)}};
  const SheetMesh m = mesh_sheet(outline, size);
  EXPECT_GT(m.min_quality, 0.5);
  // The corner of the box is hypot(10, 5) = 11.18 mm from the centre: growth takes the 38.82 mm from there to the rim.
  const double growth = 0.05 - std::hypot(0.01, 0.005);
  long inside = 0, between = 0;
  double inside_m = 0.0, between_ratio = 0.0;
  for (const Triangle& t : m.triangles) {
    Vec2 middle = Vec2::Zero();
    for (const int i : t) middle += m.flat_m[static_cast<std::size_t>(i)] / 3.0;
    const Vec2 beyond = (size.fine_box->low_m - middle).cwiseMax(middle - size.fine_box->high_m).cwiseMax(0.0);
    const double side = std::sqrt(4.0 / std::sqrt(3.0) * triangle_area_m2(m, t));
    const double wanted = std::min(2e-3, 0.5e-3 + 1.5e-3 * beyond.norm() / growth);
    EXPECT_GT(side, 0.5 * wanted);
    EXPECT_LT(side, 1.6 * wanted);
    if (beyond.norm() == 0.0) {
      inside_m += side;
      ++inside;
    } else {
      between_ratio += side / wanted;
      ++between;
    }
  }
  ASSERT_GT(inside, 1000);
  ASSERT_GT(between, 1000);
  EXPECT_NEAR(inside_m / static_cast<double>(inside), 0.5e-3, 0.05 * 0.5e-3);  // frontal meshes keep size to some %
  EXPECT_NEAR(between_ratio / static_cast<double>(between), 1.0, 0.08);        // they look ahead by an element
  std::vector<double> rim_edges;
  for (const Triangle& t : m.triangles) {
    for (std::size_t k = 0; k < 3; ++k) {
      if (m.on_rim[static_cast<std::size_t>(t[k])] != 0 && m.on_rim[static_cast<std::size_t>(t[(k + 1) % 3])] != 0) {
        rim_edges.push_back(edge_m(m, t, k));
      }
    }
  }
  ASSERT_GT(rim_edges.size(), 100U);
  for (const double e : rim_edges) EXPECT_NEAR(e, 2e-3, 0.1 * 2e-3);
}

TEST(SheetMesher, BoxesThatTouchOrCrossTheRimGrowAtTheSteepestPace) {
  for (const auto& box : {SheetSize::Box{Vec2(0.03, -0.01), Vec2(0.08, 0.01)}, {Vec2(-1, -1), Vec2(1, 1)}}) {
    const SheetMesh m = mesh_sheet({Disc{0.1}}, {1e-3, 4e-3, box});
    EXPECT_GT(m.min_quality, 0.5);
    EXPECT_GT(m.triangles.size(), 1000U);
  }
}

bool same_bits(const SheetMesh& a, const SheetMesh& b) {
  return a.flat_m == b.flat_m && a.triangles == b.triangles && a.on_rim == b.on_rim && a.min_quality == b.min_quality &&
         a.mean_quality == b.mean_quality;
}

const Outline kOutline{RoundedRectangle{0.12, 0.08, 0.005}};
const SheetSize kSize{1e-3, 3e-3, SheetSize::Box{Vec2(-0.02, -0.01), Vec2(0.02, 0.01)}};

TEST(SheetMesher, SameInputGivesTheSameBits) {
  const SheetMesh first = mesh_sheet(kOutline, kSize);
  mesh_sheet({Disc{0.1}}, uniform(3e-3));  // something else between
  EXPECT_TRUE(same_bits(first, mesh_sheet(kOutline, kSize)));
}

TEST(SheetMesher, TwoThreadsAtOnceGetTheSameAsOne) {
  const SheetMesh alone = mesh_sheet(kOutline, kSize);
  std::array<SheetMesh, 2> together;
  std::thread other([&] { together[0] = mesh_sheet(kOutline, kSize); });
  together[1] = mesh_sheet(kOutline, kSize);
  other.join();
  EXPECT_TRUE(same_bits(alone, together[0]));
  EXPECT_TRUE(same_bits(alone, together[1]));
}

TEST(GmshSession, RestoresThreadsAndLocale) {
  omp_set_num_threads(3);
  ASSERT_NE(std::setlocale(LC_NUMERIC, "C.UTF-8"), nullptr);  // Gmsh sets "C"
  mesh_sheet(kOutline, kSize);
  EXPECT_EQ(omp_get_max_threads(), 3);
  EXPECT_STREQ(std::setlocale(LC_NUMERIC, nullptr), "C.UTF-8");
  try {
    GmshSession().mesh_polygon(std::vector<Vec2>{{0, 0}, {1, 1}, {1, 0}, {0, 1}}, {0.1, 0.1, 0.0, {0, 0}, {1, 1}});
    ADD_FAILURE() << "a crossed outline was meshed";
  } catch (const Error&) {
  }
  EXPECT_EQ(omp_get_max_threads(), 3);
  EXPECT_STREQ(std::setlocale(LC_NUMERIC, nullptr), "C.UTF-8");
  std::setlocale(LC_NUMERIC, "C");
}

TEST(GmshSession, WritesNothingToStdout) {
  std::fflush(stdout);
  const std::filesystem::path file =
      std::filesystem::temp_directory_path() / ("stdout-" + std::to_string(getpid()) + ".txt");
  const int kept = dup(STDOUT_FILENO);
  const int captured = open(file.c_str(), O_CREAT | O_TRUNC | O_RDWR, 0600);
  ASSERT_GE(captured, 0);
  dup2(captured, STDOUT_FILENO);
  std::puts("seen");  // the capture works
  mesh_sheet(kOutline, kSize);
  try {
    GmshSession().mesh_polygon(std::vector<Vec2>{{0, 0}, {1, 1}, {1, 0}, {0, 1}}, {0.1, 0.1, 0.0, {0, 0}, {1, 1}});
  } catch (const Error&) {
  }
  std::fflush(stdout);
  dup2(kept, STDOUT_FILENO);
  close(kept);
  close(captured);
  std::ifstream in(file);
  const std::string text((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>());
  std::filesystem::remove(file);
  EXPECT_EQ(text, "seen\n");
}

// Gmsh looks for the home once a process, at its first start: this test has teeth when run alone, as ctest does.
TEST(GmshSession, ReadsAndWritesNothingInTheUsersHome) {
  const std::filesystem::path home = std::filesystem::temp_directory_path() / ("home-" + std::to_string(getpid()));
  std::filesystem::create_directories(home);
  for (const char* name : {".gmshrc", ".gmsh-options"}) {
    std::ofstream(home / name) << "Mesh.MeshSizeFactor = 3;\nMesh.Algorithm = 1;\nGeneral.Terminal = 1;\n";
  }
  const char* const before = std::getenv("HOME");
  const std::string home_before = before != nullptr ? before : "";
  setenv("HOME", home.c_str(), 1);
  setenv("GMSH_HOME", home.c_str(), 1);
  const SheetMesh hostile = mesh_sheet(kOutline, kSize);
  setenv("HOME", home_before.c_str(), 1);
  unsetenv("GMSH_HOME");
  const auto files = std::distance(std::filesystem::directory_iterator(home), {});
  std::filesystem::remove_all(home);
  EXPECT_TRUE(same_bits(mesh_sheet(kOutline, kSize), hostile));
  EXPECT_EQ(files, 2);
}

std::string complaint(const std::vector<Vec2>& polygon, GmshSession& session) {
  try {
    session.mesh_polygon(polygon, {0.1, 0.1, 0.0, {0, 0}, {1, 1}});
  } catch (const Error& error) {
    EXPECT_EQ(error.exit_code(), 3);
    return error.what();
  }
  return "";
}

TEST(GmshSession, AfterAnErrorTheNextMeshIsAsBefore) {
  const SheetMesh before = mesh_sheet(kOutline, kSize);
  const std::vector<Vec2> square{{0, 0}, {1, 0}, {1, 1}, {0, 1}}, crossed{{0, 0}, {1, 1}, {1, 0}, {0, 1}};
  {
    GmshSession session;
    const BoxSize size{0.1, 0.1, 0.0, {0, 0}, {1, 1}};
    const std::size_t count = session.mesh_polygon(square, size).triangles.size();
    EXPECT_NE(complaint(crossed, session).find("Unable to recover"), std::string::npos);  // Gmsh's own words
    EXPECT_EQ(session.mesh_polygon(square, size).triangles.size(), count);                // the same session goes on
    EXPECT_NE(complaint(crossed, session), "");
  }
  EXPECT_TRUE(same_bits(before, mesh_sheet(kOutline, kSize)));
}

TEST(GmshSession, AQuietlyEmptyMeshIsAnError) {
  GmshSession session;
  EXPECT_NE(complaint({{0, 0}, {1, 0}}, session).find("no triangles"), std::string::npos);
  EXPECT_NE(complaint({{0, 0}, {1, 0}, {0, std::nan("")}}, session).find("not a number"), std::string::npos);
}

TEST(SheetMesher, RefusesWhatMakesNoSheet) {
  const double nan = std::nan("");
  for (const double bad : {0.0, -1.0, nan, std::numeric_limits<double>::infinity()}) {
    expect_refused({Disc{bad}}, uniform(1e-3), "diameter");
    expect_refused({RoundedRectangle{bad, 0.1, 0.0}}, uniform(1e-3), "width");
    expect_refused({RoundedRectangle{0.1, bad, 0.0}}, uniform(1e-3), "depth");
    expect_refused({Disc{0.1}}, uniform(bad), "element");
    expect_refused({Disc{0.1}}, {1e-3, bad, kSize.fine_box}, "rim element");
  }
  for (const double bad : {-1e-3, 0.041, nan}) {
    expect_refused({RoundedRectangle{0.12, 0.08, bad}}, uniform(1e-3), "corner");
  }
  expect_refused({Disc{0.1}}, uniform(0.05 / 2.9), "element");
  EXPECT_GT(mesh_sheet({Disc{0.1}}, uniform(0.05 / 3.1)).triangles.size(), 20U);  // the limit is where it is said to be
  expect_refused({Disc{0.1}}, {2e-3, 1e-3, kSize.fine_box}, "rim element");
  expect_refused({Disc{0.1}}, {1e-3, 2e-3, SheetSize::Box{Vec2(0, 0), Vec2(0, 1)}}, "fine box");
}

TEST(SheetMesher, RefusesMoreTrianglesThanFiveMillionBeforeMeshingThem) {
  expect_refused({Disc{0.1}}, uniform(0.05e-3), "element");  // 7.3 million
  expect_refused({Disc{0.1}}, uniform(1e-12), "element");
  expect_refused({Disc{0.1}}, {0.02e-3, 2e-3, SheetSize::Box{Vec2(-0.02, -0.02), Vec2(0.02, 0.02)}}, "element");
}

}  // namespace
}  // namespace pellicle::mesh
