// What pressure and modulus does screening put in at a node whose heat was followed?
#include "solver/imprint/screening_chill.h"

#include "solver/imprint/chill.h"
#include "solver/imprint/compliance.h"
#include "solver/sheet/heat_place.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace pellicle::imprint {
namespace {

/// The even sheet of the same compliance at k = pi/width.
EvenSheet even_for_stroke(const Moment& m, double thickness_m, double width_m) {
  const double k = std::numbers::pi / width_m;
  LayerStack stack;
  if (m.skin_m > 0.0) stack.layers.push_back({m.skin_m, m.skin_Pa});
  stack.layers.push_back({thickness_m - m.skin_m, m.core_Pa});
  const double unit = isotropic_compliance_m_per_Pa({thickness_m, 1.0}, k);
  return {m.pressure_Pa, unit / compliance_m_per_Pa(stack, k, 0.0), m.since_s};
}

/// The even sheet that pulls as much when stretched: moduli by their shares of the thickness.
EvenSheet even_membrane(const Moment& m, double thickness_m) {
  return {m.pressure_Pa, m.core_Pa + (m.skin_Pa - m.core_Pa) * m.skin_m / thickness_m, m.since_s};
}

/// At the moment of largest pressure over modulus.
EvenSheet strongest_membrane(const std::vector<Moment>& moments, double thickness_m) {
  EvenSheet best = even_membrane(moments.front(), thickness_m);
  for (const Moment& m : moments)
    if (const EvenSheet e = even_membrane(m, thickness_m);
        e.pressure_Pa * best.shear_modulus_Pa > best.pressure_Pa * e.shear_modulus_Pa)
      best = e;
  return best;
}

}  // namespace

std::optional<ScreeningChill> screening_chill(const HeatSpec& heat, const forming::FormingResult& f,
                                              double reference_Pa) {
  if (!f.heat) return std::nullopt;
  ScreeningChill chill{reference_Pa, heat.polymer.diffusivity_m2_s(), std::vector<int>(f.points_m.size(), -1), {}};
  std::vector<std::size_t> nodes;
  std::vector<double> touched_s, thickness_m;
  for (std::size_t i = 0; i < f.touched_s.size(); ++i)
    if (!std::isnan(f.touched_s[i]))
      nodes.push_back(i), touched_s.push_back(f.touched_s[i]), thickness_m.push_back(f.thickness_m[i]);
  const std::vector<double> alike(nodes.size(), 1.0);
  for (const TouchClass& like : touch_classes(touched_s, alike, thickness_m)) {
    const double h = like.thickness_m;
    const sheet::HeatPlace place(heat, f.bought_thickness_m, like.touched_s, h);
    ScreenedClass screened{place.profile().mean_K(), {}, {}};
    if (const auto moments = moments_after(heat, f, like.touched_s, h)) {
      for (std::size_t k = 0; k < kScreenedWidths_m.size(); ++k) {
        const double w = kScreenedWidths_m[k];
        screened.strokes[k] = Bracket{even_for_stroke(strongest(moments->chilled, h, w), h, w),
                                      even_for_stroke(strongest(moments->open, h, w), h, w)};
      }
      screened.membrane = Bracket{strongest_membrane(moments->chilled, h), strongest_membrane(moments->open, h)};
    }
    for (const std::size_t member : like.members)
      chill.class_of[nodes[member]] = static_cast<int>(chill.classes.size());
    chill.classes.push_back(std::move(screened));
  }
  return chill;
}

}  // namespace pellicle::imprint
