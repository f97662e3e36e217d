// OBJ is read in every form it is written in; spoilt files are refused with their line.
#include "io/moulds/obj.h"

#include "io/moulds/polygon.h"
#include "tests/io/moulds/mould_files.h"

#include <gtest/gtest.h>

#include <fmt/format.h>

namespace pellicle::moulds {
namespace {

const std::string kPoints = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\n";

Fault fault_of(const std::string& text) {
  try {
    read_obj(text, "m.obj");
  } catch (const Error& error) {
    EXPECT_EQ(error.exit_code(), 3);
    return error.fault();
  }
  ADD_FAILURE() << "was taken:\n" << text.substr(0, 500);
  return {};
}

std::vector<Facet> facets_of(const std::string& text) { return read_obj(text, "m.obj").facets; }

TEST(Obj, EveryFormOfAFaceIsTheSame) {
  const std::vector<Facet> wanted = facets_of(kPoints + "f 1 2 3\nf 1 3 4\n");
  ASSERT_EQ(wanted.size(), 2U);
  EXPECT_EQ(wanted[0][2], mesh::Vec3(1, 1, 0));
  const std::string forms[] = {
      kPoints + "f 1 2 3 4\n",
      kPoints + "f 1/1 2/2 3/3 4/4",
      kPoints + "f 1//1 2//1 3//1 4//9",
      kPoints + "f 1/5/1 2/6/1 3/7/1 4/8/1\n",
      kPoints + "f -4 -3 -2 -1\n",
      kPoints + "f -4//-1 -3//-1 -2//-1 -1//-1 # a remark\n",
      kPoints + "f 1 2 \\\n 3 4\n",
      kPoints + "f 1 2\\\r\n 3\\\r\n4\r\n",
      kPoints + "fo 1 2 3 4\n",
      "f 1 2 3 4\n" + kPoints,  // points may follow
      "\xEF\xBB\xBF# remark\n\n" + kPoints + "f 1 2 3 4\n",
      "v 0 0 0 1\nv 1 0 0 1.0\nv 1 1 0 0.5 0.5 0.5\nv 0 1 0 1 0.2 0.2 0.2\nf +1 2 3 4\n",
      "mtllib a.mtl\no x\ng y z\nusemtl m\ns off\nvt 0 0\nvn 0 0 1\nvn 0 0 \\\n 1\nvp 1 2\n" + kPoints +
          "s 1\nf 1 2 3 4\n",
      "v\t0e0 0 -0.\n v +1 .0 0\nv 1. 1 0\nv 0 100e-2 0\n\tf 1 2 3 4",
  };
  int checked = 0;
  for (const std::string& form : forms) {
    EXPECT_EQ(facets_of(form), wanted) << form;
    std::string text = form;
    for (std::size_t at = 0; (at = text.find('\n', at)) != std::string::npos; at += 2) {
      if (at == 0 || text[at - 1] != '\r')
        text.insert(at, "\r");
      else
        --at;
    }
    EXPECT_EQ(facets_of(text), wanted) << "with CR LF: " << form;
    ++checked;
  }
  EXPECT_EQ(checked, 14);
}

TEST(Obj, NegativeNumbersCountFromTheirLine) {
  const std::vector<Facet> facets = facets_of("v 9 9 9\n" + kPoints + "f -4 -3 -2\nv 5 5 5\nf -1 -5 -4\n");
  ASSERT_EQ(facets.size(), 2U);
  EXPECT_EQ(facets[0][0], mesh::Vec3(0, 0, 0));
  EXPECT_EQ(facets[1][0], mesh::Vec3(5, 5, 5));
  EXPECT_EQ(facets[1][1], mesh::Vec3(0, 0, 0));
}

TEST(Obj, WhatIsNoFaceIsNotedOnce) {
  const FacetContent content = read_obj(kPoints + "p 1\nl 1 2 3\ncstype bezier\ncurv 0 1 1 2\nend\nf 1 2 3\n", "m.obj");
  EXPECT_EQ(content.format, "Wavefront OBJ");
  EXPECT_EQ(content.facets.size(), 1U);
  ASSERT_EQ(content.notes.size(), 1U);
  EXPECT_NE(content.notes[0].find("5 lines"), std::string::npos) << content.notes[0];
  EXPECT_NE(content.notes[0].find("line 5"), std::string::npos) << content.notes[0];
}

TEST(Obj, SpoiltFilesNameTheLine) {
  const std::string good = kPoints + "f 1 2 3\n";
  struct Spoilt {
    std::string text, where, found;
  };
  std::string polygon = "f";
  for (std::size_t k = 0; k <= kMostCorners; ++k) polygon += fmt::format(" {}", 1 + k % 4);
  const std::vector<Spoilt> all{
      {"", "m.obj", "empty"},
      {"\n\n# nothing\n", "m.obj", "no faces"},
      {kPoints, "m.obj", "no faces"},
      {"solid x\n", "m.obj:1", "solid"},
      {std::string("\x89PNG\r\n\x1a\n\0\0", 10), "m.obj:1", "PNG"},
      {good + "v 0 0\n", "m.obj:6", "2 coordinates"},
      {good + "v 0 0 nan\n", "m.obj:6", "nan"},
      {good + "v 0 inf 0\n", "m.obj:6", "inf"},
      {good + "v 0 1e39 0\n", "m.obj:6", "1e39"},
      {good + "v 0 1,5 0\n", "m.obj:6", "1,5"},
      {good + "v 0 0 0 1 1 1 1 1 1\n", "m.obj:6", "more than 8"},
      {good + "f 1 2\n", "m.obj:6", "2 corners"},
      {good + "f\n", "m.obj:6", "0 corners"},
      {good + "f 1 2 5\n", "m.obj:6", "point 5"},
      {good + "f 1 2 0\n", "m.obj:6", "point 0"},
      {good + "f -1 -2 -5\n", "m.obj:6", "point -5"},
      {"v 0 0 0\nf -1 -1 -2\n" + good, "m.obj:2", "point -2"},
      {good + "f 1 2 99999999999999999999\n", "m.obj:6", "99999999999999999999"},
      {good + "f 1 2 3.5\n", "m.obj:6", "3.5"},
      {good + "f 1 2 3/\n", "m.obj:6", "3/"},
      {good + "f 1 2 3/1/\n", "m.obj:6", "3/1/"},
      {good + "f 1 2 3/1/1/1\n", "m.obj:6", "3/1/1/1"},
      {good + "f 1 2 3/a\n", "m.obj:6", "3/a"},
      {good + "f 1 2 /3\n", "m.obj:6", "/3"},
      {good + "f 1 2 \\\n3 \\\nx\n", "m.obj:8", "x"},
      {good + "call other.obj\n", "m.obj:6", "call"},
      {good + polygon + "\n", "m.obj:6", "more than 5000 corners"},
      {good.substr(0, good.size() - 3), "m.obj:5", "2 corners"},
  };
  int checked = 0;
  for (const Spoilt& spoilt : all) {
    const Fault fault = fault_of(spoilt.text);
    EXPECT_EQ(fault.where, spoilt.where) << spoilt.text.substr(0, 200);
    EXPECT_NE(fault.found.find(spoilt.found), std::string::npos) << fault.found;
    ++checked;
  }
  EXPECT_EQ(checked, 28);
}

}  // namespace
}  // namespace pellicle::moulds
