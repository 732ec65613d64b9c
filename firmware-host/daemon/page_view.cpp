#include "firmware-host/daemon/page_view.hpp"

#include <algorithm>
#include <exception>
#include <limits>
#include <utility>

#include <boost/asio/post.hpp>

#include "firmware-host/daemon/page_topics.hpp"
#include "firmware-host/daemon/reading_words.hpp"
#include "firmware-host/daemon/record.hpp"
#include "firmware-host/daemon/thresholds.hpp"
#include "firmware-host/json/described.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::daemon {
namespace {

bool has_control_character(const std::string& text) {
  return std::any_of(text.begin(), text.end(), [](char c) {
    const auto byte = static_cast<unsigned char>(c);
    return byte < 0x20 || byte == 0x7f;
  });
}

/// Any number that a phone may say; one that cannot be is far from now, and refused as such.
std::int64_t in_us(std::int64_t time_ms) {
  constexpr std::int64_t kMost_ms = std::numeric_limits<std::int64_t>::max() / 4000;
  return 1000 * std::clamp(time_ms, -kMost_ms, kMost_ms);
}

}  // namespace

PageView::PageView(boost::asio::io_context& context, const Parts& parts, const Announcer& announcer,
                   Asked asked)
    : context_(context),
      of_(parts),
      announcer_(announcer),
      asked_(std::move(asked)),
      showing_(context),
      printing_(parts.log.path()) {}

std::optional<std::string> PageView::serve(page::Options options) {
  options.key_path = of_.log.path() + "-pairing";
  page::Hooks hooks;
  hooks.said = [this](page::Phone phone, std::string frame) {
    boost::asio::post(context_, [this, phone, arrived_us = now_us(), frame = std::move(frame)] {
      if (!page_) return;
      try {
        phone_said(phone, frame, arrived_us);
      } catch (const std::exception& failure) {
        answer(phone, 0, false, std::string("the message was not understood (") + failure.what() + ')');
      }
    });
  };
  hooks.record = [this](std::string survey, std::function<void(std::string)> reply) {
    record_asked(std::move(survey), std::move(reply));
  };
  hooks.print = [this](const page::Document& document, std::function<void(std::string)> reply) {
    printing_.print(document, std::move(reply));
  };
  hooks.note = [this](std::string sentence) {
    boost::asio::post(context_, [this, sentence = std::move(sentence)] {
      if (page_) announcer_.say(Event::phone, sentence);
    });
  };
  const sheet::Show spoken = of_.sheets.shown.show;
  options.pairing.language = spoken.language == sheet::Language::german ? "de" : "en";
  for (std::string* const words : options.pairing.all()) *words = say::said(spoken, *words);
  auto started = page::Server::start(options, std::move(hooks));
  if (!started.ok()) return started.fault();
  page_ = std::move(started).value();
  for (const std::string& address : page_->addresses())
    announcer_.say(Event::page, address, {{"address", address}});
  if (const std::string code = page_->pairing_code(); !code.empty())
    announcer_.say(Event::pairing, code + ", to be entered once on each phone", {{"code", code}});
  page::Job job = job_topic(of_.sheets.shown, page::build());
  job.begun = std::to_string(now_us());
  show("job", job);
  return std::nullopt;
}

void PageView::close() {
  showing_.cancel();
  page_.reset();
}

/// From the server's thread. Each record is a fit: who asks for many is answered late, and the work goes on meanwhile.
void PageView::record_asked(std::string survey, std::function<void(std::string)> reply) {
  if (records_waiting_.fetch_add(1) >= kMostRecords) {
    --records_waiting_;
    return;
  }
  boost::asio::post(context_, [this, survey = std::move(survey), reply = std::move(reply)] {
    --records_waiting_;
    if (!page_) return;
    try {
      reply(record_text(of_.log, of_.sheets, survey));
    } catch (const std::exception& failure) {
      reply("This record could not be made (" + std::string(failure.what()) + ").\n");
    }
  });
}

Answer PageView::pair_one() {
  if (!page_) return refused("pair", "there is no page; start the daemon with --page");
  const std::string code = page_->pair_one();
  if (code.empty())
    return refused("pair",
                   "this page is for this machine alone, which needs no code; phones need --page with "
                   "an address that they reach, such as 0.0.0.0:8765");
  const auto seconds = std::chrono::seconds(page::kOnceFor).count();
  Answer answer =
      answered(Event::pairing,
               code + ", for one phone; it counts once, within " + std::to_string(seconds / 60) + " minutes",
               {{"code", code}, {"once", true}, {"seconds", seconds}});
  answer.changes = false;
  return answer;
}

