// daemon.hpp: hangtrued at work: lines in, readings into the book, a fit after each, a card when asked. It wires the parts.
//
// Parts     instruments.hpp  what they give, how they do       guided_check.hpp  checks of instruments, step by step
//           stand.hpp        where people stand                moves_on_job.hpp  the card whose moves are being made
//           taking.hpp       "take"                            asked_recheck.hpp this survey against an earlier one
//           corrections.hpp  what was said wrongly             page_view.hpp     what phones see and say
//           watched_change.hpp  a move or a load under watch   broker_view.hpp   what an MQTT broker is told
//           survey_under_way.hpp  readings, fit, card          raw_samples.hpp   raw samples into the book
// Threads   none: everything on the io_context's single thread. Lifetime: the caller keeps it until run() has returned.
// Commands  commands.hpp, from standard input and from phones, one after the other; each gets exactly one answer (answer.hpp). A
//           phone's command says which revision of things its person saw, and is refused when that is not the latest; and when it
//           was pressed, and is refused more than 2 s later (kLate_us). Phones may say all but done. "give up" ends a take or a next that waits, out of its turn.
// Instants  a reading has no sample from before its place was said: instruments.hpp, restart(). What was typed while the daemon was
//           held up is obeyed with samples from afterwards; a take is refused where another place was typed behind it.
// Failures  an exception within a command is its answer ("refused"), and memory is read anew from the book; anywhere else it ends
//           the daemon in good order, with the book closed. None crosses the end of run().
// Waiting   take and next wait for instruments. They look again when an instrument says something or its state changes, when an
//           order comes, and when patience is over; never by the clock alone.
#pragma once

#include <chrono>
#include <functional>
#include <optional>
#include <string>

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>

#include "firmware-host/daemon/announcer.hpp"
#include "firmware-host/daemon/answer.hpp"
#include "firmware-host/daemon/asked_recheck.hpp"
#include "firmware-host/daemon/broker_view.hpp"
#include "firmware-host/daemon/clock_watch.hpp"
#include "firmware-host/daemon/command_reader.hpp"
#include "firmware-host/daemon/commands.hpp"
#include "firmware-host/daemon/corrections.hpp"
#include "firmware-host/daemon/guided_check.hpp"
#include "firmware-host/daemon/instruments.hpp"
#include "firmware-host/daemon/kept_readings.hpp"
#include "firmware-host/daemon/moves_on_job.hpp"
#include "firmware-host/daemon/order_queue.hpp"
#include "firmware-host/daemon/page_view.hpp"
#include "firmware-host/daemon/raw_samples.hpp"
#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/daemon/stand.hpp"
#include "firmware-host/daemon/survey_log.hpp"
#include "firmware-host/daemon/survey_under_way.hpp"
#include "firmware-host/daemon/taking.hpp"
#include "firmware-host/daemon/waker.hpp"
#include "firmware-host/daemon/watched_change.hpp"

namespace hangtrue::daemon {

class Daemon {
 public:
  /// `log` has begun, or gone on with, a survey of `stage`. `patience`: of take and next, for what has not settled.
  Daemon(boost::asio::io_context& context, const Sheets& sheets, SurveyLog& log, int stage,
         const Announcer& announcer, std::chrono::milliseconds patience);

  /// A page for phones, from now on; or why not, in a sentence.
  [[nodiscard]] std::optional<std::string> serve(page::Options options) {
    return page_.serve(std::move(options));
  }
  /// An MQTT broker is told what happens, from now on.
  void publish_to(broker::Options options) { broker_.publish_to(std::move(options)); }

  /// Opens the lines and works until `done` or stop(). False: a defect of this program ended it, in good order.
  [[nodiscard]] bool run();
  void stop();
  /// Called once, when stop() begins.
  void on_end(std::function<void()> call) { on_end_ = std::move(call); }

 private:
  /// What one who waits finds: the answer, or what is still missing.
  struct Now {
    bool given_up = false, late = false;
  };
  using Look = std::function<Looked(const Now&)>;

  // What happens by itself.
  boost::asio::awaitable<void> listen();
  boost::asio::awaitable<void> keep_raw();
  boost::asio::awaitable<void> watch();
  void watch_clock();
  void station_told(std::size_t instrument, std::size_t station);

  // Commands.
  boost::asio::awaitable<void> obey();
  /// Why an order is refused unheard, or nothing.
  [[nodiscard]] std::optional<Answer> objection(const Order& order,
                                                const std::optional<Command>& command) const;
  [[nodiscard]] Answer not_understood(const Refusal& refusal) const;
  [[nodiscard]] boost::asio::awaitable<Answer> obey(const Command& command);
  [[nodiscard]] Answer failed(const std::string& failure);
  void end_after(const std::string& failure);
  /// Tells it, and does what follows from it.
  void tell(const Answer& answer);
  void put(Order order);

  [[nodiscard]] boost::asio::awaitable<Answer> take(Take command);
  [[nodiscard]] boost::asio::awaitable<Answer> take_kept();
  [[nodiscard]] boost::asio::awaitable<Answer> next_step();
  /// Looks until there is an answer. `command`: shown while it waits.
  [[nodiscard]] boost::asio::awaitable<Answer> wait(std::string_view command, Look look);
  /// Whether somebody gave up what is waited for; a phone is told so.
  [[nodiscard]] bool given_up();
  [[nodiscard]] bool is_moved_on() const;

  /// The settling windows begin anew once things stand elsewhere.
  [[nodiscard]] Answer stands_anew(Answer answer);
  /// The survey is read anew from the book once an entry corrects it.
  [[nodiscard]] Answer corrected(Answer answer);
  [[nodiscard]] Answer mark(const MarkMove& move);
  [[nodiscard]] Answer go_on();
  [[nodiscard]] Answer set_right(const Correct& command);
  [[nodiscard]] Answer undo();
  [[nodiscard]] Answer begin_stage(const BeginStage& command);
  [[nodiscard]] Answer read_again();
  [[nodiscard]] Answer begin_survey(const char* command, int stage);
  [[nodiscard]] Answer give_up();
  [[nodiscard]] Answer seal();
  [[nodiscard]] Answer show_status() const;
  [[nodiscard]] Answer show_help() const;
  [[nodiscard]] Answer finish(const FinishSurvey& command);

  void begin_from_book(int stage);
  void refit();

  boost::asio::io_context& context_;
  const Sheets& sheets_;
  SurveyLog& log_;
  int first_stage_;
  const Announcer& announcer_;
  std::chrono::milliseconds patience_;

  CommandReader commands_;
  OrderQueue orders_;
  Waker news_;  // for who waits: an instrument or a person has said something
  boost::asio::steady_timer raw_due_, watch_due_;
  ClockWatch clock_;

  Instruments instruments_;
  RawSamples raw_;
  Stand stand_;
  SurveyUnderWay survey_;
  Taking taking_;
  KeptReadings kept_;
  GuidedCheck check_;
  MovesOnJob moves_;
  WatchedChange watched_;
  Corrections corrections_;
  AskedRecheck recheck_;
  PageView page_;
  BrokerView broker_;

  bool waits_ = false;  // a take or a next
  Told interrupted_;    // why what is waited for is of no use any more
  bool stopping_ = false;
  std::function<void()> on_end_;
};

}  // namespace hangtrue::daemon
