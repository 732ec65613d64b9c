#include "firmware-host/node/node.hpp"

#include <cmath>

#include "core/quantity/units.hpp"

namespace hangtrue::node {

namespace {

constexpr const char* kVersion = "1";
constexpr const char* kAxisNames[] = {"slope", "roll"};

// The lasting memory: the log, then the packed run as it came.
constexpr std::size_t kRunBytes = kMostPacked;
board::Stack deepest_stack() { return board::stack(); }
Log::Memory log_memory() {
  return board::lasting_memory().first(board::lasting_memory().size() - kRunBytes - 4);
}
std::span<volatile std::uint8_t> run_memory() { return board::lasting_memory().last(kRunBytes + 4); }

// The scale and drift of this node's converter, as it was measured when it was made.
constexpr Calibration kCalibration{0.5F / 8388608.0F, 0, 2e-6F, 5e-5F};
constexpr float kSpread = 80e-6F, kSigma = 20e-6F, kWindow_s = 2;

survey::SettleLimits<float> limits_of(float sigma, float spread, float window_s = kWindow_s) {
  survey::SettleLimits<float> limits;
  limits.sigma = sigma;
  limits.spread = spread;
  limits.window_us = std::uint32_t(window_s * 1e6F);
  return limits;
}

std::int64_t in_steps(float value, float steps) { return std::llround(value * steps); }

/// More than a number of 24 bits: whole and rest apart.
std::int64_t in_tenths_of_nano(float value) { return std::llround(double(value) * 1e10); }

float degrees(float angle_rad) { return angle_rad * float(180 / kPi); }

std::string_view text_of(const Name& name) {
  std::size_t length = 0;
  while (length < name.size() && name[length] != '\0') ++length;
  return {name.data(), length};
}

}  // namespace

Node::Node()
    : axis_{Axis(kCalibration, limits_of(kSigma, kSpread)), Axis(kCalibration, limits_of(kSigma, kSpread))},
      log_(log_memory()),
      survey_(run_) {
  wire::Sentence begun("HTNOD");
  say(begun.text(board::watchdog_bit() ? "start after the watchdog bit" : "start").text(kVersion));
  if (log_.unfinished() > 0) {
    wire::Sentence cut("HTNOD");
    say(cut.text("log").text("unfinished").number(log_.unfinished()));
  }
  const auto kept = run_memory();
  const std::size_t length = kept[kRunBytes] | std::size_t(kept[kRunBytes + 1]) << 8;
  if (length > 0 && length <= kRunBytes) adopt_run(length, true);
}

void Node::round() {
  board::feed_watchdog();
  char byte = 0;
  while (board::take_host_byte(byte)) on_host_byte(byte);
  Sample sample;
  while (board::take_sample(sample)) on_sample(sample);
  watch_axes();
}

void Node::say(wire::Sentence& sentence) {
  const std::string_view bytes = sentence.finish();
  const std::uint64_t began = now_ms();
  while (!board::send(bytes)) {
    if (now_ms() - began > kPatience_ms) {
      ++dropped_;
      return;
    }
    board::feed_watchdog();
    board::wait();
  }
}

void Node::say_word(std::string_view word, std::string_view more) {
  wire::Sentence sentence("HTNOD");
  say(sentence.text(word).text(more));
}

void Node::refuse(std::string_view what, std::string_view found, std::string_view wanted) {
  wire::Sentence sentence("HTNOD");
  sentence.text("refused").text(what);
  say(sentence.text(found.substr(0, std::min<std::size_t>(found.size(), 20))));
  wire::Sentence right("HTNOD");
  say(right.text("wanted").text(wanted.substr(0, std::min<std::size_t>(wanted.size(), 60))));
}

// ---- samples ------------------------------------------------------------------------------------------------------

void Node::on_sample(const Sample& sample) {
  const auto step = std::uint16_t(sample.number - number_);
  if (seen_ && step != 1) missed_ += step == 0 ? 0u : step - 1u;
  sample_us_ += std::uint64_t(seen_ ? step : 1) * (1'000'000 / kSamples_per_s);
  number_ = sample.number;
  seen_ = true;
  last_sample_ms_ = now_ms();
  temperature_C_ = float(sample.temperature_cC) / 100;
  const std::int32_t counts[] = {sample.slope_counts, sample.roll_counts};
  if (self_test_ != SelfTest::idle) {
    go_on_with_self_test(counts);
    return;
  }
  for (std::size_t a = 0; a < 2; ++a)
    axis_[a].add(sample_us_, counts[a], temperature_C_, sample.sensor_fault);
  if (sample.button && !button_) next_station(station_ + 1);
  button_ = sample.button;
  take_reading();
  if (until_sent_ > 1) {
    --until_sent_;
    return;
  }
  until_sent_ = kSamples_per_s / rate_;
  send_values();
}

void Node::state_of(int axis, AxisState state) {
  AxisState& told = told_[std::size_t(axis)];
  if (told == state) return;
  told = state;
  wire::Sentence sentence("HTNOD");
  say(sentence.text(kAxisNames[axis]).text(name(state)));
}

void Node::watch_axes() {
  const bool silent = !seen_ || now_ms() - last_sample_ms_ > kSilent_ms;
  for (int a = 0; a < 2; ++a) state_of(a, silent ? AxisState::silent : axis_[std::size_t(a)].state());
  const board::SensorCounts counts = board::sensor_counts();
  const std::uint32_t overruns = counts.overruns + board::host_overruns();
  if (overruns != told_overruns_) {
    told_overruns_ = overruns;
    wire::Sentence sentence("HTNOD");
    say(sentence.text("overrun")
            .text("sensor")
            .number(counts.overruns)
            .text("host")
            .number(board::host_overruns()));
  }
  if (counts.refused_bytes != told_refused_ && seen_) {
    told_refused_ = counts.refused_bytes;
    wire::Sentence sentence("HTNOD");
    say(sentence.text("noise").text("sensor bytes").number(counts.refused_bytes));
  }
  if (dropped_ != told_dropped_) {
    wire::Sentence sentence("HTNOD");
    if (board::send(sentence.text("dropped sentences").number(dropped_).finish())) told_dropped_ = dropped_;
  }
}

// What finds no room is not waited for: a value is news, and there will be another one. The number shows the gap.
void Node::send_values() {
  wire::Sentence angles("HTXDR");
  bool any = false;
  const char* const names[] = {"ALONG", "ACROSS"};
  for (std::size_t a = 0; a < 2; ++a) {
    if (axis_[a].state() != AxisState::well) continue;
    angles.quad('A', in_steps(degrees(axis_[a].angle_rad()), 1e6F), 6, 'D', names[a]);
    any = true;
  }
  if (!any) return;
  angles.quad('G', std::int64_t(sequence_), 0, '\0', "SEQ");
  sequence_ = (sequence_ + 1) % 10000;
  if (!board::send(angles.finish())) ++dropped_;
  wire::Sentence place("HTXDR");
  place.quad('C', in_steps(temperature_C_, 100), 2, 'C', "CASE");
  if (station_ > 0) place.quad('G', std::int64_t(station_), 0, '\0', "DIAL");
  if (!board::send(place.finish())) ++dropped_;
}

void Node::next_station(std::uint32_t station) {
  station_ = station;
  taken_here_ = false;
  for (Axis& axis : axis_) axis.restart(sample_us_);
  wire::Sentence sentence("HTNOD");
  say(sentence.text("station").number(station_));
}

void say_entry(wire::Sentence& sentence, const LogEntry& entry) {
  sentence.number(entry.number).number(entry.station);
  sentence.number(in_tenths_of_nano(entry.slope), 10).number(in_tenths_of_nano(entry.slope_sigma), 10);
  sentence.number(in_tenths_of_nano(entry.roll_rad), 10).number(in_tenths_of_nano(entry.roll_sigma_rad), 10);
  sentence.number(in_steps(entry.temperature_C, 10), 1);
}

void Node::take_reading() {
  if (taken_here_) return;
  const auto slope = axis_[0].settled(sample_us_), roll = axis_[1].settled(sample_us_);
  if (!slope || !roll) return;
  taken_here_ = true;
  LogEntry entry{0,
                 std::uint16_t(station_),
                 slope->mean,
                 slope->sigma,
                 std::atan(roll->mean),
                 roll->sigma,
                 slope->temperature_C.value_or(temperature_C_)};
  entry.number = log_.add(entry);
  wire::Sentence sentence("HTRDG");
  say_entry(sentence, entry);
  say(sentence);
  if (!has_run_ || station_ > std::uint32_t(run_.stations_m.count)) return;
  survey::Reading<float> reading;
  reading.at_m = run_.stations_m.entry[station_ - 1];
  reading.base_m = run_.base_m;
  reading.channel = Channel::slope;
  reading.zero = run_.slope_zero;
  reading.value = float(run_.slope_sign) * entry.slope;
  reading.sigma = entry.slope_sigma;
  const bool kept = survey_.add(reading);
  reading.channel = Channel::roll;
  reading.base_m = 0;
  reading.zero = run_.roll_zero;
  reading.value = float(run_.roll_sign) * entry.roll_rad;
  reading.sigma = entry.roll_sigma_rad;
  if (!kept || !survey_.add(reading))
    refuse("reading", "one more", "at most 76 values in one survey; forget begins another");
}

void Node::go_on_with_self_test(std::span<const std::int32_t, 2> counts) {
  const bool excited = self_test_ == SelfTest::excited;
  ++self_test_samples_;
  if (excited && self_test_samples_ <= kExcitationRise) return;
  for (std::size_t a = 0; a < 2; ++a) (excited ? excited_ : before_)[a] += counts[a];
  if (self_test_samples_ < kSelfTestSamples + (excited ? kExcitationRise : 0)) return;
  self_test_samples_ = 0;
  if (!excited) {
    self_test_ = SelfTest::excited;
    excited_ = {};
    board::excite_sensor(true);
    return;
  }
  board::excite_sensor(false);
  self_test_ = SelfTest::idle;
  for (std::size_t a = 0; a < 2; ++a) {
    const std::int64_t more = (excited_[a] - before_[a]) / kSelfTestSamples;
    const bool good = more > kExcitation - kExcitationOff && more < kExcitation + kExcitationOff;
    wire::Sentence sentence("HTNOD");
    sentence.text("self test").text(kAxisNames[a]).text(good ? "good" : "failed");
    say(sentence.number(more).number(kExcitation));
    axis_[a].restart(sample_us_);
  }
}

// ---- commands -----------------------------------------------------------------------------------------------------

void Node::on_host_byte(char byte) {
  if (byte != '\n' && byte != '\r') {
    if (line_length_ < line_.size())
      line_[line_length_++] = byte;
    else
      line_too_long_ = true;
    return;
  }
  const std::string_view line(line_.data(), line_length_);
  line_length_ = 0;
  if (line_too_long_) {
    line_too_long_ = false;
    refuse("line", line, "at most 200 characters");
    return;
  }
  if (line.empty()) return;
  const auto command = read_command(line);
  if (command.ok())
    obey(command.value());
  else
    refuse("command", command.fault().found, command.fault().wanted);
}

void Node::obey(const Command& command) {
  switch (command.word) {
    case Word::rate:
      rate_ = command.number;
      until_sent_ = 0;
      return say_word("rate", "taken");
    case Word::zero:
      for (std::size_t a = 0; a < 2; ++a)
        if (!axis_[a].settled(sample_us_)) return refuse("zero", kAxisNames[a], "both axes settled and well");
      for (Axis& axis : axis_) static_cast<void>(axis.take_zero(sample_us_));
      return say_word("zero", "taken");
    case Word::station:
      return next_station(command.number);
    case Word::self_test:
      if (told_[0] != AxisState::well || told_[1] != AxisState::well)
        return refuse("self test", "axis not well", "a sensor that sends");
      self_test_ = SelfTest::before;
      self_test_samples_ = 0;
      before_ = {};
      return say_word("self test", "begun");
    case Word::log:
      return hand_over();
    case Word::taken: {
      if (!log_.take(command.number)) {
        return refuse("taken", "not in the log", "from the last one taken to the newest");
      }
      wire::Sentence sentence("HTNOD");
      return say(sentence.text("taken").number(log_.taken()));
    }
    case Word::run_begin:
      return begin_run();
    case Word::run_data:
      return take_run_data(command);
    case Word::run_end:
      return end_run(command.number);
    case Word::card:
      return print_card();
    case Word::forget:
      survey_.forget();
      return say_word("readings", "forgotten");
    case Word::who:
      return say_who();
  }
}

void Node::hand_over() {
  std::uint32_t count = 0;
  for (std::uint32_t next = log_.taken() + 1;;) {
    const std::optional<LogEntry> entry = log_.from(next);
    if (!entry) break;
    wire::Sentence sentence("HTLOG");
    say_entry(sentence, *entry);
    say(sentence);
    next = entry->number + 1;
    ++count;
  }
  wire::Sentence end("HTNOD");
  say(end.text("log").text("handed over").number(count).text("lost").number(log_.lost()));
}

void Node::say_who() {
  wire::Sentence first("HTNOD");
  say(first.text("node").text(kVersion).text(has_run_ ? text_of(run_.title) : "no run").number(station_));
  const board::SensorCounts counts = board::sensor_counts();
  wire::Sentence second("HTNOD");
  say(second.text("samples")
          .number(counts.samples)
          .text("missed")
          .number(missed_)
          .text("refused bytes")
          .number(counts.refused_bytes));
  const board::Stack stack = deepest_stack();
  wire::Sentence third("HTNOD");
  say(third.text("stack").number(stack.used).text("of").number(stack.size));
  wire::Sentence fourth("HTNOD");
  say(fourth.text("log")
          .text("newest")
          .number(log_.newest())
          .text("taken")
          .number(log_.taken())
          .text("slots")
          .number(log_.slots()));
}

// ---- the packed run -----------------------------------------------------------------------------------------------

void Node::begin_run() {
  const auto memory = run_memory();
  memory[kRunBytes] = 0;
  memory[kRunBytes + 1] = 0;
  receiving_ = true;
  say_word("run", "begun");
}

void Node::take_run_data(const Command& command) {
  if (!receiving_) return refuse("run data", "no beginning", "run begin first");
  const std::size_t bytes = command.data.size() / 2;
  if (command.number + bytes > kRunBytes) return refuse("run data", "beyond the end", "at most 4096 bytes");
  const auto memory = run_memory();
  for (std::size_t i = 0; i < bytes; ++i)
    memory[command.number + i] =
        std::uint8_t(hex_value(command.data[2 * i]) * 16 + hex_value(command.data[2 * i + 1]));
  wire::Sentence sentence("HTNOD");
  say(sentence.text("run").text("data").number(command.number).number(std::int64_t(bytes)));
}

void Node::end_run(std::uint32_t length) {
  if (!receiving_ || length == 0 || length > kRunBytes)
    return refuse("run end", receiving_ ? "the length" : "no beginning",
                  "run begin; then at most 4096 bytes");
  receiving_ = false;
  adopt_run(length, false);
}

void Node::adopt_run(std::size_t length, bool at_start) {
  const auto memory = run_memory();
  // Lasting memory is plain memory to read from.
  const auto* const bytes = const_cast<const std::uint8_t*>(memory.data());
  const auto read = unpack({bytes, length}, run_);
  has_run_ = read.ok();
  survey_.forget();
  if (read.ok()) {
    memory[kRunBytes] = std::uint8_t(length);
    memory[kRunBytes + 1] = std::uint8_t(length >> 8);
    axis_[0] = Axis(kCalibration, limits_of(run_.slope_sigma, run_.slope_spread, run_.slope_window_s));
    axis_[1] = Axis(kCalibration, limits_of(run_.roll_sigma_rad, run_.roll_spread_rad, run_.roll_window_s));
    wire::Sentence sentence("HTNOD");
    return say(sentence.text("run")
                   .text(at_start ? "kept" : "taken")
                   .text(text_of(run_.title))
                   .number(run_.stations_m.count));
  }
  const PackFault fault = read.fault();
  wire::Sentence sentence("HTNOD");
  sentence.text("refused").text("run");
  switch (fault.code) {
    case PackFaultCode::not_packed_run:
      sentence.text("no packed run").text(fault.what);
      break;
    case PackFaultCode::other_version:
      sentence.text("version").number(fault.found).text("wanted").number(fault.most);
      break;
    case PackFaultCode::wrong_crc:
      sentence.text("CRC does not match");
      break;
    case PackFaultCode::limit_exceeded:
      sentence.text(fault.what).number(fault.found).text("at most").number(fault.most);
      break;
    case PackFaultCode::value_not_usable:
      sentence.text("not usable").text(fault.what).number(fault.found);
      break;
  }
  say(sentence);
}

// ---- the card -----------------------------------------------------------------------------------------------------

void Node::print_card() {
  if (!has_run_) return refuse("card", "no run", "a packed run first");
  if (survey_.readings() == 0) return refuse("card", "no readings", "a station by button or command");
  board::feed_watchdog();
  const auto made = survey_.make_card(card_);
  board::feed_watchdog();
  if (!made) {
    const char* const steps[] = {"memory", "mechanics", "fit", "fit not settled", "settings", "search"};
    wire::Sentence sentence("HTNOD");
    sentence.text("refused").text("card").text(steps[int(made.fault().step)]);
    return say(sentence.number(made.fault().code).number(made.fault().index));
  }
  wire::Sentence head("HTCRD");
  say(head.text("fit")
          .text(card_.self_test.outcome == fit::TestOutcome::holds ? "holds" : "does not hold")
          .number(survey_.readings())
          .number(in_steps(card_.self_test.chi_squared, 1000), 3));
  for (int i = 0; i < card_.stations; ++i) {
    const auto s = std::size_t(i);
    wire::Sentence now("HTCRD");
    now.text("now").number(i + 1).number(in_steps(run_.stations_m.entry[s], 1e4F), 1);
    now.number(in_steps(card_.height_m[s], 1e10F), 4).number(in_steps(card_.roll_rad[s], 1e10F), 4);
    say(now.number(in_steps(card_.sigma_m[s], 1e10F), 4));
    wire::Sentence then("HTCRD");
    then.text("finished").number(i + 1);
    for (const float height :
         {card_.before_m[2 * s], card_.before_m[2 * s + 1], card_.after_m[2 * s], card_.after_m[2 * s + 1]})
      then.number(in_steps(height, 1e10F), 4);
    say(then);
  }
  print_moves();
}

void Node::print_moves() {
  const adjust::Choice<float>& choice = card_.choice;
  for (int m = 0; m < choice.moves; ++m) {
    const adjust::Move<float>& move = choice.move[std::size_t(m)];
    wire::Sentence sentence("HTCRD");
    sentence.text("move").text(text_of(run_.adjust[std::size_t(move.support)].name));
    sentence.number(in_steps(move.rise_m, 1e10F), 4).number(in_steps(move.pitch_rad, 1e10F), 4);
    say(sentence.number(in_steps(move.roll_rad, 1e10F), 4).number(move.steps));
    for (int s = 0; s < move.stacks; ++s) {
      const adjust::Stack<float>& stack = move.stack[std::size_t(s)];
      wire::Sentence pieces("HTCRD");
      pieces.text("stack").number(int(stack.where)).number(in_steps(stack.thickness_m, 1e10F), 4);
      for (int k = 0; k < run_.stock.count; ++k) pieces.number(stack.count[std::size_t(k)]);
      say(pieces);
    }
  }
  wire::Sentence end("HTCRD");
  end.text("end").number(int(choice.outcome)).number(choice.moves);
  end.number(in_steps(choice.level_error_before_m, 1e10F), 4);
  say(end.number(in_steps(choice.level_error_after_m, 1e10F), 4));
  say_word("caution", "moves alone; whether bolts may be tightened the host says");
}

}  // namespace hangtrue::node
