// A defect within the daemon: it ends in good order, and the book is whole.
#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <stdexcept>
#include <variant>

#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>

#include "firmware-host/daemon/daemon.hpp"
#include "tests/firmware-host/daemon/bench.hpp"

namespace hangtrue::daemon {
namespace {

TEST(Failure, OfAnythingThatHappensByItselfEndsTheDaemonWithTheBookClosed) {
  const Bench bench;
  const auto loaded = load_sheets(bench.path("run.toml"), bench.path("kit.toml"));
  const auto& sheets = std::get<Sheets>(loaded);
  const int nowhere = ::open("/dev/null", O_WRONLY | O_CLOEXEC);
  {
    const Announcer announcer(nowhere, Announcer::Form::plain);
    auto book = book::Book::open(bench.book());
    ASSERT_TRUE(book.ok());
    SurveyLog log(
        std::move(book).value(), bench.book(), [](bool, const std::string&) {}, std::chrono::seconds(0));
    ASSERT_TRUE(log.begin(sheets, sheets.run.stages[0], "").ok());
    boost::asio::io_context context(1);
    Daemon daemon(context, sheets, log, 0, announcer, std::chrono::milliseconds(100));
    for (int i = 0; i < 2; ++i)  // a second one changes nothing
      boost::asio::post(context, [] { throw std::runtime_error("out of nowhere"); });
    bool ended = false;
    daemon.on_end([&] { ended = true; });
    EXPECT_FALSE(daemon.run());
    EXPECT_TRUE(ended);
  }
  ::close(nowhere);
  const auto book = book::Book::open_to_read(bench.book());
  ASSERT_TRUE(book.ok());
  EXPECT_TRUE(book.value().audit().value().whole());
}

}  // namespace
}  // namespace hangtrue::daemon
