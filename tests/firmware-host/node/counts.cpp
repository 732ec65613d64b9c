// What the core costs on the node, counted: the emulator runs one instruction in two nanoseconds of its own time (-icount shift=1),
// so that differences of SysTick are instructions. Prints them, makes a card of an invented run with as much as a node holds,
// and prints how far the stack went.
#include <cmath>
#include <new>

#include "core/fit/information_filter.hpp"
#include "firmware-host/node/board.hpp"
#include "firmware-host/node/survey.hpp"
#include "firmware-host/wire/sentence.hpp"

namespace {

using namespace hangtrue;

// 25 MHz of SysTick are 40 ns a tick: 20 instructions of 2 ns.
constexpr std::uint32_t kInstructionsPerTick = 20;
volatile std::uint32_t& systick(std::uint32_t address) {
  return *reinterpret_cast<volatile std::uint32_t*>(std::uintptr_t(address));
}

/// Ticks of 40 ns so far; the millisecond's interrupt counts the wraps.
std::uint64_t now() {
  for (;;) {
    const std::uint32_t before = node::board::tick_ms();
    const std::uint32_t left = systick(0xE000E018);
    if (node::board::tick_ms() == before) return std::uint64_t(before) * 25000 + (24999 - left);
  }
}

void say(const char* what, std::int64_t value) {
  wire::Sentence sentence("HTCNT");
  sentence.text(what).number(value);
  while (!node::board::send(sentence.finish())) node::board::wait();
}

template <class Work>
void count(const char* what, int times, Work&& work) {
  node::board::feed_watchdog();
  const std::uint64_t begin = now();
  for (int i = 0; i < times; ++i) work(i);
  say(what, std::int64_t((now() - begin) * kInstructionsPerTick / std::uint64_t(times)));
}

void* spare() { return const_cast<std::uint8_t*>(node::board::lasting_memory().data()); }

/// An invented shelf on three supports, 24 stations, 22 unknowns.
void fill(node::PackedRun& run) {
  run = {};
  run.length_m = 4.2F;
  run.width_m = 0.38F;
  run.bows = 3;
  run.stage = 0;
  run.finished_stage = 1;
  run.tolerance_m = 1.5e-3F;
  run.pieces.count = 1;
  run.pieces.entry[0] = {4.2F, 150e3F, 90e3F, 40e6F};
  run.supports.count = 3;
  const float places[] = {0.0F, 2.0F, 4.0F};
  for (int i = 0; i < 3; ++i) {
    beam::Support<float>& support = run.supports.entry[std::size_t(i)];
    support.at_m = places[i];
    support.rise = {true, 1e-7F, false};
    if (i == 0) support.pitch = {true, 5e-5F, false};
    support.roll = {true, 1e-5F, false};
    node::PackedAdjust& adjust = run.adjust[std::size_t(i)];
    adjust.by = i == 1 ? 3 : 2;
    adjust.rise_from_m = -0.01F;
    adjust.rise_to_m = 0.01F;
    adjust.step_m = i == 1 ? 0.5e-3F : 0.4375e-3F;
    adjust.step_turns = 0.25F;
  }
  run.load_factor.count = 3;
  run.load_parts.count = 3;
  for (int l = 0; l < 3; ++l) {
    run.load_factor.entry[std::size_t(l)] = 1;
    run.load_parts.entry[std::size_t(l)] = {
        l, beam::LoadKind::spread, 0, 4.2F, 60.0F + 40 * float(l), 60.0F + 40 * float(l), 0.01F * float(l)};
  }
  run.stages.count = 2;
  run.stages.entry[0] = {7, 3};
  run.stages.entry[1] = {7, 7};
  run.stations_m.count = 24;
  for (int s = 0; s < 24; ++s) run.stations_m.entry[std::size_t(s)] = 0.1F + 4.0F * float(s) / 23;
  const auto unknown = [&run](fit::Unknown what, float mean, float sigma) {
    run.unknowns.entry[std::size_t(run.unknowns.count++)] = {what, {mean, sigma}};
  };
  for (std::int16_t i = 0; i < 3; ++i) {
    unknown({fit::UnknownKind::shape, {beam::ParameterKind::offset_rise, i}}, 0, 5e-3F);
    if (i == 0) unknown({fit::UnknownKind::shape, {beam::ParameterKind::offset_pitch, i}}, 0, 3e-3F);
    unknown({fit::UnknownKind::shape, {beam::ParameterKind::offset_roll, i}}, 0, 3e-3F);
    unknown({fit::UnknownKind::shape, {beam::ParameterKind::spring_rise, i}}, 0, 0.3F);
    unknown({fit::UnknownKind::shape, {beam::ParameterKind::spring_roll, i}}, 0, 0.3F);
  }
  unknown({fit::UnknownKind::shape, {beam::ParameterKind::bending, 0}}, 1, 0.05F);
  unknown({fit::UnknownKind::shape, {beam::ParameterKind::torsion, 0}}, 1, 0.1F);
  for (std::int16_t i = 0; i < 3; ++i)
    unknown({fit::UnknownKind::shape, {beam::ParameterKind::load, i}}, 1, 0.05F);
  for (std::int16_t i = 0; i < 3; ++i)
    unknown({fit::UnknownKind::shape, {beam::ParameterKind::bow, i}}, 0, 1e-3F / float((i + 1) * (i + 1)));
  unknown({fit::UnknownKind::zero, {}, 0}, 0, 0.3e-3F);
  unknown({fit::UnknownKind::zero, {}, 1}, 0, 0.3e-3F);
  run.zero.count = 2;
  run.base_m = 0.25F;
}

/// What the instruments would read of a run that is not as the sheet has it: smooth, and nothing else.
survey::Reading<float> reading(const node::PackedRun& run, int i) {
  survey::Reading<float> reading;
  const int station = (i / 2) % run.stations_m.count;
  reading.at_m = run.stations_m.entry[std::size_t(station)];
  reading.channel = i % 2 == 0 ? Channel::slope : Channel::roll;
  reading.base_m = i % 2 == 0 ? run.base_m : 0;
  reading.zero = std::int16_t(i % 2);
  reading.sigma = 20e-6F;
  const float x = reading.at_m;
  reading.value = i % 2 == 0 ? 0.4e-3F * std::cos(1.5F * x) + 0.2e-3F : 0.3e-3F - 0.1e-3F * x;
  return reading;
}

node::PackedRun run;
node::Card card;

}  // namespace

