#include "firmware-host/daemon/commands.hpp"

#include <algorithm>
#include <charconv>

#include "firmware-host/sheet/units.hpp"

namespace hangtrue::daemon {
namespace {

bool is_space(char c) { return c == ' ' || c == '\t' || c == '\r' || c == '\n'; }

/// Without spaces at the ends, single ones between words.
std::string tidy(std::string_view text) {
  std::string tidied;
  for (const char c : text) {
    if (!is_space(c))
      tidied += c;
    else if (!tidied.empty() && tidied.back() != ' ')
      tidied += ' ';
  }
  if (!tidied.empty() && tidied.back() == ' ') tidied.pop_back();
  return tidied;
}

/// What may not go to a terminal becomes '?', and a long word is cut.
std::string fit_to_show(std::string_view text) {
  std::string shown(text.substr(0, 24));
  for (char& c : shown)
    if (c < ' ' || c > '~') c = '?';
  return shown;
}

bool is_text(std::string_view line) {
  return std::all_of(line.begin(), line.end(),
                     [](char c) { return is_space(c) || (c >= ' ' && c != '\x7f') || (c & 0x80) != 0; });
}

Command station(const std::string& rest) {
  int number = 0;
  const auto [end, error] = std::from_chars(rest.data(), rest.data() + rest.size(), number);
  if (error == std::errc() && end == rest.data() + rest.size()) return GoToStation{std::nullopt, number};
  const auto length = sheet::parse_quantity(rest, sheet::Kind::length);
  if (length.ok()) return GoToStation{length.value(), std::nullopt};
  return Refusal{
      "station",
      (rest.empty() ? "no place named" : "\"" + fit_to_show(rest) + "\" is no length") +
          "; a length with its unit, such as station 1200 mm, or the number of a listed one, station 4"};
}

Command face(const std::string& rest) {
  if (rest == "1" || rest == "+1") return TurnFace{1};
  if (rest == "2" || rest == "-1") return TurnFace{-1};
  return Refusal{"face", "face 1, or face 2 for the instrument turned round"};
}

Command edge(const std::string& rest) {
  const std::string word = lower(rest);
  if (word == "left") return ChooseEdge{survey::Edge::left};
  if (word == "middle") return ChooseEdge{survey::Edge::middle};
  if (word == "right") return ChooseEdge{survey::Edge::right};
  return Refusal{"edge", "edge left, edge middle or edge right"};
}

}  // namespace

std::string lower(std::string_view text) {
  std::string lowered(text);
  for (char& c : lowered)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return lowered;
}

std::optional<Command> parse_command(std::string_view line) {
  const std::string text = tidy(line);
  if (text.empty()) return std::nullopt;
  const std::size_t end = std::min(text.find(' '), text.size());
  const std::string word = lower(std::string_view(text).substr(0, end));
  std::string rest = end < text.size() ? text.substr(end + 1) : std::string();
  if (!is_text(line))
    return Refusal{fit_to_show(word), "there are bytes in it that are no text; help lists the commands"};

  if (word == "station") return station(rest);
  if (word == "face") return face(rest);
  if (word == "edge") return edge(rest);
  if (word == "set-up" || word == "setup") {
    if (rest.empty()) return Refusal{"set-up", "its name is missing, such as set-up 2"};
    return PlaceSetUp{std::move(rest)};
  }
  if (word == "stage") {
    if (rest.empty()) return Refusal{"stage", "its name is missing, as in the run sheet"};
    return BeginStage{std::move(rest)};
  }
  if (word == "take" && lower(rest) == "fixed") return Take{true};
  if (rest.empty()) {
    if (word == "take") return Take{false};
    if (word == "undo") return Undo{};
    if (word == "status") return ShowStatus{};
    if (word == "card") return ShowCard{};
    if (word == "done") return FinishSurvey{};
    if (word == "help" || word == "?") return ShowHelp{};
  }
  for (const std::string_view known : {"take", "undo", "status", "card", "done", "help"})
    if (word == known)
      return Refusal{word, "nothing goes behind " + word + (word == "take" ? " but fixed" : "")};
  return Refusal{
      fit_to_show(word),
      "no such command; station, face, edge, set-up, stage, take, undo, status, card, done or help"};
}

const std::vector<std::string>& help() {
  static const std::vector<std::string> lines{
      "station 1200 mm    where the walking instruments stand; or station 4, the fourth listed",
      "face 2             the inclinometer is turned round; face 1: back again",
      "edge left          middle, right: where across the run they stand",
      "set-up NAME        the laser was placed anew, or back where it was under that name",
      "take               readings, once all has settled; take fixed: of the instruments that stay",
      "undo               sets the last take aside",
      "stage NAME         closes this survey and begins one at that stage",
      "status             lines, bytes, channels, book",
      "card               the shim card of what is known so far",
      "done               the card, then closes the survey and ends"};
  return lines;
}

}  // namespace hangtrue::daemon
