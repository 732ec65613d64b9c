#include "firmware-host/say/live_target.hpp"

#include <algorithm>
#include <cmath>

#include "firmware-host/say/instrument.hpp"
#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::say {
namespace {

std::string motion_word(job::UnknownOf of) {
  return of == job::UnknownOf::move_rise ? "rise" : of == job::UnknownOf::move_pitch ? "pitch" : "roll";
}

std::string looks_like_words(const sheet::RunSheet& run, const job::TargetNow& now) {
  std::string words;
  for (const job::LooksLike& each : now.looks_like)
    words += (words.empty() ? " It looks as if this came too: " : "; or ") + each.what.name + ' ' +
             motion_word(each.what.of) + ' ' + value_and_sigma(each.size, run.show);
  return words.empty() ? " No one support alone would do that." : words + '.';
}

}  // namespace

std::string watched_words(const sheet::RunSheet& run, const job::WatchedChannel& watched) {
  return job::name_of(watched.channel) + " at " + sheet::show_place(watched.place.at_m, run.show);
}

std::string_view word(job::TargetVerdict verdict) {
  switch (verdict) {
    case job::TargetVerdict::on_the_way:
      return "on the way";
    case job::TargetVerdict::done:
      return "done";
    case job::TargetVerdict::too_far:
      return "too far";
    case job::TargetVerdict::wrong_way:
      return "wrong way";
    case job::TargetVerdict::stop:
      return "stop";
  }
  return "";
}

std::string target_words(const sheet::RunSheet& run, const job::LiveTarget& target,
                         const job::TargetNow& now) {
  const std::string share = percent(std::clamp(now.share, 0.0, 1.0));
  switch (now.verdict) {
    case job::TargetVerdict::on_the_way:
      return "On the way, " + share + " of it.";
    case job::TargetVerdict::done:
      return "Done: what is read is what must be read.";
    case job::TargetVerdict::too_far:
      return "Too far: go back until it reads what it must.";
    case job::TargetVerdict::wrong_way:
      return "Wrong way: the run answers as it would the other way round.";
    case job::TargetVerdict::stop:
      break;
  }
  std::size_t worst = 0;
  const auto off = [&](std::size_t i) { return std::abs(now.channels[i].off) / now.channels[i].off_sigma; };
  for (std::size_t i = 1; i < now.channels.size(); ++i)
    if (off(i) > off(worst)) worst = i;
  const job::WatchedChannel& watched = target.watched()[worst];
  return "Stop: the run answers otherwise than predicted. " + watched_words(run, watched) + " is " +
         channel_value(watched.channel.channel, now.channels[worst].off, run.show) +
         " off its path, which is known to " +
         channel_value(watched.channel.channel, now.channels[worst].off_sigma, run.show) + '.' +
         looks_like_words(run, now);
}

std::string target_record(const sheet::RunSheet& run, const job::LiveTarget& target,
                          const job::TargetNow& now) {
  std::string record =
      std::string(word(now.verdict)) + ", " + percent(std::clamp(now.share, 0.0, 1.0)) + " of the way";
  for (std::size_t i = 0; i < now.channels.size(); ++i) {
    const job::WatchedChannel& watched = target.watched()[i];
    const auto shown = [&](double value) { return channel_value(watched.channel.channel, value, run.show); };
    record += "; " + watched_words(run, watched) + " read " + shown(watched.place.value) + " before, " +
              shown(now.channels[i].now) + " now, due " + shown(now.channels[i].must_read) + " +- " +
              shown(now.channels[i].band);
  }
  return record;
}

}  // namespace hangtrue::say
