#include "firmware-host/daemon/commands.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <utility>

#include "firmware-host/daemon/thresholds.hpp"
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
  if (!rest.empty()) return GoToStation{std::nullopt, std::nullopt, rest};
  return Refusal{
      "station",
      "no place named; a length with its unit, such as station 1200 mm, the number of a listed one, "
      "station 4, or the name of a mark"};
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

std::optional<double> length(const std::string& text) {
  const auto parsed = sheet::parse_quantity(text, sheet::Kind::length);
  return parsed.ok() ? std::optional<double>(parsed.value()) : std::nullopt;
}

/// What stands before and behind the last `word`, or all of it and nothing.
std::pair<std::string, std::string> parted(const std::string& text, std::string_view word) {
  const std::size_t at = lower(text).rfind(word);
  if (at == std::string::npos) return {text, {}};
  return {text.substr(0, at), text.substr(at + word.size())};
}

Command set_up(std::string rest) {
  if (rest.empty())
    return Refusal{
        "set-up",
        "its name is missing, such as set-up 2, or set-up 2 at 4500 mm where the laser stands there"};
  const auto [name, place] = parted(rest, " at ");
  if (const auto at_m = length(place)) return PlaceSetUp{name, at_m};
  // "2 at 4500" is no name: a place without its unit would go unnoticed in it.
  if (name != rest)
    return Refusal{
        "set-up",
        '"' + fit_to_show(place) +
            "\" is no place where a laser stands; a length with its unit, such as 4500 mm or -300 mm"};
  return PlaceSetUp{std::move(rest), std::nullopt};
}

/// "17 rest" into a number from 1 and the rest; number 0: there is none.
std::pair<std::int64_t, std::string> numbered(const std::string& text) {
  std::int64_t number = 0;
  const char* const end = text.data() + text.size();
  const auto [at, error] = std::from_chars(text.data(), end, number);
  if (error != std::errc() || number < 1 || (at != end && *at != ' ')) return {0, {}};
  return {number, at == end ? std::string() : std::string(at + 1, end)};
}

/// "17 rest", "take 17 rest" or "take last rest".
std::pair<std::optional<Meant>, std::string> meant(const std::string& text) {
  const bool whole = lower(text).starts_with("take ");
  const std::string after = whole ? text.substr(5) : text;
  if (whole && lower(after).starts_with("last ")) return {Meant{0, true}, after.substr(5)};
  auto [entry, rest] = numbered(after);
  if (entry == 0) return {std::nullopt, {}};
  return {Meant{entry, whole}, std::move(rest)};
}

Command correct(const std::string& text) {
  const auto [entry, what] = meant(text);
  const std::size_t end = std::min(what.find(' '), what.size());
  const std::string word = lower(what.substr(0, end));
  const std::string rest = end < what.size() ? what.substr(end + 1) : std::string();
  const bool known =
      word == "station" || word == "face" || word == "edge" || word == "set-up" || word == "setup";
  if (!entry || !known)
    return Refusal{
        "correct",
        "which entry and what was wrong with it, such as correct 17 station 1500 mm, correct 17 face 2, "
        "correct 17 edge left, correct 17 set-up 2; or correct take 17, correct take last: all that was "
        "taken "
        "there in one go; readings lists the numbers"};
  const Command part = word == "station" ? station(rest)
                       : word == "face"  ? face(rest)
                       : word == "edge"  ? edge(rest)
                                         : set_up(rest);
  if (const auto* const refusal = std::get_if<Refusal>(&part)) return Refusal{"correct", refusal->reason};
  if (const auto* const at = std::get_if<GoToStation>(&part)) return Correct{*entry, *at};
  if (const auto* const turned = std::get_if<TurnFace>(&part)) return Correct{*entry, *turned};
  if (const auto* const side = std::get_if<ChooseEdge>(&part)) return Correct{*entry, *side};
  return Correct{*entry, std::get<PlaceSetUp>(part)};
}

