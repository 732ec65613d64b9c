// daemon.hpp: hangtrued at work: lines in, readings into the book, a fit after each, a card when asked.
//
// Threads   none: everything on the io_context's single thread. Lifetime: the caller keeps it until run() has returned.
// Commands  commands.hpp, from standard input and from phones, one after the other; each gets exactly one answer: here, taken,
//           refused, undone, corrected, check, checked, made, sealed, recheck, result, done, or the last line of readings, status and
//           help. A phone's command says which revision of things its person saw, and is refused when that is not the latest.
// Page      serve() before run(): every topic of page/messages.hpp after each command, `live` also with the samples, at most
//           once in kShowEvery. Phones may say all but done. "give up" ends a take or a next that waits, out of its turn.
// States    every instrument has one at any time, told when it changes: "state NAME: WORD, SENTENCE"; where its values stop
//           coming "lost NAME: SENTENCE" as well, and "back NAME" when they come again.
#pragma once

#include <atomic>
#include <chrono>
#include <functional>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <variant>
#include <vector>

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <nlohmann/json.hpp>

#include "firmware-host/daemon/announcer.hpp"
#include "firmware-host/daemon/clock_watch.hpp"
#include "firmware-host/daemon/command_reader.hpp"
#include "firmware-host/daemon/commands.hpp"
#include "firmware-host/daemon/instrument_line.hpp"
#include "firmware-host/daemon/order_queue.hpp"
#include "firmware-host/daemon/page_topics.hpp"
#include "firmware-host/daemon/port.hpp"
#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/daemon/survey_log.hpp"
#include "firmware-host/job/commissioning.hpp"
#include "firmware-host/job/stored_card.hpp"
#include "firmware-host/json/shims.hpp"
#include "firmware-host/page/server.hpp"

namespace hangtrue::daemon {

class Daemon {
 public:
  /// `log` has begun, or gone on with, a survey of `stage`. `patience`: of take, for what has not settled.
  Daemon(boost::asio::io_context& context, const Sheets& sheets, SurveyLog& log, int stage,
         const Announcer& announcer, std::chrono::milliseconds patience);

  /// A page for phones, from now on; or why not, in a sentence. Its addresses are events "page" and "pairing".
  [[nodiscard]] std::optional<std::string> serve(page::Options options);

  /// Opens the lines and works until `done` or stop().
  void run();
  void stop();
  /// Called once, when stop() begins.
  void on_end(std::function<void()> call) { on_end_ = std::move(call); }

 private:
  /// An instrument, where it is plugged in, and what was said of it last.
  struct Slot {
    InstrumentLine instrument;
    Port* port = nullptr;
    std::size_t member = 0;  // of the port
    std::int64_t open_since_us = 0;
    std::optional<std::size_t> tells;  // the station that it told last
    std::string said;                  // word of the state
    bool said_lost = false;
  };
  /// A guided check of one instrument.
  struct Check {
    std::size_t instrument;
    std::variant<job::ZeroCheckGuide, job::DatumCheckGuide> guide;
    std::vector<book::Content> found = {};  // once it is done
  };
  /// Where the walking instruments stand.
  struct Place {
    std::optional<double> at_m;  // none until it was said: no reading without a place
    std::string mark;            // a stable mark, which is there; only distances are read at it
    bool told = false;           // by an instrument, not by a person
    int face = 1;
    std::optional<survey::Edge> edge;  // none: as each channel's kit sheet has it
    std::string set_up = "1";
    std::optional<double> laser_at_m;  // of that set-up; none: not said
    bool set_up_noted = false;         // in the book, for this survey
  };

  /// What the phone that asked is told of its command.
  struct CommandAnswer {
    bool done = true;
    std::string words;
  };
  /// A card in the book whose moves are being made.
  struct OnJob {
    book::Number entry = 0;
    Result<job::StoredCard, json::NotACard> card;
    std::vector<int> made;  // orders of its moves
    bool begun = false;     // its moves are being made
  };
  /// What the card of the survey before this one promised, all its moves made.
  struct Promised {
    std::string survey;
    job::StoredCard card;
  };

  void open_ports();
  void sample_came(std::size_t instrument, const wire::Sample& sample);
  void line_changed(std::size_t port, const serial::Event& event);
  boost::asio::awaitable<void> listen();
  boost::asio::awaitable<void> obey();
  boost::asio::awaitable<void> obey(const Command& command);
  [[nodiscard]] static bool changes(const Command& command);
  void say(std::string_view event, std::string_view text, const nlohmann::ordered_json& more = {}) const;
  boost::asio::awaitable<void> keep_raw();
  boost::asio::awaitable<void> watch();
  void watch_clock();
  [[nodiscard]] InstrumentState state(const Slot& slot) const;
  void tell_states();
  boost::asio::awaitable<void> take(Take command);
  boost::asio::awaitable<void> next_step();

