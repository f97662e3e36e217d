// What does the Tab key offer? A script for the shell: commands, options, cases, results, tables.
#include "io/guide/completion.h"

#include "io/verify/problem.h"

#include <fmt/format.h>

#include <algorithm>
#include <string_view>

namespace pellicle::guide {
namespace {

/// What stands for a value: one word of the script.
enum class Kind { kNothing, kFolder, kCase, kResults, kTable, kFile, kProblem };

const char* word_of(Kind kind) {
  switch (kind) {
    case Kind::kNothing:
      return "nothing";
    case Kind::kFolder:
      return "folder";
    case Kind::kCase:
      return "case";
    case Kind::kResults:
      return "results";
    case Kind::kTable:
      return "table";
    case Kind::kFile:
      return "file";
    case Kind::kProblem:
      return "problem";
  }
  return "";
}

bool says(const ArgumentHelp& argument, std::string_view word) {
  return argument.means.find(word) != std::string::npos;
}

/// From the names and words of an operand; one that says nothing of itself may be any file.
Kind kind_of_operand(const CommandHelp& command, const ArgumentHelp& operand) {
  const std::string& name = operand.names.front();
  if (name == "CASE") return Kind::kCase;
  if (command.name == "verify" && name == "NAME") return Kind::kProblem;
  if (command.name == "new") return Kind::kFolder;
  if (says(operand, ".csv") && !says(operand, "folder")) return Kind::kTable;
  return name == "DIR" ? Kind::kResults : Kind::kFile;
}

Kind kind_of_value(const ArgumentHelp& option) {
  if (!option.type.starts_with("TEXT")) return Kind::kNothing;
  if (says(option, "folder")) return Kind::kFolder;
  if (says(option, ".csv")) return Kind::kTable;
  return says(option, "file") ? Kind::kFile : Kind::kNothing;
}

std::vector<std::string> option_names(const CommandHelp& command) {
  std::vector<std::string> names;
  for (const ArgumentHelp& option : command.options)
    names.insert(names.end(), option.names.begin(), option.names.end());
  return names;
}

std::vector<std::string> command_names(const ProgramHelp& help) {
  std::vector<std::string> names;
  for (const CommandHelp& command : help.commands) names.push_back(command.name);
  return names;
}

std::string problem_names() {
  constexpr double kElements = 8.0;  // the coarsest there is: only names are wanted
  std::vector<std::string> names;
  for (const verify::Problem& problem : verify::problems(kElements)) names.push_back(problem.name);
  return fmt::format("{}", fmt::join(names, " "));
}

/// Rows of `case "$1" in` for bash: options, and kinds of the operands in their order; one that repeats ends in "+".
std::string bash_rows(const CommandHelp& command) {
  std::vector<std::string> operands;
  for (const ArgumentHelp& operand : command.operands)
    operands.push_back(word_of(kind_of_operand(command, operand)) + std::string(operand.repeats ? "+" : ""));
  return fmt::format("    {}) options='{}' operands='{}' ;;\n", command.name, fmt::join(option_names(command), " "),
                     fmt::join(operands, " "));
}

std::string bash_values(const std::string& command, const std::vector<ArgumentHelp>& options) {
  std::string rows;
  for (const ArgumentHelp& option : options) {
    if (option.type.empty()) continue;
    for (const std::string& name : option.names)
      rows += fmt::format("    '{} {}') kind={} ;;\n", command, name, word_of(kind_of_value(option)));
  }
  return rows;
}

constexpr std::string_view kBash = R"script(# Tab completion of pellicle for bash; made by `pellicle --completion bash`.

# Sets options and operands of a command.
_pellicle_command() {
  options='' operands=''
  case "$1" in
@commands@  esac
}

# Sets what the value of an option is; returns 1 if it takes none.
_pellicle_value() {
  case "$1 $2" in
@values@    *) return 1 ;;
  esac
}

# Offers folders that hold one of these files, and those that lead on to others.
_pellicle_folders() {
  local folder inside file
  while IFS= read -r folder; do
    inside=${folder/#\~\//$HOME/}
    for file in "${@:2}"; do
      [[ -e $inside/$file ]] && { COMPREPLY+=("$folder"); continue 2; }
    done
    compgen -G "$inside/*/" >/dev/null && COMPREPLY+=("$folder")
  done < <(compgen -d -- "$1")
}

_pellicle_files() {
  local file
  while IFS= read -r file; do COMPREPLY+=("$file"); done < <(compgen "${@:2}" -- "$1")
}

_pellicle_offer() {
  case "$1" in
    folder | case | results | table | file) compopt -o filenames 2>/dev/null ;;
  esac
  case "$1" in
    folder) _pellicle_files "$2" -d ;;
    case) _pellicle_files "$2" -f -X '!*.toml'; _pellicle_folders "$2" case.toml ;;
    results) _pellicle_folders "$2" summary.json checkpoint.h5 ;;
    table) _pellicle_files "$2" -f -X '!*.csv'; _pellicle_files "$2" -d ;;
    file) _pellicle_files "$2" -f ;;
    problem) _pellicle_files "$2" -W '@problems@' ;;
    shell) _pellicle_files "$2" -W 'bash fish' ;;
  esac
}

