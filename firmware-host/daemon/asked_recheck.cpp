#include "firmware-host/daemon/asked_recheck.hpp"

#include <utility>

#include "firmware-host/daemon/page_topics.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/recheck.hpp"

namespace hangtrue::daemon {

Answer AskedRecheck::ask(const CompareWith& command) {
  const auto from = log_.earlier(command.survey);
  if (!from.ok()) return refused("recheck", sheets_.told(from.fault()));
  if (!from.value())
    return refused(
        "recheck",
        command.survey.empty()
            ? sheets_.told("no earlier survey of stage \"{}\" has readings in this book; recheck and a "
                           "survey's name takes another",
                           log_.stage())
            : sheets_.told("there is no survey \"{}\" in {}", command.survey, log_.path()));
  if (from.value()->begun.id == log_.id())
    return refused("recheck",
                   sheets_.told("survey \"{}\" is the one under way; name an earlier one", log_.id()));
  from_ = from.value()->begun.id;
  make();
  if (recheck_) announcer_.say_lines(say::recheck_view(sheets_.run, *recheck_));
  return answered(Event::recheck,
                  sheets_.told("survey {} is compared with survey {}: ", log_.id(), from_) +
                      (recheck_ ? sheets_.both([&](const sheet::RunSheet& run) {
                        return say::said(run.show, say::word(recheck_->answer));
                      })
                                : trouble_),
                  {{"from", from_}});
}

void AskedRecheck::make() {
  recheck_.reset();
  trouble_ = {};
  due_ = false;
  if (survey_.readings() == 0) {
    trouble_ = sheets_.told("nothing has been read in this survey yet");
    return;
  }
  auto made = log_.recheck(sheets_, from_);
  if (made.ok())
    recheck_ = std::move(made).value();
  else
    trouble_ = sheets_.told(made.fault());
}

std::optional<page::Recheck> AskedRecheck::topic() {
  if (from_.empty()) return std::nullopt;
  if (due_) make();
  page::Recheck topic;
  if (recheck_) {
    topic = recheck_topic(sheets_.shown, *recheck_);
  } else {
    topic.from = from_;
    topic.to = log_.id();
  }
  topic.trouble = trouble_.words;
  return topic;
}

}  // namespace hangtrue::daemon
