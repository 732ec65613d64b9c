// connection.hpp: messages to an MQTT broker. Out only: nothing is subscribed to, so no broker can make this program do anything.
//
// Kinds     state  retained; the latest counts. All of them are sent anew at each connection: a broker may have forgotten them
//           event  sent once it can be, in order; at least once, so that one may come twice where a connection breaks
//           live   now or never
// Broker    may be away, slow, or talk nonsense: publish() only puts into bounded queues. What is left out is counted and told.
// Trouble   is told once, each of its reasons once, until the broker is back; then that it is.
// Threads   one of its own, which alone touches the library. publish() from any. `told` is called on that thread, and not once
//           close() has returned.
// End       close() sends what waits, for kLastWait at most and only where the broker is there, and takes leave, so that the will is not told.
// Source    MQTT 3.1.1 (OASIS, 2014) and 5.0 (2019); both by libmosquitto.
#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <string>
#include <thread>

#include "firmware-host/broker/address.hpp"
#include "firmware-host/broker/limits.hpp"

namespace hangtrue::broker {

enum class Version { v3_1_1, v5 };
enum class Kind { state, event, live };

struct Options {
  Address address;
  Version version = Version::v3_1_1;
  std::string password;          // goes with the address's user; empty: none
  std::string will_topic, will;  // a state that the broker tells where this program goes without leave
  std::chrono::milliseconds last_wait = kLastWait;
};

struct Told {
  enum class What { connected, trouble, over } what;
  std::string says;  // a sentence without its end
};

class Connection {
 public:
  /// Begins at once, and goes on trying.
  Connection(Options options, std::function<void(const Told&)> told);
  ~Connection();
  Connection(const Connection&) = delete;
  Connection& operator=(const Connection&) = delete;

  /// Never waits for the broker.
  void publish(Kind kind, std::string topic, std::string payload);
  /// Nothing is published from here on.
  void close();

 private:
  class Worker;
  std::shared_ptr<Worker>
      worker_;  // the thread's too, which may hang in the look-up of a name when this goes
  std::thread thread_;
};

}  // namespace hangtrue::broker
