// What stands round every page of a comparison? Head, first answer, links, cautions and foot.
#pragma once

#include <string>

namespace pellicle::compare {

/// Plain texts, escaped by `framed`; `body` is HTML, made of `section`s.
struct PageText {
  std::string title, facts;
  std::string answer;        ///< said first
  const char* answer_style;  ///< "fine", "doubt", "fails", "unasked"
  std::string reason, body, closing;
};
/// The HTML document; asks for nothing from outside, runs no script.
std::string framed(const PageText& text);

/// One section with its heading. Its id is one of those `framed` links to.
std::string section(const char* id, const char* title, const std::string& body);

}  // namespace pellicle::compare