void PageView::answer(page::Phone phone, std::int64_t id, bool done, const std::string& words) const {
  if (!page_) return;
  std::string says = words;
  for (const sheet::KitInstrument& kit : of_.sheets.kit.instruments)
    says = with_line_name(std::move(says), kit.port);
  page_->answer(phone, json::text_of(page::Answer{id, done, says}));
}

void PageView::phone_said(page::Phone phone, const std::string& frame, std::int64_t arrived_us) {
  const auto asked = json::parse<page::Asked>(frame);
  if (!asked.ok()) return answer(phone, 0, false, asked.fault());
  const page::Asked& what = asked.value();
  if (what.page && what.page->size() > page::kLongestPageName)
    return answer(phone, what.id, false,
                  "a page's name has at most " + std::to_string(page::kLongestPageName) + " bytes");
  // A line of the terminal's own would follow a line's end.
  if (has_control_character(what.command))
    return answer(phone, what.id, false, "a command is one line of plain text");
  if (what.page && !questions_.is_new(*what.page, what.id, phone, [&](bool done, const std::string& words) {
        answer(phone, what.id, done, words);
      }))
    return;
  const bool is_short = what.command.size() <= kLongestCommand;
  Order order{{is_short ? what.command : std::string(), !is_short}};
  order.seen = what.seen;
  order.pressed_us = what.pressed_ms ? in_us(*what.pressed_ms) : arrived_us;
  order.reply = [this, phone, id = what.id, name = what.page](bool done, const std::string& words) {
    answer(name ? questions_.answered(*name, id, done, words).value_or(phone) : phone, id, done, words);
  };
  asked_(std::move(order));
}

void PageView::wait_for(std::string_view command, const std::string& what) {
  if (command == doing_ && now_us() - waiting_shown_us_ < kShowWaiting_us) return;
  doing_ = command;
  waits_for_ = what;
  waiting_shown_us_ = now_us();
  show_work();
}

void PageView::wait_no_more() {
  if (doing_.empty()) return;
  doing_ = {};
  waits_for_.clear();
  show_work();
}

template <class Topic>
void PageView::show(const char* name, const Topic& topic) {
  if (page_) page_->publish(name, json::text_of(topic));
}

void PageView::show_live_soon() {
  if (!page_ || live_due_) return;
  const std::int64_t since_us = now_us() - live_shown_us_;
  if (since_us >= kShowEvery_us) return show_live();
  live_due_ = true;
  showing_.expires_after(std::chrono::microseconds(kShowEvery_us - since_us));
  showing_.async_wait([this](const boost::system::error_code& cancelled) {
    live_due_ = false;
    if (!cancelled) show_live();
  });
}

void PageView::show_live() {
  if (!page_) return;
  live_shown_us_ = now_us();
  show("clock", page::Clock{live_shown_us_ / 1000});
  page::Live live;
  for (std::size_t i = 0; i < of_.instruments.size(); ++i)
    live.instruments.push_back(live_instrument(
        of_.instruments.line(i), of_.instruments.state(i), live_shown_us_, of_.stand.now().face,
        is_fitted() ? &of_.survey.report() : nullptr, of_.sheets.shown.show));
  show("live", live);
  show("watch", watch_topic(of_.sheets, of_.watched.now(), is_fitted() ? &of_.survey.report() : nullptr));
}

