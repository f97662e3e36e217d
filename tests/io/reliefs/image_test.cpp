// A 16-bit grey PNG is read back exactly; every other and every spoilt one is refused, and none is read beyond its end.
#include "io/reliefs/image.h"

#include "mesh/check.h"
#include "tests/io/reliefs/png_file.h"

#include <gtest/gtest.h>

#include <random>
#include <string>

namespace pellicle::reliefs {
namespace {

constexpr double kPixel_m = 0.05e-3, kDepth_m = 0.3e-3;

mesh::HeightMap read(const std::string& bytes) { return read_image(bytes, "leaf.png", kPixel_m, kDepth_m, false); }

Fault fault_of(const std::string& bytes) {
  try {
    read(bytes);
  } catch (const Error& error) {
    EXPECT_EQ(error.exit_code(), 3);
    return error.fault();
  }
  ADD_FAILURE() << "was taken";
  return {};
}

std::vector<std::uint16_t> random_greys(std::size_t count) {
  std::mt19937 source(11);
  std::vector<std::uint16_t> greys(count);
  for (auto& grey : greys) grey = static_cast<std::uint16_t>(source() >> 16U);
  return greys;
}

TEST(Image, IsReadBackExactlyItsLastRowBelow) {
  std::vector<std::uint16_t> greys = random_greys(37 * 23);
  greys[0] = 0;
  greys[1] = 65535;
  for (const bool interlaced : {false, true}) {
    const mesh::HeightMap map = read(grey16(37, 23, greys, interlaced));
    ASSERT_EQ(map.nx, 37);
    ASSERT_EQ(map.ny, 23);
    EXPECT_EQ(map.spacing_m, kPixel_m);
    EXPECT_EQ(map.at(0, 22), 0.0);
    EXPECT_EQ(map.at(1, 22), kDepth_m);
    for (int j = 0; j < 23; ++j) {
      for (int i = 0; i < 37; ++i) {
        const auto grey = greys[static_cast<std::size_t>(j * 37 + i)];
        ASSERT_EQ(map.at(i, 22 - j), kDepth_m * grey / 65535.0) << i << ", " << j;
      }
    }
  }
}

TEST(Image, OtherKindsAreRefusedWithAdvice) {
  const std::vector<std::uint16_t> two{0, 1};
  const std::vector<std::uint16_t> six{0, 1, 2, 3, 4, 5};
  const Fault eight_bits = fault_of(png_bytes(2, 1, 8, PNG_COLOR_TYPE_GRAY, 1, two));
  EXPECT_EQ(eight_bits.where, "leaf.png");
  EXPECT_EQ(eight_bits.found, "8 bits a pixel");
  EXPECT_NE(eight_bits.advice.find("1/255"), std::string::npos);
  EXPECT_EQ(fault_of(png_bytes(2, 1, 8, PNG_COLOR_TYPE_RGB, 3, six)).found, "a picture in colour");
  EXPECT_EQ(fault_of(png_bytes(2, 1, 16, PNG_COLOR_TYPE_RGB, 3, six)).found, "a picture in colour");
  EXPECT_EQ(fault_of(png_bytes(2, 1, 8, PNG_COLOR_TYPE_PALETTE, 1, two)).found, "a picture with a palette");
  EXPECT_EQ(fault_of(png_bytes(2, 1, 16, PNG_COLOR_TYPE_GRAY_ALPHA, 2, {0, 1, 2, 3})).found,
            "a grey picture with transparency");
  EXPECT_EQ(fault_of(grey16(2, 2, {7, 7, 7, 7})).found, "the grey 7 all over");
}

TEST(Image, SpoiltFilesAreRefused) {
  const std::string good = grey16(16, 16, random_greys(256));
  EXPECT_EQ(fault_of("").found, "an empty file");
  EXPECT_NE(fault_of("\xFF\xD8\xFF\xE0 a photograph").found.find("not PNG"), std::string::npos);
  EXPECT_NE(fault_of(good.substr(0, 4)).found.find("not PNG"), std::string::npos);
  EXPECT_NE(fault_of(good.substr(0, 20)).found.find("broken start"), std::string::npos);
  const Fault cut = fault_of(good.substr(0, good.size() / 2));
  EXPECT_NE(cut.where.find("leaf.png, row "), std::string::npos) << cut.where;
  EXPECT_NE(cut.found.find("ends too early"), std::string::npos) << cut.found;
  std::string flipped = good;
  flipped[good.size() / 2] = static_cast<char>(flipped[good.size() / 2] ^ 0x10);
  EXPECT_NE(fault_of(flipped).found.find("broken pixels"), std::string::npos);
}

/// The size stands in bytes 16 to 23; the check value behind it is put right, so that the size itself is looked at.
std::string with_size(std::string bytes, std::uint32_t nx, std::uint32_t ny) {
  for (unsigned k = 0; k < 4; ++k) {
    bytes[16 + k] = static_cast<char>(nx >> (24U - 8U * k));
    bytes[20 + k] = static_cast<char>(ny >> (24U - 8U * k));
  }
  std::uint32_t crc = 0xFFFFFFFFU;  // of the PNG specification, annex D
  for (std::size_t k = 12; k < 29; ++k) {
    crc ^= static_cast<unsigned char>(bytes[k]);
    for (int bit = 0; bit < 8; ++bit) crc = (crc & 1U) != 0 ? crc >> 1U ^ 0xEDB88320U : crc >> 1U;
  }
  crc ^= 0xFFFFFFFFU;
  for (unsigned k = 0; k < 4; ++k) bytes[29 + k] = static_cast<char>(crc >> (24U - 8U * k));
  return bytes;
}

TEST(Image, SizesBeyondTheLimitsAreRefusedBeforeMemoryIsAskedFor) {
  const std::string good = grey16(16, 16, random_greys(256));
  EXPECT_EQ(read(with_size(good, 16, 16)).nx, 16);
  EXPECT_EQ(fault_of(with_size(good, 2'000'000'000, 2'000'000'000)).found, "2000000000 x 2000000000 pixels");
  EXPECT_EQ(fault_of(with_size(good, 16'385, 1)).found, "16385 x 1 pixels");
  EXPECT_EQ(fault_of(with_size(good, 8'000, 2'001)).found, "8000 x 2001 pixels");
  EXPECT_NE(fault_of(with_size(good, 0, 16)).found.find("broken start"), std::string::npos);
  EXPECT_NE(fault_of(with_size(good, 16, 400)).found.find("broken pixels"), std::string::npos);
}

/// Whatever is done to the bytes: heights or a refusal, never a crash (the sanitized build looks closer).
TEST(Image, ChangedBytesNeverDoHarm) {
  const std::string good = grey16(12, 9, random_greys(108));
  std::mt19937 source(5);
  int taken = 0, refused = 0;
  for (int round = 0; round < 2000; ++round) {
    std::string bytes = good;
    for (unsigned n = 1 + source() % 4; n > 0; --n) bytes[source() % bytes.size()] = static_cast<char>(source());
    if (source() % 4 == 0) bytes.resize(source() % bytes.size());
    try {
      read(bytes);
      ++taken;
    } catch (const Error&) {
      ++refused;
    }
  }
  EXPECT_EQ(taken + refused, 2000);
  EXPECT_GT(refused, 1900);
}

}  // namespace
}  // namespace pellicle::reliefs
