// What triangles does a 3MF file hold? lib3mf unpacks and reads the XML; here its objects are put where the build says.
#include "io/moulds/threemf.h"

#include "io/moulds/zip.h"

#include <fmt/format.h>

#include <Eigen/Geometry>

#include <Common/NMR_ErrorConst.h>
#include <Model/COM/NMR_DLLInterfaces.h>

#include <algorithm>
#include <array>
#include <map>

namespace pellicle::moulds {
namespace {

using mesh::Vec3;
using Transform = Eigen::Affine3d;
using Object = NMR::PLib3MFBase*;  // whatever the library hands out

constexpr int kDeepestTree = 50;  // components within components
constexpr std::size_t kMostItems = 100'000;

/// An object of the library, given back at the end.
class Handle {
 public:
  Handle() = default;
  ~Handle() {
    if (held_ != nullptr) NMR::lib3mf_release(held_);
  }
  Handle(Handle&& other) noexcept : held_(other.held_) { other.held_ = nullptr; }
  Handle(const Handle&) = delete;
  Handle& operator=(const Handle&) = delete;
  Handle& operator=(Handle&&) = delete;

  Object get() const { return held_; }
  Object* slot() { return &held_; }

 private:
  Object held_ = nullptr;
};

/// What the library says about its last failure.
std::string last_words(Object instance) {
  DWORD code = 0;
  LPCSTR said = nullptr;
  if (instance == nullptr || NMR::lib3mf_getlasterror(instance, &code, &said) != LIB3MF_OK || said == nullptr) {
    return "a file that lib3mf cannot read";
  }
  std::string text;
  for (const char c : std::string(said).substr(0, 200)) text += static_cast<unsigned char>(c) < 0x20U ? ' ' : c;
  return fmt::format("\"{}\" (error {} of lib3mf)", text, code);
}

/// The library keeps rows of three, one a coordinate, with the shift in the fourth column.
Transform transform_of(const NMR::MODELTRANSFORM& given) {
  Transform t = Transform::Identity();
  for (int i = 0; i < 3; ++i) {
    for (int j = 0; j < 4; ++j) t.matrix()(i, j) = static_cast<double>(given.m_fFields[i][j]);
  }
  return t;
}

struct Unit {
  DWORD number;
  const char* name;
  double size_m;
};
constexpr std::array<Unit, 6> kUnits{{{NMR::MODELUNIT_MICROMETER, "um", 1e-6},
                                      {NMR::MODELUNIT_MILLIMETER, "mm", 1e-3},
                                      {NMR::MODELUNIT_CENTIMETER, "cm", 1e-2},
                                      {NMR::MODELUNIT_INCH, "in", 0.0254},
                                      {NMR::MODELUNIT_FOOT, "ft", 0.3048},
                                      {NMR::MODELUNIT_METER, "m", 1.0}}};

class ThreemfReader {
 public:
  ThreemfReader(std::string_view bytes, const std::string& name) : name_(name) {
    call(NMR::lib3mf_createmodel(model_.slot()), nullptr);
    Handle reader;
    call(NMR::lib3mf_model_queryreader(model_.get(), "3mf", reader.slot()), model_.get());
    // The library copies the bytes; it only asks for them without const.
    auto* start = const_cast<BYTE*>(reinterpret_cast<const BYTE*>(bytes.data()));
    call(NMR::lib3mf_reader_readfrombuffer(reader.get(), start, bytes.size()), reader.get());
    note_warnings(reader.get());
  }

  ThreemfContent read() {
    read_unit();
    Handle items;
    call(NMR::lib3mf_model_getbuilditems(model_.get(), items.slot()), model_.get());
    std::size_t used = 0, seen = 0;
    while (moves_on(NMR::lib3mf_builditemiterator_movenext, items.get())) {
      if (++seen > kMostItems) refuse(name_, fmt::format("more than {} items", kMostItems), "fewer");
      Handle item, object;
      call(NMR::lib3mf_builditemiterator_getcurrent(items.get(), item.slot()), items.get());
      call(NMR::lib3mf_builditem_getobjectresource(item.get(), object.slot()), item.get());
      if (place_item(item.get(), object.get(), seen)) ++used;
    }
    std::vector<Facet>& facets = out_.content.facets;
    if (facets.empty()) {
      refuse(name_, fmt::format("{} items in the build and no triangles", seen), "at least one triangle",
             "Is the mould empty in the drawing, or not in the build?");
    }
    note_what_was_left();
    out_.content.format = fmt::format("3MF, {} item{}", used, used == 1 ? "" : "s");
    return std::move(out_);
  }

