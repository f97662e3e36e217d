// STL of both kinds is read as written; spoilt files are refused with their place and never read beyond their end.
#include "io/moulds/stl.h"

#include "mesh/check.h"
#include "mesh/shapes.h"
#include "tests/io/moulds/stl_text.h"

#include <gtest/gtest.h>

#include <limits>
#include <random>

namespace pellicle::moulds {
namespace {

Fault fault_of(const std::string& bytes) {
  try {
    read_stl(bytes, "box.stl");
  } catch (const Error& error) {
    EXPECT_EQ(error.exit_code(), 3);
    return error.fault();
  }
  ADD_FAILURE() << "was taken";
  return {};
}

TEST(Stl, BothKindsGiveTheSameFacets) {
  const std::vector<Facet> facets = box_facets(30, 20, 10);
  const StlContent binary = read_stl(binary_stl(facets), "box.stl");
  const StlContent ascii = read_stl(ascii_stl(facets), "box.stl");
  EXPECT_TRUE(binary.is_binary);
  EXPECT_FALSE(ascii.is_binary);
  ASSERT_EQ(binary.facets.size(), 12U);
  ASSERT_EQ(ascii.facets.size(), 12U);
  for (std::size_t f = 0; f < 12; ++f) {
    for (std::size_t c = 0; c < 3; ++c) {
      EXPECT_EQ(binary.facets[f][c], facets[f][c]);
      EXPECT_EQ(ascii.facets[f][c], facets[f][c]);
    }
  }
}

TEST(Stl, ABinaryFileMayStartWithSolid) {
  EXPECT_TRUE(read_stl(binary_stl(box_facets(1, 1, 1), "solid made by some drawing program"), "box.stl").is_binary);
  // Even a header of blanks without a zero byte: count and size agree.
  EXPECT_TRUE(read_stl(binary_stl(box_facets(1, 1, 1), "solid " + std::string(74, ' ')), "box.stl").is_binary);
}

TEST(Stl, AsciiIsFreeInCaseBlanksAndSolids) {
  std::string text = ascii_stl(box_facets(1, 1, 1)) + "\n\n" + ascii_stl(box_facets(2, 2, 2), "second part");
  for (char& c : text) {
    if (c == '\n') c = '\r';  // old line ends
  }
  EXPECT_EQ(read_stl(text, "box.stl").facets.size(), 24U);
  std::string shouting = ascii_stl(box_facets(1, 1, 1)) + ascii_stl(box_facets(2, 2, 2), "");
  for (char& c : shouting) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  EXPECT_EQ(read_stl("\xEF\xBB\xBF" + shouting, "box.stl").facets.size(), 24U);
}

TEST(Stl, SpoiltBinaryFilesAreRefused) {
  const std::string good = binary_stl(box_facets(1, 1, 1));
  EXPECT_NE(fault_of("").found.find("empty"), std::string::npos);
  EXPECT_NE(fault_of(good.substr(0, 50)).found.find("too few"), std::string::npos);
  EXPECT_NE(fault_of(good.substr(0, 84)).found.find("12 facets promised"), std::string::npos);
  EXPECT_NE(fault_of(good.substr(0, good.size() - 1)).found.find("room for 11"), std::string::npos);
  EXPECT_NE(fault_of(good + good).found.find("room for"), std::string::npos);
  std::string absurd = good;
  absurd.replace(80, 4, "\xFF\xFF\xFF\xFF");
  EXPECT_NE(fault_of(absurd).found.find("4294967295 facets promised"), std::string::npos);
  EXPECT_NE(fault_of(binary_stl({})).found.find("no facets"), std::string::npos);
}

TEST(Stl, CoordinatesThatAreNoNumbersNameTheirFacet) {
  for (const double bad : {std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity(), 3e38}) {
    std::vector<Facet> facets = box_facets(1, 1, 1);
    facets[6][1].y() = bad;
    EXPECT_EQ(fault_of(binary_stl(facets)).where, "box.stl, facet 7, corner 2");
    EXPECT_TRUE(fault_of(ascii_stl(facets)).where.starts_with("box.stl:")) << bad;
  }
}

TEST(Stl, SpoiltAsciiFilesNameTheLine) {
  const std::string good = ascii_stl(box_facets(1, 1, 1));
  const auto with = [&](const std::string& from, const std::string& to) {
    std::string text = good;
    return text.replace(text.find(from), from.size(), to);
  };
  EXPECT_EQ(fault_of(with("facet normal", "fact normal")).where, "box.stl:2");
  EXPECT_EQ(fault_of(with("outer loop", "loop")).where, "box.stl:3");
  EXPECT_EQ(fault_of(with("0.000000e+00 0.000000e+00 0.000000e+00", "0.0 1,5 0")).where, "box.stl:4");
  EXPECT_EQ(fault_of(with("0.000000e+00 0.000000e+00 0.000000e+00", "0.0 0x5 0")).where, "box.stl:4");
  EXPECT_EQ(fault_of(with("    endloop", "      vertex 0 0 0\n    endloop")).where, "box.stl:7");
  EXPECT_NE(fault_of(good.substr(0, good.find("endsolid"))).found.find("the end of the file"), std::string::npos);
  EXPECT_NE(fault_of("solid empty\nendsolid empty\n").found.find("no facets"), std::string::npos);
  EXPECT_NE(fault_of("solid").found.find("the end of the file"), std::string::npos);
}

TEST(Stl, LeftoverBytesAreToldNotRead) {
  const StlContent content = read_stl(binary_stl(box_facets(1, 1, 1)) + "tail", "box.stl");
  EXPECT_EQ(content.facets.size(), 12U);
  ASSERT_EQ(content.notes.size(), 1U);
  EXPECT_NE(content.notes[0].find("4 bytes"), std::string::npos);
}

/// Whatever happens to the bytes, the reader answers or refuses; run under the sanitizers this finds reads beyond the
/// end.
TEST(Stl, RandomDamageNeverDoesMoreThanBeRefused) {
  std::mt19937 random(20240607);
  const std::string goods[] = {binary_stl(box_facets(3, 2, 1)), ascii_stl(box_facets(3, 2, 1)),
                               binary_stl(box_facets(3, 2, 1), "solid x")};
  int taken = 0, refused = 0;
  for (int round = 0; round < 6000; ++round) {
    std::string bytes = goods[round % 3];
    const auto below = [&](std::size_t n) { return std::uniform_int_distribution<std::size_t>(0, n - 1)(random); };
    for (std::size_t edits = 1 + below(4); edits > 0 && !bytes.empty(); --edits) {
      switch (below(5)) {
        case 0:
          bytes.resize(below(bytes.size() + 1));
          break;
        case 1:
          bytes[below(bytes.size())] = static_cast<char>(below(256));
          break;
        case 2:
          bytes.insert(below(bytes.size()), 1 + below(60), static_cast<char>(below(256)));
          break;
        case 3:
          bytes.erase(below(bytes.size()), 1 + below(100));
          break;
        default:
          bytes[std::min(bytes.size() - 1, std::size_t{80} + below(4))] = static_cast<char>(below(256));
          break;
      }
    }
    try {
      taken += read_stl(bytes, "box.stl").facets.empty() ? 0 : 1;
    } catch (const Error& error) {
      ASSERT_EQ(error.exit_code(), 3);
      ASSERT_EQ(std::string(error.what()).find('\n'), std::string::npos);
      ++refused;
    }
  }
  EXPECT_GT(taken, 100);
  EXPECT_GT(refused, 1000);
}

// Coordinates are of single precision: 6e-8 of the largest, here 30 mm.
TEST(Stl, WrittenIsReadAgain) {
  const mesh::TriangleMesh sphere = mesh::sphere({0.01, -0.02, 0.005}, 0.01, 2);
  const StlContent back = read_stl(stl_bytes(sphere), "sphere.stl");
  EXPECT_TRUE(back.is_binary);
  ASSERT_EQ(back.facets.size(), sphere.triangles.size());
  for (std::size_t t = 0; t < back.facets.size(); ++t)
    for (std::size_t k = 0; k < 3; ++k) {
      const mesh::Vec3& wanted_m = sphere.points_m[static_cast<std::size_t>(sphere.triangles[t][k])];
      EXPECT_LT((back.facets[t][k] - 1e3 * wanted_m).norm(), 4e-6);
    }
}

}  // namespace
}  // namespace pellicle::moulds
