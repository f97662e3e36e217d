// [[relief]] of a case becomes a ReliefSpec, and every rule that ties its keys together is held. Read through the
// section's own entry.
#include "io/case/sections.h"

#include "mesh/check.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <numbers>
#include <string>

namespace pellicle::cases {
namespace {

namespace fs = std::filesystem;
using imprint::ReliefSpec;

// Required around it; not looked at here.
constexpr const char* kRest = R"([sheet]
thickness = "0.75 mm"
outline = { disc = "100 mm" }
[[forming.stage]]
duration = "1 s"
pressure = "4 bar"
)";
constexpr const char* kMould = "[mould]\nsurface = \"marker.stl\"\nunit = \"mm\"\n";
constexpr const char* kText = "{ text = \"BASIL\", size = \"6 mm\", depth = \"0.4 mm\" }";
constexpr const char* kState =
    "state = { thickness = \"0.5 mm\", shear_modulus = \"0.2 MPa\", pressure = \"4 bar\" }\n";

class ReliefSection : public testing::Test {
 protected:
  void SetUp() override {
    folder_ = fs::path(testing::TempDir()) /
              (std::string("pellicle_section_") + testing::UnitTest::GetInstance()->current_test_info()->name());
    fs::create_directories(folder_);
    for (const char* name : {"leaf.png", "groove.csv", "title.ttf"}) std::ofstream(folder_ / name) << "not read here";
  }
  void TearDown() override { fs::remove_all(folder_); }

  std::vector<ReliefSpec> read(const std::string& text) const {
    Values values = read_values(parse_document(text + kMould + kRest, "case.toml"), "case.toml");
    return read_reliefs(values, folder_);
  }
  ReliefSpec one(const std::string& keys) const {
    const std::vector<ReliefSpec> all = read("[[relief]]\nname = \"title\"\n" + keys);
    EXPECT_EQ(all.size(), 1U);
    return all.at(0);
  }
  Fault fault_of(const std::string& text) const {
    try {
      read(text);
    } catch (const Error& error) {
      EXPECT_EQ(error.exit_code(), 2);
      return error.fault();
    }
    ADD_FAILURE() << "was taken:\n" << text;
    return {};
  }

