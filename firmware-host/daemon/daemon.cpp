#include "firmware-host/daemon/daemon.hpp"

#include <algorithm>
#include <cmath>

#include <spdlog/spdlog.h>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "firmware-host/session/views.hpp"
#include "firmware-host/session/words.hpp"

namespace hangtrue::daemon {

namespace net = boost::asio;
using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;

namespace {

constexpr auto kRawEvery = std::chrono::seconds(1);
constexpr double kOnStation_m = 0.001;

using Json = nlohmann::ordered_json;

Json json_of(const sheet::ReadingEntry& reading, book::Number number) {
  return {{"entry", number},
          {"time", reading.time},
          {"instrument", reading.instrument},
          {"channel", session::word(reading.channel)},
          {"at_m", reading.at_m},
          {"face", reading.face},
          {"edge", session::word(reading.edge)},
          {"set_up", reading.set_up},
          {"value", reading.value},
          {"sigma", reading.sigma}};
}

// What a coroutine ends with, when it is not a return, ends the daemon: nothing is swallowed.
void end_with(std::exception_ptr error) {
  if (error) std::rethrow_exception(error);
}

}  // namespace

Daemon::Daemon(net::io_context& context, const Sheets& sheets, SurveyLog& log, int stage,
               const Announcer& announcer, milliseconds patience)
    : context_(context),
      sheets_(sheets),
      log_(log),
      announcer_(announcer),
      patience_(patience),
      commands_(context.get_executor()),
      waiting_(context),
      raw_(context),
      stage_(stage) {
  for (const sheet::KitInstrument& kit : sheets.kit.instruments)
    instruments_.emplace_back(kit, sheets.run.stations_m.size());
}

void Daemon::run() {
  begin_session();
  open_ports();
  announcer_.say(
      "ready",
      std::to_string(instruments_.size()) + " instruments, " + std::to_string(sheets_.run.stations_m.size()) +
          " stations, stage " + sheets_.run.stages[std::size_t(stage_)] + ", survey " + log_.id() +
          (log_.continued() ? ", gone on with: " + std::to_string(session_->readings().size()) + " readings"
                            : ""));
  if (!session_->readings().empty()) refit();
  net::co_spawn(context_, obey(), end_with);
  net::co_spawn(context_, keep_raw(), end_with);
  context_.run();
}

void Daemon::stop() {
  if (stopping_) return;
  stopping_ = true;
  write_raw();
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
    const auto shared = std::find_if(ports_.begin(), ports_.end(), [&](const Port& port) {
      return port.line->settings().path == kit.port;
    });
    if (shared != ports_.end()) {
      shared->instruments.push_back(i);
      continue;
    }
    serial::Settings settings;
    settings.path = kit.port;
    settings.baud = unsigned(kit.baud);
    ports_.push_back(
        {serial::SerialLine::create(
             context_.get_executor(), settings,
             [this, port = ports_.size()](std::string_view chunk) { bytes_came(port, chunk); },
             [this, port = ports_.size()](const serial::Event& event) { line_changed(port, event); }),
         {i}});
  }
  for (const Port& port : ports_) port.line->start();
}

void Daemon::bytes_came(std::size_t port, std::string_view chunk) {
  for (const std::size_t i : ports_[port].instruments)
    instruments_[i].bytes(
        chunk, now_us(), [this, i](std::size_t station) { station_told(i, station); },
        [this, i](const InstrumentLine::Channel& channel) { channel_settled(i, channel); });
}

void Daemon::station_told(std::size_t instrument, std::size_t station) {
  place_.at_m = sheets_.run.stations_m[station];
  restart();
  announcer_.say("station", instruments_[instrument].kit().name + ' ' +
                                sheet::show_place(*place_.at_m, sheets_.run.show));
}

void Daemon::channel_settled(std::size_t instrument, const InstrumentLine::Channel& channel) {
  const auto settled = channel.settling.value(std::uint64_t(now_us()));
  if (!settled.ok()) return;
  const sheet::Gives gives = channel.kit->gives;
  announcer_.say("settled", instruments_[instrument].kit().name + ' ' + std::string(session::word(gives)) +
                                ' ' + show_value(gives, settled.value().mean, sheets_.run.show));
}