_pellicle() {
  local word=${COMP_WORDS[COMP_CWORD]} command=${COMP_WORDS[1]} before=${COMP_WORDS[COMP_CWORD - 1]}
  local options operands kind i given=0
  local -a kinds
  COMPREPLY=()
  if [[ $before == --completion ]]; then
    _pellicle_offer shell "$word"
    return
  fi
  if ((COMP_CWORD == 1)); then
    _pellicle_files "$word" -W '@first@'
    return
  fi
  # bash cuts --out=folder into three words.
  [[ $word == = ]] && word=
  [[ $before == = ]] && before=${COMP_WORDS[COMP_CWORD - 2]}
  if _pellicle_value "$command" "$before"; then
    _pellicle_offer "$kind" "$word"
    return
  fi
  _pellicle_command "$command"
  if [[ $word == -* ]]; then
    _pellicle_files "$word" -W "$options"
    return
  fi
  for ((i = 2; i < COMP_CWORD; ++i)); do
    if _pellicle_value "$command" "${COMP_WORDS[i]}"; then
      [[ ${COMP_WORDS[i + 1]} == = ]] && ((++i))
      ((++i))
    elif [[ ${COMP_WORDS[i]} != -* ]]; then
      ((++given))
    fi
  done
  read -ra kinds <<<"$operands"
  ((${#kinds[@]} > 0)) || return
  if ((given >= ${#kinds[@]})); then
    given=$((${#kinds[@]} - 1))
    [[ ${kinds[given]} == *+ ]] || return
  fi
  _pellicle_offer "${kinds[given]%+}" "$word"
}

complete -F _pellicle pellicle
)script";

void put(std::string& script, std::string_view place, const std::string& text) {
  script.replace(script.find(place), place.size(), text);
}

/// Within single quotes of fish, where \ and ' alone are special.
std::string fish_quoted(std::string_view text) {
  std::string out = "'";
  for (const char c : text) out += c == '\'' || c == '\\' ? std::string{'\\', c} : std::string{c};
  return out + "'";
}

std::string fish_source(Kind kind) {
  switch (kind) {
    case Kind::kNothing:
      return " -x";
    case Kind::kFolder:
    case Kind::kResults:
      return " -x -a '(__fish_complete_directories)'";
    case Kind::kCase:
      return " -x -a '(__fish_complete_suffix .toml)'";
    case Kind::kTable:
      return " -x -a '(__fish_complete_suffix .csv)'";
    case Kind::kFile:
      return " -r -F";
    case Kind::kProblem:
      return " -x -a " + fish_quoted(problem_names());
  }
  return "";
}

std::string fish_options(const std::string& when, const std::vector<ArgumentHelp>& options) {
  std::string out;
  for (const ArgumentHelp& option : options) {
    out += "complete -c pellicle" + when;
    for (const std::string& name : option.names)
      out += name.starts_with("--") ? " -l " + name.substr(2) : " -s " + name.substr(1);
    if (option.names.front() == "--completion")
      out += " -x -a 'bash fish'";
    else if (!option.type.empty())
      out += fish_source(kind_of_value(option));
    out += " -d " + fish_quoted(option.means) + "\n";
  }
  return out;
}

}  // namespace

std::string bash_completion(const ProgramHelp& help) {
  std::string script(kBash), commands, values;
  for (const CommandHelp& command : help.commands) {
    commands += bash_rows(command);
    values += bash_values(command.name, command.options);
  }
  put(script, "@commands@", commands);
  put(script, "@values@", values);
  put(script, "@problems@", problem_names());
  put(script, "@first@",
      fmt::format("{} {}", fmt::join(command_names(help), " "), fmt::join(option_names(help.program), " ")));
  return script;
}

std::string fish_completion(const ProgramHelp& help) {
  std::string out =
      "# Tab completion of pellicle for fish; made by `pellicle --completion fish`.\ncomplete -c pellicle -f\n";
  out += fish_options(" -n __fish_use_subcommand", help.program.options);
  for (const CommandHelp& command : help.commands) {
    out += fmt::format("complete -c pellicle -n __fish_use_subcommand -a {} -d {}\n", command.name,
                       fish_quoted(command.means));
    const std::string when = fmt::format(" -n '__fish_seen_subcommand_from {}'", command.name);
    for (const ArgumentHelp& operand : command.operands)
      out += "complete -c pellicle" + when + fish_source(kind_of_operand(command, operand)) + " -d " +
             fish_quoted(operand.means) + "\n";
    out += fish_options(when, command.options);
  }
  return out;
}

}  // namespace pellicle::guide
