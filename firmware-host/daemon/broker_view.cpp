#include "firmware-host/daemon/broker_view.hpp"

#include <algorithm>
#include <utility>

#include <spdlog/spdlog.h>
#include <nlohmann/json.hpp>

#include "firmware-host/book/short_form.hpp"
#include "firmware-host/broker/topic.hpp"
#include "firmware-host/daemon/port.hpp"
#include "firmware-host/daemon/reading_words.hpp"
#include "firmware-host/daemon/thresholds.hpp"
#include "firmware-host/json/shims.hpp"
#include "firmware-host/say/cautions.hpp"
#include "firmware-host/say/instrument.hpp"
#include "firmware-host/version/version.hpp"

namespace hangtrue::daemon {
namespace {

using Json = nlohmann::ordered_json;

std::string one_line(const Json& json) {
  return json.dump(-1, ' ', /*ensure_ascii=*/false, Json::error_handler_t::replace);
}

/// "slope_rad".
std::string with_unit(Channel channel) {
  const char* const unit = channel == Channel::distance      ? "_m"
                           : channel == Channel::temperature ? "_C"
                                                             : "_rad";
  return std::string(word(channel)) + unit;
}

}  // namespace

BrokerView::BrokerView(const Parts& parts, const Announcer& announcer)
    : of_(parts),
      announcer_(announcer),
      below_("hangtrue/" + broker::topic_level(parts.sheets.run.title) + '/') {}

void BrokerView::publish_to(broker::Options options) {
  const std::string name = options.address.text();
  if (!options.password.empty() && !options.address.tls && !options.address.is_loopback())
    announcer_.say(Event::warning,
                   "the password goes to " + name +
                       " as it is, for everybody on the way to read; mqtts:// keeps it secret");
  options.will_topic = below_ + "daemon";
  options.will = one_line(Json{{"state", "gone"}, {"version", version()}, {"time", nullptr}});
  broker_ = std::make_unique<broker::Connection>(
      std::move(options), [&announcer = announcer_, name, below = below_](const broker::Told& told) {
        switch (told.what) {
          case broker::Told::What::connected:
            return announcer.say(Event::broker, name + " is there; topics begin with " + below);
          case broker::Told::What::trouble:
            spdlog::warn("{}", told.says);
            return announcer.say(Event::trouble, told.says);
          case broker::Told::What::over:
            spdlog::warn("{}", told.says);
            return announcer.say(Event::trouble, "over: " + told.says);
        }
      });
  show(below_ + "daemon", {{"state", "running"}, {"version", version()}});
}

void BrokerView::close() {
  if (!broker_) return;
  show(below_ + "daemon", {{"state", "stopped"}, {"version", version()}});
  broker_->close();
  broker_.reset();
}

void BrokerView::show_all() {
  if (!broker_) return;
  if (const auto readings = of_.log.readings(); readings.ok()) {  // else the log says so
    show_readings(readings.value());
    show_survey(readings.value());
  }
  show_card();
  show_seal();
  show_states();
}

void BrokerView::show_readings(const std::vector<book::BookedReading>& readings) {
  book::Number last = read_up_to_.value_or(0);
  for (const book::BookedReading& each : readings) {
    last = std::max(last, each.number);
    if (!read_up_to_ || each.number <= *read_up_to_) continue;
    Json reading{{"survey", of_.log.id()}, {"stage", of_.log.stage()}};
    reading.update(reading_json(each.reading, each.number));
    reading["mark"] = each.reading.mark;
    for (const char* const in_topic : {"instrument", "channel"}) reading.erase(in_topic);
    publish(broker::Kind::event,
            of_instrument(each.reading.instrument, "reading/") + with_unit(each.reading.channel),
            std::move(reading));
  }
  read_up_to_ = last;
}

void BrokerView::look() {
  if (!broker_) return;
  show_states();
  if (const std::int64_t at_us = now_us(); at_us - live_told_us_ >= kLiveEvery_us) show_live(at_us);
}

void BrokerView::show_survey(const std::vector<book::BookedReading>& readings) {
  const SurveyUnderWay& survey = of_.survey;
  const bool is_fitted = survey.no_fit().empty() && survey.readings() > 0;
  Json state{{"run", of_.sheets.run.title}, {"survey", of_.log.id()}, {"stage", of_.log.stage()}};
  state["kept"] = Json::array();
  for (const book::BookedReading& each : readings)
    if (each.kept) state["kept"].push_back(each.number);
  state["level_error_m"] = is_fitted ? Json(survey.card().before.level_error_m) : Json();
  state["level_error_sigma_m"] = is_fitted ? Json(survey.card().before.drawn_sigma_m) : Json();
  state["no_fit"] = survey.no_fit().text;
  state["moves_are_made"] = of_.moves.are_being_made();
  state["book_is_written"] = !of_.log.in_trouble();
  show(below_ + "survey", std::move(state));
}

/// The card of now alone: one whose readings are others by now would mislead, so its topic is told that there is none.
void BrokerView::show_card() {
  const auto& on_job = of_.moves.on_job();
  Json state{{"survey", of_.log.id()},
             {"stage", of_.log.stage()},
             {"entry", nullptr},
             {"moves_made", Json::array()},
             {"says", "no card was put into the book since the readings changed"},
             {"card", nullptr},
             {"cautions", say::caution_sentences()}};
  if (on_job) {
    state["entry"] = on_job->entry;
    state["moves_made"] = on_job->made;
    state["says"] = on_job->card.ok() ? "" : on_job->card.fault().says;
    if (on_job->card.ok()) state["card"] = json::shims_json(on_job->card.value());
  }
  show(below_ + "card", std::move(state));
}

void BrokerView::show_seal() {
  const auto seals = of_.log.seals(1);
  if (!seals.ok()) return;
  Json state{{"number", nullptr}, {"hash", nullptr}, {"short", nullptr}, {"sealed", nullptr}};
  if (!seals.value().empty()) {
    const book::SealRecord& last = seals.value().back();
    state = {{"number", last.number},
             {"hash", last.hash},
             {"short", book::short_form(last.hash)},
             {"sealed", last.time}};
  }
  show(below_ + "seal", std::move(state));
}

void BrokerView::show_states() {
  for (std::size_t i = 0; i < of_.instruments.size(); ++i) {
    const job::InstrumentState now = of_.instruments.state(i);
    const std::string topic = of_instrument(of_.instruments.kit(i).name, "state");
    // Its sentence has a number that changes all the time; the word alone tells a new state.
    std::string& told = told_[topic];
    const std::string is = std::string(say::word(now)) + (now.speaks ? " speaks" : "");
    if (std::exchange(told, is) == is) continue;
    publish(broker::Kind::state, topic,
            {{"state", say::word(now)},
             {"says", say::sentence(now, of_.sheets.run.show)},
             {"speaks", now.speaks},
             {"time", book::rfc3339(of_.log.now())}});
  }
}

void BrokerView::show_live(std::int64_t at_us) {
  live_told_us_ = at_us;
  const std::string time = book::rfc3339(of_.log.now());
  for (std::size_t i = 0; i < of_.instruments.size(); ++i) {
    if (!of_.instruments.state(i).speaks) continue;
    const InstrumentLine& line = of_.instruments.line(i);
    const auto tell = [&](Channel channel, double value, bool settled) {
      publish(broker::Kind::live, of_instrument(line.kit().name, "live/") + with_unit(channel),
              {{"value", value}, {"settled", settled}, {"time", time}});
    };
    for (const InstrumentLine::LiveChannel& channel : line.channels()) {
      const survey::Verdict verdict = channel.settling.verdict(std::uint64_t(at_us));
      const auto newest = channel.settling.newest();
      if (channel.is_reading() && newest && verdict != survey::Verdict::stale)
        tell(channel.kit->gives, *newest, verdict == survey::Verdict::settled);
    }
    if (const auto temperature_C = line.temperature_C(at_us))
      tell(Channel::temperature, *temperature_C, true);
  }
}

void BrokerView::show(const std::string& topic, Json state) {
  std::string& told = told_[topic];
  std::string text = one_line(state);
  if (text == told) return;
  told = std::move(text);
  state["time"] = book::rfc3339(of_.log.now());
  publish(broker::Kind::state, topic, std::move(state));
}

void BrokerView::publish(broker::Kind kind, const std::string& topic, Json message) {
  if (broker_) broker_->publish(kind, topic, one_line(message));
}

std::string BrokerView::of_instrument(const std::string& name, std::string_view what) const {
  return below_ + "instrument/" + broker::topic_level(name) + '/' + std::string(what);
}

}  // namespace hangtrue::daemon
