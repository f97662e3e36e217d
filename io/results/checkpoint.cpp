// What is kept when a run is interrupted? One list of members, walked once to write and once to read.
#include "io/results/checkpoint.h"

#include "io/results/h5.h"

#include <fmt/format.h>

#include <cstring>
#include <type_traits>
#include <utility>

namespace pellicle::results {
namespace {

constexpr int kFormatVersion = 12;  ///< only the same version is read: going on must give the same bits
constexpr const char* kFormat = "pellicle-checkpoint";

template <class T>
using Plain = std::conditional_t<std::is_same_v<T, char> || std::is_same_v<T, bool>, std::int8_t, T>;

struct Saving {
  h5::Writer& file;

  void group(const char* name) { file.group(name); }
  /// Whether there is a part that may be missing.
  template <class T>
  bool part(const char* name, const std::optional<T>& maybe) {
    if (maybe) file.group(name);
    return maybe.has_value();
  }
  template <class T>
  void number(const char* name, const T& value) {
    file.attribute(name, static_cast<Plain<T>>(value));
  }
  /// A list of numbers, or of rows of numbers.
  template <class Row>
  void list(const char* name, const std::vector<Row>& rows) {
    if constexpr (std::is_arithmetic_v<Row>) {
      file.dataset<Plain<Row>>(name, std::vector<Plain<Row>>(rows.begin(), rows.end()));
    } else {
      std::vector<std::remove_cvref_t<decltype(rows[0][0])>> flat;
      std::size_t columns = 0;
      for (const Row& row : rows) flat.insert(flat.end(), row.begin(), row.end());
      columns = static_cast<std::size_t>(Row{}.size());
      file.dataset<typename decltype(flat)::value_type>(name, flat, columns);
    }
  }
  /// Structs that are nothing but doubles.
  template <class Struct>
  void plain(const std::string& name, const std::vector<Struct>& all) {
    std::vector<double> flat(all.size() * sizeof(Struct) / sizeof(double));
    std::memcpy(flat.data(), all.data(), flat.size() * sizeof(double));
    file.dataset<double>(name.c_str(), flat);
  }
  /// One member of a list of structs.
  template <class Struct, class T>
  void member(const char* name, const std::vector<Struct>& all, T Struct::*part) {
    std::vector<T> values;
    for (const Struct& one : all) values.push_back(one.*part);
    list(name, values);
  }
};

struct Loading {
  const h5::Reader& file;