extern "C" [[noreturn]] void work();
extern "C" void work() {
  node::board::start();
  {
    // Beside the node's own memory, which the card needs whole.
    auto& filter = *new (spare()) fit::InformationFilter<float, kMaxUnknowns>;
    float row[kMaxUnknowns];
    filter.start(kMaxUnknowns);
    for (int i = 0; i < kMaxUnknowns; ++i) filter.know(i, 0, 1);
    count("filter update 32 unknowns", 50, [&](int k) {
      for (int i = 0; i < kMaxUnknowns; ++i) row[i] = float((i * 7 + k * 3) % 11 - 5);
      filter.add(row, float(k % 5), 0.1F);
    });
  }
  fill(run);
  {
    const std::span<float> storage(static_cast<float*>(spare()), 8000);
    const beam::Run<float> view{
        run.length_m,     run.pieces.all(), run.load_parts.all(), run.load_factor.count, run.supports.all(),
        run.stages.all(), run.bows};
    auto solver = beam::Solver<float>::create(view, 1, storage);
    if (!solver.ok()) say("solver fault", int(solver.fault().code));
    const beam::State<float> state;
    float sum = 0;
    count("shape 24 stations", 10, [&](int) {
      if (!solver.value().solve(state).ok()) say("solve fault", 0);
      for (const float at_m : run.stations_m.all()) sum += solver.value().height(1, at_m);
    });
    say("sum of heights nm", std::llround(double(sum) * 1e9));
  }
  static node::Survey survey(run);
  for (int i = 0; i < 75; ++i) static_cast<void>(survey.add(reading(run, i)));
  count("card 75 readings 22 unknowns", 1, [&](int) {
    const auto made = survey.make_card(card);
    if (!made.ok()) {
      say("card fault step", int(made.fault().step));
      say("card fault code", made.fault().code);
    }
  });
  say("moves", card.choice.moves);
  say("level error after nm", std::llround(double(card.choice.level_error_after_m) * 1e9));
  const node::board::Stack stack = node::board::stack();
  say("stack used", stack.used);
  say("end", 0);
  for (;;) {
    node::board::feed_watchdog();
    node::board::wait();
  }
}
