// How is a 3MF file read without its library harming the program? In a process of its own.
#include "io/moulds/threemf.h"
#include "mesh/apart.h"

#include <cstring>
#include <utility>

namespace pellicle::moulds {
namespace {

using mesh::Vec3;

// What goes from one process to the other: the unit's size, texts that end with a zero byte, the last one empty, then
// the facets.
std::string packed(const ThreemfContent& given) {
  std::string bytes(reinterpret_cast<const char*>(&given.unit_m), sizeof(double));
  bytes += given.unit_name + '\0' + given.content.format + '\0';
  for (const std::string& note : given.content.notes) bytes += note + '\0';
  bytes += '\0';
  for (const Facet& facet : given.content.facets) {
    for (const Vec3& p : facet) bytes.append(reinterpret_cast<const char*>(p.data()), 3 * sizeof(double));
  }
  return bytes;
}

ThreemfContent unpacked(std::string_view bytes) {
  ThreemfContent out;
  ensure(bytes.size() >= sizeof(double), "the other process sends the unit first");
  std::memcpy(&out.unit_m, bytes.data(), sizeof(double));
  bytes.remove_prefix(sizeof(double));
  const auto next = [&] {
    const std::size_t end = std::min(bytes.find('\0'), bytes.size());
    std::string text(bytes.substr(0, end));
    bytes.remove_prefix(std::min(end + 1, bytes.size()));
    return text;
  };
  out.unit_name = next();
  out.content.format = next();
  for (std::string note = next(); !note.empty(); note = next()) out.content.notes.push_back(std::move(note));
  out.content.facets.resize(bytes.size() / (9 * sizeof(double)));
  for (Facet& facet : out.content.facets) {
    for (Vec3& p : facet) {
      std::memcpy(p.data(), bytes.data(), 3 * sizeof(double));
      bytes.remove_prefix(3 * sizeof(double));
    }
  }
  return out;
}

}  // namespace

ThreemfContent read_3mf(std::string_view bytes, const std::string& name) {
  return unpacked(mesh::run_apart(name, {8'000'000'000, 120}, [&] { return packed(read_3mf_here(bytes, name)); }));
}

}  // namespace pellicle::moulds