template <class Kind>
Command aside_or_back(const char* words, const std::string& text) {
  auto [entry, reason] = meant(text);
  if (!entry || reason.empty())
    return Refusal{words,
                   "which entry and why, such as " + std::string(words) + " 17 the shelf was bumped; or " +
                       words +
                       " take 17 and why, all that was taken there in one go; readings lists the numbers"};
  return Kind{*entry, std::move(reason)};
}

Command mark_move(const std::string& rest, bool made) {
  const auto [order, more] = numbered(rest);
  const std::string words = made ? "made" : "not made";
  if (order == 0 || !more.empty() || !std::in_range<int>(order))
    return Refusal{words, "which move of the card, such as " + words + " 2"};
  return MarkMove{static_cast<int>(order), made};
}

Command watch(const std::string& rest) {
  if (lower(rest) == "stage") return Watch{std::nullopt};
  if (lower(rest) == "off") return WatchOff{};
  const auto [order, more] = numbered(rest);
  if (order == 0 || !more.empty() || !std::in_range<int>(order))
    return Refusal{
        "watch",
        "which move of the card, such as watch 2; or watch stage: the next stage's loads; or watch off"};
  return Watch{static_cast<int>(order)};
}

Command check_scale(const std::string& text) {
  const auto [what, instrument] = parted(text, " with ");
  if (lower(what).rfind("places ", 0) == 0) {
    std::string apart = what.substr(7);
    if (lower(apart).ends_with(" apart")) apart.resize(apart.size() - 6);
    if (const auto apart_m = length(apart)) return CheckScale{true, *apart_m, std::nullopt, instrument};
  } else {
    const auto [piece, across] = parted(what, " across ");
    const auto piece_m = length(piece), across_m = length(across);
    if (piece_m && (across_m || piece == what)) return CheckScale{false, *piece_m, across_m, instrument};
  }
  return Refusal{
      "check",
      "how thick the piece is and how far apart the feet are across the run, such as check scale 5 mm across "
      "120 mm; of a laser how far apart two places are, such as check scale places 500 mm apart"};
}

Command check(const std::string& rest) {
  const std::string word = lower(rest.substr(0, rest.find(' ')));
  const std::string more = word.size() < rest.size() ? rest.substr(word.size() + 1) : std::string();
  if (word == "zero") return CheckZero{more};
  if (word == "datum") {
    const auto [places, instrument] = parted(more, " with ");
    const auto [near, far] = parted(places, " to ");
    const auto near_m = length(near), far_m = length(far);
    if (near_m && far_m) return CheckDatum{*near_m, *far_m, instrument};
    return Refusal{"check", "two stations, such as check datum 300 mm to 3900 mm"};
  }
  if (word == "scale") return check_scale(more);
  return Refusal{
      "check",
      "check zero, or check datum 300 mm to 3900 mm, or check scale 5 mm across 120 mm, or check scale "
      "places 500 mm apart"};
}

/// "called", "read by" or "checked by" and a name; nothing: it is none of these.
std::optional<Command> name_survey(const std::string& text) {
  using What = NameSurvey::What;
  constexpr std::array<std::pair<std::string_view, What>, 3> kWays{
      {{"called", What::called}, {"read by", What::read_by}, {"checked by", What::checked_by}}};
  for (const auto& [words, what] : kWays) {
    const std::string start = lower(text.substr(0, words.size()));
    if (start != words || (text.size() > words.size() && text[words.size()] != ' ')) continue;
    std::string name = text.size() > words.size() ? text.substr(words.size() + 1) : std::string();
    if (name.empty() || name.size() > kLongestName)
      return Refusal{std::string(words),
                     name.empty() ? "a name is missing, such as " + std::string(words) +
                                        (what == What::called ? " as-built" : " A. Muster")
                                  : "a name has at most " + std::to_string(kLongestName) + " bytes"};
    return NameSurvey{what, std::move(name)};
  }
  return std::nullopt;
}

}  // namespace

