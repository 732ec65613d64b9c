// instrument_line.hpp: one instrument of the kit: what it gives, channel by channel, whether it has settled, and how it does.
//
// SI samples -> settling windows. Time is the monotonic clock in microseconds, passed in.
#pragma once

#include <cstdint>
#include <deque>
#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "core/survey/settling.hpp"
#include "firmware-host/book/book.hpp"
#include "firmware-host/job/instrument_state.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/wire/channels.hpp"

namespace hangtrue::daemon {

class InstrumentLine {
 public:
  struct LiveChannel {
    const sheet::KitChannel* kit = nullptr;
    survey::Settling<double> settling;
    bool announced = false;               // that it has settled, since the last restart
    std::vector<std::int64_t> raw_at_us;  // since the last raw()
    std::vector<double> raw_values;
    std::deque<std::pair<std::int64_t, double>> recent;  // of the last kWatchWindow_us, or the newest
    std::int64_t gap_us = 0;            // between the last two of them, at most kLongestGap_us
    std::uint64_t raw_passed_over = 0;  // in all: more came than are kept

    [[nodiscard]] bool is_reading() const { return is_measured_of_run(kit->gives); }
    [[nodiscard]] bool walks() const { return is_reading() && !kit->station_m; }
  };
  using OnStation = std::function<void(std::size_t index)>;  // a G quad named a station, counted from 0
  using OnSettled = std::function<void(const LiveChannel& channel)>;  // once after each restart

  explicit InstrumentLine(const sheet::KitInstrument& kit);

  /// `ambient_C`: the temperature that another instrument gives, for one that gives none. `is_of_now`: false where it was
  /// measured, or may have been, before the instrument stood where it does; it is kept as a raw sample, and settles nothing.
  void sample(const wire::Sample& sample, std::int64_t now_us, bool is_of_now,
              std::optional<double> ambient_C, const OnStation& on_station, const OnSettled& on_settled);
  /// The stream has ended: the windows are emptied.
  void lost(std::int64_t now_us);
  /// Walking channels (or the fixed ones) begin anew: the instrument stands elsewhere, or was read.
  void restart(std::int64_t now_us, bool fixed = false);
  /// The raw samples since the last call, for the book; of more than kMostRaw of a channel the first. `offset`: from the monotonic clock to the wall clock.
  [[nodiscard]] std::vector<book::Samples> raw(std::chrono::system_clock::duration offset);
  /// Whether that channel has settled, and what it gives.
  [[nodiscard]] job::ChannelState state(const LiveChannel& channel, std::int64_t now_us) const;
  /// How it does while its line is open and its speech understood: by the channel that does worst.
  [[nodiscard]] job::InstrumentState state(std::int64_t now_us) const;

  [[nodiscard]] const sheet::KitInstrument& kit() const { return kit_; }
  [[nodiscard]] const std::vector<LiveChannel>& channels() const { return channels_; }
  /// Mean and standard deviation of a single sample of the last kWatchWindow_us; none: it is silent, since nothing has come for
  /// twice that, or of one that speaks seldom for 1.5 of its gaps.
  struct Recent {
    double mean = 0, spread = 0;
  };
  [[nodiscard]] static std::optional<Recent> recent(const LiveChannel& channel, std::int64_t now_us);

  /// The temperature that it gave last, while that is news.
  [[nodiscard]] std::optional<double> temperature_C(std::int64_t now_us) const;

 private:
  const sheet::KitInstrument& kit_;
  std::vector<LiveChannel> channels_;
  std::optional<double> temperature_C_;
  std::int64_t temperature_at_us_ = 0;
  std::optional<std::size_t> station_;
};

}  // namespace hangtrue::daemon
