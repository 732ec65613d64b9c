// Polling of modbus units against devices that answer as each test says: attempts, pauses, silence before a
// request, exceptions, damage, late answers, echoes, lines that never fall silent, lost lines. No tty: bytes
// are handed over.
#include "firmware-host/serial/modbus_poll.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <deque>
#include <functional>
#include <map>
#include <random>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include <boost/asio/io_context.hpp>

namespace hangtrue::serial {
namespace {

using namespace std::chrono_literals;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using Clock = std::chrono::steady_clock;
using Registers = std::vector<std::uint16_t>;

std::string with_crc(std::string frame) {
  const unsigned crc = wire::crc16(frame);
  frame += static_cast<char>(crc & 0xFF);
  frame += static_cast<char>(crc >> 8);
  return frame;
}

std::string answer_to(const wire::ReadRequest& request, const Registers& registers) {
  std::string frame{static_cast<char>(request.address), static_cast<char>(request.function),
                    static_cast<char>(2 * registers.size())};
  for (const unsigned value : registers) {
    frame += static_cast<char>(value >> 8);
    frame += static_cast<char>(value & 0xFF);
  }
  return with_crc(frame);
}

std::string exception_to(const wire::ReadRequest& request, int code) {
  return with_crc({static_cast<char>(request.address), static_cast<char>(request.function | 0x80),
                   static_cast<char>(code)});
}

/// Of a device whose registers hold their own numbers.
std::string numbered(const wire::ReadRequest& request) {
  Registers registers;
  for (int i = 0; i < request.count; ++i) registers.push_back(static_cast<std::uint16_t>(request.first + i));
  return answer_to(request, registers);
}

unsigned byte(const std::string& bytes, std::size_t at) { return static_cast<unsigned char>(bytes[at]); }

/// A poll under test with all that it sent and said.
class Polled {
 public:
  struct Got {
    std::size_t unit, request;
    Registers registers;
    bool operator==(const Got&) const = default;
  };

