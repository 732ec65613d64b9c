// hangtrue explain [KEY] [--all] [--json]: what a key of run sheet or kit sheet means, and what it may be.
#include <iostream>
#include <memory>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "firmware-host/json/keys.hpp"
#include "firmware-host/say/keys.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

void add_explain(CLI::App& app, int&) {
  CLI::App* const command =
      app.add_subcommand("explain", "what a key of run sheet or kit sheet means, and what it may be");
  struct Arguments {
    std::string key;
    bool all = false, json = false;
  };
  const auto arguments = std::make_shared<Arguments>();
  command->add_option("KEY", arguments->key,
                      "a key, its end or a section: support.rise, rise, support; as a complaint names it, "
                      "too; none for a list");
  command->add_flag("--all", arguments->all, "every key of both sheets");
  command->add_flag("--json", arguments->json, "for programs");
  command->callback([arguments] {
    std::vector<const sheet::Key*> meant;
    if (!arguments->key.empty()) {
      meant = sheet::keys_meant(arguments->key);
      if (meant.empty()) {
        const std::string near = sheet::nearest_key(arguments->key);
        stop_for({{"command line", 0, "KEY", '"' + arguments->key + '"',
                   "a key of run sheet or kit sheet" + (near.empty() ? "; hangtrue explain lists them"
                                                                     : "; did you mean \"" + near + "\"?")}});
      }
    } else if (arguments->all || arguments->json) {
      for (const sheet::Key& key : sheet::keys()) meant.push_back(&key);
    } else {
      std::cout << say::keys_overview() << "\nUnits\n"
                << say::units_overview()
                << "\nhangtrue explain KEY says what a key means; --all, what all of them mean.\n";
      return;
    }
    if (arguments->json) {
      nlohmann::ordered_json all = nlohmann::ordered_json::array();
      for (const sheet::Key* key : meant) all.push_back(json::key_json(*key));
      std::cout << nlohmann::ordered_json{{"keys", all}}.dump() << '\n';
      return;
    }
    for (const sheet::Key* key : meant)
      std::cout << (key == meant.front() ? "" : "\n") << say::key_view(*key);
  });
}

}  // namespace hangtrue::tools
