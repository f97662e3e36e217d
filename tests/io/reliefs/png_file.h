// How is a PNG written for a test? With libpng itself, to memory.
#pragma once

#include <png.h>

#include <cstddef>
#include <cstdint>
#include <stdexcept>
#include <string>
#include <vector>

namespace pellicle::reliefs {

/// Rows from the top; `samples` one after another: 2 bytes each for 16 bits, else 1 byte each.
inline std::string png_bytes(int nx, int ny, int bits, int colour_type, int channels,
                             const std::vector<std::uint16_t>& samples, bool interlaced = false) {
  std::string out;
  png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
  png_infop info = png_create_info_struct(png);
  if (setjmp(png_jmpbuf(png)) != 0) throw std::runtime_error("libpng does not write this");
  png_set_write_fn(
      png, &out,
      [](png_structp p, png_bytep data, std::size_t count) {
        static_cast<std::string*>(png_get_io_ptr(p))->append(reinterpret_cast<const char*>(data), count);
      },
      [](png_structp) {});
  png_set_IHDR(png, info, static_cast<png_uint_32>(nx), static_cast<png_uint_32>(ny), bits, colour_type,
               interlaced ? PNG_INTERLACE_ADAM7 : PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_BASE, PNG_FILTER_TYPE_BASE);
  if (colour_type == PNG_COLOR_TYPE_PALETTE) {
    const png_color palette[2]{{0, 0, 0}, {255, 255, 255}};
    png_set_PLTE(png, info, palette, 2);
  }
  png_write_info(png, info);
  std::vector<png_byte> bytes;
  for (const std::uint16_t sample : samples) {
    if (bits == 16) bytes.push_back(static_cast<png_byte>(sample >> 8U));
    bytes.push_back(static_cast<png_byte>(sample & 0xFFU));
  }
  const auto row = static_cast<std::size_t>(nx * channels * (bits == 16 ? 2 : 1));
  std::vector<png_bytep> rows;
  for (int j = 0; j < ny; ++j) rows.push_back(bytes.data() + row * static_cast<std::size_t>(j));
  png_write_image(png, rows.data());
  png_write_end(png, info);
  png_destroy_write_struct(&png, &info);
  return out;
}

inline std::string grey16(int nx, int ny, const std::vector<std::uint16_t>& greys, bool interlaced = false) {
  return png_bytes(nx, ny, 16, PNG_COLOR_TYPE_GRAY, 1, greys, interlaced);
}

}  // namespace pellicle::reliefs
