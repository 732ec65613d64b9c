#include "firmware-host/serial/line_health.hpp"

#include <bit>
#include <utility>

namespace hangtrue::serial {
namespace {

bool is_line_end(char c) { return c == '\r' || c == '\n'; }
/// The degree sign (B0, or C2 B0) is of use in a line, too.
bool is_text(char c) {
  return (c >= ' ' && c <= '~') || is_line_end(c) || c == '\t' || c == '\xB0' || c == '\xC2';
}

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

void LineHealth::Looks::add(const Looks& other) {
  in += other.in;
  nul += other.nul;
  wrong += other.wrong;
  text_below_top_bit += other.text_below_top_bit;
  even += other.even;
  lines += other.lines;
}

void LineHealth::Looks::halve() {
  for (std::uint64_t* count : {&in, &nul, &wrong, &text_below_top_bit, &even, &lines}) *count /= 2;
}

LineHealth::Looks LineHealth::look_at(std::string_view chunk) {
  Looks looks;
  looks.in = chunk.size();
  for (const char c : chunk) {
    const char seven = static_cast<char>(c & 0x7F);
    looks.nul += c == '\0';
    looks.wrong += !is_text(c);
    looks.text_below_top_bit += is_text(seven);
    looks.even += std::popcount(static_cast<unsigned char>(c)) % 2 == 0;
    looks.lines += is_line_end(seven) && !is_line_end(last_);
    last_ = seven;
  }
  return looks;
}

bool LineHealth::bytes(std::string_view chunk, std::uint64_t understood, std::int64_t now_us) {
  const std::uint64_t newly_understood = understood - understood_;
  understood_ = understood;
  const Looks looks = look_at(chunk);
  if (not_understood_.in == 0 && !ever_understood_) not_understood_from_us_ = now_us;
  count_second(chunk.size(), now_us);
  since_understood_.add(looks);
  not_understood_.add(looks);
  if (newly_understood > 0) {
    // Text has no checksum: among bytes that make no sense a line may be understood by chance. So a line is trusted only
    // when few damaged bytes came since the one before.
    const bool text = speech_ == Speech::text;
    const bool trusted = !text || share(since_understood_.wrong, since_understood_.in) < kWrongShare;
    since_understood_ = text && looks.wrong > 0 ? looks : Looks{};
    if (trusted) {
      if (is_unintelligible()) recent_ = recent_wrong_ = 0;  // those bytes say nothing of the line's noise
      not_understood_ = since_understood_;
      not_understood_from_us_ = now_us;
      ever_understood_ = true;
    }
  }
  if (not_understood_.in > 2 * kUnknownBytes) not_understood_.halve();
  recent_ += static_cast<double>(chunk.size());
  recent_wrong_ += speech_ == Speech::text
                       ? static_cast<double>(looks.wrong)
                       : static_cast<double>(chunk.size()) - static_cast<double>(newly_understood);
  if (recent_ > 4 * kNoisyBytes) {
    recent_ /= 2;
    recent_wrong_ /= 2;
  }
  const LineVerdict before = std::exchange(verdict_, judge(now_us));
  return verdict_ != before;
}

void LineHealth::lost() {
  not_understood_ = since_understood_ = Looks{};
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
  const LineVerdict verdict = judge_not_understood(now_us);
  if (verdict != LineVerdict::well) return verdict;
  if (full_seconds_ >= kFloodSeconds) return LineVerdict::flood;
  const double noisy = speech_ == Speech::text ? kNoisyShare : kNoisyModbusShare;
  const double limit = verdict_ == LineVerdict::noisy ? noisy / 2 : noisy;
  if (recent_ >= kNoisyBytes && recent_wrong_ >= limit * recent_) return LineVerdict::noisy;
  return ever_understood_ ? LineVerdict::well : LineVerdict::not_judged;
}

/// The verdict on the bytes that were not understood; well where there is none.
LineVerdict LineHealth::judge_not_understood(std::int64_t now_us) const {
  const Looks& looks = not_understood_;
  const std::int64_t passed_us = now_us - not_understood_from_us_;
  const bool slow = passed_us >= (ever_understood_ ? kSlowAfterWell_us : kSlow_us);
  const bool enough = looks.in >= kJudged || (looks.in >= kJudgedSlow && slow);
  if (!enough) return LineVerdict::well;

  const double wrong = share(looks.wrong, looks.in), nul = share(looks.nul, looks.in);
  if (nul >= kAll) return LineVerdict::held_low;
  if (speech_ == Speech::modbus)
    return wrong < 1 - kAll ? LineVerdict::other_speech : LineVerdict::wrong_speed;
  if (wrong >= kWrongShare) {
    if (wrong - nul <= 1 - kAll && 1 - wrong >= kMixed) return LineVerdict::wrong_parity;
    const double even = share(looks.even, looks.in), seven = share(looks.text_below_top_bit, looks.in);
    if (seven >= kAll && (even >= kAll || even <= 1 - kAll) && looks.lines > 0 && 1 - wrong >= kMixed)
      return LineVerdict::seven_bits;
    return LineVerdict::wrong_speed;
  }
  if ((looks.lines >= kUnknownLines || looks.in >= kJudged) && slow) return LineVerdict::other_speech;
  if (looks.in >= kUnknownBytes && !ever_understood_) return LineVerdict::other_speech;
  return LineVerdict::well;
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
             " makes no sense; set baud and parity in the kit sheet to the device's own";
    case LineVerdict::wrong_parity:
      return "many bytes from " + line_ +
             " are damaged and the rest is text; set parity in the kit sheet to the "
             "device's own, and the device to 8 data bits";
    case LineVerdict::seven_bits:
      return line_ + " sends 7 data bits and a parity bit; set the device to 8 data bits and no parity";
    case LineVerdict::held_low:
      return "nothing but zeros from " + line_ + " at " + baud +
             "; check that it has power and its wires are not swapped, and set baud and parity in the kit "
             "sheet to the device's own";
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
