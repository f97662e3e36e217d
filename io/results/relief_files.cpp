// How does a relief look on disk? Datasets and units as in docs/result_format.md: f32 and i32, mm and MPa.
#include "io/results/relief_files.h"

#include "io/results/h5.h"
#include "io/results/xdmf.h"

#include <fmt/format.h>

#include <cmath>
#include <numbers>
#include <span>

namespace pellicle::results {
namespace {

constexpr int kFormatVersion = 1;  ///< grows when a reader of an older version would be misled
constexpr double kMm_per_m = 1e3, kMPa_per_Pa = 1e-6;
constexpr double kRibbon = 0.1;  ///< width over length of a strip that is drawn
constexpr int kSectors = 48;     ///< of a round profile that is drawn

constexpr const char* kMouldPoints = "/mould/points_mm";
constexpr const char* kSheetPoints = "/sheet/points_mm";
constexpr const char* kNodeGap = "/node/gap_mm";
constexpr const char* kNodePressure = "/node/contact_pressure_MPa";
constexpr const char* kNodeAir = "/node/air_pressure_MPa";

std::vector<float> scaled(const std::vector<double>& values, double scale) {
  std::vector<float> stored;
  stored.reserve(values.size());
  for (const double value : values) stored.push_back(static_cast<float>(scale * value));
  return stored;
}

/// The relief as a surface: rows of nx points. A map has its own rows; a strip is drawn as a ribbon, a round profile
/// turned about its axis.
class Drawn {
 public:
  explicit Drawn(const ReliefResult& relief) : relief_(relief), a_(relief.answer) {
    const auto* profile = std::get_if<imprint::ProfileRelief>(&relief.spec.source);
    is_profile_ = profile != nullptr;
    is_round_ = is_profile_ && profile->kind == mesh::Profile::Kind::kRound;
    rows_ = is_round_ ? kSectors + 1 : is_profile_ ? 2 : a_.ny;
  }

  std::size_t points() const { return static_cast<std::size_t>(rows_) * static_cast<std::size_t>(a_.nx); }
  std::size_t triangles() const {
    return 2 * static_cast<std::size_t>(rows_ - 1) * static_cast<std::size_t>(a_.nx - 1);
  }

  std::vector<float> points_mm(const std::vector<double>& height_m) const {
    std::vector<float> stored;
    stored.reserve(3 * points());
    for_each([&](int i, int row, std::size_t cell) {
      const mesh::Vec3 p = kMm_per_m * place_m(i, row, height_m[cell]);
      for (int k = 0; k < 3; ++k) stored.push_back(static_cast<float>(p[k]));
    });
    return stored;
  }

  std::vector<float> per_node(const std::vector<double>& values, double scale) const {
    std::vector<float> stored;
    stored.reserve(points());
    for_each([&](int, int, std::size_t cell) { stored.push_back(static_cast<float>(scale * values[cell])); });
    return stored;
  }

  /// Counter-clockwise seen against the normal of the patch.
  std::vector<std::int32_t> corners() const {
    std::vector<std::int32_t> stored;
    stored.reserve(3 * triangles());
    for (std::int32_t row = 0; row + 1 < rows_; ++row)
      for (std::int32_t i = 0; i + 1 < a_.nx; ++i) {
        const std::int32_t a = row * a_.nx + i, b = a + 1, c = b + a_.nx, d = a + a_.nx;
        stored.insert(stored.end(), {a, b, c, a, c, d});
      }
    return stored;
  }

 private:
  template <class What>
  void for_each(const What& what) const {
    for (int row = 0; row < rows_; ++row)
      for (int i = 0; i < a_.nx; ++i)
        what(i, row,
             static_cast<std::size_t>(is_profile_ ? 0 : row) * static_cast<std::size_t>(a_.nx) +
                 static_cast<std::size_t>(i));
  }

  mesh::Vec3 place_m(int i, int row, double height_m) const {
    const double x = a_.x_m[static_cast<std::size_t>(i)];
    if (is_round_) {
      const double angle = 2.0 * std::numbers::pi * row / kSectors;
      return relief_.place_m(x * std::cos(angle), x * std::sin(angle), height_m);
    }
    if (is_profile_) return relief_.place_m(x, row * kRibbon * (a_.x_m.back() - a_.x_m.front()), height_m);
    return relief_.place_m(x, a_.y_m[static_cast<std::size_t>(row)], height_m);
  }

