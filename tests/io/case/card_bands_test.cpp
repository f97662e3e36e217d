// Do the bands of a card's relaxation make laws, one for each end of each number?
#include "io/case/card_bands.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>

namespace pellicle::cases {
namespace {

sheet::HotLaw as_it_is(const RelaxationCard& card) {
  const CardLaw law = law_of(card);
  return {law.network, law.relaxation};
}

const UnsureLaw& law(const CardBands& bands, const std::string& name) {
  return *std::find_if(bands.laws.begin(), bands.laws.end(), [&](const UnsureLaw& l) { return l.name == name; });
}

TEST(CardBands, EveryShippedCardMakesLawsAtItsEnds) {
  int cards = 0;
  for (const PolymerCard& polymer : known_polymers()) {
    if (!polymer.relaxation) continue;
    ++cards;
    CardBands bands;
    add_laws(*polymer.relaxation, as_it_is, bands);
    EXPECT_TRUE(bands.no_laws.empty()) << polymer.name << ": " << bands.no_laws.front();
    const RelaxationCard& r = *polymer.relaxation;
    const auto has_band = [](const CardNumber& n) { return n.value.low < n.value.high; };
    std::size_t wanted = 0;
    for (const CardNumber* n : {&r.glass_transition, &r.shift_c1, &r.shift_c2, &r.network, &r.glass.modulus})
      wanted += has_band(*n) ? 1 : 0;
    wanted += std::any_of(r.modes.begin(), r.modes.end(), [&](const ModeCard& m) { return has_band(m.modulus); });
    EXPECT_EQ(bands.laws.size(), wanted) << polymer.name;
    EXPECT_GE(wanted, 3U) << polymer.name;
  }
  EXPECT_EQ(cards, 5);
}

TEST(CardBands, GoToTheEndsOfTheCard) {
  const RelaxationCard& card = *find_polymer("petg")->relaxation;
  CardBands bands;
  add_laws(card, as_it_is, bands);
  EXPECT_DOUBLE_EQ(law(bands, "stiffness that never relaxes, beside all that does").at_high.network.shear_modulus_Pa,
                   card.network.value.high);
  EXPECT_DOUBLE_EQ(law(bands, "stiffness of the frozen sheet").at_low.relaxation.modes.back().modulus_Pa,
                   card.glass.modulus.value.low);
  // Modes of 0.1, 1 and 10 s: the quick and the slow one go opposite ways, that in between stays.
  const auto& quick = law(bands, "how the sheet relaxes").at_high.relaxation.modes;
  EXPECT_DOUBLE_EQ(quick[0].modulus_Pa, card.modes[0].modulus.value.high);
  EXPECT_DOUBLE_EQ(quick[1].modulus_Pa, card.modes[1].modulus.value.likely);
  EXPECT_DOUBLE_EQ(quick[2].modulus_Pa, card.modes[2].modulus.value.low);
  // WLF starts at the glass transition, so it goes along: at the transition itself nothing changes. Round-off only.
  const UnsureLaw& glass = law(bands, "glass transition of the sheet");
  const double apart_K = card.glass_transition.value.high - card.glass_transition.value.likely;
  ASSERT_GT(apart_K, 0.5);
  const auto rise = [&](const sheet::HotLaw& l, double from_K) {
    return l.relaxation.shift.log10_factor(from_K) - l.relaxation.shift.log10_factor(from_K + 20.0);
  };
  EXPECT_NEAR(rise(glass.at_high, card.glass_transition.value.high),
              rise(as_it_is(card), card.glass_transition.value.likely), 1e-9);
}

TEST(CardBands, AnEndThatMakesNoLawIsTold) {
  RelaxationCard card = *find_polymer("petg")->relaxation;
  card.network.value.low = -1.0;
  CardBands bands;
  add_laws(
      card,
      [](const RelaxationCard& at_end) {
        sheet::HotLaw law = as_it_is(at_end);
        if (law.network.shear_modulus_Pa < 0.0) law.relaxation.shift.c2_K = -1.0;
        return law;
      },
      bands);
  ASSERT_EQ(bands.no_laws.size(), 1U);
  EXPECT_NE(bands.no_laws[0].find("stiffness that never relaxes"), std::string::npos);
  EXPECT_EQ(bands.laws.size(), 5U);
}

}  // namespace
}  // namespace pellicle::cases
