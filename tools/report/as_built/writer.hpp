// writer.hpp: the as-built record while it is written: what its chapters draw on, and the chapters.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "tools/report/as_built/fitted_shape.hpp"
#include "tools/report/common/figures.hpp"
#include "tools/report/reports.hpp"

namespace hangtrue::report {

/// A reading with what the fit said of it; nothing of one that was set aside by hand.
struct JudgedReading {
  const book::BookedReading* booked = nullptr;
  const fit::Judgement<double>* judgement = nullptr;

  [[nodiscard]] const sheet::ReadingEntry& reading() const { return booked->reading; }
  [[nodiscard]] bool used() const { return judgement != nullptr && judgement->verdict == fit::Verdict::kept; }
};

struct AsBuiltWriter : Figures {
  explicit AsBuiltWriter(const AsBuilt& input);

  const AsBuilt& from;
  const sheet::RunSheet& run;
  const job::FittedSurvey& last;
  const Papers& papers;
  const sheet::KitSheet* kit;  // may be nullptr
  const job::FitReport& fit;
  const FittedShape shape;
  const bool holds;                           // whether the fit settled and passes its own test
  const double mean_m;                        // height over the stations
  const std::vector<JudgedReading> readings;  // all, in order
  Document document;

  [[nodiscard]] const std::string& survey_id() const { return last.booked.record.begun.id; }
  [[nodiscard]] int finished() const;  // the stage
  /// "stage \"in use\"".
  [[nodiscard]] std::string quoted_stage(int stage) const;
  /// The stage of the survey and the finished one; one where they are the same.
  [[nodiscard]] std::vector<int> stages_shown() const;
  [[nodiscard]] Row stage_row(int stage) const;
  [[nodiscard]] std::string limit_source() const;
  /// "walking inclinometer slope".
  [[nodiscard]] std::string channel_name(const sheet::ReadingEntry& reading) const;
  [[nodiscard]] const fit::Estimate<double>* estimate(const job::UnknownId& id) const;

  void title();
  void result();
  void drawings();
  void levels();
  void forces();
  void moves();
  void hung();
  void supports();
  void instruments();
  void set_ups();
  void learned();
  void taught();
  void uncertainty();
  void every_reading();
};

}  // namespace hangtrue::report
