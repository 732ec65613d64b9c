// broker_options.hpp: what hangtrued's options say of a broker.
#pragma once

#include <optional>
#include <string>

#include "firmware-host/broker/connection.hpp"
#include "firmware-host/daemon/arguments.hpp"

namespace hangtrue::daemon {

/// Where a password may stand that is in no file.
inline constexpr const char* kPasswordVariable = "HANGTRUE_BROKER_PASSWORD";

struct BrokerAsked {
  std::optional<broker::Options> options;  // none: no broker
  std::string trouble;                     // what is wrong, and what would be right; empty: nothing
};
/// Reads the password's file and the environment.
[[nodiscard]] BrokerAsked broker_asked_for(const Arguments& arguments);

}  // namespace hangtrue::daemon
