// service_manager.hpp: tells the system's service manager how this program does, by datagrams to the socket that the environment
// names; and the log's lines for a journal. Without a service manager it does nothing.
//
// Source  sd_notify(3): NOTIFY_SOCKET, WATCHDOG_USEC, WATCHDOG_PID; sd-daemon(3): "<4>" before a line, by the levels of syslog(3);
//         systemd.exec(5): JOURNAL_STREAM.
// Threads notify() from any.
#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>

namespace hangtrue::daemon {

class ServiceManager {
 public:
  /// Of this process's environment, which is then without those variables: what this program starts is no service. Before any thread.
  ServiceManager();
  ~ServiceManager();
  ServiceManager(const ServiceManager&) = delete;
  ServiceManager& operator=(const ServiceManager&) = delete;

  /// "READY=1", "STOPPING=1", "WATCHDOG=1", "STATUS=...". One that does not get through is lost: nobody is held up.
  void notify(std::string_view state) const;
  /// How often "WATCHDOG=1" is to be said: half of what the manager waits for it. Nothing where it does not wait.
  [[nodiscard]] std::optional<std::chrono::microseconds> watchdog_every() const { return watchdog_every_; }

 private:
  int socket_ = -1;
  std::string address_;  // as sockaddr_un has it: a zero first where it is abstract
  std::optional<std::chrono::microseconds> watchdog_every_;
};

/// Whether this descriptor is the journal's.
[[nodiscard]] bool is_journal(int descriptor);

/// The same lines, each with its priority before it; `level` of syslog(3): 0 to 7.
[[nodiscard]] std::string for_journal(int level, std::string_view lines);

}  // namespace hangtrue::daemon
