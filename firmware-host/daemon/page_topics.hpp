// page_topics.hpp: what the page is told (firmware-host/page/messages.hpp), from what the daemon knows. Pure.
//
// Units   SI in, SI for drawing and words in site units out. Heights of `run` are less their mean over the stations.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "firmware-host/book/book.hpp"
#include "firmware-host/daemon/instrument_line.hpp"
#include "firmware-host/daemon/watched_change.hpp"
#include "firmware-host/job/recheck.hpp"
#include "firmware-host/job/stored_card.hpp"
#include "firmware-host/job/walk_progress.hpp"
#include "firmware-host/page/messages.hpp"

namespace hangtrue::daemon {

[[nodiscard]] page::Job job_topic(const sheet::RunSheet& run, std::string_view build);

/// Number of the station there, from 1; none where there is none.
[[nodiscard]] std::optional<int> station_number(const sheet::RunSheet& run, double at_m);

/// Values as of the run: face and what is known of zero errors taken out.
[[nodiscard]] page::Watch watch_topic(const Sheets& sheets,
                                      const std::optional<WatchedChange::Watching>& watching,
                                      const job::FitReport* fitted);

[[nodiscard]] page::Walk walk_topic(const sheet::RunSheet& run, const job::WalkProgress& progress);

[[nodiscard]] std::optional<page::Advice> advice(const sheet::RunSheet& run, const job::FitReport& report);

/// What people on site call a line, the last part of its path, in the place of the path.
[[nodiscard]] std::string with_line_name(std::string says, const std::string& port);

/// `face`: which way round the walking instruments stand. `fitted`: what is known of zero errors, or nullptr.
[[nodiscard]] page::LiveInstrument live_instrument(const InstrumentLine& instrument,
                                                   const job::InstrumentState& state, std::int64_t now_us,
                                                   int face, const job::FitReport* fitted, sheet::Show show);

/// `fitted`: what those that are kept were fitted to, in order, or nullptr. A take: entries without a gap.
[[nodiscard]] page::Readings readings_topic(const sheet::RunSheet& run,
                                            std::span<const book::BookedReading> booked,
                                            const job::FitReport* fitted);

/// `predicted`: the fit to nothing but the sheet. `kept`: the readings behind `report`, in order, with their entries.
struct KeptReading {
  book::Number entry = 0;
  const sheet::ReadingEntry* reading = nullptr;
};
[[nodiscard]] page::Run run_topic(const sheet::RunSheet& run, const job::FitReport& predicted,
                                  const job::FitReport& report, const job::Card& card,
                                  std::span<const KeptReading> kept,
                                  const std::vector<std::string>& warnings);

/// `stored`: of now, or from the book. `made`: orders of moves that were made.
/// What a person can settle by hand, of the doubts of a card.
[[nodiscard]] std::vector<page::HandQuestion> hand_questions(const sheet::RunSheet& run,
                                                             const std::vector<job::Doubt>& doubts);
[[nodiscard]] page::Card card_topic(const sheet::RunSheet& run, const job::StoredCard& stored,
                                    std::int64_t entry, std::span<const int> made);

/// Of an entry of the book that is no whole card: no moves and no answer, and why as its reason.
[[nodiscard]] page::Card unusable_card(std::int64_t entry, const std::string& why, sheet::Show show = {});

/// What a card promised, all its moves made, against what is found now; none where either is no number.
[[nodiscard]] std::optional<page::Compared> compared(const sheet::RunSheet& run, const std::string& survey,
                                                     const job::StoredCard& promised, const job::Card& found);

/// This survey against an earlier one.
[[nodiscard]] page::Recheck recheck_topic(const sheet::RunSheet& run, const job::Recheck& recheck);

/// Of one instrument, with the last check of each of its channels.
[[nodiscard]] page::KitInstrument kit_instrument(const sheet::KitInstrument& kit,
                                                 std::span<const book::NumberedEntry> checks,
                                                 const sheet::RunSheet& run);

}  // namespace hangtrue::daemon
