#include "firmware-host/daemon/port.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <utility>

#include "firmware-host/daemon/kit_channels.hpp"
#include "firmware-host/daemon/thresholds.hpp"
#include "firmware-host/serial/asking.hpp"
#include "firmware-host/serial/modbus_poll.hpp"
#include "firmware-host/wire/line_reader.hpp"
#include "firmware-host/wire/xdr.hpp"

namespace hangtrue::daemon {
namespace {

using std::chrono::milliseconds;

/// Of a node's sentences (firmware-host/node/node.hpp).
constexpr std::string_view kNodeTalker = "HT";

milliseconds duration(double seconds) { return milliseconds(std::llround(seconds * 1000)); }

unsigned bits_per_character(const sheet::KitInstrument& kit) {
  return 9u + unsigned(kit.stop_bits) + (kit.parity == sheet::Parity::none ? 0 : 1);
}

std::string amounts(std::uint64_t in, std::uint64_t used, std::uint64_t pending) {
  return std::to_string(in) + " bytes in, " + std::to_string(used) + " used, " + std::to_string(pending) +
         " pending";
}

template <class Reason, class Count>
void add_reasons(std::string& text, const char* what, Count count_of) {
  for (int i = 0; i < int(Reason::count); ++i)
    if (const std::uint64_t count = count_of(Reason(i)); count > 0)
      text += ", " + std::to_string(count) + ' ' + what + std::string(wire::name(Reason(i)));
}

std::string not_usable(const std::string& name, std::uint64_t count) {
  return name + ": " + std::to_string(count) +
         " values that cannot be: an angle that is no slope, a unit of another kind, a station that the run "
         "has not";
}

std::string sent(const serial::SerialLine& line) {
  const serial::WriteCounts& counts = line.writes();
  return line.settings().path + ": " + std::to_string(counts.written) + " bytes sent, " +
         std::to_string(counts.dropped) + " not sent: the line was not open, or not read";
}

/// Sentences that come by themselves, of one or several instruments.
class XdrPort final : public Port {
 public:
  XdrPort(const boost::asio::any_io_executor& executor, std::vector<Member> members, std::size_t stations,
          Heard heard)
      : Port(executor, std::move(members), std::move(heard)), quads_(kits(), stations) {}

  std::vector<std::string> accounts() const override {
    const std::string& path = line().settings().path;
    std::string text =
        path + ": " + amounts(reader_.bytes_in(), reader_.bytes_used(), reader_.bytes_pending());
    add_reasons<wire::Dropped>(text, "dropped: ", [&](auto reason) { return reader_.bytes_dropped(reason); });
    add_reasons<wire::XdrFault>(text, "refused: ", [&](auto fault) { return reader_.bytes_refused(fault); });
    std::vector<std::string> lines{std::move(text)};
    for (const auto& [name, count] : quads_.unknown())
      lines.push_back(path + ": " + std::to_string(count) + " values of " + name +
                      ", which no channel on this line reads");
    if (const std::uint64_t count = quads_.map().not_usable(); count > 0)
      lines.push_back(not_usable(path, count));
    return lines;
  }

 private:
  std::vector<const sheet::KitInstrument*> kits() const {
    std::vector<const sheet::KitInstrument*> kits;
    for (const Member& member : members()) kits.push_back(member.kit);
    return kits;
  }
  void bytes(std::string_view chunk) override {
    reader_.push(
        chunk,
        [&](std::string_view talker, std::span<const wire::XdrQuad> quads) {
          is_node_ = is_node_ || talker == kNodeTalker;
          quads_.read(talker, quads, [&](const wire::Sample& sample) { hear(sample.instrument, sample); });
          for (std::size_t member = 0; member < members().size(); ++member) ended(member);
        },
        [&](std::string_view sentence) {
          if (sentence.substr(1).starts_with(kNodeTalker)) hear_node(sentence);
        });
    judge(chunk, reader_.bytes_used());
  }
  int under_way(std::size_t) const override { return reader_.bytes_pending() > 0 ? 1 : 0; }
  void lost() override {
    reader_.finish();
    quads_.forget();
  }
  std::uint64_t damaged() const override {
    return reader_.bytes_refused(wire::XdrFault::checksum_mismatch) +
           reader_.bytes_refused(wire::XdrFault::checksum_not_hex) +
           reader_.bytes_dropped(wire::Dropped::cut_by_next) +
           reader_.bytes_dropped(wire::Dropped::not_printable);
  }
  std::optional<job::InstrumentState> speech(std::size_t member) const override {
    const std::string mixed = quads_.mixed(member);
    if (mixed.empty()) return std::nullopt;
    return job::InstrumentState{job::LineTrouble{"mixed", mixed}, false};
  }

  bool is_node() const override { return is_node_; }

