// How are bytes carried inside a page? Base64, RFC 4648 section 4, with padding.
#pragma once

#include <cstdint>
#include <span>
#include <string>

namespace pellicle::report {

/// Four letters for three bytes, the last four padded with '='.
std::string base64(std::span<const std::uint8_t> bytes);

}  // namespace pellicle::report
