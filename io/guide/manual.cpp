// What stands on the manual page? The command line as the program reads it, the files, and what to take care of.
#include "io/guide/manual.h"

#include "io/results/cautions.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdint>
#include <string_view>

namespace pellicle::guide {
namespace {

/// Length of the UTF-8 sequence that begins with this byte (RFC 3629, section 3).
std::size_t sequence_length(unsigned char lead) { return lead < 0x80U ? 1 : lead < 0xE0U ? 2 : lead < 0xF0U ? 3 : 4; }

std::uint32_t code_point(std::string_view sequence) {
  const auto byte = [&](std::size_t i) { return static_cast<std::uint32_t>(static_cast<unsigned char>(sequence[i])); };
  if (sequence.size() == 1) return byte(0);
  std::uint32_t code = byte(0) & (0xFFU >> (sequence.size() + 1));
  for (std::size_t i = 1; i < sequence.size(); ++i) code = code << 6U | (byte(i) & 0x3FU);
  return code;
}

/// As roff takes it literally: no escapes, no request at the start of a line, a minus that can be copied to a shell.
std::string roff(std::string_view text) {
  std::string out;
  if (text.starts_with('.') || text.starts_with('\'')) out = "\\&";
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t length = std::min(sequence_length(static_cast<unsigned char>(text[i])), text.size() - i);
    if (length > 1)
      out += fmt::format("\\[u{:04X}]", code_point(text.substr(i, length)));
    else if (text[i] == '\\')
      out += "\\e";
    else if (text[i] == '-')
      out += "\\-";
    else
      out += text[i] == '\n' ? ' ' : text[i];
    i += length;
  }
  return out;
}

std::string bold(std::string_view text) { return fmt::format("\\fB{}\\fR", roff(text)); }
std::string slanted(std::string_view text) { return fmt::format("\\fI{}\\fR", roff(text)); }

/// "TEXT" and "INT:INT in [0 - 1024]" in a word: what the value is stands in the text beside it.
std::string value_word(const std::string& type) {
  if (type.starts_with("INT") || type.starts_with("UINT")) return "N";
  return type.starts_with("FLOAT") ? "NUMBER" : "VALUE";
}

std::string operand_text(const ArgumentHelp& operand) {
  const std::string name = slanted(operand.names.front()) + (operand.repeats ? " ..." : "");
  return operand.is_required ? name : fmt::format("[{}]", name);
}

std::string synopsis(const CommandHelp& command, std::string_view program) {
  std::string out = fmt::format(".B {}\n{}", roff(program), bold(command.name));
  for (const ArgumentHelp& operand : command.operands) out += fmt::format(" {}", operand_text(operand));
  return out + (command.options.empty() ? "\n" : fmt::format(" [{}]\n", slanted("OPTIONS")));
}

std::string arguments(const CommandHelp& command) {
  std::string out;
  for (const ArgumentHelp& operand : command.operands)
    out += fmt::format(".TP\n{}\n{}\n", slanted(operand.names.front()), roff(operand.means));
  for (const ArgumentHelp& option : command.options) {
    std::vector<std::string> names;
    for (const std::string& name : option.names) names.push_back(bold(name));
    const std::string value = option.type.empty() ? "" : fmt::format(" {}", slanted(value_word(option.type)));
    out += fmt::format(".TP\n{}{}\n{}\n", fmt::join(names, ", "), value, roff(option.means));
  }
  return out;
}

constexpr std::string_view kFiles = R"(.TP
.I case.toml
what goes in: sheet, mould, stages, reliefs, limits; every quantity with its unit.
\fBpellicle schema\fR tells every key.
.TP
.I report.html
the answer on one page, in the results folder: verdict, places, advice, pictures. Opens in any browser, offline.
.TP
.I summary.json
the same answers for programs.
.TP
.I open.py
opens sheet, mould and reliefs in ParaView: \fBparaview \-\-script=open.py\fR in the results folder.
.TP
.I checkpoint.h5
what \fBpellicle resume\fR goes on from.
)";

constexpr std::string_view kExamples = R"(.EX
pellicle new my\-label
pellicle check my\-label
pellicle run my\-label
pellicle export my\-label\-results
.EE
)";

}  // namespace

std::string manual_page(const ProgramHelp& help) {
  const std::string name = roff(help.program.name);
  std::string out = fmt::format(".TH {0} 1 \"\" \"{0} {1}\" \"User Commands\"\n.SH NAME\n{0} \\- {2}\n", name,
                                roff(PELLICLE_VERSION), roff(help.program.means));
  out += ".SH SYNOPSIS\n";
  for (const CommandHelp& command : help.commands) out += synopsis(command, help.program.name) + ".br\n";
  out += fmt::format(".SH OPTIONS\n{}.SH COMMANDS\n", arguments(help.program));
  for (const CommandHelp& command : help.commands)
    out += fmt::format(".SS {}\n{}.\n{}", roff(command.name), roff(command.means), arguments(command));
  out += fmt::format(".SH FILES\n{}.SH EXIT STATUS\n{}\n.SH EXAMPLES\n{}.SH CAUTIONS\n", kFiles, roff(help.exit_codes),
                     kExamples);
  for (const results::Caution& caution : results::kCautions)
    out += fmt::format(".IP \\(bu 2\n{}\n", roff(caution.full));
  return out + fmt::format(".PP\n{}\n", roff(results::kNoApproval));
}

}  // namespace pellicle::guide
