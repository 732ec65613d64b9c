// completions.hpp: what shells offer at hangtrue and hangtrued, from the parsers: subcommands, options, keys of explain, files.
#pragma once

#include <string>

namespace CLI {
class App;
}  // namespace CLI

namespace hangtrue::docs {

[[nodiscard]] std::string bash_completion(const CLI::App& command, const CLI::App& daemon);
/// With what each word means.
[[nodiscard]] std::string zsh_completion(const CLI::App& command, const CLI::App& daemon);
[[nodiscard]] std::string fish_completion(const CLI::App& command, const CLI::App& daemon);

}  // namespace hangtrue::docs
