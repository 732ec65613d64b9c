// Polling against an independent peer: units served by libmodbus, each on a pseudo-terminal of its own,
// joined to one bus by a hub that can spoil what passes. The client's end is a SerialLine on a
// pseudo-terminal, as in the daemon.
//
// A context of libmodbus 3.1.6 answers for one unit, so each unit has its own. When libmodbus has seen a request to
// another unit, it takes the next frame for that unit's answer; where that unit is silent, it so loses a request of its
// own. The hub therefore gives each unit its own requests only. Its setters for floats write a wrong byte order; floats are
// packed here by hand (IEEE 754, high byte first in each register) and read back with its getters, which are
// right.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <modbus/modbus.h>

#include <array>
#include <atomic>
#include <bit>
#include <exception>
#include <map>
#include <memory>
#include <random>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/read.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>

#include "firmware-host/serial/modbus_poll.hpp"
#include "firmware-host/serial/serial_line.hpp"
#include "firmware-host/wire/channels.hpp"
#include "tests/firmware-host/serial/pseudo_terminal.hpp"

namespace hangtrue::serial {
namespace {

namespace net = boost::asio;
using namespace std::chrono_literals;
using boost::system::error_code;
using test::PseudoTerminal;
using test::ScratchDirectory;
using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using Clock = std::chrono::steady_clock;

constexpr int kBaud = 115200;
constexpr int kRegisters = 40;  // 0 ... 39, of either kind; what lies beyond is an illegal address

/// One unit, served in a thread of its own until its terminal hangs up.
class Unit {
 public:
  explicit Unit(int address)
      : context_(modbus_new_rtu(terminal_.slave().c_str(), kBaud, 'N', 8, 1)),
        registers_(modbus_mapping_new(0, 0, kRegisters, kRegisters)) {
    modbus_set_slave(context_, address);
    if (modbus_connect(context_) != 0) ADD_FAILURE() << "libmodbus: " << modbus_strerror(errno);
    thread_ = std::thread([this] { serve(); });
  }
  ~Unit() {
    terminal_.hang_up();
    thread_.join();
    modbus_close(context_);
    modbus_free(context_);
    modbus_mapping_free(registers_);
  }
  Unit(const Unit&) = delete;
  Unit& operator=(const Unit&) = delete;

  [[nodiscard]] int address() const { return modbus_get_slave(context_); }
  [[nodiscard]] int terminal() const { return terminal_.master(); }
  /// Before it is asked for the first time.
  [[nodiscard]] std::uint16_t* holding() { return registers_->tab_registers; }
  [[nodiscard]] std::uint16_t* input() { return registers_->tab_input_registers; }
  /// Holding register 0 counts requests where it is set.
  std::atomic<bool> counts = false;
  std::atomic<bool> silent = false;
  std::atomic<int> delay_ms = 0;

 private:
  void serve() {
    std::array<std::uint8_t, MODBUS_RTU_MAX_ADU_LENGTH> query;
    for (;;) {
      const int length = modbus_receive(context_, query.data());
      const int error = errno;
      if (length < 0 && (error == ECONNRESET || error == EIO || error == EBADF)) return;
      if (length <= 0) continue;  // damaged, or for another unit
      if (counts) ++registers_->tab_registers[0];
      std::this_thread::sleep_for(std::chrono::milliseconds(delay_ms));
      if (!silent) modbus_reply(context_, query.data(), length, registers_);
    }
  }

  PseudoTerminal terminal_;
  modbus_t* context_;
  modbus_mapping_t* registers_;
  std::thread thread_;
};

/// The wire between the client's terminal and the units.
class Hub : public std::enable_shared_from_this<Hub> {
 public:
  using Spoil = std::function<std::string(std::string)>;
  Hub(net::io_context& context, const PseudoTerminal& client, const std::vector<Unit*>& units, Spoil spoil)
      : client_(context, ::dup(client.master())),
        held_(::open(client.slave().c_str(), O_RDWR | O_NOCTTY | O_CLOEXEC)),
        spoil_(std::move(spoil)) {
    for (const Unit* unit : units)
      units_.try_emplace(static_cast<char>(unit->address()), context, ::dup(unit->terminal()));
  }
  void start() {
    const auto rethrow = [](std::exception_ptr failure) {
      if (failure) std::rethrow_exception(failure);
    };
    const net::any_io_executor executor = client_.get_executor();
    net::co_spawn(
        executor, [self = shared_from_this()] { return self->pass_requests(); }, rethrow);
    for (auto& [address, unit] : units_)
      net::co_spawn(
          executor, [self = shared_from_this(), &unit = unit] { return self->pass_answers(unit); }, rethrow);
  }
  ~Hub() { ::close(held_); }
  void cut() {
    client_.close();
    for (auto& [address, unit] : units_) unit.close();
  }

