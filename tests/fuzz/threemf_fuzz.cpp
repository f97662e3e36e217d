// Does the reader of 3MF files hold against any archive, and against any model text in a sound archive?
//
// Bytes that start with "PK" are the archive itself. Others are the text of the model, deflated here into an archive
// with the two small files the format asks for: mutations of a deflated text would never get through to the reader.
#include "io/moulds/threemf.h"
#include "tests/fuzz/fuzz.h"
#include "tests/io/moulds/zip_file.h"

#include <zlib.h>

namespace {

pellicle::moulds::ZipEntry deflated(std::string name, std::string_view text) {
  std::string packed(compressBound(text.size()) + 64, '\0');
  z_stream z{};
  if (deflateInit2(&z, 1, Z_DEFLATED, -MAX_WBITS, 8, Z_DEFAULT_STRATEGY) != Z_OK) std::abort();
  z.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(text.data()));
  z.avail_in = static_cast<uInt>(text.size());
  z.next_out = reinterpret_cast<Bytef*>(packed.data());
  z.avail_out = static_cast<uInt>(packed.size());
  if (deflate(&z, Z_FINISH) != Z_STREAM_END) std::abort();
  packed.resize(z.total_out);
  deflateEnd(&z);
  const auto crc =
      static_cast<std::uint32_t>(crc32(0, reinterpret_cast<const Bytef*>(text.data()), static_cast<uInt>(text.size())));
  return {std::move(name), std::move(packed), text.size(), 8, crc};
}

std::string archive(std::string_view model) {
  using pellicle::moulds::stored;
  return pellicle::moulds::zip_bytes(
      {stored(
           "[Content_Types].xml",
           R"(<?xml version="1.0" encoding="UTF-8"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>)"),
       stored(
           "_rels/.rels",
           R"(<?xml version="1.0" encoding="UTF-8"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/3dmodel.model" Id="rel0" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>)"),
       deflated("3D/3dmodel.model", model)});
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace pellicle;
  return fuzz::hold_to_promise(data, size, [](std::string_view bytes) {
    const std::string packed = bytes.starts_with("PK") ? std::string(bytes) : archive(bytes);
    return moulds::read_3mf_here(packed, "fuzz.3mf").content.facets;
  });
}
