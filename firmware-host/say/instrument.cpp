#include "firmware-host/say/instrument.hpp"

#include <fmt/format.h>

#include "firmware-host/say/language.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::say {
namespace {

/// Word and sentence of each condition; one function for each, so that a new one does not compile without its words.
struct Words {
  sheet::Show show;

  struct Pair {
    std::string word, sentence;
  };
  std::string value(Channel channel, double value) const { return channel_value(channel, value, show); }
  std::string name(Channel channel) const { return channel_words(channel, show); }

  Pair operator()(const job::AboutToOpen&) const {
    return {"waiting", said(show, "its line is about to be opened")};
  }
  Pair operator()(const job::ListenedTo& now) const {
    return {"waiting", text(show, "{}, and is listened to", now.line)};
  }
  Pair operator()(const job::LineTrouble& of) const { return {of.word, of.sentence}; }
  Pair operator()(const job::DamagedSentences& on) const {
    return {"noisy",
            text(show,
                 "more than one sentence in twenty on {} comes damaged; check its cable, shield and ground, "
                 "and that two do not talk at once",
                 on.port)};
  }
  Pair operator()(const job::OtherBytes& on) const {
    return {
        "silent",
        text(show,
             "{} brings bytes, but not all that the kit sheet says of {}; status shows what becomes of them",
             on.port, on.instrument)};
  }
  Pair operator()(const job::Speaks&) const { return {"well", said(show, "speaks")}; }
  Pair operator()(const job::GivesNoReadings&) const {
    return {"well", said(show, "gives no readings, and is listened to for what it gives")};
  }
  Pair operator()(const job::NeverCame& of) const {
    return {"silent", text(show, "no {} has come yet; is it switched on, and does it call it \"{}\"?",
                           name(of.channel), of.transducer)};
  }
  Pair operator()(const job::ComesNoMore& of) const {
    return {"silent",
            text(show, "no {} comes any more; is it switched on, and its battery good?", name(of.channel))};
  }
  Pair operator()(const job::NotANumber& of) const {
    return {"not a number", text(show, "{} comes as no number", name(of.channel))};
  }
  Pair operator()(const job::OutOfRange& of) const {
    const std::string is = value(of.channel, of.value), from = value(of.channel, of.from),
                      to = value(of.channel, of.to);
    return {"out of range",
            of.of_kit_sheet
                ? text(show,
                       "{} is {}, beyond the {} to {} that the kit sheet gives it; does it stand where it "
                       "should, and in the unit it should?",
                       name(of.channel), is, from, to)
                : text(show,
                       "{} is {}, beyond the {} to {} that it can be; does it stand where it should, and in "
                       "the unit it should?",
                       name(of.channel), is, from, to)};
  }
  Pair operator()(const job::StuckAt& of) const {
    return {
        "stuck",
        text(show,
             "{} has been the very same {} for over a minute, though it varied before; switch it off and on",
             name(of.channel), value(of.channel, of.value))};
  }
  Pair operator()(const job::NotAtRest& of) const {
    return {
        "noisy",
        text(show,
             "{} does not come to rest: it spreads over {}, and may over {}; is somebody on the run, or the "
             "instrument loose?",
             name(of.channel), value(of.channel, of.spread), value(of.channel, of.may_spread))};
  }
};

}  // namespace

std::string word(const job::InstrumentState& state) {
  return std::visit(Words{sheet::Show::metric}, state.condition).word;
}

std::string sentence(const job::InstrumentState& state, sheet::Show show) {
  return std::visit(Words{show}, state.condition).sentence;
}

std::string_view word(survey::Verdict verdict) {
  switch (verdict) {
    case survey::Verdict::never_seen:
      return "never seen";
    case survey::Verdict::stale:
      return "nothing comes any more";
    case survey::Verdict::not_finite:
      return "not a number";
    case survey::Verdict::out_of_range:
      return "out of its range";
    case survey::Verdict::stuck:
      return "stuck at one value";
    case survey::Verdict::settled:
      return "settled";
    case survey::Verdict::noisy:
      return "does not come to rest";
    case survey::Verdict::moving:
      return "still moving";
  }
  return "";
}

std::string words(const job::ChannelState& state, sheet::Show show) {
  const std::string words = channel_words(state.channel, show) + ' ' + said(show, word(state.verdict));
  if (!state.newest || state.verdict == survey::Verdict::stale) return words;
  if (state.verdict == survey::Verdict::moving || state.verdict == survey::Verdict::noisy)
    return words + text(show, ", spread {}, may be {}", channel_value(state.channel, state.spread, show),
                        channel_value(state.channel, state.may_spread, show));
  return words + ", " + reading_value(state.channel, *state.newest, show);
}

std::string reading_value(Channel channel, double value, sheet::Show show) {
  return channel == Channel::distance && !show.is_metric() ? sheet::show_length(value, show)
                                                           : channel_value(channel, value, show);
}

std::string channel_value(Channel channel, double value, sheet::Show show) {
  switch (channel) {
    case Channel::distance:
      return sheet::show_fine(value, show);
    case Channel::slope:
    case Channel::roll:
      return sheet::show_slope(value, show);
    case Channel::temperature:
      return sheet::with_decimal_sign(fmt::format("{:.1f}", value), show.language) + " C";
    case Channel::station:
      break;
  }
  return fmt::format("{:.0f}", value);
}

sheet::Shown live_value(Channel channel, double value, sheet::Show show) {
  switch (channel) {
    case Channel::distance:
      return sheet::length_shown(value, show);
    case Channel::slope:
    case Channel::roll:
      return sheet::slope_shown(value, show);
    case Channel::temperature:
      return temperature_shown(value, show);
    case Channel::station:
      break;
  }
  return {channel_value(channel, value, show), ""};
}

}  // namespace hangtrue::say