void PageView::show_work() {
  if (!page_) return;
  const sheet::RunSheet& run = of_.sheets.shown;
  const Place& place = of_.stand.now();
  page::Work work;
  work.revision = revision_;
  if (place.at_m) {
    if (place.mark.empty()) work.station = station_number(run, *place.at_m);
    work.mark = place.mark;
    work.at = spot_words(*place.at_m, place.mark, run.show);
  }
  work.face = place.face;
  work.edge = of_.stand.edge_word();
  work.set_up = place.set_up;
  if (place.laser_at_m) work.laser_at = sheet::show_place(*place.laser_at_m, run.show);
  work.stage = of_.log.stage();
  work.survey = of_.log.id();
  if (const auto naming = of_.log.naming(); naming.ok()) {
    work.called = naming.value().called;
    work.read_by = naming.value().read_by;
    work.checked_by = naming.value().checked_by;
  }
  for (std::size_t i = 0; i < run.supports.size(); ++i)
    if (run.beam_stages[std::size_t(of_.survey.stage())].lists_support(int(i)))
      work.supports.push_back(run.supports[i].name);
  for (std::size_t i = 0; i < of_.instruments.size(); ++i)
    for (const InstrumentLine::LiveChannel& channel : of_.instruments.line(i).channels()) {
      if (!channel.walks()) continue;
      (channel.kit->gives == Channel::distance ? work.has_distance : work.has_slope) = true;
    }
  work.doing = doing_;
  work.waits_for = waits_for_;
  if (is_fitted()) work.next = advice(run, of_.survey.report());
  if (const auto walk = of_.survey.walk()) work.walk = walk_topic(run, *walk);
  work.moving = of_.moves.are_being_made();
  work.notice = of_.stand.notice().words;
  if (of_.log.in_trouble())
    work.trouble = say::said(run.show, "The level book cannot be written: nothing that is read now is kept.");
  work.trouble_fit = of_.survey.no_fit().words;
  show("work", work);
}

void PageView::show_all() {
  if (!page_) return;
  show_work();
  show_live();
  show_readings_and_run();
  show_card();
  show_kit();
  show("record", record_topic(of_.log));
  if (const auto recheck = of_.recheck.topic()) show("recheck", *recheck);
}

void PageView::show_readings_and_run() {
  const auto booked = of_.log.readings();
  if (!booked.ok()) return;
  const job::FitReport* const fitted = is_fitted() ? &of_.survey.report() : nullptr;
  show("readings", readings_topic(of_.sheets.shown, booked.value(), fitted));
  if (fitted == nullptr) return;
  std::vector<KeptReading> kept;
  for (const book::BookedReading& each : booked.value())
    if (each.kept) kept.push_back({each.number, &each.reading});
  show("run", run_topic(of_.sheets.shown, of_.survey.predicted(), *fitted, of_.survey.card(), kept,
                        of_.survey.shown_warnings()));
}

void PageView::show_card() {
  const sheet::RunSheet& run = of_.sheets.shown;
  page::Card card;
  if (const auto& on_job = of_.moves.on_job())
    card = on_job->card
               ? card_topic(run, on_job->shown ? *on_job->shown : say::for_people(run, on_job->card.value()),
                            on_job->entry, on_job->made)
               : unusable_card(on_job->entry, on_job->card.fault().says, run.show);
  else if (of_.survey.shims())
    card = card_topic(run, *of_.survey.shown_shims(), 0, {});
  else
    card.reason = of_.survey.no_fit().words;
  card.begun = of_.moves.are_being_made();
  card.enough = card.begun || (is_fitted() && job::enough_read(of_.survey.report(), of_.survey.card()));
  if (!card.begun && is_fitted() && of_.survey.readings() > 0)
    card.questions = hand_questions(run, of_.survey.card().doubts);
  if (const auto& promised = of_.moves.promised(); promised && card.enough && is_fitted())
    card.compared = compared(run, promised->survey, promised->card, of_.survey.card());
  if (card.begun)
    for (const page::Move& move : card.moves)
      if (!move.made && move.when_stage.empty()) {
        if (const auto best = of_.watched.best_place(move.order))
          card.stand = page::Stand{move.order, station_number(run, best->at_m).value_or(0),
                                   sheet::show_place(best->at_m, run.show),
                                   std::string(say::word(best->edge)), best->instrument};
        break;
      }
  show("card", card);
}

void PageView::show_kit() {
  page::Kit kit;
  const auto read = of_.log.checks();
  const std::span<const book::NumberedEntry> checks =
      read.ok() ? std::span<const book::NumberedEntry>(read.value()) : std::span<const book::NumberedEntry>();
  for (std::size_t i = 0; i < of_.instruments.size(); ++i)
    kit.instruments.push_back(kit_instrument(of_.instruments.kit(i), checks, of_.sheets.shown));
  kit.check = of_.check.guide();
  if (!kit.check) kit.last_check = of_.check.found();
  kit.warnings = of_.survey.shown_warnings();
  show("kit", kit);
}

}  // namespace hangtrue::daemon
