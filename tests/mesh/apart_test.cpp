// Work done apart hands over its answer or its Error, and takes nothing with it when it crashes, swells or hangs.
#include "mesh/apart.h"

#include "mesh/check.h"

#include <gtest/gtest.h>

#include <csignal>
#include <cstdlib>
#include <stdexcept>
#include <vector>

namespace pellicle::mesh {
namespace {

constexpr Allowance kPlenty{8'000'000'000, 60};

Fault fault_of(const Allowance& allowance, const std::function<std::string()>& work) {
  try {
    run_apart("m.step", allowance, work);
  } catch (const Error& error) {
    return error.fault();
  }
  ADD_FAILURE() << "no Error";
  return {};
}

TEST(Apart, HandsOverTheAnswerAndNothingElse) {
  int changed = 1;
  std::string answer(3'000'000, 'x');
  answer[1] = '\0';
  EXPECT_EQ(run_apart("m.step", kPlenty,
                      [&] {
                        changed = 2;
                        return answer;
                      }),
            answer);
  EXPECT_EQ(changed, 1);
  EXPECT_EQ(run_apart("m.step", kPlenty, [] { return std::string(); }), "");
}

TEST(Apart, AnErrorIsThrownHereWithAllItsParts) {
  const Fault fault = fault_of(kPlenty, []() -> std::string {
    throw Error({Fault::Kind::kCase, "where", "found", "", "advice"});
  });
  EXPECT_EQ(fault.kind, Fault::Kind::kCase);
  EXPECT_EQ(fault.where, "where");
  EXPECT_EQ(fault.found, "found");
  EXPECT_EQ(fault.allowed, "");
  EXPECT_EQ(fault.advice, "advice");
}

TEST(Apart, WhatEndsTheChildIsAnErrorHere) {
  EXPECT_NE(fault_of(kPlenty, []() -> std::string { throw std::runtime_error("odd"); }).found.find("odd"),
            std::string::npos);
  EXPECT_NE(fault_of(kPlenty, []() -> std::string { throw 7; }).found.find("no answer"), std::string::npos);
  EXPECT_NE(fault_of(kPlenty,
                     []() -> std::string {
                       std::signal(SIGSEGV, SIG_DFL);
                       std::raise(SIGSEGV);
                       return "";
                     })
                .found.find("breaks down (signal 11)"),
            std::string::npos);
  EXPECT_NE(fault_of({8'000'000'000, 1},
                     []() -> std::string {
                       volatile bool goes_on = true;
                       while (goes_on) {
                       }
                       return "";
                     })
                .found.find("more than 1 s"),
            std::string::npos);
#if !defined(__SANITIZE_ADDRESS__)
  EXPECT_NE(fault_of({500'000'000, 60}, [] { return std::string(1'000'000'000, 'x'); }).found.find("memory"),
            std::string::npos);
#endif
}

}  // namespace
}  // namespace pellicle::mesh
