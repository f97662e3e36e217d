// Is a frame written beside the run the frame that was handed over, and does what goes wrong come back?
#include "io/results/frames_beside.h"

#include "mesh/check.h"
#include "tests/io/results/made_up.h"

namespace pellicle::results {
namespace {

class FramesAside : public Scratch {};

TEST_F(FramesAside, AreTheSameBytesAlthoughTheRunHasGoneOn) {
  ResultFolder here(root_ / "here", false, {}), there(root_ / "there", false, {});
  FrameWriter direct(here), aside(there);
  FramesBeside beside(aside);
  const auto for_each_frame = [](auto&& write) {
    std::vector<double> pocket(16, 1.0), pressure_Pa(16, 2e3);
    for (int index = 0; index < 5; ++index) {
      MadeUp sheet(3, 1e-3 * index);
      forming::Frame frame = sheet.frame(index, 0.1 * index);
      frame.pocket = pocket, frame.pocket_pressure_Pa = pressure_Pa;
      write(frame);
      for (auto* values : {&sheet.per_node, &sheet.gap_m, &sheet.per_triangle, &pressure_Pa})  // the run goes on
        for (double& value : *values) value += 1e-3;
    }
  };
  for_each_frame([&](const forming::Frame& frame) { beside.write(frame); });
  beside.wait();
  EXPECT_EQ(aside.written(), 5);
  for_each_frame([&](const forming::Frame& frame) { direct.write(frame); });
  int files = 0;
  for (const auto& file : std::filesystem::directory_iterator(root_ / "here")) {
    EXPECT_EQ(text_of(file.path()), text_of(root_ / "there" / file.path().filename())) << file.path().filename();
    ++files;
  }
  EXPECT_EQ(files, 6);  // five frames and their index
}

TEST_F(FramesAside, WhatWentWrongIsThrownOnceByTheNextCall) {
  ResultFolder folder(root_ / "out", false, {});
  FrameWriter frames(folder);
  FramesBeside beside(frames);
  const MadeUp sheet(3, 1e-3);
  beside.write(sheet.frame(0, 0.0));
  beside.wait();
  std::filesystem::remove_all(root_ / "out");
  put(root_ / "out", "a file where the folder was");
  beside.write(sheet.frame(1, 0.1));
  EXPECT_THROW(beside.wait(), Error);
  beside.wait();  // told already
}

}  // namespace
}  // namespace pellicle::results