  fs::path folder_;
};

TEST_F(ReliefSection, TheMouldItself) {
  const ReliefSpec r =
      one("source = \"mould\"\nat = [\"12 mm\", \"-3 mm\"]\nsize = [\"30 mm\", \"10 mm\"]\nangle = \"90°\"\n");
  EXPECT_EQ(r.name, "title");
  EXPECT_TRUE(std::holds_alternative<imprint::MouldRelief>(r.source));
  EXPECT_EQ(r.at_m, mesh::Vec2(12e-3, -3e-3));
  EXPECT_EQ(*r.size_m, mesh::Vec2(30e-3, 10e-3));
  EXPECT_DOUBLE_EQ(r.angle_rad, 0.5 * std::numbers::pi);
  EXPECT_EQ(r.grid_m, 0.02e-3);
  EXPECT_FALSE(r.periodic);
  EXPECT_FALSE(r.state);
}

TEST_F(ReliefSection, TextWithAndWithoutAllItsKeys) {
  const ReliefSpec plain = one(std::string("source = ") + kText + "\n");
  const auto& text = std::get<imprint::TextRelief>(plain.source);
  EXPECT_EQ(text.text, "BASIL");
  EXPECT_EQ(text.font, "");
  EXPECT_EQ(text.cap_height_m, 6e-3);
  EXPECT_EQ(text.depth_m, 0.4e-3);
  EXPECT_TRUE(text.raised);
  EXPECT_FALSE(text.mirrored);
  EXPECT_EQ(text.draft_rad, 0.0);
  EXPECT_EQ(plain.at_m, mesh::Vec2(0, 0));
  EXPECT_FALSE(plain.size_m);
  const ReliefSpec full =
      one("grid = \"0.03 mm\"\nperiodic = true\n[relief.source]\ntext = \"Basil\\nThyme\"\nfont = \"title.ttf\"\n"
          "size = \"4 mm\"\ndepth = \"0.3 mm\"\nraised = false\nmirrored = true\ndraft = \"3°\"\n"
          "letter_spacing = \"0.2 mm\"\nbraille = false\n");
  const auto& t = std::get<imprint::TextRelief>(full.source);
  EXPECT_EQ(t.text, "Basil\nThyme");
  EXPECT_EQ(t.font, (folder_ / "title.ttf").lexically_normal().string());
  EXPECT_FALSE(t.raised);
  EXPECT_TRUE(t.mirrored);
  EXPECT_DOUBLE_EQ(t.draft_rad, 3.0 * std::numbers::pi / 180.0);
  EXPECT_EQ(t.letter_spacing_m, 0.2e-3);
  EXPECT_DOUBLE_EQ(full.grid_m, 0.03e-3);
  EXPECT_TRUE(full.periodic);
}

TEST_F(ReliefSection, BrailleImageAndProfile) {
  const ReliefSpec dots = one("source = { text = \"basil\", braille = true }\n");
  EXPECT_EQ(std::get<imprint::BrailleRelief>(dots.source).dot_height_m, 0.75e-3);
  const ReliefSpec image = one("source = { image = \"leaf.png\", pixel = \"0.05 mm\", depth = \"0.3 mm\" }\n");
  EXPECT_EQ(std::get<imprint::ImageRelief>(image.source).path, (folder_ / "leaf.png").lexically_normal().string());
  EXPECT_EQ(image.grid_m, 0.05e-3) << "the pixel";
  const ReliefSpec profile = one(std::string("source = { profile = \"groove.csv\", kind = \"round\" }\n") + kState);
  EXPECT_EQ(std::get<imprint::ProfileRelief>(profile.source).kind, mesh::Profile::Kind::kRound);
  EXPECT_TRUE(profile.state);
}

TEST_F(ReliefSection, AStateIsThatOfTheSheet) {
  const ReliefSpec r = one(std::string("source = ") + kText +
                           "\nstate = { thickness = \"0.5 mm\", stretch = [1.5, 1.2], shear_modulus = \"0.2 MPa\", "
                           "pressure = \"4 bar\", skin_thickness = \"0.05 mm\", skin_shear_modulus = \"6 MPa\" }\n");
  ASSERT_TRUE(r.state);
  EXPECT_EQ(r.state->thickness_m, 0.5e-3);
  EXPECT_EQ(r.state->stretch_x, 1.5);
  EXPECT_EQ(r.state->stretch_y, 1.2);
  EXPECT_EQ(r.state->shear_modulus_Pa, 0.2e6);
  EXPECT_EQ(r.state->pressure_Pa, 4e5);
  EXPECT_TRUE(r.state->has_skin());
  EXPECT_EQ(r.state->skin_thickness_m, 0.05e-3);
  EXPECT_EQ(r.state->skin_shear_modulus_Pa, 6e6);
  EXPECT_TRUE(r.state->skin_stretched);
  const ReliefSpec set =
      one(std::string("source = ") + kText +
          "\nstate = { thickness = \"0.5 mm\", shear_modulus = \"0.2 MPa\", pressure = \"4 bar\", "
          "skin_thickness = \"0.05 mm\", skin_shear_modulus = \"6 MPa\", skin_stretched = false }\n");
  EXPECT_FALSE(set.state->skin_stretched);
  const ReliefSpec plain = one(std::string("source = ") + kText + "\n" + kState);
  EXPECT_EQ(plain.state->stretch_x, 1.0);
  EXPECT_FALSE(plain.state->has_skin());
}

TEST_F(ReliefSection, PrintedIsWhatTheKeysSay) {
  const imprint::Printed none = one(std::string("source = ") + kText + "\n" + kState).printed;
  EXPECT_EQ(none.pixel_m, 0.0);
  EXPECT_EQ(none.layer_m, 0.0);
  EXPECT_EQ(none.edge_radius_m, 0.0);
  const imprint::Printed all =
      one(std::string("source = ") + kText +
          "\nprinted = { pixel = \"0.05 mm\", layer = \"0.1 mm\", edge_radius = \"0.03 mm\" }\n" + kState)
          .printed;
  EXPECT_DOUBLE_EQ(all.pixel_m, 0.05e-3);
  EXPECT_DOUBLE_EQ(all.layer_m, 0.1e-3);
  EXPECT_DOUBLE_EQ(all.edge_radius_m, 0.03e-3);
}

TEST_F(ReliefSection, DefaultsAreShownWithTheRest) {
  Values values = read_values(parse_document(std::string("[[relief]]\nname = \"title\"\nsource.text = \"a\\nb\"\n"
                                                         "source.size = \"6 mm\"\nsource.depth = \"0.4 mm\"\n") +
                                                 kRest,
                                             "case.toml"),
                              "case.toml");
  read_reliefs(values, folder_);
  std::string listed;
  for (const ResolvedValue& v : values.resolved()) {
    if (v.key.starts_with("relief[1]")) listed += v.key.substr(10) + '=' + v.value + '\n';
  }
  EXPECT_EQ(listed,
            "name=title\nsource.text=a\\nb\nsource.size=6 mm\nsource.depth=0.4 mm\nat=[0 mm, 0 mm]\nangle=0°\n"
            "grid=0.02 mm\nperiodic=false\n");
}

struct Spoilt {
  std::string keys;  ///< below name = "title"
  std::string where;
  std::string told;  ///< in found, allowed or advice
};

TEST_F(ReliefSection, SpoiltReliefsAreRefusedWithTheirLine) {
  const std::string text = std::string("source = ") + kText + "\n";
  const std::string image = "source = { image = \"leaf.png\", pixel = \"0.05 mm\", depth = \"0.3 mm\" }\n";
  const std::string profile = "source = { profile = \"groove.csv\", kind = \"strip\" }\n";
  const auto state = [&](const std::string& keys) { return text + "state = { " + keys + " }\n"; };
  const std::string enough = "thickness = \"0.5 mm\", shear_modulus = \"0.2 MPa\", pressure = \"4 bar\"";
  const Spoilt spoilt[]{
      {"", "case.toml:1, relief[1].source", "source is required"},
      {"source = \"mold\"\n", "case.toml:3, relief[1].source", "Did you mean mould?"},
      {"source = 3\n", "case.toml:3, relief[1].source", "the number 3"},
      {"source = {}\n", "case.toml:3, relief[1].source", "none of text, image, profile"},
      {"source = \"mould\"\n", "case.toml:1, relief[1]", "without at"},
      {"source = \"mould\"\nat = [\"0 mm\", \"0 mm\"]\n", "case.toml:1, relief[1]", "without size"},
      {text + "siez = [\"1 mm\", \"1 mm\"]\n", "case.toml:4, relief[1]", "Did you mean size?"},
      {"source = { txet = \"a\" }\n", "case.toml:3, relief[1].source", "Did you mean text?"},
      {"source = { text = \"a\", image = \"leaf.png\" }\n", "case.toml:3, relief[1].source", "text and image"},
      {profile + "printed = { pixel = \"0.05 mm\" }\n", "case.toml:4, relief[1].printed", "with a profile"},
      {text + "printed = { pixl = \"0.05 mm\" }\n", "case.toml:4, relief[1].printed", "Did you mean pixel?"},
      {"source = { text = \"a\", depth = \"1 mm\" }\n", "case.toml:3, relief[1].source", "text without size"},
      {"source = { text = \"a\", size = \"6 mm\" }\n", "case.toml:3, relief[1].source", "text without depth"},
      {"source = { text = \"\", size = \"6 mm\", depth = \"1 mm\" }\n", "case.toml:3, relief[1].source.text",
       "not empty"},
      {"source = { text = \"a\\u0007\", size = \"6 mm\", depth = \"1 mm\" }\n", "case.toml:3, relief[1].source.text",
       "control characters"},
      {"source = { text = \"a\", size = \"6 mm\", depth = \"1 mm\", pixel = \"1 mm\" }\n",
       "case.toml:3, relief[1].source.pixel", "pixel with text"},
      {"source = { text = \"a\", size = 6, depth = \"1 mm\" }\n", "case.toml:3, relief[1].source.size",
       "without a unit"},
      {"source = { text = \"a\", size = \"6 bar\", depth = \"1 mm\" }\n", "case.toml:3, relief[1].source.size",
       "a pressure"},
      {"source = { text = \"a\", size = \"6 mm\", depth = \"-1 mm\" }\n", "case.toml:3, relief[1].source.depth",
       "0.001 mm to 20 mm"},
      {"source = { text = \"a\", size = \"6 mm\", depth = \"1 mm\", draft = \"91°\" }\n",
       "case.toml:3, relief[1].source.draft", "0° to 80°"},
      {"source = { text = \"a\", size = \"6 mm\", depth = \"1 mm\", raised = \"no\" }\n",
       "case.toml:3, relief[1].source.raised", "true or false"},
      {"source = { text = \"a\", size = \"6 mm\", depth = \"1 mm\", font = \"none.ttf\" }\n",
       "case.toml:3, relief[1].source.font", "no file \"none.ttf\""},
      {"source = { text = \"a\", braille = true, font = \"title.ttf\" }\n", "case.toml:3, relief[1].source.font",
       "font with braille"},
      {"source = { text = \"a\", braille = true, size = \"6 mm\" }\n", "case.toml:3, relief[1].source.size",
       "size with braille"},
      {"source = { text = \"a\", braille = true, draft = \"3°\" }\n", "case.toml:3, relief[1].source.draft",
       "draft with braille"},
      {"source = { image = \"leaf.png\", braille = true, pixel = \"1 mm\", depth = \"1 mm\" }\n",
       "case.toml:3, relief[1].source.braille", "braille with image"},
      {"source = { image = \"leaf.png\", depth = \"1 mm\" }\n", "case.toml:3, relief[1].source", "image without pixel"},
      {"source = { image = \"tree.png\", pixel = \"1 mm\", depth = \"1 mm\" }\n", "case.toml:3, relief[1].source.image",
       "no file \"tree.png\""},
      {"source = { profile = \"groove.csv\" }\n" + std::string(kState), "case.toml:3, relief[1].source",
       "profile without kind"},
      {"source = { profile = \"groove.csv\", kind = \"oval\" }\n", "case.toml:3, relief[1].source.kind",
       "one of strip, round"},
      {"source = { profile = \"groove.csv\", kind = \"strip\", depth = \"1 mm\" }\n",
       "case.toml:3, relief[1].source.depth", "depth with profile"},
      {profile, "case.toml:1, relief[1]", "a profile without state"},
      {profile + kState + "at = [\"0 mm\", \"0 mm\"]\n", "case.toml:5, relief[1].at", "at with a profile"},
      {profile + kState + "size = [\"1 mm\", \"1 mm\"]\n", "case.toml:5, relief[1].size", "size with a profile"},
      {profile + kState + "angle = \"10°\"\n", "case.toml:5, relief[1].angle", "angle with a profile"},
      {"source = { profile = \"groove.csv\", kind = \"round\" }\nperiodic = true\n" + std::string(kState),
       "case.toml:4, relief[1].periodic", "a round profile that repeats"},
      {text + "at = [\"0 mm\"]\n", "case.toml:4, relief[1].at", "a list of 2"},
      {text + "grid = \"0 mm\"\n", "case.toml:4, relief[1].grid", "0.001 mm to 1 mm"},
      {image + "size = [\"1 mm\", \"1 mm\"]\ngrid = \"0.6 mm\"\n", "case.toml:5, relief[1].grid", "at most 0.25 mm"},
      {text + "periodic = 1\n", "case.toml:4, relief[1].periodic", "true or false"},
      {text + "state = true\n", "case.toml:4, relief[1].state", "a table"},
      {state("thickness = \"0.5 mm\", shear_modulus = \"0.2 MPa\""), "case.toml:4, relief[1].state.pressure",
       "pressure is required"},
      {state("shear_modulus = \"0.2 MPa\", pressure = \"4 bar\""), "case.toml:4, relief[1].state.thickness",
       "thickness is required"},
      {state(enough + ", stretch = [1.5]"), "case.toml:4, relief[1].state.stretch", "a list of 2"},
      {state(enough + ", stretch = [1.5, 0]"), "case.toml:4, relief[1].state.stretch", "0.1 to 20"},
      {state(enough + ", stretch = [\"1.5\", \"1\"]"), "case.toml:4, relief[1].state.stretch", "a number"},
      {state(enough + ", skin_thickness = \"0.05 mm\""), "case.toml:4, relief[1].state", "without skin_shear_modulus"},
      {state(enough + ", skin_shear_modulus = \"6 MPa\""), "case.toml:4, relief[1].state", "without skin_thickness"},
      {state(enough + ", skin_thickness = \"0.5 mm\", skin_shear_modulus = \"6 MPa\""),
       "case.toml:4, relief[1].state.skin_thickness", "less than thickness, 0.5 mm"},
      {state(enough + ", skin = \"6 MPa\""), "case.toml:4, relief[1].state", "the unknown key"},
  };
  int refused = 0;
  for (const Spoilt& s : spoilt) {
    const Fault fault = fault_of("[[relief]]\nname = \"title\"\n" + s.keys);
    EXPECT_EQ(fault.where, s.where) << s.keys;
    EXPECT_NE((fault.found + '|' + fault.allowed + '|' + fault.advice).find(s.told), std::string::npos)
        << s.keys << Error(fault).what();
    ++refused;
  }
  EXPECT_EQ(refused, 50);
}

TEST_F(ReliefSection, NamesAreNamesOfFilesAndOneEach) {
  int refused = 0;
  for (const std::string name :
       {"a b", "a/b", "..", "Blätter", "", "a.h5", "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"}) {
    EXPECT_NE(fault_of("[[relief]]\nname = \"" + name + "\"\nsource = " + kText + "\n")
                  .where.find("case.toml:2, relief[1].name"),
              std::string::npos)
        << name;
    ++refused;
  }
  EXPECT_EQ(refused, 7);
  EXPECT_NE(fault_of(std::string("[[relief]]\nsource = ") + kText + "\n").advice.find("name is required"),
            std::string::npos);
  const std::string relief = std::string("[[relief]]\nname = \"Title_1-a\"\nsource = ") + kText + "\n";
  const Fault twice = fault_of(relief + relief);
  EXPECT_EQ(twice.where, "case.toml:5, relief[2].name");
  EXPECT_NE(twice.found.find("a second relief"), std::string::npos);
  const Fault folded = fault_of(relief + "[[relief]]\nname = \"title_1-A\"\nsource = " + kText + "\n");
  EXPECT_EQ(folded.where, "case.toml:5, relief[2].name");
  EXPECT_EQ(folded.found, "a relief named \"title_1-A\" beside \"Title_1-a\"");
  EXPECT_EQ(read(relief).at(0).name, "Title_1-a");
  EXPECT_TRUE(read("").empty());
}

TEST_F(ReliefSection, AReliefOfTheMouldNeedsAMould) {
  const std::string text =
      "[[relief]]\nname = \"title\"\nsource = \"mould\"\nat = [\"0 mm\", \"0 mm\"]\n"
      "size = [\"1 mm\", \"1 mm\"]\n";
  Values values = read_values(parse_document(text + kRest, "case.toml"), "case.toml");
  try {
    read_reliefs(values, folder_);
    ADD_FAILURE() << "was taken";
  } catch (const Error& error) {
    EXPECT_EQ(error.fault().where, "case.toml:3, relief[1].source");
    EXPECT_NE(error.fault().found.find("without a mould"), std::string::npos);
  }
}

TEST_F(ReliefSection, ATextOfSeveralLinesMayBeWrittenSo) {
  for (const std::string end : {"\n", "\r\n"}) {
    const std::string text = "[[relief]]" + end + "name = \"title\"" + end + "[relief.source]" + end + "text = \"\"\"" +
                             end + "BASIL" + end + "Thyme\"\"\"" + end + "size = \"6 mm\"" + end +
                             "depth = \"0.4 mm\"" + end;
    const std::vector<ReliefSpec> reliefs = read(text);
    EXPECT_EQ(std::get<imprint::TextRelief>(reliefs.at(0).source).text, "BASIL\nThyme");
  }
}

}  // namespace
}  // namespace pellicle::cases