 private:
  void call(LIB3MFRESULT result, Object instance) const {
    if (result != LIB3MF_OK) refuse(name_, last_words(instance), "a whole 3MF file", kExportAgain);
  }

  template <class Step>
  bool moves_on(const Step& step, Object iterator) const {
    BOOL has_next = 0;
    call(step(iterator, &has_next), iterator);
    return has_next != 0;
  }

  void note_warnings(Object reader) {
    DWORD count = 0;
    if (NMR::lib3mf_reader_getwarningcount(reader, &count) != LIB3MF_OK || count == 0) return;
    std::string first;
    for (DWORD i = 0; i < count; ++i) {
      DWORD code = 0;
      ULONG needed = 0;
      std::array<char, 512> text{};
      const auto room = static_cast<ULONG>(text.size());
      if (NMR::lib3mf_reader_getwarningutf8(reader, i, &code, text.data(), room, &needed) != LIB3MF_OK) continue;
      if (code == NMR_ERROR_INVALIDMODELUNIT) {  // the library would go on in millimetres
        refuse(name_, "a unit that 3MF does not know", "micron, millimeter, centimeter, inch, foot or meter");
      }
      if (first.empty()) first = text.data();
    }
    out_.content.notes.push_back(fmt::format("{}: {} places of the file were not understood{}{}", name_, count,
                                             first.empty() ? "" : ", the first: ", first));
  }

  void read_unit() {
    DWORD number = 0;
    call(NMR::lib3mf_model_getunit(model_.get(), &number), model_.get());
    const auto unit = std::find_if(kUnits.begin(), kUnits.end(), [&](const Unit& u) { return u.number == number; });
    if (unit == kUnits.end()) refuse(name_, fmt::format("unit number {}", number), "a unit of 3MF");
    out_.unit_m = unit->size_m;
    out_.unit_name = unit->name;
  }

  /// False if the item is no part of the mould.
  bool place_item(Object item, Object object, std::size_t number) {
    DWORD type = NMR::MODELOBJECTTYPE_MODEL;
    call(NMR::lib3mf_object_gettype(object, &type), object);
    if (type == NMR::MODELOBJECTTYPE_SUPPORT || type == NMR::MODELOBJECTTYPE_SOLIDSUPPORT) {
      ++supports_;
      return false;
    }
    const std::uint64_t more = facets_of(object, 0);
    if (out_.content.facets.size() + more > kMostFacets) {
      refuse(fmt::format("{}, item {}", name_, number), fmt::format("more than {} facets", kMostFacets),
             fmt::format("up to {} facets", kMostFacets), "Export it coarser");
    }
    Transform transform = Transform::Identity();
    BOOL has_transform = 0;
    call(NMR::lib3mf_builditem_hasobjecttransform(item, &has_transform), item);
    if (has_transform != 0) {
      NMR::MODELTRANSFORM given{};
      call(NMR::lib3mf_builditem_getobjecttransform(item, &given), item);
      transform = transform_of(given);
    }
    place(object, transform, number);
    return more > 0;
  }

  DWORD id_of(Object object) const {
    DWORD id = 0;
    call(NMR::lib3mf_resource_getresourceid(object, &id), object);
    return id;
  }

  bool is_mesh(Object object) const {
    BOOL answer = 0;
    call(NMR::lib3mf_object_ismeshobject(object, &answer), object);
    return answer != 0;
  }

  template <class Use>
  void for_each_component(Object object, const Use& use) const {
    DWORD count = 0;
    call(NMR::lib3mf_componentsobject_getcomponentcount(object, &count), object);
    for (DWORD i = 0; i < count; ++i) {
      Handle component, child;
      call(NMR::lib3mf_componentsobject_getcomponent(object, i, component.slot()), object);
      call(NMR::lib3mf_component_getobjectresource(component.get(), child.slot()), component.get());
      use(component.get(), child.get());
    }
  }

  /// Triangles of an object with all it is made of, counted before any is copied: twice two components, thirty times
  /// over, are a thousand million. At most one more than kMostFacets.
  std::uint64_t facets_of(Object object, int depth) {
    if (depth > kDeepestTree) {
      refuse(name_, fmt::format("components more than {} deep", kDeepestTree), "fewer", "Export the mould as one mesh");
    }
    const DWORD id = id_of(object);
    if (const auto known = counted_.find(id); known != counted_.end()) return known->second;
    std::uint64_t count = 0;
    if (is_mesh(object)) {
      DWORD triangles = 0, beams = 0;
      call(NMR::lib3mf_meshobject_gettrianglecount(object, &triangles), object);
      if (NMR::lib3mf_meshobject_getbeamcount(object, &beams) == LIB3MF_OK) beams_ += beams;
      count = triangles;
    } else {
      for_each_component(object, [&](Object, Object child) {
        count = std::min<std::uint64_t>(count + facets_of(child, depth + 1), kMostFacets + 1);
      });
    }
    counted_[id] = count;
    return count;
  }

