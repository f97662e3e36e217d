// How are frames written while the run goes on? One at a time, by a thread beside it.
#include "io/results/frames_beside.h"

#include <array>
#include <memory>

namespace pellicle::results {
namespace {

using forming::Frame;
constexpr std::array kFields{&Frame::thickness_m,
                             &Frame::stretch_1,
                             &Frame::stretch_2,
                             &Frame::gap_m,
                             &Frame::contact_pressure_Pa,
                             &Frame::touched_s,
                             &Frame::temperature_K,
                             &Frame::finest_radius_m,
                             &Frame::capture_depth_200um_m,
                             &Frame::capture_depth_500um_m,
                             &Frame::capture_depth_1000um_m,
                             &Frame::triangle_thickness_m,
                             &Frame::triangle_wrinkle,
                             &Frame::layer_line_m,
                             &Frame::layer_line_free_face_m,
                             &Frame::pocket,
                             &Frame::pocket_pressure_Pa,
                             &Frame::temperature_mould_face_K,
                             &Frame::shrinkage};

/// Every span of a frame is copied: a new one without its line here would point to what is gone. Numbers and spans of
/// three kinds are all there is in it.
static_assert(sizeof(Frame) == sizeof(double) * 3 + sizeof(std::string) + sizeof(double) +
                                   sizeof(std::span<const double>) * (3 + kFields.size()));

template <class T>
std::span<const T> kept(std::vector<T>& here, std::span<const T> there) {
  here.assign(there.begin(), there.end());
  return here;
}

}  // namespace

KeptFrame::KeptFrame(const Frame& frame) : frame_(frame), values_(kFields.size()) {
  frame_.points_m = kept(points_m_, frame.points_m);
  frame_.triangles = kept(triangles_, frame.triangles);
  frame_.flat_m = kept(flat_m_, frame.flat_m);
  for (std::size_t k = 0; k < kFields.size(); ++k) frame_.*kFields[k] = kept(values_[k], frame.*kFields[k]);
}

void FramesBeside::write(const Frame& frame) {
  wait();
  auto own = std::make_shared<const KeptFrame>(frame);
  under_way_ = std::async(std::launch::async, [this, own] { writer_.write(own->frame()); });
}

void FramesBeside::wait() {
  if (under_way_.valid()) under_way_.get();
}

}  // namespace pellicle::results
