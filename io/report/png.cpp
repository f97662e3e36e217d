// How is a picture packed? As PNG, the bytes alone, by libpng's simple interface: it reports by return value, so no
// longjmp crosses our objects.
#include "io/report/png.h"

#include "mesh/check.h"

#include <png.h>

#include <new>

namespace pellicle::report {

std::vector<std::uint8_t> png(const Picture& picture) {
  ensure(
      picture.width > 0 && picture.height > 0 &&
          picture.rgba.size() == 4 * static_cast<std::size_t>(picture.width) * static_cast<std::size_t>(picture.height),
      "a picture has four bytes for each pixel");
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  image.width = static_cast<png_uint_32>(picture.width);
  image.height = static_cast<png_uint_32>(picture.height);
  image.format = PNG_FORMAT_RGBA;
  std::vector<std::uint8_t> bytes(PNG_IMAGE_PNG_SIZE_MAX(image));
  png_alloc_size_t size = bytes.size();
  if (png_image_write_to_memory(&image, bytes.data(), &size, 0, picture.rgba.data(), 0, nullptr) == 0)
    throw std::bad_alloc();
  bytes.resize(size);
  return bytes;
}

}  // namespace pellicle::report
