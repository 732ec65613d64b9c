// bench.hpp: the shipped daemon on a bench: sheets, a pseudo-terminal with an instrument on it, and a conversation.
#pragma once

#include <fcntl.h>
#include <gtest/gtest.h>
#include <poll.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <initializer_list>
#include <iterator>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <thread>
#include <utility>
#include <vector>

#include <nlohmann/json.hpp>

#include "tests/firmware-host/fixtures/short_shelf.hpp"
#include "tests/firmware-host/serial/pseudo_terminal.hpp"

namespace hangtrue::daemon {

// Invented for these tests.
// Its supports are known to stand upright across the run: nobody here reads roll all along it, and slope is read at the left
// edge, where twist shows as well.
inline const std::string kRunText = [] {
  std::string text = fixtures::short_shelf("Bench shelf", fixtures::Post::on_shims);
  const std::string rigid = "roll = \"rigid\"\n";
  for (std::size_t at = text.find(rigid); at != std::string::npos; at = text.find(rigid, at + rigid.size()))
    text.insert(at + rigid.size(), "prior = { roll = \"0.1 mm/m\" }\n");
  return text;
}();

inline std::string kit_text(const std::string& port) {
  return R"([[instrument]]
name = "level"
port = ")" +
         port + R"("
speaks = "xdr"
[[instrument.channel]]
transducer = "PITCH"
gives = "slope"
sign = -1
base = "250 mm"
range = ["-50 mm/m", "50 mm/m"]
sigma = "0.02 mm/m"
zero_sigma = "0.3 mm/m"
settle = { window = "100 ms", spread = "0.2 mm/m" }
station = "walking"
edge = "left"
scale_checked = 2026-09-20
[[instrument.channel]]
transducer = "AIR"
gives = "temperature"
[[instrument.channel]]
transducer = "POST"
gives = "roll"
sigma = "0.02 mm/m"
settle = { window = "100 ms", spread = "0.2 mm/m" }
station = "2500 mm"
edge = "right"
scale_checked = 2026-09-20
[[instrument.channel]]
transducer = "POS"
gives = "station"
)";
}

/// "$body*hh", with the right checksum.
inline std::string sentence(const std::string& body) {
  unsigned sum = 0;
  for (const char c : body) sum ^= static_cast<unsigned char>(c);
  std::array<char, 8> checksum{};
  std::snprintf(checksum.data(), checksum.size(), "*%02X\r\n", sum);
  return '$' + body + checksum.data();
}

/// Speaks on a pseudo-terminal, every ten milliseconds, until it goes.
class Instrument {
 public:
  explicit Instrument(const std::string& link)
      : terminal_(std::make_unique<test::PseudoTerminal>()), link_(link) {
    terminal_->take_link(link);
    voice_ = std::thread([this] {
      while (!stop_) {
        speak();
        std::this_thread::sleep_for(std::chrono::milliseconds(10));
      }
    });
  }
  /// The link goes as well, as a device manager does it: its terminal's number may be another's at once.
  ~Instrument() {
    stop_ = true;
    voice_.join();
    std::filesystem::remove(link_);
  }
  Instrument(const Instrument&) = delete;
  Instrument& operator=(const Instrument&) = delete;

  void pitch(double degrees, double swing = 0) {
    const std::lock_guard lock(mutex_);
    pitch_ = degrees;
    swing_ = swing;
  }
  void say_once(const std::string& bytes) {
    const std::lock_guard lock(mutex_);
    extra_ += bytes;
  }
  void hush(bool quiet = true) {
    const std::lock_guard lock(mutex_);
    quiet_ = quiet;
  }

 private:
  void speak() {
    const std::lock_guard lock(mutex_);
    std::string bytes = std::exchange(extra_, {});
    sign_ = -sign_;
    std::array<char, 80> body{};
    std::snprintf(body.data(), body.size(), "IIXDR,A,%.5f,D,PITCH,C,19.5,C,AIR,A,%.5f,D,POST",
                  pitch_ + sign_ * swing_, 0.1 + sign_ * 0.0001);
    if (!quiet_) bytes += sentence(body.data());
    terminal_->write(bytes);
  }

  std::unique_ptr<test::PseudoTerminal> terminal_;
  std::string link_;
  std::mutex mutex_;
  double pitch_ = 0, swing_ = 0.0001;
  int sign_ = 1;
  bool quiet_ = false;
  std::string extra_;
  std::atomic<bool> stop_ = false;
  std::thread voice_;
};

/// The daemon as a child with pipes. Killed, if it still runs, when this goes.
class Child {
 public:
  explicit Child(std::vector<std::string> arguments, const std::string& log) {
    std::array<int, 2> in{}, out{};
    if (::pipe2(in.data(), O_CLOEXEC) != 0 || ::pipe2(out.data(), O_CLOEXEC) != 0)
      ADD_FAILURE() << "no pipes";
    arguments.insert(arguments.begin(), HANGTRUED);
    std::vector<char*> argv;
    for (std::string& argument : arguments) argv.push_back(argument.data());
    argv.push_back(nullptr);
    id_ = ::fork();
    if (id_ == 0) {
      ::dup2(in[0], STDIN_FILENO);
      ::dup2(out[1], STDOUT_FILENO);
      // Appended to: another daemon that still writes in the same log must not write over what this one says.
      ::dup2(::open(log.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_APPEND, 0644), STDERR_FILENO);
      ::execv(argv[0], argv.data());
      ::_exit(127);
    }
    ::close(in[0]);
    ::close(out[1]);
    in_ = in[1];
    out_ = out[0];
  }
  ~Child() {
    close_input();
    ::close(out_);
    if (id_ > 0) {
      ::kill(id_, SIGKILL);
      ::waitpid(id_, nullptr, 0);
    }
  }
  Child(const Child&) = delete;
  Child& operator=(const Child&) = delete;

