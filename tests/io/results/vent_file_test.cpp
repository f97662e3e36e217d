// Do the files of vents say where each is, how wide and whose, and is the index one that names what is there?
#include "io/results/vent_file.h"

#include "io/results/h5.h"
#include "tests/io/results/made_up.h"

#include <filesystem>

namespace pellicle::results {
namespace {

class VentFile : public Scratch {};

TEST_F(VentFile, PlacesAndDiscsOfTheirDiameter) {
  ResultFolder folder(root_ / "out", false, {});
  write_vents(folder, {{{12e-3, 3e-3, 4e-3}, 0.4e-3, VentPoint::Origin::kCase},
                       {{0.0, -1e-3, 5e-3}, 0.5e-3, VentPoint::Origin::kAdvised}});
  const h5::Reader file(read_file(root_ / "out" / "vents.h5"), "vents.h5");
  EXPECT_EQ(file.text_attribute("format"), "pellicle-vents");
  EXPECT_EQ(file.dataset<float>("/place_mm", 3), (std::vector<float>{12.0F, 3.0F, 4.0F, 0.0F, -1.0F, 5.0F}));
  EXPECT_EQ(file.dataset<float>("/diameter_mm"), (std::vector<float>{0.4F, 0.5F}));
  EXPECT_EQ(file.dataset<std::int32_t>("/origin"), (std::vector<std::int32_t>{0, 2}));
  const auto points_mm = file.dataset<float>("/points_mm", 3);
  const auto corners = file.dataset<std::int32_t>("/triangles", 3);
  ASSERT_EQ(points_mm.size(), 3U * 26U);
  ASSERT_EQ(corners.size(), 3U * 24U);
  // Each disc is a regular polygon of twelve corners around its place: area 3 r^2.
  double area_mm2 = 0.0;
  for (std::size_t t = 0; t < 12; ++t) {
    const auto at = [&](std::size_t k, std::size_t axis) {
      return static_cast<double>(points_mm[3 * static_cast<std::size_t>(corners[3 * t + k]) + axis]);
    };
    area_mm2 += 0.5 * ((at(1, 0) - at(0, 0)) * (at(2, 1) - at(0, 1)) - (at(1, 1) - at(0, 1)) * (at(2, 0) - at(0, 0)));
  }
  EXPECT_NEAR(area_mm2, 3.0 * 0.2 * 0.2, 1e-5);  // f32 at 12 mm: 1e-6 mm a corner
  EXPECT_EQ(file.dataset<float>("/triangle/origin")[23], 2.0F);
  const std::string index = read_file(root_ / "out" / "vents.xdmf");
  EXPECT_NE(index.find("diameter (mm) per triangle"), std::string::npos);
  EXPECT_NE(index.find("vents.h5:/triangles"), std::string::npos);
}

TEST_F(VentFile, WithoutVentsThereIsNone) {
  ResultFolder folder(root_ / "out", false, {});
  write_vents(folder, {});
  EXPECT_FALSE(std::filesystem::exists(root_ / "out" / "vents.h5"));
}

}  // namespace
}  // namespace pellicle::results
