// What the core costs on the node, counted: the emulator runs one instruction in two nanoseconds of its own time (-icount shift=1),
// so that differences of SysTick are instructions. Prints them, makes a card of an invented run with as much as a node holds,
// and prints how far the stack went.
#include <cmath>
#include <new>

#include "core/fit/information_filter.hpp"
#include "firmware-host/node/board.hpp"
#include "firmware-host/node/survey.hpp"
#include "firmware-host/wire/sentence.hpp"
#include "tests/firmware-host/node/invented_run.hpp"

namespace {

using namespace hangtrue;
using node::test::fill;
using node::test::reading;

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
  count("card 75 readings 23 unknowns", 1, [&](int) {
    const auto made = survey.make_card(card);
    if (!made.ok()) {
      say("card fault step", int(made.fault().step));
      say("card fault code", made.fault().code);
    }
  });
  for (std::size_t i = 0; i < std::size_t(card.stations); ++i) {
    say("height pm", std::llround(double(card.height_m[i]) * 1e12));
    say("left pm", std::llround(double(card.before_m[2 * i]) * 1e12));
    say("left after pm", std::llround(double(card.after_m[2 * i]) * 1e12));
  }
  for (int m = 0; m < card.choice.moves; ++m) say("steps", card.choice.move[std::size_t(m)].steps);
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
