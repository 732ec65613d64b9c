// port.hpp: one serial line of the kit: the tty, the way its instruments speak, and what became of every byte.
//
// Bytes     in = used + lost under a reason + pending, for the line as a whole: instruments that share a line share its bytes.
// State     of each instrument on it, while its line or its speech stands in the way; nothing while all is well so far.
// Lifetime  the callbacks may come until stop(); kit sheets must outlive it. Everything on the executor's single thread.
#pragma once

#include <cstdint>
#include <functional>
#include <limits>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <boost/asio/any_io_executor.hpp>

#include "firmware-host/daemon/instrument_line.hpp"
#include "firmware-host/daemon/thresholds.hpp"
#include "firmware-host/serial/line_health.hpp"
#include "firmware-host/serial/serial_line.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/wire/channels.hpp"

namespace hangtrue::daemon {

/// The daemon's clock: monotonic, microseconds.
[[nodiscard]] std::int64_t now_us();

class Port {
 public:
  struct Member {
    std::size_t instrument;  // index into the kit
    const sheet::KitInstrument* kit;
  };
  struct Heard {
    /// `is_of_now`: it began after the last begin_anew().
    std::function<void(std::size_t instrument, const wire::Sample& sample, bool is_of_now)> sample;
    std::function<void(std::size_t instrument, std::string_view sentence)>
        node;                                              // what a node says of its own
    std::function<void(const serial::Event& event)> line;  // opened, lost ...
    std::function<void()> changed;                         // what trouble() says, otherwise
  };

  /// By how its members speak; at least one, and all the same way.
  [[nodiscard]] static std::unique_ptr<Port> make(const boost::asio::any_io_executor& executor,
                                                  std::vector<Member> members, std::size_t stations,
                                                  Heard heard);
  virtual ~Port() = default;
  Port(const Port&) = delete;
  Port& operator=(const Port&) = delete;

  void start() { line_->start(); }
  virtual void stop() { line_->stop(); }

  /// What has come so far, and the sentence, line or answer that is on its way, are no samples of now. What waits on the line is
  /// read before this returns, but from within a sample of this line itself: there the device's own order counts.
  void begin_anew();

  [[nodiscard]] const std::vector<Member>& members() const { return members_; }
  [[nodiscard]] const serial::SerialLine& line() const { return *line_; }
  /// What stands between this member and its values, at the line or in its speech; nothing: they may come.
  [[nodiscard]] std::optional<job::InstrumentState> trouble(std::size_t member) const;
  /// Whether bytes have come within the last seconds, whatever they were.
  [[nodiscard]] bool brings_bytes() const { return now_us() - last_bytes_us_ < kBytesAreNews_us; }
  /// A node (firmware-host/node) has spoken on this line.
  [[nodiscard]] virtual bool is_node() const { return false; }
  /// A command to it.
  void say_to_node(std::string line) { tty().write(std::move(line) + "\r\n"); }
  /// Bytes by what became of them, and what came that no channel reads: a line of text each.
  [[nodiscard]] virtual std::vector<std::string> accounts() const = 0;

 protected:
  Port(const boost::asio::any_io_executor& executor, std::vector<Member> members, Heard heard);

  virtual void bytes(std::string_view chunk) = 0;
  virtual void opened() {}
  /// Half a sentence is dropped.
  virtual void lost() = 0;
  /// Of a member that is asked and does not answer well.
  [[nodiscard]] virtual std::optional<job::InstrumentState> speech(std::size_t) const { return std::nullopt; }

  /// Bytes so far of sentences that came damaged: checksums that do not match, torn and unprintable ones.
  [[nodiscard]] virtual std::uint64_t damaged() const { return 0; }
  /// Sentences, lines or answers of that member that have begun, or were asked for, and have not ended.
  [[nodiscard]] virtual int under_way(std::size_t member) const = 0;
  [[nodiscard]] serial::SerialLine& tty() { return *line_; }
  void hear(std::size_t member, const wire::Sample& sample) const {
    heard_.sample(members_[member].instrument, sample, began_before_[member] == 0);
  }
  void hear_node(std::string_view sentence) const { heard_.node(members_.front().instrument, sentence); }
  /// A sentence, line or answer of that member is over.
  void ended(std::size_t member) {
    if (began_before_[member] > 0) --began_before_[member];
  }
  /// Without a checksum, what passes for a value on a line whose bytes make no sense passes by chance.
  [[nodiscard]] bool is_believed() const {
    return health_.is_well() || health_.verdict() >= serial::LineVerdict::other_speech;
  }
  /// To be told after each chunk; `used`: bytes that the decoder has used of all so far.
  void judge(std::string_view chunk, std::uint64_t used);

 private:
  void line_changed(const serial::Event& event);

  std::vector<Member> members_;
  std::vector<int>
      began_before_;  // of each member, under_way() when it began anew, less what has ended since
  bool in_bytes_ = false;
  Heard heard_;
  serial::LineHealth health_;
  std::shared_ptr<serial::SerialLine> line_;
  bool was_open_ = false;
  std::int64_t last_bytes_us_ = std::numeric_limits<std::int64_t>::min() / 2;
  std::uint64_t bytes_since_ = 0, damaged_before_ = 0;  // since the share of damaged ones was judged last
  bool is_damaged_ = false;
};

}  // namespace hangtrue::daemon
