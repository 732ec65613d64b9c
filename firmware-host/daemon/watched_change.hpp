// watched_change.hpp: a move of the card, or the next stage's loads, made under the eyes of instruments that stay where they are.
//
// Begun     "watch 2" (a move of the card that is being made) or "watch stage": every channel that has settled is watched from what
//           it reads then. Nothing is read for the survey meanwhile, and nobody may say that the instruments stand elsewhere.
// Looked at with what comes, a few times a second: over the last kWatchWindow_us of each channel. Told as events "watch" when the
//           verdict is another, and each second; "stop" at once. Where one of them is silent there is no verdict: that is said.
//           "Done" only once all of them have settled.
// Ended     by the move's tick, by the stage, or by "watch off": a note in the book says what was seen, and whether "stop" was said.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "firmware-host/daemon/announcer.hpp"
#include "firmware-host/daemon/answer.hpp"
#include "firmware-host/daemon/commands.hpp"
#include "firmware-host/daemon/instruments.hpp"
#include "firmware-host/daemon/moves_on_job.hpp"
#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/daemon/stand.hpp"
#include "firmware-host/daemon/survey_log.hpp"
#include "firmware-host/daemon/survey_under_way.hpp"
#include "firmware-host/job/live_target.hpp"

namespace hangtrue::daemon {

class WatchedChange {
 public:
  /// All must outlive it.
  WatchedChange(const Sheets& sheets, SurveyLog& log, const Instruments& instruments, const Stand& stand,
                SurveyUnderWay& survey, const MovesOnJob& moves, const Announcer& announcer)
      : sheets_(sheets),
        log_(log),
        instruments_(instruments),
        stand_(stand),
        survey_(survey),
        moves_(moves),
        announcer_(announcer) {}

  [[nodiscard]] Answer begin(const Watch& what);
  [[nodiscard]] Answer end();
  /// What was watched has come to its end: the note. Nothing where nothing is watched.
  void ended(const std::string& how);

  /// With what came since.
  void look();

  [[nodiscard]] bool is_under_way() const { return watching_.has_value(); }
  /// The refusal of a command that would make what is watched worthless.
  [[nodiscard]] std::optional<Answer> stands_against(const char* command) const;

  /// What is watched, for the page.
  struct Watching {
    Told what;  // "move 2: east rod, rise 1.75 mm"; "stage in use"
    std::optional<int> order;
    double turns = 0;  // of a rod; up positive
    job::LiveTarget target{{}, {}, {}};
    std::optional<job::TargetNow> now;   // none: nothing is known now
    std::optional<job::TargetNow> seen;  // the last of `now`
    Told silent;                         // of what nothing comes any more
    bool stop_said = false;
    std::int64_t told_us = 0;
  };
  [[nodiscard]] const std::optional<Watching>& now() const { return watching_; }
  /// Where a walking instrument sees most of that move; none: no move is to be made, or no instrument walks.
  [[nodiscard]] std::optional<job::PlaceToWatch> best_place(int order) const;

 private:
  [[nodiscard]] Result<std::vector<job::WatchedChannel>, Told> settled() const;
  [[nodiscard]] Told named(const job::ChannelId& channel) const;
  [[nodiscard]] std::optional<job::MoveToMake> move_to_make(int order,
                                                            std::vector<beam::Motions<double>>& made) const;
  struct SeenNow {
    job::ReadsNow reads;
    bool at_rest = false;
  };
  [[nodiscard]] std::optional<SeenNow> reads_now(const job::ChannelId& id) const;
  void tell();

  const Sheets& sheets_;
  SurveyLog& log_;
  const Instruments& instruments_;
  const Stand& stand_;
  SurveyUnderWay& survey_;
  const MovesOnJob& moves_;
  const Announcer& announcer_;
  std::optional<Watching> watching_;
};

}  // namespace hangtrue::daemon