  wire::XdrReader reader_;
  KitQuads quads_;
  bool is_node_ = false;
};

/// Text lines of one device, which sends by itself or when it is asked.
class LinePort final : public Port {
 public:
  LinePort(const boost::asio::any_io_executor& executor, std::vector<Member> members, std::size_t stations,
           Heard heard)
      : Port(executor, std::move(members), std::move(heard)), lines_(*kit().kit, stations) {
    const sheet::KitInstrument& instrument = *kit().kit;
    if (instrument.ask.empty()) return;
    asking_ = serial::Asking::create(executor, instrument.ask, duration(instrument.every_s),
                                     [this](std::string bytes) {
                                       tty().write(std::move(bytes));
                                       asked_ = std::min(asked_ + 1, kMostAsked);
                                     });
    asking_->start();
  }
  void stop() override {
    if (asking_) asking_->stop();
    Port::stop();
  }

  std::vector<std::string> accounts() const override {
    const std::string& path = line().settings().path;
    const wire::LineReader::Counts& counts = reader_.counts();
    std::string text = path + ": " + amounts(counts.in, counts.used, reader_.pending());
    add_reasons<wire::LineDropped>(text, "dropped: ", [&](auto reason) { return counts.dropped_as(reason); });
    std::vector<std::string> lines{std::move(text)};
    const wire::LineMap& map = lines_.map();
    if (map.unmatched() + map.ambiguous() + map.not_usable() > 0)
      lines.push_back(path + ": " + std::to_string(map.lines()) + " lines, of which " +
                      std::to_string(map.unmatched()) + " fit no pattern, " +
                      std::to_string(map.ambiguous()) + " fit in more than one way, " +
                      std::to_string(map.not_usable()) + " give what cannot be; the last such: \"" +
                      std::string(map.last_of_no_use()) +
                      "\"; a pattern is the whole line, unless its channel says within = true");
    if (asking_) lines.push_back(sent(line()));
    return lines;
  }

 private:
  const Member& kit() const { return members().front(); }
  void bytes(std::string_view chunk) override {
    reader_.push(chunk, [&](std::string_view text) {
      const bool is_of_use = lines_.map().read(text, [&](const wire::Sample& sample) {
        if (is_believed()) hear(0, sample);
      });
      ended(0);
      asked_ = std::max(asked_ - 1, 0);
      return is_of_use;
    });
    judge(chunk, reader_.counts().used);
  }
  int under_way(std::size_t) const override { return std::max(asked_, reader_.pending() > 0 ? 1 : 0); }
  void opened() override {
    if (asking_) asking_->opened();
  }
  void lost() override {
    if (asking_) asking_->lost();
    reader_.finish();
  }

  /// Questions that a slow device answers one after the other. No source: more than any device keeps.
  static constexpr int kMostAsked = 3;
  wire::LineReader reader_;
  KitLines lines_;
  std::shared_ptr<serial::Asking> asking_;
  int asked_ = 0;  // and not answered
};

/// Units that are asked for their registers, one after the other.
class ModbusPort final : public Port {
 public:
  ModbusPort(const boost::asio::any_io_executor& executor, std::vector<Member> members, std::size_t stations,
             Heard heard)
      : Port(executor, std::move(members), std::move(heard)) {
    serial::ModbusPoll::Settings settings;
    for (const Member& member : this->members()) {
      const sheet::KitInstrument& kit = *member.kit;
      maps_.emplace_back(kit, stations);
      settings.units.push_back(
          {kit.name, requests_of(maps_.back()), duration(kit.every_s), duration(kit.timeout_s), kit.retries});
    }
    said_.resize(maps_.size());
    settings.baud = unsigned(this->members().front().kit->baud);
    settings.bits_per_character = bits_per_character(*this->members().front().kit);
    poll_ = serial::ModbusPoll::create(
        executor, std::move(settings), [this](std::string bytes) { tty().write(std::move(bytes)); },
        [this](std::size_t unit, std::size_t request, std::span<const std::uint16_t> registers) {
          maps_[unit].map().read(request, registers, [&](const wire::Sample& sample) { hear(unit, sample); });
          ended(unit);
        },
        [this](std::size_t unit, const serial::UnitEvent& event) { said_[unit] = event; });
    poll_->start();
  }
  void stop() override {
    poll_->stop();
    Port::stop();
  }

  std::vector<std::string> accounts() const override {
    const std::string& path = line().settings().path;
    const wire::ModbusAnswer::Counts& counts = poll_->answer().counts();
    std::string text = path + ": " + amounts(counts.in, counts.used, poll_->answer().pending());
    add_reasons<wire::ModbusFault>(text, "dropped: ", [&](auto fault) { return counts.dropped_as(fault); });
    std::vector<std::string> lines{std::move(text), sent(line())};
    for (std::size_t unit = 0; unit < maps_.size(); ++unit) {
      const serial::UnitCounts& asked = poll_->counts(unit);
      const std::string& name = members()[unit].kit->name;
      lines.push_back((said_[unit].sentence.empty() ? name : said_[unit].sentence) + ": asked " +
                      std::to_string(asked.asked) + " times, answered " + std::to_string(asked.answered) +
                      ", exceptions " + std::to_string(asked.exceptions) + ", failed " +
                      std::to_string(asked.failed));
      if (const std::uint64_t count = maps_[unit].map().not_usable(); count > 0)
        lines.push_back(not_usable(name, count));
    }
    return lines;
  }

