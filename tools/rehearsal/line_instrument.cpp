#include <algorithm>
#include <cmath>
#include <cstdio>

#include "tools/rehearsal/ways_of_speaking.hpp"

namespace hangtrue::rehearsal {

namespace {

constexpr std::string_view kNumber = "{number}", kCommaNumber = "{number,}", kUnit = "{unit}";
constexpr int kMostDecimals = 9;

/// Of a device whose kit sheet leaves the unit to the line.
std::string usual_unit(Channel gives) {
  if (gives == Channel::distance) return "m";
  return gives == Channel::temperature ? "C" : "deg";
}

std::size_t how_often(std::string_view text, std::string_view what) {
  std::size_t count = 0;
  for (std::size_t at = text.find(what); at != std::string_view::npos; at = text.find(what, at + what.size()))
    ++count;
  return count;
}

void replace_all(std::string& text, std::string_view what, const std::string& by) {
  for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + by.size()))
    text.replace(at, what.size(), by);
}

class LineInstrument final : public Instrument {
 public:
  LineInstrument(const Truth& truth, const sheet::KitSheet& kit_sheet, std::size_t index, std::uint64_t seed,
                 FaultRates rates, double handling_s)
      : Instrument(truth, kit_sheet, index, seed, rates, handling_s) {
    for (std::size_t i = 0; i < kit().channels.size(); ++i) {
      const sheet::KitChannel& channel = kit().channels[i];
      if (how_often(channel.transducer, kNumber) + how_often(channel.transducer, kCommaNumber) != 1)
        refuse(i, "its pattern must have {number} once");
      units_.push_back(channel.unit.empty() ? usual_unit(channel.gives) : channel.unit);
      decimals_.push_back(decimals(channel, units_.back()));
    }
  }

  std::string sample(double now_s) override { return kit().ask.empty() ? lines(now_s) : std::string(); }

  std::string hear(std::string_view bytes, double now_s) override {
    std::string out;
    if (kit().ask.empty()) return out;
    heard_ += bytes;
    for (std::size_t at = heard_.find(kit().ask); at != std::string::npos; at = heard_.find(kit().ask)) {
      heard_.erase(0, at + kit().ask.size());
      if (happens(rates_.no_answer))
        ++faults_.not_answered;
      else
        out += lines(now_s);
    }
    // What is left may be the beginning of the next asking, but no more than that.
    const std::size_t most = kit().ask.size() - 1;
    if (heard_.size() > most) heard_.erase(0, heard_.size() - most);
    return out;
  }

 private:
  static int decimals(const sheet::KitChannel& channel, const std::string& unit) {
    if (channel.gives == Channel::station) return 0;
    if (channel.sigma <= 0) return 1;
    const double wanted = in_unit(channel.sigma, unit, channel.gives) / 2;
    return std::clamp(int(std::ceil(-std::log10(wanted))), 0, kMostDecimals);
  }

  std::string lines(double now_s) {
    std::string out;
    for (std::size_t i = 0; i < kit().channels.size(); ++i) {
      const sheet::KitChannel& channel = kit().channels[i];
      const double seen = value(i, now_s);
      const double counted = is_measured_of_run(channel.gives) ? channel.sign * seen : seen;
      char number[64];
      std::snprintf(number, sizeof number, "%.*f", decimals_[i], in_unit(counted, units_[i], channel.gives));
      std::string line = channel.transducer;
      replace_all(line, kUnit, units_[i]);
      replace_all(line, kNumber, number);
      std::replace(std::begin(number), std::end(number), '.', ',');
      replace_all(line, kCommaNumber, number);
      line += "\r\n";
      ++faults_.messages;
      if (happens(rates_.garbled)) {
        ++faults_.garbled;
        for (std::size_t k = 1 + any_of(3); k > 0; --k)
          line[any_of(line.size())] = static_cast<char>(any_of(256));
      }
      maybe_tear(line);
      out += line;
    }
    return out;
  }

  std::vector<std::string> units_;  // by channel
  std::vector<int> decimals_;
  std::string heard_;
};

}  // namespace

std::unique_ptr<Instrument> make_line_instrument(const Truth& truth, const sheet::KitSheet& kit,
                                                 std::size_t index, std::uint64_t seed, FaultRates rates,
                                                 double handling_s) {
  return std::make_unique<LineInstrument>(truth, kit, index, seed, rates, handling_s);
}

}  // namespace hangtrue::rehearsal
