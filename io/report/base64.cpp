// How are bytes carried inside a page? Base64, RFC 4648 section 4, with padding.
#include "io/report/base64.h"

#include <string_view>

namespace pellicle::report {

std::string base64(std::span<const std::uint8_t> bytes) {
  constexpr std::string_view kLetters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  out.reserve((bytes.size() + 2) / 3 * 4);
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    const std::size_t left = bytes.size() - i;
    const std::uint32_t three = static_cast<std::uint32_t>(bytes[i]) << 16U |
                                (left > 1 ? static_cast<std::uint32_t>(bytes[i + 1]) << 8U : 0U) |
                                (left > 2 ? static_cast<std::uint32_t>(bytes[i + 2]) : 0U);
    out += kLetters[three >> 18U];
    out += kLetters[three >> 12U & 63U];
    out += left > 1 ? kLetters[three >> 6U & 63U] : '=';
    out += left > 2 ? kLetters[three & 63U] : '=';
  }
  return out;
}

}  // namespace pellicle::report