 private:
  using Wire = net::posix::stream_descriptor;
  net::awaitable<void> pass_requests() {
    std::array<char, 8> request;
    for (error_code error;;) {  // ends when the hub is cut
      co_await net::async_read(client_, net::buffer(request), net::redirect_error(net::use_awaitable, error));
      if (error) co_return;
      const auto unit = units_.find(request[0]);
      if (unit != units_.end())
        co_await net::async_write(unit->second, net::buffer(request),
                                  net::redirect_error(net::use_awaitable, error));
    }
  }
  net::awaitable<void> pass_answers(Wire& unit) {
    for (error_code error;;) {  // a whole answer at a time: registers, or an exception
      std::string answer(3, '\0');
      co_await net::async_read(unit, net::buffer(answer), net::redirect_error(net::use_awaitable, error));
      if (error) co_return;
      const bool exception = (answer[1] & 0x80) != 0;
      answer.resize(exception ? 5 : 5 + static_cast<unsigned char>(answer[2]));
      co_await net::async_read(unit, net::buffer(&answer[3], answer.size() - 3),
                               net::redirect_error(net::use_awaitable, error));
      if (error) co_return;
      if (spoil_) answer = spoil_(answer);
      co_await net::async_write(client_, net::buffer(answer), net::redirect_error(net::use_awaitable, error));
    }
  }

  Wire client_;
  int held_;                    // so that the client's end is there before the client is
  std::map<char, Wire> units_;  // by address
  Spoil spoil_;
};

/// A client on the bus, as the daemon has one, with what it got and was told.
class Client {
 public:
  Client(net::io_context& context, const std::string& path, std::vector<PolledUnit> units)
      : context_(context) {
    line_ = SerialLine::create(
        context.get_executor(), {.path = path, .baud = kBaud, .first_retry = 1ms, .longest_retry = 4ms},
        [this](std::string_view chunk) { poll_->bytes(chunk); },
        [this](const Event& event) {
          line_states_.push_back(event.state);
          if (line_->is_open())
            poll_->opened();
          else
            poll_->lost();
        });
    poll_ = ModbusPoll::create(
        context.get_executor(),
        {.baud = kBaud, .units = std::move(units), .longest_pause = 100ms, .late_least = 200ms},
        [this](std::string bytes) { line_->write(std::move(bytes)); },
        [this](std::size_t unit, std::size_t request, std::span<const std::uint16_t> registers) {
          got_.push_back({unit, request, {registers.begin(), registers.end()}, poll_->counts(unit).asked});
        },
        [this](std::size_t unit, const UnitEvent& event) {
          events_.push_back({unit, event});
        });
    poll_->start();
    line_->start();
  }
  void stop() {
    poll_->stop();
    line_->stop();
  }

  template <class Condition>
  void until(Condition condition) {
    const auto give_up = Clock::now() + 20s;
    while (!condition()) {
      if (Clock::now() > give_up)  // ends the test
        throw std::runtime_error(waiting_for());
      context_.run_one_for(100ms);
    }
  }
  void until_answered(std::size_t more) {
    until([this, enough = got_.size() + more] { return got_.size() >= enough; });
  }
  [[nodiscard]] std::string waiting_for() const {
    return std::to_string(got_.size()) + " answered, last event " +
           (events_.empty() ? "none" : events_.back().second.sentence);
  }
  void until_state(std::size_t unit, UnitState state) {
    until([&] { return poll_->state(unit) == state; });
  }
  [[nodiscard]] std::vector<UnitState> states(std::size_t unit) const {
    std::vector<UnitState> states;
    for (const auto& [of, event] : events_)
      if (of == unit) states.push_back(event.state);
    return states;
  }

