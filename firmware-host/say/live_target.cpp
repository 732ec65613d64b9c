#include "firmware-host/say/live_target.hpp"

#include <algorithm>
#include <cmath>

#include "firmware-host/say/instrument.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::say {
namespace {

std::string motion_word(job::UnknownOf of, sheet::Show show) {
  return said(show, of == job::UnknownOf::move_rise    ? "rise"
                    : of == job::UnknownOf::move_pitch ? "pitch"
                                                       : "roll");
}

std::string looks_like_words(const sheet::RunSheet& run, const job::TargetNow& now) {
  std::string words;
  for (const job::LooksLike& each : now.looks_like)
    words += said(run.show, words.empty() ? " It looks as if this came too: " : "; or ") + each.what.name +
             ' ' + motion_word(each.what.of, run.show) + ' ' + value_and_sigma(each.size, run.show);
  return words.empty() ? said(run.show, " No one support alone would do that.") : words + '.';
}

}  // namespace

std::string watched_words(const sheet::RunSheet& run, const job::WatchedChannel& watched) {
  return text(run.show, "{} {} at {}", watched.channel.instrument,
              channel_words(watched.channel.channel, run.show),
              sheet::show_place(watched.place.at_m, run.show));
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
  const sheet::Show show = run.show;
  switch (now.verdict) {
    case job::TargetVerdict::on_the_way:
      return text(show, "On the way, {} of it.", percent(std::clamp(now.share, 0.0, 1.0), show));
    case job::TargetVerdict::done:
      return said(show, "Done: what is read is what must be read.");
    case job::TargetVerdict::too_far:
      return said(show, "Too far: go back until it reads what it must.");
    case job::TargetVerdict::wrong_way:
      return said(show, "Wrong way: the run answers as it would the other way round.");
    case job::TargetVerdict::stop:
      break;
  }
  std::size_t worst = 0;
  const auto off = [&](std::size_t i) { return std::abs(now.channels[i].off) / now.channels[i].off_sigma; };
  for (std::size_t i = 1; i < now.channels.size(); ++i)
    if (off(i) > off(worst)) worst = i;
  const job::WatchedChannel& watched = target.watched()[worst];
  return text(show,
              "Stop: the run answers otherwise than predicted. {} is {} off its path, which is known to {}.",
              watched_words(run, watched),
              channel_value(watched.channel.channel, now.channels[worst].off, show),
              channel_value(watched.channel.channel, now.channels[worst].off_sigma, show)) +
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