  explicit Polled(std::vector<PolledUnit> units, unsigned baud = 115200) {
    poll_ = ModbusPoll::create(
        context_.get_executor(),
        {.baud = baud, .units = std::move(units), .longest_pause = 40ms, .late_least = 30ms},
        [this](std::string bytes) { sent(std::move(bytes)); },
        [this](std::size_t unit, std::size_t request, std::span<const std::uint16_t> registers) {
          got_.push_back({unit, request, {registers.begin(), registers.end()}});
        },
        [this](std::size_t unit, const UnitEvent& event) {
          events_.push_back({unit, event});
        });
    poll_->start();
  }
  ~Polled() {
    poll_->stop();
    context_.run();
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
  [[nodiscard]] std::string waiting_for() const {
    return std::to_string(got_.size()) + " answered, last event " +
           (events_.empty() ? "none" : events_.back().second.sentence);
  }
  void until_state(std::size_t unit, UnitState state) {
    until([&] { return poll_->state(unit) == state; });
  }
  void until_answered(std::size_t count) {
    until([&] { return got_.size() >= count; });
  }
  void until_asked(std::size_t count) {
    until([&] { return asked_.size() >= count; });
  }
  void hear(const std::string& bytes) {
    heard_ += bytes.size();
    poll_->bytes(bytes);
  }

  [[nodiscard]] std::vector<UnitState> states(std::size_t unit) const {
    std::vector<UnitState> states;
    for (const auto& [of, event] : events_)
      if (of == unit) states.push_back(event.state);
    return states;
  }
  void expect_accounts_close() const {
    const wire::ModbusAnswer& answer = poll_->answer();
    EXPECT_EQ(answer.counts().in, heard_);
    EXPECT_EQ(answer.counts().in, answer.counts().used + answer.counts().dropped_in_all() + answer.pending());
  }

  boost::asio::io_context context_;
  std::shared_ptr<ModbusPoll> poll_;
  std::function<void(const wire::ReadRequest&)> on_request_;  // within write(): what the device does
  std::vector<wire::ReadRequest> asked_;
  std::vector<Got> got_;
  std::vector<std::pair<std::size_t, UnitEvent>> events_;
  std::size_t heard_ = 0;

 private:
  void sent(std::string bytes) {
    ASSERT_EQ(bytes.size(), 8u);
    ASSERT_EQ(wire::crc16(bytes), 0);
    const wire::ReadRequest request{.address = static_cast<int>(byte(bytes, 0)),
                                    .function = static_cast<int>(byte(bytes, 1)),
                                    .first = static_cast<int>(byte(bytes, 2) << 8 | byte(bytes, 3)),
                                    .count = static_cast<int>(byte(bytes, 4) << 8 | byte(bytes, 5))};
    ASSERT_NE(request.address, 0) << "a broadcast";
    asked_.push_back(request);
    if (on_request_) on_request_(request);
  }
};

PolledUnit unit(int address,
                std::vector<wire::ReadRequest> requests = {{.function = 3, .first = 0, .count = 1}},
                std::chrono::milliseconds timeout = 10ms, int retries = 2) {
  for (wire::ReadRequest& request : requests) request.address = address;
  return {.name = "level " + std::to_string(address),
          .requests = std::move(requests),
          .every = 2ms,
          .timeout = timeout,
          .retries = retries};
}

TEST(ModbusPoll, AsksEveryRequestOfEveryUnitAndHandsOverWhatItAnswers) {
  Polled polled({unit(7, {{.function = 3, .first = 16, .count = 2}, {.function = 4, .first = 0, .count = 1}}),
                 unit(9)});
  polled.on_request_ = [&](const wire::ReadRequest& request) {
    polled.hear(
        answer_to(request, Registers(static_cast<std::size_t>(request.count),
                                     static_cast<std::uint16_t>(100 * request.address + request.first))));
  };
  polled.poll_->opened();
  polled.until_answered(30);
  using Got = Polled::Got;
  for (const Got& got : {Got{0, 0, {716, 716}}, Got{0, 1, {700}}, Got{1, 0, {900}}})
    EXPECT_GE(std::count(polled.got_.begin(), polled.got_.end(), got), 5);
  EXPECT_THAT(polled.states(0), ElementsAre(UnitState::answering)) << "told once";
  EXPECT_THAT(polled.states(1), ElementsAre(UnitState::answering));
  EXPECT_THAT(polled.events_[0].second.sentence, HasSubstr("level 7 (unit 7) answers"));
  polled.expect_accounts_close();
  EXPECT_EQ(polled.poll_->understood(), polled.heard_);
}

TEST(ModbusPoll, AsksNothingBeforeTheLineIsOpen) {
  Polled polled({unit(7)});
  polled.context_.run_for(20ms);
  EXPECT_EQ(polled.asked_.size(), 0u);
  EXPECT_EQ(polled.poll_->state(0), UnitState::not_asked);
}

TEST(ModbusPoll, NeverAsksAllUnitsAtOnceNorAnAddressThatNoUnitCanHave) {
  boost::asio::io_context context;
  for (const int address : {0, 248, -1})
    EXPECT_THROW((void)ModbusPoll::create(context.get_executor(), {.units = {unit(address)}}, {}, {}, {}),
                 std::invalid_argument)
        << address;
}

TEST(ModbusPoll, AsksAgainAsOftenAsItMayAndOnlyThenSaysThatAUnitDoesNotAnswer) {
  Polled polled({unit(7, {{.count = 1}}, 5ms, /*retries=*/2)});
  int asked = 0;
  polled.on_request_ = [&](const wire::ReadRequest& request) {
    if (++asked == 3) polled.hear(answer_to(request, {1}));
  };
  polled.poll_->opened();
  polled.until_answered(1);
  EXPECT_EQ(asked, 3);
  EXPECT_THAT(polled.states(0), ElementsAre(UnitState::answering));
  polled.until_state(0, UnitState::not_answering);
  EXPECT_EQ(asked, 6) << "the next poll had three attempts too";
  EXPECT_THAT(polled.events_.back().second.sentence,
              HasSubstr("does not answer; check its power, its address"));
  const UnitCounts& counts = polled.poll_->counts(0);
  EXPECT_EQ(counts.asked, 6u);
  EXPECT_EQ(counts.answered, 1u);
  EXPECT_EQ(counts.failed, 5u);
}

TEST(ModbusPoll, AsksAUnitThatDoesNotAnswerSeldomAndOnceAtATimeAndTheOthersAllTheWhile) {
  Polled polled({unit(7), unit(9)});
  bool speaks = true;
  std::vector<Clock::time_point> asked_9;
  polled.on_request_ = [&](const wire::ReadRequest& request) {
    if (request.address == 9) asked_9.push_back(Clock::now());
    if (request.address == 7 || speaks) polled.hear(answer_to(request, {1}));
  };
  polled.poll_->opened();
  polled.until_state(1, UnitState::answering);
  speaks = false;
  polled.until_state(1, UnitState::not_answering);
  polled.asked_.clear();
  asked_9.clear();
  polled.until([&] { return asked_9.size() == 6; });
  for (std::size_t i = 1; i < asked_9.size(); ++i)
    EXPECT_GE(asked_9[i] - asked_9[i - 1], 30ms) << "one attempt, and time for what it owes";
  EXPECT_GT(polled.asked_.size(), 15u) << "the other unit was asked in between";
  speaks = true;
  polled.until_state(1, UnitState::answering);
  EXPECT_THAT(polled.states(1),
              ElementsAre(UnitState::answering, UnitState::not_answering, UnitState::answering));
  EXPECT_THAT(polled.states(0), ElementsAre(UnitState::answering));
}

TEST(ModbusPoll, AsksLessAndLessOftenForWhatIsRefused) {
  Polled polled({unit(7)});
  std::vector<Clock::time_point> asked;
  polled.on_request_ = [&](const wire::ReadRequest& request) {
    asked.push_back(Clock::now());
    polled.hear(exception_to(request, 1));
  };
  polled.poll_->opened();
  polled.until([&] { return asked.size() == 8; });
  constexpr std::array<std::chrono::milliseconds, 7> kPauses = {2ms, 4ms, 8ms, 16ms, 32ms, 40ms, 40ms};
  for (std::size_t i = 0; i < kPauses.size(); ++i) EXPECT_GE(asked[i + 1] - asked[i], kPauses[i]) << i;
}

TEST(ModbusPoll, LeavesTheLineSilentFor3And5CharactersBeforeEveryRequest) {
  // 2400 baud, 10 bits: 3.5 characters are 14.58 ms (Modbus over serial line V1.02, 2.5.1.1).
  Polled polled({unit(7), unit(9)}, 2400);
  Clock::time_point last{};
  int checked = 0;
  polled.on_request_ = [&](const wire::ReadRequest& request) {
    if (last != Clock::time_point{}) {
      EXPECT_GE(Clock::now() - last, 14583us);
      ++checked;
    }
    last = Clock::now();
    polled.hear(answer_to(request, {1}));
  };
  polled.poll_->opened();
  polled.until([&] { return checked == 10; });
}

TEST(ModbusPoll, NamesAnExceptionAndForgetsItWhenTheUnitAnswers) {
  Polled polled({unit(7, {{.function = 4, .first = 16, .count = 2}})});
  bool refuses = true;
  polled.on_request_ = [&](const wire::ReadRequest& request) {
    polled.hear(refuses ? exception_to(request, 2) : answer_to(request, {1, 2}));
  };
  polled.poll_->opened();
  polled.until([&] { return polled.poll_->counts(0).exceptions == 4; });
  EXPECT_THAT(polled.states(0), ElementsAre(UnitState::exception)) << "told once";
  EXPECT_THAT(
      polled.events_[0].second.sentence,
      HasSubstr("level 7 (unit 7) refuses input registers 16 to 17: illegal data address (exception 2); "
                "correct the registers"));
  refuses = false;
  polled.until_state(0, UnitState::answering);
  EXPECT_EQ(polled.poll_->counts(0).failed, 0u);
  polled.expect_accounts_close();
}

TEST(ModbusPoll, SaysWhichRegistersAreNotAnsweredWhereOthersAre) {
  Polled polled({unit(7, {{.first = 0, .count = 1}, {.first = 40, .count = 1}}, 5ms, 0)});
  polled.on_request_ = [&](const wire::ReadRequest& request) {
    if (request.first == 0) polled.hear(numbered(request));
  };
  polled.poll_->opened();
  polled.until([&] {
    return polled.poll_->state(0) == UnitState::not_answering &&
           polled.events_.back().second.sentence.find("holding register 40, but for others") !=
               std::string::npos;
  });
  const std::size_t answered = polled.got_.size();
  polled.until_answered(answered + 5);
}

struct Damage {
  const char* name;
  std::string (*damaged)(const wire::ReadRequest&);
  const char* says;
};
class Garbled : public ::testing::TestWithParam<Damage> {};
INSTANTIATE_TEST_SUITE_P(
    Answers, Garbled,
    ::testing::Values(
        Damage{"wrong_checksum",
               [](const wire::ReadRequest& request) {
                 std::string bytes = answer_to(request, {1});
                 bytes[3] ^= 1;
                 return bytes;
               },
               "checksum does not match"},
        Damage{"cut_short",
               [](const wire::ReadRequest& request) { return answer_to(request, {1}).substr(0, 5); },
               "answer cut short"},
        Damage{"another_length",
               [](const wire::ReadRequest& request) {
                 return answer_to(request, {1, 2});
               },
               "not as many registers"},
        Damage{"another_function",
               [](const wire::ReadRequest& request) {
                 return answer_to({.address = request.address, .function = 4}, {1});
               },
               "of another function"},
        Damage{"noise", [](const wire::ReadRequest&) { return std::string("\x55\xAA\x55"); }, "no frame"}),
    [](const auto& instance) { return std::string(instance.param.name); });

TEST_P(Garbled, AnswersAreNamedAfterAllAttemptsGiveNoValueAndAreForgotten) {
  Polled polled({unit(7)});
  bool damages = true;
  polled.on_request_ = [&](const wire::ReadRequest& request) {
    polled.hear(damages ? GetParam().damaged(request) : answer_to(request, {1}));
  };
  polled.poll_->opened();
  polled.until_state(0, UnitState::garbled);
  EXPECT_EQ(polled.asked_.size(), 3u);
  EXPECT_THAT(polled.events_.back().second.sentence, HasSubstr(GetParam().says));
  EXPECT_THAT(polled.events_.back().second.sentence, HasSubstr("check"));
  EXPECT_TRUE(polled.got_.empty());
  damages = false;
  polled.until_state(0, UnitState::answering);
  EXPECT_THAT(polled.states(0), ElementsAre(UnitState::garbled, UnitState::answering));
  polled.expect_accounts_close();
}

TEST(ModbusPoll, FindsTheAnswerBehindGarbageInPiecesAndBehindItsOwnEcho) {
  Polled polled({unit(7, {{.function = 3, .first = 0, .count = 2}}, 200ms)});
  std::mt19937 random(1);
  std::uint16_t value = 0;
  polled.on_request_ = [&](const wire::ReadRequest& request) {
    const auto frame = wire::read_request(request).value();
    if (value % 2 == 0) polled.hear({frame.data(), frame.size()});
    std::string bytes;
    for (auto garbage = random() % 12; garbage > 0; --garbage) bytes += static_cast<char>(random() % 256);
    bytes += answer_to(request, {++value, 7});
    for (const char piece : bytes) polled.hear({piece});
  };
  polled.poll_->opened();
  polled.until_answered(300);
  for (std::size_t i = 1; i < polled.got_.size(); ++i)
    EXPECT_GT(polled.got_[i].registers[0], polled.got_[i - 1].registers[0]);
  EXPECT_EQ(polled.poll_->counts(0).failed, 0u);
  EXPECT_GT(polled.poll_->answer().counts().dropped_as(wire::ModbusFault::echo), 0u);
  polled.expect_accounts_close();
}

TEST(ModbusPoll, AsksOnALineThatNeverFallsSilentAllTheSameAndSaysWhatItFinds) {
  Polled polled({unit(7, {{.count = 1}}, 5ms, 0)}, 300);  // 3.5 characters at 300 baud: 117 ms
  polled.poll_->opened();
  const auto babble = [&] {
    polled.hear("x");
    return polled.poll_->state(0) == UnitState::garbled;
  };
  const auto give_up = Clock::now() + 20s;
  while (!babble()) {
    ASSERT_LT(Clock::now(), give_up);
    polled.context_.run_one_for(5ms);
  }
  EXPECT_GE(polled.asked_.size(), 1u);
  polled.on_request_ = [&](const wire::ReadRequest& request) { polled.hear(answer_to(request, {1})); };
  polled.until_state(0, UnitState::answering);
  polled.expect_accounts_close();
}

TEST(ModbusPoll, DropsAnAnswerThatComesAfterItsTimeAndSaysThatTheTimeoutIsTooShort) {
  Polled polled({unit(7, {{.first = 0, .count = 1}, {.first = 40, .count = 1}}, 5ms, 0)});
  polled.poll_->opened();
  polled.until_state(0, UnitState::not_answering);
  ASSERT_EQ(polled.asked_.size(), 1u);
  polled.hear(answer_to(polled.asked_[0], {11}));
  EXPECT_TRUE(polled.got_.empty());
  EXPECT_EQ(polled.poll_->answer().counts().dropped_as(wire::ModbusFault::unasked), 7u);
  EXPECT_EQ(polled.poll_->understood(), 7u);
  polled.until_asked(2);  // the late answer has come: no need to wait for it
  polled.until([&] { return polled.events_.back().second.sentence.find("longer one") != std::string::npos; });
  EXPECT_EQ(polled.poll_->state(0), UnitState::not_answering);
  EXPECT_THAT(polled.events_.back().second.sentence, HasSubstr("later than its timeout of 5 ms"));
  polled.on_request_ = [&](const wire::ReadRequest& request) { polled.hear(numbered(request)); };
  polled.until_state(0, UnitState::answering);
  polled.until_answered(6);
  for (const Polled::Got& got : polled.got_)
    EXPECT_EQ(got.registers, Registers(1, got.request == 0 ? 0 : 40));
  EXPECT_THAT(polled.events_.back().second.sentence, HasSubstr("level 7 (unit 7) answers"));
  EXPECT_THAT(polled.events_.back().second.sentence, Not(HasSubstr("longer")));
}

/// A device that answers one request after the other, each after a time of its own. It answers with the number of the
/// register that was asked for.
class SlowDevice {
 public:
  SlowDevice(Polled& polled, unsigned seed, std::chrono::microseconds slowest)
      : polled_(polled), random_(seed), slowest_us_(slowest.count()), timer_(polled.context_) {}
  void ask(const wire::ReadRequest& request) {
    waiting_.push_back(request);
    if (waiting_.size() == 1) work();
  }