  struct Got {
    std::size_t unit, request;
    std::vector<std::uint16_t> registers;
    std::uint64_t asked;  // of this unit, so far
  };
  net::io_context& context_;
  std::shared_ptr<SerialLine> line_;
  std::shared_ptr<ModbusPoll> poll_;
  std::vector<Got> got_;
  std::vector<std::pair<std::size_t, UnitEvent>> events_;
  std::vector<State> line_states_;
};

class ModbusPeer : public ::testing::Test {
 protected:
  ~ModbusPeer() override {
    if (client_) client_->stop();
    if (hub_) hub_->cut();
    context_.run();
  }
  void connect(std::vector<PolledUnit> units, Hub::Spoil spoil = {}) {
    plug_in(std::move(spoil));
    client_ = std::make_unique<Client>(context_, scratch_ / "line", std::move(units));
  }
  void plug_in(Hub::Spoil spoil = {}) {
    terminal_ = std::make_unique<PseudoTerminal>();
    terminal_->take_link(scratch_ / "line");
    hub_ =
        std::make_shared<Hub>(context_, *terminal_, std::vector<Unit*>{&level_, &laser_}, std::move(spoil));
    hub_->start();
  }
  void pull_out() {
    hub_->cut();
    terminal_->hang_up();
  }

  static PolledUnit polled(int address, std::vector<wire::ReadRequest> requests,
                           std::chrono::milliseconds timeout = 500ms, int retries = 2) {
    for (wire::ReadRequest& request : requests) request.address = address;
    return {.name = address == 7 ? "level" : "laser",
            .requests = std::move(requests),
            .every = 2ms,
            .timeout = timeout,
            .retries = retries};
  }