  void station_told(std::size_t instrument, std::size_t station);
  void channel_settled(std::size_t instrument, const InstrumentLine::LiveChannel& channel);
  /// A place on the run, or a mark and where that is.
  struct Spot {
    double at_m = 0;
    std::string mark;
  };
  /// That of a listed station or a mark, or nothing and the command refused.
  [[nodiscard]] std::optional<Spot> spot_of(const GoToStation& where, const char* command) const;
  [[nodiscard]] std::string spot_words(double at_m, const std::string& mark) const;
  void differ(std::size_t instrument, const std::string& how);
  void go_to(const GoToStation& where);
  void place_set_up(const PlaceSetUp& set_up);
  void begin_stage(const std::string& name);
  void read_again();
  void begin_anew();
  void undo();
  void show_readings();
  /// That reading of this survey, or nothing and the command refused.
  [[nodiscard]] std::optional<book::BookedReading> booked(book::Number entry, const char* command) const;
  [[nodiscard]] std::string words(const sheet::ReadingEntry& reading) const;
  void correct(const Correct& command);
  /// Marks an entry of this survey; fits from now on go by it.
  void mark(book::Number entry, const char* command, const book::Content& content, const std::string& says);
  void seal();
  void check_zero(const CheckZero& command);
  void check_datum(const CheckDatum& command);
  /// The instrument of that name, or the only one that `fits`; nothing and the command refused otherwise.
  [[nodiscard]] std::optional<std::size_t> instrument_for(const std::string& name, Channel gives,
                                                          const char* what) const;
  void begin_check(Check check);
  void take_step();
  template <class Outcome>
  void end_check(const Outcome& outcome);
  void keep_check();
  /// Whether one is under way; the command is then refused.
  [[nodiscard]] bool is_checking(const char* command) const;
  void say_step();
  void give_up();
  void show_status();
  bool show_card();
  void finish(bool sealed);

  void begin_moves();
  void mark_move(const MarkMove& move);
  /// Why moves of this card are not to be made, or nothing.
  [[nodiscard]] std::optional<std::string> objection(const job::StoredCard& card) const;
  [[nodiscard]] bool is_moving() const { return on_job_ && (on_job_->begun || !on_job_->made.empty()); }
  /// Whether moves of the card are being made; the command is then refused.
  [[nodiscard]] bool moves_stand_against(const char* command) const;
  void promise_from_book();
  void compare_with(const CompareWith& command);
  void make_recheck();

  // What phones see, and say: on_page.cpp.
  void say_pairing(const std::string& code) const;
  void phone_said(page::Phone phone, const std::string& frame);
  /// Whether a phone gave up what is waited for; it is refused then.
  [[nodiscard]] bool given_up(const char* command);
  /// Shown while something is waited for; nullptr: no longer.
  void wait_for(const char* doing, const std::string& what);
  void show_all();
  void show_work();
  void show_live();
  void show_live_soon();
  template <class Topic>
  void show(const char* name, const Topic& topic);
  [[nodiscard]] page::Record record() const;
  [[nodiscard]] std::string record_text(const std::string& survey) const;

  void begin_session();
  void place_from_book(const std::vector<book::BookedReading>& readings);
  void take_checks();
  void tell_warnings();
  [[nodiscard]] std::unique_ptr<job::CarriedState> lasting_from_before() const;
  void here();
  void restart();
  void refit();
  void refuse(std::string_view command, const std::string& reason) const;
  void write_raw();
  /// Whether it would be taken, if it spoke.
  [[nodiscard]] bool is_meant(const InstrumentLine::LiveChannel& channel, Take command) const;
  [[nodiscard]] bool is_wanted(std::size_t instrument, const InstrumentLine::LiveChannel& channel,
                               Take command) const;
  /// Instruments that would be taken, if they spoke, and why they do not; empty: all speak.
  [[nodiscard]] std::string not_speaking(Take command) const;
  /// What stands in the way of each wanted channel that has not settled; `count` of wanted channels.
  [[nodiscard]] std::string unsettled(Take command, int& count) const;
  void take_settled(Take command, const std::string& missing);
  [[nodiscard]] std::string edge_word() const;
  [[nodiscard]] std::string place_words() const;
  [[nodiscard]] sheet::ReadingEntry entry(const sheet::KitInstrument& kit,
                                          const InstrumentLine::LiveChannel& channel,
                                          const survey::Settled<double>& settled) const;

  boost::asio::io_context& context_;
  const Sheets& sheets_;
  SurveyLog& log_;
  const Announcer& announcer_;
  std::chrono::milliseconds patience_;
  CommandReader commands_;
  OrderQueue orders_;
  boost::asio::steady_timer waiting_, raw_, watching_, showing_;

  std::vector<Slot> slots_;  // in the kit's order
  std::vector<std::unique_ptr<Port>> ports_;
  ClockWatch clock_;

  int stage_;
  std::unique_ptr<job::CarriedState> lasting_;
  std::unique_ptr<job::SurveyFit> session_;

  Place place_;
  std::optional<Check> check_;
  std::vector<std::string> check_found_;          // by the last check that ended, or waits to be kept
  std::vector<std::string> warnings_;             // of the instruments' checks
  std::set<std::string> warned_;                  // those that were said
  std::vector<std::vector<book::Number>> taken_;  // kept entries of this survey, by take, for undo
  std::uint64_t raw_not_written_ = 0;             // samples that the book could not take
  bool stopping_ = false;
  std::function<void()> on_end_;

  job::FitReport predicted_;              // by the sheet alone
  std::optional<job::Card> card_;         // of the fit as it is now
  std::optional<job::StoredCard> shims_;  // the same as it is shown
  std::string no_fit_;                    // and why
  std::optional<OnJob> on_job_;
  std::optional<Promised> promised_;

  std::string recheck_from_;  // the survey that this one is compared with; empty: none
  std::optional<job::Recheck> recheck_;
  std::string no_recheck_;    // and why
  bool recheck_due_ = false;  // the readings are others than those behind it

  std::unique_ptr<page::Server> page_;           // none: no page
  std::int64_t revision_ = 1;                    // of everything that commands change
  mutable std::optional<CommandAnswer> answer_;  // while a command is obeyed
  std::string notice_;                           // until a station is said
  std::string interrupted_;                      // why what is waited for is of no use any more
  std::atomic<int> records_waiting_ = 0;
  std::string_view doing_;  // "take" ... while something is waited for
  std::string waits_for_;
  std::int64_t waiting_shown_us_ = 0;
  bool live_due_ = false;
  std::int64_t live_shown_us_ = 0;
};

}  // namespace hangtrue::daemon