  void group(const char*) {}
  template <class T>
  bool part(const char* name, std::optional<T>& maybe) {
    if (file.holds(name)) maybe.emplace();
    return maybe.has_value();
  }
  template <class T>
  void number(const char* name, T& value) {
    value = static_cast<T>(file.attribute<Plain<T>>(name));
  }
  template <class Row>
  void list(const char* name, std::vector<Row>& rows) {
    if constexpr (std::is_arithmetic_v<Row>) {
      const auto values = file.dataset<Plain<Row>>(name);
      rows.assign(values.begin(), values.end());
    } else {
      const auto columns = static_cast<std::size_t>(Row{}.size());
      const auto flat = file.dataset<std::remove_cvref_t<decltype(rows[0][0])>>(name, columns);
      rows.resize(flat.size() / columns);
      for (std::size_t i = 0; i < flat.size(); ++i) rows[i / columns].data()[i % columns] = flat[i];
    }
  }
  template <class Struct>
  void plain(const std::string& name, std::vector<Struct>& all) {
    const auto flat = file.dataset<double>(name.c_str());
    all.resize(flat.size() * sizeof(double) / sizeof(Struct));
    std::memcpy(static_cast<void*>(all.data()), flat.data(), all.size() * sizeof(Struct));
  }
  template <class Struct, class T>
  void member(const char* name, std::vector<Struct>& all, T Struct::*part) {
    std::vector<T> values;
    list(name, values);
    if (all.empty()) all.resize(values.size());
    if (all.size() != values.size()) file.broken(std::string(name) + " of another length");
    for (std::size_t i = 0; i < all.size(); ++i) all[i].*part = values[i];
  }
};

// Structured bindings name every member: one that is added to a struct and not here does not compile.

template <class Way, class Ledger>
void exchange_ledger(Way& way, Ledger& ledger) {
  auto& [gas, clamp, gravity, friction, damping, contact, viscous, thermal, mass_change, kinetic, strain, air,
         largest_work] = ledger;
  way.number("ledger_gas_J", gas);
  way.number("ledger_clamp_J", clamp);
  way.number("ledger_gravity_J", gravity);
  way.number("ledger_friction_J", friction);
  way.number("ledger_damping_J", damping);
  way.number("ledger_contact_J", contact);
  way.number("ledger_viscous_J", viscous);
  way.number("ledger_thermal_J", thermal);
  way.number("ledger_mass_change_J", mass_change);
  way.number("ledger_kinetic_J", kinetic);
  way.number("ledger_strain_J", strain);
  way.number("ledger_air_J", air);
  way.number("ledger_largest_work_J", largest_work);
}

template <class Way, class Touches>
void exchange_touch(Way& way, Touches& all) {
  using forming::Touch;
  [[maybe_unused]] const auto& [anchor, normal, first, since, contact, put_back, anchored, touching, pressed,
                                settling] = Touch{};
  way.group("/touch");
  way.member("/touch/anchor_m", all, &Touch::anchor_m);
  way.member("/touch/normal", all, &Touch::normal);
  way.member("/touch/first_s", all, &Touch::first_s);
  way.member("/touch/pressure_since_Pa", all, &Touch::pressure_since_Pa);
  way.member("/touch/contact_Pa", all, &Touch::contact_Pa);
  way.member("/touch/anchored", all, &Touch::anchored);
  way.member("/touch/touching", all, &Touch::touching);
  way.member("/touch/pressed", all, &Touch::pressed);
  way.member("/touch/settling", all, &Touch::settling);
  way.member("/touch/put_back_m", all, &Touch::put_back_m);
}

template <class Way, class Pokes>
void exchange_pokes(Way& way, Pokes& all) {
  using forming::Poke;
  [[maybe_unused]] const auto& [crease, triangle, allowed] = Poke{};
  way.group("/pokes");
  way.member("/pokes/crease", all, &Poke::crease);
  way.member("/pokes/triangle", all, &Poke::triangle);
  way.member("/pokes/allowed_m", all, &Poke::allowed_m);
}

/// Their names are those of the case.
template <class Way, class Reports>
void exchange_reports(Way& way, Reports& all) {
  using forming::StageReport;
  [[maybe_unused]] const auto& [name, start, end, steps, pressure, volume, mass_factor, damping, travel, pace,
                                kinetic_share, slipped_share, peak_Pa, peak_s, peak_m3, fastest, reached] =
      StageReport{};
  way.group("/stages");
  way.member("/stages/start_s", all, &StageReport::start_s);
  way.member("/stages/end_s", all, &StageReport::end_s);
  way.member("/stages/steps", all, &StageReport::steps);
  way.member("/stages/pressure_Pa", all, &StageReport::pressure_Pa);
  way.member("/stages/swept_volume_m3", all, &StageReport::swept_volume_m3);
  way.member("/stages/mass_factor", all, &StageReport::mass_factor);
  way.member("/stages/damping_per_s", all, &StageReport::damping_per_s);
  way.member("/stages/travel_s", all, &StageReport::travel_s);
  way.member("/stages/pace", all, &StageReport::pace);
  way.member("/stages/kinetic_share", all, &StageReport::kinetic_share);
  way.member("/stages/friction_share_slipped", all, &StageReport::friction_share_slipped);
  way.member("/stages/peak_Pa", all, &StageReport::peak_Pa);
  way.member("/stages/peak_s", all, &StageReport::peak_s);
  way.member("/stages/peak_m3", all, &StageReport::peak_m3);
  way.member("/stages/fastest_m3_s", all, &StageReport::fastest_m3_s);
  way.member("/stages/reached", all, &StageReport::reached);
}

template <class Way, class Heat>
void exchange_heat(Way& way, Heat& maybe) {
  if (!way.part("/heat", maybe)) return;
  auto& [material, count, cells, flat_thickness_m, edges, sheet_K, mould_K, thickness_m, start_mean_K, face_K,
         free_face_K, mould_face_K, to_mould_J_m2, lost_below_J_m2, lost_above_J_m2, met_mould, part_step_s,
         time_error_K] = *maybe;
  auto& [conductivity_W_mK, specific_heat_J_kgK, density_kg_m3] = material;
  way.number("heat_conductivity_W_mK", conductivity_W_mK);
  way.number("heat_specific_heat_J_kgK", specific_heat_J_kgK);
  way.number("heat_density_kg_m3", density_kg_m3);
  way.number("heat_count", count);
  way.number("heat_cells", cells);
  way.number("heat_flat_thickness_m", flat_thickness_m);
  way.list("/heat/edges", edges);
  way.list("/heat/sheet_K", sheet_K);
  way.list("/heat/mould_K", mould_K);
  way.list("/heat/thickness_m", thickness_m);
  way.list("/heat/start_mean_K", start_mean_K);
  way.list("/heat/face_K", face_K);
  way.list("/heat/free_face_K", free_face_K);
  way.list("/heat/mould_face_K", mould_face_K);
  way.list("/heat/to_mould_J_m2", to_mould_J_m2);
  way.list("/heat/lost_below_J_m2", lost_below_J_m2);
  way.list("/heat/lost_above_J_m2", lost_above_J_m2);
  way.list("/heat/met_mould", met_mould);
  way.list("/heat/part_step_s", part_step_s);
  way.list("/heat/time_error_K", time_error_K);
}

template <class Way, class Air>
void exchange_air(Way& way, Air& air) {
  using forming::Pocket;
  auto& [pocket_of, nodes, pockets, vent_of, names, shut_in_kg, vented_kg, freed_kg, squeezed_kg] = air;
  [[maybe_unused]] const auto& [name, closed, mass, volume, area, pressure, isentrope, vented, place] = Pocket{};
  way.group("/air");
  way.list("/air/pocket_of", pocket_of);
  way.list("/air/nodes", nodes);
  way.list("/air/vent_of", vent_of);
  way.group("/air/pockets");
  way.member("/air/pockets/name", pockets, &Pocket::name);
  way.member("/air/pockets/closed_s", pockets, &Pocket::closed_s);
  way.member("/air/pockets/mass_kg", pockets, &Pocket::mass_kg);
  way.member("/air/pockets/volume_m3", pockets, &Pocket::volume_m3);
  way.member("/air/pockets/area_m2", pockets, &Pocket::area_m2);
  way.member("/air/pockets/pressure_Pa", pockets, &Pocket::pressure_Pa);
  way.member("/air/pockets/isentrope", pockets, &Pocket::isentrope);
  way.member("/air/pockets/vented_kg_s", pockets, &Pocket::vented_kg_s);
  way.member("/air/pockets/place_m", pockets, &Pocket::place_m);
  way.number("air_names", names);
  way.number("air_shut_in_kg", shut_in_kg);
  way.number("air_vented_kg", vented_kg);
  way.number("air_freed_kg", freed_kg);
  way.number("air_squeezed_kg", squeezed_kg);
}

template <class Way, class Memory>
void exchange_memory(Way& way, Memory& maybe) {
  if (!way.part("/memory", maybe)) return;
  auto& [shares, layers, layer_K, ahead_s] = *maybe;
  way.list("/memory/shares", shares);
  way.list("/memory/layer_K", layer_K);
  way.number("memory_ahead_s", ahead_s);
  if constexpr (!std::is_const_v<std::remove_reference_t<Memory>>) layers.resize(shares.size());
  for (std::size_t l = 0; l < shares.size(); ++l) {
    auto& [elements, modes, lanes, last] = layers[l];
    const std::string of = "_of_layer_" + std::to_string(l);
    way.number(("memory_elements" + of).c_str(), elements);
    way.number(("memory_modes" + of).c_str(), modes);
    way.plain("/memory/lanes" + of, lanes);
    way.plain("/memory/last" + of, last);
  }
}

template <class Way, class Snapshot>
void exchange(Way& way, Snapshot& snapshot) {
  auto& [step, element_updates, time_s, dt_s, limit_dt_s, stage, stage_first_step, begun, frames_sent, row_s,
         mass_factor, mass_growth, damping_per_s, travel_s, pace, most_damping_per_s, pressure_Pa, drive_Pa,
         mean_pressure_Pa, volume_m3, stage_start_Pa, stage_start_m3, full_m3, paced_m3, gas_kg, gas_energy_J,
         chamber_m3, clamp_z_m, stage_start_clamp_m, clamp_m_s, kinetic_share, largest_strain_J, worst_balance,
         book_strain_J, book_m3, book_s, slow_Pa, peak_Pa, peak_s, peak_m3, passed_peak, fastest_m3_s, ever_touched,
         half_gas_J, slipped_share, still_books, x_m, v_m_s, touch, pokes, paired_at_m, looked_at_m, ledger, reports,
         flat_m, triangles, on_rim, local_mass, coarse_height_m, heat, heat_s, memory, memory_s, memory_step,
         unseen_strain_J, hung_J, pressed_s, pressed_Pa, air] = snapshot;
  way.number("step", step);
  way.number("element_updates", element_updates);
  way.number("time_s", time_s);
  way.number("dt_s", dt_s);
  way.number("limit_dt_s", limit_dt_s);
  way.number("stage", stage);
  way.number("stage_first_step", stage_first_step);
  way.number("begun", begun);
  way.number("frames_sent", frames_sent);
  way.number("row_s", row_s);
  way.number("mass_factor", mass_factor);
  way.number("mass_growth", mass_growth);
  way.number("damping_per_s", damping_per_s);
  way.number("most_damping_per_s", most_damping_per_s);
  way.number("travel_s", travel_s);
  way.number("pace", pace);
  way.number("pressure_Pa", pressure_Pa);
  way.number("drive_Pa", drive_Pa);
  way.number("mean_pressure_Pa", mean_pressure_Pa);
  way.number("volume_m3", volume_m3);
  way.number("stage_start_Pa", stage_start_Pa);
  way.number("stage_start_m3", stage_start_m3);
  way.number("full_m3", full_m3);
  way.number("paced_m3", paced_m3);
  way.number("gas_kg", gas_kg);
  way.number("gas_energy_J", gas_energy_J);
  way.number("chamber_m3", chamber_m3);
  way.number("clamp_z_m", clamp_z_m);
  way.number("stage_start_clamp_m", stage_start_clamp_m);
  way.number("clamp_m_s", clamp_m_s);
  way.number("kinetic_share", kinetic_share);
  way.number("largest_strain_J", largest_strain_J);
  way.number("worst_balance", worst_balance);
  way.number("book_strain_J", book_strain_J);
  way.number("book_m3", book_m3);
  way.number("book_s", book_s);
  way.number("slow_Pa", slow_Pa);
  way.number("peak_Pa", peak_Pa);
  way.number("hung_J", hung_J);
  way.number("peak_s", peak_s);
  way.number("peak_m3", peak_m3);
  way.number("passed_peak", passed_peak);
  way.number("fastest_m3_s", fastest_m3_s);
  way.number("ever_touched", ever_touched);
  way.number("half_gas_J", half_gas_J);
  way.number("slipped_share", slipped_share);
  way.number("still_books", still_books);
  exchange_ledger(way, ledger);
  exchange_reports(way, reports);
  way.group("/sheet");
  way.list("/sheet/x_m", x_m);
  way.list("/sheet/v_m_s", v_m_s);
  way.list("/sheet/flat_m", flat_m);
  way.list("/sheet/triangles", triangles);
  way.list("/sheet/on_rim", on_rim);
  way.list("/sheet/local_mass", local_mass);
  way.number("coarse_height_m", coarse_height_m);
  exchange_touch(way, touch);
  exchange_pokes(way, pokes);
  way.list("/sheet/paired_at_m", paired_at_m);
  way.list("/sheet/looked_at_m", looked_at_m);
  exchange_heat(way, heat);
  way.number("heat_s", heat_s);
  exchange_memory(way, memory);
  way.number("memory_s", memory_s);
  way.number("memory_step", memory_step);
  way.number("unseen_strain_J", unseen_strain_J);
  way.list("/sheet/pressed_s", pressed_s);
  way.list("/sheet/pressed_Pa", pressed_Pa);
  exchange_air(way, air);
}

/// Texts are lists of bytes: an attribute would end at a zero byte and is limited to 64 kB.
void save_text(h5::Writer& file, const char* name, const std::string& text) {
  file.dataset<std::int8_t>(name, std::vector<std::int8_t>(text.begin(), text.end()));
}
std::string load_text(const h5::Reader& file, const char* name) {
  const auto bytes = file.dataset<std::int8_t>(name);
  return {bytes.begin(), bytes.end()};
}

/// A zero byte after each.
void save_texts(h5::Writer& file, const char* name, const std::vector<std::string>& texts) {
  std::string all;
  for (const std::string& text : texts) all.append(text).push_back('\0');
  save_text(file, name, all);
}
std::vector<std::string> load_texts(const h5::Reader& file, const char* name) {
  const std::string all = load_text(file, name);
  std::vector<std::string> texts;
  for (std::size_t from = 0, end; (end = all.find('\0', from)) != std::string::npos; from = end + 1)
    texts.push_back(all.substr(from, end - from));
  return texts;
}

template <class Way, class Map>
void exchange_map(Way& way, Map& map) {
  auto& [corner_m, spacing_m, columns, rows, at_K] = map;
  way.number("heater_x_m", corner_m.x());
  way.number("heater_y_m", corner_m.y());
  way.number("heater_spacing_m", spacing_m);
  way.number("heater_columns", columns);
  way.number("heater_rows", rows);
  way.list("/heater/at_K", at_K);
}

/// Names of the members of one relief.
struct ReliefNames {
  explicit ReliefNames(std::size_t i)
      : group(fmt::format("/relief_{}", i)),
        kind(fmt::format("relief_{}_kind", i)),
        nx(kind + "_nx"),
        ny(kind + "_ny"),
        spacing(kind + "_spacing_m"),
        periodic(kind + "_periodic"),
        x(group + "/x_m"),
        z(group + "/z_m"),
        names(group + "/label_names"),
        boxes(group + "/label_boxes_m") {}
  std::string group, kind, nx, ny, spacing, periodic, x, z, names, boxes;
};
/// What a relief's kind says of its shape.
enum ShapeKind : std::int32_t { kOfTheMould, kMap, kStrip, kRound };

void save_relief(h5::Writer& file, const ReliefNames& name, const ReliefShape& relief) {
  Saving saving{file};
  file.group(name.group.c_str());
  std::int32_t kind = kOfTheMould;
  if (relief.shape) {
    if (const auto* map = std::get_if<mesh::HeightMap>(&*relief.shape)) {
      kind = kMap;
      saving.number(name.nx.c_str(), map->nx);
      saving.number(name.ny.c_str(), map->ny);
      saving.number(name.spacing.c_str(), map->spacing_m);
      saving.number(name.periodic.c_str(), map->periodic);
      saving.list(name.z.c_str(), map->height_m);
    } else {
      const auto& profile = std::get<mesh::Profile>(*relief.shape);
      kind = profile.kind == mesh::Profile::Kind::kRound ? kRound : kStrip;
      saving.list(name.x.c_str(), profile.x_m);
      saving.list(name.z.c_str(), profile.z_m);
    }
  }
  saving.number(name.kind.c_str(), kind);
  std::vector<std::string> names;
  for (const imprint::Label& label : relief.labels) names.push_back(label.name);
  save_texts(file, name.names.c_str(), names);
  saving.member(name.boxes.c_str(), relief.labels, &imprint::Label::box_m);
}

ReliefShape load_relief(const h5::Reader& file, const ReliefNames& name) {
  Loading loading{file};
  ReliefShape relief;
  std::int32_t kind = kOfTheMould;
  loading.number(name.kind.c_str(), kind);
  if (kind == kMap) {
    mesh::HeightMap map;
    loading.number(name.nx.c_str(), map.nx);
    loading.number(name.ny.c_str(), map.ny);
    loading.number(name.spacing.c_str(), map.spacing_m);
    loading.number(name.periodic.c_str(), map.periodic);
    loading.list(name.z.c_str(), map.height_m);
    if (map.nx < 1 || map.ny < 1 ||
        map.height_m.size() != static_cast<std::size_t>(map.nx) * static_cast<std::size_t>(map.ny))
      file.broken("a relief of another size");
    relief.shape = std::move(map);
  } else if (kind != kOfTheMould) {
    mesh::Profile profile{kind == kRound ? mesh::Profile::Kind::kRound : mesh::Profile::Kind::kStrip, {}, {}};
    loading.list(name.x.c_str(), profile.x_m);
    loading.list(name.z.c_str(), profile.z_m);
    if (profile.x_m.size() != profile.z_m.size()) file.broken("a profile of two lengths");
    relief.shape = std::move(profile);
  }
  const std::vector<std::string> names = load_texts(file, name.names.c_str());
  loading.member(name.boxes.c_str(), relief.labels, &imprint::Label::box_m);
  if (names.size() != relief.labels.size()) file.broken("labels without names");
  for (std::size_t i = 0; i < names.size(); ++i) relief.labels[i].name = names[i];
  return relief;
}

}  // namespace

void write_checkpoint(ResultFolder& folder, const Checkpoint& checkpoint) {
  h5::Writer file;
  file.attribute("format", std::string(kFormat));
  file.attribute("format_version", std::int32_t{kFormatVersion});
  file.attribute("program_version", std::string(PELLICLE_VERSION));
  save_text(file, "/case_toml", checkpoint.case_text);
  save_text(file, "/case_stem", checkpoint.case_stem);
  save_text(file, "/polymers_toml", checkpoint.polymer_cards);
  save_text(file, "/resins_toml", checkpoint.resin_cards);
  save_text(file, "/own_card_toml", checkpoint.own_card);
  Saving saving{file};
  if (checkpoint.mould) {
    file.group("/mould");
    saving.list("/mould/points_m", checkpoint.mould->points_m);
    saving.list("/mould/triangles", checkpoint.mould->triangles);
  }
  saving.number("relief_count", static_cast<std::int32_t>(checkpoint.reliefs.size()));
  for (std::size_t i = 0; i < checkpoint.reliefs.size(); ++i) save_relief(file, ReliefNames(i), checkpoint.reliefs[i]);
  if (checkpoint.heater_map) {
    file.group("/heater");
    exchange_map(saving, *checkpoint.heater_map);
  }
  save_texts(file, "/warnings", checkpoint.warnings);
  saving.number("frames", checkpoint.frames);
  saving.number("history_rows", checkpoint.history_rows);
  saving.number("seconds", checkpoint.seconds);
  exchange(saving, checkpoint.snapshot);
  folder.write("checkpoint.h5", file.finish());
}

Checkpoint read_checkpoint(const std::filesystem::path& path) {
  const h5::Reader file(read_file(path), path.string());
  if (file.text_attribute("format") != kFormat) file.broken("another kind of file");
  if (file.attribute<std::int32_t>("format_version") != kFormatVersion) file.broken("another format version");
  if (file.text_attribute("program_version") != PELLICLE_VERSION) file.broken("a run of another version");
  Checkpoint checkpoint;
  checkpoint.case_text = load_text(file, "/case_toml");
  checkpoint.case_stem = load_text(file, "/case_stem");
  checkpoint.polymer_cards = load_text(file, "/polymers_toml");
  checkpoint.resin_cards = load_text(file, "/resins_toml");
  checkpoint.own_card = load_text(file, "/own_card_toml");
  Loading loading{file};
  if (file.holds("/mould")) {
    checkpoint.mould.emplace();
    loading.list("/mould/points_m", checkpoint.mould->points_m);
    loading.list("/mould/triangles", checkpoint.mould->triangles);
  }
  std::int32_t reliefs = 0;
  loading.number("relief_count", reliefs);
  for (std::int32_t i = 0; i < reliefs; ++i)
    checkpoint.reliefs.push_back(load_relief(file, ReliefNames(static_cast<std::size_t>(i))));
  if (file.holds("/heater")) exchange_map(loading, checkpoint.heater_map.emplace());
  checkpoint.warnings = load_texts(file, "/warnings");
  loading.number("frames", checkpoint.frames);
  loading.number("history_rows", checkpoint.history_rows);
  loading.number("seconds", checkpoint.seconds);
  exchange(loading, checkpoint.snapshot);
  return checkpoint;
}

}  // namespace pellicle::results
