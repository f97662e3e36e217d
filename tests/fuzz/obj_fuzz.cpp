// Does the reader of OBJ files hold against any bytes?
#include "io/moulds/obj.h"
#include "tests/fuzz/fuzz.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace pellicle;
  return fuzz::hold_to_promise(data, size,
                               [](std::string_view bytes) { return moulds::read_obj(bytes, "fuzz.obj").facets; });
}
