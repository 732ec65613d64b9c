// daemon.hpp: hangtrued at work: lines in, readings into the book, a fit after each, a card when asked.
//
// Threads   none: everything on the io_context's single thread. Lifetime: the caller keeps it until run() has returned.
// Commands  commands.hpp, one after the other; each gets exactly one answer: here, taken, refused, undone, result, done,
//           or the last line of status and help.
#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>

#include "firmware-host/daemon/announcer.hpp"
#include "firmware-host/daemon/command_reader.hpp"
#include "firmware-host/daemon/commands.hpp"
#include "firmware-host/daemon/instrument_line.hpp"
#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/daemon/survey_log.hpp"
#include "firmware-host/serial/serial_line.hpp"
#include "firmware-host/session/survey_session.hpp"

namespace hangtrue::daemon {

class Daemon {
 public:
  /// `log` has begun, or gone on with, a survey of `stage`. `patience`: of take, for what has not settled.
  Daemon(boost::asio::io_context& context, const Sheets& sheets, SurveyLog& log, int stage,
         const Announcer& announcer, std::chrono::milliseconds patience);

  /// Opens the lines and works until `done` or stop().
  void run();
  void stop();
  /// Called once, when stop() begins.
  void on_end(std::function<void()> call) { on_end_ = std::move(call); }

 private:
  struct Port {
    std::shared_ptr<serial::SerialLine> line;
    std::vector<std::size_t> instruments;  // that speak on it
    bool said_lost = false;
  };
  /// Where the walking instruments stand.
  struct Place {
    std::optional<double> at_m;  // none until it was said: no reading without a place
    int face = 1;
    std::optional<survey::Edge> edge;  // none: as each channel's kit sheet has it
    std::string set_up = "1";
    bool set_up_noted = false;  // in the book, for this survey
  };

  void open_ports();
  void bytes_came(std::size_t port, std::string_view chunk);
  void line_changed(std::size_t port, const serial::Event& event);
  boost::asio::awaitable<void> obey();
  boost::asio::awaitable<void> keep_raw();
  boost::asio::awaitable<void> take(Take command);

  void station_told(std::size_t instrument, std::size_t station);
  void channel_settled(std::size_t instrument, const InstrumentLine::Channel& channel);
  void go_to(const GoToStation& where);
  void place_set_up(const std::string& name);
  void begin_stage(const std::string& name);
  void undo();
  void show_status();
  bool show_card();
  void finish();

  void begin_session();
  [[nodiscard]] std::unique_ptr<session::Lasting> lasting_from_before() const;
  void here();
  void restart();
  void refit();
  void refuse(std::string_view command, const std::string& reason) const;
  void write_raw();
  [[nodiscard]] bool speaks(std::size_t instrument) const;
  [[nodiscard]] bool is_wanted(std::size_t instrument, const InstrumentLine::Channel& channel,
                               Take command) const;
  /// What stands in the way of each wanted channel that has not settled; `count` of wanted channels.
  [[nodiscard]] std::string unsettled(Take command, int& count) const;
  void take_settled(Take command, const std::string& missing);
  [[nodiscard]] std::int64_t now_us() const;
  [[nodiscard]] std::string edge_word() const;
  [[nodiscard]] std::string place_words() const;
  [[nodiscard]] sheet::ReadingEntry entry(const sheet::KitInstrument& kit,
                                          const InstrumentLine::Channel& channel,
                                          const survey::Settled<double>& settled) const;

  boost::asio::io_context& context_;
  const Sheets& sheets_;
  SurveyLog& log_;
  const Announcer& announcer_;
  std::chrono::milliseconds patience_;
  CommandReader commands_;
  boost::asio::steady_timer waiting_, raw_;

  std::vector<InstrumentLine> instruments_;
  std::vector<Port> ports_;

  int stage_;
  std::unique_ptr<session::Lasting> lasting_;
  std::unique_ptr<session::SurveySession> session_;

  Place place_;
  std::vector<std::vector<book::Number>> taken_;  // kept entries of this survey, by take, for undo
  std::uint64_t raw_not_written_ = 0;             // samples that the book could not take
  bool stopping_ = false;
  std::function<void()> on_end_;
};

}  // namespace hangtrue::daemon
