#include "firmware-host/daemon/broker_options.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdlib>
#include <system_error>
#include <utility>

namespace hangtrue::daemon {
namespace {

struct Password {
  std::string text;
  std::string trouble;  // a sentence; empty: there is none
};

/// The first line of the file.
Password password_in(const std::string& path) {
  const auto wrong = [&](const std::string& what) {
    return Password{{},
                    "--broker-password-file \"" + path + "\": " + what +
                        "; expected a file of yours whose first line is the password"};
  };
  const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  if (file < 0) return wrong(std::generic_category().message(errno));
  struct stat status {};
  std::array<char, 4096> bytes;  // passwords are shorter
  const bool is_file = ::fstat(file, &status) == 0 && S_ISREG(status.st_mode);
  const ssize_t size = is_file ? ::read(file, bytes.data(), bytes.size()) : -1;
  ::close(file);
  if (size < 0) return wrong("it is no file that can be read");
  if ((status.st_mode & (S_IROTH | S_IWOTH)) != 0)
    return wrong("everybody on this machine can read or write it (chmod 600 takes that away)");
  Password password{{bytes.data(), std::size_t(size)}, {}};
  password.text.resize(std::min(password.text.find_first_of("\r\n"), password.text.size()));
  return password.text.empty() ? wrong("its first line is empty") : password;
}

/// From the file, or else from the environment; empty: none.
Password password_for(const Arguments& arguments) {
  if (!arguments.broker_password_file.empty()) return password_in(arguments.broker_password_file);
  const char* const value = std::getenv(kPasswordVariable);
  return {value == nullptr ? "" : value, {}};
}

}  // namespace

BrokerAsked broker_asked_for(const Arguments& arguments) {
  if (arguments.broker.empty()) return {};
  const auto address = broker::parse_address(arguments.broker);
  if (!address.ok()) return {{}, "--broker: " + address.fault()};
  Password password = password_for(arguments);
  if (!password.trouble.empty()) return {{}, std::move(password.trouble)};
  if (!password.text.empty() && address.value().user.empty())
    return {{}, "--broker: there is a password, and no user that it belongs to; expected mqtt://USER@HOST"};
  broker::Options options;
  options.address = address.value();
  options.version = arguments.broker_version == "5" ? broker::Version::v5 : broker::Version::v3_1_1;
  options.password = std::move(password.text);
  return {std::move(options), {}};
}

}  // namespace hangtrue::daemon