 private:
  void work() {
    timer_.expires_after(
        std::chrono::microseconds(std::uniform_int_distribution<std::int64_t>(0, slowest_us_)(random_)));
    timer_.async_wait([this](boost::system::error_code error) {
      if (error) return;
      const wire::ReadRequest request = waiting_.front();
      waiting_.pop_front();
      polled_.hear(numbered(request));
      if (!waiting_.empty()) work();
    });
  }

  Polled& polled_;
  std::mt19937 random_;
  std::int64_t slowest_us_;
  boost::asio::steady_timer timer_;
  std::deque<wire::ReadRequest> waiting_;
};

class Slow : public ::testing::TestWithParam<int> {};
INSTANTIATE_TEST_SUITE_P(Retries, Slow, ::testing::Values(0, 1, 2));

TEST_P(Slow, DevicesNeverHaveOneRegisterTakenForAnother) {
  // Two units, each with requests that look alike in their answers; half of the answers come after the
  // timeout.
  const auto alike = std::vector<wire::ReadRequest>{
      {.first = 1, .count = 1}, {.first = 2, .count = 1}, {.first = 3, .count = 1}};
  Polled polled({unit(7, alike, 6ms, GetParam()), unit(9, alike, 6ms, GetParam())});
  std::map<int, SlowDevice> devices;
  devices.try_emplace(7, polled, 1, 12ms);
  devices.try_emplace(9, polled, 2, 12ms);
  polled.on_request_ = [&](const wire::ReadRequest& request) { devices.at(request.address).ask(request); };
  polled.poll_->opened();
  polled.until_answered(150);
  EXPECT_GT(polled.poll_->counts(0).failed + polled.poll_->counts(1).failed, 20u) << "nothing was late";
  for (const Polled::Got& got : polled.got_)
    ASSERT_EQ(got.registers, Registers{static_cast<std::uint16_t>(got.request + 1)});
  polled.expect_accounts_close();
  polled.poll_->stop();
  polled.on_request_ = {};
}

/// Answers in order, each after the same time, except that it hangs once.
class QueueingDevice {
 public:
  QueueingDevice(Polled& polled, std::chrono::milliseconds each)
      : polled_(polled), each_(each), timer_(polled.context_) {
    polled.on_request_ = [this](const wire::ReadRequest& request) { ask(request); };
  }
  ~QueueingDevice() { polled_.on_request_ = {}; }
  QueueingDevice(const QueueingDevice&) = delete;
  QueueingDevice& operator=(const QueueingDevice&) = delete;
  void ask(const wire::ReadRequest& request) {
    waiting_.push_back(request);
    if (waiting_.size() == 1) work();
  }
  void hang(std::chrono::milliseconds time) { hang_ = time; }

