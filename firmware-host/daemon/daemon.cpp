#include "firmware-host/daemon/daemon.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <spdlog/spdlog.h>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "firmware-host/book/short_form.hpp"
#include "firmware-host/json/fit.hpp"
#include "firmware-host/json/shims.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/history.hpp"
#include "firmware-host/say/recheck.hpp"
#include "firmware-host/say/table.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::daemon {

namespace net = boost::asio;
using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;

namespace {

constexpr auto kRawEvery = std::chrono::seconds(1);
constexpr auto kWatchEvery = milliseconds(250);
constexpr double kOnStation_m = 0.001;
constexpr std::int64_t kFirstWords_us = 7'000'000;  // a device that was just plugged in may take so long

using Json = nlohmann::ordered_json;

Json json_of(const sheet::ReadingEntry& reading, book::Number number) {
  Json json{{"entry", number},
            {"time", reading.time},
            {"instrument", reading.instrument},
            {"channel", word(reading.channel)},
            {"at_m", reading.at_m},
            {"face", reading.face},
            {"edge", say::word(reading.edge)},
            {"set_up", reading.set_up},
            {"value", reading.value},
            {"sigma", reading.sigma}};
  if (!reading.mark.empty()) json["mark"] = reading.mark;
  return json;
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
      orders_(context.get_executor()),
      waiting_(context),
      raw_(context),
      watching_(context),
      showing_(context),
      stage_(stage) {
  for (const sheet::KitInstrument& kit : sheets.kit.instruments)
    slots_.push_back({InstrumentLine(kit), {}, {}, {}, {}, {}, {}});
}

void Daemon::run() {
  begin_session();
  open_ports();
  say("ready",
      std::to_string(slots_.size()) + " instruments, " + std::to_string(sheets_.run.stations_m.size()) +
          " stations, stage " + sheets_.run.stages[std::size_t(stage_)] + ", survey " + log_.id() +
          (log_.continued() ? ", gone on with: " + std::to_string(session_->readings().size()) + " readings"
                            : ""));
  tell_warnings();
  refit();
  show_all();
  net::co_spawn(context_, listen(), end_with);
  net::co_spawn(context_, obey(), end_with);
  net::co_spawn(context_, keep_raw(), end_with);
  net::co_spawn(context_, watch(), end_with);
  context_.run();
}

void Daemon::stop() {
  if (stopping_) return;
  stopping_ = true;
  write_raw();
  for (const auto& port : ports_) port->stop();
  commands_.close();
  orders_.close();
  waiting_.cancel();
  raw_.cancel();
  watching_.cancel();
  showing_.cancel();
  page_.reset();
  if (on_end_) on_end_();
}

// ---- lines --------------------------------------------------------------------------------------------------------

void Daemon::open_ports() {
  std::vector<std::vector<Port::Member>> groups;  // by port, in the order of the kit sheet
  for (std::size_t i = 0; i < slots_.size(); ++i) {
    const sheet::KitInstrument& kit = slots_[i].instrument.kit();
    const auto shared = std::find_if(groups.begin(), groups.end(),
                                     [&](const auto& group) { return group.front().kit->port == kit.port; });
    if (shared == groups.end())
      groups.push_back({{i, &kit}});
    else
      shared->push_back({i, &kit});
  }
  for (const auto& group : groups) {
    Port::Heard heard{
        [this](std::size_t instrument, const wire::Sample& sample) { sample_came(instrument, sample); },
        [this, port = ports_.size()](const serial::Event& event) { line_changed(port, event); },
        [this] { tell_states(); }};
    ports_.push_back(
        Port::make(context_.get_executor(), group, sheets_.run.stations_m.size(), std::move(heard)));
    for (std::size_t member = 0; member < group.size(); ++member) {
      slots_[group[member].instrument].port = ports_.back().get();
      slots_[group[member].instrument].member = member;
    }
  }
  for (const auto& port : ports_) port->start();
}

void Daemon::sample_came(std::size_t instrument, const wire::Sample& sample) {
  std::optional<double> ambient_C;
  for (const Slot& slot : slots_)
    if (const auto temperature_C = slot.instrument.temperature_C(now_us())) ambient_C = temperature_C;
  slots_[instrument].instrument.sample(
      sample, now_us(), ambient_C,
      [this, instrument](std::size_t station) { station_told(instrument, station); },
      [this, instrument](const InstrumentLine::LiveChannel& channel) {
        channel_settled(instrument, channel);
      });
  show_live_soon();
}

void Daemon::station_told(std::size_t instrument, std::size_t station) {
  const Place before = place_;
  place_.at_m = sheets_.run.stations_m[station];
  place_.mark.clear();
  place_.told = true;
  slots_[instrument].tells = station;
  restart();
  ++revision_;
  notice_.clear();
  if (before.at_m && !before.told && (before.at_m != place_.at_m || !before.mark.empty()))
    differ(instrument,
           ", which counts now, but " + spot_words(*before.at_m, before.mark) + " was said by hand before");
  // What was asked for was asked for another place.
  if (!doing_.empty() && !check_)
    interrupted_ = slots_[instrument].instrument.kit().name + " tells " +
                   sheet::show_place(*place_.at_m, sheets_.run.show) + " now; look, and take again";
  show_work();
  say("station",
      slots_[instrument].instrument.kit().name + ' ' + sheet::show_place(*place_.at_m, sheets_.run.show));
}

void Daemon::channel_settled(std::size_t instrument, const InstrumentLine::LiveChannel& channel) {
  const auto settled = channel.settling.value(std::uint64_t(now_us()));
  if (!settled.ok()) return;
  const Channel gives = channel.kit->gives;
  say("settled", slots_[instrument].instrument.kit().name + ' ' + std::string(word(gives)) + ' ' +
                     show_value(gives, settled.value().mean, sheets_.run.show));
}

void Daemon::line_changed(std::size_t port, const serial::Event& event) {
  for (const Port::Member& member : ports_[port]->members()) {
    Slot& slot = slots_[member.instrument];
    if (event.state == serial::State::open)
      slot.open_since_us = now_us();
    else
      slot.instrument.lost(now_us());
  }
  tell_states();
}

InstrumentState Daemon::state(const Slot& slot) const {
  if (slot.port->line().state() == serial::State::not_started)
    return {"waiting", "its line is about to be opened", true};
  if (const auto trouble = slot.port->trouble(slot.member)) return *trouble;
  InstrumentState state = slot.instrument.state(now_us(), sheets_.run.show);
  if (!state.speaks && now_us() - slot.open_since_us < kFirstWords_us)
    return {"waiting", slot.port->line().sentence() + ", and is listened to", true};
  if (state.word == "silent" && slot.port->brings_bytes())
    state.sentence = slot.port->line().settings().path +
                     " brings bytes, but not all that the kit sheet says of " + slot.instrument.kit().name +
                     "; status shows what becomes of them";
  return state;
}

void Daemon::tell_states() {
  for (Slot& slot : slots_) {
    const InstrumentState now = state(slot);
    if ((now.word == slot.said && now.speaks != slot.said_lost) ||
        slot.port->line().state() == serial::State::not_started)
      continue;
    const std::string& name = slot.instrument.kit().name;
    say("state", name + ": " + now.word + ", " + now.sentence,
        {{"instrument", name}, {"state", now.word}, {"says", now.sentence}, {"speaks", now.speaks}});
    if (!now.speaks && !slot.said_lost) say("lost", name + ": " + now.sentence);
    if (now.speaks && slot.said_lost) say("back", name);
    slot.said = now.word;
    slot.said_lost = !now.speaks;
    if (now.word != "well" && now.word != "waiting") spdlog::warn("{}: {}, {}", name, now.word, now.sentence);
  }
}

net::awaitable<void> Daemon::watch() {
  while (!stopping_) {
    watching_.expires_after(kWatchEvery);
    boost::system::error_code cancelled;
    co_await watching_.async_wait(net::redirect_error(net::use_awaitable, cancelled));
    if (stopping_) co_return;
    watch_clock();
    tell_states();
    show_live();
  }
}

/// Settling goes by the monotonic clock and is untouched; the times in the book go by the wall clock, so it says so.
void Daemon::watch_clock() {
  const auto jump = clock_.look(std::chrono::system_clock::now(), Clock::now());
  if (!jump) return;
  const double seconds = *jump;
  say("clock", std::string("this computer's clock was set ") + (seconds > 0 ? "forward" : "back") + " by " +
                   std::to_string(std::llround(std::abs(seconds))) +
                   " s; times in the book before and after differ by that much; readings are not affected");
  // Said already; a book that cannot keep it is said by on_trouble.
  (void)log_.append({book::ClockJump{seconds}}).ok();
}

// ---- commands -----------------------------------------------------------------------------------------------------

net::awaitable<void> Daemon::listen() {
  // Nobody commands here any more once it ends; phones may, and raw samples go on until a signal ends the daemon.
  for (;;) {
    std::optional<CommandLine> line = co_await commands_.next();
    if (!line) co_return;
    Order order;  // by name: GCC 12 destroys a temporary of a co_await twice
    order.line = std::move(*line);
    co_await orders_.put_in_turn(std::move(order));
  }
}

net::awaitable<void> Daemon::obey() {
  while (!stopping_) {
    const std::optional<Order> order = co_await orders_.next();
    if (!order) co_return;
    const std::optional<Command> command = parse_command(order->line.text);
    if (!command && !order->line.too_long && !order->reply) continue;
    answer_.emplace();
    if (order->line.too_long)
      refuse("line", "longer than " + std::to_string(kLongestCommand) + " characters");
    else if (!command)
      refuse("command", "empty; help lists what can be said");
    else if (const auto* const refusal = std::get_if<Refusal>(&*command))
      refuse(refusal->command, refusal->reason);
    else if (order->seen && *order->seen != revision_)
      refuse(
          "command",
          "something was changed meanwhile, from another phone or at the computer; look again, then repeat");
    else if (order->reply && std::holds_alternative<FinishSurvey>(*command))
      refuse("done", "ends the program and this page with it; type it at the computer");
    else
      co_await obey(*command);
    if (stopping_) co_return;
    if (answer_->done && changes(*command)) ++revision_;
    show_all();
    if (order->reply) order->reply(answer_->done, answer_->words);
    answer_.reset();
  }
}

net::awaitable<void> Daemon::obey(const Command& command) {
  if (const auto* const station = std::get_if<GoToStation>(&command)) go_to(*station);
  if (const auto* const face = std::get_if<TurnFace>(&command)) {
    place_.face = face->face;
    restart();
    here();
  }
  if (const auto* const edge = std::get_if<ChooseEdge>(&command)) {
    place_.edge = edge->edge;
    restart();
    here();
  }
  if (const auto* const set_up = std::get_if<PlaceSetUp>(&command)) place_set_up(*set_up);
  if (const auto* const stage = std::get_if<BeginStage>(&command)) begin_stage(stage->name);
  if (std::holds_alternative<ReadAgain>(command)) read_again();
  if (const auto* const wanted = std::get_if<Take>(&command)) co_await take(*wanted);
  if (std::holds_alternative<Undo>(command)) undo();
  if (std::holds_alternative<ShowReadings>(command)) show_readings();
  if (const auto* const corrected = std::get_if<Correct>(&command)) correct(*corrected);
  if (const auto* const aside = std::get_if<SetAsideEntry>(&command)) {
    const auto former = booked(aside->entry, "set aside");
    if (former && !former->kept)
      refuse("set aside",
             "entry " + std::to_string(aside->entry) + " is set aside already: " + former->reason);
    else if (former)
      mark(aside->entry, "set aside", book::SetAside{aside->entry, aside->reason},
           words(former->reading) + ", set aside: " + aside->reason);
  }
  if (const auto* const back = std::get_if<PutBackEntry>(&command)) {
    const auto former = booked(back->entry, "put back");
    if (former && former->kept)
      refuse("put back", "entry " + std::to_string(back->entry) + " is not set aside");
    else if (former)
      mark(back->entry, "put back", book::PutBack{back->entry, back->reason},
           words(former->reading) + ", kept again: " + back->reason);
  }
  if (const auto* const zero = std::get_if<CheckZero>(&command)) check_zero(*zero);
  if (const auto* const datum = std::get_if<CheckDatum>(&command)) check_datum(*datum);
  if (std::holds_alternative<Next>(command)) co_await next_step();
  if (std::holds_alternative<KeepCheck>(command)) keep_check();
  if (std::holds_alternative<GiveUp>(command)) give_up();
  if (std::holds_alternative<BeginMoves>(command)) begin_moves();
  if (const auto* const move = std::get_if<MarkMove>(&command)) mark_move(*move);
  if (const auto* const other = std::get_if<CompareWith>(&command)) compare_with(*other);
  if (std::holds_alternative<SealBook>(command)) seal();
  if (std::holds_alternative<ShowStatus>(command)) show_status();
  if (std::holds_alternative<ShowCard>(command)) show_card();
  if (std::holds_alternative<ShowHelp>(command)) {
    for (const std::string& text : help()) say("help", text);
    say("help", "end");
  }
  if (const auto* const done = std::get_if<FinishSurvey>(&command)) finish(done->sealed);
}

/// Whether what is shown to people before it is not what they would decide by after it.
bool Daemon::changes(const Command& command) {
  return !std::holds_alternative<ShowReadings>(command) && !std::holds_alternative<ShowStatus>(command) &&
         !std::holds_alternative<ShowHelp>(command);
}

void Daemon::say(std::string_view event, std::string_view text, const Json& more) const {
  announcer_.say(event, text, more);
  if (!answer_) return;
  // What else is said meanwhile (a channel has settled, a line is lost, a new fit) is no answer, and the first is the one.
  static constexpr std::array<std::string_view, 12> kAnswers{"recheck", "here",      "taken",  "refused",
                                                             "undone",  "corrected", "check",  "checked",
                                                             "made",    "sealed",    "result", "done"};
  if (std::find(kAnswers.begin(), kAnswers.end(), event) == kAnswers.end()) return;
  if (event == "refused") answer_->done = false;
  if (answer_->words.empty())
    answer_->words = event == "here" ? std::string(text) : std::string(event) + ' ' + std::string(text);
}

/// A phone shows the words beneath its own "Not done": there they need not say so again, nor "command" where any was meant.
void Daemon::refuse(std::string_view command, const std::string& reason) const {
  if (answer_ && answer_->words.empty())
    answer_->words = command == "command" ? reason : std::string(command) + ": " + reason;
  say("refused", std::string(command) + ": " + reason);
}

std::string Daemon::edge_word() const {
  if (place_.edge) return std::string(say::word(*place_.edge));
  std::optional<survey::Edge> of_all;
  for (const Slot& slot : slots_)
    for (const InstrumentLine::LiveChannel& channel : slot.instrument.channels()) {
      if (!channel.walks()) continue;
      if (of_all && *of_all != channel.kit->edge) return "as in the kit sheet";
      of_all = channel.kit->edge;
    }
  return std::string(say::word(of_all.value_or(survey::Edge::middle)));
}

std::string Daemon::place_words() const {
  if (!place_.mark.empty()) return spot_words(*place_.at_m, place_.mark) + ", set-up " + place_.set_up;
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
  if (!place_.mark.empty()) more["mark"] = place_.mark;
  say("here",
      (place_.mark.empty() ? "station " : "") + place_words() + ", stage " +
          sheets_.run.stages[std::size_t(stage_)] + ", survey " + log_.id(),
      more);
}

void Daemon::restart() {
  for (Slot& slot : slots_) slot.instrument.restart(now_us());
}

std::optional<Daemon::Spot> Daemon::spot_of(const GoToStation& where, const char* command) const {
  const std::vector<double>& stations = sheets_.run.stations_m;
  if (!where.mark.empty()) {
    std::string marks;
    for (const sheet::Mark& mark : sheets_.run.marks) {
      if (lower(mark.name) == lower(where.mark)) return Spot{mark.at_m, mark.name};
      marks += (marks.empty() ? "; or a mark of the run sheet: " : ", ") + mark.name;
    }
    refuse(command, '"' + where.mark + "\" is no length with its unit, such as 1200 mm" +
                        (marks.empty() ? ", and the run sheet names no mark" : marks));
    return std::nullopt;
  }
  if (where.number) {
    if (*where.number >= 1 && std::size_t(*where.number) <= stations.size())
      return Spot{stations[std::size_t(*where.number) - 1], {}};
    refuse(command, "number " + std::to_string(*where.number) + ", but the run has stations 1 to " +
                        std::to_string(stations.size()));
    return std::nullopt;
  }
  const double x = *where.at_m;
  if (!(x >= -kOnStation_m && x <= sheets_.run.length_m + kOnStation_m)) {
    refuse(command, sheet::show_place(x, sheets_.run.show) + " is off the run, which ends at " +
                        sheet::show_place(sheets_.run.length_m, sheets_.run.show));
    return std::nullopt;
  }
  const auto nearest = std::min_element(stations.begin(), stations.end(), [&](double a, double b) {
    return std::abs(a - x) < std::abs(b - x);
  });
  if (nearest != stations.end() && std::abs(*nearest - x) <= kOnStation_m) return Spot{*nearest, {}};
  refuse(command, "no station at " + sheet::show_place(x, sheets_.run.show) +
                      (nearest == stations.end()
                           ? ""
                           : "; the nearest is at " + sheet::show_place(*nearest, sheets_.run.show)));
  return std::nullopt;
}

std::string Daemon::spot_words(double at_m, const std::string& mark) const {
  return mark.empty() ? sheet::show_place(at_m, sheets_.run.show) : "mark " + mark;
}

/// An instrument that tells its station by itself, and a person who says another.
void Daemon::differ(std::size_t instrument, const std::string& how) {
  const Slot& slot = slots_[instrument];
  notice_ = slot.instrument.kit().name + " tells " +
            sheet::show_place(sheets_.run.stations_m[*slot.tells], sheets_.run.show) + how +
            ": see which is right.";
  say("warning", notice_);
}

void Daemon::go_to(const GoToStation& where) {
  const auto spot = spot_of(where, "station");
  if (!spot) return;
  place_.at_m = spot->at_m;
  place_.mark = spot->mark;
  place_.told = false;
  notice_.clear();
  restart();
  here();
  if (!place_.mark.empty()) return;  // only the laser is there
  for (std::size_t i = 0; i < slots_.size(); ++i)
    if (slots_[i].tells && sheets_.run.stations_m[*slots_[i].tells] != spot->at_m && state(slots_[i]).speaks)
      differ(i, ", but " + spot_words(spot->at_m, {}) + " was said by hand, and counts now");
}

void Daemon::place_set_up(const PlaceSetUp& set_up) {
  const bool moved = set_up.stands_at_m && set_up.stands_at_m != place_.laser_at_m;
  if (set_up.name != place_.set_up || !place_.set_up_noted || moved) {
    if (const auto noted = log_.append({book::SetUp{set_up.name, set_up.stands_at_m}}); !noted.ok())
      return refuse("set-up", noted.fault().says);
    place_.set_up_noted = true;
    place_.laser_at_m = set_up.stands_at_m;
    take_checks();  // a checked datum counts by where its laser stands
  }
  place_.set_up = set_up.name;
  restart();
  here();
}

void Daemon::begin_stage(const std::string& name) {
  if (is_checking("stage")) return;
  int next = -1;
  for (std::size_t i = 0; i < sheets_.run.stages.size(); ++i)
    if (lower(sheets_.run.stages[i]) == lower(name)) next = int(i);
  if (next < 0)
    return refuse("stage", '"' + name + "\" is none; the stages are " + say::stages_of(sheets_.run));
  write_raw();
  if (const auto begun = log_.begin_next(sheets_.run.stages[std::size_t(next)]); !begun.ok())
    return refuse("stage", begun.fault().says);
  stage_ = next;
  begin_anew();
}

/// After the moves of a card: what was read before them is of another shape.
void Daemon::read_again() {
  if (is_checking("read again")) return;
  write_raw();
  if (const auto begun = log_.begin_next(sheets_.run.stages[std::size_t(stage_)]); !begun.ok())
    return refuse("read again", begun.fault().says);
  begin_anew();
}

void Daemon::begin_anew() {
  on_job_.reset();
  begin_session();
  refit();
  restart();
  here();
}

/// Everything from the book: it is the same whether the daemon went on or was started anew.
void Daemon::begin_session() {
  lasting_ = lasting_from_before();
  session_ = std::make_unique<job::SurveyFit>(sheets_.run, &sheets_.kit, stage_, lasting_.get());
  job::SurveyFit sheet_alone(sheets_.run, nullptr, stage_);
  predicted_ = sheet_alone.fit() ? job::FitReport{} : sheet_alone.report();
  promise_from_book();
  take_checks();
  taken_.clear();
  place_.set_up_noted = false;
  const auto all = log_.readings();
  const auto set_up = log_.last_set_up();
  if (!all.ok() || !set_up.ok()) {
    say("trouble", (all.ok() ? set_up.fault() : all.fault()).says);
    return;
  }
  // One take is one append; before the next, the samples that led to it were written.
  book::Number last = 0;
  for (const book::BookedReading& booked : all.value()) {
    if (booked.number != last + 1 || taken_.empty()) taken_.emplace_back();
    last = booked.number;
    if (!booked.kept) continue;
    session_->add(booked.reading);
    taken_.back().push_back(booked.number);
  }
  std::erase_if(taken_, [](const auto& take) { return take.empty(); });
  place_from_book(all.value());
  if (set_up.value().name.empty()) return;
  place_.set_up = set_up.value().name;
  place_.laser_at_m = set_up.value().stands_at_m;
  place_.set_up_noted = true;
}

/// Started anew within a survey: face and edge are most likely those of the last reading, but a person has to say where.
void Daemon::place_from_book(const std::vector<book::BookedReading>& readings) {
  if (!log_.continued() || place_.at_m || !ports_.empty()) return;
  for (auto each = readings.rbegin(); each != readings.rend(); ++each) {
    const sheet::ReadingEntry& reading = each->reading;
    if (!reading.mark.empty()) continue;
    const sheet::KitChannel* const channel = sheets_.kit.find(reading.instrument, reading.channel);
    if (channel == nullptr || channel->station_m) continue;
    if (reading.channel != Channel::distance) place_.face = reading.face;
    if (reading.edge != channel->edge) place_.edge = reading.edge;
    notice_ = "The program was started anew. Face " + std::string(place_.face == 1 ? "1" : "2") +
              " and edge " + edge_word() +
              " are those of the last reading: say where the instruments stand now.";
    return;
  }
}

/// What earlier surveys of this run taught (job/history.hpp).
std::unique_ptr<job::CarriedState> Daemon::lasting_from_before() const {
  auto taught = log_.taught(sheets_);
  if (!taught.ok()) {
    say("trouble", "nothing is carried on from earlier surveys: " + taught.fault().says);
    return nullptr;
  }
  if (taught.value().not_taken) say("warning", say::not_taught(sheets_.run, *taught.value().not_taken));
  return std::move(taught.value().state);
}

sheet::ReadingEntry Daemon::entry(const sheet::KitInstrument& kit, const InstrumentLine::LiveChannel& channel,
                                  const survey::Settled<double>& settled) const {
  sheet::ReadingEntry reading;
  const auto ago = std::chrono::microseconds(now_us() - std::int64_t(settled.to_us));
  reading.time = book::rfc3339(log_.now() - std::chrono::duration_cast<book::Time::duration>(ago));
  reading.instrument = kit.name;
  reading.channel = channel.kit->gives;
  const bool distance = reading.channel == Channel::distance;
  if (distance) reading.set_up = place_.set_up;
  const bool stays = channel.kit->station_m.has_value();
  reading.at_m = stays ? *channel.kit->station_m : place_.at_m.value_or(0);
  reading.face = distance || stays ? 1 : place_.face;
  reading.edge = stays ? channel.kit->edge : place_.edge.value_or(channel.kit->edge);
  if (!stays && !place_.mark.empty()) {
    reading.mark = place_.mark;
    reading.edge = survey::Edge::middle;  // it has none
  }
  reading.value = settled.mean;
  reading.sigma = settled.sigma;
  reading.base_m = channel.kit->base_m;
  return reading;
}

bool Daemon::is_meant(const InstrumentLine::LiveChannel& channel, Take command) const {
  return channel.is_reading() && channel.walks() != command.fixed &&
         (command.fixed || place_.mark.empty() || channel.kit->gives == Channel::distance);
}

bool Daemon::is_wanted(std::size_t instrument, const InstrumentLine::LiveChannel& channel,
                       Take command) const {
  return is_meant(channel, command) && state(slots_[instrument]).speaks;
}

std::string Daemon::not_speaking(Take command) const {
  std::string words;
  for (const Slot& slot : slots_) {
    const auto& channels = slot.instrument.channels();
    if (std::none_of(channels.begin(), channels.end(),
                     [&](const InstrumentLine::LiveChannel& channel) { return is_meant(channel, command); }))
      continue;
    const InstrumentState now = state(slot);
    if (!now.speaks)
      words += (words.empty() ? "" : "; ") + slot.instrument.kit().name + " (" + now.sentence + ')';
  }
  return words;
}

std::string Daemon::unsettled(Take command, int& count) const {
  count = 0;
  std::string words;
  for (std::size_t i = 0; i < slots_.size(); ++i)
    for (const InstrumentLine::LiveChannel& channel : slots_[i].instrument.channels()) {
      if (!is_wanted(i, channel, command)) continue;
      ++count;
      if (channel.settling.verdict(std::uint64_t(now_us())) == survey::Verdict::settled) continue;
      words += (words.empty() ? "" : "; ") + slots_[i].instrument.kit().name + ' ' +
               slots_[i].instrument.words(channel, now_us(), sheets_.run.show);
    }
  return words;
}

// Waits until every channel that is wanted and whose line speaks has settled; then takes them, or those that have.
net::awaitable<void> Daemon::take(Take command) {
  const char* const name = command.fixed ? "take fixed" : "take";
  if (is_checking("take") || moves_stand_against("take")) co_return;
  if (!command.fixed && !place_.at_m) {
    refuse("take", "say first where the instruments stand, such as station 1");
    co_return;
  }
  const auto until = Clock::now() + patience_;
  interrupted_.clear();
  for (;;) {
    int count = 0;
    const std::string missing = unsettled(command, count);
    const std::string silent = not_speaking(command);
    if (count == 0) {
      wait_for(nullptr, {});
      refuse("take", std::string(command.fixed         ? "no instrument that stays where it is speaks"
                                 : place_.mark.empty() ? "no walking instrument speaks"
                                                       : "only a distance is read at a mark, and no walking "
                                                         "instrument gives one now") +
                         (silent.empty() ? "" : ": " + silent));
      co_return;
    }
    if (given_up("take")) co_return wait_for(nullptr, {});
    if (!interrupted_.empty()) {
      wait_for(nullptr, {});
      refuse("take", interrupted_);
      co_return;
    }
    if (missing.empty() || Clock::now() > until) {
      wait_for(nullptr, {});
      take_settled(command, missing + (missing.empty() || silent.empty() ? "" : "; ") + silent);
      co_return;
    }
    wait_for(name, missing);
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
  for (std::size_t i = 0; i < slots_.size(); ++i)
    for (const InstrumentLine::LiveChannel& channel : slots_[i].instrument.channels()) {
      if (!is_wanted(i, channel, command)) continue;
      const auto settled = channel.settling.value(std::uint64_t(now_us()));
      if (!settled.ok()) continue;
      readings.push_back(entry(slots_[i].instrument.kit(), channel, settled.value()));
      distance = distance || channel.kit->gives == Channel::distance;
      contents.push_back(book::Taken{readings.back(), int(settled.value().count), settled.value().spread,
                                     settled.value().temperature_C});
    }
  if (readings.empty()) return refuse("take", missing.empty() ? "nothing has settled" : missing);
  const bool note_set_up = distance && !place_.set_up_noted;
  if (note_set_up) contents.insert(contents.begin(), book::SetUp{place_.set_up, place_.laser_at_m});
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
  say("taken",
      std::to_string(numbers.size()) + " readings at " + where + (missing.empty() ? "" : "; not: " + missing),
      more);
  taken_.push_back(std::move(numbers));
  for (Slot& slot : slots_) slot.instrument.restart(now_us(), command.fixed);
  refit();
}

/// Without readings too: the shape that the sheet predicts, and the reading that would teach most.
void Daemon::refit() {
  recheck_due_ = true;
  card_.reset();
  shims_.reset();
  if (!is_moving()) on_job_.reset();  // its readings are not these any more
  no_fit_.clear();
  if (const auto fitted = session_->fit(); !fitted) {
    no_fit_ = "no fit: " + say::complaint(sheets_.run, fitted.fault()).text();
  } else if (auto made = job::make_card(*session_); !made.ok()) {
    no_fit_ = "no card: " + say::complaint(sheets_.run, made.fault()).text();
  } else {
    card_ = std::move(made).value();
    shims_ = json::stored_card(sheets_.run, *card_);
  }
  if (session_->readings().empty()) return;
  if (!no_fit_.empty()) return say("live", no_fit_);
  const job::Card& card = *card_;
  const fit::SelfTest<double>& test = session_->report().self_test;
  say("live",
      std::to_string(test.degrees_of_freedom) + " readings kept, " + std::to_string(test.beyond_gate) +
          " set aside; finished level error as things are " +
          sheet::show_fine(card.before.level_error_m, sheets_.run.show) + " +- " +
          sheet::show_fine(card.before.drawn_sigma_m, sheets_.run.show),
      {{"readings_kept", test.degrees_of_freedom},
       {"set_aside", test.beyond_gate},
       {"level_error_m", card.before.level_error_m},
       {"level_error_sigma_m", card.before.drawn_sigma_m}});
}

void Daemon::undo() {
  if (moves_stand_against("undo")) return;
  if (taken_.empty()) return refuse("undo", "nothing has been taken in this survey");
  const std::vector<book::Number> last = taken_.back();
  if (const auto aside = log_.set_aside(last, "undone by hand"); !aside.ok())
    return refuse("undo", aside.fault().says);
  taken_.pop_back();
  for (std::size_t k = 0; k < last.size(); ++k) session_->drop_last();
  say("undone", std::to_string(last.size()) + " readings set aside, entries " + std::to_string(last.front()) +
                    " to " + std::to_string(last.back()));
  refit();
}

void Daemon::show_readings() {
  const auto all = log_.readings();
  if (!all.ok()) return refuse("readings", all.fault().says);
  for (const book::BookedReading& booked : all.value())
    say("reading", std::to_string(booked.number) + ": " + words(booked.reading) +
                       (booked.kept ? "" : ", set aside") +
                       (booked.reason.empty() ? "" : ": " + booked.reason));
  say("reading", "end");
}

std::string Daemon::words(const sheet::ReadingEntry& reading) const {
  const auto gives = reading.channel;
  const bool distance = reading.channel == Channel::distance;
  return reading.instrument + ' ' + std::string(word(reading.channel)) + ' ' +
         show_value(gives, reading.value, sheets_.run.show) + " at " +
         spot_words(reading.at_m, reading.mark) +
         (distance ? ", set-up " + reading.set_up
                   : std::string(", face ") + (reading.face == 1 ? "1" : "2")) +
         (reading.mark.empty() ? ", edge " + std::string(say::word(reading.edge)) : std::string());
}

std::optional<book::BookedReading> Daemon::booked(book::Number entry, const char* command) const {
  const auto all = log_.readings();
  if (!all.ok()) {
    refuse(command, all.fault().says);
    return std::nullopt;
  }
  for (const book::BookedReading& booked : all.value())
    if (booked.number == entry) return booked;
  refuse(command, "entry " + std::to_string(entry) + " is no reading of this survey; readings lists them");
  return std::nullopt;
}

void Daemon::correct(const Correct& command) {
  const auto former = booked(command.entry, "correct");
  if (!former) return;
  sheet::ReadingEntry by = former->reading;
  const bool distance = by.channel == Channel::distance;
  if (const auto* const where = std::get_if<GoToStation>(&command.to)) {
    const auto spot = spot_of(*where, "correct");
    if (!spot) return;
    if (!spot->mark.empty() && !distance) return refuse("correct", "only a distance is read at a mark");
    by.at_m = spot->at_m;
    by.mark = spot->mark;
    if (!by.mark.empty()) by.edge = survey::Edge::middle;  // it has none
  }
  if (const auto* const turned = std::get_if<TurnFace>(&command.to)) {
    if (distance) return refuse("correct", "a distance has no face");
    by.face = turned->face;
  }
  if (const auto* const side = std::get_if<ChooseEdge>(&command.to)) {
    if (!by.mark.empty()) return refuse("correct", "a mark has no edge");
    by.edge = side->edge;
  }
  if (const auto* const set_up = std::get_if<PlaceSetUp>(&command.to)) {
    if (!distance) return refuse("correct", "only a distance has a set-up");
    by.set_up = set_up->name;
  }
  mark(command.entry, "correct", book::Corrected{command.entry, by, "said wrongly, corrected by hand"},
       words(by));
}

void Daemon::mark(book::Number entry, const char* command, const book::Content& content,
                  const std::string& says) {
  if (moves_stand_against(command)) return;
  if (const auto written = log_.append({content}); !written.ok())
    return refuse(command, written.fault().says);
  const Place place = place_;
  begin_session();
  place_ = place;
  say("corrected", std::to_string(entry) + ": " + says);
  refit();
}

/// What the book knows of the instruments, for the fits from now on.
void Daemon::take_checks() {
  const auto all = log_.checks();
  auto checks = log_.checks_of_survey(sheets_);
  if (!all.ok() || !checks.ok())
    return say("trouble",
               "no check of an instrument counts: " + (all.ok() ? checks.fault() : all.fault()).says);
  job::Occasion today;
  today.date = book::rfc3339(log_.now()).substr(0, 10);
  for (const Slot& slot : slots_)
    today.instruments.push_back({slot.instrument.kit().name, slot.instrument.temperature_C(now_us())});
  warnings_ = say::warnings(job::check_warnings(sheets_.kit, all.value(), today), sheets_.run.show);
  session_->take_checks(std::move(checks).value());
}

void Daemon::tell_warnings() {
  for (const std::string& warning : warnings_)
    if (warned_.insert(warning).second) say("warning", warning);
}

std::optional<std::size_t> Daemon::instrument_for(const std::string& name, Channel gives,
                                                  const char* what) const {
  std::vector<std::size_t> fitting;
  std::string names;
  for (std::size_t i = 0; i < slots_.size(); ++i) {
    const sheet::KitInstrument& kit = slots_[i].instrument.kit();
    if (lower(kit.name) == lower(name)) return i;
    if (std::none_of(kit.channels.begin(), kit.channels.end(), [&](const sheet::KitChannel& channel) {
          return channel.gives == gives || (gives == Channel::slope && channel.gives == Channel::roll);
        }))
      continue;
    fitting.push_back(i);
    names += (names.empty() ? "" : ", ") + kit.name;
  }
  if (name.empty() && fitting.size() == 1) return fitting.front();
  refuse("check",
         (name.empty() ? std::string("say which instrument") : "there is no instrument \"" + name + '"') +
             (names.empty() ? std::string("; the kit sheet has none that gives ") + what : ": " + names));
  return std::nullopt;
}

void Daemon::check_zero(const CheckZero& command) {
  if (is_checking("check")) return;
  const auto instrument = instrument_for(command.instrument, Channel::slope, "slope or roll");
  if (!instrument) return;
  const sheet::KitInstrument& kit = slots_[*instrument].instrument.kit();
  if (const auto objection = job::ZeroCheckGuide::objection(kit))
    return refuse("check", say::refusal(*objection, kit.name, sheets_.run.show));
  begin_check({*instrument, job::ZeroCheckGuide(kit)});
}

void Daemon::check_datum(const CheckDatum& command) {
  if (is_checking("check")) return;
  const auto instrument = instrument_for(command.instrument, Channel::distance, "a distance");
  if (!instrument) return;
  const sheet::KitInstrument& kit = slots_[*instrument].instrument.kit();
  if (const auto objection = job::DatumCheckGuide::objection(kit, sheets_.run, command.near_m, command.far_m))
    return refuse("check", say::refusal(*objection, kit.name, sheets_.run.show));
  begin_check({*instrument, job::DatumCheckGuide(kit, sheets_.run, command.near_m, command.far_m)});
}

/// A check under way must be ended before anything that would leave it behind.
bool Daemon::is_checking(const char* command) const {
  if (check_) refuse(command, "a check is under way; next goes on with it, give up ends it");
  return check_.has_value();
}

void Daemon::begin_check(Check check) {
  check_.emplace(std::move(check));
  check_found_.clear();
  say_step();
}

/// What stood in the windows belongs to the step before.
void Daemon::say_step() {
  InstrumentLine& instrument = slots_[check_->instrument].instrument;
  instrument.restart(now_us(), /*fixed=*/false);
  instrument.restart(now_us(), /*fixed=*/true);
  std::visit(
      [&](const auto& guide) {
        const std::string instruction = say::instruction(guide, sheets_.run.show);
        say("check",
            "step " + std::to_string(guide.step() + 1) + " of " + std::to_string(guide.steps()) + ": " +
                instruction,
            {{"step", guide.step() + 1}, {"steps", guide.steps()}, {"instruction", instruction}});
      },
      check_->guide);
}

void Daemon::give_up() {
  if (!check_ && on_job_ && on_job_->begun && on_job_->made.empty()) {
    on_job_.reset();
    return here();
  }
  if (!check_) return refuse("give up", "no check is under way, and nothing is waited for or begun");
  check_.reset();
  check_found_.clear();
  here();
}

// Waits until the instrument under check has settled, then takes its values for the step.
net::awaitable<void> Daemon::next_step() {
  if (!check_) {
    refuse("next", "no check is under way; check zero or check datum begins one");
    co_return;
  }
  if (!check_->found.empty()) {
    refuse("next", "the check is done; keep puts it in the book, give up leaves it out");
    co_return;
  }
  const auto until = Clock::now() + patience_;
  for (;;) {
    const Slot& slot = slots_[check_->instrument];
    if (const InstrumentState now = state(slot); !now.speaks) {
      wait_for(nullptr, {});
      refuse("next", slot.instrument.kit().name + ": " + now.sentence);
      co_return;
    }
    std::string missing;
    for (const InstrumentLine::LiveChannel& channel : slot.instrument.channels())
      if (channel.is_reading() &&
          channel.settling.verdict(std::uint64_t(now_us())) != survey::Verdict::settled)
        missing += (missing.empty() ? "" : "; ") + slot.instrument.words(channel, now_us(), sheets_.run.show);
    if (given_up("next")) {
      wait_for(nullptr, {});
      check_.reset();
      check_found_.clear();
      co_return;
    }
    if (missing.empty()) {
      wait_for(nullptr, {});
      take_step();
      co_return;
    }
    if (Clock::now() > until) {
      wait_for(nullptr, {});
      refuse("next", slot.instrument.kit().name + ' ' + missing);
      co_return;
    }
    wait_for("next", missing);
    waiting_.expires_after(milliseconds(20));
    boost::system::error_code cancelled;  // by stop(), which the next line sees
    co_await waiting_.async_wait(net::redirect_error(net::use_awaitable, cancelled));
    if (stopping_) co_return;
  }
}

void Daemon::take_step() {
  std::vector<job::CheckReading> values;
  for (const InstrumentLine::LiveChannel& channel : slots_[check_->instrument].instrument.channels()) {
    if (!channel.is_reading()) continue;
    const auto settled = channel.settling.value(std::uint64_t(now_us()));
    if (settled.ok())
      values.push_back(
          {channel.kit->gives, settled.value().mean, settled.value().sigma, settled.value().temperature_C});
  }
  std::visit(
      [&](auto& guide) {
        if (const auto objection = guide.take(values))
          return refuse("next", say::refusal(*objection, guide.instrument(), sheets_.run.show));
        if (!guide.done()) return say_step();
        const auto earlier = log_.checks();
        if (!earlier.ok()) return refuse("next", earlier.fault().says);
        end_check(guide.result(earlier.value()));
      },
      check_->guide);
}

template <class Outcome>
void Daemon::end_check(const Outcome& outcome) {
  check_found_ =
      say::findings(outcome.findings, slots_[check_->instrument].instrument.kit().name, sheets_.run.show);
  for (const std::string& sentence : check_found_) say("check", sentence);
  check_->found.assign(outcome.checks.begin(), outcome.checks.end());
  if (outcome.sound) return keep_check();
  say("check",
      "not in the book: see above. keep puts it in and lets it count all the same; give up leaves it out");
}

void Daemon::keep_check() {
  if (!check_ || check_->found.empty()) return refuse("keep", "no check waits to be kept");
  const std::string name = slots_[check_->instrument].instrument.kit().name;
  write_raw();
  if (const auto written = log_.append(check_->found); !written.ok())
    return refuse("keep", written.fault().says + "; keep tries again");
  check_.reset();
  say("checked", name + ": in the book, and counts from now on", {{"instrument", name}});
  take_checks();
  tell_warnings();
  refit();
}

void Daemon::seal() {
  write_raw();
  const auto sealed = log_.seal();
  if (!sealed.ok()) return refuse("seal", sealed.fault().says);
  say("sealed",
      "entries 1 to " + std::to_string(sealed.value().number - 1) + " by entry " +
          std::to_string(sealed.value().number) + ", code " + book::short_form(sealed.value().hash) +
          "; write it down away from this computer",
      {{"number", sealed.value().number},
       {"hash", sealed.value().hash},
       {"short", book::short_form(sealed.value().hash)}});
}

void Daemon::show_status() {
  for (const auto& port : ports_)
    for (const std::string& text : port->accounts()) say("status", text);
  for (const Slot& slot : slots_) {
    const InstrumentState now = state(slot);
    say("status", slot.instrument.kit().name + ": " + now.word + ", " + now.sentence);
    for (const std::string& text : slot.instrument.status(now_us(), sheets_.run.show)) say("status", text);
  }
  if (raw_not_written_ > 0)
    say("status",
        std::to_string(raw_not_written_) + " raw samples are not in the book, which could not be written");
  say("status", "survey " + log_.id() + ": " + std::to_string(session_->readings().size()) +
                    " readings, book " + log_.path() +
                    (log_.in_trouble() ? ", WHICH CANNOT BE WRITTEN" : ""));
  say("status", "end");
}

// ---- moves --------------------------------------------------------------------------------------------------------

bool Daemon::moves_stand_against(const char* command) const {
  if (is_moving())
    refuse(
        command,
        on_job_->made.empty()
            ? "moves of the card are being made, and it must not change meanwhile; give up ends that"
            : "moves of the card were made, so what was read before is of another shape; read again begins "
              "a new survey, not made takes a tick back");
  return is_moving();
}

std::optional<std::string> Daemon::objection(const job::StoredCard& card) const {
  if (!card.fit_holds) return say::unusable_card("it does not say whether its fit holds");
  if (!*card.fit_holds) return "the readings do not hold together: no move is to be made by this card";
  if (card.hold_point == adjust::HoldPoint::read_again) return "this card says read again first";
  return std::nullopt;
}

/// From now on the card is the one that was shown when the person went to make its moves.
void Daemon::begin_moves() {
  if (is_checking("begin moves") || moves_stand_against("begin moves")) return;
  if (!shims_ || session_->readings().empty())
    return refuse("begin moves", no_fit_.empty() ? "nothing has been read in this survey" : no_fit_);
  if (const auto why_not = objection(*shims_)) return refuse("begin moves", *why_not);
  if (std::all_of(shims_->moves.begin(), shims_->moves.end(),
                  [](const job::StoredMove& move) { return move.when_stage.has_value(); }))
    return refuse("begin moves", "the card has no move for this stage");
  if (!show_card()) return;
  if (on_job_)
    on_job_->begun = true;
  else
    refuse("begin moves", "the card is not in the book, which cannot be written");
}

void Daemon::mark_move(const MarkMove& move) {
  const char* const command = move.made ? "made" : "not made";
  if (is_checking(command)) return;
  if (!on_job_) return refuse(command, "no card is on the job; card puts one there");
  if (!on_job_->card) return refuse(command, say::unusable_card(on_job_->card.fault().says));
  const job::StoredCard& card = on_job_->card.value();
  const std::vector<job::StoredMove>& moves = card.moves;
  const auto found = std::find_if(moves.begin(), moves.end(),
                                  [&](const job::StoredMove& each) { return each.order == move.order; });
  if (found == moves.end())
    return refuse(command, "move " + std::to_string(move.order) + ", but the card has " +
                               std::to_string(moves.size()) + (moves.size() == 1 ? " move" : " moves"));
  const auto made = std::find(on_job_->made.begin(), on_job_->made.end(), move.order);
  if ((made != on_job_->made.end()) == move.made)
    return refuse(command, "move " + std::to_string(move.order) +
                               (move.made ? " is ticked as made already" : " is not ticked as made"));
  if (const auto why_not = objection(card); why_not && move.made) return refuse(command, *why_not);
  if (found->when_stage)
    return refuse(command, "move " + std::to_string(move.order) + " is made only when stage \"" +
                               *found->when_stage + "\" begins");
  const std::string& support = found->support;
  if (const auto written = log_.append({book::MoveMade{on_job_->entry, move.order, support, move.made}});
      !written.ok())
    return refuse(command, written.fault().says);
  if (move.made)
    on_job_->made.push_back(move.order);
  else
    on_job_->made.erase(made);
  say("made",
      std::to_string(move.order) + ": " + support + ", " +
          say::motion_words(found->rise_m, found->pitch_rad, found->roll_rad, sheets_.run.show) +
          (move.made ? "" : ", not made after all"),
      {{"order", move.order},
       {"support", support},
       {"rise_m", found->rise_m},
       {"pitch_rad", found->pitch_rad},
       {"roll_rad", found->roll_rad},
       {"made", move.made}});
}

/// A card on which moves were made, in this survey before the daemon was started anew, or in the one before it.
void Daemon::promise_from_book() {
  on_job_.reset();
  promised_.reset();
  const auto on_job = log_.card_on_job();
  if (on_job.ok() && on_job.value() && !on_job.value()->made.empty())
    on_job_ = {on_job.value()->number, json::read_card(on_job.value()->card.json), on_job.value()->made,
               true};
  const auto promise = log_.promise();
  if (!promise.ok() || !promise.value()) return;
  const book::BookedCard& card = promise.value()->card;
  auto promised = json::read_card(card.card.json);
  if (!promised.ok())
    return say("card", "entry " + std::to_string(card.number) + ", the card of survey " +
                           promise.value()->survey + ", is not compared with what is found now. " +
                           say::unusable_card(promised.fault().says));
  // Those for a later stage are still to come.
  for (const job::StoredMove& move : promised.value().moves)
    if (!move.when_stage && std::find(card.made.begin(), card.made.end(), move.order) == card.made.end())
      return;
  promised_ = {promise.value()->survey, std::move(promised).value()};
}

/// This survey against an earlier one: from now on, as its readings come.
void Daemon::compare_with(const CompareWith& command) {
  const auto from = log_.earlier(command.survey);
  if (!from.ok()) return refuse("recheck", from.fault().says);
  if (!from.value())
    return refuse("recheck",
                  command.survey.empty()
                      ? "no earlier survey of stage \"" + sheets_.run.stages[std::size_t(stage_)] +
                            "\" has readings in this book; recheck and a survey's name takes another"
                      : "there is no survey \"" + command.survey + "\" in " + log_.path());
  if (from.value()->begun.id == log_.id())
    return refuse("recheck", "survey \"" + log_.id() + "\" is the one under way; name an earlier one");
  recheck_from_ = from.value()->begun.id;
  make_recheck();
  if (recheck_) {
    const std::string text = say::recheck_view(sheets_.run, *recheck_);
    for (std::size_t start = 0; start < text.size();) {
      const std::size_t end = std::min(text.find('\n', start), text.size());
      say("|", text.substr(start, end - start));
      start = end + 1;
    }
  }
  say("recheck",
      "survey " + log_.id() + " is compared with survey " + recheck_from_ + ": " +
          (recheck_ ? std::string(say::word(recheck_->answer)) : no_recheck_),
      {{"from", recheck_from_}});
}

void Daemon::make_recheck() {
  recheck_.reset();
  no_recheck_.clear();
  recheck_due_ = false;
  if (session_->readings().empty()) {
    no_recheck_ = "nothing has been read in this survey yet";
    return;
  }
  auto made = log_.recheck(sheets_, recheck_from_);
  if (made.ok())
    recheck_ = std::move(made).value();
  else
    no_recheck_ = say::complaint(sheets_.run, made.fault()).text();
}

bool Daemon::show_card() {
  if (moves_stand_against("card")) return false;
  if (session_->readings().empty()) {
    refuse("card", "nothing has been read in this survey; take readings first");
    return false;
  }
  const auto fitted = session_->fit();
  if (!fitted) {
    refuse("card", say::complaint(sheets_.run, fitted.fault()).text());
    return false;
  }
  auto made = job::make_card(*session_);
  if (!made) {
    refuse("card", say::complaint(sheets_.run, made.fault()).text());
    return false;
  }
  card_ = std::move(made).value();
  const job::Card& card = *card_;
  const std::string text = say::card_view(sheets_.run, session_->report(), card);
  std::size_t start = 0;
  while (start < text.size()) {
    const std::size_t end = std::min(text.find('\n', start), text.size());
    say("|", text.substr(start, end - start));
    start = end + 1;
  }
  shims_ = json::stored_card(sheets_.run, card);
  const nlohmann::ordered_json shims = json::shims_json(*shims_);
  // A card that the book cannot keep is shown all the same; on_trouble has said why. No move of it can be ticked then.
  if (const auto kept = log_.append({book::Card{shims.dump()}}); kept.ok())
    on_job_ = {kept.value(), *shims_, {}, false};
  if (answer_) answer_->words = "the card is in the book";
  announcer_.give("result", {{"stage", sheets_.run.stages[std::size_t(stage_)]},
                             {"fit", json::fit_json(sheets_.run, session_->report())},
                             {"shims", shims}});
  return true;
}

void Daemon::finish(bool sealed) {
  if (is_checking("done")) return;
  if (!session_->readings().empty() && !is_moving()) show_card();
  write_raw();
  if (const auto closed = log_.append({book::SurveyClosed{}}); !closed.ok())
    return refuse("done", closed.fault().says);
  if (sealed) seal();
  say("done", "survey " + log_.id() + ", " + std::to_string(session_->readings().size()) +
                  " readings, book " + log_.path());
  stop();
}

// ---- raw samples --------------------------------------------------------------------------------------------------

/// Also tells, once a second, whether a book that was full can be written again.
void Daemon::write_raw() {
  const auto offset =
      log_.now().time_since_epoch() -
      std::chrono::duration_cast<std::chrono::system_clock::duration>(std::chrono::microseconds(now_us()));
  std::vector<book::Content> contents;
  std::uint64_t samples = 0;
  for (Slot& slot : slots_)
    for (book::Samples& raw : slot.instrument.raw(offset)) {
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
    if (stopping_) co_return;
    write_raw();
    show_work();  // whether the book can be written
  }
}

}  // namespace hangtrue::daemon
