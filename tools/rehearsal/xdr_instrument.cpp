#include <cstdio>

#include "firmware-host/wire/framing.hpp"
#include "firmware-host/wire/xdr.hpp"
#include "tools/rehearsal/ways_of_speaking.hpp"

namespace hangtrue::rehearsal {

namespace {

constexpr std::size_t kTail = 5;  // "*hh\r\n"

std::string printed(const char* format, double value) {
  char text[64];
  std::snprintf(text, sizeof text, format, value);
  return text;
}

class XdrInstrument final : public Instrument {
 public:
  XdrInstrument(const Truth& truth, const sheet::KitSheet& kit_sheet, std::size_t index, std::uint64_t seed,
                FaultRates rates, double handling_s)
      : Instrument(truth, kit_sheet, index, seed, rates, handling_s),
        head_("$" + (kit().talker.empty() ? "YX" : kit().talker) + "XDR") {}  // YX: transducer

  std::string sample(double now_s) override {
    std::string out, fields;
    for (std::size_t i = 0; i < kit().channels.size(); ++i) {
      const std::string next = quad(i, now_s);
      if (!fields.empty() && head_.size() + fields.size() + next.size() + kTail > wire::kLongestSentence) {
        append_sentence(out, fields);
        fields.clear();
      }
      fields += next;
    }
    if (!fields.empty()) append_sentence(out, fields);
    return out;
  }

 private:
  std::string quad(std::size_t channel, double now_s) {
    const sheet::KitChannel& channel_kit = kit().channels[channel];
    const double seen = value(channel, now_s), counted = channel_kit.sign * seen;
    switch (channel_kit.gives) {
      case Channel::slope:
      case Channel::roll:
        return ",A," + printed("%.4f", in_unit(counted, "deg", channel_kit.gives)) + ",D," +
               channel_kit.transducer;
      case Channel::distance:
        return ",D," + printed("%.5f", counted) + ",M," + channel_kit.transducer;
      case Channel::temperature:
        return ",C," + printed("%.2f", seen) + ",C," + channel_kit.transducer;
      case Channel::station:
        return ",G," + printed("%.0f", seen) + ",," + channel_kit.transducer;
    }
    return {};
  }

  void append_sentence(std::string& out, const std::string& fields) {
    std::string sentence = head_ + fields;
    unsigned sum = wire::checksum(std::string_view(sentence).substr(1));
    ++faults_.messages;
    if (happens(rates_.wrong_checksum)) {
      ++faults_.wrong_checksum;
      sum ^= 1;
    }
    char tail[8];
    std::snprintf(tail, sizeof tail, "*%02X\r\n", sum);
    sentence += tail;
    maybe_tear(sentence);
    out += sentence;
  }

  std::string head_;
};

}  // namespace

std::unique_ptr<Instrument> make_xdr_instrument(const Truth& truth, const sheet::KitSheet& kit,
                                                std::size_t index, std::uint64_t seed, FaultRates rates,
                                                double handling_s) {
  return std::make_unique<XdrInstrument>(truth, kit, index, seed, rates, handling_s);
}

}  // namespace hangtrue::rehearsal
