// Asking: a device that answers on request, on a pseudo-terminal that is pulled and returned.
#include "firmware-host/serial/asking.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <memory>
#include <stdexcept>
#include <string>

#include <boost/asio/io_context.hpp>

#include "firmware-host/serial/serial_line.hpp"
#include "tests/firmware-host/serial/pseudo_terminal.hpp"

namespace hangtrue::serial {
namespace {

using namespace std::chrono_literals;
using test::PseudoTerminal;
using test::ScratchDirectory;

template <class Condition>
void run_until(boost::asio::io_context& context, Condition condition) {
  const auto give_up = std::chrono::steady_clock::now() + 20s;
  while (!condition()) {
    if (std::chrono::steady_clock::now() > give_up) throw std::runtime_error("waited in vain");
    context.run_one_for(10ms);
  }
}

TEST(Asking, AsksAtOnceWhenTheLineOpensAndAgainAndAgainUntilItIsLost) {
  boost::asio::io_context context;
  std::string sent;
  const auto asking =
      Asking::create(context.get_executor(), "D\r\n", 5ms, [&](std::string bytes) { sent += bytes; });
  asking->start();
  context.run_for(20ms);
  EXPECT_EQ(sent, "") << "the line is not open";
  asking->opened();
  run_until(context, [&] { return sent.size() >= 12; });
  EXPECT_EQ(sent.substr(0, 12), "D\r\nD\r\nD\r\nD\r\n");
  asking->lost();
  sent.clear();
  context.run_for(20ms);
  EXPECT_EQ(sent, "");
  asking->opened();
  run_until(context, [&] { return !sent.empty(); });
  asking->stop();
  context.run();  // ends: nothing is left waiting
}

TEST(Asking, DoesNotAskTwiceWhenTheLineIsSaidToBeOpenTwice) {
  boost::asio::io_context context;
  std::string sent;
  const auto asking =
      Asking::create(context.get_executor(), "D", 1h, [&](std::string bytes) { sent += bytes; });
  asking->start();
  context.run_for(20ms);
  asking->opened();  // in the middle of an hour's wait
  run_until(context, [&] { return !sent.empty(); });
  asking->opened();  // silent and speaking again is no new line
  context.run_for(20ms);
  EXPECT_EQ(sent, "D");
  asking->stop();
  context.run();
}

TEST(Asking, BringsTheAnswersOfADeviceThatAnswersOnRequestThroughPullAndReturn) {
  ScratchDirectory scratch;
  const std::string link = scratch / "line";
  boost::asio::io_context context;
  std::string heard;
  std::shared_ptr<Asking> asking;
  const auto line = SerialLine::create(
      context.get_executor(), {.path = link, .first_retry = 1ms, .longest_retry = 4ms},
      [&](std::string_view chunk) { heard += chunk; },
      [&](const Event& event) {
        if (event.state == State::open) asking->opened();
        if (event.state == State::lost) asking->lost();
      });
  asking = Asking::create(context.get_executor(), "D\r\n", 2ms,
                          [&](std::string bytes) { line->write(std::move(bytes)); });
  asking->start();
  line->start();
  for (int turn = 0; turn < 3; ++turn) {
    PseudoTerminal device;
    device.take_link(link);
    std::string asked;
    const auto answers = [&] { return std::count(heard.begin(), heard.end(), 'm'); };
    const auto enough = answers() + 5;
    run_until(context, [&] {
      asked += device.read();
      for (; asked.starts_with("D\r\n"); asked.erase(0, 3)) device.write("DIST 1.234 m\r\n");
      return answers() >= enough;
    });
    device.hang_up();
    run_until(context, [&] { return line->state() == State::lost || line->state() == State::absent; });
  }
  asking->stop();
  line->stop();
  context.run();
}

}  // namespace
}  // namespace hangtrue::serial
