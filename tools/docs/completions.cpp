#include "tools/docs/completions.hpp"

#include <set>
#include <string_view>
#include <vector>

#include <CLI/CLI.hpp>

#include "firmware-host/sheet/keys.hpp"
#include "tools/docs/subcommands.hpp"

namespace hangtrue::docs {
namespace {

constexpr const char* kWrittenBy = "Written by tools/docs; change what it is written from.\n";

std::string joined(const std::vector<std::string>& names) {
  std::string all;
  for (const std::string& each : names) all += (all.empty() ? "" : " ") + each;
  return all;
}

std::string options_for_bash(const CLI::App& app) {
  std::vector<std::string> names;
  for (const CLI::Option* option : app.get_options())
    if (!option->get_positional())
      for (const std::string& each : option->get_lnames()) names.push_back("--" + each);
  for (const CLI::App* below : subcommands_of(app)) names.push_back(below->get_name());
  return joined(names);
}

/// Paths of keys that explain takes, as one word.
std::set<std::string> key_paths() {
  std::set<std::string> keys;
  for (const sheet::Key& key : sheet::keys())
    if (key.name.find(' ') == std::string_view::npos) keys.insert(key.path());
  return keys;
}

/// A text between single quotes of a shell: `quote` is how one within stands.
std::string in_single_quotes(std::string_view text, std::string_view quote) {
  std::string all = "'";
  for (const char c : text) all += c == '\'' ? std::string(quote) : std::string(1, c);
  return all + '\'';
}

/// What is offered at one place of the line, and what each means.
struct Offer {
  std::string word, says;
  bool takes_value = false;
};
std::vector<Offer> offers_of(const CLI::App& app) {
  std::vector<Offer> all;
  for (const CLI::Option* option : app.get_options())
    if (!option->get_positional())
      for (const std::string& name : option->get_lnames())
        all.push_back({"--" + name, option->get_description(), option->get_items_expected_max() > 0});
  for (const CLI::App* below : subcommands_of(app))
    all.push_back({below->get_name(), below->get_description()});
  return all;
}

/// "'--book:the level book' ...": as _describe of zshcompsys(1) takes them.
std::string for_zsh(const std::vector<Offer>& offers) {
  std::string all;
  for (const Offer& offer : offers) {
    std::string word;
    for (const char c : offer.word) word += c == ':' ? std::string("\\:") : std::string(1, c);
    all += ' ' + in_single_quotes(word + ':' + offer.says, "'\\''");
  }
  return all;
}

/// Lines of fish's complete(1), where `when` holds.
std::string for_fish(const std::string& program, const std::string& when, const std::vector<Offer>& offers) {
  std::string all;
  for (const Offer& offer : offers) {
    all += "complete -c " + program;
    if (!when.empty()) all += " -n '" + when + '\'';
    all += offer.word.starts_with("--") ? " -l " + offer.word.substr(2) + (offer.takes_value ? " -r" : "")
                                        : " -f -a " + offer.word;
    all += " -d " + in_single_quotes(offer.says, "\\'") + '\n';
  }
  return all;
}

}  // namespace

std::string bash_completion(const CLI::App& command, const CLI::App& daemon) {
  const std::set<std::string> keys = key_paths();
  std::string text =
      "# Completions of hangtrue and hangtrued for bash. Written by tools/docs; change what it is written "
      "from.\n"
      "_hangtrue() {\n"
      "  local current=${COMP_WORDS[COMP_CWORD]} words=\n"
      "  case \"${COMP_WORDS[1]}\" in\n";
  for (const CLI::App* each : subcommands_of(command)) {
    text += "    " + each->get_name() + ")\n";
    const auto below = subcommands_of(*each);
    if (below.empty()) {
      text += "      words=\"" + options_for_bash(*each) + "\"\n";
    } else {
      text += "      case \"${COMP_WORDS[2]}\" in\n";
      for (const CLI::App* one : below)
        text += "        " + one->get_name() + ") words=\"" + options_for_bash(*one) + "\" ;;\n";
      text += "        *) words=\"" + options_for_bash(*each) +
              "\" ;;\n      esac\n"
              "      [ \"$COMP_CWORD\" -eq 2 ] && words=\"" +
              options_for_bash(*each) + "\"\n";
    }
    if (each->get_name() == "explain")
      text += "      words+=\" " + joined({keys.begin(), keys.end()}) + "\"\n";
    text += "      ;;\n";
  }
  text += "    *) words=\"" + options_for_bash(command) +
          "\" ;;\n  esac\n"
          "  [ \"$COMP_CWORD\" -eq 1 ] && words=\"" +
          options_for_bash(command) +
          "\"\n"
          "  COMPREPLY=($(compgen -W \"$words\" -- \"$current\"))\n"
          "}\n"
          "_hangtrued() {\n"
          "  COMPREPLY=($(compgen -W \"" +
          options_for_bash(daemon) +
          "\" -- \"${COMP_WORDS[COMP_CWORD]}\"))\n"
          "}\n"
          "complete -o bashdefault -o default -F _hangtrue hangtrue\n"
          "complete -o bashdefault -o default -F _hangtrued hangtrued\n";
  return text;
}

std::string zsh_completion(const CLI::App& command, const CLI::App& daemon) {
  std::string text =
      std::string("#compdef hangtrue hangtrued\n# Completions of hangtrue and hangtrued for zsh. ") +
      kWrittenBy + "local -a offers\ncase $service/${words[2]}/${words[3]} in\n";
  text += "  hangtrued/*) offers=(" + for_zsh(offers_of(daemon)) + " ) ;;\n";
  const auto place = [&](const std::string& pattern, const CLI::App& app) {
    text += "  " + pattern + ") offers=(" + for_zsh(offers_of(app)) + " ) ;;\n";
  };
  for (const CLI::App* each : subcommands_of(command)) {
    const std::string at = "hangtrue/" + each->get_name();
    for (const CLI::App* below : subcommands_of(*each)) place(at + '/' + below->get_name(), *below);
    if (each->get_name() != "explain") {
      place(at + "/*", *each);
      continue;
    }
    std::vector<Offer> offers = offers_of(*each);
    for (const sheet::Key& key : sheet::keys())
      if (key.name.find(' ') == std::string_view::npos) offers.push_back({key.path(), std::string(key.says)});
    text += "  " + at + "/*) offers=(" + for_zsh(offers) + " ) ;;\n";
  }
  place("*", command);
  return text +
         "esac\n"
         "(( CURRENT == 2 )) && [[ $service == hangtrue ]] && offers=(" +
         for_zsh(offers_of(command)) + " )\n_describe -o hangtrue offers\n_files\n";
}

std::string fish_completion(const CLI::App& command, const CLI::App& daemon) {
  std::string text = std::string("# Completions of hangtrue and hangtrued for fish. ") + kWrittenBy;
  text += for_fish("hangtrue", "__fish_use_subcommand", offers_of(command));
  for (const CLI::App* each : subcommands_of(command)) {
    const std::string within = "__fish_seen_subcommand_from " + each->get_name();
    std::string none_below;
    for (const CLI::App* below : subcommands_of(*each)) {
      const std::string there = "__fish_seen_subcommand_from " + below->get_name();
      none_below += "; and not " + there;
      text += for_fish("hangtrue", within + "; and " + there, offers_of(*below));
    }
    text += for_fish("hangtrue", within + none_below, offers_of(*each));
    if (each->get_name() == "explain") {
      const std::set<std::string> keys = key_paths();
      text += "complete -c hangtrue -n '" + within + "' -f -a '" + joined({keys.begin(), keys.end()}) + "'\n";
    }
  }
  return text + for_fish("hangtrued", "", offers_of(daemon));
}

}  // namespace hangtrue::docs
