// guided_check.hpp: a check of one instrument, led step by step: which is under way, what it found, and its way into the book.
//
// Steps     "next" takes the values of a step once the instrument has settled. What the steps are and what is made of them:
//           job/commissioning.hpp, job/scale_guide.hpp.
// In doubt  a check that is not sound waits for "keep" or "give up"; a sound one goes into the book by itself. A scale check does
//           so in any case: one that found something wrong does not count, and stands against what was said before.
// Under way nothing else is begun, read or ended.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "core/quantity/result.hpp"
#include "firmware-host/daemon/announcer.hpp"
#include "firmware-host/daemon/answer.hpp"
#include "firmware-host/daemon/commands.hpp"
#include "firmware-host/daemon/instruments.hpp"
#include "firmware-host/daemon/raw_samples.hpp"
#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/daemon/survey_log.hpp"
#include "firmware-host/daemon/taking.hpp"
#include "firmware-host/job/commissioning.hpp"
#include "firmware-host/job/scale_guide.hpp"
#include "firmware-host/page/messages.hpp"

namespace hangtrue::daemon {

class GuidedCheck {
 public:
  /// All must outlive it.
  GuidedCheck(const Sheets& sheets, SurveyLog& log, RawSamples& raw, Instruments& instruments,
              const Announcer& announcer)
      : sheets_(sheets), log_(log), raw_(raw), instruments_(instruments), announcer_(announcer) {}

  [[nodiscard]] Answer begin(const CheckZero& command);
  [[nodiscard]] Answer begin(const CheckDatum& command);
  [[nodiscard]] Answer begin(const CheckScale& command);
  /// Why there is no next step, or nothing.
  [[nodiscard]] std::optional<Answer> no_step() const;
  /// While there is one: takes the step once the instrument has settled. `late`: patience is over.
  [[nodiscard]] Looked look(bool late);
  /// Puts what was found into the book, also where that is in doubt.
  [[nodiscard]] Answer keep();
  void give_up();

  [[nodiscard]] bool is_under_way() const { return check_.has_value(); }
  /// The refusal of a command that would leave it behind.
  [[nodiscard]] std::optional<Answer> stands_against(const char* command) const;

  /// For the page: the check under way; what was found by the last one that ended.
  [[nodiscard]] std::optional<page::Guide> guide() const;
  [[nodiscard]] const std::vector<std::string>& found() const { return found_; }

 private:
  struct Check {
    std::size_t instrument;
    std::variant<job::ZeroCheckGuide, job::DatumCheckGuide, job::ScaleCheckGuide> guide;
    std::vector<book::Content> found = {};  // once it is done
  };

  /// The instrument of that name, or the only one that gives it; why there is none otherwise.
  [[nodiscard]] Result<std::size_t, Told> instrument_for(const std::string& name, Channel gives,
                                                         const char* what) const;
  [[nodiscard]] Told refusal(const job::CheckRefusal& refusal, const std::string& instrument) const;
  [[nodiscard]] Answer begin(Check check);
  [[nodiscard]] Answer step();
  [[nodiscard]] Answer take_step();
  template <class Result>
  [[nodiscard]] Answer end(const job::CheckOutcome<Result>& outcome);

  const Sheets& sheets_;
  SurveyLog& log_;
  RawSamples& raw_;
  Instruments& instruments_;
  const Announcer& announcer_;
  std::optional<Check> check_;
  std::vector<std::string> found_;  // by the last check that ended, or waits to be kept
};

}  // namespace hangtrue::daemon
