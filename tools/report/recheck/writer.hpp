// writer.hpp: the recheck report while it is written: what its chapters draw on, and the chapters.
#pragma once

#include <string>

#include "tools/report/common/figures.hpp"
#include "tools/report/reports.hpp"

namespace hangtrue::report {

struct RecheckWriter : Figures {
  explicit RecheckWriter(const Rechecked& input)
      : Figures{input.run.show}, from(input), run(input.run), recheck(input.recheck) {}

  const Rechecked& from;
  const sheet::RunSheet& run;
  const job::Recheck& recheck;
  Document document;

  /// The last entry of the level book that the report rests on.
  [[nodiscard]] book::Number last() const;

  /// "east rod: rise, load books".
  [[nodiscard]] std::string changes_words(const std::vector<job::UnknownId>& changes) const;

  void title();
  void answer();
  void shapes();
  void changes();
  void drift();
  void trends();
  void datum();
  void uncertainty();
};

}  // namespace hangtrue::report
