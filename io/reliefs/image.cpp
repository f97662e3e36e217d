// What heights does a picture hold? The only file that includes png.h.
#include "io/reliefs/image.h"

#include "io/reliefs/refusals.h"

#include <fmt/format.h>
#include <png.h>

#include <algorithm>
#include <csetjmp>
#include <cstdint>
#include <cstring>
#include <new>
#include <vector>

namespace pellicle::reliefs {
namespace {

constexpr const char* kAllowed = "a 16-bit grey PNG";

/// What the library's callbacks share. They leave the library by longjmp only, never by an exception through C.
struct Stream {
  std::string_view bytes;
  std::size_t at = 0;
  char message[160] = {};
};

void take_bytes(png_structp png, png_bytep to, std::size_t count) {
  auto& stream = *static_cast<Stream*>(png_get_io_ptr(png));
  if (count > stream.bytes.size() - stream.at) png_error(png, "the file ends too early");
  std::memcpy(to, stream.bytes.data() + stream.at, count);
  stream.at += count;
}

[[noreturn]] void keep_message(png_structp png, png_const_charp message) {
  auto& stream = *static_cast<Stream*>(png_get_error_ptr(png));
  std::strncpy(stream.message, message, sizeof(stream.message) - 1);
  png_longjmp(png, 1);
}

void pass_over(png_structp, png_const_charp) {}  // a warning is about chunks that carry no heights

/// The two structures of the library, freed together.
class PngReader {
 public:
  PngReader(std::string_view bytes, const std::string& name) : name_(name), stream_{bytes, 0, {}} {
    png_ = png_create_read_struct(PNG_LIBPNG_VER_STRING, &stream_, keep_message, pass_over);
    info_ = png_ != nullptr ? png_create_info_struct(png_) : nullptr;
    if (info_ == nullptr) {
      png_destroy_read_struct(&png_, nullptr, nullptr);
      throw std::bad_alloc();
    }
    png_set_read_fn(png_, &stream_, take_bytes);
    png_set_user_limits(png_, 0x7fffffff, 0x7fffffff);  // told below, with advice
    png_set_chunk_cache_max(png_, 16);
    png_set_chunk_malloc_max(png_, 1U << 20U);
  }
  ~PngReader() { png_destroy_read_struct(&png_, &info_, nullptr); }
  PngReader(const PngReader&) = delete;
  PngReader& operator=(const PngReader&) = delete;

  void read_header() {
    if (!try_header()) refuse_shape(name_, fmt::format("a PNG with a broken start ({})", stream_.message), kAllowed);
    nx_ = png_get_image_width(png_, info_);
    ny_ = png_get_image_height(png_, info_);
    refuse_kind();
    refuse_size();
  }

  /// Greys, row by row from the top.
  std::vector<std::uint16_t> read_greys() {
    std::vector<png_byte> bytes(2 * static_cast<std::size_t>(nx_) * ny_);
    std::vector<png_bytep> rows(ny_);
    for (std::size_t j = 0; j < ny_; ++j) rows[j] = bytes.data() + 2 * nx_ * j;
    if (!try_rows(rows.data())) {
      refuse_shape(fmt::format("{}, row {} of {}", name_, std::min(row_ + 1, ny_), ny_),
                   fmt::format("broken pixels ({})", stream_.message), "a whole PNG",
                   "Export it again; a broken download or a full disk cuts files short");
    }
    std::vector<std::uint16_t> greys(bytes.size() / 2);
    for (std::size_t k = 0; k < greys.size(); ++k) {
      greys[k] = static_cast<std::uint16_t>(bytes[2 * k] << 8U | bytes[2 * k + 1]);  // the file's order of bytes
    }
    return greys;
  }

  int nx() const { return static_cast<int>(nx_); }
  int ny() const { return static_cast<int>(ny_); }

 private:
  // The two functions with setjmp hold nothing that a longjmp would leave behind.
  bool try_header() {
    if (setjmp(png_jmpbuf(png_)) != 0) return false;
    png_read_info(png_, info_);
    return true;
  }
  bool try_rows(png_bytepp rows) {
    if (setjmp(png_jmpbuf(png_)) != 0) return false;
    const int passes = png_set_interlace_handling(png_);
    png_read_update_info(png_, info_);
    for (int pass = 0; pass < passes; ++pass) {
      for (row_ = 0; row_ < ny_; ++row_) png_read_row(png_, rows[row_], nullptr);
    }
    png_read_end(png_, nullptr);
    return true;
  }

  void refuse_kind() const {
    const int bits = png_get_bit_depth(png_, info_), type = png_get_color_type(png_, info_);
    const char* advice = "Turn it to grey in a drawing program and export it as 16-bit grey PNG";
    if (type == PNG_COLOR_TYPE_PALETTE) refuse_shape(name_, "a picture with a palette", kAllowed, advice);
    if ((type & PNG_COLOR_MASK_COLOR) != 0) refuse_shape(name_, "a picture in colour", kAllowed, advice);
    if ((type & PNG_COLOR_MASK_ALPHA) != 0 || png_get_valid(png_, info_, PNG_INFO_tRNS) != 0) {
      refuse_shape(name_, "a grey picture with transparency", kAllowed, "Lay it on black and export it without");
    }
    if (bits != 16) {
      refuse_shape(name_, fmt::format("{} bits a pixel", bits), kAllowed,
                   "8 bits leave steps of 1/255 of the depth, which the sheet would show: export the heights with 16 "
                   "bits from where they come from; converting the picture adds none");
    }
  }

  void refuse_size() const {
    const auto most = static_cast<png_uint_32>(kLargestSide_px);
    if (nx_ <= most && ny_ <= most && static_cast<std::int64_t>(nx_) * ny_ <= kMostCells) return;
    refuse_shape(name_, fmt::format("{} x {} pixels", nx_, ny_),
                 fmt::format("up to {} a side and {} million in all", kLargestSide_px, kMostCells / 1'000'000),
                 "Scale it down: no finer than a quarter of the finest stroke is needed");
  }

  const std::string& name_;
  Stream stream_;
  png_structp png_ = nullptr;
  png_infop info_ = nullptr;
  png_uint_32 nx_ = 0, ny_ = 0;
  png_uint_32 row_ = 0;  // a member: it keeps its value over a longjmp
};

}  // namespace

mesh::HeightMap read_image(std::string_view bytes, const std::string& name, double pixel_m, double depth_m,
                           bool periodic) {
  constexpr std::size_t kSignature_bytes = 8;
  if (bytes.empty()) refuse_shape(name, "an empty file", kAllowed);
  const auto* start = reinterpret_cast<png_const_bytep>(bytes.data());
  if (bytes.size() < kSignature_bytes || png_sig_cmp(start, 0, kSignature_bytes) != 0) {
    refuse_shape(name, "a file that is not PNG, whatever its name", kAllowed, "Export the picture as PNG");
  }
  PngReader reader(bytes, name);
  reader.read_header();
  const std::vector<std::uint16_t> greys = reader.read_greys();
  const auto [low, high] = std::minmax_element(greys.begin(), greys.end());
  if (*low == *high) {
    refuse_shape(name, fmt::format("the grey {} all over", *low), "a picture with more than one grey",
                 "A flat picture has nothing to capture");
  }
  mesh::HeightMap map = mesh::flat_map(reader.nx(), reader.ny(), pixel_m, periodic);
  for (int j = 0; j < map.ny; ++j) {
    for (int i = 0; i < map.nx; ++i) map.at(i, map.ny - 1 - j) = depth_m * greys[map.index(i, j)] / 65535.0;
  }
  return map;
}

}  // namespace pellicle::reliefs
