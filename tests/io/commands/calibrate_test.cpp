// Is the card that a calibration writes one that the program reads?
#include "io/case/cards.h"
#include "io/commands/commands.h"
#include "io/results/result_folder.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

namespace pellicle::commands {
namespace {

namespace fs = std::filesystem;

TEST(Calibrate, CardIsReadLikeThoseOfTheProgram) {
  std::string name = (fs::temp_directory_path() / "pellicle-card-XXXXXX").string();
  ASSERT_NE(::mkdtemp(name.data()), nullptr);
  const fs::path root = name;
  std::ofstream(root / "grooves.csv")
      << "width_mm,depth_mm,edge_radius_mm,pressure_bar\n0.8,0.2,0.05,3\n1,0.29,0.05,3\n";
  CalibrateOptions options;
  options.case_path = fs::path(PELLICLE_SOURCE_DIR) / "cases/groove-coupon";
  options.measured = root / "grooves.csv";
  options.out = root / "card";
  options.json = options.quiet = true;
  EXPECT_EQ(calibrate_command(options), 0);
  const auto cards = cases::read_polymer_cards(results::read_file(root / "card/card.toml"), "card.toml");
  fs::remove_all(root);
  ASSERT_EQ(cards.size(), 1U);
  const cases::PolymerCard &card = cards.front(), &petg = *cases::find_polymer("petg");
  EXPECT_EQ(card.name, "petg-measured");
  EXPECT_EQ(card.modulus_temperature_K, 140.0 + 273.15);
  EXPECT_GT(card.shear_modulus.value.low, 0.0);
  EXPECT_LT(card.shear_modulus.value.low, card.shear_modulus.value.likely);
  EXPECT_GT(card.shear_modulus.value.high, card.shear_modulus.value.likely);
  for (const auto& [mine, known] : {std::pair{&card.density, &petg.density},
                                    {&card.forming_temperature, &petg.forming_temperature},
                                    {&card.set_temperature, &petg.set_temperature},
                                    {&*card.stretch_limit, &*petg.stretch_limit}}) {
    EXPECT_NEAR(mine->value.low, known->value.low, 1e-9 * known->value.low);
    EXPECT_NEAR(mine->value.likely, known->value.likely, 1e-9 * known->value.likely);
    EXPECT_NEAR(mine->value.high, known->value.high, 1e-9 * known->value.high);
    EXPECT_EQ(mine->mark, known->mark);
    EXPECT_EQ(mine->source, known->source);
  }
}

}  // namespace
}  // namespace pellicle::commands
