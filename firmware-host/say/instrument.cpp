#include "firmware-host/say/instrument.hpp"

#include <fmt/format.h>

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
  static std::string name(Channel channel) { return std::string(hangtrue::word(channel)); }

  Pair operator()(const job::AboutToOpen&) const { return {"waiting", "its line is about to be opened"}; }
  Pair operator()(const job::ListenedTo& now) const { return {"waiting", now.line + ", and is listened to"}; }
  Pair operator()(const job::LineTrouble& of) const { return {of.word, of.sentence}; }
  Pair operator()(const job::DamagedSentences& on) const {
    return {"noisy",
            "more than one sentence in twenty on " + on.port +
                " comes damaged; check its cable, shield and ground, and that two do not talk at once"};
  }
  Pair operator()(const job::OtherBytes& on) const {
    return {"silent", on.port + " brings bytes, but not all that the kit sheet says of " + on.instrument +
                          "; status shows what becomes of them"};
  }
  Pair operator()(const job::Speaks&) const { return {"well", "speaks"}; }
  Pair operator()(const job::GivesNoReadings&) const {
    return {"well", "gives no readings, and is listened to for what it gives"};
  }
  Pair operator()(const job::NeverCame& of) const {
    return {"silent", "no " + name(of.channel) + " has come yet; is it switched on, and does it call it \"" +
                          of.transducer + "\"?"};
  }
  Pair operator()(const job::ComesNoMore& of) const {
    return {"silent", "no " + name(of.channel) + " comes any more; is it switched on, and its battery good?"};
  }
  Pair operator()(const job::NotANumber& of) const {
    return {"not a number", name(of.channel) + " comes as no number"};
  }
  Pair operator()(const job::OutOfRange& of) const {
    return {"out of range", name(of.channel) + " is " + value(of.channel, of.value) + ", beyond the " +
                                value(of.channel, of.from) + " to " + value(of.channel, of.to) + " that " +
                                (of.of_kit_sheet ? "the kit sheet gives it" : "it can be") +
                                "; does it stand where it should, and in the unit it should?"};
  }
  Pair operator()(const job::StuckAt& of) const {
    return {"stuck", name(of.channel) + " has been the very same " + value(of.channel, of.value) +
                         " for over a minute, though it varied before; switch it off and on"};
  }
  Pair operator()(const job::NotAtRest& of) const {
    return {"noisy", name(of.channel) + " does not come to rest: it spreads over " +
                         value(of.channel, of.spread) + ", and may over " + value(of.channel, of.may_spread) +
                         "; is somebody on the run, or the instrument loose?"};
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
  const std::string text =
      std::string(hangtrue::word(state.channel)) + ' ' + std::string(word(state.verdict));
  if (!state.newest || state.verdict == survey::Verdict::stale) return text;
  if (state.verdict == survey::Verdict::moving || state.verdict == survey::Verdict::noisy)
    return text + ", spread " + channel_value(state.channel, state.spread, show) + ", may be " +
           channel_value(state.channel, state.may_spread, show);
  return text + ", " + reading_value(state.channel, *state.newest, show);
}

std::string reading_value(Channel channel, double value, sheet::Show show) {
  return channel == Channel::distance && show == sheet::Show::imperial ? sheet::show_length(value, show)
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
      return fmt::format("{:.1f} C", value);
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
