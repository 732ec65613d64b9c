// Sentences from a pseudo-terminal: framed, checked and decoded behind Boost.Asio, beside a bare read() loop.
#include <benchmark/benchmark.h>
#include <fcntl.h>
#include <stdlib.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <boost/asio/io_context.hpp>
#include <cerrno>
#include <chrono>
#include <cstdio>
#include <memory>
#include <span>
#include <stdexcept>
#include <string>
#include <string_view>
#include <system_error>
#include <thread>

#include "firmware-host/serial/serial_line.hpp"
#include "firmware-host/wire/xdr.hpp"
#include "tests/benchmark/side_by_side.hpp"

namespace hangtrue::bench {

namespace {

using Clock = std::chrono::steady_clock;
constexpr int kLines = 400'000;
constexpr unsigned kBaud = 115'200;

/// The instrument's end, raw. Writes kLines sentences from a thread of its own, as fast as they are taken.
class Instrument {
 public:
  Instrument() : ours_(::posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC)) {
    termios settings{};
    if (ours_ < 0 || ::grantpt(ours_) != 0 || ::unlockpt(ours_) != 0 || ::tcgetattr(ours_, &settings) != 0)
      throw std::system_error(errno, std::generic_category(), "opening a pseudo-terminal");
    ::cfmakeraw(&settings);
    ::tcsetattr(ours_, TCSANOW, &settings);
    // An inclinometer of two axes with its temperature, values that differ from line to line.
    for (int i = 0; i < kBlockLines; ++i) {
      char body[80], line[96];
      std::snprintf(body, sizeof body, "YXXDR,A,%.4f,D,PITCH,A,%.4f,D,ROLL,C,%.1f,C,TEMP", 0.0137 * i - 0.6,
                    0.41 - 0.0089 * i, 21.0 + 0.1 * (i % 7));
      std::snprintf(line, sizeof line, "$%s*%02X\r\n", body, unsigned(wire::checksum(body)));
      block_ += line;
    }
  }
  ~Instrument() {
    finish();
    ::close(ours_);  // everything has been read by now
  }
  Instrument(const Instrument&) = delete;
  Instrument& operator=(const Instrument&) = delete;

  [[nodiscard]] std::string path() const { return ::ptsname(ours_); }
  [[nodiscard]] std::size_t line_bytes() const { return block_.size() / kBlockLines; }
  void begin() {
    writer_ = std::thread([this] {
      for (int lines = 0; lines < kLines; lines += kBlockLines) {
        std::string_view rest = block_;
        while (!rest.empty()) {
          const ssize_t written = ::write(ours_, rest.data(), rest.size());
          if (written < 0) return;
          rest.remove_prefix(std::size_t(written));
        }
      }
    });
  }
  void finish() {
    if (writer_.joinable()) writer_.join();
  }

 private:
  static constexpr int kBlockLines = 100;
  static_assert(kLines % kBlockLines == 0);
  int ours_;
  std::string block_;
  std::thread writer_;
};

struct Decoded {
  double seconds;
  std::uint64_t bytes_lost, values;
  double sum;
};

Decoded decode_behind_asio(Instrument& instrument) {
  boost::asio::io_context context;
  wire::XdrReader reader;
  Decoded decoded{};
  Clock::time_point begin, end;
  std::shared_ptr<serial::SerialLine> line = serial::SerialLine::create(
      context.get_executor(), {.path = instrument.path(), .baud = kBaud},
      [&](std::string_view chunk) {
        reader.push(chunk, [&](std::span<const wire::XdrQuad> sentence) {
          decoded.values += sentence.size();
          for (const wire::XdrQuad& quad : sentence) decoded.sum += quad.value;
        });
        if (reader.sentences().sentences < kLines) return;
        end = Clock::now();
        line->stop();
      },
      [&](const serial::Event& event) {
        if (event.state != serial::State::open || event.again) return;
        begin = Clock::now();
        instrument.begin();
      });
  line->start();
  context.run();
  instrument.finish();
  decoded.seconds = std::chrono::duration<double>(end - begin).count();
  decoded.bytes_lost = reader.bytes_lost();
  benchmark::DoNotOptimize(decoded.sum);
  return decoded;
}

double count_lines(Instrument& instrument) {
  const serial::Opened opened = serial::open_tty({.path = instrument.path(), .baud = kBaud});
  if (opened.descriptor < 0) throw std::runtime_error(opened.sentence);
  ::fcntl(opened.descriptor, F_SETFL, ::fcntl(opened.descriptor, F_GETFL) & ~O_NONBLOCK);
  static std::array<char, 64 * 1024> chunk;
  const Clock::time_point begin = Clock::now();
  instrument.begin();
  for (std::ptrdiff_t lines = 0; lines < kLines;) {
    const ssize_t length = ::read(opened.descriptor, chunk.data(), chunk.size());
    if (length <= 0) throw std::system_error(errno, std::generic_category(), "reading the pseudo-terminal");
    lines += std::count(chunk.data(), chunk.data() + length, '\n');
  }
  const Clock::time_point end = Clock::now();
  instrument.finish();
  ::close(opened.descriptor);
  return std::chrono::duration<double>(end - begin).count();
}

std::string show_rate(double seconds) {
  char text[32];
  std::snprintf(text, sizeof text, "%.3g M/s", kLines / seconds / 1e6);
  return text;
}

}  // namespace

void decoding() {
  Instrument instrument;
  print_heading(
      "Decoding: lines a second from a pseudo-terminal",
      {"Ours: SerialLine (Boost.Asio coroutine) and XdrReader: framing, checksum, three values a line.",
       "Other: blocking read() of 64 KiB on the same pseudo-terminal, counts line feeds alone.",
       "A second thread writes; " + std::to_string(kLines) + " lines of about " +
           std::to_string(instrument.line_bytes()) + " bytes a turn."});
  std::uint64_t lost = 0;
  bool all_values = true;
  const Times times = side_by_side_self_timed(
      [&] {
        const Decoded decoded = decode_behind_asio(instrument);
        lost += decoded.bytes_lost;
        all_values = all_values && decoded.values == 3ull * kLines;
        return decoded.seconds;
      },
      [&] { return count_lines(instrument); }, 11);
  print_row({"decoded / counted", show_rate(times.ours_s), show_rate(times.other_s), show_ratio(times.ratio),
             std::to_string(lost) + " bytes lost", "ratio >= 0.45",
             aim_if(times.ratio >= 0.45 && lost == 0)});
}

}  // namespace hangtrue::bench
