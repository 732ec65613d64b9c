// A program that hangs after its first start: the watchdog's test.
#include "firmware-host/node/board.hpp"
#include "firmware-host/wire/sentence.hpp"

extern "C" [[noreturn]] void work();
extern "C" void work() {
  using namespace hangtrue;
  node::board::start();
  wire::Sentence said("HTNOD");
  said.text(node::board::watchdog_bit() ? "start after the watchdog bit" : "start");
  static_cast<void>(node::board::send(said.finish()));
  for (;;) {
  }
}
