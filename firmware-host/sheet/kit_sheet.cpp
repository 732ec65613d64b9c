#include "firmware-host/sheet/kit_sheet.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdint>
#include <limits>
#include <map>
#include <sstream>

#include "firmware-host/sheet/walk.hpp"

namespace hangtrue::sheet {
namespace {

constexpr std::array kSpeeds = {300,   600,   1200,   2400,   4800,   9600,  19200,
                                38400, 57600, 115200, 230400, 460800, 921600};
constexpr double kSigmasOfSpread = 3;
constexpr double kFastestAsking_s = 0.01, kSlowestAsking_s = 60, kShortestTimeout_s = 0.001;
constexpr double kLongestWindow_s = 600;

bool is_leap(int year) { return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0; }

bool is_date(int year, int month, int day) {
  constexpr int kDays[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  return year > 0 && month >= 1 && month <= 12 && day >= 1 &&
         day <= kDays[month - 1] + (month == 2 && is_leap(year) ? 1 : 0);
}

// RFC 3339 full-date.
bool is_date(std::string_view text) {
  if (text.size() != 10 || text[4] != '-' || text[7] != '-') return false;
  const auto number = [&](std::size_t from, std::size_t length) {
    int value = 0;
    for (const char c : text.substr(from, length)) {
      if (c < '0' || c > '9') return -1;
      value = value * 10 + (c - '0');
    }
    return value;
  };
  return is_date(number(0, 4), number(5, 2), number(8, 2));
}

class KitReader {
 public:
  KitReader(std::string_view text, const std::string& shown_name, const RunSheet& run)
      : text_(text), run_(run) {
    sink_.file = shown_name;
  }

  KitSheetOrComplaints read() {
    const auto root = parse_toml(text_, sink_);
    if (root) {
      Walk top(*root, "", sink_);
      for (Walk& table : top.tables("instrument", Need::required)) read_instrument(table);
      top.close();
    }
    KitSheetOrComplaints result;
    if (sink_.complaints.empty()) {
      kit_.file = sink_.file;
      result.sheet = std::move(kit_);
    } else {
      result.complaints = sink_.taken_in_order();
    }
    return result;
  }

 private:
  static constexpr auto required = Need::required;
  static constexpr auto optional = Need::optional;

  void read_instrument(Walk& table) {
    KitInstrument instrument;
    if (const auto name = table.text("name", required)) {
      instrument.name = *name;
      const auto [first, fresh] = names_.emplace(*name, table.line("name"));
      if (!fresh)
        table.complain("name",
                       in_quotes(*name) + ", which line " + std::to_string(first->second) + " has already",
                       "a name of its own among instruments");
    }
    instrument.port = table.text("port", required).value_or("");
    instrument.baud = table.whole("baud", optional, kSpeeds.front(), kSpeeds.back()).value_or(9600);
    if (std::find(kSpeeds.begin(), kSpeeds.end(), instrument.baud) == kSpeeds.end())
      table.complain(
          "baud",
          "a speed that serial lines have: 300, 600, 1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200, "
          "230400, 460800 or 921600");
    const auto speaks =
        table.word("speaks", required, {word(Speaks::xdr), word(Speaks::modbus), word(Speaks::line)});
    if (speaks) instrument.speaks = static_cast<Speaks>(*speaks);
    read_line_settings(table, instrument);
    if (speaks) read_speech(table, instrument);
    read_calibration(table, instrument);
    for (Walk& channel : table.tables("channel", required))
      read_channel(channel, instrument, speaks.has_value());
    if (!speaks)
      table.know({"talker", "address", "timeout", "retries", "ask", "every"});  // depend on `speaks`
    table.close();
    if (speaks) check_port(table, instrument);
    kit_.instruments.push_back(std::move(instrument));
  }

  /// A channel of `one` whose transducer and quantity `other` has as well, unless their talkers keep them apart; or nullptr.
  static const KitChannel* shared_by_name(const KitInstrument& one, const KitInstrument& other) {
    if (one.speaks != Speaks::xdr) return nullptr;
    if (!one.talker.empty() && !other.talker.empty() && one.talker != other.talker) return nullptr;
    for (const KitChannel& mine : one.channels)
      for (const KitChannel& theirs : other.channels)
        if (mine.transducer == theirs.transducer && mine.gives == theirs.gives) return &mine;
    return nullptr;
  }

  void read_line_settings(Walk& table, KitInstrument& instrument) {
    if (const auto parity = table.word("parity", optional, {"none", "even", "odd"}))
      instrument.parity = static_cast<Parity>(*parity);
    instrument.stop_bits = table.whole("stop_bits", optional, 1, 2).value_or(1);
  }

  void read_speech(Walk& table, KitInstrument& instrument) {
    if (instrument.speaks == Speaks::xdr) {
      const auto talker = table.text("talker", optional);
      const auto capital = [](char c) { return c >= 'A' && c <= 'Z'; };
      if (talker && (talker->size() != 2 || !std::all_of(talker->begin(), talker->end(), capital)))
        table.complain("talker", "the two capital letters before XDR, such as \"YX\"");
      instrument.talker = talker.value_or("");
    }
    if (instrument.speaks == Speaks::modbus) {
      instrument.address = table.whole("address", required, 1, 247).value_or(1);
      instrument.timeout_s =
          table.quantity("timeout", Kind::time, optional, Sign::positive).value_or(instrument.timeout_s);
      if (instrument.timeout_s < kShortestTimeout_s || instrument.timeout_s > kSlowestAsking_s)
        table.complain("timeout", "a time from 1 ms to 60 s");
      instrument.retries = table.whole("retries", optional, 0, 10).value_or(instrument.retries);
    }
    if (instrument.speaks == Speaks::line) {
      constexpr const char* kExpected = "what to send, such as \"D\\r\\n\", 1 to 64 characters";
      if (const toml::node* const node = table.node("ask", optional, kExpected)) {
        const auto* const text = node->as_string();
        if (text != nullptr) instrument.ask = text->get();
        if (instrument.ask.empty() || instrument.ask.size() > 64) table.complain("ask", kExpected);
      }
    }
    if (instrument.speaks == Speaks::modbus || !instrument.ask.empty()) {
      instrument.every_s =
          table.quantity("every", Kind::time, optional, Sign::positive).value_or(instrument.every_s);
      if (instrument.every_s < kFastestAsking_s || instrument.every_s > kSlowestAsking_s)
        table.complain("every", "a time from 10 ms to 60 s");
    }
  }

  void check_port(Walk& table, const KitInstrument& instrument) {
    for (const KitInstrument& other : kit_.instruments) {
      if (other.port != instrument.port || instrument.port.empty()) continue;
      const std::string found =
          in_quotes(instrument.port) + ", which " + in_quotes(other.name) + " uses already";
      if (other.speaks != instrument.speaks || instrument.speaks == Speaks::line)
        table.complain("port", found,
                       "a port of its own; only xdr with xdr and modbus with modbus share one");
      else if (other.baud != instrument.baud)
        table.complain("baud", std::to_string(instrument.baud) + " on the port of " + in_quotes(other.name),
                       std::to_string(other.baud) + ", one speed a port");
      else if (other.parity != instrument.parity || other.stop_bits != instrument.stop_bits)
        table.complain("port", found, "the same parity and stop_bits as " + in_quotes(other.name) + " has");
      else if (const KitChannel* const shared = shared_by_name(instrument, other); shared != nullptr)
        table.complain("talker", instrument.talker.empty() ? "none" : in_quotes(instrument.talker),
                       "a talker for each, since " + in_quotes(other.name) + " on the same port has " +
                           in_quotes(shared->transducer) + " too");
      else if (instrument.speaks == Speaks::modbus && other.address == instrument.address)
        table.complain(
            "address",
            std::to_string(instrument.address) + ", which " + in_quotes(other.name) + " has on that port",
            "an address of its own on the port");
    }
  }

  // A date as TOML has it, or in quotes.
  std::string read_date(Walk& table, std::string_view key) {
    constexpr const char* kExpected = "a date, such as 2026-09-14";
    const toml::node* const node = table.node(key, optional, kExpected);
    if (node == nullptr) return "";
    std::string text;
    if (node->is_date())
      text = shown(*node);
    else if (const auto* const written = node->as_string())
      text = written->get();
    if (is_date(text)) return text;
    table.complain(key, kExpected);
    return "";
  }

  void read_calibration(Walk& table, KitInstrument& instrument) {
    auto calibration = table.table("calibration", optional);
    if (!calibration) return;
    Calibration read;
    read.date = read_date(*calibration, "date");
    read.due = read_date(*calibration, "due");
    if (!read.date.empty() && !read.due.empty() && read.due < read.date)
      calibration->complain("due", "a date not before that of the calibration");
    read.certificate = calibration->text("certificate", optional).value_or("");
    calibration->close();
    instrument.calibration = read;
  }

  void read_channel(Walk& table, KitInstrument& instrument, bool speech_known) {
    KitChannel channel;
    channel.transducer = table.text("transducer", required).value_or("");
    channel.key = table.path("transducer");
    channel.line = table.line("transducer");
    // In the order of kChannels.
    const auto gives = table.word("gives", required, {"slope", "roll", "distance", "temperature", "station"});
    if (gives) {
      channel.gives = kChannels[std::size_t(*gives)];
      const auto same = [&](const KitChannel& other) { return other.gives == channel.gives; };
      if (std::any_of(instrument.channels.begin(), instrument.channels.end(), same))
        table.complain("gives",
                       "each quantity once in an instrument; a second sensor is an instrument of its own");
    }
    const bool modbus = instrument.speaks == Speaks::modbus;
    if (modbus) read_register(table, channel);
    if (instrument.speaks == Speaks::line) channel.within = table.flag("within").value_or(false);
    if (gives) {
      const Kind kind = kind_of(channel.gives);
      if (channel.gives != Channel::station) {
        const bool says_unit = instrument.speaks == Speaks::xdr || !speech_known ||
                               channel.transducer.find("{unit}") != std::string::npos;
        channel.unit = table.text("unit", says_unit ? optional : required).value_or("");
        if (!channel.unit.empty()) {
          if (const auto fits = convert(1, channel.unit, kind); !fits)
            table.complain(
                "unit", in_quotes(channel.unit) + " (" + fits.fault().what + ")",
                "a unit of " + std::string(name(kind)) + ", as in " + std::string(example(kind)).substr(8));
        }
        read_values(table, channel, kind);
      }
    }
    if (!speech_known) table.know({"within", "type", "words", "scale"});
    if (!gives)
      table.know({"unit", "sign", "range", "base", "sigma", "zero_sigma", "zero_keeps", "settle", "station",
                  "edge", "scale_checked"});
    table.close();
    instrument.channels.push_back(std::move(channel));
  }

  void read_values(Walk& table, KitChannel& channel, Kind kind) {
    const bool reads = channel.gives != Channel::temperature;
    if (table.has("sign")) {
      const toml::node* const sign = table.node("sign", optional, "");
      const auto value = sign->value<std::int64_t>();
      if (sign->is_integer() && (value == 1 || value == -1))
        channel.sign = static_cast<int>(*value);
      else
        table.complain("sign", "1 or -1");
    }
    if (const auto range = table.pair("range", kind, optional)) {
      channel.range_from = range->first;
      channel.range_to = range->second;
      if (range->first >= range->second) table.complain("range", "the lower end first");
    }
    if (!reads) return;
    if (channel.gives == Channel::slope)
      channel.base_m = table.quantity("base", Kind::length, optional, Sign::not_negative).value_or(0);
    if (run_.length_m > 0 && channel.base_m > run_.length_m)
      table.complain("base", "feet no farther apart than the run is long");
    channel.sigma = table.quantity("sigma", kind, required, Sign::positive).value_or(0);
    channel.zero_sigma = table.quantity("zero_sigma", kind, optional, Sign::not_negative)
                             .value_or(channel.gives == Channel::distance ? 0 : kDefaultZeroSigma_rad);
    channel.zero_keeps =
        table.quantity("zero_keeps", kind, optional, Sign::not_negative).value_or(channel.sigma);
    channel.settle_spread = kSigmasOfSpread * channel.sigma;
    if (auto settle = table.table("settle", optional)) {
      channel.settle_window_s =
          settle->quantity("window", Kind::time, optional, Sign::positive).value_or(channel.settle_window_s);
      if (channel.settle_window_s < kFastestAsking_s || channel.settle_window_s > kLongestWindow_s)
        settle->complain("window", "a time from 10 ms to 10 min");
      channel.settle_spread =
          settle->quantity("spread", kind, optional, Sign::positive).value_or(channel.settle_spread);
      settle->close();
    }
    read_station(table, channel);
    if (const auto edge = table.word("edge", optional, {"right", "middle", "left"}))
      channel.edge = static_cast<survey::Edge>(*edge - 1);
    read_scale_checked(table, channel);
  }

  // A date as TOML has it, and nothing else: what stands here lets a run count as ready to bolt.
  void read_scale_checked(Walk& table, KitChannel& channel) {
    constexpr const char* kExpected =
        "the date on which scale, unit and sign were checked, without quotes, such as 2026-09-20";
    const toml::node* const node = table.node("scale_checked", optional, kExpected);
    if (node == nullptr) return;
    if (node->is_date() && is_date(shown(*node)))
      channel.scale_checked = shown(*node);
    else
      table.complain("scale_checked", kExpected);
  }

  void read_station(Walk& table, KitChannel& channel) {
    const toml::node* const node = table.node("station", optional, "");
    if (node == nullptr) return;
    const auto* const text = node->as_string();
    if (text != nullptr && text->get() == "walking") return;
    const auto place = text != nullptr ? parse_quantity(text->get(), Kind::length)
                                       : QuantityFault{"a number without a unit"};
    if (!place) {
      table.complain("station", shown(*node) + " (" + place.fault().what + ")",
                     "\"walking\", or a place along the run such as \"2100 mm\"");
    } else if (!(place.value() >= 0 && place.value() <= run_.length_m + 1e-9)) {
      table.complain("station", "a place on the run, from 0 to " + show_length(run_.length_m, run_.show));
    } else {
      channel.station_m = std::min(place.value(), run_.length_m);
    }
  }

  // "input 3", "holding 12"
  void read_register(Walk& table, KitChannel& channel) {
    Register read;
    std::istringstream words(channel.transducer);
    words.imbue(std::locale::classic());
    std::string where, number, rest;
    words >> where >> number >> rest;
    const auto [end, error] = std::from_chars(number.data(), number.data() + number.size(), read.number);
    const bool whole = error == std::errc{} && end == number.data() + number.size() && read.number >= 0 &&
                       read.number <= 65535;
    if (!channel.transducer.empty() && (!(where == "input" || where == "holding") || !whole || !rest.empty()))
      table.complain("transducer", "a register, \"input N\" or \"holding N\", N from 0 to 65535");
    read.holding = where == "holding";
    if (const auto type = table.word("type", optional, {"int16", "uint16", "int32", "uint32", "float32"}))
      read.type = static_cast<RegisterType>(*type);
    if (const auto order = table.word("words", optional, {"high first", "low first"}))
      read.high_word_first = *order == 0;
    constexpr double kAny = std::numeric_limits<double>::infinity();
    read.scale = table.number("scale", optional, -kAny, kAny, "a plain number, not 0").value_or(1);
    if (read.scale == 0) table.complain("scale", "a plain number, not 0");
    channel.modbus = read;
  }

  std::string_view text_;
  const RunSheet& run_;
  Sink sink_;
  KitSheet kit_;
  std::map<std::string, int> names_;
};

}  // namespace

Kind kind_of(Channel gives) {
  switch (gives) {
    case Channel::slope:
      return Kind::slope;
    case Channel::roll:
      return Kind::angle;
    case Channel::temperature:
      return Kind::temperature;
    case Channel::distance:
    case Channel::station:
      break;
  }
  return Kind::length;
}

const KitChannel* KitSheet::find(std::string_view instrument, Channel gives) const {
  for (const KitInstrument& each : instruments) {
    if (each.name != instrument) continue;
    for (const KitChannel& channel : each.channels)
      if (channel.gives == gives) return &channel;
  }
  return nullptr;
}

KitSheetOrComplaints parse_kit_sheet(std::string_view text, const std::string& shown_name,
                                     const RunSheet& run) {
  return KitReader(text, shown_name, run).read();
}

KitSheetOrComplaints read_kit_sheet(const std::string& path, const RunSheet& run) {
  Sink sink;
  sink.file = path;
  const auto text = read_text_file(path, sink);
  if (!text) return {std::nullopt, std::move(sink.complaints)};
  return parse_kit_sheet(*text, path, run);
}

}  // namespace hangtrue::sheet
