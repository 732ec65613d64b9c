// responder.hpp: a device on a pseudo-terminal that answers what it is asked, by a function of the test's own.
#pragma once

#include <atomic>
#include <chrono>
#include <cstdint>
#include <cstdio>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <thread>
#include <utility>

#include "firmware-host/wire/modbus.hpp"
#include "tools/rehearsal/pseudo_terminal.hpp"

namespace hangtrue::daemon {

class Responder {
 public:
  /// `answer` is called with what came since it last gave something but "", from the device's own thread.
  using Answer = std::function<std::string(std::string_view came)>;

  Responder(const std::string& link, Answer answer) : terminal_(link), answer_(std::move(answer)) {
    voice_ = std::thread([this] { listen(); });
  }
  ~Responder() {
    stop_ = true;
    voice_.join();
  }
  Responder(const Responder&) = delete;
  Responder& operator=(const Responder&) = delete;

 private:
  void listen() {
    std::string came;
    while (!stop_) {
      const std::string more = terminal_.read();
      if (more.empty()) std::this_thread::sleep_for(std::chrono::milliseconds(1));
      came += more;
      if (const std::string bytes = answer_(came); !bytes.empty()) {
        came.clear();
        terminal_.write(bytes);
      }
    }
  }

  rehearsal::PseudoTerminal terminal_;
  Answer answer_;
  std::atomic<bool> stop_ = false;
  std::thread voice_;
};

/// A distance in metres that the test can change.
class Distance {
 public:
  void set(double metres) {
    const std::lock_guard lock(mutex_);
    metres_ = metres;
  }
  /// "D 1.23456 m\r\n", up and down by 0.02 mm, as a device's last digit goes.
  std::string line() {
    const std::lock_guard lock(mutex_);
    char text[40];
    std::snprintf(text, sizeof text, "D %.5f m\r\n", metres_ + (++count_ % 2) * 2e-5);
    return text;
  }

 private:
  std::mutex mutex_;
  double metres_ = -1.4;
  int count_ = 0;
};

/// The answer of a unit to function 4: as many registers as were asked for, all of this value.
inline std::string modbus_answer(std::string_view request, std::uint16_t value) {
  std::string frame{request[0], request[1], static_cast<char>(2 * request[5])};
  for (int i = 0; i < request[5]; ++i) {
    frame += static_cast<char>(value >> 8);
    frame += static_cast<char>(value & 0xFF);
  }
  const std::uint16_t crc = wire::crc16(frame);
  frame += static_cast<char>(crc & 0xFF);
  frame += static_cast<char>(crc >> 8);
  return frame;
}

}  // namespace hangtrue::daemon
