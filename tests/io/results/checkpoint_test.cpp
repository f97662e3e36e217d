// Does a checkpoint come back bit for bit? Awkward numbers in every member that has one.
#include "io/results/checkpoint.h"

#include "mesh/check.h"
#include "tests/io/results/made_up.h"

#include <bit>

namespace pellicle::results {
namespace {

class Checkpoints : public Scratch {
 protected:
  static Checkpoint awkward() {
    Checkpoint c;
    c.case_text = std::string("title = \"Gurke \xC3\xA4\"\r\n\0 end", 24);
    c.polymer_cards = std::string(100000, 'p');
    c.resin_cards = "";
    c.own_card = std::string("[mine]\n\0\xC3\xA4", 10);
    const MadeUp shape(3, 1e-3);
    c.mould = {shape.points_m, shape.triangles};
    forming::Snapshot& s = c.snapshot;
    s.step = (std::int64_t{1} << 40) + 1;
    s.time_s = 1.0 / 3.0;
    s.dt_s = 5e-324;  // the smallest double there is
    s.stage = 2;
    s.mass_factor = 1e308;
    s.gas_kg = -0.0;
    s.clamp_z_m = std::nextafter(0.025, 1.0);
    s.ledger.gas_J = 0.1;
    s.ledger.largest_work_J = 1.0 / 7.0;
    s.flat_m = shape.flat_m;
    s.triangles = shape.triangles;
    for (std::size_t i = 0; i < shape.points_m.size(); ++i) {
      const double f = 1.0 / (3.0 + static_cast<double>(i));
      s.x_m.push_back(shape.points_m[i] * f);
      s.v_m_s.emplace_back(f, -f, f * f);
      forming::Touch touch{};
      touch.anchor_m = s.x_m.back();
      touch.first_s = i % 2 == 0 ? std::numeric_limits<double>::quiet_NaN() : f;
      touch.pressure_since_Pa = 1e5 * f;
      touch.contact_Pa = 2e5 * f;
      touch.anchored = static_cast<std::int8_t>(i % 2);
      touch.touching = static_cast<std::int8_t>(i % 3 == 0);
      touch.pressed = static_cast<std::int8_t>(i % 5 == 0);
      s.touch.push_back(touch);
      s.on_rim.push_back(static_cast<char>(i % 4 == 0));
    }
    s.heat = sheet::hot_sheet(
        {0.2, 1800.0, 1100.0}, 9, s.flat_m, 1e-3,
        [](const mesh::Vec2& flat_m) {
          return sheet::FaceTemperatures{400.0 + flat_m.x() / 3.0, 410.0 + flat_m.y() / 7.0};
        },
        298.15);
    const std::vector<double> thickness_m(s.x_m.size(), 0.7e-3), touched_s(s.x_m.size(), 1.0 / 300.0),
        effusivity(s.x_m.size(), 700.0);
    sheet::exchange_heat(*s.heat, {0.01, thickness_m, touched_s, effusivity, 1000.0, {60.0, 293.15}, {10.0, 293.15}});
    s.heat_s = 0.01;
    const double none = std::numeric_limits<double>::quiet_NaN();
    s.reports = {{"", 0.0, 1.0 / 3.0, 77, 1e5, -0.0, 1e4, 2.0, 0.1, 85.0, 0.01, 0.5, none, none, none, none, true}};
    mesh::HeightMap map = mesh::flat_map(3, 2, 1e-5, true);
    map.at(2, 1) = -1.0 / 3.0;
    const imprint::Label label{std::string("\xC3\x84 (2)"), {0.0, 0.1, 1.0 / 7.0, 1.0}};
    c.reliefs = {{map, {label, {"", {}}}},
                 {},
                 {mesh::Profile{mesh::Profile::Kind::kRound, {0.0, 0.1, 0.1}, {0.0, -0.0, 1.0 / 3.0}}, {}}};
    c.warnings = {"", "a,\nb"};
    c.frames = 3;
    c.history_rows = 41;
    c.seconds = 100.0 / 3.0;
    s.memory.emplace();
    s.memory->shares = {0.25, 0.75};
    s.memory->layer_K = {400.0 / 3.0, 410.0};
    s.memory->ahead_s = 0.1;
    const sheet::Rest rest{1.0 / 3.0, 0.1, 1.0 / 7.0, 1.0 / 27.0, 1e-9};
    s.memory->layers.assign(2, sheet::rested_state<double>({&rest, 1}, 3));
    s.memory->layers[1].lanes[2].n33[7] = 1.0 / 3.0;
    s.memory_s = 0.02, s.memory_step = 50, s.unseen_strain_J = -1.0 / 3.0;
    s.pressed_s = {0.1, 0.2}, s.pressed_Pa = {1.0 / 3.0, 2.0};
    s.hung_J = 1.0 / 7.0;
    c.heater_map = sheet::TemperatureMap{{-0.1 / 3.0, 0.02}, 1e-3 / 3.0, 2, 2, {400.0 / 3.0, 410.0, 420.0, 430.0}};
    return c;
  }
  static bool same(double a, double b) { return std::bit_cast<std::uint64_t>(a) == std::bit_cast<std::uint64_t>(b); }
  template <int N>
  static bool same(const std::vector<Eigen::Matrix<double, N, 1>>& a,
                   const std::vector<Eigen::Matrix<double, N, 1>>& b) {
    if (a.size() != b.size()) return false;
    for (std::size_t i = 0; i < a.size(); ++i) {
      for (int k = 0; k < N; ++k) {
        if (!same(a[i][k], b[i][k])) return false;
      }
    }
    return true;
  }
};

TEST_F(Checkpoints, ComeBackBitForBit) {
  const Checkpoint saved = awkward();
  ResultFolder folder(root_ / "out", false, {});
  write_checkpoint(folder, saved);
  const Checkpoint read = read_checkpoint(root_ / "out" / "checkpoint.h5");
  EXPECT_EQ(read.case_text, saved.case_text);
  EXPECT_EQ(read.polymer_cards, saved.polymer_cards);
  EXPECT_EQ(read.resin_cards, saved.resin_cards);
  EXPECT_EQ(read.own_card, saved.own_card);
  ASSERT_TRUE(read.mould.has_value());
  EXPECT_TRUE(same(read.mould->points_m, saved.mould->points_m));
  EXPECT_EQ(read.mould->triangles, saved.mould->triangles);
  const forming::Snapshot &r = read.snapshot, &s = saved.snapshot;
  EXPECT_EQ(r.step, s.step);
  EXPECT_EQ(r.stage, s.stage);
  EXPECT_TRUE(same(r.time_s, s.time_s) && same(r.dt_s, s.dt_s) && same(r.mass_factor, s.mass_factor) &&
              same(r.gas_kg, s.gas_kg) && same(r.clamp_z_m, s.clamp_z_m));
  EXPECT_TRUE(same(r.ledger.gas_J, s.ledger.gas_J) && same(r.ledger.largest_work_J, s.ledger.largest_work_J));
  EXPECT_TRUE(same(r.x_m, s.x_m) && same(r.v_m_s, s.v_m_s) && same(r.flat_m, s.flat_m));
  EXPECT_EQ(r.triangles, s.triangles);
  ASSERT_EQ(r.reports.size(), 1U);
  EXPECT_TRUE(same(r.reports[0].end_s, s.reports[0].end_s) && same(r.reports[0].peak_s, s.reports[0].peak_s));
  EXPECT_TRUE(r.reports[0].reached);
  ASSERT_EQ(read.reliefs.size(), 3U);
  const auto& map = std::get<mesh::HeightMap>(*read.reliefs[0].shape);
  EXPECT_EQ(map.height_m, std::get<mesh::HeightMap>(*saved.reliefs[0].shape).height_m);
  EXPECT_TRUE(map.nx == 3 && map.ny == 2 && map.spacing_m == 1e-5 && map.periodic);
  ASSERT_EQ(read.reliefs[0].labels.size(), 2U);
  EXPECT_EQ(read.reliefs[0].labels[0].name, saved.reliefs[0].labels[0].name);
  EXPECT_EQ(read.reliefs[0].labels[0].box_m, saved.reliefs[0].labels[0].box_m);
  EXPECT_FALSE(read.reliefs[1].shape.has_value());
  const auto& profile = std::get<mesh::Profile>(*read.reliefs[2].shape);
  EXPECT_EQ(profile.kind, mesh::Profile::Kind::kRound);
  EXPECT_EQ(profile.z_m, std::get<mesh::Profile>(*saved.reliefs[2].shape).z_m);
  EXPECT_EQ(read.warnings, saved.warnings);
  EXPECT_TRUE(read.frames == 3 && read.history_rows == 41);
  EXPECT_TRUE(same(read.seconds, saved.seconds));
  ASSERT_TRUE(r.heat.has_value());
  EXPECT_TRUE(same(r.heat_s, s.heat_s) && same(r.heat->flat_thickness_m, s.heat->flat_thickness_m));
  EXPECT_EQ(r.heat->count, s.heat->count);
  EXPECT_EQ(r.heat->met_mould, s.heat->met_mould);
  EXPECT_EQ(r.heat->part_step_s, s.heat->part_step_s);
  ASSERT_EQ(r.heat->sheet_K.size(), s.heat->sheet_K.size());
  for (std::size_t i = 0; i < s.heat->sheet_K.size(); ++i)
    for (int lane = 0; lane < sheet::kHeatLanes; ++lane)
      EXPECT_TRUE(same(r.heat->sheet_K[i][lane], s.heat->sheet_K[i][lane]));
  ASSERT_TRUE(r.memory.has_value() && r.memory->layers.size() == 2U);
  EXPECT_TRUE(same(r.memory->layers[1].of(0, 2).n33[7], 1.0 / 3.0) && r.memory->layers[0].modes == 3);
  EXPECT_TRUE(r.memory->shares == s.memory->shares && r.memory->layer_K == s.memory->layer_K);
  EXPECT_TRUE(same(r.unseen_strain_J, s.unseen_strain_J) && r.pressed_Pa == s.pressed_Pa);
  EXPECT_TRUE(same(r.hung_J, s.hung_J));
  ASSERT_TRUE(read.heater_map.has_value());
  EXPECT_TRUE(read.heater_map->at_K == saved.heater_map->at_K && read.heater_map->rows == 2);
  EXPECT_TRUE(read.heater_map->corner_m == saved.heater_map->corner_m);
  EXPECT_TRUE(same(read.heater_map->spacing_m, saved.heater_map->spacing_m));
  EXPECT_EQ(r.on_rim, s.on_rim);
  ASSERT_EQ(r.touch.size(), s.touch.size());
  for (std::size_t i = 0; i < s.touch.size(); ++i) {
    EXPECT_TRUE(same(r.touch[i].first_s, s.touch[i].first_s) && same(r.touch[i].contact_Pa, s.touch[i].contact_Pa));
    EXPECT_TRUE(same(r.touch[i].pressure_since_Pa, s.touch[i].pressure_since_Pa));
    EXPECT_EQ(r.touch[i].anchor_m, s.touch[i].anchor_m);
    EXPECT_EQ(r.touch[i].anchored, s.touch[i].anchored);
    EXPECT_EQ(r.touch[i].touching, s.touch[i].touching);
    EXPECT_EQ(r.touch[i].pressed, s.touch[i].pressed);
  }
}

/// Members this test does not name are caught here: a second writing of what was read gives the same file.
TEST_F(Checkpoints, WrittenAgainGiveTheSameBytes) {
  ResultFolder folder(root_ / "out", false, {}), again(root_ / "again", false, {});
  write_checkpoint(folder, awkward());
  write_checkpoint(again, read_checkpoint(root_ / "out" / "checkpoint.h5"));
  const std::string first = text_of(root_ / "out" / "checkpoint.h5");
  EXPECT_GT(first.size(), 1000U);
  EXPECT_TRUE(first == text_of(root_ / "again" / "checkpoint.h5"));
}

TEST_F(Checkpoints, WithoutAMouldAndWithoutASheet) {
  ResultFolder folder(root_ / "out", false, {});
  write_checkpoint(folder, {});
  const Checkpoint read = read_checkpoint(root_ / "out" / "checkpoint.h5");
  EXPECT_FALSE(read.mould.has_value());
  EXPECT_TRUE(read.snapshot.x_m.empty());
  EXPECT_FALSE(read.snapshot.heat.has_value());
  EXPECT_FALSE(read.heater_map.has_value());
}

TEST_F(Checkpoints, DamagedOnesAreToldNotRead) {
  ResultFolder folder(root_ / "out", false, {});
  write_checkpoint(folder, awkward());
  const std::string whole = text_of(root_ / "out" / "checkpoint.h5");
  int refused = 0;
  for (const std::string& bytes :
       {std::string(), whole.substr(0, 100), whole.substr(0, whole.size() / 2), std::string(5000, 'x')}) {
    put(root_ / "damaged.h5", bytes);
    try {
      read_checkpoint(root_ / "damaged.h5");
    } catch (const Error& error) {
      EXPECT_NE(std::string(error.what()).find("damaged.h5"), std::string::npos);
      ++refused;
    }
  }
  EXPECT_EQ(refused, 4);
  EXPECT_THROW(read_checkpoint(root_ / "missing.h5"), Error);
}

}  // namespace
}  // namespace pellicle::results
