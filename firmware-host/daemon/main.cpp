// hangtrued RUN.toml KIT.toml --book B.levelbook: reads the kit's instruments, keeps the book, gives the card.
//
// Exit codes  0 done, or stopped by a signal; 2 wrong use or a bad sheet; 3 the book cannot be used, or a defect of the program.
#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>
#include <cmath>
#include <csignal>
#include <exception>
#include <iostream>
#include <memory>
#include <mutex>
#include <optional>
#include <sstream>
#include <string>

#include <unistd.h>

#include <spdlog/sinks/base_sink.h>
#include <spdlog/spdlog.h>
#include <CLI/CLI.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>

#include "firmware-host/daemon/arguments.hpp"
#include "firmware-host/daemon/broker_options.hpp"
#include "firmware-host/daemon/daemon.hpp"
#include "firmware-host/daemon/patient_writer.hpp"
#include "firmware-host/daemon/service_manager.hpp"
#include "firmware-host/daemon/thresholds.hpp"
#include "firmware-host/job/checks.hpp"
#include "firmware-host/job/rehearsed_clock.hpp"
#include "firmware-host/say/sheet_doubts.hpp"
#include "firmware-host/say/words.hpp"
#include "firmware-host/sheet/units.hpp"

namespace {

// "127.0.0.1:8765", "[::]:8765"; the default where empty or "off". Whether the address is one, the server says.
std::optional<hangtrue::page::Options> page_at(const std::string& text) {
  hangtrue::page::Options options;
  if (text.empty() || text == "off") return options;
  const std::size_t colon = text.rfind(':');
  if (colon == std::string::npos || colon == 0) return std::nullopt;
  options.address = text.substr(0, colon);
  if (options.address.front() == '[' && options.address.back() == ']')
    options.address = options.address.substr(1, options.address.size() - 2);
  const char* const end = text.data() + text.size();
  const auto [stopped, error] = std::from_chars(text.data() + colon + 1, end, options.port);
  return error == std::errc() && stopped == end ? std::optional(options) : std::nullopt;
}

/// What is amiss with a book that is there; else `last_time`, of its last entry. Asked before it is opened to write, which would
/// change the file.
std::optional<std::string> objection_to(const std::string& path, std::string& last_time) {
  using namespace hangtrue;
  const auto book = book::Book::open_to_read(path);
  if (!book.ok() && book.fault().trouble == book::Trouble::absent) return std::nullopt;  // it will be made
  if (!book.ok()) return book.fault().says + '\n';
  const auto audit = book.value().verify();
  if (audit.ok() && audit.value().whole()) {
    last_time = audit.value().last_time;
    return std::nullopt;
  }
  std::string words = path + " is not whole, and is left as it is; name another file for a new book\n";
  if (!audit.ok()) return words + audit.fault().says + '\n';
  for (const std::string& finding : audit.value().findings) words += finding + '\n';
  return words;
}

/// The log on standard error. Who does not read it holds up nobody. A journal has times of its own, and gets priorities.
class Log final : public spdlog::sinks::base_sink<std::mutex> {
  void sink_it_(const spdlog::details::log_msg& message) override {
    if (for_journal_) {
      // trace, debug, info, warning, error, critical, in syslog(3)'s numbers
      constexpr std::array kLevels = {7, 7, 6, 4, 3, 2};
      const std::size_t level = std::min(std::size_t(message.level), kLevels.size() - 1);
      const std::string says(message.payload.data(), message.payload.size());
      writer_.write(hangtrue::daemon::for_journal(kLevels[level], says + '\n'));
      return;
    }
    spdlog::memory_buf_t text;
    formatter_->format(message, text);
    writer_.write({text.data(), text.size()});
  }
  void flush_() override {}

  bool for_journal_ = hangtrue::daemon::is_journal(STDERR_FILENO);
  hangtrue::daemon::PatientWriter writer_{
      STDERR_FILENO, [](std::size_t lines) {
        return std::to_string(lines) + " lines of this log were left out, since nobody read them\n";
      }};
};

/// From its start on: the manager hears that the daemon works, and as often as it wants that its loop goes round.
class Service {
 public:
  Service(boost::asio::io_context& context, const hangtrue::daemon::ServiceManager& manager)
      : manager_(manager), due_(context) {
    boost::asio::post(context, [this] {
      manager_.notify("READY=1");
      keep_awake();
    });
  }
  void stop() {
    manager_.notify("STOPPING=1");
    due_.cancel();
    stopped_ = true;
  }

 private:
  void keep_awake() {
    const auto every = manager_.watchdog_every();
    if (!every || stopped_) return;
    manager_.notify("WATCHDOG=1");
    due_.expires_after(*every);
    due_.async_wait([this](const boost::system::error_code& error) {
      if (!error) keep_awake();
    });
  }

  const hangtrue::daemon::ServiceManager& manager_;
  boost::asio::steady_timer due_;
  bool stopped_ = false;
};

int run(int argc, char** argv) {
  using namespace hangtrue;
  CLI::App app{daemon::kWhatItIs};
  daemon::Arguments arguments;
  daemon::add_arguments(app, arguments);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return app.exit(error) == 0 ? 0 : 2;
  }
  // A reader that has gone and a file that may not grow are errors of a write, and said there; not the end.
  std::signal(SIGPIPE, SIG_IGN);
  std::signal(SIGXFSZ, SIG_IGN);
  const daemon::ServiceManager manager;  // before any thread: it changes the environment
  spdlog::set_default_logger(std::make_shared<spdlog::logger>("hangtrued", std::make_shared<Log>()));

