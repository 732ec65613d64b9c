// broker_view.hpp: what an MQTT broker is told of the daemon's work: which topic holds what, and when.
//
// Topics    below hangtrue/RUN/, RUN the run's title made safe for a topic; data/interfaces.md lists them. SI, units in the names.
//           States (retained) are told where they are others than were told before; readings as they are taken; live values at most once in
//           kLiveEvery_us a channel.
// Out only  nothing that a broker says becomes a command: a take or a tick must come from who stands at the run.
// No broker until publish_to(), and after close(), everything here does nothing.
// Threads   everything on the daemon's thread; the connection has its own. Lifetime: the parts must outlive it.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <nlohmann/json_fwd.hpp>

#include "firmware-host/broker/connection.hpp"
#include "firmware-host/daemon/announcer.hpp"
#include "firmware-host/daemon/instruments.hpp"
#include "firmware-host/daemon/moves_on_job.hpp"
#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/daemon/survey_log.hpp"
#include "firmware-host/daemon/survey_under_way.hpp"

namespace hangtrue::daemon {

class BrokerView {
 public:
  struct Parts {
    const Sheets& sheets;
    const SurveyLog& log;
    const Instruments& instruments;
    const SurveyUnderWay& survey;
    const MovesOnJob& moves;
  };
  BrokerView(const Parts& parts, const Announcer& announcer);

  /// From now on. The will is this function's own.
  void publish_to(broker::Options options);
  /// Says that the daemon ends, and waits for the broker a little: broker/connection.hpp.
  void close();

  /// After a command: new readings, survey, card, seal and instruments. What was in the book at the first call is no new reading.
  void show_all();
  /// Instruments and their live values; to be called often.
  void look();

 private:
  void show_readings(const std::vector<book::BookedReading>& readings);
  void show_survey(const std::vector<book::BookedReading>& readings);
  void show_card();
  void show_seal();
  void show_states();
  void show_live(std::int64_t at_us);
  /// A state, where it is another; with the time.
  void show(const std::string& topic, nlohmann::ordered_json state);
  void publish(broker::Kind kind, const std::string& topic, nlohmann::ordered_json message);
  [[nodiscard]] std::string of_instrument(const std::string& name, std::string_view what) const;

  Parts of_;
  const Announcer& announcer_;
  std::string below_;                        // "hangtrue/Kitchen bridge/"
  std::map<std::string, std::string> told_;  // by topic, without the time
  std::optional<book::Number> read_up_to_;   // the last reading that was told
  std::int64_t live_told_us_ = 0;
  std::unique_ptr<broker::Connection> broker_;  // none: no broker
};

}  // namespace hangtrue::daemon
