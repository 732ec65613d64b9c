#include "firmware-host/book/body.hpp"

#include <array>
#include <cmath>
#include <type_traits>
#include <utility>

#include <nlohmann/json.hpp>

#include "firmware-host/book/sha256.hpp"

namespace hangtrue::book {
namespace {

using Json = nlohmann::ordered_json;  // members stay in the order in which they are written here

std::string_view word(survey::Edge edge) {
  return edge == survey::Edge::left ? "left" : edge == survey::Edge::right ? "right" : "middle";
}

/// Before or after 1970: about 1,030 years, the years that are read.
constexpr std::int64_t kFarthest_us = 32'503'680'000'000'000;

/// A member that is amiss. Thrown and caught in this file only, like the exceptions with which nlohmann-json says the same.
struct NotThis {};

/// A member that is a whole number which fits Integer. A decimal, or one that is too large, is amiss.
template <class Integer>
Integer whole(const Json& json) {
  if (!json.is_number_integer()) throw NotThis{};
  if (json.is_number_unsigned() && !std::in_range<Integer>(json.get<std::uint64_t>())) throw NotThis{};
  const auto value = json.get<std::int64_t>();
  if (!std::in_range<Integer>(value)) throw NotThis{};
  return static_cast<Integer>(value);
}

Channel channel_from(const std::string& text) {
  const auto channel = channel_named(text);
  if (!channel || !is_measured_of_run(*channel)) throw NotThis{};
  return *channel;
}
survey::Edge edge_from(const std::string& text) {
  for (const survey::Edge edge : {survey::Edge::left, survey::Edge::middle, survey::Edge::right})
    if (text == word(edge)) return edge;
  throw NotThis{};
}

Json json_of(const sheet::ReadingEntry& reading) {
  Json json{{"time", reading.time},
            {"set_up", reading.set_up},
            {"instrument", reading.instrument},
            {"channel", word(reading.channel)},
            {"at_m", reading.at_m},
            {"face", reading.face},
            {"edge", word(reading.edge)},
            {"value", reading.value},
            {"sigma", reading.sigma},
            {"base_m", reading.base_m}};
  if (!reading.mark.empty()) json["mark"] = reading.mark;
  return json;
}
sheet::ReadingEntry reading_from(const Json& json) {
  sheet::ReadingEntry reading;
  reading.time = json.at("time").get<std::string>();
  reading.set_up = json.at("set_up").get<std::string>();
  reading.instrument = json.at("instrument").get<std::string>();
  reading.channel = channel_from(json.at("channel").get<std::string>());
  reading.at_m = json.at("at_m").get<double>();
  reading.face = whole<int>(json.at("face"));
  reading.edge = edge_from(json.at("edge").get<std::string>());
  reading.value = json.at("value").get<double>();
  reading.sigma = json.at("sigma").get<double>();
  reading.base_m = json.at("base_m").get<double>();
  if (json.contains("mark")) reading.mark = json.at("mark").get<std::string>();
  return reading;
}

Json microseconds(Time time) {
  return std::chrono::duration_cast<std::chrono::microseconds>(time.time_since_epoch()).count();
}

/// A member that may be absent.
void add(Json& json, const char* key, std::optional<double> value) {
  if (value) json[key] = *value;
}
std::optional<double> maybe(const Json& json, const char* key) {
  if (!json.contains(key)) return std::nullopt;
  return json.at(key).get<double>();
}

// One pair for each kind: how it is written, how it is read.

Json json_of(const RunText& it) {
  return {{"file", it.file}, {"sha256", sha256(it.text)}, {"text", it.text}};
}
Json json_of(const KitText& it) {
  return {{"file", it.file}, {"sha256", sha256(it.text)}, {"text", it.text}};
}
Json json_of(const SurveyBegun& it) {
  return {{"id", it.id}, {"stage", it.stage}, {"run", it.run}, {"kit", it.kit}};
}
Json json_of(const SetUp& it) {
  Json json{{"name", it.name}};
  add(json, "stands_at_m", it.stands_at_m);
  return json;
}
Json json_of(const Samples& it) {
  return {{"instrument", it.instrument},
          {"channel", it.channel},
          {"from_us", microseconds(it.from)},
          {"after_us", it.after_us},
          {"values", it.values}};
}
Json json_of(const Taken& it) {
  Json json = json_of(it.reading);
  json["samples"] = it.samples;
  json["spread"] = it.spread;
  add(json, "temperature_C", it.temperature_C);
  return json;
}
Json json_of(const SetAside& it) { return {{"reason", it.reason}}; }
Json json_of(const PutBack& it) { return {{"reason", it.reason}}; }
Json json_of(const Corrected& it) { return {{"by", json_of(it.by)}, {"reason", it.reason}}; }
Json json_of(const Card& it) { return {{"json", it.json}}; }
Json json_of(const Note& it) {
  Json json{{"text", it.text}};
  if (!it.naming.called.empty()) json["called"] = it.naming.called;
  if (!it.naming.read_by.empty()) json["read_by"] = it.naming.read_by;
  if (!it.naming.checked_by.empty()) json["checked_by"] = it.naming.checked_by;
  return json;
}
Note note_from(const Json& json) {
  const auto said = [&json](const char* key) {
    return json.contains(key) ? json.at(key).get<std::string>() : std::string();
  };
  return {json.at("text").get<std::string>(), {said("called"), said("read_by"), said("checked_by")}};
}
Json json_of(const SurveyClosed&) { return Json::object(); }
Json json_of(const Seal& it) { return {{"entries", it.entries}, {"hash", it.hash}}; }
Json json_of(const ZeroCheck& it) {
  Json json{{"instrument", it.instrument}, {"channel", it.channel}, {"face_1", it.face_1},
            {"face_2", it.face_2},         {"zero", it.zero},       {"sigma", it.sigma}};
  add(json, "temperature_C", it.temperature_C);
  return json;
}
Json json_of(const DatumCheck& it) {
  Json json{{"instrument", it.instrument}, {"near_m", it.near_m},     {"far_m", it.far_m},
            {"near_1", it.near_1},         {"far_1", it.far_1},       {"near_2", it.near_2},
            {"far_2", it.far_2},           {"tilt_rad", it.tilt_rad}, {"sigma_rad", it.sigma_rad}};
  add(json, "temperature_C", it.temperature_C);
  return json;
}
Json json_of(const ScaleCheck& it) {
  Json json{
      {"instrument", it.instrument}, {"channel", it.channel},      {"before", it.before}, {"with", it.with},
      {"length_m", it.length_m},     {"feet_m", it.feet_m},        {"scale", it.scale},   {"sigma", it.sigma},
      {"sound", it.sound},           {"lines_hash", it.lines_hash}};
  add(json, "temperature_C", it.temperature_C);
  return json;
}
Json json_of(const ClockJump& it) { return {{"seconds", it.seconds}}; }
Json json_of(const MoveMade& it) { return {{"order", it.order}, {"support", it.support}, {"made", it.made}}; }

Json json_of(const TriedByHand& it) { return {{"support", it.support}, {"bears", it.bears}}; }
Json json_of(const StartTold& it) { return {{"support", it.support}}; }

template <class Kind>
Kind sheet_from(const Json& json) {
  Kind it{json.at("file").get<std::string>(), json.at("text").get<std::string>()};
  if (json.at("sha256").get<std::string>() != sha256(it.text)) throw NotThis{};
  return it;
}
Samples samples_from(const Json& json) {
  Samples it;
  it.instrument = json.at("instrument").get<std::string>();
  it.channel = json.at("channel").get<std::string>();
  const auto from_us = whole<std::int64_t>(json.at("from_us"));
  if (from_us < -kFarthest_us || from_us > kFarthest_us) throw NotThis{};
  it.from = Time(std::chrono::microseconds(from_us));
  for (const Json& after_us : json.at("after_us")) it.after_us.push_back(whole<std::int64_t>(after_us));
  it.values = json.at("values").get<std::vector<double>>();
  return it;
}
Taken taken_from(const Json& json) {
  return {reading_from(json), whole<int>(json.at("samples")), json.at("spread").get<double>(),
          maybe(json, "temperature_C")};
}
ZeroCheck zero_check_from(const Json& json) {
  ZeroCheck it;
  it.instrument = json.at("instrument").get<std::string>();
  it.channel = json.at("channel").get<std::string>();
  it.face_1 = json.at("face_1").get<std::vector<double>>();
  it.face_2 = json.at("face_2").get<std::vector<double>>();
  it.zero = json.at("zero").get<double>();
  it.sigma = json.at("sigma").get<double>();
  it.temperature_C = maybe(json, "temperature_C");
  return it;
}
DatumCheck datum_check_from(const Json& json) {
  DatumCheck it;
  it.instrument = json.at("instrument").get<std::string>();
  it.near_m = json.at("near_m").get<double>();
  it.far_m = json.at("far_m").get<double>();
  it.near_1 = json.at("near_1").get<std::vector<double>>();
  it.far_1 = json.at("far_1").get<std::vector<double>>();
  it.near_2 = json.at("near_2").get<std::vector<double>>();
  it.far_2 = json.at("far_2").get<std::vector<double>>();
  it.tilt_rad = json.at("tilt_rad").get<double>();
  it.sigma_rad = json.at("sigma_rad").get<double>();
  it.temperature_C = maybe(json, "temperature_C");
  return it;
}

ScaleCheck scale_check_from(const Json& json) {
  ScaleCheck it;
  it.instrument = json.at("instrument").get<std::string>();
  it.channel = json.at("channel").get<std::string>();
  it.before = json.at("before").get<std::vector<double>>();
  it.with = json.at("with").get<std::vector<double>>();
  it.length_m = json.at("length_m").get<double>();
  it.feet_m = json.at("feet_m").get<double>();
  it.scale = json.at("scale").get<double>();
  it.sigma = json.at("sigma").get<double>();
  it.sound = json.at("sound").get<bool>();
  it.lines_hash = json.at("lines_hash").get<std::string>();
  it.temperature_C = maybe(json, "temperature_C");
  return it;
}

Content content_of(std::string_view kind, const Json& json, Number referred) {
  const auto text = [&json](const char* key) { return json.at(key).get<std::string>(); };
  const auto number = [&json](const char* key) { return whole<Number>(json.at(key)); };
  if (kind == "run") return sheet_from<RunText>(json);
  if (kind == "kit") return sheet_from<KitText>(json);
  if (kind == "survey begun") return SurveyBegun{text("id"), text("stage"), number("run"), number("kit")};
  if (kind == "set-up") return SetUp{text("name"), maybe(json, "stands_at_m")};
  if (kind == "samples") return samples_from(json);
  if (kind == "reading") return taken_from(json);
  if (kind == "set aside") return SetAside{referred, text("reason")};
  if (kind == "put back") return PutBack{referred, text("reason")};
  if (kind == "corrected") return Corrected{referred, reading_from(json.at("by")), text("reason")};
  if (kind == "card") return Card{text("json")};
  if (kind == "note") return note_from(json);
  if (kind == "survey closed") return SurveyClosed{};
  if (kind == "seal") return Seal{number("entries"), text("hash")};
  if (kind == "zero check") return zero_check_from(json);
  if (kind == "datum check") return datum_check_from(json);
  if (kind == "scale check") return scale_check_from(json);
  if (kind == "clock jump") return ClockJump{json.at("seconds").get<double>()};
  if (kind == "move made")
    return MoveMade{referred, whole<int>(json.at("order")), text("support"), json.at("made").get<bool>()};
  if (kind == "tried by hand") return TriedByHand{text("support"), json.at("bears").get<bool>()};
  if (kind == "start told") return StartTold{text("support")};
  throw NotThis{};
}

bool all_finite(const Json& json) {
  if (json.is_number_float()) return std::isfinite(json.get<double>());
  for (const Json& member : json)
    if (json.is_structured() && !all_finite(member)) return false;
  return true;
}

}  // namespace

std::string_view kind(const Content& content) {
  constexpr std::array<std::string_view, std::variant_size_v<Content>>
      kWords{"run",           "kit",        "survey begun", "set-up",     "samples",   "reading",
             "set aside",     "put back",   "corrected",    "card",       "note",      "survey closed",
             "seal",          "zero check", "datum check",  "clock jump", "move made", "scale check",
             "tried by hand", "start told"};  // in the order of Content
  return kWords[content.index()];
}

bool within_limits(std::string_view json) {
  if (json.size() > kLongestBody) return false;
  int depth = 0;
  bool in_text = false;
  for (std::size_t at = 0; at < json.size(); ++at) {
    const char c = json[at];
    if (in_text) {
      if (c == '\\')
        ++at;
      else if (c == '"')
        in_text = false;
    } else if (c == '"') {
      in_text = true;
    } else if (c == '[' || c == '{') {
      if (++depth > kDeepestBody) return false;
    } else if (c == ']' || c == '}') {
      --depth;
    }
  }
  return true;
}

std::optional<std::string> body_of(const Content& content) {
  const Json json = std::visit([](const auto& it) { return json_of(it); }, content);
  if (!all_finite(json)) return std::nullopt;
  return json.dump(-1, ' ', /*ensure_ascii=*/false, Json::error_handler_t::replace);
}

std::optional<Content> content_from(std::string_view kind, std::string_view body,
                                    std::optional<Number> referred) {
  if (!within_limits(body)) return std::nullopt;
  try {
    Content content = content_of(kind, Json::parse(body), referred.value_or(0));
    const auto* const card = std::get_if<Card>(&content);
    if (card == nullptr || within_limits(card->json)) return content;
  } catch (const NotThis&) {
  } catch (const Json::exception&) {
  }
  return std::nullopt;
}

std::optional<Number> refers_to(const Content& content) {
  if (const auto* it = std::get_if<SetAside>(&content)) return it->reading;
  if (const auto* it = std::get_if<PutBack>(&content)) return it->reading;
  if (const auto* it = std::get_if<Corrected>(&content)) return it->reading;
  if (const auto* it = std::get_if<MoveMade>(&content)) return it->card;
  return std::nullopt;
}

std::vector<CardMove> moves_of(const Card& card) {
  std::vector<CardMove> moves;
  if (!within_limits(card.json)) return moves;
  try {
    const Json json = Json::parse(card.json);
    for (const Json& move : json.at("moves"))
      moves.push_back({whole<int>(move.at("order")), move.at("support").get<std::string>()});
    return moves;
  } catch (const NotThis&) {
  } catch (const Json::exception&) {
  }
  return {};  // one move that cannot be read, and the card has none
}

}  // namespace hangtrue::book
