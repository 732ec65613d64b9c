#include "firmware-host/daemon/daemon.hpp"

#include <cmath>
#include <exception>
#include <utility>

#include <spdlog/spdlog.h>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "firmware-host/book/short_form.hpp"
#include "firmware-host/daemon/overloaded.hpp"
#include "firmware-host/daemon/thresholds.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::daemon {

namespace net = boost::asio;

namespace {

/// What a coroutine ends with, when it is not a return, ends the daemon in good order (run()): nothing is swallowed.
void end_with(std::exception_ptr error) {
  if (error) std::rethrow_exception(error);
}

/// Of the exception that is being handled.
std::string what_failed() {
  try {
    throw;
  } catch (const std::exception& failure) {
    return failure.what();
  } catch (...) {
    return "an error without a name";
  }
}

/// For commands that wait for nothing.
net::awaitable<Answer> at_once(Answer answer) { co_return answer; }

std::string whole_seconds(std::int64_t time_us) {
  return std::to_string((time_us + 500'000) / 1'000'000) + " s";
}

/// How long ago a phone's command was pressed, where that is too long.
std::optional<std::int64_t> late_us(const Order& order) {
  const std::int64_t age_us = order.pressed_us ? now_us() - *order.pressed_us : 0;
  return age_us > kLate_us || age_us < -kLate_us ? std::optional(age_us) : std::nullopt;
}

/// What leaves instruments and readings as they are; and what ends the watch.
bool may_be_said_under_watch(const Command& command) {
  return std::holds_alternative<Watch>(command) || std::holds_alternative<WatchOff>(command) ||
         std::holds_alternative<MarkMove>(command) || std::holds_alternative<BeginStage>(command) ||
         std::holds_alternative<ShowReadings>(command) || std::holds_alternative<ShowStatus>(command) ||
         std::holds_alternative<ShowHelp>(command) || std::holds_alternative<SealBook>(command) ||
         std::holds_alternative<FinishSurvey>(command) || std::holds_alternative<PairOne>(command);
}

net::awaitable<void> sleep(net::steady_timer& timer, std::chrono::milliseconds time) {
  timer.expires_after(time);
  boost::system::error_code cancelled;  // by stop(), which who slept looks for
  co_await timer.async_wait(net::redirect_error(net::use_awaitable, cancelled));
}

}  // namespace

Daemon::Daemon(net::io_context& context, const Sheets& sheets, SurveyLog& log, int stage,
               const Announcer& announcer, std::chrono::milliseconds patience)
    : context_(context),
      sheets_(sheets),
      log_(log),
      first_stage_(stage),
      announcer_(announcer),
      patience_(patience),
      commands_(context.get_executor()),
      orders_(context.get_executor()),
      news_(context.get_executor()),
      raw_due_(context),
      watch_due_(context),
      instruments_(
          sheets, announcer,
          {[this](std::size_t instrument, std::size_t station) { station_told(instrument, station); },
           [this](std::size_t instrument, std::string_view sentence) {
             kept_.heard(instrument, sentence);
             news_.wake();
           },
           [this] {
             news_.wake();
             page_.show_live_soon();
           }}),
      raw_(instruments_, log),
      stand_(sheets, log),
      survey_(sheets, log, instruments_, announcer),
      taking_(sheets, log, raw_, instruments_, stand_, survey_),
      kept_(sheets, log, instruments_, survey_),
      check_(sheets, log, raw_, instruments_, announcer),
      moves_(sheets, log, announcer),
      watched_(sheets, log, instruments_, stand_, survey_, moves_, announcer),
      corrections_(sheets, log, moves_),
      recheck_(sheets, log, survey_, announcer),
      page_(context, {sheets, log, instruments_, stand_, survey_, check_, moves_, watched_, recheck_},
            announcer, [this](Order order) { put(std::move(order)); }),
      broker_({sheets, log, instruments_, survey_, moves_}, announcer) {}

bool Daemon::run() {
  begin_from_book(first_stage_);
  instruments_.open(context_.get_executor());
  announcer_.say(
      Event::ready,
      std::to_string(instruments_.size()) + " instruments, " + std::to_string(sheets_.run.stations_m.size()) +
          " stations, stage " + log_.stage() + ", survey " + log_.id() +
          (log_.continued() ? ", gone on with: " + std::to_string(survey_.readings()) + " readings" : ""));
  survey_.tell_warnings();
  refit();
  page_.show_all();
  broker_.show_all();
  net::co_spawn(context_, listen(), end_with);
  net::co_spawn(context_, obey(), end_with);
  net::co_spawn(context_, keep_raw(), end_with);
  net::co_spawn(context_, watch(), end_with);
  bool sound = true;
  for (;;) {
    try {
      context_.run();
      broker_.close();
      return sound;
    } catch (...) {
      sound = false;
      end_after(what_failed());
    }
  }
}

/// A defect of ours: what it left in memory is not to be relied on, the book is.
void Daemon::end_after(const std::string& failure) {
  spdlog::critical("a defect of this program: {}", failure);
  announcer_.say(Event::trouble, "a defect of this program ends it (" + failure +
                                     "); whatever was acknowledged is in the book; start it again with the "
                                     "same command, and it goes on");
  try {
    stop();
  } catch (...) {
    spdlog::critical("the last raw samples could not be written: {}", what_failed());
  }
}

void Daemon::stop() {
  if (stopping_) return;
  stopping_ = true;
  instruments_.stop();
  commands_.close();
  orders_.close();
  news_.wake();
  raw_due_.cancel();
  watch_due_.cancel();
  page_.close();
  if (on_end_) on_end_();
  raw_.write();  // last: should it fail, all else has ended
}

void Daemon::begin_from_book(int stage) {
  const auto readings = survey_.begin(stage);
  moves_.from_book();
  const auto set_up = log_.last_set_up();
  if (readings && !set_up.ok()) announcer_.say(Event::trouble, set_up.fault().says);
  if (readings && set_up.ok())
    stand_.from_book(*readings, set_up.value());
  else
    stand_.from_book({}, {});
}

void Daemon::refit() {
  recheck_.readings_are_others();
  moves_.readings_are_others();
  survey_.fit();
}

// ---- what happens by itself ---------------------------------------------------------------------------------------

net::awaitable<void> Daemon::keep_raw() {
  while (!stopping_) {
    co_await sleep(raw_due_, kRawEvery);
    if (stopping_) co_return;
    raw_.write();
    page_.show_work();  // whether the book can be written
  }
}

net::awaitable<void> Daemon::watch() {
  while (!stopping_) {
    co_await sleep(watch_due_, kWatchEvery);
    if (stopping_) co_return;
    watch_clock();
    instruments_.tell_states();
    watched_.look();
    page_.show_live();
    broker_.look();
  }
}

/// Settling goes by the monotonic clock and is untouched; the times in the book go by the wall clock, so it says so.
void Daemon::watch_clock() {
  const auto jump = clock_.look(std::chrono::system_clock::now(), std::chrono::steady_clock::now());
  if (!jump) return;
  const double seconds = *jump;
  announcer_.say(Event::clock,
                 std::string("this computer's clock was set ") + (seconds > 0 ? "forward" : "back") + " by " +
                     std::to_string(std::llround(std::abs(seconds))) +
                     " s; times in the book before and after differ by that much; readings are not affected");
  // Said already; a book that cannot keep it is said by on_trouble.
  (void)log_.append({book::ClockJump{seconds}}).ok();
}

void Daemon::station_told(std::size_t instrument, std::size_t station) {
  const std::string& name = instruments_.kit(instrument).name;
  const auto warning = stand_.told(name, station);
  const std::string place = sheet::show_place(sheets_.run.stations_m[station], sheets_.run.show);
  instruments_.restart();
  page_.changed();
  if (warning) announcer_.say(Event::warning, *warning);
  // What was asked for was asked for another place.
  if (waits_ && !check_.is_under_way())
    interrupted_ = sheets_.both([&](const sheet::RunSheet& run) {
      return say::text(run.show, "{} tells {} now; look, and take again", name,
                       sheet::show_place(sheets_.run.stations_m[station], run.show));
    });
  page_.show_work();
  announcer_.say(Event::station, name + ' ' + place);
}

// ---- commands -----------------------------------------------------------------------------------------------------

net::awaitable<void> Daemon::listen() {
  // Nobody commands here any more once it ends; phones may, and raw samples go on until a signal ends the daemon.
  for (;;) {
    std::optional<CommandLine> line = co_await commands_.next();
    if (!line && !stopping_ && !page_.is_served())
      announcer_.say(
          Event::warning,
          "standard input has ended, and there is no page: nobody commands this program any more; it "
          "goes on keeping raw samples in " +
              log_.path() + " until Ctrl-C (SIGINT) or SIGTERM ends it");
    if (!line) co_return;
    Order order;  // by name: GCC 12 destroys a temporary of a co_await twice
    order.line = std::move(*line);
    order.while_held = instruments_.look_for_a_hold();
    co_await orders_.put_in_turn(std::move(order));
    news_.wake();
  }
}

void Daemon::put(Order order) {
  orders_.put(std::move(order));
  news_.wake();
}

net::awaitable<void> Daemon::obey() {
  while (!stopping_) {
    const std::optional<Order> order = co_await orders_.next();
    if (!order) co_return;
    const std::optional<Command> command = parse_command(order->line.text);
    if (!command && !order->line.too_long && !order->reply) continue;
    std::optional<Answer> answer = objection(*order, command);
    try {
      if (!answer) {
        net::awaitable<Answer> obeying = obey(*command);
        answer = co_await std::move(obeying);
      }
    } catch (...) {
      answer = failed(what_failed());
    }
    if (stopping_) co_return;
    tell(*answer);
    broker_.show_all();
    if (answer->ends) {
      stop();
      co_return;
    }
    if (answer->done && answer->changes) page_.changed();
    page_.show_all();
    if (order->reply) order->reply(answer->done, answer->words);
  }
}

/// A defect of ours in the midst of a command: memory is made anew from the book. Where that fails too the daemon ends.
Answer Daemon::failed(const std::string& failure) {
  spdlog::critical("a defect of this program: {}", failure);
  waits_ = false;
  page_.wait_no_more();
  survey_.read_anew();
  refit();
  page_.changed();
  return refused("command",
                 sheets_.told("this program failed at it ({}); the readings were read anew from the book: "
                              "look whether it was done",
                              failure));
}

std::optional<Answer> Daemon::objection(const Order& order, const std::optional<Command>& command) const {
  if (order.line.too_long) return refused("line", sheets_.told("longer than {} characters", kLongestCommand));
  if (!command) return refused("command", sheets_.told("empty; help lists what can be said"));
  if (const auto* const refusal = std::get_if<Refusal>(&*command)) return not_understood(*refusal);
  if (const auto late = late_us(order))
    return refused(
        "command",
        *late > 0 ? sheets_.told("it came {} after it was pressed, and nothing was done by it; look again, "
                                 "then repeat",
                                 whole_seconds(*late))
                  : sheets_.told("it says that it will be pressed in {}; load the page anew",
                                 whole_seconds(-*late)));
  if (order.seen && *order.seen != page_.revision())
    return refused("command",
                   sheets_.told("something was changed meanwhile, from another phone or at the computer; "
                                "look again, then repeat"));
  if (watched_.is_under_way() && !may_be_said_under_watch(*command))
    return watched_.stands_against("command");
  if (order.reply && std::holds_alternative<FinishSurvey>(*command))
    return refused("done", sheets_.told("ends the program and this page with it; type it at the computer"));
  if (order.reply && std::holds_alternative<PairOne>(*command))
    return refused("pair", sheets_.told("a code is shown at the computer alone; type it there"));
  return std::nullopt;
}

net::awaitable<Answer> Daemon::obey(const Command& command) {
  return std::visit(
      Overloaded{
          [&](const GoToStation& to) { return at_once(stands_anew(stand_.go_to(to, instruments_))); },
          [&](const GoOn&) { return at_once(stands_anew(go_on())); },
          [&](const TurnFace& face) { return at_once(stands_anew(stand_.turn(face))); },
          [&](const ChooseEdge& edge) { return at_once(stands_anew(stand_.choose(edge))); },
          [&](const PlaceSetUp& set_up) { return at_once(stands_anew(stand_.place(set_up))); },
          [&](const BeginStage& stage) { return at_once(begin_stage(stage)); },
          [&](const Take& wanted) { return take(wanted); },
          [&](const TakeKept&) { return take_kept(); },
          [&](const Undo&) { return at_once(undo()); },
          [&](const ShowReadings&) { return at_once(corrections_.list(announcer_)); },
          [&](const Correct& right) { return at_once(set_right(right)); },
          [&](const SetAsideEntry& entry) { return at_once(corrected(corrections_.set_aside(entry))); },
          [&](const PutBackEntry& entry) { return at_once(corrected(corrections_.put_back(entry))); },
          [&](const CheckZero& zero) { return at_once(check_.begin(zero)); },
          [&](const CheckDatum& datum) { return at_once(check_.begin(datum)); },
          [&](const CheckScale& scale) { return at_once(check_.begin(scale)); },
          [&](const SayWhatBears& found) {
            const auto no = moves_.stand_against(found.bears ? "bears" : "hangs free");
            return at_once(no ? *no : survey_.say_what_bears(found));
          },
          [&](const SayStart& told) {
            const auto no = moves_.stand_against("start at");
            return at_once(no ? *no : survey_.say_start(told));
          },
          [&](const NameSurvey& told) { return at_once(survey_.name(told)); },
          [&](const BeginMoves&) {
            const auto no = check_.stands_against("begin moves");
            return at_once(no ? *no : moves_.begin(survey_));
          },
          [&](const MarkMove& move) {
            const auto no = check_.stands_against(move.made ? "made" : "not made");
            return at_once(no ? *no : mark(move));
          },
          [&](const Watch& what) {
            const auto no = check_.stands_against("watch");
            return at_once(no ? *no : watched_.begin(what));
          },
          [&](const WatchOff&) { return at_once(watched_.end()); },
          [&](const ReadAgain&) { return at_once(read_again()); },
          [&](const CompareWith& earlier) { return at_once(recheck_.ask(earlier)); },
          [&](const Next&) { return next_step(); },
          [&](const GiveUp&) { return at_once(give_up()); },
          [&](const KeepCheck&) { return at_once(check_.keep()); },
          [&](const ShowStatus&) { return at_once(show_status()); },
          [&](const ShowCard&) { return at_once(moves_.put_card(survey_)); },
          [&](const SealBook&) { return at_once(seal()); },
          [&](const FinishSurvey& how) { return at_once(finish(how)); },
          [&](const ShowHelp&) { return at_once(show_help()); },
          [&](const PairOne&) { return at_once(page_.pair_one()); },
          [&](const Refusal& refusal) { return at_once(not_understood(refusal)); }},
      command);
}

Answer Daemon::not_understood(const Refusal& refusal) const {
  return refused(refusal.command, Told(refusal.reason, say::said(sheets_.shown.show, refusal.reason)));
}

void Daemon::tell(const Answer& answer) {
  announcer_.say(answer);
  for (const std::string& warning : answer.warnings) announcer_.say(Event::warning, warning);
  if (answer.other_checks) survey_.take_checks();
  if (answer.other_checks && answer.other_readings) survey_.tell_warnings();
  if (answer.other_readings) refit();
}

// ---- commands that wait -------------------------------------------------------------------------------------------

net::awaitable<Answer> Daemon::take(Take command) {
  if (auto no = check_.stands_against("take")) co_return *no;
  if (auto no = moves_.stand_against("take")) co_return *no;
  if (!command.fixed && !stand_.now().at_m)
    co_return refused("take", sheets_.told("say first where the instruments stand, such as station 1"));
  interrupted_ = {};
  Look look = [this, command](const Now& now) -> Looked {
    if (now.given_up) return refused("take", sheets_.told("given up"));
    if (!command.fixed && is_moved_on())
      return refused(
          "take",
          sheets_.told(
              "this program was held up, and another place was typed behind it meanwhile: nobody knows "
              "where the instruments stood; go there, and take again"));
    if (!interrupted_.empty()) return refused("take", interrupted_);
    return taking_.look(command, now.late);
  };
  net::awaitable<Answer> waiting = wait(command.fixed ? "take fixed" : "take", std::move(look));
  co_return co_await std::move(waiting);
}

net::awaitable<Answer> Daemon::take_kept() {
  if (auto no = check_.stands_against("take kept")) co_return *no;
  if (auto no = moves_.stand_against("take kept")) co_return *no;
  if (auto no = kept_.begin()) co_return *no;
  Look look = [this](const Now& now) -> Looked {
    if (now.given_up) return refused("take kept", sheets_.told("given up"));
    return kept_.look(now.late);
  };
  net::awaitable<Answer> waiting = wait("take kept", std::move(look));
  co_return co_await std::move(waiting);
}

net::awaitable<Answer> Daemon::next_step() {
  if (auto no = check_.no_step()) co_return *no;
  Look look = [this](const Now& now) -> Looked {
    if (!now.given_up) return check_.look(now.late);
    check_.give_up();
    return refused("next", sheets_.told("given up"));
  };
  net::awaitable<Answer> waiting = wait("next", std::move(look));
  co_return co_await std::move(waiting);
}

net::awaitable<Answer> Daemon::wait(std::string_view command, Look look) {
  const auto until = Waker::Clock::now() + patience_;
  Answer answer;
  waits_ = true;
  while (!stopping_) {
    Looked found = look({given_up(), Waker::Clock::now() >= until});
    if (Answer* const is_answer = std::get_if<Answer>(&found)) {
      answer = std::move(*is_answer);
      break;
    }
    page_.wait_for(command, std::get<Told>(found).words);
    co_await news_.wait(until);
  }
  waits_ = false;
  page_.wait_no_more();
  co_return answer;  // of one who was stopped it is not told
}

/// Whether a person who could not see that the daemon was held up has said by now that the instruments stand elsewhere.
bool Daemon::is_moved_on() const {
  return orders_.has([](const Order& waiting) {
    if (!waiting.while_held) return false;
    const auto parsed = parse_command(waiting.line.text);
    return parsed && says_where(*parsed);
  });
}

bool Daemon::given_up() {
  const auto order = orders_.take_out([](const Order& waiting) {
    if (late_us(waiting)) return false;  // perhaps of a take before this one; refused in its turn
    const auto parsed = parse_command(waiting.line.text);
    return parsed && std::holds_alternative<GiveUp>(*parsed);
  });
  if (order && order->reply) order->reply(true, sheets_.told("given up").words);
  return order.has_value();
}

// ---- commands that do not -----------------------------------------------------------------------------------------

Answer Daemon::stands_anew(Answer answer) {
  if (answer.done) instruments_.restart();
  return answer;
}

Answer Daemon::corrected(Answer answer) {
  if (answer.done) survey_.read_anew();
  return answer;
}

/// A move that was made under watch ends with what was seen.
Answer Daemon::mark(const MarkMove& move) {
  Answer answer = moves_.mark(move);
  const auto& watching = watched_.now();
  if (answer.done && move.made && watching && watching->order == move.order) watched_.ended("ticked as made");
  return answer;
}

Answer Daemon::go_on() {
  const auto walk = survey_.walk();
  if (!walk) return refused("go on", sheets_.told("there is no plan for this run and kit; say a station"));
  if (!walk->next) return refused("go on", sheets_.told("all places of the plan are read ({})", walk->stops));
  return stand_.go_to(*walk->next, instruments_);
}

/// Where the last take is said to stand elsewhere, those who took it stand there too.
Answer Daemon::set_right(const Correct& command) {
  const Place& here = stand_.now();
  const bool moves = here.at_m && corrections_.moves_last_take(command, *here.at_m, here.mark);
  Answer answer = corrected(corrections_.set_right(command));
  if (!answer.done || !moves) return answer;
  const Answer there = stands_anew(stand_.go_to(std::get<GoToStation>(command.to), instruments_));
  answer.add(sheets_.told("; the instruments stand there now: ") + stand_.words());
  answer.warnings = there.warnings;
  return answer;
}

Answer Daemon::undo() {
  const auto no = moves_.stand_against("undo");
  return no ? *no : survey_.undo();
}

Answer Daemon::begin_stage(const BeginStage& command) {
  if (const auto no = check_.stands_against("stage")) return *no;
  int next = -1;
  for (std::size_t i = 0; i < sheets_.run.stages.size(); ++i)
    if (lower(sheets_.run.stages[i]) == lower(command.name)) next = int(i);
  if (next < 0)
    return refused("stage", sheets_.told("\"{}\" is none; the stages are {}", command.name,
                                         say::stages_of(sheets_.run)));
  return begin_survey("stage", next);
}

/// After the moves of a card: what was read before them is of another shape.
Answer Daemon::read_again() {
  if (const auto no = check_.stands_against("read again")) return *no;
  return begin_survey("read again", survey_.stage());
}

Answer Daemon::begin_survey(const char* command, int stage) {
  watched_.ended(std::string("ended by ") + command);
  raw_.write();
  if (const auto begun = log_.begin_next(sheets_.run.stages[std::size_t(stage)]); !begun.ok())
    return refused(command, sheets_.told(begun.fault()));
  begin_from_book(stage);
  refit();
  return stands_anew(stand_.here());
}

Answer Daemon::give_up() {
  if (check_.is_under_way())
    check_.give_up();
  else if (!moves_.give_up())
    return refused("give up", sheets_.told("no check is under way, and nothing is waited for or begun"));
  return stand_.here();
}

Answer Daemon::seal() {
  raw_.write();
  const auto sealed = log_.seal();
  if (!sealed.ok()) return refused("seal", sheets_.told(sealed.fault()));
  const std::string short_form = book::short_form(sealed.value().hash);
  return answered(Event::sealed,
                  sheets_.told("entries 1 to {} by entry {}, code {}; write it down away from this computer",
                               sealed.value().number - 1, sealed.value().number, short_form),
                  {{"number", sealed.value().number}, {"hash", sealed.value().hash}, {"short", short_form}});
}

Answer Daemon::show_status() const {
  instruments_.tell_status();
  if (raw_.not_written() > 0)
    announcer_.say(Event::status, std::to_string(raw_.not_written()) +
                                      " raw samples are not in the book, which could not be written");
  if (const std::uint64_t more = instruments_.raw_passed_over(); more > 0)
    announcer_.say(Event::status, std::to_string(more) + " raw samples are not in the book: more than " +
                                      std::to_string(kMostRaw) + " a second came of a channel");
  announcer_.say(Event::status, "survey " + log_.id() + ": " + std::to_string(survey_.readings()) +
                                    " readings, book " + log_.path() +
                                    (log_.in_trouble() ? ", WHICH CANNOT BE WRITTEN" : ""));
  return listed(Event::status);
}

Answer Daemon::show_help() const {
  for (const std::string& text : help()) announcer_.say(Event::help, text);
  return listed(Event::help);
}

Answer Daemon::finish(const FinishSurvey& command) {
  if (const auto no = check_.stands_against("done")) return *no;
  watched_.ended("ended with the survey");
  if (survey_.readings() > 0 && !moves_.are_being_made()) announcer_.say(moves_.put_card(survey_));
  raw_.write();
  if (const auto closed = log_.append({book::SurveyClosed{}}); !closed.ok())
    return refused("done", sheets_.told(closed.fault()));
  if (command.sealed) announcer_.say(seal());
  Answer answer = answered(Event::done, "survey " + log_.id() + ", " + std::to_string(survey_.readings()) +
                                            " readings, book " + log_.path());
  answer.ends = true;
  return answer;
}

}  // namespace hangtrue::daemon
