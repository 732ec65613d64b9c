// survey_under_way.hpp: the survey that is being taken: its readings, the fit of them, and the card that follows.
//
// Book      everything comes from the level book: it is the same whether the daemon went on or was started anew.
// Fit       fit() after each change of the readings; without readings it is the shape that the sheet predicts, and the reading
//           that would teach most. Told as an event "live".
// Undo      takes back the last take that counts: all channels, both faces (job/takes.hpp).
#pragma once

#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "firmware-host/daemon/announcer.hpp"
#include "firmware-host/daemon/answer.hpp"
#include "firmware-host/daemon/commands.hpp"
#include "firmware-host/daemon/instruments.hpp"
#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/daemon/survey_log.hpp"
#include "firmware-host/job/card.hpp"
#include "firmware-host/job/stored_card.hpp"
#include "firmware-host/job/survey_fit.hpp"
#include "firmware-host/job/walk_progress.hpp"

namespace hangtrue::daemon {

class SurveyUnderWay {
 public:
  /// All must outlive it.
  SurveyUnderWay(const Sheets& sheets, SurveyLog& log, const Instruments& instruments,
                 const Announcer& announcer)
      : sheets_(sheets), log_(log), instruments_(instruments), announcer_(announcer) {}

  /// Of the survey that the log is at, from its stage on: what earlier surveys taught, checks, readings. The readings, those
  /// set aside as well; none where the book cannot be read, which is told.
  std::optional<std::vector<book::BookedReading>> begin(int stage);
  /// Anew from the book, after an entry that corrects it.
  void read_anew() { (void)begin(session_->stage()); }
  /// What the book knows of the instruments, for the fits from now on.
  void take_checks();
  /// Warnings of the instruments' checks that were not told before.
  void tell_warnings();

  void add_take(std::vector<sheet::ReadingEntry> readings);
  /// How far the walk by the plan of this stage has come; none where no plan could be made.
  [[nodiscard]] std::optional<job::WalkProgress> walk() const;
  [[nodiscard]] Answer undo();
  /// What people found and said; into the book.
  [[nodiscard]] Answer say_what_bears(const SayWhatBears& found);
  [[nodiscard]] Answer say_start(const SayStart& told);
  /// What the survey is called, and its persons; never in the way of anything.
  [[nodiscard]] Answer name(const NameSurvey& told);

  void fit();
  /// Fit and card of now; or why there is none.
  [[nodiscard]] std::optional<Told> make_card();

  /// As it was fitted last.
  [[nodiscard]] job::SurveyFit& session() { return *session_; }
  [[nodiscard]] int stage() const { return session_->stage(); }
  [[nodiscard]] std::size_t readings() const { return session_->readings().size(); }
  /// Why there is no fit or no card; empty: there are both.
  [[nodiscard]] const Told& no_fit() const { return no_fit_; }
  [[nodiscard]] const job::FitReport& report() const { return session_->report(); }
  [[nodiscard]] const job::Card& card() const { return *card_; }
  /// The card as the book keeps it; none: there is none.
  [[nodiscard]] const std::optional<job::StoredCard>& shims() const { return shims_; }
  /// The same in the language in which the page shows it.
  [[nodiscard]] const std::optional<job::StoredCard>& shown_shims() const { return shown_shims_; }
  /// By the sheet alone.
  [[nodiscard]] const job::FitReport& predicted() const { return predicted_; }
  [[nodiscard]] const std::vector<std::string>& warnings() const { return warnings_; }
  [[nodiscard]] const std::vector<std::string>& shown_warnings() const { return shown_warnings_; }

 private:
  [[nodiscard]] std::unique_ptr<job::CarriedState> lasting_from_before() const;
  /// The support of that name, whatever its case; nullptr: none.
  [[nodiscard]] const sheet::SupportEntry* support_named(const std::string& name) const;
  [[nodiscard]] Answer told(const char* command, const book::Content& content, const Told& what);
  [[nodiscard]] Told no_support(const std::string& name) const;
  void take_found_by_hand();
  void store_card();
  void plan(int stage);

  const Sheets& sheets_;
  SurveyLog& log_;
  const Instruments& instruments_;
  const Announcer& announcer_;
  std::unique_ptr<job::CarriedState> lasting_;
  std::unique_ptr<job::SurveyFit> session_;
  job::FitReport predicted_;
  std::optional<job::Plan> plan_;  // of the stage
  int planned_stage_ = -1;
  std::optional<job::Card> card_;
  std::optional<job::StoredCard> shims_, shown_shims_;
  Told no_fit_;
  std::vector<std::string> warnings_, shown_warnings_;
  std::set<std::string> warned_;  // of those, what was told
};

}  // namespace hangtrue::daemon
