// runner.cpp: the core's tests on the board, one after the other; says each failure, and how many passed at the end.
#include "firmware-host/node/board.hpp"
#include "firmware-host/wire/sentence.hpp"
#include "gtest/gtest.h"
#include "tests/no_heap.hpp"

namespace testing {

namespace {

int failures = 0;
const Case* running = nullptr;

void say(hangtrue::wire::Sentence& sentence) {
  namespace board = hangtrue::node::board;
  while (!board::send(sentence.finish())) board::wait();
}

std::string_view end_of(const char* text, std::size_t most) {
  const std::string_view whole(text);
  return whole.substr(whole.size() - std::min(most, whole.size()));
}

}  // namespace

Case* Case::first = nullptr;
Case::Case(const char* of, const char* called, Body does) : suite(of), name(called), body(does), next(first) {
  first = this;
}

void failed(const char* file, int line) {
  ++failures;
  hangtrue::wire::Sentence sentence("HTTST");
  say(sentence.text("failed").text(end_of(running->name, 30)).text(end_of(file, 24)).number(line));
}

void give_up() {
  failed("a helper", 0);
  std::abort();
}

}  // namespace testing

// What tests need of the C++ library, which is not linked: memory from newlib's malloc, and what vectors would throw.
extern "C" char end_of_bss, begin_of_stack;
extern "C" void* _sbrk(std::ptrdiff_t more) {
  static char* top = &end_of_bss;
  if (more > &begin_of_stack - 65536 - top) return reinterpret_cast<void*>(-1);
  return std::exchange(top, top + more);
}
static std::size_t allocations = 0;
void* operator new(std::size_t bytes) {
  ++allocations;
  void* const memory = std::malloc(bytes);
  if (memory == nullptr) std::abort();
  return memory;
}
void* operator new[](std::size_t bytes) { return operator new(bytes); }
void operator delete(void* memory) noexcept { std::free(memory); }
void operator delete(void* memory, std::size_t) noexcept { std::free(memory); }
void operator delete[](void* memory) noexcept { std::free(memory); }
void operator delete[](void* memory, std::size_t) noexcept { std::free(memory); }
namespace hangtrue::test {
bool heap_is_counted() { return true; }
std::size_t heap_allocations() { return allocations; }
}  // namespace hangtrue::test
namespace std {
void __throw_length_error(const char*) { abort(); }
void __throw_logic_error(const char*) { abort(); }
void __throw_out_of_range_fmt(const char*, ...) { abort(); }
void __throw_bad_alloc() { abort(); }
void __throw_bad_array_new_length() { abort(); }
}  // namespace std
extern "C" {
int __aeabi_atexit(void*, void (*)(void*), void*) { return 0; }
void* __dso_handle = nullptr;
}

extern "C" [[noreturn]] void work();
extern "C" void work() {
  using namespace hangtrue;
  node::board::start();
  *reinterpret_cast<volatile std::uint32_t*>(std::uintptr_t(0x40008008)) =
      0;  // no watchdog: a test may take its time
  int passed = 0, broken = 0;
  for (const testing::Case* each = testing::Case::first; each != nullptr; each = each->next) {
    const int before = testing::failures;
    testing::running = each;
    wire::Sentence begins("HTTST");
    testing::say(begins.text("runs").text(testing::end_of(each->name, 60)));
    each->body();
    ++(testing::failures == before ? passed : broken);
  }
  wire::Sentence sentence("HTTST");
  testing::say(sentence.text("passed").number(passed).text("failed").number(broken));
  for (;;) {
    node::board::wait();
  }
}
