#include "firmware-host/say/complaint.hpp"

#include <fmt/format.h>

#include "firmware-host/say/cases.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/not_comparable.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::say {

namespace {

std::string nth(const std::vector<std::string>& names, int index) {
  return index >= 0 && std::size_t(index) < names.size() ? in_quotes(names[std::size_t(index)]) : "?";
}
std::string support_name(const sheet::RunSheet& run, int index) {
  return index >= 0 && std::size_t(index) < run.supports.size()
             ? in_quotes(run.supports[std::size_t(index)].name)
             : "?";
}

sheet::Complaint of(const sheet::RunSheet& run, const beam::RunFault& fault) {
  using Code = beam::RunFaultCode;
  sheet::Complaint result{run.file, 0, "run", "", ""};
  const std::string index = std::to_string(fault.index + 1);
  switch (fault.code) {
    case Code::pieces_do_not_cover:
      result.found = "members that leave a gap at piece " + index;
      result.expected = "members that carry from the start mark to the end";
      break;
    case Code::stiffness_not_positive:
      result.found = "a stiffness of piece " + index + " that is not above zero";
      result.expected = "EI, GJ and shear stiffness above zero";
      break;
    case Code::load_off_run:
    case Code::load_not_finite:
      result.found = "part " + index + " of the loads off the run or without end";
      result.expected = "loads between the start mark and the end";
      break;
    case Code::load_kinds_mixed:
      result.found = "warmth and weight in one load";
      result.expected = "a load of its own for each";
      break;
    case Code::support_off_run:
    case Code::compliance_negative:
      result.found =
          "support " + support_name(run, fault.index) + " off the run, or with a negative stiffness";
      result.expected = "a place on the run and stiffnesses above zero";
      break;
    case Code::too_many:
    case Code::storage_too_small:
      result.found = "more than fits";
      result.expected = "at most " + std::to_string(kMaxSupports) + " supports, " +
                        std::to_string(kMaxStages) + " stages, " + std::to_string(kMaxLoads) + " loads";
      break;
    case Code::no_stage:
      result.found = "no stage";
      result.expected = "at least one [[stage]]";
      break;
  }
  return result;
}

// Those of the stage that can only hold the run up, where none of them bears but `bears`: why so little is left to hold it.
std::string let_go(const sheet::RunSheet& run, const beam::StageFault& fault) {
  if (fault.stage < 0 || std::size_t(fault.stage) >= run.beam_stages.size()) return {};
  std::vector<std::string> names;
  for (std::size_t i = 0; i < run.supports.size(); ++i)
    if (int(i) != fault.support && run.beam_supports[i].one_way() &&
        run.beam_stages[std::size_t(fault.stage)].lists_support(int(i)))
      names.push_back(in_quotes(run.supports[i].name));
  if (names.empty()) return {};
  return "; " + listed(names) +
         (names.size() == 1 ? ", which only pushes or pulls, hangs free"
                            : ", which only push or pull, hang free") +
         " under these loads";
}

sheet::Complaint of(const sheet::RunSheet& run, const beam::StageFault& fault) {
  using Code = beam::StageFaultCode;
  sheet::Complaint result{run.file, 0, "stage " + nth(run.stages, fault.stage), "", ""};
  switch (fault.code) {
    case Code::falls:
      result.found = "nothing that holds the run up: it is free to fall" + let_go(run, fault);
      result.expected = "a support that holds the rise and bears in this stage";
      break;
    case Code::tips:
      result.found = "a run held up at " + support_name(run, fault.support) +
                     " alone, with no pitch held: it is free to tip about it" + let_go(run, fault);
      result.expected = "a second support that bears, or a bracket that holds the pitch";
      break;
    case Code::spins:
      result.found = "nothing that holds the roll: the run is free to spin about its own length";
      result.expected =
          "a support that holds the roll and bears in this stage, or supports side by side (across) that do";
      break;
    case Code::over_determined:
      result.found = "rigid supports at one place that hold the same motions, the last of them " +
                     support_name(run, fault.support) + ": which carries what cannot be told";
      result.expected = "a stiffness for one of them, or one support";
      break;
    case Code::does_not_settle:
      result.found = "one-way supports of which no choice bears without another being pulled on";
      result.expected = "supports that can carry the loads of this stage";
      break;
    case Code::state_not_usable:
      result.found = "values that cannot be solved for";
      result.expected = "stiffness factors above zero and finite offsets";
      break;
  }
  return result;
}

sheet::Complaint of(const sheet::RunSheet& run, const adjust::AdjustFault& fault) {
  using Code = adjust::AdjustFaultCode;
  sheet::Complaint result{run.file, 0, "adjust", "", ""};
  switch (fault.code) {
    case Code::no_points:
      result.found = "no station";
      result.expected = "stations to be level at";
      break;
    case Code::too_many:
      result.found = "more to adjust than can be searched";
      result.expected = "at most " + std::to_string(adjust::kMaxSettings) + " stacks and rods, " +
                        std::to_string(adjust::kMaxStocks) + " stocks of " +
                        std::to_string(adjust::kMaxPieceKinds) + " thicknesses";
      break;
    case Code::too_many_stacks:
      result.key = "stock";
      result.found =
          "a stock that allows more than " + std::to_string(adjust::kMaxStackForms) + " different stacks";
      result.expected = "fewer thicknesses, or fewer pieces in a stack";
      break;
    case Code::stock_not_usable:
      result.key = "stock";
      result.found = "a stock with a thickness or count that cannot be used";
      result.expected = "thicknesses above zero, counts of zero and more";
      break;
    case Code::rows_missing:
      result.found = "pitch or roll to adjust without bolt rows";
      result.expected = "bolt_rows = { along = ..., across = ... }";
      break;
    case Code::step_not_positive:
      result.found = "a rod or lift without a step";
      result.expected = "thread and step, or step";
      break;
    case Code::travel_reversed:
      result.found = "a travel that ends below its beginning";
      result.expected = "rise = [lowest, highest]";
      break;
    case Code::sizes_differ:
    case Code::not_finite:
      result.found = "influences that cannot be used";
      result.expected = "finite heights and forces";
      break;
  }
  return result;
}

sheet::Complaint of(const sheet::RunSheet& run, const job::CannotFit& cause) {
  using Code = fit::FitFaultCode;
  sheet::Complaint result{run.file, 0, "fit", "", ""};
  switch (cause.fault.code) {
    case Code::run_not_solvable:
      return of(run, cause.fault.stage_fault);
    case Code::reading_not_finite:
    case Code::sigma_not_positive:
    case Code::reading_off_run:
    case Code::no_such_instrument:
      result.key = fmt::format("reading {}", cause.fault.index + 1);
      result.found = "a value, place or sigma that cannot be used";
      result.expected = "finite values on the run, sigma above zero";
      break;
    case Code::prior_not_usable:
      result.found = "a prior without sense of " + (cause.unknown ? name_of(*cause.unknown) : "an unknown");
      result.expected = "finite mean and sigma";
      break;
    case Code::stage_not_there:
      result.found = "a survey after the finished stage";
      result.expected = "a stage of the run sheet";
      break;
    case Code::no_unknowns:
    case Code::unknowns_out_of_order:
    case Code::width_not_usable:
    case Code::station_off_run:
    case Code::face_not_usable:
    case Code::storage_too_small:
    case Code::not_begun:
      result.found = "no unknown to estimate, or a station off the run";
      result.expected = "supports with a prior, stations on the run";
      break;
  }
  return result;
}

sheet::Complaint of(const sheet::RunSheet&, const book::Fault& fault) {
  return {"level book", 0, "", fault.says, "a level book that can be read"};
}

sheet::Complaint of(const sheet::RunSheet& run, const job::TooManyUnknowns&) {
  return {run.file, 0, "run", fmt::format("more than {} unknowns", kMaxUnknowns),
          "fewer supports, loads, set-ups or instrument channels"};
}

sheet::Complaint of(const sheet::RunSheet& run, const job::TooManyInstruments& many) {
  return {run.file, 0, "survey", fmt::format("{} set-ups and {} channels", many.set_ups, many.channels),
          fmt::format("at most {} and {}", kMaxSetUps, kMaxChannels)};
}

sheet::Complaint of(const sheet::RunSheet& run, const job::NoTolerance&) {
  return {run.file, 0, "tolerance.level", "none", "how level the finished run must be, such as \"1.5 mm\""};
}

sheet::Complaint of(const sheet::RunSheet&, const job::SheetNotReadable& sheet) {
  return sheet.complaints.front();
}

sheet::Complaint of(const sheet::RunSheet& run, const job::NotComparable& cause) {
  return not_comparable(cause, run.show);
}

sheet::Complaint of(const sheet::RunSheet&, const job::NoChannelReadsTheRun& kit) {
  return {kit.kit_file, 0, "instrument.channel", "no channel that reads the run",
          "at least one that gives slope, roll or distance"};
}

sheet::Complaint of(const sheet::RunSheet& run, const job::CannotPlan&) {
  return {run.file, 0, "run", "a run that cannot be planned for",
          "fewer supports, loads or instrument channels"};
}

}  // namespace

sheet::Complaint complaint(const sheet::RunSheet& run, const job::Fault& fault) {
  return std::visit([&](const auto& cause) { return of(run, cause); }, fault);
}

std::string complaint_words(const sheet::RunSheet& run, const job::Fault& fault) {
  if (run.show.language == sheet::Language::english) return complaint(run, fault).text();
  const sheet::Show show = run.show;
  return std::visit(
      Cases{[&](const job::NotComparable& cause) { return not_comparable_words(cause, show); },
            [&](const beam::StageFault&) {
              return said(show,
                          "The run as the sheet has it cannot be worked out: something does not hold it. The "
                          "computer says more.");
            },
            [&](const job::NoTolerance&) {
              return said(show, "The run sheet does not say how level the finished run must be.");
            },
            [&](const book::Fault&) {
              return said(show, "The level book cannot be read or written. The computer says more.");
            },
            [&](const auto&) {
              return said(show, "This cannot be worked out from the sheets. The computer says more.");
            }},
      fault);
}

}  // namespace hangtrue::say