  ScratchDirectory scratch_;
  net::io_context context_;
  Unit level_{7}, laser_{9};
  std::unique_ptr<PseudoTerminal> terminal_;
  std::shared_ptr<Hub> hub_;
  std::unique_ptr<Client> client_;
};

TEST_F(ModbusPeer, GivesIntegersAndFloatsOfBothKindsOfRegistersInBothWordOrders) {
  using wire::RegisterType;
  level_.holding()[0] = static_cast<std::uint16_t>(-1234);
  const std::uint32_t float_bits = std::bit_cast<std::uint32_t>(-0.3125f);
  level_.holding()[1] = static_cast<std::uint16_t>(float_bits >> 16);
  level_.holding()[2] = static_cast<std::uint16_t>(float_bits & 0xFFFF);
  laser_.input()[30] = static_cast<std::uint16_t>(std::bit_cast<std::uint32_t>(3.75f) & 0xFFFF);
  laser_.input()[31] = static_cast<std::uint16_t>(std::bit_cast<std::uint32_t>(3.75f) >> 16);
  laser_.input()[32] = static_cast<std::uint16_t>(static_cast<std::uint32_t>(-70000) >> 16);
  laser_.input()[33] = static_cast<std::uint16_t>(static_cast<std::uint32_t>(-70000) & 0xFFFF);
  connect({polled(7, {{.function = 3, .first = 0, .count = 3}}),
           polled(9, {{.function = 4, .first = 30, .count = 2}, {.function = 4, .first = 32, .count = 2}})});
  // The answers of the second unit look alike, so that they are believed only after some seconds.
  client_->until([&] {
    return std::count_if(client_->got_.begin(), client_->got_.end(),
                         [](const Client::Got& got) { return got.unit == 1; }) >= 40;
  });
  std::array<int, 3> seen{};
  for (const Client::Got& got : client_->got_) {
    const std::span<const std::uint16_t> registers = got.registers;
    if (got.unit == 0) {
      ++seen[0];
      ASSERT_EQ(wire::value_of(registers.first(1), RegisterType::int16, true), -1234);
      ASSERT_EQ(wire::value_of(registers.subspan(1), RegisterType::float32, /*high_word_first=*/true),
                -0.3125);
      ASSERT_EQ(modbus_get_float_abcd(&registers[1]), -0.3125f);
    } else if (got.request == 0) {
      ++seen[1];
      ASSERT_EQ(wire::value_of(registers, RegisterType::float32, /*high_word_first=*/false), 3.75);
      ASSERT_EQ(modbus_get_float_cdab(registers.data()), 3.75f);
    } else {
      ++seen[2];
      ASSERT_EQ(wire::value_of(registers, RegisterType::int32, true), -70000);
    }
  }
  EXPECT_THAT(seen, testing::Each(testing::Ge(10)));
  EXPECT_THAT(client_->states(0), ElementsAre(UnitState::answering));
  EXPECT_THAT(client_->states(1), ElementsAre(UnitState::answering));
  EXPECT_EQ(client_->poll_->answer().counts().dropped_in_all(), 0u);
}

TEST_F(ModbusPeer, NamesTheExceptionOfARegisterThatIsNotThereAndOfAFunctionsRange) {
  connect({polled(7, {{.function = 3, .first = kRegisters, .count = 1}}),
           polled(9, {{.function = 4, .first = kRegisters - 1, .count = 2}})});
  client_->until_state(0, UnitState::exception);
  client_->until_state(1, UnitState::exception);
  for (const auto& [unit, event] : client_->events_)
    EXPECT_THAT(event.sentence, HasSubstr("illegal data address (exception 2)"));
}

TEST_F(ModbusPeer, GoesOnWithTheOthersWhileOneIsSilentAndWithAllWhenItSpeaksAgain) {
  connect({polled(7, {{.count = 2}}), polled(9, {{.count = 2}}, 30ms)});
  client_->until_state(1, UnitState::answering);
  laser_.silent = true;
  client_->until_state(1, UnitState::not_answering);
  client_->got_.clear();
  client_->until_answered(100);
  for (const Client::Got& got : client_->got_) EXPECT_EQ(got.unit, 0u);
  laser_.silent = false;
  client_->until_state(1, UnitState::answering);
  EXPECT_THAT(client_->states(0), ElementsAre(UnitState::answering));
}

TEST_F(ModbusPeer, TakesNoLateAnswerOfASlowUnitForThePresentOne) {
  level_.counts = true;  // register 0 holds how many requests it has had
  level_.delay_ms = 60;
  connect({polled(7, {{.count = 1}}, 40ms, 0)});
  client_->until([&] { return client_->poll_->counts(0).failed >= 8; });
  EXPECT_TRUE(client_->got_.empty());
  EXPECT_THAT(client_->events_.back().second.sentence, HasSubstr("give it a longer one"));
  level_.delay_ms = 0;
  client_->until_answered(20);
  for (const Client::Got& got : client_->got_) EXPECT_EQ(got.registers[0], got.asked);
}

TEST_F(ModbusPeer, FindsEveryAnswerBehindGarbage) {
  level_.counts = true;
  std::mt19937 random(2);
  const auto garbage_before = [&](std::string answer) {
    std::string bytes;
    for (auto garbage = random() % 10; garbage > 0; --garbage) bytes += static_cast<char>(random() % 256);
    return bytes + answer;
  };
  // The timeout is so long that no answer is late, however busy the machine: what fails, fails because of the garbage.
  connect({polled(7, {{.count = 3}}, 5000ms), polled(9, {{.count = 2}}, 5000ms)}, garbage_before);
  client_->until_answered(400);
  EXPECT_EQ(client_->poll_->counts(0).failed + client_->poll_->counts(1).failed, 0u);
  EXPECT_GT(client_->poll_->answer().counts().dropped_as(wire::ModbusFault::noise), 400u);
  std::uint64_t last = 0;
  for (const Client::Got& got : client_->got_) {
    if (got.unit != 0) continue;
    EXPECT_EQ(got.registers[0], ++last);
  }
}

TEST_F(ModbusPeer, TakesNoAnswerWithAFlippedBit) {
  level_.holding()[0] = 0x1234;
  std::mt19937 random(4);
  const auto flip_every_third = [&](std::string answer) {
    if (random() % 3 == 0) answer[random() % answer.size()] ^= static_cast<char>(1u << (random() % 8));
    return answer;
  };
  connect({polled(7, {{.count = 1}}, 20ms, 5)}, flip_every_third);
  client_->until_answered(60);
  for (const Client::Got& got : client_->got_) EXPECT_EQ(got.registers[0], 0x1234);
  EXPECT_GT(client_->poll_->counts(0).failed, 5u);
}

TEST_F(ModbusPeer, GoesOnWhenTheLineHangsUpAndComesBackElsewhere) {
  connect({polled(7, {{.count = 1}}), polled(9, {{.count = 1}})});
  for (int i = 0; i < 10; ++i) {
    client_->until_answered(4);
    pull_out();
    client_->until([&] { return client_->line_states_.back() == State::lost; });
    plug_in();
  }
  client_->until_answered(4);
  EXPECT_EQ(std::count(client_->line_states_.begin(), client_->line_states_.end(), State::lost), 10);
  EXPECT_THAT(client_->states(0), testing::Each(UnitState::answering));
  const wire::ModbusAnswer& answer = client_->poll_->answer();
  EXPECT_EQ(answer.counts().in, answer.counts().used + answer.counts().dropped_in_all() + answer.pending());
}

}  // namespace
}  // namespace hangtrue::serial
