#include "firmware-host/json/shims.hpp"

#include <algorithm>
#include <array>
#include <limits>
#include <optional>
#include <utility>

#include <nlohmann/json.hpp>

#include "firmware-host/say/card.hpp"
#include "firmware-host/say/doubts.hpp"
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::json {

namespace {

using Json = nlohmann::ordered_json;
using adjust::HoldPoint;
using adjust::Where;

constexpr std::array kHoldPoints{HoldPoint::shim_first, HoldPoint::read_again, HoldPoint::shims_cannot,
                                 HoldPoint::ready_to_bolt};
constexpr std::array kWheres{Where::whole,      Where::near,     Where::far,
                             Where::left,       Where::right,    Where::near_left,
                             Where::near_right, Where::far_left, Where::far_right};

job::LevelForecast forecast(const adjust::Prospect<double>& prospect,
                            const std::optional<job::Straightness>& straight) {
  return {prospect.level_error_m, prospect.drawn_sigma_m, prospect.chance,
          straight ? std::optional(straight->departure_m) : std::nullopt,
          straight ? std::optional(straight->sigma_m) : std::nullopt};
}

std::vector<job::StoredPiece> pieces_of(const sheet::RunSheet& run, const adjust::Move<double>& move) {
  std::vector<job::StoredPiece> pieces;
  const sheet::Adjust& adjust = run.supports[std::size_t(move.support)].adjust;
  for (int k = 0; k < move.stacks; ++k) {
    const adjust::Stack<double>& stack = move.stack[std::size_t(k)];
    const sheet::Stock& stock = run.stocks[std::size_t(adjust.stock)];
    for (std::size_t kind = 0; kind < stock.pieces.size(); ++kind)
      if (stack.count[kind] > 0)
        pieces.push_back({stack.where, stock.pieces[kind].thickness_m, int(stack.count[kind])});
  }
  return pieces;
}

}  // namespace

namespace {

job::StoredOpen open_of(const sheet::RunSheet& run, const job::FitReport& report, const job::Card& card) {
  job::StoredOpen open;
  open.first_setting = card.hold_point.reason == adjust::HoldPointReason::first_setting;
  for (const job::Doubt& doubt : card.doubts)
    open.doubts.push_back(
        {std::string(say::kind_of(doubt)), say::doubt_words(run, doubt), say::next_words(run, doubt)});
  for (std::size_t i = 0; i < report.judgements.size(); ++i)
    if (report.judgements[i].verdict != fit::Verdict::kept)
      open.set_aside.push_back(
          {i + 1, say::aside_words(report.judgements[i], run.show), report.judgements[i].normalised});
  open.bearing = report.bearing;
  return open;
}

}  // namespace

job::StoredCard stored_card(const sheet::RunSheet& run, const job::FitReport& report, const job::Card& card) {
  job::StoredCard stored;
  stored.hold_point = card.hold_point.answer;
  stored.reason = say::reason_words(run, card);
  for (const job::Advice& advice : card.advice) stored.advice.push_back(say::advice_words(run, advice));
  stored.before = forecast(card.before, card.straight_before);
  stored.after = forecast(card.after, card.straight_after);
  stored.proved_best = card.choice.outcome == adjust::Outcome::proved_best;
  stored.fit_holds = card.hold_point.numbers.fit_holds;
  stored.open = open_of(run, report, card);
  for (const job::CardMove& entry : card.moves) {
    job::StoredMove& move = stored.moves.emplace_back();
    move.order = int(stored.moves.size());
    move.support = entry.support;
    move.rise_m = entry.move.rise_m;
    move.pitch_rad = entry.move.pitch_rad;
    move.roll_rad = entry.move.roll_rad;
    move.pieces = pieces_of(run, entry.move);
    move.turns = entry.move.turns;
    move.limits_hold = entry.turn.limits_hold;
    move.level_error_m = entry.turn.level_error_after_m;
    move.effects = entry.effects;
    if (entry.stage) move.when_stage = run.stages[std::size_t(*entry.stage)];
  }
  for (const job::Reaction& reaction : card.reactions)
    stored.reactions.push_back({reaction.support, reaction.before.force_N, reaction.after.force_N,
                                reaction.before.moment_Nm, reaction.after.moment_Nm});
  stored.at_m = run.stations_m;
  stored.left_m = card.left_m;
  stored.right_m = card.right_m;
  return stored;
}

// ---- to JSON ------------------------------------------------------------------------------------------------------

namespace {

Json move_json(const job::StoredMove& move) {
  Json pieces = Json::array(), effects = Json::array();
  for (const job::StoredPiece& piece : move.pieces)
    pieces.push_back(
        {{"where", say::word(piece.where)}, {"thickness_m", piece.thickness_m}, {"count", piece.count}});
  for (const job::Effect& effect : move.effects)
    effects.push_back({{"support", effect.support}, {"rise_m", effect.rise_m}, {"force_N", effect.force_N}});
  Json json{{"order", move.order},         {"support", move.support},   {"rise_m", move.rise_m},
            {"pitch_rad", move.pitch_rad}, {"roll_rad", move.roll_rad}, {"pieces", std::move(pieces)},
            {"turns", move.turns}};
  if (move.limits_hold) json["limits_hold"] = *move.limits_hold;
  if (move.level_error_m) json["level_error_m"] = *move.level_error_m;
  json["effects"] = std::move(effects);
  if (move.when_stage) json["when_stage"] = *move.when_stage;
  return json;
}

void open_json(const job::StoredOpen& open, Json& json) {
  Json doubts = Json::array(), aside = Json::array(), bearing = Json::array();
  for (const job::StoredDoubt& doubt : open.doubts)
    doubts.push_back({{"kind", doubt.kind}, {"says", doubt.says}, {"next", doubt.next}});
  for (const job::StoredAside& each : open.set_aside)
    aside.push_back({{"row", each.row}, {"reason", each.reason}, {"normalised", each.normalised}});
  for (const job::BearingOption& option : open.bearing)
    bearing.push_back({{"lifted", option.lifted}, {"probability", option.probability}});
  json["first_setting"] = open.first_setting;
  json["set_aside"] = std::move(aside);
  json["doubts"] = std::move(doubts);
  json["bearing"] = std::move(bearing);
}

}  // namespace

Json shims_json(const job::StoredCard& card) {
  Json moves = Json::array(), reactions = Json::array();
  for (const job::StoredMove& move : card.moves) moves.push_back(move_json(move));
  for (const job::StoredReaction& reaction : card.reactions)
    reactions.push_back({{"support", reaction.support},
                         {"force_before_N", reaction.force_before_N},
                         {"force_after_N", reaction.force_after_N},
                         {"moment_before_Nm", reaction.moment_before_Nm},
                         {"moment_after_Nm", reaction.moment_after_Nm}});
  Json json{{"hold_point", adjust::short_name(card.hold_point)},
            {"reason", card.reason},
            {"advice", card.advice},
            {"level_error_before_m", card.before.level_error_m},
            {"level_error_before_sigma_m", card.before.sigma_m},
            {"chance_within_tolerance_before", card.before.chance},
            {"level_error_after_m", card.after.level_error_m},
            {"level_error_after_sigma_m", card.after.sigma_m},
            {"chance_within_tolerance", card.after.chance},
            {"proved_best", card.proved_best}};
  const auto departure = [&](const std::string& when, const job::LevelForecast& forecast) {
    if (forecast.departure_m) json["departure_" + when + "_m"] = *forecast.departure_m;
    if (forecast.departure_sigma_m) json["departure_" + when + "_sigma_m"] = *forecast.departure_sigma_m;
  };
  departure("before", card.before);
  departure("after", card.after);
  if (card.fit_holds) json["fit_holds"] = *card.fit_holds;
  if (card.open) open_json(*card.open, json);
  json["moves"] = std::move(moves);
  json["reactions"] = std::move(reactions);
  json["finished"] = {{"at_m", card.at_m}, {"left_m", card.left_m}, {"right_m", card.right_m}};
  return json;
}

Json shims_json(const sheet::RunSheet& run, const job::FitReport& report, const job::Card& card) {
  return shims_json(stored_card(run, report, card));
}

// ---- strictly back ------------------------------------------------------------------------------------------------

namespace {

// One object of the card and the name by which it is complained of. The first thing that is wrong is kept, and what is read
// after it does not count.
class Reader {
 public:
  Reader(const Json& json, std::string path, std::optional<std::string>& wrong)
      : json_(json), path_(std::move(path)), wrong_(wrong) {
    if (!json_.is_object()) complain(path_.empty() ? "the card" : path_, "no object", "an object");
  }

  [[nodiscard]] bool has(const char* name) const { return json_.is_object() && json_.contains(name); }
  [[nodiscard]] double number(const char* name) { return number_of(member(name, "a number"), named(name)); }
  [[nodiscard]] std::optional<double> number_if_there(const char* name) {
    return has(name) ? std::optional(number(name)) : std::nullopt;
  }
  [[nodiscard]] bool truth(const char* name) {
    const Json& value = member(name, "true or false");
    if (!value.is_boolean()) complain(named(name), value.dump(), "true or false");
    return value.is_boolean() && value.get<bool>();
  }
  [[nodiscard]] std::string text(const char* name) {
    const Json& value = member(name, "a text");
    if (!value.is_string()) complain(named(name), value.dump(), "a text");
    return value.is_string() ? value.get<std::string>() : std::string();
  }
  [[nodiscard]] int whole(const char* name) {
    const Json& value = member(name, "a whole number");
    const bool fits = value.is_number_integer() && value.get<std::int64_t>() >= 0 &&
                      value.get<std::int64_t>() <= std::numeric_limits<int>::max();
    if (!fits) complain(named(name), value.dump(), "a whole number");
    return fits ? value.get<int>() : 0;
  }
  /// One of `values`, by its word.
  template <class Value, std::size_t count, class Word>
  [[nodiscard]] Value one_of(const char* name, const std::array<Value, count>& values, Word&& word) {
    const std::string found = text(name);
    std::string expected;
    for (const Value value : values) {
      if (found == word(value)) return value;
      expected += (expected.empty() ? "\"" : ", \"") + std::string(word(value)) + '"';
    }
    complain(named(name), '"' + found + '"', "one of " + expected);
    return values[0];
  }
  /// Calls each(item, its name) for every item.
  void items(const char* name, const auto& each) {
    const Json& value = member(name, "a list");
    if (!value.is_array()) return complain(named(name), value.dump(), "a list");
    for (std::size_t i = 0; i < value.size(); ++i)
      each(value[i], named(name) + '[' + std::to_string(i) + ']');
  }
  [[nodiscard]] std::vector<double> numbers(const char* name) {
    std::vector<double> result;
    items(name, [&](const Json& item, const std::string& path) { result.push_back(number_of(item, path)); });
    return result;
  }
  void complain(const std::string& where, const std::string& found, const std::string& expected) {
    if (!wrong_) wrong_ = where + ": found " + found + ", expected " + expected;
  }

  [[nodiscard]] std::string named(const char* name) const {
    return path_.empty() ? name : path_ + '.' + name;
  }
  [[nodiscard]] Reader object(const char* name) { return {member(name, "an object"), named(name), wrong_}; }
  [[nodiscard]] Reader within(const Json& item, const std::string& path) { return {item, path, wrong_}; }

 private:
  [[nodiscard]] double number_of(const Json& value, const std::string& where) {
    if (value.is_null()) return std::numeric_limits<double>::quiet_NaN();
    if (!value.is_number()) complain(where, value.dump(), "a number");
    return value.is_number() ? value.get<double>() : 0;
  }
  [[nodiscard]] const Json& member(const char* name, const char* expected) {
    static const Json nothing = Json::value_t::discarded;
    if (has(name)) return json_.at(name);
    if (!wrong_) wrong_ = named(name) + ": missing, expected " + expected;
    return nothing;
  }

  const Json& json_;
  std::string path_;
  std::optional<std::string>& wrong_;
};

job::StoredMove move_of(Reader move, bool former) {
  job::StoredMove result;
  result.order = move.whole("order");
  result.support = move.text("support");
  result.rise_m = move.number("rise_m");
  result.pitch_rad = move.number("pitch_rad");
  result.roll_rad = move.number("roll_rad");
  move.items("pieces", [&](const Json& item, const std::string& path) {
    Reader piece = move.within(item, path);
    const Where where = piece.one_of("where", kWheres, [](Where each) { return say::word(each); });
    result.pieces.push_back({where, piece.number("thickness_m"), piece.whole("count")});
  });
  result.turns = move.number("turns");
  if (!former) {
    result.limits_hold = move.truth("limits_hold");
    result.level_error_m = move.number("level_error_m");
  } else {
    for (const char* name : {"limits_hold", "level_error_m"})
      if (move.has(name)) move.complain("fit_holds", "nothing beside " + move.named(name), "true or false");
  }
  move.items("effects", [&](const Json& item, const std::string& path) {
    Reader effect = move.within(item, path);
    result.effects.push_back({effect.text("support"), effect.number("rise_m"), effect.number("force_N")});
  });
  if (move.has("when_stage")) result.when_stage = move.text("when_stage");
  return result;
}

std::optional<job::StoredOpen> open_of(Reader card) {
  constexpr std::array kMembers{"first_setting", "set_aside", "doubts", "bearing"};
  const auto there = [&](const char* name) { return card.has(name); };
  if (std::none_of(kMembers.begin(), kMembers.end(), there)) return std::nullopt;  // a former card
  job::StoredOpen open;
  open.first_setting = card.truth("first_setting");
  card.items("set_aside", [&](const Json& item, const std::string& path) {
    Reader each = card.within(item, path);
    open.set_aside.push_back(
        {std::size_t(each.whole("row")), each.text("reason"), each.number("normalised")});
  });
  card.items("doubts", [&](const Json& item, const std::string& path) {
    Reader each = card.within(item, path);
    open.doubts.push_back({each.text("kind"), each.text("says"), each.text("next")});
  });
  card.items("bearing", [&](const Json& item, const std::string& path) {
    Reader each = card.within(item, path);
    job::BearingOption option;
    each.items("lifted", [&](const Json& name, const std::string& where) {
      if (!name.is_string()) return each.complain(where, name.dump(), "a text");
      option.lifted.push_back(name.get<std::string>());
    });
    option.probability = each.number("probability");
    open.bearing.push_back(std::move(option));
  });
  return open;
}

job::StoredCard card_of(Reader card) {
  job::StoredCard result;
  result.hold_point =
      card.one_of("hold_point", kHoldPoints, [](HoldPoint each) { return adjust::short_name(each); });
  result.reason = card.text("reason");
  card.items("advice", [&](const Json& item, const std::string& path) {
    if (!item.is_string()) return card.complain(path, item.dump(), "a text");
    result.advice.push_back(item.get<std::string>());
  });
  result.before = {card.number("level_error_before_m"), card.number("level_error_before_sigma_m"),
                   card.number("chance_within_tolerance_before"), card.number_if_there("departure_before_m"),
                   card.number_if_there("departure_before_sigma_m")};
  result.after = {card.number("level_error_after_m"), card.number("level_error_after_sigma_m"),
                  card.number("chance_within_tolerance"), card.number_if_there("departure_after_m"),
                  card.number_if_there("departure_after_sigma_m")};
  result.proved_best = card.truth("proved_best");
  const bool former = !card.has("fit_holds");
  if (!former) result.fit_holds = card.truth("fit_holds");
  result.open = open_of(card);
  card.items("moves", [&](const Json& item, const std::string& path) {
    result.moves.push_back(move_of(card.within(item, path), former));
    if (const int order = result.moves.back().order; order != int(result.moves.size()))
      card.complain(path + ".order", std::to_string(order), std::to_string(result.moves.size()));
  });
  card.items("reactions", [&](const Json& item, const std::string& path) {
    Reader reaction = card.within(item, path);
    result.reactions.push_back({reaction.text("support"), reaction.number("force_before_N"),
                                reaction.number("force_after_N"), reaction.number("moment_before_Nm"),
                                reaction.number("moment_after_Nm")});
  });
  Reader finished = card.object("finished");
  result.at_m = finished.numbers("at_m");
  result.left_m = finished.numbers("left_m");
  result.right_m = finished.numbers("right_m");
  return result;
}

}  // namespace

Result<job::StoredCard, NotACard> read_card(std::string_view text) {
  const Json json = Json::parse(text, nullptr, /*allow_exceptions=*/false);
  if (json.is_discarded()) return NotACard{"no JSON text"};
  std::optional<std::string> wrong;
  job::StoredCard card = card_of(Reader(json, "", wrong));
  if (wrong) return NotACard{*wrong};
  return card;
}

}  // namespace hangtrue::json
