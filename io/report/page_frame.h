// What stands round every page: of a run, of a comparison, of a sweep? Head, first answer, links, cautions and foot.
#pragma once

#include <string>

namespace pellicle::report {

/// Plain texts, escaped by `framed`; `body` and `after` are HTML, made of `section`s, and so are `groups` and
/// `scripts`.
struct PageText {
  std::string title, facts;
  std::string answer;        ///< said first
  const char* answer_style;  ///< "fine", "doubt", "fails", "unasked"
  std::string reason, body, closing;
  std::string groups{};   ///< below the reason: what the answer is made of
  std::string after{};    ///< sections below the cautions
  std::string scripts{};  ///< elements at the end; none: the page may run nothing
};
/// The HTML document; asks for nothing from outside.
std::string framed(const PageText& text);

/// One section with its heading; nothing where there is nothing inside. Its id is one of those `framed` links to.
std::string section(const char* id, const char* title, const std::string& body);

}  // namespace pellicle::report
