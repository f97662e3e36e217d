// What does ParaView read first? Only what docs/result_format.md lists: other forms of XDMF abort a reader, or fields
// go missing without a word (time lists on the collection, references, hyperslabs, a second top-level grid).
#include "io/results/xdmf.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <iterator>

namespace pellicle::results {
namespace {

constexpr std::array<std::string_view, 7> kUnits{"mm", "MPa", "s", "C", "um", "deg", "percent"};

constexpr std::string_view kHead = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<Xdmf Version=\"3.0\">\n  <Domain>\n";
constexpr std::string_view kTail = "  </Domain>\n</Xdmf>\n";

void add_grid(std::string& xml, const XdmfGrid& grid, std::string_view indent) {
  const auto out = std::back_inserter(xml);
  fmt::format_to(out, "{}<Grid Name=\"{}\" GridType=\"Uniform\">\n", indent, grid.name);
  if (grid.time_s) fmt::format_to(out, "{}  <Time Value=\"{}\"/>\n", indent, *grid.time_s);
  fmt::format_to(out,
                 "{0}  <Topology TopologyType=\"Triangle\" NumberOfElements=\"{1}\">\n"
                 "{0}    <DataItem Dimensions=\"{1} 3\" NumberType=\"Int\" Precision=\"4\" Format=\"HDF\">"
                 "{2}:/triangles</DataItem>\n"
                 "{0}  </Topology>\n"
                 "{0}  <Geometry GeometryType=\"XYZ\">\n"
                 "{0}    <DataItem Dimensions=\"{3} 3\" NumberType=\"Float\" Precision=\"4\" Format=\"HDF\">"
                 "{2}:{4}</DataItem>\n"
                 "{0}  </Geometry>\n",
                 indent, grid.triangles, grid.file, grid.nodes, grid.points);
  for (const XdmfField& field : grid.fields) {
    // Two columns are a matrix: as a vector, one of the readers would make them three.
    const std::string columns = field.columns == 1 ? "" : fmt::format(" {}", field.columns);
    fmt::format_to(out,
                   "{0}  <Attribute Name=\"{1}\" AttributeType=\"{2}\" Center=\"{3}\">\n"
                   "{0}    <DataItem Dimensions=\"{4}{5}\" NumberType=\"Float\" Precision=\"4\" Format=\"HDF\">"
                   "{6}:{7}</DataItem>\n"
                   "{0}  </Attribute>\n",
                   indent, readable_name(field.dataset, field.per_triangle), field.columns == 1 ? "Scalar" : "Matrix",
                   field.per_triangle ? "Cell" : "Node", field.per_triangle ? grid.triangles : grid.nodes, columns,
                   grid.file, field.dataset);
  }
  fmt::format_to(out, "{}</Grid>\n", indent);
}

std::string collection(const std::string& name, std::string_view kind, std::span<const XdmfGrid> grids) {
  std::string xml(kHead);
  fmt::format_to(std::back_inserter(xml), "    <Grid Name=\"{}\" GridType=\"Collection\" CollectionType=\"{}\">\n",
                 name, kind);
  for (const XdmfGrid& grid : grids) add_grid(xml, grid, "      ");
  return xml.append("    </Grid>\n").append(kTail);
}

}  // namespace

std::string readable_name(std::string_view dataset, bool per_triangle) {
  dataset.remove_prefix(dataset.rfind('/') + 1);  // npos + 1 = 0
  std::string name(dataset), unit;
  if (const auto last = dataset.rfind('_'); last != std::string_view::npos) {
    const std::string_view suffix = dataset.substr(last + 1);
    if (std::find(kUnits.begin(), kUnits.end(), suffix) != kUnits.end()) {
      name.resize(last);
      unit = fmt::format(" ({})", suffix);
    }
  }
  std::replace(name.begin(), name.end(), '_', ' ');
  return name + unit + (per_triangle ? " per triangle" : "");
}

std::string xdmf_surface(const XdmfGrid& grid) {
  std::string xml(kHead);
  add_grid(xml, grid, "    ");
  return xml.append(kTail);
}

std::string xdmf_group(const std::string& name, std::span<const XdmfGrid> grids) {
  return collection(name, "Spatial", grids);
}

std::string xdmf_sequence(const std::string& name, std::span<const XdmfGrid> frames) {
  return collection(name, "Temporal", frames);
}

}  // namespace pellicle::results
