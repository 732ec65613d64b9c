#include "firmware-host/daemon/daemon.hpp"

#include <algorithm>
#include <cmath>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <spdlog/spdlog.h>

#include "firmware-host/session/views.hpp"
#include "firmware-host/session/words.hpp"

namespace hangtrue::daemon {

namespace net = boost::asio;
using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;

namespace {

constexpr auto kTakePatience = std::chrono::seconds(30);
constexpr auto kRawEvery = std::chrono::seconds(1);
constexpr double kOnStation_m = 0.001;

// What a coroutine ends with, when it is not a return, ends the daemon: nothing is swallowed.
void end_with(std::exception_ptr error) {
  if (error) std::rethrow_exception(error);
}

}  // namespace

Daemon::Daemon(net::io_context& context, const Sheets& sheets, SurveyLog& log, int stage, const Announcer& announcer)
    : context_(context),
      sheets_(sheets),
      log_(log),
      announcer_(announcer),
      commands_(context.get_executor()),
      waiting_(context),
      raw_(context),
      stage_(stage) {
  for (const sheet::KitInstrument& kit : sheets.kit.instruments) instruments_.emplace_back(kit, sheets.run.stations_m.size());
  session_ = std::make_unique<session::SurveySession>(sheets.run, &sheets.kit, stage_);
  if (!sheets.run.stations_m.empty()) at_m_ = sheets.run.stations_m.front();
  if (const auto kept = log_.kept(); kept.ok())
    for (const book::BookedReading& booked : kept.value()) session_->add(booked.reading);
  if (const auto set_up = log_.last_set_up(); set_up.ok() && !set_up.value().empty()) {
    set_up_ = set_up.value();
    set_up_noted_ = true;
  }
}

void Daemon::run() {
  open_ports();
  announcer_.say("ready", std::to_string(instruments_.size()) + " instruments, " +
                              std::to_string(sheets_.run.stations_m.size()) + " stations, stage " +
                              sheets_.run.stages[std::size_t(stage_)] + ", survey " + log_.id() +
                              (log_.continued() ? ", gone on with: " + std::to_string(session_->readings().size()) + " readings" : ""));
  net::co_spawn(context_, obey(), end_with);
  net::co_spawn(context_, keep_raw(), end_with);
  context_.run();
}

void Daemon::stop() {
  if (stopping_) return;
  stopping_ = true;
  flush_raw();
  for (const Port& port : ports_) port.line->stop();
  commands_.close();
  waiting_.cancel();
  raw_.cancel();
  if (on_end_) on_end_();
}

// ---- lines --------------------------------------------------------------------------------------------------------

void Daemon::open_ports() {
  for (std::size_t i = 0; i < instruments_.size(); ++i) {
    const sheet::KitInstrument& kit = instruments_[i].kit();
    const auto shared = std::find_if(ports_.begin(), ports_.end(),
                                     [&](const Port& port) { return port.line->settings().path == kit.port; });
    if (shared != ports_.end()) {
      shared->instruments.push_back(i);
      continue;
    }
    const std::size_t index = ports_.size();
    serial::Settings settings;
    settings.path = kit.port;
    settings.baud = unsigned(kit.baud);
    ports_.push_back({serial::SerialLine::create(
                          context_.get_executor(), settings,
                          [this, index](std::string_view chunk) {
                            for (const std::size_t instrument : ports_[index].instruments)
                              instruments_[instrument].bytes(
                                  chunk, now_us(),
                                  [this](std::size_t station) { go_to({std::nullopt, int(station) + 1}); },
                                  [this, instrument](const InstrumentLine::Channel& channel) {
                                    const auto value = channel.settling.value(std::uint64_t(now_us()));
                                    if (value.ok())
                                      announcer_.say("settled", instruments_[instrument].kit().name + ' ' +
                                                                    std::string(session::word(channel.kit->gives)) + ' ' +
                                                                    show_value(channel.kit->gives, value.value().mean,
                                                                               sheets_.run.show));
                                  });
                          },
                          [this, index](const serial::Event& event) { line_changed(index, event); }),
                      {i}});
  }
  for (const Port& port : ports_) port.line->start();
}

void Daemon::line_changed(std::size_t port, const serial::Event& event) {
  for (const std::size_t i : ports_[port].instruments) {
    InstrumentLine& instrument = instruments_[i];
    const std::string& name = instrument.kit().name;
    announcer_.say("port", name + ": " + std::string(serial::word(event.state)) + ", " + event.sentence);
    if (event.state == serial::State::open) {
      if (event.again) announcer_.say("back", name);
      continue;
    }
    if (event.state == serial::State::stopped) continue;
    instrument.lost(now_us());
    announcer_.say("lost", name + ": " + event.sentence);
    spdlog::warn("{}: {}", name, event.sentence);
  }
}

bool Daemon::speaks(std::size_t instrument) const {
  for (const Port& port : ports_)
    if (std::find(port.instruments.begin(), port.instruments.end(), instrument) != port.instruments.end())
      return port.line->state() == serial::State::open;
  return false;
}

std::int64_t Daemon::now_us() const {
  return std::chrono::duration_cast<std::chrono::microseconds>(Clock::now().time_since_epoch()).count();
}

// ---- commands -----------------------------------------------------------------------------------------------------

net::awaitable<void> Daemon::obey() {
  while (!stopping_) {
    const std::optional<CommandLine> line = co_await commands_.next();
    if (!line) co_return;  // no one to ask any more; readings by hand of the page or another start go on
    if (line->too_long) {
      refuse("line", "longer than " + std::to_string(kLongestCommand) + " characters");
      continue;
    }
    const std::optional<Command> command = parse_command(line->text);
    if (!command) continue;
    if (const auto* const refusal = std::get_if<Refusal>(&*command)) refuse(refusal->command, refusal->reason);
    if (const auto* const station = std::get_if<GoToStation>(&*command)) go_to(*station);
    if (const auto* const face = std::get_if<TurnFace>(&*command)) {
      face_ = face->face;
      restart();
      here();
    }
    if (const auto* const edge = std::get_if<ChooseEdge>(&*command)) {
      edge_ = edge->edge;
      restart();
      here();
    }
    if (const auto* const set_up = std::get_if<PlaceSetUp>(&*command)) place_set_up(set_up->name);
    if (const auto* const stage = std::get_if<BeginStage>(&*command)) begin_stage(stage->name);
    if (const auto* const wanted = std::get_if<Take>(&*command)) co_await take(*wanted);
    if (std::holds_alternative<Undo>(*command)) undo();
    if (std::holds_alternative<ShowStatus>(*command)) show_status();
    if (std::holds_alternative<ShowCard>(*command)) show_card();
    if (std::holds_alternative<ShowHelp>(*command)) {
      for (const std::string& text : help()) announcer_.say("help", text);
      announcer_.say("help", "end");
    }
    if (std::holds_alternative<FinishSurvey>(*command)) finish();
  }
}

void Daemon::refuse(std::string_view command, const std::string& reason) const {
  announcer_.say("refused", std::string(command) + ": " + reason);
}

std::string Daemon::place_words() const {
  return sheet::show_place(at_m_, sheets_.run.show) + ", face " + (face_ == 1 ? "1" : "2") + ", edge " +
         std::string(session::word(edge_)) + ", set-up " + set_up_;
}

void Daemon::here() {
  announcer_.say("here", "station " + place_words() + ", stage " + sheets_.run.stages[std::size_t(stage_)] + ", survey " + log_.id());
}

void Daemon::restart() {
  for (InstrumentLine& instrument : instruments_) instrument.restart(now_us());
}

void Daemon::go_to(const GoToStation& where) {
  const std::vector<double>& stations = sheets_.run.stations_m;
  if (where.number) {
    if (*where.number < 1 || std::size_t(*where.number) > stations.size())
      return refuse("station", "number " + std::to_string(*where.number) + ", but the run has stations 1 to " + std::to_string(stations.size()));
    at_m_ = stations[std::size_t(*where.number) - 1];
  } else {
    const double x = *where.at_m;
    if (!(x >= -kOnStation_m && x <= sheets_.run.length_m + kOnStation_m))
      return refuse("station", sheet::show_place(x, sheets_.run.show) + " is off the run, which ends at " +
                                   sheet::show_place(sheets_.run.length_m, sheets_.run.show));
    const auto nearest = std::min_element(stations.begin(), stations.end(),
                                          [&](double a, double b) { return std::abs(a - x) < std::abs(b - x); });
    if (nearest == stations.end() || std::abs(*nearest - x) > kOnStation_m)
      return refuse("station", "no station at " + sheet::show_place(x, sheets_.run.show) +
                                   (nearest == stations.end() ? "" : "; the nearest is at " + sheet::show_place(*nearest, sheets_.run.show)));
    at_m_ = *nearest;
  }
  restart();
  here();
}

void Daemon::place_set_up(const std::string& name) {
  if (name != set_up_ || !set_up_noted_) {
    if (const auto noted = log_.append({book::SetUp{name}}); !noted.ok()) return refuse("set-up", noted.fault().says);
    set_up_noted_ = true;
  }
  set_up_ = name;
  restart();
  here();
}

void Daemon::begin_stage(const std::string& name) {
  int next = -1;
  std::string known;
  for (std::size_t i = 0; i < sheets_.run.stages.size(); ++i) {
    known += (known.empty() ? "\"" : ", \"") + sheets_.run.stages[i] + '"';
    if (lower(sheets_.run.stages[i]) == lower(name)) next = int(i);
  }
  if (next < 0) return refuse("stage", '"' + name + "\" is none; the stages are " + known);
  flush_raw();
  std::unique_ptr<session::Lasting> lasting;
  if (!session_->fit()) lasting = session_->lasting(moved_);
  if (const auto begun = log_.begin_next(sheets_.run.stages[std::size_t(next)]); !begun.ok()) return refuse("stage", begun.fault().says);
  stage_ = next;
  moved_ = 0;
  taken_.clear();
  set_up_noted_ = false;
  lasting_ = std::move(lasting);
  session_ = std::make_unique<session::SurveySession>(sheets_.run, &sheets_.kit, stage_, lasting_.get());
  restart();
  here();
}

sheet::ReadingEntry Daemon::entry(const sheet::KitInstrument& kit, const InstrumentLine::Channel& channel,
                                  const survey::Settled<double>& settled) const {
  sheet::ReadingEntry reading;
  const auto ago = std::chrono::microseconds(now_us() - std::int64_t(settled.to_us));
  reading.time = book::rfc3339(std::chrono::system_clock::now() - std::chrono::duration_cast<book::Time::duration>(ago));
  reading.instrument = kit.name;
  reading.channel = survey::Channel(int(channel.kit->gives));
  const bool distance = reading.channel == survey::Channel::distance;
  if (distance) reading.set_up = set_up_;
  reading.at_m = channel.kit->station_m.value_or(at_m_);
  reading.face = distance || channel.kit->station_m ? 1 : face_;
  reading.edge = channel.kit->station_m ? channel.kit->edge : edge_;
  reading.value = settled.mean;
  reading.sigma = settled.sigma;
  reading.base_m = channel.kit->base_m;
  return reading;
}

// Waits until every channel that is wanted and whose line is open has settled, then writes them all.
net::awaitable<void> Daemon::take(Take command) {
  const auto wanted = [&](std::size_t i, const InstrumentLine::Channel& channel) {
    return speaks(i) && (command.fixed ? channel.is_reading() && !channel.walks() : channel.walks());
  };
  const auto until = Clock::now() + kTakePatience;
  std::string unsettled;
  for (;;) {
    int count = 0;
    unsettled.clear();
    for (std::size_t i = 0; i < instruments_.size(); ++i)
      for (const InstrumentLine::Channel& channel : instruments_[i].channels()) {
        if (!wanted(i, channel)) continue;
        ++count;
        const survey::Verdict verdict = channel.settling.verdict(std::uint64_t(now_us()));
        if (verdict != survey::Verdict::settled)
          unsettled += (unsettled.empty() ? "" : "; ") + instruments_[i].kit().name + ' ' +
                       std::string(session::word(channel.kit->gives)) + ": " + std::string(word(verdict));
      }
    if (count == 0) {
      refuse("take", command.fixed ? "no instrument that stays where it is has an open line" : "no walking instrument has an open line");
      co_return;
    }
    if (unsettled.empty() || Clock::now() > until) break;
    waiting_.expires_after(milliseconds(20));
    boost::system::error_code cancelled;
    co_await waiting_.async_wait(net::redirect_error(net::use_awaitable, cancelled));
    if (stopping_) co_return;
  }

  std::vector<book::Content> contents;
  std::vector<sheet::ReadingEntry> readings;
  bool distance = false;
  for (std::size_t i = 0; i < instruments_.size(); ++i)
    for (const InstrumentLine::Channel& channel : instruments_[i].channels()) {
      if (!wanted(i, channel)) continue;
      const auto settled = channel.settling.value(std::uint64_t(now_us()));
      if (!settled.ok()) continue;
      readings.push_back(entry(instruments_[i].kit(), channel, settled.value()));
      distance = distance || channel.kit->gives == sheet::Gives::distance;
      contents.push_back(book::Taken{readings.back(), int(settled.value().count), settled.value().spread, settled.value().temperature_C});
    }
  if (readings.empty()) {
    refuse("take", unsettled);
    co_return;
  }
  const bool note_set_up = distance && !set_up_noted_;
  if (note_set_up) contents.insert(contents.begin(), book::SetUp{set_up_});
  flush_raw();
  const auto written = log_.append(contents);
  if (!written.ok()) {
    refuse("take", written.fault().says);
    co_return;
  }
  set_up_noted_ = set_up_noted_ || note_set_up;
  std::vector<book::Number> numbers;
  for (std::size_t k = 0; k < readings.size(); ++k) numbers.push_back(written.value() + book::Number(k) + (note_set_up ? 1 : 0));
  taken_.push_back(std::move(numbers));
  const std::size_t count = readings.size();
  for (sheet::ReadingEntry& reading : readings) session_->add(std::move(reading));
  restart();
  announcer_.say("taken", std::to_string(count) + " readings at " + place_words() + (unsettled.empty() ? "" : "; not: " + unsettled));
  refit();
}

void Daemon::refit() {
  if (const auto complaint = session_->fit()) return announcer_.say("live", "no fit: " + complaint->text());
  if (const auto complaint = session_->make_card()) return announcer_.say("live", "no card: " + complaint->text());
  const session::Card& card = session_->card();
  const session::FitReport& report = session_->report();
  announcer_.say("live", std::to_string(report.self_test.degrees_of_freedom) + " readings kept, " +
                             std::to_string(report.self_test.beyond_gate) + " set aside; finished level error as things are " +
                             sheet::show_fine(card.before.level_error_m, sheets_.run.show) + " +- " +
                             sheet::show_fine(card.before.level_error_sigma_m, sheets_.run.show));
}

void Daemon::undo() {
  if (taken_.empty()) return refuse("undo", "nothing was taken since the daemon started");
  const std::vector<book::Number> last = taken_.back();
  if (const auto aside = log_.set_aside(last, "undone by hand"); !aside.ok()) return refuse("undo", aside.fault().says);
  taken_.pop_back();
  for (std::size_t k = 0; k < last.size(); ++k) session_->drop_last();
  announcer_.say("undone", std::to_string(last.size()) + " readings set aside, entries " + std::to_string(last.front()) + " to " +
                               std::to_string(last.back()));
}

void Daemon::show_status() {
  for (std::size_t i = 0; i < instruments_.size(); ++i) {
    for (const Port& port : ports_)
      if (std::find(port.instruments.begin(), port.instruments.end(), i) != port.instruments.end())
        announcer_.say("status", instruments_[i].kit().name + ": " + std::string(serial::word(port.line->state())) + ", " + port.line->sentence());
    for (const std::string& text : instruments_[i].status(now_us(), sheets_.run.show)) announcer_.say("status", text);
  }
  announcer_.say("status", "survey " + log_.id() + ": " + std::to_string(session_->readings().size()) + " readings, book " + log_.path() +
                               (log_.in_trouble() ? ", WHICH CANNOT BE WRITTEN" : ""));
  announcer_.say("status", "end");
}

bool Daemon::show_card() {
  if (session_->readings().empty()) {
    refuse("card", "nothing has been read in this survey; take readings first");
    return false;
  }
  auto complaint = session_->fit();
  if (!complaint) complaint = session_->make_card();
  if (complaint) {
    refuse("card", complaint->text());
    return false;
  }
  const session::Card& card = session_->card();
  const std::string text = session::card_view(sheets_.run, session_->report(), card);
  std::size_t start = 0;
  while (start < text.size()) {
    const std::size_t end = std::min(text.find('\n', start), text.size());
    announcer_.say("|", text.substr(start, end - start));
    start = end + 1;
  }
  for (const session::CardMove& move : card.moves) moved_ |= 1u << move.move.support;
  const nlohmann::ordered_json shims = session::shims_json(sheets_.run, card);
  // A card that the book cannot keep is shown all the same; on_trouble has said why.
  (void)log_.append({book::Card{shims.dump()}}).ok();
  announcer_.give("result", {{"stage", sheets_.run.stages[std::size_t(stage_)]},
                             {"fit", session::fit_json(sheets_.run, session_->report())},
                             {"shims", shims}});
  return true;
}

void Daemon::finish() {
  if (!session_->readings().empty()) show_card();
  flush_raw();
  if (const auto closed = log_.append({book::SurveyClosed{}}); !closed.ok()) return refuse("done", closed.fault().says);
  announcer_.say("done", "survey " + log_.id() + ", " + std::to_string(session_->readings().size()) + " readings, book " + log_.path());
  stop();
}

// ---- raw samples --------------------------------------------------------------------------------------------------

bool Daemon::flush_raw() {
  if (log_.in_trouble()) return false;  // kept, up to a bound, until a reading can be written
  const auto offset = std::chrono::system_clock::now().time_since_epoch() -
                      std::chrono::duration_cast<std::chrono::system_clock::duration>(std::chrono::microseconds(now_us()));
  std::vector<book::Content> contents;
  for (InstrumentLine& instrument : instruments_)
    for (book::Content& content : instrument.flush(offset)) contents.push_back(std::move(content));
  return contents.empty() || log_.append(contents).ok();
}

net::awaitable<void> Daemon::keep_raw() {
  while (!stopping_) {
    raw_.expires_after(kRawEvery);
    boost::system::error_code cancelled;
    co_await raw_.async_wait(net::redirect_error(net::use_awaitable, cancelled));
    if (!stopping_) flush_raw();
  }
}

}  // namespace hangtrue::daemon