  void send(const std::string& bytes) const {
    EXPECT_EQ(::write(in_, bytes.data(), bytes.size()), static_cast<ssize_t>(bytes.size()));
  }
  void close_input() {
    if (in_ >= 0) ::close(in_);
    in_ = -1;
  }

  /// The next line that begins with one of the words. Every line is kept in said().
  std::string await(std::initializer_list<std::string_view> words) {
    while (const auto line = next_line()) {
      const std::string_view word = std::string_view(*line).substr(0, line->find(' '));
      for (const std::string_view wanted : words)
        if (word == wanted) return *line;
    }
    return {};
  }
  /// For a daemon that may be killed meanwhile: "" when it was. SIGPIPE must be ignored.
  std::string ask_if_it_lives(const std::string& command) {
    const std::string bytes = command + '\n';
    if (::write(in_, bytes.data(), bytes.size()) != static_cast<ssize_t>(bytes.size())) return {};
    return await({"taken", "refused"});
  }
  std::string ask(const std::string& command) {
    send(command + '\n');
    return await({"here", "taken", "refused", "undone", "told", "result", "done"});
  }
  /// All lines of "status" but the last.
  std::string status() {
    send("status\n");
    std::string all;
    for (std::string line = await({"status"}); !line.empty() && line != "status end";
         line = await({"status"}))
      all += line + '\n';
    return all;
  }

  /// Everything up to the end, and the exit code; 128 + signal where one ended it.
  int end() {
    while (next_line()) {
    }
    int status = 0;
    ::waitpid(id_, &status, 0);
    id_ = -1;
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  }
  void signal(int number) const { ::kill(id_, number); }
  /// No file of the daemon's may grow beyond this; RLIM_INFINITY takes the limit away.
  void limit_files(rlim_t bytes) const {
    const rlimit limit{bytes, RLIM_INFINITY};
    EXPECT_EQ(::prlimit(id_, RLIMIT_FSIZE, &limit, nullptr), 0);
  }
  [[nodiscard]] const std::vector<std::string>& said() const { return said_; }

  /// Nothing at the end, or after half a minute of silence: a defect, then.
  std::optional<std::string> next_line() {
    for (;;) {
      if (const std::size_t end = pending_.find('\n'); end != std::string::npos) {
        said_.push_back(pending_.substr(0, end));
        pending_.erase(0, end + 1);
        return said_.back();
      }
      pollfd wanted{out_, POLLIN, 0};
      if (::poll(&wanted, 1, 30'000) <= 0) {
        ADD_FAILURE() << "the daemon is silent; last it said: " << (said_.empty() ? "nothing" : said_.back());
        return std::nullopt;
      }
      std::array<char, 4096> chunk;
      const ssize_t size = ::read(out_, chunk.data(), chunk.size());
      if (size <= 0) return std::nullopt;
      pending_.append(chunk.data(), static_cast<std::size_t>(size));
    }
  }

 private:
  pid_t id_ = -1;
  int in_ = -1, out_ = -1;
  std::string pending_;
  std::vector<std::string> said_;
};

/// Sheets, a port and a book in a directory of their own.
class Bench {
 public:
  Bench() {
    write("run.toml", kRunText);
    write("kit.toml", kit_text(port()));
  }
  void write(std::string_view name, const std::string& text) const { std::ofstream(scratch_ / name) << text; }
  [[nodiscard]] std::string read(std::string_view name) const {
    std::ifstream file(scratch_ / name);
    return {std::istreambuf_iterator<char>(file), {}};
  }
  [[nodiscard]] std::string path(std::string_view name) const { return scratch_ / name; }
  [[nodiscard]] std::string port() const { return scratch_ / "port"; }
  [[nodiscard]] std::string book() const { return scratch_ / "B.levelbook"; }

  [[nodiscard]] std::unique_ptr<Child> daemon(const std::vector<std::string>& more = {}) const {
    std::vector<std::string> arguments{path("run.toml"), path("kit.toml"), "--book", book()};
    // Many run at once in these tests: the default port is for none of them.
    if (std::find(more.begin(), more.end(), "--page") == more.end())
      arguments.insert(arguments.end(), {"--page", "off"});
    arguments.insert(arguments.end(), more.begin(), more.end());
    return std::make_unique<Child>(arguments, path("log"));
  }
  /// Started, ready, with its instrument heard.
  [[nodiscard]] std::unique_ptr<Child> ready(const std::vector<std::string>& more = {}) const {
    auto child = daemon(more);
    EXPECT_NE(child->await({"ready"}), "") << read("log");
    return child;
  }

 private:
  test::ScratchDirectory scratch_;
};

// Slopes of a run that hangs low at its post, at all stations on both faces, and the card for them.
inline nlohmann::json surveyed(Child& daemon, Instrument& instrument) {
  for (int station = 1; station <= 7; ++station)
    for (const int face : {1, 2}) {
      instrument.pitch(face == 1 ? 0.1 : -0.1);
      EXPECT_TRUE(daemon.ask("station " + std::to_string(station)).starts_with("here"));
      EXPECT_TRUE(daemon.ask("face " + std::to_string(face)).starts_with("here"));
      EXPECT_TRUE(daemon.ask("take").starts_with("taken"));
    }
  const std::string result = daemon.ask("card");
  EXPECT_TRUE(result.starts_with("result {")) << result;
  return nlohmann::json::parse(result.substr(std::string("result ").size())).at("shims");
}

}  // namespace hangtrue::daemon
