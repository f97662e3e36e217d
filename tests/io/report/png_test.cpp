// Does the packed picture hold the same pixels? Read back by libpng.
#include "io/report/png.h"

#include <gtest/gtest.h>
#include <png.h>

namespace pellicle::report {
namespace {

TEST(Png, GivesBackEveryPixel) {
  Picture picture{7, 5, {}};
  for (int i = 0; i < 4 * 7 * 5; ++i) picture.rgba.push_back(static_cast<std::uint8_t>(37 * i + 11));
  const std::vector<std::uint8_t> bytes = png(picture);
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  ASSERT_NE(png_image_begin_read_from_memory(&image, bytes.data(), bytes.size()), 0) << image.message;
  EXPECT_EQ(image.width, 7U);
  EXPECT_EQ(image.height, 5U);
  image.format = PNG_FORMAT_RGBA;
  std::vector<std::uint8_t> back(PNG_IMAGE_SIZE(image));
  ASSERT_NE(png_image_finish_read(&image, nullptr, back.data(), 0, nullptr), 0) << image.message;
  EXPECT_EQ(back, picture.rgba);
}

TEST(Png, RefusesAPictureOfAnotherSize) { EXPECT_THROW(png({3, 3, {1, 2, 3}}), std::logic_error); }

}  // namespace
}  // namespace pellicle::report
