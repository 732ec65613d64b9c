// Every change that was looked for, and what the run was expected to do by itself.
#include <algorithm>

#include "firmware-host/say/recheck.hpp"
#include "tools/report/recheck/writer.hpp"

namespace hangtrue::report {

namespace {

Row row_of(const RecheckWriter& of, const job::ChangeSeen& seen) {
  if (!seen.can_be_seen)
    return {{say::change_words(seen.id, of.show), "-", "-", "-", "-", "-",
             of.said("cannot be seen with these readings")},
            false,
            true};
  const auto& causes = of.recheck.causes;
  const bool named = std::any_of(causes.begin(), causes.end(),
                                 [&](const job::Cause& cause) { return cause.change.id == seen.id; });
  const bool significant = seen.p_corrected < 1 - job::kRecheckConfidence;
  const job::Quantity& change = seen.change;
  return {{say::change_words(seen.id, of.show), of.value(change), of.sigma_of(change),
           of.p_words(seen.p_value), of.p_words(seen.p_corrected),
           of.value({change.kind, seen.smallest_detectable}),
           of.said(named         ? "NAMED"
                   : significant ? "explained by what is named"
                                 : "no")}};
}

std::vector<std::string> typeset_all(std::vector<std::string> texts) {
  for (std::string& each : texts) each = typeset(std::move(each));
  return texts;
}

}  // namespace

std::string RecheckWriter::changes_words(const std::vector<job::UnknownId>& changes) const {
  std::vector<std::string> words;
  for (const job::UnknownId& each : changes) words.push_back(say::change_words(each, show));
  return listed(words);
}

void RecheckWriter::changes() {
  document.add(Heading{said("Every change that was looked for")});
  Table table{said("Each change tested by itself"),
              columns(said("change|>value|>sigma|>p|>p, corrected|>smallest detectable|finding")),
              {}};
  for (const job::ChangeSeen& seen : recheck.seen) table.rows.push_back(row_of(*this, seen));
  table.note = text(
      "Each as if it were the only change. Smallest detectable: a change of that size would be found in {} "
      "of the cases, at a confidence of {} corrected likewise; a smaller one can have happened unseen. "
      "Loads and stiffness as shares.",
      percentage(job::kRecheckPower), percentage(job::kRecheckConfidence));
  document.add(std::move(table));
  if (!recheck.cannot_be_told_apart.empty()) {
    document.add(Paragraph{"", said("What these two surveys cannot tell apart")});
    std::vector<std::string> pairs;
    for (const auto& each : recheck.cannot_be_told_apart) pairs.push_back(say::twins(each, show));
    document.add(Items{typeset_all(std::move(pairs))});
  }
}

void RecheckWriter::drift() {
  document.add(Heading{said("What the run was expected to do by itself")});
  const job::ExpectedDrift& drift = recheck.drift;
  const std::string words = say::drift(drift, show);
  if (!words.empty()) document.add(Paragraph{typeset(words)});
  if (const auto reasons = say::drift_reasons(drift, show); !reasons.empty())
    document.add(Items{typeset_all(reasons)});
  if (drift.verdict == job::DriftVerdict::none_expected) {
    if (words.empty())
      document.add(Paragraph{said(
          "Nothing: no part that creeps under lasting load, and no rod that was read at another warmth.")});
    return;
  }
  const bool told = drift.verdict != job::DriftVerdict::cannot_tell;
  Table table{said("Expected drift beside the measured"),
              columns(said("|>expected|>sigma|>measured share of it|>sigma|finding")),
              {}};
  table.rows.push_back({{text("lowest point against the outer stations, {} days", plain(drift.days, 0)),
                         fine(drift.sag_m), sigma(drift.sag_sigma_m), told ? percentage(drift.share) : "-",
                         told ? percentage(drift.share_sigma) : "-", said(say::word(drift.verdict))}});
  table.note =
      said("The measured share takes nothing of what was expected for granted. A negative height sinks.");
  document.add(std::move(table));
}

}  // namespace hangtrue::report
