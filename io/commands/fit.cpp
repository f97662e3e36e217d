// Which card does a hot tensile curve or a table of G' and G'' make of a sheet? A card, and how far it is off.
#include "io/case/card_text.h"
#include "io/case/document.h"
#include "io/case/spelling.h"
#include "io/case/units.h"
#include "io/commands/commands.h"
#include "io/commands/fit_pictures.h"
#include "io/measured/number_table.h"
#include "io/measured/polymer_table.h"
#include "io/measured/table_lines.h"
#include "io/results/json.h"
#include "io/results/result_folder.h"
#include "mesh/check.h"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <ctime>
#include <utility>

namespace pellicle::commands {
namespace {

using cases::CardNumber;
using cases::PolymerCard;

/// One test of one strip: its gauge (10 %) and its oven (5 K, a quarter of the modulus) are known no better.
constexpr double kOneTest = 1.25;
/// Modes: the same; times are chosen.
constexpr double kZero_C_K = 273.15;

std::string today() { return fmt::format("{:%Y-%m-%d}", fmt::localtime(std::time(nullptr))); }
double three_digits(double value) { return std::stod(fmt::format("{:.3g}", value)); }

/// A measured number in MPa with the band of one test.
CardNumber measured(std::string name, double value_Pa, double factor, const std::string& source) {
  const auto rounded_Pa = [](double Pa) { return 1e6 * three_digits(1e-6 * Pa); };
  return {std::move(name),
          {rounded_Pa(value_Pa), rounded_Pa(value_Pa / factor), rounded_Pa(value_Pa * factor)},
          "MPa",
          "computed",
          source};
}

const PolymerCard& card_like(const std::string& name) {
  if (const PolymerCard* card = cases::find_polymer(name)) return *card;
  std::vector<std::string> names;
  for (const PolymerCard& card : cases::known_polymers()) names.push_back(card.name);
  const auto near = cases::nearest_word(name, names);
  throw Error(
      {Fault::Kind::kCase, "--like", cases::in_quotes(name), fmt::format("{}", fmt::join(names, ", ")),
       near
           ? fmt::format("Did you mean {}?", *near)
           : "The card of the polymer that is nearest: it lends density, temperatures and what else was not measured"});
}

/// A name that TOML and a case take without quotes.
std::string checked_name(const FitOptions& options) {
  const std::string name = options.name.empty() ? options.like + "-measured" : options.name;
  const bool is_plain = !name.empty() && name.size() <= 40 && std::all_of(name.begin(), name.end(), [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '_';
  });
  if (!is_plain)
    throw Error({Fault::Kind::kCase, "--name", cases::in_quotes(name), "1 to 40 letters, digits, - and _", ""});
  return name;
}

struct Fitted {
  PolymerCard card;
  std::string lead;                 ///< comment lines above the card
  std::string text;                 ///< the table for the terminal
  std::vector<PointMisfit> points;  ///< every one
  double rms = 0.0;
  std::vector<std::string> remarks;
  std::string picture;  ///< SVG
};

double temperature_of(const measured::TensileTable& test, const FitOptions& options) {
  std::optional<double> told_K = test.temperature_K;
  if (!options.temperature.empty()) {
    const auto read = cases::parse_quantity(options.temperature, cases::Dimension::kTemperature);
    if (const auto* no = std::get_if<cases::Refusal>(&read))
      throw Error({Fault::Kind::kCase, "--temperature", no->found, no->allowed, no->advice});
    told_K = std::get<double>(read);
  }
  if (!told_K)
    throw Error({Fault::Kind::kCase, options.measured.string(), "no temperature_C", "the temperature of the test",
                 "Add the column, or --temperature \"130 °C\""});
  return *told_K;
}

Fitted from_tensile(const measured::TensileTable& test, const FitOptions& options, PolymerCard card) {
  const double at_K = temperature_of(test, options);
  const fit::LawFits laws = fit::fit_laws(test.points);
  const fit::LawFit* taken = &laws.best();
  for (const fit::LawFit& law : laws.fits)
    if (law.kind == options.law) taken = &law;
  if (!options.law.empty() && taken->kind != options.law)
    throw Error({Fault::Kind::kCase, "--law " + options.law, fmt::format("{} points", laws.points.size()),
                 "seven or more for yeoh, nine for ogden", "Leave --law out: the simplest law that serves is taken"});
  Fitted out{std::move(card), {}, {}, {}, taken->rms_misfit, {}, {}};
  if (!taken->why_not.empty())
    out.remarks.push_back(fmt::format("the law {} is of no use to a sheet: {}", taken->kind, taken->why_not));
  const double modulus_Pa = sheet::small_strain_shear_modulus_Pa(taken->law);
  const std::string source = fmt::format(
      "tensile test at {}{}, {}: {} points to a stretch of {:.3g}, rms {:.2g} % of the largest stress; band: "
      "one test, a factor of {:g} either way",
      cases::format_in(at_K, "°C"), test.rate_per_s ? fmt::format(", {:g} 1/s", *test.rate_per_s) : "", today(),
      laws.points.size(), laws.points.back().stretch, 100.0 * taken->rms_misfit, kOneTest);
  out.card.shear_modulus = measured("shear_modulus", modulus_Pa, kOneTest, source);
  out.card.modulus_temperature_K = at_K;
  out.card.law.reset();
  if (taken->kind != "neo-hookean") {
    out.card.law = cases::HyperelasticCard{taken->law, at_K, "computed", source};
    out.remarks.push_back(
        "heat and time do not change a law other than neo-hookean: it holds at this temperature and pace");
  }
  out.lead = "# Measured: shear_modulus and law. All else is taken over, moduli of relaxation too.\n";
  out.text = fmt::format("{:<12} {:>7} {:>9} {:>10}\n", "law", "numbers", "misfit", "");
  for (const fit::LawFit& law : laws.fits)
    out.text += fmt::format("{:<12} {:>7} {:>7.2f} %  {}\n", law.kind, law.numbers, 100.0 * law.rms_misfit,
                            &law == taken         ? "taken"
                            : law.why_not.empty() ? ""
                                                  : "not usable: " + law.why_not);
  const double largest_Pa = std::max_element(laws.points.begin(), laws.points.end(), [](const auto& a, const auto& b) {
                              return a.nominal_stress_Pa < b.nominal_stress_Pa;
                            })->nominal_stress_Pa;
  for (std::size_t i = 0; i < laws.points.size(); ++i)
    out.points.push_back({"stretch", laws.points[i].stretch, 1e-6 * laws.points[i].nominal_stress_Pa,
                          1e-6 * taken->stress_Pa[i],
                          (taken->stress_Pa[i] - laws.points[i].nominal_stress_Pa) / largest_Pa});
  out.picture = tensile_picture(laws, *taken, cases::format_in(at_K, "°C"));
  return out;
}

Fitted from_sweeps(const measured::OscillationTable& sweeps, const FitOptions& options, PolymerCard card) {
  if (!card.relaxation)
    throw Error({Fault::Kind::kCase, "--like " + options.like, "a card without relaxation", "one with it",
                 "It lends the glass and, with one temperature, the shift"});
  const fit::OscillationFit found =
      fit::fit_oscillation(sweeps.points, cases::law_of(*card.relaxation).relaxation.shift);
  Fitted out{std::move(card), {}, {}, {}, found.rms_few, found.remarks, {}};
  cases::RelaxationCard& r = *out.card.relaxation;
  const std::string source = fmt::format(
      "G' and G'' measured, {}: {} points, rms {:.2g} % from {:.2g} to {:.3g} s; band: one specimen, a factor of {:g} "
      "either way",
      today(), sweeps.points.size(), 100.0 * found.rms_few, found.window.from_s, found.window.to_s, kOneTest);
  r.network = measured("network", found.network_Pa, kOneTest, source);
  r.network_temperature_K = found.reference_K;
  r.modes.clear();
  for (std::size_t k = 0; k < found.modes.size(); ++k)
    r.modes.push_back({measured(fmt::format("mode_{}", k + 1), found.modes[k].modulus_Pa, kOneTest, source),
                       three_digits(found.modes[k].time_s)});
  if (found.shift_source != fit::ShiftSource::kGiven) {
    const std::string of_shift = found.shift_source == fit::ShiftSource::kBoth
                                     ? "from the same sweeps"
                                     : "from the same sweeps, with the C2 of the card " + options.like;
    const double c1 = three_digits(found.shift.c1), c2_K = three_digits(found.shift.c2_K);
    r.shift_c1 = {"shift_c1", {c1, c1, c1}, "", "computed", of_shift};
    r.shift_c2 = {"shift_c2", {c2_K, c2_K, c2_K}, "", "computed", of_shift};
    r.shift_temperature_K = found.reference_K;
  }
  const cases::CardLaw law = cases::law_of(r);
  const double left_Pa =
      sheet::modulus_after_Pa({law.network, law.relaxation}, found.reference_K, sheet::kFormingTime_s);
  out.card.shear_modulus = measured("shear_modulus", left_Pa, kOneTest,
                                    "left 1 s after a stretch, by the network and modes below: " + source);
  out.card.modulus_temperature_K = found.reference_K;
  out.card.law.reset();
  out.lead =
      "# Measured: shear_modulus, network, modes and, from two temperatures on, the shift. All else is taken over.\n";
  out.text = fmt::format(
      "at {}: network {:.3g} MPa, {} modes, {:.3g} MPa left after 1 s; log a_T = -{:.4g} dT/({:.4g} + dT){}\n"
      "all modes rms {:.2g} %, the card's {:.2g} % from {:.2g} to {:.3g} s\n",
      cases::format_in(found.reference_K, "°C"), 1e-6 * found.network_Pa, found.modes.size(), 1e-6 * left_Pa,
      found.shift.c1, found.shift.c2_K, found.shift_source == fit::ShiftSource::kGiven ? ", of the card" : "",
      100.0 * found.rms_full, 100.0 * found.rms_few, found.window.from_s, found.window.to_s);
  for (std::size_t i = 0; i < sweeps.points.size(); ++i) {
    const fit::DynamicPoint& p = sweeps.points[i];
    const std::string at = fmt::format("{:.0f} °C 1/s", p.temperature_K - kZero_C_K);
    const char* outside = found.in_window[i] ? "" : ", beyond the card's times";
    out.points.push_back({"G' " + at, p.angular_frequency_per_s, 1e-6 * p.storage_Pa, 1e-6 * found.few[i].storage_Pa,
                          found.few[i].storage_Pa / p.storage_Pa - 1.0, outside});
    out.points.push_back({"G'' " + at, p.angular_frequency_per_s, 1e-6 * p.loss_Pa, 1e-6 * found.few[i].loss_Pa,
                          found.few[i].loss_Pa / p.loss_Pa - 1.0, outside});
  }
  out.picture = sweeps_picture(sweeps.points, found);
  return out;
}

std::string points_text(const Fitted& fitted) {
  std::string out = fmt::format("{:<14} {:>10} {:>10} {:>10} {:>8}\n", "", "at", "measured", "fitted", "off");
  out += fmt::format("{:<14} {:>10} {:>10} {:>10} {:>8}\n", "", "", "MPa", "MPa", "%");
  for (const PointMisfit& p : fitted.points)
    out += fmt::format("{:<14} {:>10.4g} {:>10.4g} {:>10.4g} {:>+8.1f}{}\n", p.what, p.at, p.measured_MPa, p.fitted_MPa,
                       100.0 * p.off, p.note);
  return out;
}

std::string report_json(const Fitted& fitted, const std::string& card) {
  results::Json json;
  json.open_object().key("rms_misfit").number(fitted.rms).key("points").open_list();
  for (const PointMisfit& p : fitted.points) {
    json.open_object().key("what").text(p.what).key("at").number(p.at).key("measured_MPa").number(p.measured_MPa);
    json.key("fitted_MPa").number(p.fitted_MPa).key("off").number(p.off).close_object();
  }
  json.close_list().key("remarks").open_list();
  for (const std::string& remark : fitted.remarks) json.text(remark);
  return json.close_list().key("card_toml").text(card).close_object().finish();
}

}  // namespace

int fit_command(const FitOptions& options) {
  const std::string name = checked_name(options);
  PolymerCard card = card_like(options.like);
  card.name = name;
  card.title += ", measured";
  const std::string text =
      measured::read_table(options.measured, "a tensile test or of G' and G''", measured::kLargestNumberTable_bytes);
  const measured::PolymerTable table = measured::read_polymer_table(text, options.measured.string());
  std::optional<results::ResultFolder> folder;
  if (options.out) folder.emplace(*options.out, options.force, std::vector{options.measured});
  const auto* test = std::get_if<measured::TensileTable>(&table);
  const Fitted fitted = test ? from_tensile(*test, options, std::move(card))
                             : from_sweeps(std::get<measured::OscillationTable>(table), options, std::move(card));
  const std::string toml = std::string(results::kMeasuredCard) + ", after the card " + options.like + ".\n" +
                           fitted.lead + cases::card_head(fitted.card) + cases::card_rest(fitted.card);
  cases::read_polymer_cards(toml, "card.toml");  // what is written can be read: a shift may not suit the glass
  if (folder) {
    folder->write("card.toml", toml);
    folder->write("fit.svg", fitted.picture);
  }
  if (!options.quiet)
    for (const std::string& remark : fitted.remarks) fmt::print(stderr, "warning: {}\n", remark);
  if (options.json) {
    fmt::print("{}", report_json(fitted, toml));
    return 0;
  }
  fmt::print("{}\n{}\nshear modulus  {} at {}\n", fitted.text, points_text(fitted),
             cases::value_text(fitted.card.shear_modulus), cases::format_in(fitted.card.modulus_temperature_K, "°C"));
  if (folder)
    fmt::print(
        "\nwritten: {} and fit.svg beside it. In a case:\n\n[sheet]\npolymer = \"card.toml\"   # its path from the "
        "case's folder\n",
        (folder->path() / "card.toml").string());
  else
    fmt::print("\nas a card (--out DIR writes it, with a picture of the fit):\n\n{}", toml);
  return 0;
}

}  // namespace pellicle::commands
