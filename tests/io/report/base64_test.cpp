// Does a browser get back the bytes? Held against the test vectors of RFC 4648, section 10.
#include "io/report/base64.h"

#include <gtest/gtest.h>

#include <string_view>

namespace pellicle::report {
namespace {

std::string of(std::string_view text) {
  return base64({reinterpret_cast<const std::uint8_t*>(text.data()), text.size()});
}

TEST(Base64, AgreesWithThePublishedVectors) {
  EXPECT_EQ(of(""), "");
  EXPECT_EQ(of("f"), "Zg==");
  EXPECT_EQ(of("fo"), "Zm8=");
  EXPECT_EQ(of("foo"), "Zm9v");
  EXPECT_EQ(of("foob"), "Zm9vYg==");
  EXPECT_EQ(of("fooba"), "Zm9vYmE=");
  EXPECT_EQ(of("foobar"), "Zm9vYmFy");
}

TEST(Base64, UsesAllOfTheAlphabet) {
  // 0xFBEFBE is 62 four times, 0xFFFFFF 63 four times.
  EXPECT_EQ(of("\xFB\xEF\xBE\xFF\xFF\xFF"), "++++////");
}

}  // namespace
}  // namespace pellicle::report
