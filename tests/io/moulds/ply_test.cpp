// PLY of three encodings is read whatever else stands in it; spoilt files are refused with line, vertex or face.
#include "io/moulds/ply.h"

#include "tests/io/moulds/mould_files.h"

#include <gtest/gtest.h>

#include <fmt/format.h>

namespace pellicle::moulds {
namespace {

const std::string kHead = "ply\nformat ascii 1.0\n";
const std::string kVertex = "element vertex 4\nproperty float x\nproperty float y\nproperty float z\n";
const std::string kFace = "element face 1\nproperty list uchar int vertex_indices\n";
const std::string kPoints = "0 0 0\n1 0 0\n1 1 0\n0 1 0\n";
const std::string kGood = kHead + kVertex + kFace + "end_header\n" + kPoints + "4 0 1 2 3\n";

Fault fault_of(const std::string& bytes) {
  try {
    read_ply(bytes, "m.ply");
  } catch (const Error& error) {
    EXPECT_EQ(error.exit_code(), 3);
    return error.fault();
  }
  ADD_FAILURE() << "was taken:\n" << bytes;
  return {};
}

std::string with(std::string text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return text.replace(at, from.size(), to);
}

TEST(Ply, EveryFormIsTheSame) {
  const std::vector<Facet> wanted = read_ply(kGood, "m.ply").facets;
  ASSERT_EQ(wanted.size(), 2U);
  EXPECT_EQ(wanted[1][2], mesh::Vec3(0, 1, 0));
  std::string crlf = kGood, cr = kGood;
  for (std::size_t at = 0; (at = crlf.find('\n', at)) != std::string::npos; at += 2) crlf.insert(at, "\r");
  for (char& c : cr) c = c == '\n' ? '\r' : c;
  const std::string forms[] = {
      crlf,
      cr,
      with(kGood, "uchar int vertex_indices", "uint8 int32 vertex_index"),
      with(kGood, "uchar int vertex_indices", "int64 x").substr(0, 0) + with(kGood, "float x", "float64 x"),
      with(kGood, "float x", "double x"),
      with(with(kGood, "property float x", "property short x"), "property float y", "property int8 y"),
      with(kGood, "element vertex", "comment made by hand\nobj_info 3 things\n\nelement vertex"),
      kHead +
          "element vertex 4\nproperty float nx\nproperty list uchar float more\nproperty float z\nproperty float y\n"
          "property float x\nproperty uchar red\n" +
          kFace +
          "property float quality\nelement edge 2\nproperty int vertex1\nproperty list int int vertex2\nend_header\n"
          "nan 0 0 0 0 255\n0 2 7 8 0 0 1 255\n0 0 0 1 1 255\n0 1 5 0 1 0 255\n4 0 1 2 3 0.5\n1 2 7 7\n3 0\n",
      kHead + "element nothing 5\nelement empty 0\nproperty int a\n" + kVertex + kFace + "end_header\n" + kPoints +
          "4 0 1 2 3",
      kHead + kVertex +
          "element face 1\nproperty list uchar float texcoord\nproperty list uchar uint vertex_indices\n" +
          "end_header\n" + kPoints + "2 0.5 0.5 4 0 1 2 3\n",
  };
  int checked = 0;
  for (const std::string& form : forms) {
    EXPECT_EQ(read_ply(form, "m.ply").facets, wanted) << form;
    ++checked;
  }
  EXPECT_EQ(checked, 10);
}

TEST(Ply, EveryTypeIsReadInBothByteOrders) {
  struct Typed {
    const char* name;
    unsigned size;
    std::uint64_t raw;
    double value;
  };
  const Typed types[] = {{"char", 1, 0xFE, -2},          {"uchar", 1, 0xFE, 254},
                         {"int16", 2, 0xFFFE, -2},       {"ushort", 2, 0xFFFE, 65534},
                         {"int", 4, 0xFFFFFFFE, -2},     {"uint32", 4, 0xFFFFFFFE, 4294967294},
                         {"float", 4, 0xC0000000, -2.0}, {"float64", 8, 0xC004000000000000, -2.5}};
  int checked = 0;
  for (const Typed& type : types) {
    for (const bool is_big : {false, true}) {
      const auto put = [&](std::string& out, std::uint64_t value, unsigned size) {
        is_big ? put_be(out, value, size) : put_le(out, value, size);
      };
      std::string bytes = fmt::format(
          "ply\r\nformat binary_{}_endian 1.0\r\nelement vertex 3\r\nproperty {} x\r\nproperty short y\r\nproperty "
          "list "
          "ushort int16 skipped\r\nproperty double z\r\nelement face 1\r\nproperty list ushort uint vertex_indices\r\n"
          "end_header\r\n",
          is_big ? "big" : "little", type.name);
      for (int i = 0; i < 3; ++i) {
        put(bytes, type.raw, type.size);
        put(bytes, 10, 2);  // its first byte is the end of a line
        put(bytes, 2, 2);
        put(bytes, 0x01020304, 4);
        put(bytes, 0x3FF8000000000000, 8);
      }
      put(bytes, 3, 2);
      for (int i = 2; i >= 0; --i) put(bytes, static_cast<std::uint64_t>(i), 4);
      const FacetContent content = read_ply(bytes, "m.ply");
      ASSERT_EQ(content.facets.size(), 1U);
      EXPECT_EQ(content.facets[0][0], mesh::Vec3(type.value, 10, 1.5)) << type.name;
      EXPECT_EQ(content.format, is_big ? "PLY, binary big-endian" : "PLY, binary little-endian");
      EXPECT_TRUE(content.notes.empty());
      ++checked;
    }
  }
  EXPECT_EQ(checked, 16);
}

TEST(Ply, StripsTurnEveryOtherTriangleRound) {
  const std::string text = kHead +
                           "element vertex 6\nproperty float x\nproperty float y\nproperty float z\n"
                           "element tristrips 1\nproperty list int int vertex_indices\nend_header\n"
                           "0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 2 0\n1 2 0\n10 0 1 2 3 4 5 -1 3 2 4\n";
  const std::vector<Facet> facets = read_ply(text, "m.ply").facets;
  ASSERT_EQ(facets.size(), 5U);
  for (std::size_t f = 0; f < 4; ++f) {
    EXPECT_GT((facets[f][1] - facets[f][0]).cross(facets[f][2] - facets[f][0]).z(), 0) << f;
  }
  EXPECT_EQ(facets[1][2], mesh::Vec3(1, 1, 0));
}

/// The name of an element stands in messages: what it holds must not reach a terminal.
TEST(Ply, AnElementsNameIsShownWithoutControlCharacters) {
  const std::string text =
      "ply\nformat binary_little_endian 1.0\nelement \x1B[2J\a 1\nproperty list int int a\nend_header\n";
  try {
    read_ply(text + std::string("\xFF\xFF\xFF\x7F", 4), "m.ply");
    ADD_FAILURE() << "was taken";
  } catch (const Error& error) {
    EXPECT_EQ(error.fault().where, "m.ply, \"?[2J?\" 1");
    EXPECT_NE(error.fault().found.find("a list of 2147483647"), std::string::npos) << error.what();
  }
}

TEST(Ply, SpoiltFilesNameThePlace) {
  struct Spoilt {
    std::string bytes, where, found;
  };
  const mesh::TriangleMesh box = mesh::box({0, 0, 0}, {0.01, 0.02, 0.03});
  const std::string binary = ply_bytes(box, "binary_little_endian");
  const std::size_t body = binary.find("end_header\n") + 11, faces = body + 8 * 12;
  std::string bad_index = binary, bad_count = binary, nan = binary;
  bad_index[faces + 13 * 2 + 1] = 8;                    // corner 1 of face 3
  bad_count[faces + 13 * 11] = static_cast<char>(200);  // length of face 12
  nan.replace(body + 12 + 4, 4, "\xFF\xFF\xFF\x7F");
  const std::vector<Spoilt> all{
      {"", "m.ply", "empty"},
      {"PLY\n", "m.ply:1", "PLY"},
      {"ply", "m.ply:1", "end of the file"},
      {"ply\nelement vertex 3\n", "m.ply:2", "element"},
      {"ply\nformat ascii 2.0\n", "m.ply:2", "2.0"},
      {"ply\nformat binary_middle_endian 1.0\n", "m.ply:2", "binary_middle_endian"},
      {with(kGood, "element vertex 4", "element vertex -4"), "m.ply:3", "-4"},
      {with(kGood, "element vertex 4", "element vertex many"), "m.ply:3", "many"},
      {with(kGood, "element vertex 4", "element vertex"), "m.ply:3", "end of the line"},
      {with(kGood, "element vertex 4\n", ""), "m.ply:3", "without an element"},
      {with(kGood, "element face", "element vertex"), "m.ply:7", "again"},
      {with(kGood, "property float y", "property float x"), "m.ply:5", "again"},
      {with(kGood, "property float y", "property real y"), "m.ply:5", "real"},
      {with(kGood, "property float y", "property float"), "m.ply:5", "without a name"},
      {with(kGood, "list uchar int", "list float int"), "m.ply:8", "floats"},
      {with(kGood, "end_header", "end_heading"), "m.ply:9", "end_heading"},
      {kGood.substr(0, kGood.find("end_header")), "m.ply:9", "end of the file"},
      {with(kGood, "property float y\n", ""), "m.ply, header", "without x, y and z"},
      {with(kGood, "vertex_indices", "corners"), "m.ply, header", "without its corners"},
      {with(kGood, "int vertex_indices", "float vertex_indices"), "m.ply, header", "without its corners"},
      {with(kGood, "vertex 4", "vertex 4000000000000"), "m.ply", "4000000000000 of the element \"vertex\" promised"},
      {with(kGood, "face 1", "face 9999999999"), "m.ply", "9999999999 of the element \"face\" promised"},
      {with(kGood, "face 1", "face 2"), "m.ply:15", "end of the file"},
      {with(kGood, "vertex 4", "vertex 5"), "m.ply:14", ""},
      {with(kGood, "1 0 0\n", "1 x 0\n"), "m.ply:11", "x"},
      {with(kGood, "1 0 0\n", "1 nan 0\n"), "m.ply:11", "nan"},
      {with(kGood, "1 0 0\n", "1 -inf 0\n"), "m.ply:11", "-inf"},
      {with(kGood, "4 0 1 2 3", "4 0 1 2 4"), "m.ply:14", "point 4"},
      {with(kGood, "4 0 1 2 3", "4 0 1 2 -1"), "m.ply:14", "point -1"},
      {with(kGood, "4 0 1 2 3", "2 0 1"), "m.ply:14", "2 corners"},
      {with(kGood, "4 0 1 2 3", "400 0 1 2 3"), "m.ply:14", "a list of 400"},
      {with(kGood, "4 0 1 2 3", "-4 0 1 2 3"), "m.ply:14", "a list of -4"},
      {with(kGood, "4 0 1 2 3", "4 0 1 2"), "m.ply:15", "end of the file"},
      {with(kGood, "face 1", "face 0"), "m.ply", "4 points and no faces"},
      {kHead + kFace + kVertex + "end_header\n3 0 1 2\n" + kPoints, "m.ply, header", "before any vertex"},
      {binary.substr(0, body + 50), "m.ply", "8 of the element \"vertex\" promised, room for 4"},
      {binary.substr(0, binary.size() - 1), "m.ply, face 12", "room for 2"},
      {binary.substr(0, faces + 5), "m.ply", "12 of the element \"face\" promised, room for 5"},
      {bad_index, "m.ply, face 3", "point 8"},
      {bad_count, "m.ply, face 12", "a list of 200"},
      {nan, "m.ply, vertex 2", "nan"},
  };
  int checked = 0;
  for (const Spoilt& spoilt : all) {
    const Fault fault = fault_of(spoilt.bytes);
    EXPECT_EQ(fault.where, spoilt.where) << spoilt.found;
    EXPECT_NE(fault.found.find(spoilt.found), std::string::npos) << fault.found << " instead of " << spoilt.found;
    ++checked;
  }
  EXPECT_EQ(checked, 41);
}

TEST(Ply, LeftoverBytesAreToldNotRead) {
  const FacetContent content = read_ply(kGood + "7 8 9", "m.ply");
  ASSERT_EQ(content.notes.size(), 1U);
  EXPECT_NE(content.notes[0].find("5 bytes"), std::string::npos) << content.notes[0];
}

}  // namespace
}  // namespace pellicle::moulds
