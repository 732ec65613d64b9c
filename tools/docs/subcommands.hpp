// subcommands.hpp: what a parser has below it.
#pragma once

#include <vector>

#include <CLI/CLI.hpp>

namespace hangtrue::docs {

[[nodiscard]] inline std::vector<const CLI::App*> subcommands_of(const CLI::App& app) {
  return app.get_subcommands([](const CLI::App*) { return true; });
}

}  // namespace hangtrue::docs
