// Is a relief judged by its worst stroke, with the band of friction, and is the advice the answer's own? Made-up
// answers where every verdict is known by hand.
#include "solver/checks/relief.h"

#include <gtest/gtest.h>

#include <cmath>

namespace pellicle::checks {
namespace {

using imprint::kNotRun;

bool holds(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

imprint::StrokeAnswer stroke(const std::string& name, double share, double stick = kNotRun, double slip = kNotRun) {
  imprint::StrokeAnswer s;
  s.name = name;
  s.place_m = {1e-3, 2e-3};
  s.width_m = 0.31e-3;
  s.height_m = -0.4e-3;
  s.share = share;
  s.share_stick = stick;
  s.share_slip = slip;
  s.depth.answer_m = share * 0.4e-3;
  s.depth.model = std::isnan(stick) ? imprint::Model::kLayer : imprint::Model::kSection;
  return s;
}

struct Made {
  imprint::ReliefSpec spec;
  imprint::ReliefAnswer answer;
  std::optional<imprint::FormedState> formed;

  Made() {
    spec.name = "title";
    spec.source = imprint::TextRelief{"SA", "", 6e-3, 0.4e-3};
    answer.name = "title";
    answer.state = {0.5e-3, 1.5, 1.2, 0.2e6, 4e5, 0.0, 0.0};
  }
  Finding find(std::optional<double> least = {}) const {
    return relief({spec, answer, formed, [](double x, double y) { return mesh::Vec3(x, y, 5e-3); }}, least);
  }
};

TEST(ReliefFinding, TheWorstStrokeCountsAndIsNamedWithItsPlace) {
  Made made;
  made.answer.strokes = {stroke("A", 0.95), stroke("S", 0.3, 0.28, 0.45), stroke("stroke 3", 0.5)};
  const Finding f = made.find();
  EXPECT_EQ(f.id, "relief_title");
  EXPECT_EQ(f.question, "Does title form?");
  EXPECT_EQ(f.value, 0.3);
  EXPECT_EQ(f.unit, "-");
  EXPECT_EQ(f.limit, 0.8);
  EXPECT_EQ(f.verdict, Verdict::kFail);
  ASSERT_TRUE(f.place_m);
  EXPECT_EQ(*f.place_m, mesh::Vec3(1e-3, 2e-3, 5e-3));
  EXPECT_TRUE(holds(f.why,
                    "2 of 3 strokes fall short, the worst stroke 'S' of 0.31 mm: 0.12 of 0.4 mm deep, "
                    "by a cross-section, 0.28 of it sticking to 0.45 sliding"))
      << f.why;
}

TEST(ReliefFinding, VerdictsFollowTheBandAndTheRangeOfTheModel) {
  const auto verdict = [](const imprint::StrokeAnswer& s, std::optional<double> least) {
    Made made;
    made.answer.strokes = {s};
    return made.find(least).verdict;
  };
  EXPECT_EQ(verdict(stroke("A", 0.8), {}), Verdict::kPass) << "at the limit";
  EXPECT_EQ(verdict(stroke("A", 0.79), {}), Verdict::kFail);
  EXPECT_EQ(verdict(stroke("A", 0.79), 0.7), Verdict::kPass) << "the case's own limit";
  EXPECT_EQ(verdict(stroke("A", 0.79, 0.79, 0.85), {}), Verdict::kDoubt);
  EXPECT_EQ(verdict(stroke("A", 0.82, 0.82, 0.9), {}), Verdict::kPass);
  EXPECT_EQ(verdict(stroke("A", 0.5, 0.5, 0.7), {}), Verdict::kFail);
  for (const double share : {0.1, 0.95}) {
    imprint::StrokeAnswer beyond = stroke("A", share);
    beyond.depth.valid = false;
    EXPECT_EQ(verdict(beyond, {}), Verdict::kDoubt) << share;
  }
}

TEST(ReliefFinding, OneStrokeInDoubtKeepsTheReliefFromPassing) {
  Made made;
  imprint::StrokeAnswer beyond = stroke("S", 1.0);
  beyond.depth.valid = false;
  made.answer.strokes = {stroke("A", 0.9), beyond, beyond};
  EXPECT_EQ(made.find().verdict, Verdict::kDoubt);
  EXPECT_TRUE(holds(made.find().why, "; 2 other strokes are not to be relied on")) << made.find().why;
  made.answer.strokes = {stroke("A", 0.9), beyond, stroke("B", 0.95, 0.75, 0.95)};
  made.answer.strokes[1].depth.valid = true;
  EXPECT_EQ(made.find().verdict, Verdict::kDoubt) << "a band over the limit";
  made.answer.strokes = {beyond, stroke("A", 0.5)};
  EXPECT_EQ(made.find().verdict, Verdict::kFail) << "one surely falls short";
}

TEST(ReliefFinding, WithoutStrokesThePatchCounts) {
  Made made;
  made.answer.capture = 0.9;
  made.answer.capture_stick = 0.7;
  made.answer.capture_slip = 0.95;
  made.answer.depth.answer_m = 0.27e-3;
  made.answer.own_depth_m = 0.3e-3;
  const Finding f = made.find();
  EXPECT_EQ(f.value, 0.9);
  EXPECT_EQ(f.verdict, Verdict::kDoubt);
  EXPECT_FALSE(f.place_m);
  EXPECT_TRUE(holds(f.why, "0.27 of 0.3 mm deep over the whole patch")) << f.why;
}

TEST(ReliefFinding, AdviceIsWhatTheAnswerSaysWouldDo) {
  Made made;
  imprint::StrokeAnswer s = stroke("S", 0.4);
  s.needed_pressure_Pa = 8e5;
  s.needed_width_m = 0.62e-3;
  s.needed_thickness_m = 0.21e-3;
  s.share_along = 0.7;
  made.answer.strokes = {s};
  const std::string advice = made.find().advice;
  for (const char* part : {"'S'", "0.62 mm wide", "no deeper than 0.2 mm", "8 bar instead of 4",
                           "of 0.1 MPa instead of 0.2",  // half the modulus is twice the pressure
                           "0.21 mm thick there instead of 0.5", "turned along the larger stretch it would take 0.70"})
    EXPECT_TRUE(holds(advice, part)) << part << " in: " << advice;
  made.answer.strokes = {stroke("S", 0.9)};
  EXPECT_EQ(made.find().advice, "") << "nothing to mend";
}

TEST(ReliefFinding, ADoubtfulModelIsToldHowToBecomeABetterOne) {
  Made made;
  made.answer.strokes = {stroke("S", 0.95)};
  made.answer.strokes[0].depth.valid = false;
  made.answer.strokes[0].depth.model = imprint::Model::kLayerBeyond;
  const Finding quick =
      relief({made.spec, made.answer, made.formed, [](double, double) { return mesh::Vec3(0, 0, 0); }, false}, {});
  EXPECT_TRUE(holds(quick.why, "by layer theory beyond its range: not to be relied on")) << quick.why;
  EXPECT_TRUE(holds(quick.advice, "name this patch in [[relief]]")) << quick.advice;
  made.answer.notes = {"the section found no rest"};
  EXPECT_TRUE(holds(made.find().advice, "see the notes"));
}

TEST(ReliefFinding, SaysFromWhichFaceATextReadsRight) {
  Made made;
  made.answer.strokes = {stroke("A", 0.9)};
  const auto why = [&](bool raised, bool mirrored) {
    auto& text = std::get<imprint::TextRelief>(made.spec.source);
    text.raised = raised;
    text.mirrored = mirrored;
    return made.find().why;
  };
  // Raised letters that read right on the mould from above push the sheet up: its upper, free face shows them raised
  // and right. Turned over, the other face shows dents, and everything mirrored.
  EXPECT_TRUE(
      holds(why(true, false),
            "on the free face it reads right and stands out, on the face that lay on the mould it is mirrored and "
            "is sunk"));
  EXPECT_TRUE(holds(why(false, false), "free face it reads right and is sunk"));
  EXPECT_TRUE(holds(why(true, true), "free face it is mirrored and stands out"));
  EXPECT_TRUE(holds(why(false, true), "lay on the mould it reads right and stands out"));
  made.spec.source = imprint::MouldRelief{};
  EXPECT_FALSE(holds(made.find().why, "free face"));
}

TEST(ReliefFinding, TheFormedSheetIsTold) {
  Made made;
  made.answer.strokes = {stroke("A", 0.9)};
  made.formed = imprint::FormedState{made.answer.state, 0.75, 0.41e-3, 0.62e-3, 0.0};
  EXPECT_TRUE(holds(made.find().why, "sheet there 0.41 to 0.62 mm, 75 % of the patch touched")) << made.find().why;
}

TEST(ReliefFinding, WithoutAnAnswerItSaysWhy) {
  const Made made;
  const Finding untouched = untouched_relief(made.spec, mesh::Vec3(1, 2, 3), 0.9);
  EXPECT_EQ(untouched.id, "relief_title");
  EXPECT_EQ(untouched.verdict, Verdict::kFail);
  EXPECT_EQ(untouched.value, 0.0);
  EXPECT_EQ(untouched.limit, 0.9);
  const Finding none = unanswered_relief(made.spec, {}, {}, "why", "try");
  EXPECT_EQ(none.verdict, Verdict::kDoubt);
  EXPECT_TRUE(std::isnan(none.value));
  EXPECT_EQ(none.why, "why");
  EXPECT_EQ(none.advice, "try");
}

}  // namespace
}  // namespace pellicle::checks
