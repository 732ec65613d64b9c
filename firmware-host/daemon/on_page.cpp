// What phones see of the daemon, and what they say to it.
#include <algorithm>

#include <spdlog/spdlog.h>
#include <boost/asio/post.hpp>

#include "firmware-host/book/short_form.hpp"
#include "firmware-host/daemon/daemon.hpp"
#include "firmware-host/page/json.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/history.hpp"
#include "firmware-host/say/table.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::daemon {

namespace {

constexpr std::int64_t kShowEvery_us = 25'000, kShowWaiting_us = 200'000;
constexpr int kMostRecords = 4;  // asked for at once
constexpr int kMostListed = 50;  // surveys and seals, the last of them

bool has_control_character(const std::string& text) {
  return std::any_of(text.begin(), text.end(), [](char c) {
    const auto byte = static_cast<unsigned char>(c);
    return byte < 0x20 || byte == 0x7f;
  });
}

}  // namespace

std::optional<std::string> Daemon::serve(page::Options options) {
  options.key_path = log_.path() + "-pairing";
  page::Hooks hooks;
  hooks.said = [this](page::Phone phone, std::string frame) {
    boost::asio::post(context_, [this, phone, frame = std::move(frame)] {
      if (!stopping_) phone_said(phone, frame);
    });
  };
  hooks.record = [this](std::string survey, std::function<void(std::string)> reply) {
    // Each is a fit: who asks for many is answered late, and the work goes on meanwhile.
    if (records_waiting_.fetch_add(1) >= kMostRecords) {
      --records_waiting_;
      return;
    }
    boost::asio::post(context_, [this, survey = std::move(survey), reply = std::move(reply)] {
      --records_waiting_;
      if (!stopping_) reply(record_text(survey));
    });
  };
  hooks.note = [this](std::string sentence) {
    boost::asio::post(context_, [this, sentence = std::move(sentence)] {
      if (!stopping_) say("phone", sentence);
    });
  };
  hooks.code_changed = [this](std::string code) {
    boost::asio::post(context_, [this, code = std::move(code)] {
      if (!stopping_) say_pairing(code);
    });
  };
  auto started = page::Server::start(options, std::move(hooks));
  if (!started.ok()) return started.fault();
  page_ = std::move(started).value();
  for (const std::string& address : page_->addresses()) say("page", address, {{"address", address}});
  if (const std::string code = page_->pairing_code(); !code.empty()) say_pairing(code);
  show("job", job_topic(sheets_.run, page::build()));
  return std::nullopt;
}

void Daemon::say_pairing(const std::string& code) const {
  say("pairing", code + ", to be entered once on each phone", {{"code", code}});
}

void Daemon::phone_said(page::Phone phone, const std::string& frame) {
  const auto asked = page::parse<page::Asked>(frame);
  const auto reply = [this, phone](std::int64_t id, bool done, const std::string& words) {
    if (page_) page_->answer(phone, page::text_of(page::Answer{id, done, words}));
  };
  if (!asked.ok()) return reply(0, false, asked.fault());
  const std::int64_t id = asked.value().id;
  const std::string& command = asked.value().command;
  // A line of the terminal's own would follow a line's end.
  if (has_control_character(command)) return reply(id, false, "a command is one line of plain text");
  Order order{
      {command.size() <= kLongestCommand ? command : std::string(), command.size() > kLongestCommand}};
  order.seen = asked.value().seen;
  order.reply = [reply, id](bool done, const std::string& words) { reply(id, done, words); };
  orders_.put(std::move(order));
}

bool Daemon::given_up(const char* command) {
  const auto order = orders_.take_out([](const Order& waiting) {
    const auto parsed = parse_command(waiting.line.text);
    return parsed && std::holds_alternative<GiveUp>(*parsed);
  });
  if (!order) return false;
  if (order->reply) order->reply(true, "given up");
  refuse(command, "given up");
  return true;
}

void Daemon::wait_for(const char* doing, const std::string& what) {
  const std::string_view now = doing == nullptr ? "" : doing;
  if (now == doing_ && now_us() - waiting_shown_us_ < kShowWaiting_us) return;
  doing_ = now;
  waits_for_ = what;
  waiting_shown_us_ = now_us();
  show_work();
}

template <class Topic>
void Daemon::show(const char* name, const Topic& topic) {
  if (page_) page_->publish(name, page::text_of(topic));
}

void Daemon::show_live_soon() {
  if (!page_ || live_due_) return;
  const std::int64_t since_us = now_us() - live_shown_us_;
  if (since_us >= kShowEvery_us) return show_live();
  live_due_ = true;
  showing_.expires_after(std::chrono::microseconds(kShowEvery_us - since_us));
  showing_.async_wait([this](const boost::system::error_code& cancelled) {
    live_due_ = false;
    if (!cancelled && !stopping_) show_live();
  });
}

void Daemon::show_live() {
  if (!page_) return;
  live_shown_us_ = now_us();
  page::Live live;
  for (const Slot& slot : slots_)
    live.instruments.push_back(
        live_instrument(slot.instrument, state(slot), live_shown_us_, sheets_.run.show));
  show("live", live);
}

