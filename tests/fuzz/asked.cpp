// Any text as a phone's message: either a question or a sentence, never an exception; and what it asks for is a command or a
// refusal with words. What is made of a question again is read again, alike.
#include "firmware-host/daemon/commands.hpp"
#include "firmware-host/json/described.hpp"
#include "firmware-host/page/messages.hpp"
#include "tests/fuzz/fuzz.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace hangtrue;
  const auto asked = json::parse<page::Asked>(fuzz::text_of(data, size));
  if (!asked.ok()) {
    fuzz::require(!asked.fault().empty(), "a refusal has words");
    return 0;
  }
  const page::Asked& first = asked.value();
  const auto again = json::parse<page::Asked>(json::text_of(first), 8 * size + 1000);
  fuzz::require(again.ok(), "what was written can be read");
  const page::Asked& second = again.value();
  fuzz::require(first.id == second.id && first.command == second.command && first.seen == second.seen &&
                    first.pressed_ms == second.pressed_ms && first.page == second.page,
                "alike");
  const auto command = daemon::parse_command(first.command);
  if (!command) return 0;
  if (const auto* const refusal = std::get_if<daemon::Refusal>(&*command))
    fuzz::require(!refusal->reason.empty(), "a refusal has words");
  return 0;
}
