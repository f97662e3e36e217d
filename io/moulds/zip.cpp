// How much does a zip archive hold once it is unpacked? The list of entries stands at the end of the file; its numbers
// are compared with the file's length first, and with what comes out of zlib then.
#include "io/moulds/zip.h"

#include "io/moulds/facet.h"

#include <fmt/format.h>

#define ZLIB_CONST  // input is const
#include <zlib.h>

#include <algorithm>
#include <array>

namespace pellicle::moulds {
namespace {

// Lengths and marks of the zip format (the archive's own records; little-endian throughout).
constexpr std::size_t kEnd_bytes = 22, kEntry_bytes = 46, kLocal_bytes = 30, kLocator64_bytes = 20;
constexpr std::uint32_t kEndMark = 0x06054b50, kEntryMark = 0x02014b50, kLocalMark = 0x04034b50;
constexpr std::uint32_t kLocator64Mark = 0x07064b50, kEnd64Mark = 0x06064b50;
constexpr std::size_t kLongestRemark = 65535;
constexpr std::uint64_t kIn64 = 0xFFFFFFFF;  // the number itself stands in a longer field elsewhere
constexpr unsigned kStored = 0, kDeflated = 8;
constexpr std::uint64_t kMostEntries = 10'000;

constexpr const char* kAllowed = "a whole zip archive";

struct Entry {
  std::uint64_t packed = 0, unpacked = 0, local = 0;
  unsigned method = 0;
};

class Archive {
 public:
  Archive(std::string_view bytes, const std::string& name) : bytes_(bytes), name_(name) {}

  std::uint64_t unpacked(std::uint64_t most) {
    find_list();
    std::vector<Entry> entries;
    std::uint64_t promised = 0, at = list_;
    for (std::uint64_t i = 0; i < count_; ++i) {
      entries.push_back(read_entry(at));
      promised += std::min(entries.back().unpacked, most + 1);  // a sum of 10 000 of these has room
    }
    if (promised > most) {
      refuse(name_,
             fmt::format("an archive of {} bytes that unpacks to more than {} MB", bytes_.size(), most / 1000000),
             fmt::format("up to {} MB unpacked", most / 1000000), "Export it coarser");
    }
    for (std::size_t i = 0; i < entries.size(); ++i) check_size(entries[i], i + 1);
    return promised;
  }

 private:
  [[noreturn]] void broken(const std::string& found) const { refuse(name_, found, kAllowed, kExportAgain); }

  std::uint64_t number(std::uint64_t at, std::size_t size) const {
    if (at > bytes_.size() || size > bytes_.size() - at) broken("an archive that points beyond its own end");
    std::uint64_t value = 0;
    for (std::size_t i = 0; i < size; ++i) {
      value |= static_cast<std::uint64_t>(static_cast<unsigned char>(bytes_[at + i])) << (8U * i);
    }
    return value;
  }

  void find_list() {
    if (bytes_.size() < kEnd_bytes) broken(fmt::format("{} bytes, too few for an archive", bytes_.size()));
    std::size_t end = bytes_.size() - kEnd_bytes;
    const std::size_t last = end > kLongestRemark ? end - kLongestRemark : 0;
    while (number(end, 4) != kEndMark) {
      if (end == last) broken("no list of entries at the end of the file");
      --end;
    }
    count_ = number(end + 10, 2);
    list_ = number(end + 16, 4);
    const bool has_locator = end >= kLocator64_bytes && number(end - kLocator64_bytes, 4) == kLocator64Mark;
    if (has_locator) {
      const std::uint64_t end64 = number(end - kLocator64_bytes + 8, 8);
      if (number(end64, 4) != kEnd64Mark) broken("no long list of entries where the archive says");
      count_ = number(end64 + 32, 8);
      list_ = number(end64 + 48, 8);
    }
    if (count_ == 0) broken("an archive without entries");
    if (count_ > kMostEntries || count_ > bytes_.size() / kEntry_bytes) {
      broken(fmt::format("{} entries promised in {} bytes", count_, bytes_.size()));
    }
  }

