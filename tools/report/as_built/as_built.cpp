// The as-built record: its chapters in order, and what they share.
#include <algorithm>

#include "firmware-host/say/unknown.hpp"
#include "tools/report/as_built/writer.hpp"
#include "tools/report/common/kit.hpp"
#include "tools/report/common/record.hpp"

namespace hangtrue::report {

namespace {

double mean_height(const job::FitReport& fit) {
  double mean = 0;
  for (const auto& station : fit.stations) mean += station.height_m / double(fit.stations.size());
  return mean;
}

std::vector<JudgedReading> judged(const job::FittedSurvey& survey) {
  std::vector<JudgedReading> readings;
  std::size_t kept = 0;
  for (const book::BookedReading& each : survey.booked.readings)
    readings.push_back({&each, each.kept ? &survey.session->report().judgements.at(kept++) : nullptr});
  return readings;
}

}  // namespace

AsBuiltWriter::AsBuiltWriter(const AsBuilt& input)
    : Figures{input.run.show},
      from(input),
      run(input.run),
      last(input.history.last()),
      papers(input.papers.back()),
      kit(papers.kit ? &*papers.kit : nullptr),
      fit(last.session->report()),
      shape(run, fit),
      holds(fit.status == fit::Status::settled && fit.self_test.outcome == fit::TestOutcome::holds),
      mean_m(mean_height(fit)),
      readings(judged(last)) {}

int AsBuiltWriter::finished() const { return std::max(fit.stage, run.tolerance.stage); }

std::string AsBuiltWriter::quoted_stage(int stage) const {
  return text("stage \"{}\"", run.stages[std::size_t(stage)]);
}

std::vector<int> AsBuiltWriter::stages_shown() const {
  return fit.stage == finished() ? std::vector{fit.stage} : std::vector{fit.stage, finished()};
}

Row AsBuiltWriter::stage_row(int stage) const {
  return {{quoted_stage(stage) + said(stage == fit.stage ? ", as surveyed" : ", as it is to become")}, true};
}

std::string AsBuiltWriter::limit_source() const {
  const std::string& source = run.tolerance.span_ratio_source;
  return source.empty() ? said("not stated in the sheet") : source;
}

const fit::Estimate<double>* AsBuiltWriter::estimate(const job::UnknownId& id) const {
  for (const job::UnknownEstimate& each : fit.parameters)
    if (each.id == id) return &each.estimate;
  return nullptr;
}

void AsBuiltWriter::instruments() {
  document.add(Heading{said("Instruments, calibration and checks")});
  add_kit(document, run, papers, from.record);
}

std::string AsBuiltWriter::channel_name(const sheet::ReadingEntry& reading) const {
  return say::name_words(job::ChannelId{reading.instrument, reading.channel}, show);
}

Document as_built(const AsBuilt& from, Paper paper) {
  AsBuiltWriter writer(from);
  const book::Number last = writer.last.booked.record.last;
  writer.document = begin(writer.said("As-built record"), from.run,
                          writer.text("survey {}", writer.survey_id()), from.record, paper);
  writer.title();
  writer.result();
  writer.drawings();
  writer.levels();
  writer.forces();
  writer.moves();
  writer.hung();
  writer.supports();
  writer.instruments();
  writer.set_ups();
  writer.learned();
  writer.taught();
  writer.uncertainty();
  add_cautions_and_record(writer.document, from.record, last, from.run.show);
  writer.every_reading();
  return std::move(writer.document);
}

}  // namespace hangtrue::report