  const ReliefResult& relief_;
  const imprint::ReliefAnswer& a_;
  bool is_profile_, is_round_;
  int rows_;
};

const char* source_word(const imprint::ReliefSource& source) {
  constexpr const char* kWords[] = {"mould", "text", "braille", "image", "profile"};
  static_assert(std::size(kWords) == std::variant_size_v<imprint::ReliefSource>);
  return kWords[source.index()];
}

double worst_share(const imprint::ReliefAnswer& a) {
  double worst = imprint::kNotRun;
  for (const imprint::StrokeAnswer& s : a.strokes) worst = std::fmin(worst, s.share);
  return worst;
}

void check_sizes(const imprint::ReliefAnswer& a) {
  const auto cells = static_cast<std::size_t>(a.nx) * static_cast<std::size_t>(a.ny);
  ensure(a.nx > 1 && a.ny > 0 && a.x_m.size() == static_cast<std::size_t>(a.nx) &&
             a.y_m.size() == static_cast<std::size_t>(a.ny),
         "an answer has a place for each row and column");
  for (const auto* field : {&a.mould_height_m, &a.sheet_height_m, &a.gap_m, &a.contact_pressure_Pa})
    ensure(field->size() == cells, "a field of a relief has a value for each cell");
  ensure(a.air_pressure_Pa.empty() || a.air_pressure_Pa.size() == cells, "air shut in has a value for each cell");
}

void add_attribute(h5::Writer& file, const ReliefAttribute& attribute) {
  if (const auto* flag = std::get_if<bool>(&attribute.value))
    file.attribute(attribute.name, static_cast<std::int8_t>(*flag ? 1 : 0));
  else if (const auto* text = std::get_if<std::string>(&attribute.value))
    file.attribute(attribute.name, *text);
  else
    file.attribute(attribute.name, std::get<double>(attribute.value));
}

std::string h5_file(const ReliefResult& relief, const Drawn& drawn) {
  const imprint::ReliefAnswer& a = relief.answer;
  h5::Writer file;
  file.attribute("format", std::string("pellicle-relief"));
  file.attribute("format_version", std::int32_t{kFormatVersion});
  file.attribute("program_version", std::string(PELLICLE_VERSION));
  for (const ReliefAttribute& attribute : relief_attributes(relief)) add_attribute(file, attribute);
  file.dataset<float>("/x_mm", scaled(a.x_m, kMm_per_m));
  file.dataset<float>("/y_mm", scaled(a.y_m, kMm_per_m));
  const auto columns = static_cast<std::size_t>(a.nx);
  file.dataset<float>("/mould_height_mm", scaled(a.mould_height_m, kMm_per_m), columns);
  file.dataset<float>("/sheet_height_mm", scaled(a.sheet_height_m, kMm_per_m), columns);
  file.dataset<float>("/gap_mm", scaled(a.gap_m, kMm_per_m), columns);
  file.dataset<float>("/contact_pressure_MPa", scaled(a.contact_pressure_Pa, kMPa_per_Pa), columns);
  if (!a.air_pressure_Pa.empty())
    file.dataset<float>("/air_pressure_MPa", scaled(a.air_pressure_Pa, kMPa_per_Pa), columns);
  for (const char* group : {"/mould", "/sheet", "/node"}) file.group(group);
  file.dataset<float>(kMouldPoints, drawn.points_mm(a.mould_height_m), 3);
  file.dataset<float>(kSheetPoints, drawn.points_mm(a.sheet_height_m), 3);
  file.dataset<std::int32_t>("/triangles", drawn.corners(), 3);
  file.dataset<float>(kNodeGap, drawn.per_node(a.gap_m, kMm_per_m));
  file.dataset<float>(kNodePressure, drawn.per_node(a.contact_pressure_Pa, kMPa_per_Pa));
  if (!a.air_pressure_Pa.empty()) file.dataset<float>(kNodeAir, drawn.per_node(a.air_pressure_Pa, kMPa_per_Pa));
  return file.finish();
}

}  // namespace

std::vector<ReliefAttribute> relief_attributes(const ReliefResult& relief) {
  const imprint::ReliefAnswer& a = relief.answer;
  const imprint::LocalState& s = a.state;
  return {{"name", a.name},
          {"source", std::string(source_word(relief.spec.source))},
          {"state", std::string(relief.formed ? "formed" : "given")},
          {"pressure_MPa", kMPa_per_Pa * s.pressure_Pa},
          {"shear_modulus_MPa", kMPa_per_Pa * s.shear_modulus_Pa},
          {"thickness_mm", kMm_per_m * s.thickness_m},
          {"stretch_x", s.stretch_x},
          {"stretch_y", s.stretch_y},
          {"skin_thickness_mm", kMm_per_m * s.skin_thickness_m},
          {"skin_shear_modulus_MPa", kMPa_per_Pa * s.skin_shear_modulus_Pa},
          {"touching_share", relief.formed ? relief.formed->touching_share : imprint::kNotRun},
          {"own_depth_mm", kMm_per_m * a.own_depth_m},
          {"capture", a.capture},
          {"capture_stick", a.capture_stick},
          {"capture_slip", a.capture_slip},
          {"worst_stroke_share", worst_share(a)},
          {"depth_mm", kMm_per_m * a.depth.answer_m},
          {"depth_stick_mm", kMm_per_m * a.depth.stick_m},
          {"depth_slip_mm", kMm_per_m * a.depth.slip_m},
          {"depth_layer_mm", kMm_per_m * a.depth.layer_m},
          {"model", std::string(imprint::model_word(a.depth.model))},
          {"valid", a.depth.valid},
          {"gap_error_mm", kMm_per_m * a.gap_error_m},
          {"narrowest_formed_mm", kMm_per_m * a.narrowest_formed_m},
          {"closed_hollows", static_cast<double>(a.hollows.size())},
          {"depth_lost_to_air_mm", kMm_per_m * a.depth_lost_to_air_m}};
}

std::string relief_file(const std::string& name) { return fmt::format("relief_{}.h5", name); }

void write_relief(ResultFolder& folder, const ReliefResult& relief) {
  check_sizes(relief.answer);
  const Drawn drawn(relief);
  const std::string file = relief_file(relief.answer.name);
  folder.write(file, h5_file(relief, drawn));
  std::vector<XdmfField> fields{{kNodeGap, false, 1}, {kNodePressure, false, 1}};
  if (!relief.answer.air_pressure_Pa.empty()) fields.push_back({kNodeAir, false, 1});
  const std::vector<XdmfGrid> grids{
      {"mould", file, std::nullopt, drawn.points(), drawn.triangles(), fields, kMouldPoints},
      {"sheet", file, std::nullopt, drawn.points(), drawn.triangles(), fields, kSheetPoints}};
  folder.write(fmt::format("relief_{}.xdmf", relief.answer.name), xdmf_group(relief.answer.name, grids));
}

}  // namespace pellicle::results