void Daemon::line_changed(std::size_t port, const serial::Event& event) {
  const bool is_open = event.state == serial::State::open;
  for (const std::size_t i : ports_[port].instruments) {
    const std::string& name = instruments_[i].kit().name;
    announcer_.say("port", name + ": " + std::string(serial::word(event.state)) + ", " + event.sentence);
    if (is_open && ports_[port].said_lost) announcer_.say("back", name);
    if (is_open) continue;
    instruments_[i].lost(now_us());
    announcer_.say("lost", name + ": " + event.sentence);
    spdlog::warn("{}: {}", name, event.sentence);
  }
  ports_[port].said_lost = !is_open;
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
    if (!line) co_return;  // nobody commands any more; raw samples go on until a signal ends the daemon
    if (line->too_long) {
      refuse("line", "longer than " + std::to_string(kLongestCommand) + " characters");
      continue;
    }
    const std::optional<Command> command = parse_command(line->text);
    if (!command) continue;
    if (const auto* const refusal = std::get_if<Refusal>(&*command))
      refuse(refusal->command, refusal->reason);
    if (const auto* const station = std::get_if<GoToStation>(&*command)) go_to(*station);
    if (const auto* const face = std::get_if<TurnFace>(&*command)) {
      place_.face = face->face;
      restart();
      here();
    }
    if (const auto* const edge = std::get_if<ChooseEdge>(&*command)) {
      place_.edge = edge->edge;
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

std::string Daemon::edge_word() const {
  if (place_.edge) return std::string(session::word(*place_.edge));
  std::optional<survey::Edge> of_all;
  for (const InstrumentLine& instrument : instruments_)
    for (const InstrumentLine::Channel& channel : instrument.channels()) {
      if (!channel.walks()) continue;
      if (of_all && *of_all != channel.kit->edge) return "as in the kit sheet";
      of_all = channel.kit->edge;
    }
  return std::string(session::word(of_all.value_or(survey::Edge::middle)));
}

std::string Daemon::place_words() const {
  return (place_.at_m ? sheet::show_place(*place_.at_m, sheets_.run.show) : "not said yet") + ", face " +
         (place_.face == 1 ? "1" : "2") + ", edge " + edge_word() + ", set-up " + place_.set_up;
}

void Daemon::here() {
  Json more{{"face", place_.face},
            {"edge", edge_word()},
            {"set_up", place_.set_up},
            {"stage", sheets_.run.stages[std::size_t(stage_)]},
            {"survey", log_.id()}};
  if (place_.at_m) more["at_m"] = *place_.at_m;
  announcer_.say("here",
                 "station " + place_words() + ", stage " + sheets_.run.stages[std::size_t(stage_)] +
                     ", survey " + log_.id(),
                 more);
}

void Daemon::restart() {
  for (InstrumentLine& instrument : instruments_) instrument.restart(now_us());
}

void Daemon::go_to(const GoToStation& where) {
  const std::vector<double>& stations = sheets_.run.stations_m;
  if (where.number) {
    if (*where.number < 1 || std::size_t(*where.number) > stations.size())
      return refuse("station", "number " + std::to_string(*where.number) +
                                   ", but the run has stations 1 to " + std::to_string(stations.size()));
    place_.at_m = stations[std::size_t(*where.number) - 1];
  } else {
    const double x = *where.at_m;
    if (!(x >= -kOnStation_m && x <= sheets_.run.length_m + kOnStation_m))
      return refuse("station", sheet::show_place(x, sheets_.run.show) + " is off the run, which ends at " +
                                   sheet::show_place(sheets_.run.length_m, sheets_.run.show));
    const auto nearest = std::min_element(stations.begin(), stations.end(), [&](double a, double b) {
      return std::abs(a - x) < std::abs(b - x);
    });
    if (nearest == stations.end() || std::abs(*nearest - x) > kOnStation_m)
      return refuse("station",
                    "no station at " + sheet::show_place(x, sheets_.run.show) +
                        (nearest == stations.end()
                             ? ""
                             : "; the nearest is at " + sheet::show_place(*nearest, sheets_.run.show)));
    place_.at_m = *nearest;
  }
  restart();
  here();
}

void Daemon::place_set_up(const std::string& name) {
  if (name != place_.set_up || !place_.set_up_noted) {
    if (const auto noted = log_.append({book::SetUp{name}}); !noted.ok())
      return refuse("set-up", noted.fault().says);
    place_.set_up_noted = true;
  }
  place_.set_up = name;
  restart();
  here();
}

void Daemon::begin_stage(const std::string& name) {
  int next = -1;
  for (std::size_t i = 0; i < sheets_.run.stages.size(); ++i)
    if (lower(sheets_.run.stages[i]) == lower(name)) next = int(i);
  if (next < 0)
    return refuse("stage", '"' + name + "\" is none; the stages are " + session::stages_of(sheets_.run));
  write_raw();
  if (const auto begun = log_.begin_next(sheets_.run.stages[std::size_t(next)]); !begun.ok())
    return refuse("stage", begun.fault().says);
  stage_ = next;
  begin_session();
  restart();
  here();
}

/// Everything from the book: it is the same whether the daemon went on or was started anew.
void Daemon::begin_session() {
  lasting_ = lasting_from_before();
  session_ = std::make_unique<session::SurveySession>(sheets_.run, &sheets_.kit, stage_, lasting_.get());
  taken_.clear();
  place_.set_up_noted = false;
  const auto kept = log_.kept();
  const auto set_up = log_.last_set_up();
  if (!kept.ok() || !set_up.ok()) {
    announcer_.say("trouble", (kept.ok() ? set_up.fault() : kept.fault()).says);
    return;
  }
  for (const book::BookedReading& booked : kept.value()) {
    session_->add(booked.reading);
    taken_.push_back({booked.number});
  }
  if (set_up.value().empty()) return;
  place_.set_up = set_up.value();
  place_.set_up_noted = true;
}

/// What the surveys of earlier stages taught, one after the other. Where a card said to move a support, its offset is
/// not what it was.
std::unique_ptr<session::Lasting> Daemon::lasting_from_before() const {
  const auto former = log_.former_surveys();
  if (!former.ok()) {
    announcer_.say("trouble", "nothing is carried on from earlier stages: " + former.fault().says);
    return nullptr;
  }
  std::unique_ptr<session::Lasting> lasting;
  int last_stage = -1;
  for (const SurveyLog::Former& survey : former.value()) {
    const int stage = sheets_.run.stage(survey.stage);
    if (stage >= stage_ || stage < last_stage) continue;
    session::SurveySession session(sheets_.run, &sheets_.kit, stage, lasting.get());
    for (const book::BookedReading& booked : survey.readings) session.add(booked.reading);
    if (const auto complaint = session.fit()) {
      announcer_.say("trouble",
                     "nothing is carried on from stage " + survey.stage + ": " + complaint->text());
      continue;
    }
    std::uint32_t moved = 0;
    for (const std::string& name : survey.moved)
      if (const int support = sheets_.run.support(name); support >= 0) moved |= 1u << support;
    lasting = session.lasting(moved);
    last_stage = stage;
  }
  return lasting;
}

sheet::ReadingEntry Daemon::entry(const sheet::KitInstrument& kit, const InstrumentLine::Channel& channel,
                                  const survey::Settled<double>& settled) const {
  sheet::ReadingEntry reading;
  const auto ago = std::chrono::microseconds(now_us() - std::int64_t(settled.to_us));
  reading.time =
      book::rfc3339(std::chrono::system_clock::now() - std::chrono::duration_cast<book::Time::duration>(ago));
  reading.instrument = kit.name;
  reading.channel = survey::Channel(int(channel.kit->gives));
  const bool distance = reading.channel == survey::Channel::distance;
  if (distance) reading.set_up = place_.set_up;
  const bool stays = channel.kit->station_m.has_value();
  reading.at_m = stays ? *channel.kit->station_m : place_.at_m.value_or(0);
  reading.face = distance || stays ? 1 : place_.face;
  reading.edge = stays ? channel.kit->edge : place_.edge.value_or(channel.kit->edge);
  reading.value = settled.mean;
  reading.sigma = settled.sigma;
  reading.base_m = channel.kit->base_m;
  return reading;
}

bool Daemon::is_wanted(std::size_t instrument, const InstrumentLine::Channel& channel, Take command) const {
  if (!channel.is_reading() || !speaks(instrument)) return false;
  return channel.walks() != command.fixed;
}

std::string Daemon::unsettled(Take command, int& count) const {
  count = 0;
  std::string words;
  for (std::size_t i = 0; i < instruments_.size(); ++i)
    for (const InstrumentLine::Channel& channel : instruments_[i].channels()) {
      if (!is_wanted(i, channel, command)) continue;
      ++count;
      if (channel.settling.verdict(std::uint64_t(now_us())) == survey::Verdict::settled) continue;
      words += (words.empty() ? "" : "; ") + instruments_[i].kit().name + ' ' +
               instruments_[i].words(channel, now_us(), sheets_.run.show);
    }
  return words;
}

// Waits until every channel that is wanted and whose line speaks has settled; then takes them, or those that have.
net::awaitable<void> Daemon::take(Take command) {
  if (!command.fixed && !place_.at_m) {
    refuse("take", "say first where the instruments stand, such as station 1");
    co_return;
  }
  const auto until = Clock::now() + patience_;
  for (;;) {
    int count = 0;
    const std::string missing = unsettled(command, count);
    if (count == 0) {
      refuse("take",
             command.fixed ? "no instrument that stays where it is speaks" : "no walking instrument speaks");
      co_return;
    }
    if (missing.empty() || Clock::now() > until) {
      take_settled(command, missing);
      co_return;
    }
    waiting_.expires_after(milliseconds(20));
    boost::system::error_code cancelled;  // by stop(), which the next line sees
    co_await waiting_.async_wait(net::redirect_error(net::use_awaitable, cancelled));
    if (stopping_) co_return;
  }
}

void Daemon::take_settled(Take command, const std::string& missing) {
  std::vector<book::Content> contents;
  std::vector<sheet::ReadingEntry> readings;
  bool distance = false;
  for (std::size_t i = 0; i < instruments_.size(); ++i)
    for (const InstrumentLine::Channel& channel : instruments_[i].channels()) {
      if (!is_wanted(i, channel, command)) continue;
      const auto settled = channel.settling.value(std::uint64_t(now_us()));
      if (!settled.ok()) continue;
      readings.push_back(entry(instruments_[i].kit(), channel, settled.value()));
      distance = distance || channel.kit->gives == sheet::Gives::distance;
      contents.push_back(book::Taken{readings.back(), int(settled.value().count), settled.value().spread,
                                     settled.value().temperature_C});
    }
  if (readings.empty()) return refuse("take", missing.empty() ? "nothing has settled" : missing);
  const bool note_set_up = distance && !place_.set_up_noted;
  if (note_set_up) contents.insert(contents.begin(), book::SetUp{place_.set_up});
  write_raw();
  const auto written = log_.append(contents);
  if (!written.ok()) return refuse("take", written.fault().says);

  place_.set_up_noted = place_.set_up_noted || note_set_up;
  std::vector<book::Number> numbers;
  for (std::size_t k = 0; k < readings.size(); ++k)
    numbers.push_back(written.value() + book::Number(k) + (note_set_up ? 1 : 0));
  Json more{{"readings", Json::array()}};
  if (!missing.empty()) more["missing"] = missing;
  for (std::size_t k = 0; k < readings.size(); ++k)
    more["readings"].push_back(json_of(readings[k], numbers[k]));
  const std::string where = command.fixed ? "their stations" : place_words();
  for (sheet::ReadingEntry& reading : readings) session_->add(std::move(reading));
  announcer_.say(
      "taken",
      std::to_string(numbers.size()) + " readings at " + where + (missing.empty() ? "" : "; not: " + missing),
      more);
  taken_.push_back(std::move(numbers));
  for (InstrumentLine& instrument : instruments_) instrument.restart(now_us(), command.fixed);
  refit();
}

void Daemon::refit() {
  if (const auto complaint = session_->fit()) return announcer_.say("live", "no fit: " + complaint->text());
  if (const auto complaint = session_->make_card())
    return announcer_.say("live", "no card: " + complaint->text());
  const session::Card& card = session_->card();
  const fit::SelfTest<double>& test = session_->report().self_test;
  announcer_.say("live",
                 std::to_string(test.degrees_of_freedom) + " readings kept, " +
                     std::to_string(test.beyond_gate) + " set aside; finished level error as things are " +
                     sheet::show_fine(card.before.level_error_m, sheets_.run.show) + " +- " +
                     sheet::show_fine(card.before.drawn_sigma_m, sheets_.run.show),
                 {{"readings_kept", test.degrees_of_freedom},
                  {"set_aside", test.beyond_gate},
                  {"level_error_m", card.before.level_error_m},
                  {"level_error_sigma_m", card.before.drawn_sigma_m}});
}

void Daemon::undo() {
  if (taken_.empty()) return refuse("undo", "nothing has been taken in this survey");
  const std::vector<book::Number> last = taken_.back();
  if (const auto aside = log_.set_aside(last, "undone by hand"); !aside.ok())
    return refuse("undo", aside.fault().says);
  taken_.pop_back();
  for (std::size_t k = 0; k < last.size(); ++k) session_->drop_last();
  announcer_.say("undone", std::to_string(last.size()) + " readings set aside, entries " +
                               std::to_string(last.front()) + " to " + std::to_string(last.back()));
  if (!session_->readings().empty()) refit();
}

void Daemon::show_status() {
  for (std::size_t i = 0; i < instruments_.size(); ++i) {
    for (const Port& port : ports_)
      if (std::find(port.instruments.begin(), port.instruments.end(), i) != port.instruments.end())
        announcer_.say("status", instruments_[i].kit().name + ": " +
                                     std::string(serial::word(port.line->state())) + ", " +
                                     port.line->sentence());
    for (const std::string& text : instruments_[i].status(now_us(), sheets_.run.show))
      announcer_.say("status", text);
  }
  if (raw_not_written_ > 0)
    announcer_.say("status", std::to_string(raw_not_written_) +
                                 " raw samples are not in the book, which could not be written");
  announcer_.say("status", "survey " + log_.id() + ": " + std::to_string(session_->readings().size()) +
                               " readings, book " + log_.path() +
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
  write_raw();
  if (const auto closed = log_.append({book::SurveyClosed{}}); !closed.ok())
    return refuse("done", closed.fault().says);
  announcer_.say("done", "survey " + log_.id() + ", " + std::to_string(session_->readings().size()) +
                             " readings, book " + log_.path());
  stop();
}

// ---- raw samples --------------------------------------------------------------------------------------------------

/// Also tells, once a second, whether a book that was full can be written again.
void Daemon::write_raw() {
  const auto offset =
      std::chrono::system_clock::now().time_since_epoch() -
      std::chrono::duration_cast<std::chrono::system_clock::duration>(std::chrono::microseconds(now_us()));
  std::vector<book::Content> contents;
  std::uint64_t samples = 0;
  for (InstrumentLine& instrument : instruments_)
    for (book::Samples& raw : instrument.raw(offset)) {
      samples += raw.values.size();
      contents.push_back(std::move(raw));
    }
  if (!contents.empty() && !log_.append(contents).ok()) raw_not_written_ += samples;
}

net::awaitable<void> Daemon::keep_raw() {
  while (!stopping_) {
    raw_.expires_after(kRawEvery);
    boost::system::error_code cancelled;
    co_await raw_.async_wait(net::redirect_error(net::use_awaitable, cancelled));
    if (!stopping_) write_raw();
  }
}

}  // namespace hangtrue::daemon
