// The connection to a broker: a real one, one that is away, comes back, refuses, and such that behave badly.
// Source of what is expected: MQTT 3.1.1 (OASIS, 2014) and 5.0 (2019); the broker is Mosquitto's.
#include "firmware-host/broker/connection.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <memory>
#include <string>
#include <vector>

#include "tests/firmware-host/broker/broker_bench.hpp"

namespace hangtrue::broker {
namespace {

using ::testing::HasSubstr;
using ::testing::StartsWith;
using What = Told::What;

/// What a connection tells, one after the other.
class Ear {
 public:
  std::function<void(const Told&)> hook() {
    return [this](const Told& told) {
      const std::lock_guard lock(mutex_);
      told_.push_back(told);
      changed_.notify_all();
    };
  }
  /// The next; nothing where it does not come.
  Told next() {
    std::unique_lock lock(mutex_);
    if (!changed_.wait_for(lock, kPatience, [this] { return given_ < told_.size(); })) {
      ADD_FAILURE() << "nothing is told";
      return {};
    }
    return told_[given_++];
  }
  [[nodiscard]] std::size_t rest() {
    const std::lock_guard lock(mutex_);
    return told_.size() - given_;
  }

 private:
  std::mutex mutex_;
  std::condition_variable changed_;
  std::vector<Told> told_;
  std::size_t given_ = 0;
};

Options to(std::uint16_t port, Version version = Version::v3_1_1) {
  Options options;
  options.address = {false, "", "127.0.0.1", port};
  options.version = version;
  options.will_topic = "test/daemon";
  options.will = "gone";
  options.last_wait = kPatience;  // the machine may be busy
  return options;
}

auto is(std::string topic, std::string payload) {
  return [topic = std::move(topic), payload = std::move(payload)](const Heard& heard) {
    return heard.topic == topic && heard.payload == payload;
  };
}

class EachVersion : public ::testing::TestWithParam<Version> {};

TEST_P(EachVersion, StatesAreRetainedEventsAreNotAndLeaveIsTakenAtTheEnd) {
  RealBroker broker;
  Listening listening(broker.port());
  Ear ear;
  {
    Connection connection(to(broker.port(), GetParam()), ear.hook());
    connection.publish(Kind::state, "test/daemon", "running");
    connection.publish(Kind::event, "test/event", "first");
    connection.publish(Kind::event, "test/event", "second");
    EXPECT_EQ(ear.next().what, What::connected);
    connection.publish(Kind::live, "test/live", "1.5");
    EXPECT_TRUE(listening.await(is("test/live", "1.5")));
    connection.publish(Kind::state, "test/daemon", "stopped");
  }
  EXPECT_TRUE(listening.await(is("test/daemon", "stopped")));
  std::vector<std::string> events;
  for (const Heard& each : listening.all()) {
    EXPECT_NE(each.payload, "gone") << "the will, though leave was taken";
    if (each.topic == "test/event") events.push_back(each.payload);
  }
  EXPECT_EQ(events, (std::vector<std::string>{"first", "second"}));

  Listening later(broker.port());
  const auto kept = later.await(is("test/daemon", "stopped"));
  EXPECT_TRUE(kept && kept->retained);
  EXPECT_EQ(later.all().size(), 1u) << "an event or a live value was retained";
}

TEST_P(EachVersion, BrokerThatGoesAndComesBackIsToldOnceAndGetsAllStatesAndWhatWaited) {
  RealBroker broker("allow_anonymous true\nlog_type all\n");
  Ear ear;
  Connection connection(to(broker.port(), GetParam()), ear.hook());
  connection.publish(Kind::state, "test/state", "old");
  connection.publish(Kind::state, "test/steady", "the same");
  EXPECT_EQ(ear.next().what, What::connected);
  broker.stop();
  const Told gone = ear.next();
  EXPECT_EQ(gone.what, What::trouble);
  EXPECT_THAT(gone.says, HasSubstr("nothing is lost from the book"));
  connection.publish(Kind::state, "test/state", "new");
  connection.publish(Kind::event, "test/event", "meanwhile");
  connection.publish(Kind::live, "test/live", "of no use later");
  // The refusal of the next attempts is another reason than the loss, and is told as well; none of them twice.
  broker.start();
  Listening listening(broker.port());
  EXPECT_TRUE(listening.await(is("test/state", "new")));
  EXPECT_TRUE(listening.await(is("test/steady", "the same"))) << "the broker has forgotten it";
  // An event is not retained, and whether anybody listens again in time is left to chance: the broker knows that it came.
  EXPECT_TRUE(broker.await_log("'test/event', ... (9 bytes)")) << broker.log();
  std::vector<std::string> troubles{gone.says};
  for (Told told = ear.next(); told.what != What::over; told = ear.next()) {
    ASSERT_EQ(told.what, What::trouble);
    EXPECT_THAT(troubles, ::testing::Not(::testing::Contains(told.says)));
    troubles.push_back(told.says);
  }
  EXPECT_THAT(broker.log(), ::testing::Not(HasSubstr("test/live")));
}

TEST_P(EachVersion, BrokerThatIsAwayAtTheStartIsFoundOnceItIsThere) {
  const std::uint16_t port = free_port();
  Ear ear;
  Connection connection(to(port, GetParam()), ear.hook());
  connection.publish(Kind::state, "test/state", "kept");
  const Told away = ear.next();
  EXPECT_EQ(away.what, What::trouble);
  EXPECT_THAT(away.says, HasSubstr("Connection refused"));
  RealBroker broker("allow_anonymous true\n", port);
  const Told there = ear.next();
  EXPECT_EQ(there.what, What::over) << there.says;
  Listening listening(broker.port());
  EXPECT_TRUE(listening.await(is("test/state", "kept")));
}

TEST_P(EachVersion, WrongPasswordIsSaidAndTheRightOneLetsIn) {
  test::ScratchDirectory folder;
  // Made by mosquitto_passwd for user "logger", password "plumb-line".
  const std::string passwords = folder / "passwords";
  ASSERT_EQ(std::system(("mosquitto_passwd -b -c '" + passwords + "' logger plumb-line").c_str()), 0);
  RealBroker broker("allow_anonymous false\npassword_file " + passwords + "\n");
  Options options = to(broker.port(), GetParam());
  options.address.user = "logger";
  for (const char* const password : {"plumb-lime", ""}) {
    Ear ear;
    options.password = password;
    Connection connection(options, ear.hook());
    const Told told = ear.next();
    EXPECT_EQ(told.what, What::trouble);
    EXPECT_THAT(told.says, HasSubstr("it refuses this program: "));
    EXPECT_THAT(told.says, ::testing::Not(HasSubstr("plumb")));
  }
  Ear ear;
  options.password = "plumb-line";
  Connection connection(options, ear.hook());
  EXPECT_EQ(ear.next().what, What::connected);
}

INSTANTIATE_TEST_SUITE_P(OfMqtt, EachVersion, ::testing::Values(Version::v3_1_1, Version::v5));

// The broker's certificate by the system's: SSL_CERT_FILE names those (OpenSSL, SSL_CTX_set_default_verify_paths(3)).
TEST(Tls, TakesABrokerWhoseCertificateTheSystemTrustsAndNoOther) {
  test::ScratchDirectory folder;
  const std::string key = folder / "key.pem", certificate = folder / "certificate.pem";
  ASSERT_EQ(std::system(("openssl req -x509 -newkey rsa:2048 -nodes -days 2 -subj /CN=localhost -addext "
                         "subjectAltName=DNS:localhost -keyout '" +
                         key + "' -out '" + certificate + "' 2>/dev/null")
                            .c_str()),
            0);
  RealBroker broker("allow_anonymous true\ncertfile " + certificate + "\nkeyfile " + key + "\n");
  Options options = to(broker.port());
  options.address.tls = true;
  options.address.host = "localhost";
  {
    Ear ear;
    Connection connection(options, ear.hook());
    const Told stranger = ear.next();
    EXPECT_EQ(stranger.what, What::trouble);
    EXPECT_THAT(stranger.says, HasSubstr("certificate"));
  }
  ::setenv("SSL_CERT_FILE", certificate.c_str(), 1);
  {
    Ear ear;
    Connection connection(options, ear.hook());
    const Told there = ear.next();
    EXPECT_EQ(there.what, What::connected) << there.says;
  }
  {
    options.address.host = "127.0.0.1";  // not what the certificate names
    Ear ear;
    Connection connection(options, ear.hook());
    EXPECT_EQ(ear.next().what, What::trouble);
  }
  ::unsetenv("SSL_CERT_FILE");
}

TEST(BadBrokers, SomeNonsenseIsToldAndNothingElseHappens) {
  for (const std::string& says :
       {"HTTP/1.1 400 Bad Request\r\n\r\n" + std::string(400, ' '), std::string(64, '\xff'),
        std::string(64, '\0'), std::string("\x20\x02\x00\x05", 4),        // a refusal: not authorised
        std::string("\x20\x02\x00\x00", 4) + std::string(64, '\xff')}) {  // let in, then nonsense
    BadBroker broker(says);
    Ear ear;
    Connection connection(to(broker.port()), ear.hook());
    connection.publish(Kind::event, "test/event", "x");
    Told told = ear.next();
    if (told.what == What::connected) told = ear.next();
    EXPECT_EQ(told.what, What::trouble);
    connection.close();
  }
}

/// Lets everybody in and acknowledges nothing: what waits stays bounded, and that something was left out is told once.
TEST(BadBrokers, OneThatTakesNothingHoldsNobodyUp) {
  BadBroker broker(std::string("\x20\x02\x00\x00", 4));
  Ear ear;
  Options options = to(broker.port());
  options.last_wait = std::chrono::milliseconds(1);
  Connection connection(options, ear.hook());
  EXPECT_EQ(ear.next().what, What::connected);
  const std::string payload(1000, 'x');
  for (std::size_t i = 0; i < 3 * kMostWaiting; ++i) connection.publish(Kind::event, "test/event", payload);
  const Told told = ear.next();
  EXPECT_EQ(told.what, What::trouble);
  EXPECT_THAT(told.says, HasSubstr("does not keep up; the oldest messages are left out"));
  for (std::size_t i = 0; i < kMostWaiting; ++i) connection.publish(Kind::event, "test/event", payload);
  connection.close();
  EXPECT_EQ(ear.rest(), 0u);
}

TEST(BadBrokers, WhatWasLeftOutWhileABrokerWasAwayIsCounted) {
  const std::uint16_t port = free_port();
  Ear ear;
  Connection connection(to(port), ear.hook());
  EXPECT_EQ(ear.next().what, What::trouble);
  for (std::size_t i = 0; i < kMostWaiting + 7; ++i)
    connection.publish(Kind::event, "test/event", std::to_string(i));
  RealBroker broker("allow_anonymous true\n", port);
  const Told over = ear.next();
  EXPECT_EQ(over.what, What::over);
  EXPECT_THAT(over.says, HasSubstr("; 7 messages were left out meanwhile"));
}

}  // namespace
}  // namespace hangtrue::broker
