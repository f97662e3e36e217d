// Would a fault be found? A reader that looks one byte beyond a text that starts with "v".
#include "io/moulds/facet.h"
#include "tests/fuzz/fuzz.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace pellicle;
  return fuzz::hold_to_promise(data, size, [](std::string_view bytes) {
    if (bytes.starts_with('v') && bytes.data()[bytes.size()] == 'x') moulds::refuse("broken", "an x", "none");
    return std::vector<moulds::Facet>{};
  });
}
