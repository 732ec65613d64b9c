#include "firmware-host/serial/line_health.hpp"

#include <utility>

namespace hangtrue::serial {
namespace {

bool is_line_end(char c) { return c == '\r' || c == '\n'; }
bool is_text(char c) { return (c >= ' ' && c <= '~') || is_line_end(c) || c == '\t'; }

double share(std::uint64_t part, std::uint64_t whole) {
  return whole == 0 ? 0 : static_cast<double>(part) / static_cast<double>(whole);
}

constexpr double kSecond_us = 1e6;

}  // namespace

std::string_view word(LineVerdict verdict) {
  switch (verdict) {
    case LineVerdict::not_judged:
      return "not judged";
    case LineVerdict::well:
      return "well";
    case LineVerdict::wrong_speed:
      return "wrong speed";
    case LineVerdict::wrong_parity:
      return "wrong parity";
    case LineVerdict::seven_bits:
      return "seven bits";
    case LineVerdict::held_low:
      return "held low";
    case LineVerdict::other_speech:
      return "other speech";
    case LineVerdict::noisy:
      return "noisy";
    case LineVerdict::flood:
      return "flood";
  }
  return "unknown";
}

LineHealth::LineHealth(std::string line, unsigned baud, unsigned bits_per_character, Speech speech)
    : line_(std::move(line)),
      baud_(baud),
      bytes_per_second_(static_cast<double>(baud) / bits_per_character),
      speech_(speech) {}

void LineHealth::Looks::add(std::string_view chunk) {
  in += chunk.size();
  for (const char c : chunk) {
    nul += c == '\0';
    wrong += !is_text(c);
    text_below_top_bit += is_text(static_cast<char>(c & 0x7F));
    lines += is_line_end(c) && !is_line_end(last);
    last = c;
  }
}

bool LineHealth::bytes(std::string_view chunk, std::uint64_t understood, std::int64_t now_us) {
  const std::uint64_t newly_understood = understood - understood_;
  understood_ = understood;
  Looks looks;
  looks.add(chunk);
  count_second(chunk.size(), now_us);
  if (newly_understood > 0) {
    if (is_unintelligible())
      recent_ = recent_wrong_ = 0;  // that is over, and says nothing of the line's noise
    undecoded_ = Looks{};
    undecoded_from_us_ = now_us;
    ever_understood_ = true;
  } else {
    if (undecoded_.in == 0 && !ever_understood_) undecoded_from_us_ = now_us;
    undecoded_.add(chunk);
  }
  recent_ += static_cast<double>(chunk.size());
  recent_wrong_ += speech_ == Speech::text
                       ? static_cast<double>(looks.wrong)
                       : static_cast<double>(chunk.size()) - static_cast<double>(newly_understood);
  if (recent_ > 4 * kNoisyBytes) {
    recent_ /= 2;
    recent_wrong_ /= 2;
  }
  return std::exchange(verdict_, judge(now_us)) != verdict_;
}

void LineHealth::lost() {
  undecoded_ = Looks{};
  ever_understood_ = false;
  recent_ = recent_wrong_ = in_second_ = 0;
  full_seconds_ = 0;
  verdict_ = LineVerdict::not_judged;
}

void LineHealth::count_second(std::size_t bytes, std::int64_t now_us) {
  const double passed_us = static_cast<double>(now_us - second_from_us_);
  if (passed_us >= kSecond_us) {
    const bool full = in_second_ > kFull * bytes_per_second_ * passed_us / kSecond_us;
    full_seconds_ = full ? full_seconds_ + 1 : 0;
    in_second_ = 0;
    second_from_us_ = now_us;
  }
  in_second_ += static_cast<double>(bytes);
}

LineVerdict LineHealth::judge(std::int64_t now_us) const {
  const LineVerdict undecoded = judge_undecoded(now_us);
  if (undecoded != LineVerdict::well) return undecoded;
  if (full_seconds_ >= kFloodSeconds) return LineVerdict::flood;
  const double noisy = speech_ == Speech::text ? kNoisyShare : kNoisyModbusShare;
  const double limit = verdict_ == LineVerdict::noisy ? noisy / 2 : noisy;
  if (recent_ >= kNoisyBytes && recent_wrong_ >= limit * recent_) return LineVerdict::noisy;
  return ever_understood_ ? LineVerdict::well : LineVerdict::not_judged;
}

/// well: nothing to be said against what was not understood.
LineVerdict LineHealth::judge_undecoded(std::int64_t now_us) const {
  const Looks& looks = undecoded_;
  const std::int64_t passed_us = now_us - undecoded_from_us_;
  const bool enough = looks.in >= kJudged || (looks.in >= kJudgedSlow && passed_us >= kSlow_us);
  if (!enough) return is_unintelligible() && looks.in > 0 ? verdict_ : LineVerdict::well;

  const double wrong = share(looks.wrong, looks.in), nul = share(looks.nul, looks.in);
  if (nul >= kAll) return LineVerdict::held_low;
  if (speech_ == Speech::modbus)
    return wrong < 1 - kAll ? LineVerdict::other_speech : LineVerdict::wrong_speed;
  if (wrong >= kWrongShare) {
    if (nul >= kWrongShare && wrong - nul <= 1 - kAll) return LineVerdict::wrong_parity;
    if (share(looks.text_below_top_bit, looks.in) >= kAll) return LineVerdict::seven_bits;
    return LineVerdict::wrong_speed;
  }
  const bool long_enough = passed_us >= (ever_understood_ ? kSlowAfterWell_us : kSlow_us);
  if (looks.lines >= kUnknownLines && long_enough) return LineVerdict::other_speech;
  if (looks.in >= kUnknownBytes && !ever_understood_) return LineVerdict::other_speech;
  return is_unintelligible() ? verdict_ : LineVerdict::well;
}

std::string LineHealth::sentence() const {
  const std::string baud = std::to_string(baud_) + " baud";
  switch (verdict_) {
    case LineVerdict::not_judged:
      return "too little has come from " + line_ + " yet";
    case LineVerdict::well:
      return line_ + " is understood";
    case LineVerdict::wrong_speed:
      return "what " + line_ + " brings at " + baud +
             " makes no sense; set baud in the kit sheet to the device's own speed";
    case LineVerdict::wrong_parity:
      return "many bytes from " + line_ +
             " are damaged and the rest is text; set parity in the kit sheet to the "
             "device's own, and the device to 8 data bits";
    case LineVerdict::seven_bits:
      return line_ + " sends 7 data bits and a parity bit; set the device to 8 data bits and no parity";
    case LineVerdict::held_low:
      return "nothing but zeros from " + line_ + " at " + baud +
             "; check that its wires are not swapped and that it has power, or set a lower baud in the kit "
             "sheet";
    case LineVerdict::other_speech:
      return line_ + (speech_ == Speech::text
                          ? " sends text, but none of it is what the kit sheet says; correct speaks, talker, "
                            "transducer or pattern there, or set the device to send it"
                          : " sends text, and is no modbus line; correct speaks in the kit sheet");
    case LineVerdict::noisy:
      return "much of what " + line_ +
             " brings is damaged; check its cable, shield and ground, and keep it away "
             "from mains and motors";
    case LineVerdict::flood:
      return line_ + " brings more than " + baud +
             " can carry; set the device to send less often, and baud in the kit sheet to its own";
  }
  return {};
}

}  // namespace hangtrue::serial
