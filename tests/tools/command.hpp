// command.hpp: runs the shipped command, for tests.
#pragma once

#include <sys/wait.h>

#include <cstdio>
#include <string>

#include "tests/firmware-host/book/scratch.hpp"

namespace hangtrue::tools {

struct Ended {
  int code = -1;
  std::string output, errors;
};

/// The command with these words behind it, by the shell; standard input is empty unless they say otherwise.
inline Ended command(const std::string& arguments, const std::string& program = HANGTRUE_COMMAND) {
  Ended ended;
  const book::Scratch scratch;
  const std::string errors = scratch / "errors";
  FILE* const pipe =
      ::popen(("</dev/null '" + program + "' " + arguments + " 2>'" + errors + "'").c_str(), "r");
  if (pipe == nullptr) return ended;
  char chunk[4096];
  while (const std::size_t count = std::fread(chunk, 1, sizeof chunk, pipe))
    ended.output.append(chunk, count);
  const int status = ::pclose(pipe);
  ended.code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  ended.errors = book::bytes_of(errors);
  return ended;
}

}  // namespace hangtrue::tools
