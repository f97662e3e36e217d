// 3MF: units, transforms, components and several items; archives that lie or swell are refused before they are
// unpacked.
#include "io/moulds/threemf.h"

#include "io/moulds/zip.h"
#include "tests/io/moulds/mould_files.h"

#include <gtest/gtest.h>
#include <zlib.h>

#include <fmt/format.h>

namespace pellicle::moulds {
namespace {

using mesh::Vec3;

Fault fault_of(const std::string& bytes) {
  try {
    read_3mf(bytes, "m.3mf");
  } catch (const Error& error) {
    EXPECT_EQ(error.exit_code(), 3);
    EXPECT_EQ(std::string(error.what()).find('\n'), std::string::npos);
    return error.fault();
  }
  ADD_FAILURE() << "was taken";
  return {};
}

const std::string kItem = "<item objectid=\"1\"/>";
/// One triangle whose corners tell all axes apart.
const std::string kTriangle =
    "<object id=\"1\" type=\"model\"><mesh><vertices><vertex x=\"1\" y=\"2\" z=\"4\"/><vertex x=\"8\" y=\"0\" z=\"0\"/>"
    "<vertex x=\"0\" y=\"16\" z=\"0\"/></vertices><triangles><triangle v1=\"0\" v2=\"1\" v3=\"2\"/></triangles></mesh>"
    "</object>";

std::string composed(const std::string& transform) {
  return fmt::format("<object id=\"2\" type=\"model\"><components><component objectid=\"1\"{}/></components></object>",
                     transform);
}

std::string deflated(const std::string& bytes) {
  z_stream stream{};
  deflateInit2(&stream, 9, Z_DEFLATED, -MAX_WBITS, 9, Z_DEFAULT_STRATEGY);
  std::string out(deflateBound(&stream, bytes.size()), '\0');
  std::string in = bytes;
  stream.next_in = reinterpret_cast<Bytef*>(in.data());
  stream.avail_in = static_cast<unsigned>(in.size());
  stream.next_out = reinterpret_cast<Bytef*>(out.data());
  stream.avail_out = static_cast<unsigned>(out.size());
  EXPECT_EQ(deflate(&stream, Z_FINISH), Z_STREAM_END);
  out.resize(stream.total_out);
  deflateEnd(&stream);
  return out;
}

TEST(Threemf, EveryUnitIsHonoured) {
  const std::tuple<const char*, const char*, double> units[] = {{"micron", "um", 1e-6},     {"millimeter", "mm", 1e-3},
                                                                {"centimeter", "cm", 1e-2}, {"inch", "in", 0.0254},
                                                                {"foot", "ft", 0.3048},     {"meter", "m", 1.0}};
  int checked = 0;
  for (const auto& [word, name, size_m] : units) {
    const ThreemfContent content = read_3mf(threemf_bytes(model_xml(word, kTriangle, kItem)), "m.3mf");
    EXPECT_EQ(content.unit_name, name);
    EXPECT_EQ(content.unit_m, size_m);
    EXPECT_EQ(content.content.facets[0][0], Vec3(1, 2, 4)) << "numbers stay those of the file";
    ++checked;
  }
  EXPECT_EQ(checked, 6);
}

/// Rows of the transform are the images of the axes, the last one the shift (3MF core specification, 3.3).
TEST(Threemf, TransformsOfItemsAndComponentsAreAppliedInTurn) {
  // The component turns x to y and y to -x and shifts by (1, 2, 3); the item doubles x and shifts by (100, 0, 0).
  const std::string bytes = threemf_bytes(
      model_xml("millimeter", kTriangle + composed(" transform=\"0 1 0 -1 0 0 0 0 1 1 2 3\""),
                kItem + "<item objectid=\"2\" transform=\"2 0 0 0 1 0 0 0 1 100 0 0\"/><item objectid=\"2\"/>"));
  const ThreemfContent content = read_3mf(bytes, "m.3mf");
  EXPECT_EQ(content.content.format, "3MF, 3 items");
  ASSERT_EQ(content.content.facets.size(), 3U);
  EXPECT_EQ(content.content.facets[0][0], Vec3(1, 2, 4));
  EXPECT_EQ(content.content.facets[2][0], Vec3(-2 + 1, 1 + 2, 4 + 3));
  EXPECT_EQ(content.content.facets[1][0], Vec3(2 * (-2 + 1) + 100, 1 + 2, 4 + 3));
  EXPECT_TRUE(content.content.notes.empty());
}

TEST(Threemf, AMirroredPartKeepsItsOutsideOut) {
  const mesh::TriangleMesh shape = skew_shape();
  const std::string item = "<item objectid=\"1\" transform=\"-1 0 0 0 1 0 0 0 1 0 0 0\"/>";
  const ThreemfContent content = read_3mf(threemf_bytes(model_xml("millimeter", mesh_xml(shape, 1), item)), "m.3mf");
  double six = 0.0;
  for (const Facet& f : content.content.facets) six += f[0].dot(f[1].cross(f[2]));
  EXPECT_NEAR(six / 6.0, 1e9 * volume_of(shape), 1e3 * volume_of(shape));
  ASSERT_EQ(content.content.notes.size(), 1U);
  EXPECT_NE(content.content.notes[0].find("mirrored"), std::string::npos);
}

TEST(Threemf, WhatIsNoMouldIsLeftOutAndNoted) {
  std::string support = kTriangle;
  support.replace(support.find("id=\"1\" type=\"model\""), 19, "id=\"3\" type=\"support\"");
  const std::string bytes =
      threemf_bytes(model_xml("millimeter", kTriangle + composed("") + support, kItem + "<item objectid=\"3\"/>"));
  const ThreemfContent content = read_3mf(bytes, "m.3mf");
  EXPECT_EQ(content.content.format, "3MF, 1 item");
  EXPECT_EQ(content.content.facets.size(), 1U);
  std::string notes;
  for (const std::string& note : content.content.notes) notes += note + "\n";
  EXPECT_NE(notes.find("items of support"), std::string::npos) << notes;
  EXPECT_NE(notes.find("in no item"), std::string::npos) << notes;
}

TEST(Threemf, SpoiltFilesAreRefused) {
  const std::string good = threemf_bytes(model_xml("millimeter", kTriangle, kItem));
  ASSERT_EQ(read_3mf(good, "m.3mf").content.facets.size(), 1U);
  const auto with = [&](const std::string& from, const std::string& to) {
    std::string xml = model_xml("millimeter", kTriangle, kItem);
    return threemf_bytes(xml.replace(xml.find(from), from.size(), to));
  };
  const std::pair<std::string, std::string> all[] = {
      {"", "empty"},
      {"<xml/>", "does not start as a zip"},
      {"PK", "too few"},
      {good.substr(0, good.size() / 2), "no list of entries"},
      {good.substr(good.size() / 2), "does not start as a zip"},
      {zip_bytes({stored("a.txt", "nothing")}), ""},
      {with("<vertex x=\"1\"", "<vertex x=\"nan\""), ""},
      {with("<vertex x=\"1\"", "<vertex x=\"1e38000\""), ""},
      {with("<vertex x=\"1\"", "<vertex"), ""},
      {with("v3=\"2\"", "v3=\"3\""), ""},
      {with("v3=\"2\"", "v3=\"-1\""), ""},
      {with("v3=\"2\"", "v3=\"4294967296\""), ""},
      {with("millimeter", "furlong"), "a unit"},
      {with(kItem, ""), ""},
      {with(kItem, "<item objectid=\"7\"/>"), ""},
      {with(kTriangle, ""), ""},
  };
  int checked = 0;
  for (const auto& [bytes, found] : all) {
    const Fault fault = fault_of(bytes);
    EXPECT_TRUE(fault.where.starts_with("m.3mf")) << checked << ": " << fault.where;
    EXPECT_NE(fault.found.find(found), std::string::npos) << fault.found;
    ++checked;
  }
  EXPECT_EQ(checked, 16);
}

/// Twenty-five times two components: thirty-three million copies of one triangle.
TEST(Threemf, ATreeThatDoublesIsCountedBeforeItIsCopied) {
  std::string objects = kTriangle;
  for (int id = 2; id < 27; ++id) {
    objects += fmt::format(
        "<object id=\"{0}\" type=\"model\"><components><component objectid=\"{1}\"/><component objectid=\"{1}\"/>"
        "</components></object>",
        id, id - 1);
  }
  const Fault fault = fault_of(threemf_bytes(model_xml("millimeter", objects, "<item objectid=\"26\"/>")));
  EXPECT_EQ(fault.where, "m.3mf, item 1");
  EXPECT_NE(fault.found.find("more than 20000000 facets"), std::string::npos);
}

TEST(Zip, StatesWhatItUnpacksTo) {
  const std::string text(100'000, 'x');
  const ZipEntry packed{"b", deflated(text), text.size(), 8, crc32_of(text)};
  EXPECT_EQ(unpacked_bytes(zip_bytes({stored("a", "12345"), packed}), "z", 200'000), 100'005U);
  EXPECT_EQ(unpacked_bytes(zip_bytes({stored("a", "12345"), packed}) + std::string(), "z", 100'005), 100'005U);
}

TEST(Zip, WhatLiesOrSwellsIsRefused) {
  const std::string text(1'000'000, 'x');
  const ZipEntry honest{"b", deflated(text), text.size(), 8, crc32_of(text)};
  ZipEntry modest = honest, boastful = honest, odd = honest, cut = honest, garbled = honest;
  modest.unpacked = 10;
  boastful.unpacked = text.size() + 1;
  odd.method = 12;
  cut.packed.resize(cut.packed.size() / 2);
  garbled.packed.assign(100, '\xFF');
  ZipEntry mean = stored("a", "12345");
  mean.unpacked = 6;
  std::string locked = zip_bytes({honest}), far = locked, many = locked, gone = locked;
  const std::size_t list = locked.find("PK\x01\x02");
  locked[list + 8] = 1;
  far[list + 44] = 0x7F;
  many[many.size() - 12] = '\xFF';
  gone[gone.size() - 5] = 0x7F;
  const std::pair<std::string, std::string> all[] = {
      {zip_bytes({honest, honest}), "more than 1 MB"},
      {zip_bytes({modest}), "does not unpack to the 10 bytes"},
      {zip_bytes({boastful}), "does not unpack"},
      {zip_bytes({odd}), "method 12"},
      {zip_bytes({cut}), "does not unpack"},
      {zip_bytes({garbled}), "does not unpack"},
      {zip_bytes({mean}), "does not unpack"},
      {zip_bytes({}), "without entries"},
      {locked, "password"},
      {far, "beyond"},
      {many, "255 entries promised"},
      {gone, "beyond"},
      {std::string(22, 'P'), "no list"},
  };
  int checked = 0;
  for (const auto& [bytes, found] : all) {
    try {
      unpacked_bytes(bytes, "z.zip", 1'500'000);
      ADD_FAILURE() << "was taken, and not: " << found;
    } catch (const Error& error) {
      EXPECT_NE(error.fault().found.find(found), std::string::npos) << error.what();
      ++checked;
    }
  }
  EXPECT_EQ(checked, 13);
}

}  // namespace
}  // namespace pellicle::moulds
