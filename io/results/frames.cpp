// How does the sheet look at each moment, on disk? Datasets and units as in docs/result_format.md: f32 and i32, mm and
// MPa.
#include "io/results/frames.h"

#include "io/results/h5.h"

#include <fmt/format.h>

#include <array>
#include <bit>

namespace pellicle::results {
namespace {

constexpr int kFormatVersion = 1;  ///< grows when a reader of an older version would be misled
constexpr double kMm_per_m = 1e3, kUm_per_m = 1e6, kMPa_per_Pa = 1e-6, kMm3_per_m3 = 1e9, kIceMelts_K = 273.15;

/// A field of the sheet: where it goes, where it comes from, in = stored / scale + offset.
struct SheetField {
  const char* dataset;
  bool per_triangle;
  std::span<const double> forming::Frame::*values;
  double offset = 0.0;
  double scale = 1.0;
  bool optional = false;  ///< left out where the frame has no values
};

using forming::Frame;
constexpr SheetField kSheetFields[] = {
    {"/node/thickness_mm", false, &Frame::thickness_m, 0.0, kMm_per_m},
    {"/node/stretch_1", false, &Frame::stretch_1},
    {"/node/stretch_2", false, &Frame::stretch_2},
    {"/node/gap_mm", false, &Frame::gap_m, 0.0, kMm_per_m},
    {"/node/contact_pressure_MPa", false, &Frame::contact_pressure_Pa, 0.0, kMPa_per_Pa},
    {"/node/touched_s", false, &Frame::touched_s},
    {"/node/temperature_C", false, &Frame::temperature_K, kIceMelts_K, 1.0},
    {"/node/temperature_mould_face_C", false, &Frame::temperature_mould_face_K, kIceMelts_K, 1.0, true},
    {"/node/finest_radius_mm", false, &Frame::finest_radius_m, 0.0, kMm_per_m},
    {"/node/capture_depth_0.2mm_stroke_mm", false, &Frame::capture_depth_200um_m, 0.0, kMm_per_m},
    {"/node/capture_depth_0.5mm_stroke_mm", false, &Frame::capture_depth_500um_m, 0.0, kMm_per_m},
    {"/node/capture_depth_1.0mm_stroke_mm", false, &Frame::capture_depth_1000um_m, 0.0, kMm_per_m},
    {"/node/layer_line_um", false, &Frame::layer_line_m, 0.0, kUm_per_m, true},
    {"/node/layer_line_free_face_um", false, &Frame::layer_line_free_face_m, 0.0, kUm_per_m, true},
    {"/node/pocket", false, &Frame::pocket, 0.0, 1.0, true},
    {"/node/pocket_pressure_MPa", false, &Frame::pocket_pressure_Pa, 0.0, kMPa_per_Pa, true},
    {"/node/shrinkage_percent", false, &Frame::shrinkage, 0.0, 100.0, true},
    {"/triangle/thickness_mm", true, &Frame::triangle_thickness_m, 0.0, kMm_per_m},
    {"/triangle/wrinkle", true, &Frame::triangle_wrinkle},
};

bool is_left_out(const SheetField& field, const Frame& frame) {
  return field.optional && (frame.*field.values).empty();
}

std::vector<float> in_file_units(std::span<const double> values, double offset, double scale) {
  std::vector<float> stored;
  stored.reserve(values.size());
  for (const double value : values) stored.push_back(static_cast<float>((value - offset) * scale));
  return stored;
}

template <class Point>
std::vector<float> in_mm(std::span<const Point> points_m) {
  std::vector<float> stored;
  stored.reserve(points_m.size() * static_cast<std::size_t>(Point::SizeAtCompileTime));
  for (const Point& point_m : points_m) {
    for (int k = 0; k < Point::SizeAtCompileTime; ++k) stored.push_back(static_cast<float>(kMm_per_m * point_m[k]));
  }
  return stored;
}

template <class Point>
std::vector<Point> in_m(const std::vector<float>& stored_mm) {
  constexpr auto kColumns = static_cast<std::size_t>(Point::SizeAtCompileTime);
  std::vector<Point> points_m(stored_mm.size() / kColumns);
  for (std::size_t i = 0; i < stored_mm.size(); ++i)
    points_m[i / kColumns][static_cast<Eigen::Index>(i % kColumns)] = static_cast<double>(stored_mm[i]) / kMm_per_m;
  return points_m;
}

void add_surface(h5::Writer& file, std::span<const mesh::Vec3> points_m, std::span<const mesh::Triangle> triangles) {
  std::vector<std::int32_t> corners;
  corners.reserve(3 * triangles.size());
  for (const mesh::Triangle& triangle : triangles) corners.insert(corners.end(), triangle.begin(), triangle.end());
  file.dataset<float>("/points_mm", in_mm(points_m), 3);
  file.dataset<std::int32_t>("/triangles", corners, 3);
}

void add_origin(h5::Writer& file, const char* format) {
  file.attribute("format", std::string(format));
  file.attribute("format_version", std::int32_t{kFormatVersion});
  file.attribute("program_version", std::string(PELLICLE_VERSION));
}

/// 1 on the triangles concerned, else 0; by mesh::Defect.
constexpr std::array<const char*, mesh::kDefects> kDefectFields{
    "/triangle/hole",      "/triangle/branch", "/triangle/turned",   "/triangle/one_sided", "/triangle/inside_out",
    "/triangle/duplicate", "/triangle/sliver", "/triangle/crossing", "/triangle/nested"};
constexpr const char* kSightField = "/triangle/sight";
constexpr const char* kBodyField = "/triangle/body";
constexpr const char* kCountField = "/triangle/defects";

std::string frame_file(const Frame& frame) {
  h5::Writer file;
  add_origin(file, "pellicle-sheet");
  file.attribute("time_s", frame.time_s);
  file.attribute("stage", frame.stage);
  file.attribute("pressure_MPa", kMPa_per_Pa * frame.pressure_Pa);
  file.attribute("swept_volume_mm3", kMm3_per_m3 * frame.swept_volume_m3);
  add_surface(file, frame.points_m, frame.triangles);
  file.group("/node");
  file.group("/triangle");
  ensure(frame.flat_m.size() == frame.points_m.size(), "every node has a place in the flat sheet");
  file.dataset<float>("/node/flat_mm", in_mm(frame.flat_m), 2);
  for (const SheetField& field : kSheetFields) {
    if (is_left_out(field, frame)) continue;
    const std::span<const double> values = frame.*field.values;
    ensure(values.size() == (field.per_triangle ? frame.triangles.size() : frame.points_m.size()),
           "a field of a frame has a value for each node or triangle");
    file.dataset<float>(field.dataset, in_file_units(values, field.offset, field.scale));
  }
  return file.finish();
}

std::string frame_name(int index) { return fmt::format("sheet_{:04}.h5", index); }

template <class Holds>
XdmfGrid frame_grid(int index, double time_s, std::size_t nodes, std::size_t triangles, const Holds& holds) {
  XdmfGrid grid{fmt::format("sheet {}", index), frame_name(index), time_s, nodes, triangles, {}};
  grid.fields.push_back({"/node/flat_mm", false, 2});
  for (const SheetField& field : kSheetFields)
    if (holds(field)) grid.fields.push_back({field.dataset, field.per_triangle, 1});
  return grid;
}

}  // namespace

FrameWriter::FrameWriter(ResultFolder& folder, int there) : folder_(folder) {
  for (int index = 0; index < there; ++index) {
    const std::filesystem::path path = folder.path() / frame_name(index);
    const h5::Reader file(read_file(path), path.string());
    index_.push_back(frame_grid(index, file.attribute<double>("time_s"),
                                file.dataset<float>("/points_mm", 3).size() / 3,
                                file.dataset<std::int32_t>("/triangles", 3).size() / 3,
                                [&](const SheetField& field) { return file.holds(field.dataset); }));
  }
}

void FrameWriter::write(const Frame& frame) {
  ensure(frame.index == written(), "frames come in order");
  XdmfGrid grid = frame_grid(frame.index, frame.time_s, frame.points_m.size(), frame.triangles.size(),
                             [&](const SheetField& field) { return !is_left_out(field, frame); });
  folder_.write(grid.file, frame_file(frame));
  index_.push_back(std::move(grid));
  folder_.write("sheet.xdmf", xdmf_sequence("sheet", index_));
}

void FrameWriter::replay(const std::function<void(const Frame&)>& sink) const {
  for (std::size_t i = 0; i < index_.size(); ++i) {
    const std::filesystem::path path = folder_.path() / index_[i].file;
    const h5::Reader file(read_file(path), path.string());
    const auto points_m = in_m<mesh::Vec3>(file.dataset<float>("/points_mm", 3));
    const auto flat_m = in_m<mesh::Vec2>(file.dataset<float>("/node/flat_mm", 2));
    const auto corners = file.dataset<std::int32_t>("/triangles", 3);
    std::vector<mesh::Triangle> triangles(corners.size() / 3);
    for (std::size_t c = 0; c < corners.size(); ++c) triangles[c / 3][c % 3] = corners[c];
    Frame frame{};
    frame.index = static_cast<int>(i);
    frame.time_s = file.attribute<double>("time_s");
    frame.stage = file.text_attribute("stage");
    frame.pressure_Pa = file.attribute<double>("pressure_MPa") / kMPa_per_Pa;
    frame.swept_volume_m3 = file.attribute<double>("swept_volume_mm3") / kMm3_per_m3;
    frame.points_m = points_m, frame.flat_m = flat_m, frame.triangles = triangles;
    std::vector<std::vector<double>> values;
    values.reserve(std::size(kSheetFields));
    for (const SheetField& field : kSheetFields) {
      if (!file.holds(field.dataset)) continue;
      std::vector<double>& own = values.emplace_back();
      for (const float stored : file.dataset<float>(field.dataset))
        own.push_back(static_cast<double>(stored) / field.scale + field.offset);
      frame.*field.values = own;
    }
    sink(frame);
  }
}

void write_mould(ResultFolder& folder, const mesh::TriangleMesh& mould, std::span<const TriangleField> fields) {
  h5::Writer file;
  add_origin(file, "pellicle-mould");
  add_surface(file, mould.points_m, mould.triangles);
  XdmfGrid grid{"mould", "mould.h5", std::nullopt, mould.points_m.size(), mould.triangles.size(), {}};
  if (!fields.empty()) file.group("/triangle");
  for (const TriangleField& field : fields) {
    ensure(field.values.size() == mould.triangles.size(), "a field of the mould has a value for each triangle");
    const std::string dataset = "/triangle/" + field.name;
    file.dataset<float>(dataset, in_file_units(field.values, 0.0, 1.0));
    grid.fields.push_back({dataset, true, 1});
  }
  folder.write("mould.h5", file.finish());
  folder.write("mould.xdmf", xdmf_surface(grid));
}

void write_compared(ResultFolder& folder, std::span<const mesh::Vec3> points_m,
                    std::span<const mesh::Triangle> triangles, std::span<const mesh::Vec2> flat_m,
                    std::span<const NodeField> fields) {
  h5::Writer file;
  add_origin(file, "pellicle-compare");
  add_surface(file, points_m, triangles);
  file.group("/node");
  file.dataset<float>("/node/flat_mm", in_mm(flat_m), 2);
  XdmfGrid grid{"compare", "compare.h5", std::nullopt, points_m.size(), triangles.size(), {}};
  grid.fields.push_back({"/node/flat_mm", false, 2});
  for (const NodeField& field : fields) {
    ensure(field.values.size() == points_m.size(), "a field of the sheet has a value for each node");
    const std::string dataset = "/node/" + field.name;
    file.dataset<float>(dataset, in_file_units(field.values, 0.0, 1.0));
    grid.fields.push_back({dataset, false, 1});
  }
  folder.write("compare.h5", file.finish());
  folder.write("compare.xdmf", xdmf_surface(grid));
}

void write_defects(ResultFolder& folder, const mesh::TriangleMesh& surface, const mesh::Inspection& inspection,
                   const mesh::Visibility& visibility) {
  h5::Writer file;
  add_origin(file, "pellicle-defects");
  add_surface(file, surface.points_m, surface.triangles);
  file.group("/triangle");
  XdmfGrid grid{"defects", "defects.h5", std::nullopt, surface.points_m.size(), surface.triangles.size(), {}};
  const auto add = [&](const char* dataset, auto&& value_of) {
    std::vector<float> values(surface.triangles.size());
    for (std::size_t e = 0; e < values.size(); ++e) values[e] = static_cast<float>(value_of(e));
    file.dataset<float>(dataset, values);
    grid.fields.push_back({dataset, true, 1});
  };
  add(kCountField, [&](std::size_t e) { return std::popcount(inspection.marks[e]); });
  for (std::size_t k = 0; k < kDefectFields.size(); ++k)
    add(kDefectFields[k], [&](std::size_t e) { return inspection.marks[e] >> k & 1U; });
  add(kSightField, [&](std::size_t e) { return static_cast<int>(visibility.sight[e]); });
  add(kBodyField, [&](std::size_t e) { return inspection.body[e]; });
  folder.write("defects.h5", file.finish());
  folder.write("defects.xdmf", xdmf_surface(grid));
}

}  // namespace pellicle::results
