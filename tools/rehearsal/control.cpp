#include "tools/rehearsal/control.hpp"

#include <algorithm>
#include <charconv>
#include <nlohmann/json.hpp>
#include <sstream>
#include <stdexcept>

#include "firmware-host/say/words.hpp"
#include "firmware-host/sheet/format.hpp"
#include "firmware-host/sheet/units.hpp"

namespace hangtrue::rehearsal {

namespace {

/// What follows `begin`; nothing where the text begins otherwise.
std::optional<std::string> behind(std::string_view text, std::string_view begin) {
  if (!text.starts_with(begin)) return std::nullopt;
  return std::string(text.substr(begin.size()));
}

int number_in(std::string_view text) {
  int number = 0;
  const auto read = std::from_chars(text.data(), text.data() + text.size(), number);
  return read.ec == std::errc() && read.ptr == text.data() + text.size() ? number : 0;
}

double place_in(const std::string& words) {
  const auto at_m = sheet::parse_quantity(words, sheet::Kind::length);
  if (!at_m.ok()) throw std::invalid_argument('"' + words + "\" is no place, such as 1200 mm");
  return at_m.value();
}

survey::Edge edge_in(const std::string& word) {
  for (const survey::Edge edge : {survey::Edge::left, survey::Edge::middle, survey::Edge::right})
    if (word == say::word(edge)) return edge;
  throw std::invalid_argument("edge left, middle or right, not \"" + word + '"');
}

}  // namespace

std::string Control::obey(std::string_view line) {
  try {
    const std::string text(line);
    if (const auto words = behind(text, "place ")) {
      stand_ = stand_from(*words);
      rehearsal_.place(stand_);
      return "placed at " +
             (stand_.mark < 0 ? sheet::show_place(stand_.at_m, run_.show)
                              : "mark " + run_.marks[std::size_t(stand_.mark)].name) +
             ", face " + (stand_.face == 1 ? "1" : "2") + ", edge " + std::string(say::word(stand_.edge)) +
             ", set-up " + std::to_string(stand_.set_up + 1);
    }
    if (const auto name = behind(text, "unplug ")) {
      rehearsal_.unplug(instrument(*name));
      return "unplugged " + *name;
    }
    if (const auto name = behind(text, "plug in ")) {
      rehearsal_.plug_in(instrument(*name));
      return "plugged in " + *name;
    }
    if (text == "hush" || text == "speak") {
      rehearsal_.hush(text == "hush");
      return text == "hush" ? "hushed" : "speaking";
    }
    if (const auto words = behind(text, "move ")) {
      std::string name = *words;
      beam::Motions<double> by;
      for (int m = 2; m >= 0; --m) {
        const std::size_t space = std::min(name.find_last_of(' '), name.size());
        std::istringstream number(name.substr(space));
        if (!(number >> by[m]) || !(number >> std::ws).eof())
          throw std::invalid_argument("move SUPPORT RISE PITCH ROLL, in m, rad and rad");
        name.resize(space);
      }
      rehearsal_.move(rehearsal_.support(name), by);
      return "moved " + name;
    }
    if (const auto name = behind(text, "stage ")) {
      if (run_.stage(*name) < 0) throw std::invalid_argument("the run has no stage \"" + *name + '"');
      rehearsal_.look_at(run_.stage(*name));
      return "in stage " + *name;
    }
    if (const auto name = behind(text, "sent ")) {
      const Rehearsal::Sent sent = rehearsal_.sent(instrument(*name));
      return "sent " + *name + ": " + std::to_string(sent.messages) + " messages, " +
             std::to_string(sent.bytes) + " bytes, " + std::to_string(sent.bytes_lost) + " lost";
    }
    if (text == "truth")
      return "truth " + nlohmann::json{{"level_error_m", rehearsal_.truth().level_error_m()}}.dump();
    return "refused: place, unplug, plug in, hush, speak, move, stage, sent or truth";
  } catch (const std::invalid_argument& error) {
    return std::string("refused: ") + error.what();
  }
}

std::optional<std::string> Control::follow(const nlohmann::json& event) {
  const std::string what = event.value("event", "");
  if (what == "here") {
    if (const int stage = run_.stage(event.value("stage", "")); stage >= 0) rehearsal_.look_at(stage);
    stand_ = {event.value("at_m", stand_.at_m), event.value("face", 1), stand_.edge,
              set_up(event.value("set_up", "1")), run_.mark(event.value("mark", ""))};
    // "as in the kit sheet" is no edge: they stay on theirs.
    for (const survey::Edge edge : {survey::Edge::left, survey::Edge::middle, survey::Edge::right})
      if (event.value("edge", "") == say::word(edge)) stand_.edge = edge;
    rehearsal_.place(stand_);
  }
  if (what == "check" && event.contains("step")) follow_check(event);
  if (what == "checked") rehearsal_.place(stand_);
  if (what != "made") return std::nullopt;
  const std::string name = event.value("support", "");
  const bool made = event.value("made", true);
  const double sign = made ? 1 : -1;
  try {
    rehearsal_.move(rehearsal_.support(name),
                    {sign * event.value("rise_m", 0.0), sign * event.value("pitch_rad", 0.0),
                     sign * event.value("roll_rad", 0.0)});
  } catch (const std::invalid_argument& error) {
    return "the " + name + " stays as it is: " + error.what();
  }
  return "the " + name + (made ? " was moved as the card says" : " was moved back");
}

/// Stands where a step of a guided check says (json/check_step.hpp); the next "here" or "checked" ends that.
void Control::follow_check(const nlohmann::json& event) {
  Stand stand = stand_;
  const std::string with = event.value("with", "");
  const double length_m = event.value("length_m", 0.0);
  if (with == "under the end") stand.put.end_m = length_m;
  if (with == "under the left") stand.put.left_m = length_m;
  if (with == "higher place") stand.put.higher_m = length_m;
  if (const double feet_m = event.value("feet_across_m", 0.0); feet_m > 0) stand.put.feet_across_m = feet_m;
  stand.face = event.value("face", stand.face);
  if (const std::string name = event.value("set_up", ""); !name.empty()) stand.set_up = set_up(name);
  if (event.contains("at_m")) {
    stand.at_m = event.at("at_m").get<double>();
    stand.mark = -1;
  }
  rehearsal_.place(stand);
}

Stand Control::stand_from(const std::string& words) const {
  Stand stand = stand_;
  stand.put = {};
  const std::map<std::string, double*> put{{"under-end", &stand.put.end_m},
                                           {"under-left", &stand.put.left_m},
                                           {"feet", &stand.put.feet_across_m},
                                           {"higher", &stand.put.higher_m}};
  std::istringstream in(words);
  std::string word, place;
  while (in >> word) {
    std::string value;
    if (const auto length = put.find(word); length != put.end()) {
      if (!(in >> *length->second) || !(*length->second > 0))
        throw std::invalid_argument(word + " and a length in m, such as " + word + " 0.005");
      continue;
    }
    if (word == "face" || word == "edge" || word == "set-up") {
      if (!(in >> value)) throw std::invalid_argument(word + " says nothing");
    } else {
      place += (place.empty() ? "" : " ") + word;
    }
    if (word == "edge") stand.edge = edge_in(value);
    const int number = number_in(value);
    if (word == "face") {
      if (number != 1 && number != 2) throw std::invalid_argument("face 1 or 2, not \"" + value + '"');
      stand.face = number == 1 ? 1 : -1;
    }
    if (word == "set-up") {
      if (number < 1 || number > kMaxSetUps)
        throw std::invalid_argument("set-up 1 to " + std::to_string(kMaxSetUps) + ", not \"" + value + '"');
      stand.set_up = number - 1;
    }
  }
  if (place.empty()) return stand;
  stand.mark = run_.mark(place);
  stand.at_m = stand.mark < 0 ? place_in(place) : run_.marks[std::size_t(stand.mark)].at_m;
  return stand;
}

std::size_t Control::instrument(const std::string& name) const {
  for (std::size_t i = 0; i < kit_.instruments.size(); ++i)
    if (kit_.instruments[i].name == name) return i;
  throw std::invalid_argument("the kit has no instrument \"" + name + '"');
}

/// A numbered one has the datum of its number; a named one gets the next from the far end of the list.
int Control::set_up(const std::string& name) {
  if (const int number = number_in(name); number >= 1 && number <= kMaxSetUps) return number - 1;
  const int next = std::max(0, kMaxSetUps - 1 - int(set_ups_.size()));
  return set_ups_.try_emplace(name, next).first->second;
}

}  // namespace hangtrue::rehearsal