  Entry read_entry(std::uint64_t& at) const {
    if (number(at, 4) != kEntryMark) broken(fmt::format("no entry at byte {}", at));
    Entry entry;
    const bool is_locked = (number(at + 8, 2) & 1U) != 0;
    entry.method = static_cast<unsigned>(number(at + 10, 2));
    entry.packed = number(at + 20, 4);
    entry.unpacked = number(at + 24, 4);
    const std::uint64_t name_size = number(at + 28, 2), extra_size = number(at + 30, 2), remark = number(at + 32, 2);
    entry.local = number(at + 42, 4);
    if (is_locked) broken("an entry that is locked with a password");
    if (entry.method != kStored && entry.method != kDeflated) {
      broken(fmt::format("an entry packed by method {}", entry.method));
    }
    read_long_numbers(entry, at + kEntry_bytes + name_size, extra_size);
    at += kEntry_bytes + name_size + extra_size + remark;
    return entry;
  }

  /// Numbers of more than 4 bytes, in this order, each only if its short field says so.
  void read_long_numbers(Entry& entry, std::uint64_t at, std::uint64_t size) const {
    for (const std::uint64_t end = at + size; at + 4 <= end;) {
      const std::uint64_t kind = number(at, 2), length = number(at + 2, 2);
      if (kind == 1) {
        std::uint64_t from = at + 4;
        for (std::uint64_t* value : {&entry.unpacked, &entry.packed, &entry.local}) {
          if (*value != kIn64) continue;
          *value = number(from, 8);
          from += 8;
        }
        return;
      }
      at += 4 + length;
    }
  }

  void check_size(const Entry& entry, std::size_t place) const {
    if (number(entry.local, 4) != kLocalMark) broken(fmt::format("no entry {} where the archive says", place));
    const std::uint64_t start = entry.local + kLocal_bytes + number(entry.local + 26, 2) + number(entry.local + 28, 2);
    if (start > bytes_.size() || entry.packed > bytes_.size() - start) {
      broken(fmt::format("entry {} of {} packed bytes at byte {}, beyond the end", place, entry.packed, start));
    }
    const std::string_view packed = bytes_.substr(start, entry.packed);
    const bool is_true = entry.method == kStored ? entry.packed == entry.unpacked : inflates_to(packed, entry.unpacked);
    if (!is_true)
      broken(fmt::format("entry {}, which does not unpack to the {} bytes it states", place, entry.unpacked));
  }

  static bool inflates_to(std::string_view packed, std::uint64_t expected) {
    z_stream stream{};
    constexpr int kRaw = -MAX_WBITS;  // zip keeps deflate streams without a header
    if (inflateInit2(&stream, kRaw) != Z_OK) return false;
    std::array<unsigned char, 65536> room;
    std::uint64_t total = 0;
    int state = Z_OK;
    // zlib counts its input in 32 bits; a file may be longer.
    constexpr std::size_t kPiece = 1U << 30U;
    while (state == Z_OK && total <= expected) {
      if (stream.avail_in == 0) {
        const std::string_view piece = packed.substr(0, kPiece);
        packed.remove_prefix(piece.size());
        stream.next_in = reinterpret_cast<const unsigned char*>(piece.data());
        stream.avail_in = static_cast<unsigned>(piece.size());
      }
      stream.next_out = room.data();
      stream.avail_out = static_cast<unsigned>(room.size());
      state = inflate(&stream, Z_NO_FLUSH);
      total += room.size() - stream.avail_out;
    }
    inflateEnd(&stream);
    return state == Z_STREAM_END && total == expected;
  }

  std::string_view bytes_;
  const std::string& name_;
  std::uint64_t count_ = 0;
  std::uint64_t list_ = 0;  ///< where the list begins
};

}  // namespace

std::uint64_t unpacked_bytes(std::string_view bytes, const std::string& name, std::uint64_t most) {
  return Archive(bytes, name).unpacked(most);
}

}  // namespace pellicle::moulds
