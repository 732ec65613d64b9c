// kept_readings.hpp: "take kept": readings that a node took by itself while no host was there, from its memory into the book.
//
// Once      each goes into the book together with a note of the sentence that it came by, both or neither; one whose note is there
//           already, in whatever survey, is passed over. Only then the node is told that it need not hand it over again. So it does
//           not matter where the power goes, on either side.
// Whole     a node says how many it hands over; where fewer came it is asked again.
// Time      a node has no clock: that of the hand-over. Their order is that in which they were taken. Face 1, middle.
// Not taken what cannot be a reading of this run (a station that it has not, beyond the channel's range) is noted with its sentence,
//           and said.
// Not for   what was read at the same time by "take": it would count twice.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "firmware-host/daemon/answer.hpp"
#include "firmware-host/daemon/instruments.hpp"
#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/daemon/survey_log.hpp"
#include "firmware-host/daemon/survey_under_way.hpp"
#include "firmware-host/daemon/taking.hpp"

namespace hangtrue::daemon {

/// One sentence of the hand-over: "$HTLOG,number,station,slope,sigma,roll,sigma,temperature*hh".
struct KeptEntry {
  std::string sentence;  // as it came
  std::uint32_t number = 0;
  int station = 0;  // from 1
  double slope = 0, slope_sigma = 0, roll_rad = 0, roll_sigma_rad = 0, temperature_C = 0;
};
/// None: it is no such sentence.
[[nodiscard]] std::optional<KeptEntry> kept_entry(std::string_view sentence);

class KeptReadings {
 public:
  /// All must outlive it.
  KeptReadings(const Sheets& sheets, SurveyLog& log, Instruments& instruments, SurveyUnderWay& survey)
      : sheets_(sheets), log_(log), instruments_(instruments), survey_(survey) {}

  /// Asks every node that is there; or why that cannot be.
  [[nodiscard]] std::optional<Answer> begin();
  void heard(std::size_t instrument, std::string_view sentence);
  /// `late`: patience is over.
  [[nodiscard]] Looked look(bool late);

 private:
  struct HandOver {
    std::size_t instrument;
    std::vector<KeptEntry> entries;
    bool whole = false;
    std::int64_t lost = 0;  // of its memory, which was full
  };
  [[nodiscard]] Answer take();
  /// The readings of an entry in SI and in the run's own signs; empty: it cannot be one.
  [[nodiscard]] std::vector<sheet::ReadingEntry> readings_of(const sheet::KitInstrument& kit,
                                                             const KeptEntry& entry) const;

  const Sheets& sheets_;
  SurveyLog& log_;
  Instruments& instruments_;
  SurveyUnderWay& survey_;
  std::vector<HandOver> asked_;
};

}  // namespace hangtrue::daemon
