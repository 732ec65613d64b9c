#include "firmware-host/daemon/asked_recheck.hpp"

#include <utility>

#include "firmware-host/daemon/page_topics.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/recheck.hpp"

namespace hangtrue::daemon {

Answer AskedRecheck::ask(const CompareWith& command) {
  const auto from = log_.earlier(command.survey);
  if (!from.ok()) return refused("recheck", from.fault().says);
  if (!from.value())
    return refused("recheck",
                   command.survey.empty()
                       ? "no earlier survey of stage \"" + log_.stage() +
                             "\" has readings in this book; recheck and a survey's name takes another"
                       : "there is no survey \"" + command.survey + "\" in " + log_.path());
  if (from.value()->begun.id == log_.id())
    return refused("recheck", "survey \"" + log_.id() + "\" is the one under way; name an earlier one");
  from_ = from.value()->begun.id;
  make();
  if (recheck_) announcer_.say_lines(say::recheck_view(sheets_.run, *recheck_));
  return answered(Event::recheck,
                  "survey " + log_.id() + " is compared with survey " + from_ + ": " +
                      (recheck_ ? std::string(say::word(recheck_->answer)) : trouble_),
                  {{"from", from_}});
}

void AskedRecheck::make() {
  recheck_.reset();
  trouble_.clear();
  due_ = false;
  if (survey_.readings() == 0) {
    trouble_ = "nothing has been read in this survey yet";
    return;
  }
  auto made = log_.recheck(sheets_, from_);
  if (made.ok())
    recheck_ = std::move(made).value();
  else
    trouble_ = say::complaint(sheets_.run, made.fault()).text();
}

std::optional<page::Recheck> AskedRecheck::topic() {
  if (from_.empty()) return std::nullopt;
  if (due_) make();
  page::Recheck topic;
  if (recheck_) {
    topic = recheck_topic(sheets_.run, *recheck_);
  } else {
    topic.from = from_;
    topic.to = log_.id();
  }
  topic.trouble = trouble_;
  return topic;
}

}  // namespace hangtrue::daemon