 private:
  void work() {
    timer_.expires_after(each_ + std::exchange(hang_, 0ms));
    timer_.async_wait([this](boost::system::error_code error) {
      if (error) return;
      const wire::ReadRequest request = waiting_.front();
      waiting_.pop_front();
      polled_.hear(numbered(request));
      if (!waiting_.empty()) work();
    });
  }

  Polled& polled_;
  std::chrono::milliseconds each_, hang_{0};
  boost::asio::steady_timer timer_;
  std::deque<wire::ReadRequest> waiting_;
};

const std::vector<wire::ReadRequest> kAlike{{.first = 1, .count = 1}, {.first = 2, .count = 1}};

void expect_each_its_own(const Polled& polled) {
  for (const Polled::Got& got : polled.got_)
    ASSERT_EQ(got.registers, Registers{static_cast<std::uint16_t>(got.request + 1)});
}

TEST(ModbusPoll, TakesNoAnswerToWhoeverAskedBeforeTheLineWasOpened) {
  for (const auto each : {1ms, 4ms, 8ms, 15ms, 25ms}) {
    Polled polled({unit(7, kAlike, 20ms, 0)});
    QueueingDevice device(polled, each);
    device.ask({.address = 7, .first = 2, .count = 1});  // by a daemon that was killed just now
    polled.poll_->opened();
    const auto times = each < 20ms ? 10u : 0u;  // one that is later than its timeout gives nothing
    if (times == 0) {
      polled.until_state(0, UnitState::not_answering);
    } else {
      polled.until_answered(times);
    }
    expect_each_its_own(polled);
  }
}

TEST(ModbusPoll, NeverSwapsRequestsThatLookAlikeThoughTheUnitHangsForLongerThanALateAnswerIsWaitedFor) {
  for (const auto hang : {20ms, 35ms, 42ms, 55ms, 90ms, 140ms}) {
    Polled polled({unit(7, kAlike, 10ms, 0)});
    QueueingDevice device(polled, 4ms);
    polled.poll_->opened();
    for (std::size_t round = 1; round <= 3; ++round) {
      polled.until_answered(10 * round);
      device.hang(hang);
    }
    polled.until_answered(60);
    EXPECT_GE(polled.poll_->counts(0).failed, 3u) << "nothing hung";
    expect_each_its_own(polled);
    polled.expect_accounts_close();
  }
}

/// A gateway that hands out each answer so many requests late, without any delay.
void answer_late(Polled& polled, std::size_t requests, std::deque<std::string>& kept) {
  polled.on_request_ = [&polled, &kept, requests](const wire::ReadRequest& request) {
    kept.push_back(numbered(request));
    if (kept.size() <= requests) return;
    const std::string answer = kept.front();
    kept.pop_front();
    polled.hear(answer);
  };
}

TEST(ModbusPoll, GivesNothingOfAGatewayThatHandsOutEachAnswerRequestsLate) {
  for (const std::size_t late : {1u, 2u})
    for (const auto& requests :
         {kAlike,
          {{.first = 1, .count = 1}, {.first = 2, .count = 1}, {.first = 3, .count = 1}},
          {{.first = 1, .count = 2}, {.first = 9, .count = 2}}}) {
      Polled polled({unit(7, requests, 5ms, 1)});
      std::deque<std::string> kept;
      answer_late(polled, late, kept);
      polled.poll_->opened();
      polled.until_asked(30);
      EXPECT_TRUE(polled.got_.empty()) << late << " late";
      EXPECT_NE(polled.poll_->state(0), UnitState::answering);
      polled.expect_accounts_close();
    }
}

TEST(ModbusPoll, GivesNothingMoreOfAUnitThatFallsOneAnswerBehindAndGoesOnOnceItIsInStep) {
  Polled polled({unit(7, kAlike, 5ms, 0)});
  std::deque<std::string> kept;
  answer_late(polled, 0, kept);
  polled.poll_->opened();
  for (int round = 0; round < 5; ++round) {
    polled.until_answered(polled.got_.size() + 10);
    kept.push_back(numbered({.address = 7, .first = 1, .count = 1}));  // out of nowhere, as a gateway may
    polled.until_state(0, UnitState::garbled);
    EXPECT_THAT(polled.events_.back().second.sentence, HasSubstr("answers with what was asked before"));
    const std::size_t asked = polled.asked_.size();
    polled.until_asked(asked + 6);
    kept.clear();  // it is switched off and on
    polled.until_state(0, UnitState::answering);
  }
  expect_each_its_own(polled);
}

TEST(ModbusPoll, TakesARefusalOfAnotherLengthForAProofAsWell) {
  Polled polled({unit(7, kAlike)});
  polled.on_request_ = [&](const wire::ReadRequest& request) {
    polled.hear(request.count == 1 ? numbered(request) : exception_to(request, 2));
  };
  polled.poll_->opened();
  polled.until_answered(10);
  expect_each_its_own(polled);
  EXPECT_THAT(polled.states(0), ElementsAre(UnitState::answering));
}

// One register is refused for good, one answer late: the refusal is no proof for the other's value.
TEST(ModbusPoll, TakesNoRefusalOfOneRegisterForAProofOfAnother) {
  Polled polled({unit(7, kAlike, 5ms, 0)});
  std::deque<std::string> kept;
  polled.on_request_ = [&](const wire::ReadRequest& request) {
    kept.push_back(request.first == 1 && request.count == 1 ? numbered(request) : exception_to(request, 2));
    if (kept.size() < 2) return;
    const std::string answer = kept.front();
    kept.pop_front();
    polled.hear(answer);
  };
  polled.poll_->opened();
  polled.until_asked(40);
  expect_each_its_own(polled);
}

TEST(ModbusPoll, SaysThatAUnitWhichPassesOverTheProofCannotBeVerified) {
  Polled polled({unit(7, kAlike, 5ms, 0)});
  polled.on_request_ = [&](const wire::ReadRequest& request) {
    if (request.count == 1) polled.hear(numbered(request));
  };
  polled.poll_->opened();
  polled.until_state(0, UnitState::not_answering);
  EXPECT_THAT(polled.events_.back().second.sentence, HasSubstr("by which it would be seen"));
  EXPECT_TRUE(polled.got_.empty());
}

TEST(ModbusPoll, DropsARoundInWhichTwoValuesHaveChangedPlaces) {
  Polled polled({unit(7, kAlike)});
  bool swapped = false;
  int noise = 0;
  polled.on_request_ = [&](const wire::ReadRequest& request) {
    const bool is_first = (request.first == 1) != swapped;
    Registers registers(static_cast<std::size_t>(request.count), is_first ? 4000 : 100);
    registers[0] = static_cast<std::uint16_t>(registers[0] + ++noise % 3);
    polled.hear(answer_to(request, registers));
    if (swapped && request.count == 2) swapped = false;  // for one round
  };
  polled.poll_->opened();
  for (int round = 1; round <= 3; ++round) {
    polled.until_answered(polled.got_.size() + 10);
    swapped = true;
    polled.until([&] { return !swapped; });
  }
  polled.until_answered(polled.got_.size() + 10);
  for (const Polled::Got& got : polled.got_) ASSERT_NEAR(got.registers[0], got.request == 0 ? 4000 : 100, 3);
}

TEST(ModbusPoll, BeginsAnewWhenTheLineComesBackAndBlamesNoUnitForTheLine) {
  Polled polled({unit(7, {{.count = 1}}, 50ms)});
  polled.on_request_ = [&](const wire::ReadRequest& request) {
    if (polled.asked_.size() == 1) {
      polled.hear(answer_to(request, {1}).substr(0, 3));
      polled.poll_->lost();
    } else {
      polled.hear(answer_to(request, {2}));
    }
  };
  polled.poll_->opened();
  polled.until_asked(1);
  for (int i = 0; i < 5; ++i) polled.context_.run_one_for(1ms);
  EXPECT_EQ(polled.asked_.size(), 1u);
  EXPECT_TRUE(polled.events_.empty());
  polled.poll_->opened();
  polled.until_answered(2);
  EXPECT_THAT(polled.states(0), ElementsAre(UnitState::answering));
  polled.poll_->lost();
  polled.poll_->opened();
  polled.until_answered(polled.got_.size() + 2);
  EXPECT_THAT(polled.states(0), ElementsAre(UnitState::answering, UnitState::answering)) << "told on return";
  const UnitCounts& counts = polled.poll_->counts(0);
  EXPECT_LE(counts.asked - counts.answered - counts.exceptions - counts.failed, 1u);
  polled.expect_accounts_close();
}

TEST(ModbusPoll, CallsNobodyAfterItWasStopped) {
  Polled polled({unit(7)});
  polled.on_request_ = [&](const wire::ReadRequest& request) {
    polled.poll_->stop();
    polled.hear(answer_to(request, {1}));
  };
  polled.poll_->opened();
  polled.context_.run();  // ends: nothing is left waiting
  EXPECT_EQ(polled.asked_.size(), 1u);
  EXPECT_TRUE(polled.got_.empty());
  EXPECT_TRUE(polled.events_.empty());
}

}  // namespace
}  // namespace hangtrue::serial
