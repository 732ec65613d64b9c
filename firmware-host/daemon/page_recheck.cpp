#include "firmware-host/daemon/page_topics.hpp"

#include <algorithm>
#include <cmath>

#include "firmware-host/say/language.hpp"
#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/recheck.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::daemon {

page::Recheck recheck_topic(const sheet::RunSheet& run, const job::Recheck& recheck) {
  const auto fine = [&](double length_m) { return sheet::show_fine(length_m, run.show); };
  page::Recheck topic;
  topic.from = recheck.from;
  topic.to = recheck.to;
  topic.from_time = book::rfc3339(recheck.from_time);
  topic.to_time = book::rfc3339(recheck.to_time);
  topic.answer = say::word(recheck.answer);
  topic.says = say::reason(run, recheck);
  topic.heights_compared = recheck.heights_compared;
  topic.marks = recheck.marks;
  for (const job::Cause& cause : recheck.causes) {
    std::string or_else;
    for (const job::UnknownId& other : cause.or_else)
      or_else += (or_else.empty() ? "" : ", ") + say::change_words(other, run.show);
    topic.causes.push_back({say::moved(cause, run.show), std::move(or_else)});
  }
  if (recheck.drift.verdict != job::DriftVerdict::none_expected)
    topic.drift_verdict = say::word(recheck.drift.verdict);
  topic.drift = say::drift(recheck.drift, run.show);
  topic.drift_reasons = say::drift_reasons(recheck.drift, run.show);
  topic.level_from = fine(recheck.level.from_m);
  topic.level_to = fine(recheck.level.to_m);
  topic.level_sigma = fine(recheck.level.to_sigma_m);
  for (const job::StationChange& at : recheck.stations)
    topic.stations.push_back({at.at_m, sheet::show_place(at.at_m, run.show), at.from_m, at.to_m, at.change_m,
                              at.sigma_m, fine(at.from_m), fine(at.to_m), fine(at.change_m),
                              fine(at.sigma_m)});
  for (const job::ChangeSeen& seen : recheck.seen) {
    page::ChangeSeen& shown = topic.seen.emplace_back();
    shown.name = say::change_words(seen.id, run.show);
    if (!seen.can_be_seen) continue;
    shown.value = say::value(seen.change, run.show);
    shown.sigma = say::sigma(seen.change, run.show);
    shown.smallest = say::value({seen.change.kind, seen.smallest_detectable, 0}, run.show);
    shown.chance = say::percent(seen.p_corrected, run.show);
  }
  for (const job::Trend& trend : recheck.trends) topic.trends.push_back(say::trend(trend, run.show));
  for (const auto& pair : recheck.cannot_be_told_apart)
    topic.cannot_be_told_apart.push_back(say::twins(pair, run.show));
  topic.remarks = say::remarks(recheck, run.show);
  return topic;
}

}  // namespace hangtrue::daemon
