// How are frames written while the run goes on? One at a time, by a thread beside it.
#pragma once

#include "io/results/frames.h"

#include <future>
#include <vector>

namespace pellicle::results {

/// A frame that owns what it shows.
class KeptFrame {
 public:
  explicit KeptFrame(const forming::Frame& frame);
  KeptFrame(const KeptFrame&) = delete;
  KeptFrame& operator=(const KeptFrame&) = delete;
  const forming::Frame& frame() const { return frame_; }

 private:
  forming::Frame frame_;
  std::vector<mesh::Vec3> points_m_;
  std::vector<mesh::Triangle> triangles_;
  std::vector<mesh::Vec2> flat_m_;
  std::vector<std::vector<double>> values_;
};

/// Hands frames to a FrameWriter, which must outlive it. Between write() and wait() nobody else may write to the folder
/// or use HDF5.
class FramesBeside {
 public:
  explicit FramesBeside(FrameWriter& writer) : writer_(writer) {}
  /// Waits for the frame before, then copies this one and returns. Throws what went wrong with the one before.
  void write(const forming::Frame& frame);
  /// Until all is on disk. Throws what went wrong.
  void wait();

 private:
  FrameWriter& writer_;
  std::future<void> under_way_;
};

}  // namespace pellicle::results