std::string lower(std::string_view text) {
  std::string lowered(text);
  for (char& c : lowered)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return lowered;
}

bool says_where(const Command& command) {
  return std::holds_alternative<GoToStation>(command) || std::holds_alternative<GoOn>(command) ||
         std::holds_alternative<TurnFace>(command) || std::holds_alternative<ChooseEdge>(command) ||
         std::holds_alternative<PlaceSetUp>(command) || std::holds_alternative<BeginStage>(command);
}

std::optional<Command> parse_command(std::string_view line) {
  const std::string text = tidy(line);
  if (text.empty()) return std::nullopt;
  const std::size_t end = std::min(text.find(' '), text.size());
  const std::string word = lower(std::string_view(text).substr(0, end));
  std::string rest = end < text.size() ? text.substr(end + 1) : std::string();
  if (!is_text(line))
    return Refusal{fit_to_show(word), "there are bytes in it that are no text; help lists the commands"};

  if (auto naming = name_survey(text)) return *std::move(naming);
  // Behind these words stands any text, also one that ends so.
  constexpr std::array<std::string_view, 8> kBeforeText{"set",   "put",    "correct", "station",
                                                        "stage", "set-up", "setup",   "recheck"};
  if (std::find(kBeforeText.begin(), kBeforeText.end(), word) == kBeforeText.end())
    for (const bool bears : {true, false}) {
      const std::string_view found = bears ? " bears" : " hangs free";
      if (lower(text).ends_with(found))
        return SayWhatBears{text.substr(0, text.size() - found.size()), bears};
    }
  if (word == "start" && lower(rest).starts_with("at ")) return SayStart{rest.substr(3)};
  if (word == "start")
    return Refusal{
        "start",
        "start at, and the support nearest to the end where the places begin, such as start at wall bracket"};
  if (word == "station") return station(rest);
  if (word == "face") return face(rest);
  if (word == "edge") return edge(rest);
  if (word == "set-up" || word == "setup") return set_up(std::move(rest));
  if (word == "correct") return correct(rest);
  if (word == "check") return check(rest);
  if (word == "set" && lower(rest).rfind("aside", 0) == 0)
    return aside_or_back<SetAsideEntry>("set aside", rest.substr(std::min<std::size_t>(6, rest.size())));
  if (word == "put" && lower(rest).rfind("back", 0) == 0)
    return aside_or_back<PutBackEntry>("put back", rest.substr(std::min<std::size_t>(5, rest.size())));
  if (word == "made") return mark_move(rest, true);
  if (word == "watch") return watch(rest);
  if (word == "recheck") return CompareWith{std::move(rest)};
  if (word == "not" && lower(rest).rfind("made", 0) == 0)
    return mark_move(rest.substr(std::min<std::size_t>(5, rest.size())), false);
  if (word == "go" && lower(rest) == "on") return GoOn{};
  if (word == "begin" && lower(rest) == "moves") return BeginMoves{};
  if (word == "read" && lower(rest) == "again") return ReadAgain{};
  if (word == "give" && lower(rest) == "up") return GiveUp{};
  if (word == "stage") {
    if (rest.empty()) return Refusal{"stage", "its name is missing, as in the run sheet"};
    return BeginStage{std::move(rest)};
  }
  if (word == "take" && lower(rest) == "fixed") return Take{true};
  if (word == "take" && lower(rest) == "kept") return TakeKept{};
  if (word == "done" && lower(rest) == "and seal") return FinishSurvey{true};
  if (rest.empty()) {
    if (word == "take") return Take{false};
    if (word == "undo") return Undo{};
    if (word == "readings") return ShowReadings{};
    if (word == "next") return Next{};
    if (word == "keep") return KeepCheck{};
    if (word == "seal") return SealBook{};
    if (word == "pair") return PairOne{};
    if (word == "status") return ShowStatus{};
    if (word == "card") return ShowCard{};
    if (word == "done") return FinishSurvey{false};
    if (word == "help" || word == "?") return ShowHelp{};
  }
  for (const std::string_view known :
       {"take", "undo", "readings", "next", "keep", "status", "card", "seal", "pair", "done", "help"})
    if (word == known)
      return Refusal{word, "nothing goes behind " + word +
                               (word == "take"   ? " but fixed or kept"
                                : word == "done" ? " but and seal"
                                                 : "")};
  for (const std::string_view leaving : {"quit", "exit", "stop", "end", "q", "bye", "logout"})
    if (word == leaving)
      return Refusal{
          word,
          "no such command; done closes the survey and ends (done and seal: seals the book as well); "
          "Ctrl-C ends too and leaves the survey open, and the same command line goes on with it"};
  return Refusal{
      fit_to_show(word),
      "no such command; station, go on, face, edge, set-up, stage, take, undo, readings, correct, set "
      "aside, put back, check, start at, a support bears or hangs free, called, read by, checked by, status, "
      "card, begin "
      "moves, made, not made, watch, read again, recheck, "
      "seal, pair, done or help"};
}

