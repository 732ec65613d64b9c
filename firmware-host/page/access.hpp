// access.hpp: who may ask the page's server for anything: by the name it is asked by, by the site that asks, by pairing.
//
// Rules    as in server.hpp, "Access" and "Browsers"; limits of attempts and what they are worth: pairing.hpp.
// Threads  code() and open_once() from any; everything else on the server's own.
#pragma once

#include <cstdint>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "firmware-host/page/pairing.hpp"
#include "firmware-host/page/request.hpp"

namespace hangtrue::page {

class Access {
 public:
  /// `note`: what it says while it works, a sentence for the log.
  explicit Access(std::function<void(std::string sentence)> note) : note_(std::move(note)) {}

  /// Once, before any request. `own_names`: this machine's. `key_path`: as in Options. A sentence where the key is not kept.
  [[nodiscard]] std::string open(std::uint16_t port, bool on_loopback, std::vector<std::string> own_names,
                                 const std::string& key_path, PairingWords words = {});

  [[nodiscard]] bool on_loopback() const { return on_loopback_; }
  /// Of a Host field.
  [[nodiscard]] bool is_own(std::string_view host) const;
  /// Why this request is not looked at any further; `address`: where the page is.
  [[nodiscard]] std::optional<Reply> refuse(const Request& request, const std::string& address) const;
  /// A code that was typed; `from`: the address it came from.
  [[nodiscard]] Reply pair(const Request& request, const std::string& from);
  /// "4831 7702"; empty on loopback.
  [[nodiscard]] std::string code() const;
  /// A code that lets one phone in; empty on loopback.
  [[nodiscard]] std::string open_once();

 private:
  [[nodiscard]] bool is_paired(const Request& request) const;

  const std::function<void(std::string sentence)> note_;
  std::uint16_t port_ = 0;
  bool on_loopback_ = true;
  std::vector<std::string> names_;
  PairingWords words_;
  Key key_{};
  std::string cookie_;
  mutable std::mutex mutex_;  // of code_
  std::optional<PairingCode> code_;
};

/// Why an upgrade to a phone's WebSocket is not taken. `more_came`: bytes behind the request; `phones`: that there are already.
[[nodiscard]] std::optional<Reply> refuse_upgrade(const Request& request, bool more_came, std::size_t phones);

}  // namespace hangtrue::page