void Daemon::show_work() {
  if (!page_) return;
  page::Work work;
  work.revision = revision_;
  if (place_.at_m) {
    if (place_.mark.empty()) work.station = station_number(sheets_.run, *place_.at_m);
    work.mark = place_.mark;
    work.at = spot_words(*place_.at_m, place_.mark);
  }
  work.face = place_.face;
  work.edge = edge_word();
  work.set_up = place_.set_up;
  if (place_.laser_at_m) work.laser_at = sheet::show_place(*place_.laser_at_m, sheets_.run.show);
  work.stage = sheets_.run.stages[std::size_t(stage_)];
  work.survey = log_.id();
  for (std::size_t i = 0; i < sheets_.run.supports.size(); ++i)
    if (sheets_.run.beam_stages[std::size_t(stage_)].lists_support(int(i)))
      work.supports.push_back(sheets_.run.supports[i].name);
  for (const Slot& slot : slots_)
    for (const InstrumentLine::LiveChannel& channel : slot.instrument.channels()) {
      if (!channel.walks()) continue;
      (channel.kit->gives == Channel::distance ? work.has_distance : work.has_slope) = true;
    }
  work.doing = doing_;
  work.waits_for = waits_for_;
  if (no_fit_.empty()) work.next = advice(sheets_.run, session_->report());
  work.moving = is_moving();
  work.notice = notice_;
  if (log_.in_trouble()) work.trouble = log_.path() + " cannot be written: nothing that is read now is kept";
  work.trouble_fit = no_fit_;
  show("work", work);
}

void Daemon::show_all() {
  if (!page_) return;
  show_work();
  show_live();
  const bool fitted = no_fit_.empty();
  const auto booked = log_.readings();
  if (booked.ok()) {
    show("readings", readings_topic(sheets_.run, booked.value(), fitted ? &session_->report() : nullptr));
    if (fitted) {
      std::vector<KeptReading> kept;
      for (const book::BookedReading& each : booked.value())
        if (each.kept) kept.push_back({each.number, &each.reading});
      show("run", run_topic(sheets_.run, predicted_, session_->report(), *card_, kept, warnings_));
    }
  }
  page::Card card;
  if (on_job_)
    card = on_job_->card ? card_topic(sheets_.run, on_job_->card.value(), on_job_->entry, on_job_->made)
                         : unusable_card(on_job_->entry, on_job_->card.fault().says);
  else if (shims_)
    card = card_topic(sheets_.run, *shims_, 0, {});
  else
    card.reason = no_fit_;
  card.begun = is_moving();
  if (promised_ && fitted && !session_->readings().empty())
    card.compared = compared(sheets_.run, promised_->survey, promised_->card, *card_);
  show("card", card);

  page::Kit kit;
  const auto checks = log_.checks();
  for (const Slot& slot : slots_)
    kit.instruments.push_back(kit_instrument(slot.instrument.kit(),
                                             checks.ok()
                                                 ? std::span<const book::NumberedEntry>(checks.value())
                                                 : std::span<const book::NumberedEntry>(),
                                             sheets_.run));
  if (check_) {
    page::Guide guide;
    guide.instrument = slots_[check_->instrument].instrument.kit().name;
    guide.what = std::holds_alternative<job::ZeroCheckGuide>(check_->guide) ? "zero" : "datum";
    std::visit(
        [&](const auto& of) {
          guide.steps = of.steps();
          guide.step = std::min(of.step() + 1, of.steps());
          if (!of.done()) guide.instruction = say::instruction(of, sheets_.run.show);
        },
        check_->guide);
    guide.in_doubt = !check_->found.empty();
    guide.found = check_found_;
    kit.check = std::move(guide);
  } else {
    kit.last_check = check_found_;
  }
  kit.warnings = warnings_;
  show("kit", kit);
  show("record", record());
  if (recheck_from_.empty()) return;
  if (recheck_due_) make_recheck();
  page::Recheck recheck = recheck_ ? recheck_topic(sheets_.run, *recheck_)
                                   : page::Recheck{.from = recheck_from_, .to = log_.id()};
  recheck.trouble = no_recheck_;
  show("recheck", recheck);
}

page::Record Daemon::record() const {
  page::Record record;
  record.book = log_.path();
  if (const auto surveys = log_.surveys(kMostListed); surveys.ok())
    for (auto each = surveys.value().rbegin(); each != surveys.value().rend(); ++each)
      record.surveys.push_back({each->begun.id, each->begun.stage, each->time, each->kept,
                                each->readings - each->kept, each->moves, !each->closed});
  if (const auto seals = log_.seals(kMostListed); seals.ok())
    for (auto each = seals.value().rbegin(); each != seals.value().rend(); ++each)
      record.seals.push_back({each->number, book::short_form(each->hash), each->time});
  return record;
}

std::string Daemon::record_text(const std::string& survey) const {
  const auto found = log_.survey(survey, sheets_);
  if (!found.ok()) return found.fault().says + '\n';
  if (!found.value()) return "";
  const SurveyLog::Kept& of = *found.value();
  std::string text = sheets_.run.title + ": survey " + survey + ", stage \"" + of.record.begun.stage +
                     "\", begun " + of.record.time + (of.record.closed ? "" : ", still open") +
                     "\nLevel book " + log_.path() + "\n\n";
  if (!of.history) {
    text += "It goes by another run sheet than the one this program was started with.\n\n";
  } else if (job::SurveyFit* const session = of.history->last().session.get(); session == nullptr) {
    text += "No fit: " + say::not_taught(sheets_.run, *of.history->last().not_taught) + "\n\n";
  } else {
    text += say::fit_view(sheets_.run, session->report()) + '\n';
    if (const auto card = job::make_card(*session); !card)
      text += "No card: " + say::complaint(sheets_.run, card.fault()).text() + "\n\n";
    else
      text += say::card_view(sheets_.run, session->report(), card.value()) + '\n';
  }
  text += "Readings\n";
  for (const book::BookedReading& booked : of.readings)
    text += say::folded("  " + std::to_string(booked.number) + "  " + booked.reading.time + "  " +
                            words(booked.reading) + (booked.kept ? "" : ", set aside") +
                            (booked.reason.empty() ? "" : ": " + booked.reason),
                        6);
  return text;
}

}  // namespace hangtrue::daemon
