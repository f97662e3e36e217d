// Does what is looked at in a STEP file before the library sees it hold against any bytes?
#include "io/moulds/step.h"
#include "tests/fuzz/fuzz.h"

#include <vector>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace pellicle;
  return fuzz::hold_to_promise(data, size, [](std::string_view bytes) {
    moulds::look_at_step(bytes, "fuzz.step");
    return std::vector<moulds::Facet>{};
  });
}
