// Is the card that a calibration writes one that the program reads?
#include "io/case/cards.h"
#include "io/commands/commands.h"
#include "io/results/result_folder.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <vector>

namespace pellicle::commands {
namespace {

namespace fs = std::filesystem;

/// All numbers of a card but the measured modulus, of the parts that are there.
std::vector<const cases::CardNumber*> taken_over(const cases::PolymerCard& card) {
  std::vector<const cases::CardNumber*> numbers{&card.density, &card.forming_temperature, &card.set_temperature};
  for (const auto* number : {&card.stretch_limit, &card.conductivity, &card.specific_heat})
    if (*number) numbers.push_back(&**number);
  if (const auto& s = card.solid)
    for (const auto* number : {&s->elastic_modulus, &s->poisson, &s->expansion, &s->yield_strain, &s->shrinkage})
      numbers.push_back(number);
  if (const auto& r = card.relaxation) {
    for (const auto* number : {&r->glass_transition, &r->shift_c1, &r->shift_c2, &r->network, &r->glass.modulus})
      numbers.push_back(number);
    for (const cases::ModeCard& mode : r->modes) numbers.push_back(&mode.modulus);
  }
  return numbers;
}

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
  const auto mine = taken_over(card), known = taken_over(petg);
  ASSERT_EQ(mine.size(), known.size());
  EXPECT_EQ(known.size(), 4U + 2U + 5U + 5U + petg.relaxation->modes.size());
  for (std::size_t i = 0; i < known.size(); ++i) {
    SCOPED_TRACE(known[i]->name);
    EXPECT_EQ(mine[i]->name, known[i]->name);
    EXPECT_NEAR(mine[i]->value.low, known[i]->value.low, 1e-9 * known[i]->value.low);  // six digits hold them all
    EXPECT_NEAR(mine[i]->value.likely, known[i]->value.likely, 1e-9 * known[i]->value.likely);
    EXPECT_NEAR(mine[i]->value.high, known[i]->value.high, 1e-9 * known[i]->value.high);
    EXPECT_EQ(mine[i]->mark, known[i]->mark);
    EXPECT_EQ(mine[i]->source, known[i]->source);
  }
  const cases::RelaxationCard &r = *card.relaxation, &of_petg = *petg.relaxation;
  EXPECT_DOUBLE_EQ(r.shift_temperature_K, of_petg.shift_temperature_K);
  EXPECT_DOUBLE_EQ(r.network_temperature_K, of_petg.network_temperature_K);
  EXPECT_EQ(r.glass.time_s, of_petg.glass.time_s);
  for (std::size_t k = 0; k < r.modes.size(); ++k) EXPECT_EQ(r.modes[k].time_s, of_petg.modes[k].time_s);
}

}  // namespace
}  // namespace pellicle::commands
