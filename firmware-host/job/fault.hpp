// fault.hpp: why a piece of job's work cannot be done: typed causes with their numbers and names, and no sentence.
//
// Every function of job that can fail returns Result<Value, Fault>. say/complaint.hpp makes of a fault what people read:
// file, line, key, what was found and what would be right.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "core/adjust/search.hpp"
#include "core/beam/solver.hpp"
#include "core/fit/fit.hpp"
#include "core/quantity/result.hpp"
#include "firmware-host/book/book.hpp"
#include "firmware-host/job/not_comparable.hpp"
#include "firmware-host/job/unknown_id.hpp"
#include "firmware-host/sheet/complaint.hpp"

namespace hangtrue::job {

/// A fit that could not begin or run. Where the run could not be solved the fault is a beam::StageFault instead.
struct CannotFit {
  fit::FitFault fault;
  std::optional<UnknownId> unknown;  // whose prior cannot be used
};

/// More unknowns than kMaxUnknowns.
struct TooManyUnknowns {};

/// More set-ups than kMaxSetUps, or more channels with a zero error than kMaxChannels.
struct TooManyInstruments {
  int set_ups = 0, channels = 0;
};

/// A card was asked for of a run whose sheet names no level.
struct NoTolerance {};

/// A sheet, in a file or in the level book, that cannot be read: all that is wrong with it, one or more.
struct SheetNotReadable {
  std::vector<sheet::Complaint> complaints;
};

/// A plan was asked for with a kit sheet none of whose channels reads the run.
struct NoChannelReadsTheRun {
  std::string kit_file;
};
/// A run of which no plan can be made, though it can be solved.
struct CannotPlan {};

using Fault = std::variant<beam::RunFault, beam::StageFault, CannotFit, adjust::AdjustFault, book::Fault,
                           TooManyUnknowns, TooManyInstruments, NoTolerance, SheetNotReadable, NotComparable,
                           NoChannelReadsTheRun, CannotPlan>;

}  // namespace hangtrue::job