  const auto page_options = page_at(arguments.page);
  if (!page_options) {
    std::cerr << "hangtrued: --page \"" << arguments.page
              << "\": an address in numbers and a port, such as 0.0.0.0:8765 or [::1]:8765, or off\n";
    return 2;
  }

  const daemon::BrokerAsked broker = daemon::broker_asked_for(arguments);
  if (!broker.trouble.empty()) {
    std::cerr << "hangtrued: " << broker.trouble << '\n';
    return 2;
  }

  const auto days_ahead =
      arguments.clock_ahead.empty() ? std::optional(0.0) : sheet::parse_days(arguments.clock_ahead);
  if (!days_ahead) {
    std::cerr
        << "hangtrued: --clock-ahead \"" << arguments.clock_ahead
        << "\": a stretch of time such as \"365 days\", \"26 weeks\" or \"1 year\", at most 100 years\n";
    return 2;
  }

  auto loaded = daemon::load_sheets(arguments.run_path, arguments.kit_path);
  if (const auto* const complaints = std::get_if<std::vector<sheet::Complaint>>(&loaded)) {
    std::cerr << sheet::text(*complaints);
    return 2;
  }
  const auto& sheets = std::get<daemon::Sheets>(loaded);
  {
    job::SolvedRun solved(sheets.run);  // without trouble: load_sheets() saw to that
    const sheet::SheetLines lines(sheets.run_text);
    // By the log: one that nobody reads must not hold the daemon up.
    std::istringstream doubts(say::doubts_view(sheets.run, job::sheet_doubts(sheets.run, solved, lines)) +
                              say::doubts_view(sheets.run, job::kit_doubts(sheets.run, sheets.kit, lines)));
    for (std::string doubt; std::getline(doubts, doubt);) spdlog::warn("{}", doubt);
  }
  const int stage = arguments.stage_name.empty() ? 0 : sheets.run.stage(arguments.stage_name);
  if (stage < 0) {
    std::cerr << sheet::Complaint{arguments.run_path, 0, "--stage", '"' + arguments.stage_name + '"',
                                  "a stage of the run sheet: " + say::stages_of(sheets.run)}
                     .text()
              << '\n';
    return 2;
  }

  const daemon::Announcer announcer(
      STDOUT_FILENO, arguments.json_lines ? daemon::Announcer::Form::json : daemon::Announcer::Form::plain);
  std::string last_time;
  if (const auto words = objection_to(arguments.book_path, last_time)) {
    std::cerr << *words;
    return 3;
  }
  auto book = book::Book::open(arguments.book_path);
  if (!book.ok()) {
    std::cerr << book.fault().says << '\n';
    return 3;
  }
  daemon::SurveyLog log(
      std::move(book).value(), arguments.book_path,
      [&](bool trouble, const std::string& says) {
        announcer.say(daemon::Event::trouble, (trouble ? "" : "over: ") + says);
        spdlog::warn("{}", says);
      },
      std::chrono::seconds(std::llround(*days_ahead * 86400)));
  if (const auto last = job::time_of(last_time); last && *last > log.now() + daemon::kAheadIsNews)
    announcer.say(
        daemon::Event::clock,
        "the last entry of " + arguments.book_path + " is of " + last_time +
            ", and this computer's clock says " + book::rfc3339(log.now()) +
            ": one of them is wrong. Set the clock before you read anything, or say at a recheck with --days "
            "how much time passed");
  if (const auto begun = log.begin(sheets, sheets.run.stages[std::size_t(stage)], arguments.survey);
      !begun.ok()) {
    std::cerr << begun.fault().says << '\n';
    return 3;
  }

  if (!arguments.clock_ahead.empty()) {
    announcer.say(daemon::Event::clock,
                  "a rehearsal: the clock is taken to be " + arguments.clock_ahead + " ahead of what it is");
    if (const auto noted = log.append({book::Note{job::rehearsed_clock_note(arguments.clock_ahead)}});
        !noted.ok()) {
      std::cerr << noted.fault().says << '\n';
      return 3;
    }
  }

  boost::asio::io_context context(1);
  daemon::Daemon work(context, sheets, log, stage, announcer,
                      std::chrono::milliseconds(std::int64_t(arguments.patience_s * 1000)));
  if (arguments.page != "off")
    if (const auto trouble = work.serve(*page_options)) {
      if (arguments.where_page->count() > 0) {
        std::cerr << "hangtrued: " << *trouble << '\n';
        return 3;
      }
      announcer.say(daemon::Event::trouble,
                    "there is no page: " + *trouble + "; another one is asked for with --page");
    }
  boost::asio::signal_set signals(context, SIGINT, SIGTERM);
  signals.async_wait([&](const boost::system::error_code& error, int) {
    if (error) return;
    announcer.say(daemon::Event::stopped, "survey " + log.id() + " stays open in " + log.path() +
                                              "; the same command goes on with it");
    work.stop();
  });
  Service service(context, manager);
  work.on_end([&] {
    signals.cancel();
    service.stop();
  });
  if (broker.options) work.publish_to(*broker.options);
  return work.run() ? 0 : 3;
}

}  // namespace

int main(int argc, char** argv) {
  int ended = 3;
  try {
    ended = run(argc, argv);
  } catch (const std::exception& failure) {  // by now the book was closed
    std::cerr << "hangtrued: a defect of this program: " << failure.what() << '\n';
  }
  spdlog::shutdown();  // the last lines of the log
  return ended;
}
