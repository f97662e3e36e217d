// How much does a zip archive hold once it is unpacked? Asked before a library unpacks it into memory.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace pellicle::moulds {

/// Bytes of all entries, unpacked. Every entry is unpacked once, without being kept, because the size an archive states
/// need not be true. Throws Error (geometry) for what is no zip archive, is cut short, lies about a size, or holds more
/// than `most`; `name` is what to call the file.
std::uint64_t unpacked_bytes(std::string_view bytes, const std::string& name, std::uint64_t most);

}  // namespace pellicle::moulds
