// How is a zip archive, or a 3MF file in one, made for a test? Entries stored as they are, with true sums.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace pellicle::moulds {

inline void put_le(std::string& bytes, std::uint64_t value, unsigned size) {
  for (unsigned i = 0; i < size; ++i, value = i < 8 ? value >> 8U : 0) bytes += static_cast<char>(value & 0xFFU);
}

/// The sum every zip entry carries (polynomial 0xEDB88320).
inline std::uint32_t crc32_of(std::string_view bytes) {
  std::uint32_t crc = 0xFFFFFFFFU;
  for (const char c : bytes) {
    crc ^= static_cast<unsigned char>(c);
    for (int bit = 0; bit < 8; ++bit) crc = (crc >> 1U) ^ ((crc & 1U) != 0 ? 0xEDB88320U : 0U);
  }
  return ~crc;
}

struct ZipEntry {
  std::string name;
  std::string packed;          ///< as it stands in the archive
  std::uint64_t unpacked = 0;  ///< size it states
  unsigned method = 0;         ///< 0 stored, 8 deflated
  std::uint32_t crc = 0;
};

inline ZipEntry stored(std::string name, std::string bytes) {
  const std::uint32_t crc = crc32_of(bytes);
  const std::uint64_t size = bytes.size();
  return {std::move(name), std::move(bytes), size, 0, crc};
}

inline std::string zip_bytes(const std::vector<ZipEntry>& entries) {
  std::string bytes, list;
  for (const ZipEntry& e : entries) {
    const std::size_t local = bytes.size();
    const auto both = [&](std::string& out) {  // what the entry and the list say alike
      put_le(out, 20, 2);
      put_le(out, 0, 2);
      put_le(out, e.method, 2);
      put_le(out, 0, 4);
      put_le(out, e.crc, 4);
      put_le(out, e.packed.size(), 4);
      put_le(out, e.unpacked, 4);
      put_le(out, e.name.size(), 2);
      put_le(out, 0, 2);
    };
    put_le(bytes, 0x04034b50, 4);
    both(bytes);
    bytes += e.name + e.packed;
    put_le(list, 0x02014b50, 4);
    put_le(list, 20, 2);
    both(list);
    put_le(list, 0, 10);
    put_le(list, local, 4);
    list += e.name;
  }
  const std::size_t at = bytes.size();
  bytes += list;
  put_le(bytes, 0x06054b50, 4);
  put_le(bytes, 0, 4);
  put_le(bytes, entries.size(), 2);
  put_le(bytes, entries.size(), 2);
  put_le(bytes, list.size(), 4);
  put_le(bytes, at, 4);
  put_le(bytes, 0, 2);
  return bytes;
}

/// The three entries a 3MF file needs, around the XML of its model.
inline std::string threemf_bytes(const std::string& model_xml) {
  const std::string kind = "http://schemas.openxmlformats.org/package/2006/";
  return zip_bytes(
      {stored(
           "[Content_Types].xml",
           "<?xml version=\"1.0\" encoding=\"UTF-8\"?><Types xmlns=\"" + kind +
               "content-types\"><Default Extension=\"rels\" "
               "ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/><Default "
               "Extension=\"model\" ContentType=\"application/vnd.ms-package.3dmanufacturing-3dmodel+xml\"/></Types>"),
       stored("_rels/.rels", "<?xml version=\"1.0\" encoding=\"UTF-8\"?><Relationships xmlns=\"" + kind +
                                 "relationships\"><Relationship Target=\"/3D/3dmodel.model\" Id=\"rel0\" "
                                 "Type=\"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel\"/>"
                                 "</Relationships>"),
       stored("3D/3dmodel.model", model_xml)});
}

inline std::string model_xml(const std::string& unit, const std::string& resources, const std::string& build) {
  return "<?xml version=\"1.0\" encoding=\"UTF-8\"?><model unit=\"" + unit +
         "\" xml:lang=\"en-US\" xmlns=\"http://schemas.microsoft.com/3dmanufacturing/core/2015/02\"><resources>" +
         resources + "</resources><build>" + build + "</build></model>";
}

}  // namespace pellicle::moulds
