// Is the free sheet right? Inflated discs against a boundary-value solution, driven by volume and by gas.
//
// tests/data/ref_circular_membrane_*.csv: own computation (axisymmetric equations, shooting, relative tolerance 1e-9).
#include "mesh/sheet_mesher.h"
#include "solver/forming/forming.h"
#include "solver/reference/meridian.h"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

namespace pellicle {
namespace {

constexpr double kRadius_m = 0.05, kThickness_m = 1e-3, kModulus_Pa = 0.3e6;

std::vector<std::vector<double>> read_csv(const std::string& name) {
  std::ifstream file(std::string(PELLICLE_SOURCE_DIR) + "/tests/data/" + name);
  std::vector<std::vector<double>> rows;
  std::string line;
  while (std::getline(file, line)) {
    if (line.empty() || line[0] == '#' || std::isalpha(static_cast<unsigned char>(line[0]))) continue;
    std::vector<double> row;
    std::stringstream cells(line);
    for (std::string cell; std::getline(cells, cell, ',');) row.push_back(cell.empty() ? NAN : std::stod(cell));
    rows.push_back(row);
  }
  return rows;
}

/// alpha = 0 row of the inflation table: lambda, P a/(mu h0), height/a, ..., volume/a^3 in the last column.
std::vector<double> inflation_row(double lambda) {
  for (const auto& row : read_csv("ref_circular_membrane_inflation.csv"))
    if (row[0] == 0.0 && std::fabs(row[1] - lambda) < 1e-9) return row;
  ADD_FAILURE() << "no row for stretch " << lambda;
  return std::vector<double>(9, NAN);
}

FormingSpec free_disc(double element_m) {
  FormingSpec spec;
  spec.sheet.law = sheet::NeoHookean{kModulus_Pa};
  spec.sheet.density_kg_m3 = 1200.0;
  spec.sheet.thickness_m = kThickness_m;
  spec.sheet.outline = {mesh::Disc{2.0 * kRadius_m}, {0.0, 0.0}};
  spec.sheet.height_m = 0.0;
  spec.sheet.element_m = spec.sheet.rim_element_m = element_m;
  spec.numerics.frames = 1;
  return spec;
}

mesh::SheetMesh mesh_of(const FormingSpec& spec) {
  return mesh::mesh_sheet(spec.sheet.outline, {spec.sheet.element_m, spec.sheet.rim_element_m, {}});
}

double height_over_a(const forming::FormingResult& r) {
  double deepest = 0.0;
  for (const auto& p : r.points_m) deepest = std::max(deepest, r.clamp_z_m - p.z());
  return deepest / kRadius_m;
}

// Volume drive up the branch, over the pressure maximum (pole stretch about 2.2) and down the other side.
TEST(FreeDisc, VolumeDriveFollowsTheBoundaryValueSolution) {
  FormingSpec spec = free_disc(kRadius_m / 20.0);
  const std::vector<double> stretches{1.2, 1.5, 2.0, 3.0};
  for (const double lambda : stretches)
    spec.stages.push_back({"to " + std::to_string(lambda),
                           1.0,
                           VolumeDrive{inflation_row(lambda).back() * std::pow(kRadius_m, 3.0)},
                           {}});
  const mould::RigidMould nothing(std::nullopt, false);
  forming::Forming forming(spec, nothing, mesh_of(spec));
  std::vector<forming::FormingResult> ends;
  forming::FormingSinks sinks;
  sinks.frame = [&](int index, const forming::FormingResult& r) {
    if (index > 0) ends.push_back(r);
  };
  ASSERT_TRUE(forming.run(sinks));
  ASSERT_EQ(ends.size(), stretches.size());

  const auto profiles = read_csv("ref_circular_membrane_profiles.csv");
  std::vector<double> pressures;
  for (std::size_t k = 0; k < ends.size(); ++k) {
    const auto row = inflation_row(stretches[k]);
    // 20 elements on the radius: the polygon and chord errors are of second order, about 0.1 % here.
    EXPECT_NEAR(height_over_a(ends[k]), row[3], 0.005 * row[3]) << "stretch " << stretches[k];
    // Mesh, and damping at the pace of a volume drive (0.1 %).
    pressures.push_back(ends[k].pressure_Pa * kRadius_m / (kModulus_Pa * kThickness_m));
    EXPECT_NEAR(pressures.back(), row[2], 0.01 * row[2]) << "stretch " << stretches[k];

    double square = 0.0;
    int nodes = 0;
    for (std::size_t i = 0; i < ends[k].flat_m.size(); ++i) {
      const double R = ends[k].flat_m[i].norm() / kRadius_m;
      double before_R = NAN, before_h = NAN;
      for (const auto& p : profiles) {
        if (p[0] != 0.0 || std::fabs(p[1] - stretches[k]) > 1e-9) continue;
        if (R <= p[2] && !std::isnan(before_R)) {
          const double h = before_h + (p[5] - before_h) * (R - before_R) / (p[2] - before_R);
          square += std::pow(ends[k].thickness_m[i] / kThickness_m / h - 1.0, 2.0);
          ++nodes;
          break;
        }
        before_R = p[2], before_h = p[5];
      }
    }
    ASSERT_GT(nodes, 500);
    EXPECT_LT(std::sqrt(square / nodes), 0.01) << "rms thickness error at stretch " << stretches[k];
  }
  EXPECT_GT(pressures[2], pressures[3]) << "the last stretch is on the falling branch";
  EXPECT_LT(forming.worst_balance(), 0.02);
}

// Gas that could press harder than the free sheet can bear: the limit pressure of the neo-Hookean disc is
// 1.87 mu h0/a (same table). The sheet passes it at the pace set, without a snap, and its pressure falls behind it.
TEST(FreeDisc, GasDrivePassesTheLimitPressure) {
  FormingSpec spec = free_disc(kRadius_m / 20.0);
  spec.stages.push_back({"gas", 1.0, GasDrive{.supply_Pa = 0.3e5, .orifice_m = 3e-3, .chamber_m3 = 0.3e-3}, {}});
  const mould::RigidMould nothing(std::nullopt, false);
  forming::Forming forming(spec, nothing, mesh_of(spec));
  double highest = 0.0, last = 0.0, volume = 0.0, loudest = 0.0;
  forming::FormingSinks sinks;
  sinks.history = [&](const forming::HistoryRow& row) {
    last = row.pressure_Pa * kRadius_m / (kModulus_Pa * kThickness_m);
    highest = std::max(highest, last);
    volume = row.swept_volume_m3 / std::pow(kRadius_m, 3.0);
    if (row.time_s > 0.3) loudest = std::max(loudest, row.kinetic_J / row.strain_J);
  };
  ASSERT_TRUE(forming.run(sinks));
  // At the pace of a travel (85 R/c) mass damping raises the pressure by up to about 1 %.
  EXPECT_NEAR(highest, 1.87, 0.03 * 1.87);
  EXPECT_GT(volume, 2.6) << "past the maximum, which lies at about 2.6 a^3";
  EXPECT_LT(last, 0.995 * highest) << "on the falling branch";
  EXPECT_LT(loudest, 0.03) << "kinetic over strain energy stays quiet: no snap";
  EXPECT_LT(forming.worst_balance(), 0.02);
}

// A law that stiffens a hundredfold on the way: the stable step of the flat sheet is far too long at the end. It must
// be found anew as the sheet stretches, or the run blows up; the answer stays that of the boundary-value solution.
TEST(FreeDisc, TimeStepFollowsASheetThatStiffens) {
  const reference::Meridian m =
      reference::inflated_disc({reference::yeoh(0.15e6, 0.0, 0.05e6), kRadius_m, kThickness_m}, 2.2);
  FormingSpec spec = free_disc(kRadius_m / 12.0);
  spec.stages = {{"blow", 1.0, VolumeDrive{m.volume_m3}, {}}};
  const mould::RigidMould nothing(std::nullopt, false);
  forming::Forming soft(spec, nothing, mesh_of(spec));
  ASSERT_TRUE(soft.run({}));
  spec.sheet.law = sheet::Yeoh{0.15e6, 0.0, 0.05e6};
  forming::Forming stiff(spec, nothing, mesh_of(spec));
  ASSERT_TRUE(stiff.run({}));
  EXPECT_LT(stiff.worst_balance(), 1e-3);
  EXPECT_GT(stiff.stages().back().steps, 2 * soft.stages().back().steps) << "the step did not shrink";
  // 12 elements on the radius: 0.4 % of height and 1 % of pressure by the mesh.
  EXPECT_NEAR(height_over_a(stiff.result()), m.height_m / kRadius_m, 0.005 * m.height_m / kRadius_m);
  EXPECT_NEAR(stiff.result().pressure_Pa, m.pressure_Pa, 0.02 * m.pressure_Pa);
}

}  // namespace
}  // namespace pellicle