 private:
  void bytes(std::string_view chunk) override {
    poll_->bytes(chunk);
    judge(chunk, poll_->understood());
  }
  /// And one more: behind a gateway that answers one request late the next answer is to what was asked before.
  int under_way(std::size_t member) const override { return int(poll_->under_way(member)) + 1; }
  void opened() override { poll_->opened(); }
  void lost() override { poll_->lost(); }
  std::optional<job::InstrumentState> speech(std::size_t member) const override {
    const serial::UnitEvent& said = said_[member];
    if (said.state <= serial::UnitState::answering) return std::nullopt;
    return job::InstrumentState{job::LineTrouble{std::string(serial::word(said.state)), said.sentence},
                                false};
  }

  static std::vector<wire::ReadRequest> requests_of(const KitRegisters& registers) {
    const std::span<const wire::ReadRequest> requests = registers.map().requests();
    return {requests.begin(), requests.end()};
  }

  std::vector<KitRegisters> maps_;
  std::vector<serial::UnitEvent> said_;  // of each unit, last
  std::shared_ptr<serial::ModbusPoll> poll_;
};

}  // namespace

Port::Port(const boost::asio::any_io_executor& executor, std::vector<Member> members, Heard heard)
    : members_(std::move(members)),
      began_before_(members_.size(), 0),
      heard_(std::move(heard)),
      health_(members_.front().kit->port, unsigned(members_.front().kit->baud),
              bits_per_character(*members_.front().kit),
              members_.front().kit->speaks == sheet::Speaks::modbus ? serial::LineHealth::Speech::modbus
                                                                    : serial::LineHealth::Speech::text) {
  const sheet::KitInstrument& kit = *members_.front().kit;
  serial::Settings settings;
  settings.path = kit.port;
  settings.baud = unsigned(kit.baud);
  settings.parity = serial::Parity(int(kit.parity));
  settings.stop_bits = kit.stop_bits;
  for (const Member& member : members_)  // one that is seldom asked is not silent in between
    settings.silence_limit = std::max(settings.silence_limit, 3 * duration(member.kit->every_s));
  line_ = serial::SerialLine::create(
      executor, settings,
      [this](std::string_view chunk) {
        in_bytes_ = true;
        bytes(chunk);
        in_bytes_ = false;
      },
      [this](const serial::Event& event) { line_changed(event); });
}

std::unique_ptr<Port> Port::make(const boost::asio::any_io_executor& executor, std::vector<Member> members,
                                 std::size_t stations, Heard heard) {
  switch (members.front().kit->speaks) {
    case sheet::Speaks::modbus:
      return std::make_unique<ModbusPort>(executor, std::move(members), stations, std::move(heard));
    case sheet::Speaks::line:
      return std::make_unique<LinePort>(executor, std::move(members), stations, std::move(heard));
    case sheet::Speaks::xdr:
      break;
  }
  return std::make_unique<XdrPort>(executor, std::move(members), stations, std::move(heard));
}

void Port::begin_anew() {
  if (in_bytes_) return;
  line_->read_what_waits();
  for (std::size_t member = 0; member < members_.size(); ++member) began_before_[member] = under_way(member);
}

void Port::judge(std::string_view chunk, std::uint64_t used) {
  last_bytes_us_ = now_us();
  bytes_since_ += chunk.size();
  if (bytes_since_ >= kJudgedBytes) {
    is_damaged_ = double(damaged() - damaged_before_) > kDamagedShare * double(bytes_since_);
    bytes_since_ = 0;
    damaged_before_ = damaged();
  }
  if (health_.bytes(chunk, used, now_us())) heard_.changed();
}

void Port::line_changed(const serial::Event& event) {
  const bool is_open = line_->is_open();
  if (is_open && !was_open_) opened();
  if (!is_open && was_open_) {
    health_.lost();
    is_damaged_ = false;
    lost();
  }
  was_open_ = is_open;
  heard_.line(event);
}

std::optional<job::InstrumentState> Port::trouble(std::size_t member) const {
  const auto of_line = [&] {
    return job::InstrumentState{
        job::LineTrouble{std::string(serial::word(line_->state())), line_->sentence()}, false};
  };
  if (!line_->is_open()) return of_line();
  if (!health_.is_well())
    return job::InstrumentState{
        job::LineTrouble{std::string(serial::word(health_.verdict())), health_.sentence()},
        health_.verdict() >= serial::LineVerdict::noisy};
  if (const auto said = speech(member)) return said;
  if (is_damaged_) return job::InstrumentState{job::DamagedSentences{line_->settings().path}, true};
  if (line_->state() == serial::State::silent) return of_line();
  return std::nullopt;
}

std::int64_t now_us() {
  return std::chrono::duration_cast<std::chrono::microseconds>(
             std::chrono::steady_clock::now().time_since_epoch())
      .count();
}

}  // namespace hangtrue::daemon
