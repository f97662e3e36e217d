// How stiff was the hot sheet? Grooves of a coupon read back; a card and lines to paste into a case.
#include "io/case/card_text.h"
#include "io/case/parse.h"
#include "io/case/units.h"
#include "io/commands/case_pressure.h"
#include "io/commands/commands.h"
#include "io/commands/inputs.h"
#include "io/measured/groove_table.h"
#include "io/results/json.h"
#include "io/results/result_folder.h"
#include "mesh/check.h"
#include "solver/fit/groove_readback.h"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <ctime>
#include <string>

namespace pellicle::commands {
namespace {

using fit::Groove;
using fit::GrooveReadback;
using fit::GrooveReading;

/// Everything that is told.
struct Calibration {
  const Case& c;
  const cases::PolymerCard* known;  ///< the case's; null: none
  std::vector<Groove> grooves;
  GrooveReadback back;
};

std::string MPa(double value_Pa) { return fmt::format("{:.3g} MPa", 1e-6 * value_Pa); }

std::string band_text(const Estimate& modulus_Pa) {
  return fmt::format("{}, {:.3g} to {}", MPa(modulus_Pa.likely), 1e-6 * modulus_Pa.low, MPa(modulus_Pa.high));
}

std::string today() { return fmt::format("{:%Y-%m-%d}", fmt::localtime(std::time(nullptr))); }

std::string law_text(const GrooveReadback& back) {
  const Estimate& G = back.shear_modulus_Pa;
  return fmt::format(
      "[sheet.law]\n# measured on a groove coupon, {}: {}; answers are those of the first number, run --spread takes "
      "the "
      "band\nkind = \"neo-hookean\"\nshear_modulus = \"{}\"\nspread = {:.3g}\n",
      today(), band_text(G), MPa(G.likely), std::max(1.0, std::max(G.high / G.likely, G.likely / G.low)));
}

/// As printed: three digits.
double rounded_Pa(double value_Pa) { return 1e6 * std::stod(fmt::format("{:.3g}", 1e-6 * value_Pa)); }

/// The measured modulus, and what else the case's card knows of the sheet.
std::string card_text(const Calibration& found) {
  const cases::PolymerCard* known = found.known;
  const Estimate& G = found.back.shear_modulus_Pa;
  cases::PolymerCard card = known ? *known : cases::PolymerCard{};
  card.name = (known ? known->name : "sheet") + "-measured";
  card.title = (known ? known->title : "sheet") + ", measured";
  card.modulus_temperature_K = found.c.sheet.temperature_K;
  card.shear_modulus = {"shear_modulus",
                        {rounded_Pa(G.likely), rounded_Pa(G.low), rounded_Pa(G.high)},
                        "MPa",
                        "computed",
                        fmt::format("measured on a groove coupon, {}: {} of {} grooves, {:.2g} % standard deviation",
                                    today(), found.back.used, found.grooves.size(), 100.0 * found.back.uncertainty)};
  card.law.reset();
  std::string out = std::string(results::kMeasuredCard) + ".\n";
  if (known)
    out += fmt::format("# All but shear_modulus is taken over from the card {}{}.\n", known->name,
                       known->relaxation ? ", moduli of relaxation too: they are not measured" : "");
  return out + cases::card_head(card) + (known ? cases::card_rest(card) : "");
}

std::string groove_line(const Groove& groove, const GrooveReading& reading) {
  const auto or_dash = [](double value, int digits) {
    return value == value ? fmt::format("{:.{}f}", value, digits) : std::string("-");
  };
  std::string out =
      fmt::format("  {:>8.3f} {:>8.3f} {:>7.3f} {:>7} {:>9} {:>8}", 1e3 * groove.width_m, 1e3 * groove.depth_m,
                  groove.depth_m / groove.width_m, or_dash(reading.pressure_over_modulus, 3),
                  or_dash(reading.layer_pressure_over_modulus, 3), or_dash(1e-6 * reading.shear_modulus_Pa, 3));
  return out + (reading.why.empty() ? "" : "  " + reading.why) + "\n";
}

std::string report_text(const Calibration& found) {
  const GrooveReadback& back = found.back;
  std::string out =
      "     width    depth   depth/     p/G       p/G    shear\n"
      "        mm       mm    width          by layer  mod. MPa\n";
  for (std::size_t i = 0; i < found.grooves.size(); ++i) out += groove_line(found.grooves[i], back.readings[i]);
  out += fmt::format("\nshear modulus  {} (two standard deviations of {:.2g} %); median of {} grooves\n",
                     band_text(back.shear_modulus_Pa), 100.0 * back.uncertainty, back.used);
  out += fmt::format("scatter        {:.2g} % of one groove{}\n", 100.0 * back.scatter,
                     back.outliers > 0 ? fmt::format("; {} far from the others", back.outliers) : "");
  const double before_Pa = sheet::small_strain_shear_modulus_Pa(found.c.sheet.law);
  out += fmt::format("so far         {} in the case ({:+.0f} %)\n",
                     found.c.sheet.shear_modulus_Pa ? band_text(*found.c.sheet.shear_modulus_Pa) : MPa(before_Pa),
                     100.0 * (back.shear_modulus_Pa.likely / before_Pa - 1.0));
  return out +
         "\nIt holds for this sheet, temperature and delay. To use it, put into the case, in place of a law "
         "there:\n\n" +
         law_text(back);
}

std::string report_json(const Calibration& found) {
  const GrooveReadback& back = found.back;
  results::Json json;
  json.open_object().key("shear_modulus_MPa").open_object();
  json.key("likely").number(1e-6 * back.shear_modulus_Pa.likely).key("low").number(1e-6 * back.shear_modulus_Pa.low);
  json.key("high").number(1e-6 * back.shear_modulus_Pa.high).close_object();
  json.key("uncertainty").number(back.uncertainty).key("scatter").number(back.scatter);
  json.key("used").whole(back.used).key("outliers").whole(back.outliers).key("grooves").open_list();
  for (std::size_t i = 0; i < found.grooves.size(); ++i) {
    const Groove& groove = found.grooves[i];
    const GrooveReading& r = back.readings[i];
    json.open_object().key("width_mm").number(1e3 * groove.width_m).key("depth_mm").number(1e3 * groove.depth_m);
    json.key("pressure_MPa").number(1e-6 * groove.pressure_Pa).key("thickness_mm").number(1e3 * groove.thickness_m);
    json.key("pressure_over_modulus").number(r.pressure_over_modulus);
    json.key("layer_pressure_over_modulus").number(r.layer_pressure_over_modulus);
    json.key("shear_modulus_MPa").number(1e-6 * r.shear_modulus_Pa);
    json.key("model").text(!r.used() ? "none" : r.model == fit::GrooveModel::kSection ? "section" : "layer");
    json.key("outlier").flag(r.is_outlier).key("note").text(r.why).close_object();
  }
  return json.close_list()
      .key("card_toml")
      .text(card_text(found))
      .key("law_toml")
      .text(law_text(back))
      .close_object()
      .finish();
}

}  // namespace

int calibrate_command(const CalibrateOptions& options) {
  const cases::ParsedCase parsed = cases::parse_case(options.case_path);
  const Case& c = parsed.value;
  const measured::GrooveDefaults defaults{c.sheet.thickness_m, largest_pressure_Pa(c)};
  std::vector<Groove> grooves = measured::load_groove_table(options.measured, defaults);
  std::optional<results::ResultFolder> folder;
  if (options.out) {
    std::vector<std::filesystem::path> inputs = input_files(parsed);
    inputs.push_back(options.measured);
    folder.emplace(*options.out, options.force, inputs);
  }
  if (!options.quiet)
    for (const std::string& warning : parsed.warnings) fmt::print(stderr, "warning: {}\n", warning);
  GrooveReadback back = fit::read_grooves(grooves);
  const cases::PolymerCard* known = parsed.own_card ? &parsed.own_card->card : cases::find_polymer(c.sheet.polymer);
  const Calibration found{c, known, std::move(grooves), std::move(back)};
  if (!options.quiet) {
    for (std::size_t i = 0; i < found.grooves.size(); ++i) {
      if (found.back.readings[i].why.empty()) continue;
      fmt::print(stderr, "warning: groove {}, {:.3g} mm wide: {}\n", i + 1, 1e3 * found.grooves[i].width_m,
                 found.back.readings[i].why);
    }
  }
  const std::string card = card_text(found);
  if (folder) folder->write("card.toml", card);
  fmt::print("{}", options.json ? report_json(found) : report_text(found));
  if (!options.json)
    fmt::print("\n{}:\n\n{}", folder ? "written, " + (folder->path() / "card.toml").string() : "as a card", card);
  return 0;
}

}  // namespace pellicle::commands