  void place(Object object, const Transform& transform, std::size_t item) {
    if (counted_[id_of(object)] == 0) return;
    if (is_mesh(object)) {
      place_mesh(object, transform, item);
      return;
    }
    for_each_component(object, [&](Object component, Object child) {
      BOOL has_transform = 0;
      call(NMR::lib3mf_component_hastransform(component, &has_transform), component);
      NMR::MODELTRANSFORM given{};
      if (has_transform != 0) call(NMR::lib3mf_component_gettransform(component, &given), component);
      place(child, has_transform != 0 ? transform * transform_of(given) : transform, item);
    });
  }

  void place_mesh(Object object, const Transform& transform, std::size_t item) {
    DWORD point_count = 0, triangle_count = 0;
    call(NMR::lib3mf_meshobject_getvertexcount(object, &point_count), object);
    call(NMR::lib3mf_meshobject_gettrianglecount(object, &triangle_count), object);
    std::vector<NMR::MODELMESHVERTEX> given(point_count);
    std::vector<NMR::MODELMESHTRIANGLE> triangles(triangle_count);
    call(NMR::lib3mf_meshobject_getvertices(object, given.data(), point_count, nullptr), object);
    call(NMR::lib3mf_meshobject_gettriangleindices(object, triangles.data(), triangle_count, nullptr), object);
    std::vector<Vec3> points;
    points.reserve(given.size());
    for (const NMR::MODELMESHVERTEX& v : given) {
      const Vec3 p = transform * Vec3(v.m_fPosition[0], v.m_fPosition[1], v.m_fPosition[2]);
      if (!is_sane(p.x()) || !is_sane(p.y()) || !is_sane(p.z())) {
        refuse(fmt::format("{}, item {}, vertex {}", name_, item, points.size() + 1),
               fmt::format("the coordinates {}, {}, {}", p.x(), p.y(), p.z()), "finite coordinates",
               "Repair the mesh in the program that made it");
      }
      points.push_back(p);
    }
    const bool is_mirrored = transform.linear().determinant() < 0.0;
    if (is_mirrored) ++mirrored_;
    for (std::size_t f = 0; f < triangles.size(); ++f) {
      Facet facet;
      for (std::size_t k = 0; k < 3; ++k) {
        const DWORD n = triangles[f].m_nIndices[k];
        if (n >= points.size()) {
          refuse(fmt::format("{}, item {}, triangle {}", name_, item, f + 1), fmt::format("vertex {}", n),
                 fmt::format("0 to {}", points.size()), "Export the mould again");
        }
        facet[is_mirrored ? 2 - k : k] = points[n];
      }
      out_.content.facets.push_back(facet);
    }
  }

  void note_what_was_left() {
    const auto note = [&](std::uint64_t count, const char* what) {
      if (count > 0) out_.content.notes.push_back(fmt::format("{}: {} {}", name_, count, what));
    };
    Handle objects;
    call(NMR::lib3mf_model_getobjects(model_.get(), objects.slot()), model_.get());
    std::uint64_t unused = 0;
    while (moves_on(NMR::lib3mf_resourceiterator_movenext, objects.get())) {
      Handle object;
      call(NMR::lib3mf_resourceiterator_getcurrent(objects.get(), object.slot()), objects.get());
      if (!counted_.contains(id_of(object.get()))) ++unused;
    }
    note(supports_, "items of support were left out");
    note(unused, "objects are in no item of the build and were left out");
    note(beams_, "beams of a lattice were left out: only triangles count");
    note(mirrored_, "parts are mirrored by their transform; their triangles were turned to keep the outside out");
  }

  const std::string& name_;
  Handle model_;
  std::map<DWORD, std::uint64_t> counted_;  ///< triangles of each object looked at
  std::uint64_t supports_ = 0, beams_ = 0, mirrored_ = 0;
  ThreemfContent out_;
};

void check_archive(std::string_view bytes, const std::string& name) {
  if (bytes.empty()) refuse(name, "an empty file", "a whole 3MF file", kExportAgain);
  if (!bytes.starts_with("PK")) {
    refuse(name, "a file that does not start as a zip archive", "a whole 3MF file", "Is this a 3MF file?");
  }
  unpacked_bytes(bytes, name, kMostUnpacked_bytes);
}

}  // namespace

ThreemfContent read_3mf_here(std::string_view bytes, const std::string& name) {
  check_archive(bytes, name);
  return ThreemfReader(bytes, name).read();
}

}  // namespace pellicle::moulds