const std::vector<std::string>& help() {
  static const std::vector<std::string> lines{
      "station 1200 mm    where the walking instruments stand; or station 4, the fourth listed; or station "
      "and a mark's name",
      "go on              to the next place of the plan that was not read yet",
      "face 2             the inclinometer is turned round; face 1: back again",
      "edge left          middle, right: where across the run they stand",
      "set-up NAME        the laser was placed anew, or back where it was under that name",
      "take               readings, once all has settled; take fixed: of the instruments that stay",
      "take kept          readings that a node took by itself while this program was not there; each once",
      "undo               sets the last take aside, both faces of it",
      "set-up NAME at 4500 mm   where the laser stands along the run: a checked datum then counts",
      "readings           of this survey, with their numbers",
      "correct 17 station 1500 mm   or face, edge, set-up: what was said wrongly at entry 17",
      "set aside 17 WHY   leaves that reading out; put back 17 WHY: takes it in again",
      "correct take 17 station 1500 mm   the same of all that was taken there in one go, on both faces; also "
      "set aside take "
      "17 WHY, put back take 17 WHY; last in place of the number: the last take",
      "check zero         guided: the inclinometer's zero, by both faces, several times",
      "check datum 300 mm to 3900 mm   guided: the laser's own tilt, from beyond either end",
      "check scale 5 mm across 120 mm   guided: an inclinometer's scale, unit and sign, by a piece of that "
      "thickness under a foot",
      "check scale places 500 mm apart  guided: the same of a laser, by two places, one so much higher",
      "next, give up      during a check (give up also ends a take that waits, and moves not made yet); "
      "keep: puts a doubtful one into the book all the same",
      "stage NAME         closes this survey and begins one at that stage",
      "status             lines, bytes, channels, book",
      "card               the shim card of what is known so far",
      "lift one bears     what was found by hand; or lift one hangs free",
      "start at wall bracket   the support nearest to the end where the places begin",
      "called as-built    what this survey is called; read by A. Muster, checked by B. Muster: its persons",
      "begin moves        the card goes into the book, and nothing is read while its moves are made",
      "made 2             move 2 of that card is made; not made 2: it is not after all",
      "watch 2            move 2 is made under watch: what must be read, and stop where the run answers "
      "otherwise",
      "watch stage        the next stage's loads come on under watch; watch off: no longer",
      "read again         after moves: closes this survey and begins one at the same stage",
      "recheck            compares this survey with the last of this stage; recheck 2: with that one",
      "seal               seals the book so far, with a code to write down elsewhere",
      "pair               shows a code by which one phone is paired; it counts once, for two minutes",
      "done               the card, then closes the survey and ends; done and seal: seals the book as well"};
  return lines;
}

}  // namespace hangtrue::daemon
