// What the service manager hears of the shipped daemon, and how its log looks in a journal.
// Source: sd_notify(3), sd-daemon(3), systemd.exec(5) of systemd 252.
#include "firmware-host/daemon/service_manager.hpp"

#include <gmock/gmock.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>

#include <cstddef>
#include <cstring>

#include "tests/firmware-host/daemon/bench.hpp"

namespace hangtrue::daemon {
namespace {

using testing::HasSubstr;
using testing::Not;

/// A variable for the children of this process, until it goes.
class Variable {
 public:
  Variable(const char* name, const std::string& value) : name_(name) { ::setenv(name, value.c_str(), 1); }
  ~Variable() { ::unsetenv(name_); }
  Variable(const Variable&) = delete;
  Variable& operator=(const Variable&) = delete;

 private:
  const char* name_;
};

/// The manager's end: a socket of datagrams, with a name in a folder or an abstract one ("@...").
class Manager {
 public:
  explicit Manager(const std::string& name) : socket_(::socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0)) {
    sockaddr_un at{};
    at.sun_family = AF_UNIX;
    std::memcpy(at.sun_path, name.data(), name.size());
    if (name[0] == '@') at.sun_path[0] = '\0';
    EXPECT_EQ(::bind(socket_, reinterpret_cast<const sockaddr*>(&at),
                     socklen_t(offsetof(sockaddr_un, sun_path) + name.size())),
              0);
  }
  ~Manager() { ::close(socket_); }
  Manager(const Manager&) = delete;
  Manager& operator=(const Manager&) = delete;

  /// The next datagram; empty after half a minute of silence.
  [[nodiscard]] std::string hears() const {
    pollfd wanted{socket_, POLLIN, 0};
    if (::poll(&wanted, 1, 30'000) <= 0) return {};
    std::array<char, 256> text;
    const ssize_t size = ::recv(socket_, text.data(), text.size(), 0);
    return size < 0 ? std::string() : std::string(text.data(), std::size_t(size));
  }

 private:
  int socket_;
};

TEST(ServiceManager, HearsThatTheDaemonIsReadyThenThatItLivesThenThatItStops) {
  const Bench bench;
  const Manager manager(bench.path("notify"));
  const Variable socket("NOTIFY_SOCKET", bench.path("notify")), watchdog("WATCHDOG_USEC", "200000");
  const auto child = bench.daemon();
  EXPECT_EQ(manager.hears(), "READY=1");
  for (int i = 0; i < 3; ++i) EXPECT_EQ(manager.hears(), "WATCHDOG=1");
  child->signal(SIGTERM);
  std::string last;
  while ((last = manager.hears()) == "WATCHDOG=1") {
  }
  EXPECT_EQ(last, "STOPPING=1");
  EXPECT_EQ(child->end(), 0);
}

TEST(ServiceManager, IsHeardAtAnAbstractNameAndAsksForNoWatchdogOfAnotherProcess) {
  const std::string name = "@hangtrue-test-" + std::to_string(::getpid());
  const Manager manager(name);
  const Variable socket("NOTIFY_SOCKET", name), watchdog("WATCHDOG_USEC", "200000"), pid("WATCHDOG_PID", "1");
  const ServiceManager ours;
  EXPECT_EQ(ours.watchdog_every(), std::nullopt);
  ours.notify("STATUS=here");
  EXPECT_EQ(manager.hears(), "STATUS=here");
  EXPECT_EQ(std::getenv("NOTIFY_SOCKET"), nullptr);
}

TEST(ServiceManager, ThatIsNotThereIsNeitherWaitedForNorComplainedOf) {
  const Bench bench;
  for (const std::string& nowhere : {bench.path("nobody"), std::string("vsock:2:1"), std::string(200, '/')}) {
    const Variable socket("NOTIFY_SOCKET", nowhere);
    const auto child = bench.ready();
    child->signal(SIGTERM);
    EXPECT_EQ(child->end(), 0) << nowhere;
  }
}

TEST(Journal, GetsEveryLineWithItsPriority) {
  EXPECT_EQ(for_journal(4, "one\ntwo\n"), "<4>one\n<4>two\n");
  EXPECT_EQ(for_journal(3, "no end"), "<3>no end");
  EXPECT_EQ(for_journal(9, "\n"), "<7>\n");
  EXPECT_EQ(for_journal(4, ""), "");
}

TEST(Journal, GetsTheDaemonsLogWithoutTimesOfItsOwn) {
  const Bench bench;
  bench.write("log", "");
  struct stat file {};
  ASSERT_EQ(::stat(bench.path("log").c_str(), &file), 0);
  const std::string stream = std::to_string(file.st_dev) + ':' + std::to_string(file.st_ino);
  for (const bool is_its : {true, false}) {
    const Variable journal("JOURNAL_STREAM", is_its ? stream : "1:1");
    const auto child = bench.ready();  // its instrument is not there, which its log says
    child->signal(SIGTERM);
    EXPECT_EQ(child->end(), 0);
    if (is_its)
      EXPECT_THAT(bench.read("log"), testing::StartsWith("<4>"));
    else
      EXPECT_THAT(bench.read("log"), testing::AllOf(HasSubstr("[warning]"), Not(HasSubstr("<4>"))));
  }
}

}  // namespace
}  // namespace hangtrue::daemon
