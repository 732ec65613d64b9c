// The node: everything in one program without an operating system.
#include "firmware-host/node/node.hpp"

extern "C" [[noreturn]] void work();
extern "C" void work() {
  hangtrue::node::board::start();
  static hangtrue::node::Node node;
  for (;;) {
    node.round();
    hangtrue::node::board::wait();
  }
}
