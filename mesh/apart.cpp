// How is a library that may crash or take all memory kept from doing so to the program? A child process hands its
// answer over in a file without a name: first a letter that says what it is, then the bytes.
#include "mesh/apart.h"

#include "mesh/check.h"

#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <exception>
#include <memory>
#include <new>

namespace pellicle::mesh {
namespace {

constexpr char kAnswer = 'A', kError = 'E';

struct Closer {
  void operator()(std::FILE* file) const { std::fclose(file); }
};
using File = std::unique_ptr<std::FILE, Closer>;

[[noreturn]] void refuse(const std::string& where, std::string found) {
  throw Error({Fault::Kind::kGeometry, where, std::move(found), "a file the library can read", "Export it as STL"});
}

[[noreturn]] void out_of_machine(const std::string& what) {
  throw Error({Fault::Kind::kMachine, what, std::strerror(errno), "room for one more process and a file", ""});
}

void keep_within(const Allowance& allowance) {
  const rlimit time{allowance.seconds, allowance.seconds + 1};
  ::setrlimit(RLIMIT_CPU, &time);
#if !defined(__SANITIZE_ADDRESS__)  // the sanitizer reserves terabytes for its own books
  const rlimit memory{allowance.memory_bytes, allowance.memory_bytes};
  ::setrlimit(RLIMIT_AS, &memory);
#endif
}

/// The parts of a fault end with a zero byte each.
std::string packed(const Fault& fault) {
  std::string bytes(1, static_cast<char>(fault.kind));
  for (const std::string* part : {&fault.where, &fault.found, &fault.allowed, &fault.advice}) bytes += *part + '\0';
  return bytes;
}

Fault unpacked(const std::string& bytes) {
  Fault fault;
  fault.kind = static_cast<Fault::Kind>(bytes.empty() ? static_cast<char>(Fault::Kind::kGeometry) : bytes[0]);
  std::size_t at = 1;
  for (std::string* part : {&fault.where, &fault.found, &fault.allowed, &fault.advice}) {
    const std::size_t end = std::min(bytes.find('\0', at), bytes.size());
    if (at < end) *part = bytes.substr(at, end - at);
    at = end + 1;
  }
  return fault;
}

[[noreturn]] void be_child(const std::string& where, std::FILE* file, const std::function<std::string()>& work) {
  const auto say = [&](char what, const std::string& bytes) {
    std::fputc(what, file);
    std::fwrite(bytes.data(), 1, bytes.size(), file);
    return std::fflush(file) == 0;
  };
  bool is_told = false;
  try {
    try {
      is_told = say(kAnswer, work());
    } catch (const Error&) {
      throw;
    } catch (const std::bad_alloc&) {
      refuse(where, "a file that takes more memory than it is given");
    } catch (const std::exception& error) {
      refuse(where, error.what());
    }
  } catch (const Error& error) {
    is_told = say(kError, packed(error.fault()));
  } catch (...) {
  }
  std::_Exit(is_told ? 0 : 1);  // no destructors: they belong to the parent
}

std::string all_of(std::FILE* file) {
  std::string bytes;
  std::rewind(file);
  std::array<char, 65536> part;
  for (std::size_t size = 1; size > 0;) {
    size = std::fread(part.data(), 1, part.size(), file);
    bytes.append(part.data(), size);
  }
  return bytes;
}

}  // namespace

std::string run_apart(const std::string& where, const Allowance& allowance, const std::function<std::string()>& work) {
  const File file(std::tmpfile());
  if (!file) out_of_machine("a file to work in");
  std::fflush(nullptr);  // or the child would write it once more
  const ::pid_t child = ::fork();
  if (child < 0) out_of_machine("a process of its own");
  if (child == 0) {
    keep_within(allowance);
    be_child(where, file.get(), work);
  }
  int status = 0;
  while (::waitpid(child, &status, 0) < 0 && errno == EINTR) {
  }
  if (WIFSIGNALED(status) && (WTERMSIG(status) == SIGXCPU || WTERMSIG(status) == SIGKILL)) {
    refuse(where, "a file that takes the library more than " + std::to_string(allowance.seconds) + " s");
  }
  if (WIFSIGNALED(status)) {
    refuse(where, "a file on which the library breaks down (signal " + std::to_string(WTERMSIG(status)) + ")");
  }
  const std::string bytes = all_of(file.get());
  if (bytes.empty() || !WIFEXITED(status) || WEXITSTATUS(status) != 0) refuse(where, "a file that gives no answer");
  if (bytes[0] == kError) throw Error(unpacked(bytes.substr(1)));
  return bytes.substr(1);
}

}  // namespace pellicle::mesh
