#include "firmware-host/job/solved_run.hpp"

namespace hangtrue::job {

namespace {

std::string quoted(const std::string& name) { return '"' + name + '"'; }

std::string nth(const std::vector<std::string>& names, int index) {
  return index >= 0 && std::size_t(index) < names.size() ? quoted(names[std::size_t(index)]) : "?";
}
std::string support_name(const sheet::RunSheet& run, int index) {
  return index >= 0 && std::size_t(index) < run.supports.size()
             ? quoted(run.supports[std::size_t(index)].name)
             : "?";
}

}  // namespace

sheet::Complaint complaint(const sheet::RunSheet& run, const beam::RunFault& fault) {
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

sheet::Complaint complaint(const sheet::RunSheet& run, const beam::StageFault& fault) {
  using Code = beam::StageFaultCode;
  sheet::Complaint result{run.file, 0, "stage " + nth(run.stages, fault.stage), "", ""};
  switch (fault.code) {
    case Code::falls:
      result.found = "nothing that holds the run up: it is free to fall";
      result.expected = "a support that holds the rise and bears in this stage";
      break;
    case Code::tips:
      result.found = "a run held up at " + support_name(run, fault.support) +
                     " alone, with no pitch held: it is free to tip about it";
      result.expected = "a second support that bears, or a bracket that holds the pitch";
      break;
    case Code::spins:
      result.found = "nothing that holds the roll: the run is free to spin about its own length";
      result.expected = "a support that holds the roll and bears in this stage";
      break;
    case Code::over_determined:
      result.found = "two rigid supports at one place, the later " + support_name(run, fault.support) +
                     ": which carries what cannot be told";
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

SolvedRun::SolvedRun(const sheet::RunSheet& run, int columns) {
  const beam::Run<double> view = run.run();
  storage_.resize(beam::Solver<double>::storage_needed(view, columns));
  auto made = beam::Solver<double>::create(view, columns, storage_);
  if (!made) {
    trouble_ = complaint(run, made.fault());
    return;
  }
  solver_ = std::move(made).value();
  if (const auto solved = solver_->solve(beam::State<double>{}); !solved)
    trouble_ = complaint(run, solved.fault());
}

}  // namespace hangtrue::job
